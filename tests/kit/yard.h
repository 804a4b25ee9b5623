/* A garden in files under /tmp, looked after by a real keeper on a simulated clock. Include after cmocka.h. */
#ifndef DB_TESTS_KIT_YARD_H
#define DB_TESTS_KIT_YARD_H

#include "kit/folder.h"
#include "kit/sim_clock.h"

#include "service/keeper.h"
#include "service/log.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define HOUR INT64_C(3600000) /* ms */
#define DAY (24 * HOUR)

static const char plan[] = "[garden]\n"
                           "name = Wren Yard\n"
                           "key = 0b7a6c52-3d1f-4c0e-9a57-5f5ac29cf0a1\n"
                           "latitude = 52.1\n"
                           "longitude = -1.9\n"
                           "zone = Europe/London\n"
                           "include = beds.ini\n"
                           "[climate]\n"
                           "january = 1.5 °C .. 7 °C, 60 mm\nfebruary = 1.5 °C .. 7.5 °C, 45 mm\n"
                           "march = 2.5 °C .. 10 °C, 45 mm\napril = 4 °C .. 13 °C, 50 mm\n"
                           "may = 7 °C .. 16.5 °C, 55 mm\njune = 10 °C .. 19.5 °C, 55 mm\n"
                           "july = 12 °C .. 22 °C, 60 mm\naugust = 12 °C .. 21.5 °C, 65 mm\n"
                           "september = 9.5 °C .. 18.5 °C, 60 mm\noctober = 7 °C .. 14 °C, 70 mm\n"
                           "november = 4 °C .. 10 °C, 65 mm\ndecember = 2 °C .. 7.5 °C, 65 mm\n"
                           "[sowing carrot-1]\ncrop = carrot\nbed = north\nsow = 2028-04-10\n"
                           "[sowing lettuce-1]\ncrop = lettuce\nplants = 12\nbed = north\nsow = 2028-08-20\n";
static const char beds[] = "[bed north]\nname = the north bed\nsize = 1.2 m x 3 m\n";

struct yard {
    char folder[64], file[96], beds[96], state[96];
    struct sim_clock sim;
    struct db_house house;
    struct db_keeper *keeper;
    int evaluations;
    int32_t days[800]; /* the local day of each evaluation */
    int64_t moments[800];
    unsigned which; /* of the last telling */
};

static inline void write_file(const char *path, const char *text)
{
    char beside[4200];
    FILE *file;

    (void) snprintf(beside, sizeof beside, "%s~", path); /* as editors do */
    file = fopen(beside, "we");
    assert_non_null(file);
    assert_int_equal(fwrite(text, 1, strlen(text), file), strlen(text));
    assert_int_equal(fclose(file), 0);
    assert_int_equal(rename(beside, path), 0);
}

static inline void feeds_changed(void *context, struct db_keeper *keeper, unsigned which)
{
    struct yard *yard = context;
    const struct db_jobs *jobs = db_keeper_jobs(keeper);

    yard->which = which;
    if (!jobs || yard->evaluations >= 800)
        return;
    yard->moments[yard->evaluations] = yard->sim.wall;
    yard->days[yard->evaluations++] = db_jobs_view(jobs)->today.day;
}

static inline void open_house(struct yard *yard)
{
    char trouble[256];

    yard->house = (struct db_house){ .loop = db_loop_new(&yard->sim.clock), .shipped = "rules" };
    assert_non_null(yard->house.loop);
    if (db_keeper_new(&yard->house, yard->file, yard->state, &yard->keeper, trouble) != DB_OK)
        fail_msg("%s", trouble);
    assert_int_equal(db_keeper_on_change(yard->keeper, feeds_changed, yard), DB_OK);
    yard->evaluations = 0;
}

static inline void close_house(struct yard *yard)
{
    db_house_close(&yard->house);
    yard->keeper = NULL;
    yard->house.loop = db_loop_free(yard->house.loop);
}

static inline void run_for(struct yard *yard, int64_t ms)
{
    sim_run(&yard->sim, yard->house.loop, ms);
}

static inline int set_up(void **state)
{
    struct yard *yard = calloc(1, sizeof *yard);

    if (!yard)
        return -1;
    memcpy(yard->folder, "/tmp/dewbell-year-XXXXXX", sizeof "/tmp/dewbell-year-XXXXXX");
    *state = yard;
    if (!mkdtemp(yard->folder))
        return -1;
    (void) snprintf(yard->file, sizeof yard->file, "%s/garden.ini", yard->folder);
    (void) snprintf(yard->beds, sizeof yard->beds, "%s/beds.ini", yard->folder);
    (void) snprintf(yard->state, sizeof yard->state, "%s/state", yard->folder);
    write_file(yard->file, plan);
    write_file(yard->beds, beds);
    db_log_set(getenv("SHOW") ? DB_LOG_INFO : DB_LOG_ERROR);
    sim_start(&yard->sim, INT64_C(1830513600000)); /* 2028-01-03 12:00 UTC */
    open_house(yard);
    return 0;
}

static inline int tear_down(void **state)
{
    struct yard *yard = *state;

    close_house(yard);
    remove_tree(yard->folder);
    free(yard);
    return 0;
}

static inline bool feed_says(struct yard *yard, const char *words)
{
    struct db_ready_bytes *bytes = db_keeper_feed(yard->keeper, DB_READY_JOBS);
    bool says = bytes && strstr(bytes->data, words) != NULL;

    db_ready_release(bytes);
    return says;
}

#endif
