/* Beds as text and as JSON: one garden whose days are all noted or planned, so that each line can be worked out by hand. */
#include "write/write.h"

#include <json-c/json.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "base/text.h"
#include "kit/plot.h"
#include "kit/rules.h"

#include "base/banned.h"

enum { DAYS = 1100 };

static struct plot plot;
static const struct db_jobs *jobs;
static const struct db_bed *north;

/* 4 m2; garlic has 2 of them until 9 July, and carrots between it take 1.5 from then on. Kale needs 3 m2 on 2 July, when 2 are left,
 * and has them once the garlic is gone; then nothing is left for the carrots. Carrots were there the year before. */
static int begin(void **state)
{
    static struct db_crop_facts carrot, kale, garlic;
    static const struct db_date manured[] = { { 16565 }, { 16735 } }; /* 10 May and 27 October 2015 */
    const struct db_date first = on(2014, 1, 1);
    const struct db_bed bed = { .id = "north", .name = "the north bed", .warmth = NAN, .width = 1000, .length = 4000 },
                        other = { .id = "bench", .name = "the bench", .warmth = NAN, .cover = DB_COVER_INDOORS };
    const struct db_bed *bench, *south;

    (void) state;
    carrot = kit_crop("carrot");
    carrot.text[DB_FACT_PLURAL] = "carrots";
    crop_amount(&carrot, DB_FACT_KEEP_OFF, 3 * 365.25, 3 * 365.25);
    crop_amount(&carrot, DB_FACT_HARVEST_TIME, NAN, NAN);
    kale = kit_crop("kale");
    garlic = kit_crop("garlic");
    plot = plot_new(50, 0);
    assert_int_equal(db_garden_add_bed(plot.garden, &bed, &north), DB_OK);
    assert_int_equal(db_garden_add_bed(plot.garden, &other, &bench), DB_OK);
    assert_int_equal(manured[0].day, on(2015, 5, 10).day);
    assert_int_equal(manured[1].day, on(2015, 10, 27).day);
    assert_int_equal(
        db_garden_add_bed(
            plot.garden,
            &(struct db_bed){
                .id = "south", .name = "the south bed", .warmth = NAN, .manured = manured, .manured_count = 2 },
            &south),
        DB_OK);
    plot_weather(&plot, first, DAYS);
    for (int i = 0; i < DAYS; i++)
        plot_day(&plot, db_date_add(first, i), 15, 15, 0);
    plot.view.today = on(2015, 7, 1);
    plot_rules(&plot, "[x]\njob = X\nduring = sown .. sown + 1 day\n");
    (void) plot_sow(&plot, (struct db_sowing){ .id = "old",
                                               .crop = &carrot,
                                               .bed = north,
                                               .planned = on(2014, 4, 1),
                                               .sown = on(2014, 4, 1),
                                               .area = 0.5 });
    (void) plot_sow(&plot, (struct db_sowing){ .id = "garlic-1",
                                               .crop = &garlic,
                                               .bed = north,
                                               .way = DB_WAY_SETS,
                                               .sown = on(2014, 10, 10),
                                               .planned = on(2014, 10, 10),
                                               .area = 2 });
    (void) plot_sow(&plot, (struct db_sowing){ .id = "carrot-1",
                                               .crop = &carrot,
                                               .bed = north,
                                               .planned = on(2015, 7, 3),
                                               .sown = DB_NO_DATE,
                                               .between = "garlic-1",
                                               .area = 1.5 });
    (void) plot_sow(&plot, (struct db_sowing){ .id = "kale-1",
                                               .crop = &kale,
                                               .bed = bench,
                                               .into = north,
                                               .way = DB_WAY_POT,
                                               .planned = on(2015, 5, 10),
                                               .sown = on(2015, 5, 10),
                                               .area = 3 });
    (void) plot_sow(
        &plot,
        (struct db_sowing){
            .id = "carrot-2", .crop = &carrot, .bed = south, .planned = on(2015, 5, 1), .sown = on(2015, 5, 1) });
    plot_note(&plot, "old", "cleared", on(2014, 9, 1));
    plot_note(&plot, "garlic-1", "cropping", on(2015, 6, 25)); /* and gone 14 days later: 9 July */
    plot_note(&plot, "kale-1", "hardening", on(2015, 6, 25));  /* and planted 7 days later: 2 July */
    plot_close_diary(&plot);
    return db_garden_evaluate(&plot.view, plot.arena, &jobs) == DB_OK ? 0 : -1;
}

static int end(void **state)
{
    (void) state;
    plot_free(&plot);
    return 0;
}

static bool has_line(const char *text, const char *line)
{
    const size_t length = strlen(line);

    for (const char *at = text; at; at = strchr(at, '\n'), at = at ? at + 1 : NULL)
        if (strncmp(at, line, length) == 0 && at[length] == '\n')
            return true;
    print_error("%s--- lacks the line\n%s\n", text, line);
    return false;
}

