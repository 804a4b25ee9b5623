/* Whether what was read still stands: told by bytes, whatever the file system's times say. */
#include "read/read.h"

#include <fcntl.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

#include "base/banned.h"

struct corner {
    char folder[64], plan[96], beds[96], own[96], crop[128], other[128], weather[96];
    struct db_arena *arena;
    struct db_estate estate;
};

static const char plan_text[] =
    "[garden]\nname = Wren Yard\nkey = 0b7a6c52-3d1f-4c0e-9a57-5f5ac29cf0a1\nlatitude = 52.1\n"
    "longitude = -1.9\nzone = Europe/London\ninclude = beds.ini\ncrops = own\n"
    "[weather]\nobserved = weather.csv\ncolumns = date=date, low=low [°C], high=high [°C]\n"
    "[climate]\njanuary = 2 °C .. 7 °C, 60 mm\nfebruary = 2 °C .. 8 °C, 45 mm\n"
    "march = 3 °C .. 10 °C, 45 mm\napril = 4 °C .. 13 °C, 50 mm\nmay = 7 °C .. 17 °C, 55 mm\n"
    "june = 10 °C .. 20 °C, 55 mm\njuly = 12 °C .. 22 °C, 60 mm\naugust = 12 °C .. 22 °C, 65 mm\n"
    "september = 10 °C .. 19 °C, 60 mm\noctober = 7 °C .. 14 °C, 70 mm\nnovember = 4 °C .. 10 °C, 65 mm\n"
    "december = 2 °C .. 7 °C, 65 mm\n"
    "[sowing carrot-1]\ncrop = carrot\nbed = north\nsow = 2028-04-10\n";
static const char beds_text[] = "[bed north]\nname = the north bed\n";
static const char weather_text[] = "date,low,high\n2028-01-01,2,8\n";

/* In place, with the times it had: nothing but the bytes tells. */
static void write_quietly(const char *path, const char *text)
{
    struct stat before = { 0 };
    const bool old = stat(path, &before) == 0;
    const int fd = open(path, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600);

    assert_true(fd >= 0);
    assert_int_equal(write(fd, text, strlen(text)), strlen(text));
    if (old)
        assert_int_equal(futimens(fd, (const struct timespec[]){ before.st_atim, before.st_mtim }), 0);
    assert_int_equal(close(fd), 0);
}

static enum db_status read_again(struct corner *corner)
{
    (void) db_arena_free(corner->arena);
    corner->arena = db_arena_new((size_t) 256 << 20);
    corner->estate = (struct db_estate){ 0 };
    struct db_mistakes *mistakes = db_mistakes_new(corner->arena);
    return db_estate_read(corner->plan, "rules", corner->arena, mistakes, &corner->estate);
}

static int set_up(void **state)
{
    static struct corner corner;

    corner = (struct corner){ .folder = "/tmp/dewbell-seen-XXXXXX" };
    *state = &corner;
    if (!mkdtemp(corner.folder))
        return -1;
    (void) snprintf(corner.plan, sizeof corner.plan, "%s/garden.ini", corner.folder);
    (void) snprintf(corner.beds, sizeof corner.beds, "%s/beds.ini", corner.folder);
    (void) snprintf(corner.weather, sizeof corner.weather, "%s/weather.csv", corner.folder);
    (void) snprintf(corner.own, sizeof corner.own, "%s/own", corner.folder);
    (void) snprintf(corner.crop, sizeof corner.crop, "%s/own/mine.ini", corner.folder);
    (void) snprintf(corner.other, sizeof corner.other, "%s/own/other.ini", corner.folder);
    if (mkdir(corner.own, 0700) != 0)
        return -1;
    write_quietly(corner.plan, plan_text);
    write_quietly(corner.beds, beds_text);
    write_quietly(corner.weather, weather_text);
    write_quietly(corner.crop, "");
    return read_again(&corner) == DB_OK ? 0 : -1;
}

static int tear_down(void **state)
{
    struct corner *corner = *state;

    (void) unlink(corner->plan);
    (void) unlink(corner->beds);
    (void) unlink(corner->weather);
    (void) unlink(corner->crop);
    (void) unlink(corner->other);
    (void) rmdir(corner->own);
    corner->arena = db_arena_free(corner->arena);
    return rmdir(corner->folder);
}

static void the_same_bytes_stand_however_often_they_are_written(void **state)
{
    struct corner *corner = *state;

    assert_true(db_estate_stands(&corner->estate));
    assert_int_equal(unlink(corner->beds), 0);
    assert_false(db_estate_stands(&corner->estate));
    write_quietly(corner->beds, beds_text);
    write_quietly(corner->plan, plan_text);
    write_quietly(corner->weather, weather_text);
    assert_true(db_estate_stands(&corner->estate));
}

static void one_other_byte_is_a_change(void **state)
{
    struct corner *corner = *state;
    struct stat before, after;

    assert_int_equal(stat(corner->beds, &before), 0);
    write_quietly(corner->beds, "[bed north]\nname = the worth bed\n");
    assert_int_equal(stat(corner->beds, &after), 0);
    assert_int_equal(before.st_size, after.st_size);
    assert_int_equal(before.st_mtim.tv_nsec, after.st_mtim.tv_nsec);
    assert_int_equal(before.st_ino, after.st_ino);
    assert_false(db_estate_stands(&corner->estate));
    write_quietly(corner->beds, beds_text);
    write_quietly(corner->weather, "date,low,high\n2028-01-01,2,9\n");
    assert_false(db_estate_stands(&corner->estate));
}

static void a_file_more_or_less_in_a_listed_folder_is_a_change(void **state)
{
    struct corner *corner = *state;

    write_quietly(corner->other, "");
    assert_false(db_estate_stands(&corner->estate));
    assert_int_equal(read_again(corner), DB_OK);
    assert_true(db_estate_stands(&corner->estate));
    assert_int_equal(unlink(corner->other), 0);
    assert_false(db_estate_stands(&corner->estate));
}

static void a_file_that_was_missing_stands_until_it_comes(void **state)
{
    struct corner *corner = *state;

    assert_int_equal(unlink(corner->beds), 0);
    assert_int_equal(unlink(corner->weather), 0);
    assert_int_equal(read_again(corner), DB_MISTAKEN);
    assert_true(db_estate_stands(&corner->estate));
    write_quietly(corner->weather, weather_text);
    assert_false(db_estate_stands(&corner->estate));
    assert_int_equal(read_again(corner), DB_MISTAKEN);
    assert_true(db_estate_stands(&corner->estate));
    write_quietly(corner->beds, beds_text);
    assert_false(db_estate_stands(&corner->estate));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(the_same_bytes_stand_however_often_they_are_written, set_up, tear_down),
        cmocka_unit_test_setup_teardown(one_other_byte_is_a_change, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_file_more_or_less_in_a_listed_folder_is_a_change, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_file_that_was_missing_stands_until_it_comes, set_up, tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