static void a_bed_reads_line_by_line(void **state)
{
    static const char *const lines[] = {
        "The north bed, 4 m²",
        "  garlic (garlic-1), 2 m²",
        "    since 10 October 2014 until 9 July",
        "  kale (kale-1), 3 m²",
        "    ! full until 9 July",
        "  carrots (carrot-1), 1.5 m²",
        "    between the rows of garlic-1 until 9",
        "    July",
        "    ! carrots, of one family with them, were",
        "      here in 2014",
        "  free now 2 m²",
        "    from 2 July nothing",
        "The bench",
        "  tray of kale (kale-1), then in the north",
        "    bed from 2 July",
        "The south bed",
        "  manured 10 May: to be harvested from 7", /* 120 and 90 days later: 7 CFR 205.203 */
        "    September, what hangs clear of the soil",
        "    from 8 August",
        "  manured 27 October: to be harvested from",
        "    24 February 2016, what hangs clear of",
        "    the soil from 25 January 2016",
        "  carrots (carrot-2)", /* 1200 K d at 15 a day: 80 days from 1 May */
        "    ! ready 20 July, but manured 10 May: not",
        "      to be harvested before 7 September",
    };
    struct db_bytes bytes = { 0 };

    (void) state;
    assert_int_equal(db_beds_text(jobs, NULL, plot.arena, &bytes), DB_OK);
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++)
        assert_true(has_line(bytes.data, lines[i]));
    assert_null(strstr(bytes.data, "old"));
    for (const char *at = bytes.data; *at; at += strcspn(at, "\n") + 1)
        assert_true(db_text_characters(at, strcspn(at, "\n")) <= 44);
    db_bytes_free(&bytes);
}

static const char *text_of(json_object *object, const char *key)
{
    return json_object_get_string(json_object_object_get(object, key));
}

static void the_same_as_json(void **state)
{
    struct db_bytes bytes = { 0 };
    json_object *beds, *bed, *stays, *kale, *carrot, *left;

    (void) state;
    assert_int_equal(db_beds_json(jobs, north, plot.arena, &bytes), DB_OK);
    beds = json_tokener_parse(bytes.data);
    assert_int_equal(json_object_array_length(beds), 1);
    bed = json_object_array_get_idx(beds, 0);
    assert_string_equal(text_of(bed, "bed"), "north");
    assert_true(json_object_get_double(json_object_object_get(bed, "ground")) == 4);
    stays = json_object_object_get(bed, "stays");
    assert_int_equal(json_object_array_length(stays), 3);
    kale = json_object_array_get_idx(stays, 1);
    carrot = json_object_array_get_idx(stays, 2);
    assert_string_equal(text_of(kale, "sowing"), "kale-1");
    assert_false(json_object_get_boolean(json_object_object_get(kale, "fits")));
    assert_string_equal(text_of(json_object_object_get(kale, "ready"), "likely"), "2015-07-09");
    assert_string_equal(text_of(json_object_object_get(kale, "from"), "likely"), "2015-07-02");
    assert_null(json_object_object_get(kale, "elsewhere"));
    assert_string_equal(text_of(carrot, "between"), "garlic-1");
    assert_string_equal(text_of(json_object_object_get(carrot, "takes"), "late"), "2015-07-09");
    assert_string_equal(text_of(carrot, "family_crop"), "carrot");
    assert_int_equal(json_object_get_int(json_object_object_get(carrot, "family_year")), 2014);
    assert_int_equal(json_object_array_length(json_object_object_get(bed, "trays")), 0);
    left = json_object_object_get(json_object_array_get_idx(json_object_object_get(bed, "free"), 0), "ground");
    assert_true(json_object_get_double(json_object_object_get(left, "likely")) == 2);
    (void) json_object_put(beds);
    db_bytes_free(&bytes);
}

static void manure_as_json(void **state)
{
    struct db_bytes bytes = { 0 };
    json_object *beds, *manured, *carrot;

    (void) state;
    assert_int_equal(db_beds_json(jobs, db_garden_find_bed(plot.garden, "south"), plot.arena, &bytes), DB_OK);
    beds = json_tokener_parse(bytes.data);
    manured = json_object_object_get(json_object_array_get_idx(beds, 0), "manured");
    assert_int_equal(json_object_array_length(manured), 2);
    assert_string_equal(json_object_get_string(json_object_array_get_idx(manured, 0)), "2015-05-10");
    carrot = json_object_array_get_idx(json_object_object_get(json_object_array_get_idx(beds, 0), "stays"), 0);
    assert_string_equal(text_of(json_object_object_get(carrot, "ripe"), "likely"), "2015-07-20");
    assert_string_equal(text_of(json_object_object_get(carrot, "harvest"), "likely"), "2015-09-07");
    (void) json_object_put(beds);
    db_bytes_free(&bytes);
    assert_int_equal(db_beds_json(jobs, north, plot.arena, &bytes), DB_OK);
    assert_non_null(strstr(bytes.data, "\"manured\":[]"));
    db_bytes_free(&bytes);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_bed_reads_line_by_line),
        cmocka_unit_test(the_same_as_json),
        cmocka_unit_test(manure_as_json),
    };

    return cmocka_run_group_tests(tests, begin, end);
}
