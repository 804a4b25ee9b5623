/* The morning's text and the JSON of a small garden. */
#include "write/write.h"

#include "base/text.h"

#include <json-c/json.h>

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "kit/ledger.h"

#include "base/banned.h"

#define ROWS(table) (sizeof(table) / sizeof(table)[0])

/* Beside the kit's rules: a job that reads the same for all sowings of a bed, one that must come before it, a daily one. */
static const char *const more_rules[][3] = {
    { "cover", "job", "Lay fleece over the {crops} in {bed}" },
    { "cover", "kind", "Cover" },
    { "cover", "during", "sown + 30 days .. sown + 31 days" },
    { "cover", "urgency", "cannot wait" },
    { "cover", "how", "Weigh its edges down, and take it off by day." },
    { "cover", "caution", "Mind the \x1B[31mred\x1B[0m wire." },
    { "cover", "effort", "5 min" },
    { "cover", "tool", "fleece and hoops" },
    { "cover", "source", "invented for the test" },
    { "plant", "job",
      "Plant the {crops} out in {bed} into holes of their own, well watered, firmed with a foot, a long arm apart" },
    { "plant", "kind", "Plant" },
    { "plant", "for", "raised in plugs" },
    { "plant", "during", "sown + 30 days .. sown + 50 days" },
    { "plant", "records", "planted" },
    { "plant", "tool", "gardener's trowel" },
    { "plant", "how", "Make a hole." },
    { "plant", "source", "invented for the test" },
    { "watch", "job", "Watch the {crops} in {bed}" },
    { "watch", "kind", "Watch" },
    { "watch", "during", "sown + 32 days .. sown + 40 days" },
    { "watch", "every", "1 day" },
    { "watch", "how", "Look." },
    { "watch", "source", "invented for the test" },
    /* Two rules of one round, with last days of their own, of which one is urgent. */
    { "drink-deep", "job", "Give the {crops} in {bed} a can each" },
    { "drink-deep", "kind", "Water" },
    { "drink-deep", "for", "raised in plugs" },
    { "drink-deep", "during", "sown + 60 days .. sown + 62 days" },
    { "drink-deep", "round", "Carry water to {bed}" },
    { "drink-deep", "item", "{crops}, a can each" },
    { "drink-deep", "records", "drunk" },
    { "drink-deep", "effort", "4 min" },
    { "drink-deep", "tool", "watering can" },
    { "drink-deep", "how", "Pour at the foot." },
    { "drink-deep", "caution", "Lift with a straight back." },
    { "drink-deep", "source", "invented for the test" },
    { "drink-row", "job", "Wet the row of {crops} in {bed}" },
    { "drink-row", "kind", "Water" },
    { "drink-row", "for", "raised in drill" },
    { "drink-row", "during", "sown + 60 days .. sown + 61 days" },
    { "drink-row", "urgency", "soon" },
    { "drink-row", "round", "Carry water to {bed}" },
    { "drink-row", "item", "the row of {crops}" },
    { "drink-row", "effort", "3 min" },
    { "drink-row", "tool", "Watering can" },
    { "drink-row", "how", "Use the fine rose." },
    { "drink-row", "caution", "Lift with a straight back. Mind the hose." },
    { "drink-row", "source", "invented for the test" },
};

static struct plot make_plot(bool noted)
{
    struct plot plot = plot_new(52, 0);
    const char *rows[ROWS(kit_rules) + ROWS(more_rules)][3];
    struct db_crop_facts *crops = db_arena_get(plot.arena, 2, sizeof *crops);
    const struct db_bed *bed = plot_bed(&plot, "north", DB_COVER_OPEN),
                        *south = plot_bed(&plot, "south", DB_COVER_OPEN);

    plot_weather(&plot, on(2025, 5, 1), 900);
    for (int i = 0; i < 900; i++)
        plot_day(&plot, db_date_add(on(2025, 5, 1), i), 8, 18, 1);
    crops[0] = kit_crop("carrot");
    crops[1] = kit_crop("lettuce");
    const struct db_sowing sowings[] = {
        { .id = "carrot-1", .crop = &crops[0], .bed = bed, .way = DB_WAY_DRILL },
        { .id = "carrot-2", .crop = &crops[0], .bed = south, .way = DB_WAY_DRILL },
        { .id = "lettuce-1", .crop = &crops[1], .bed = bed, .way = DB_WAY_DRILL },
        { .id = "lettuce-2", .crop = &crops[1], .bed = bed, .way = DB_WAY_PLUGS },
    };
    for (size_t i = 0; i < ROWS(sowings); i++) {
        struct db_sowing sowing = sowings[i];
        sowing.planned = sowing.sown = on(2026, 5, 25);
        sowing.anyway = true;
        (void) plot_sow(&plot, sowing);
    }
    if (noted)
        plot_note(&plot, "carrot-2", "cover", on(2026, 6, 24));
    plot_close_diary(&plot);
    memcpy(rows, kit_rules, sizeof kit_rules);
    memcpy(rows + ROWS(kit_rules), more_rules, sizeof more_rules);
    plot.view.rules = kit_compile(&plot, (const char *const(*)[3]) rows, ROWS(rows));
    return plot;
}

static char *digest_of(struct plot *plot, struct db_date day, enum db_telling telling)
{
    struct db_bytes out = { 0 };
    const struct db_jobs *jobs = kit_evaluate(plot, day);

    assert_int_equal(db_digest_day(jobs, day, telling, plot->arena, &out), DB_OK);
    assert_true(db_text_utf8(out.data, out.length, NULL));
    assert_null(strchr(out.data, '\x1B'));
    for (const char *at = out.data; *at;) {
        size_t line = strcspn(at, "\n");
        if (db_text_characters(at, line) > 78)
            fail_msg("too wide: %.*s", (int) line, at);
        assert_true(line == 0 || at[line - 1] != ' ');
        at += line + (at[line] == '\n');
    }
    return out.data;
}

/* All of `parts`, one after the other. */
static void has_in_order(const char *text, const char *const *parts, size_t count)
{
    const char *at = text;

    for (size_t i = 0; i < count; i++) {
        const char *found = strstr(at, parts[i]);
        if (!found)
            fail_msg("\"%s\" is not there (or not in its place) in:\n%s", parts[i], text);
        at = found + strlen(parts[i]);
    }
}

/* 24 June, day 30 after sowing: fleece for all four, the plugs of lettuce-2 to be planted first. */
static void a_day_reads_in_order(void **state)
{
    struct plot plot = make_plot(true);
    char *text = digest_of(&plot, on(2026, 6, 24), DB_TELLING_ALL);
    static const char *const parts[] = {
        "Tarn Hollow: Wednesday 24 June 2026\n",
        "\nToday\nTo fetch: gardener's trowel; fleece and hoops.\n\nnorth:\n",
        "  * Plant the lettuce out in north into holes of their own, well watered,\n    firmed with a foot, a long arm "
        "apart "
        "[plant/lettuce-2]\n",
        "  * Lay fleece over the carrot in north; the same for lettuce (lettuce-1) and\n    lettuce (lettuce-2) "
        "[cover/carrot-1]\n",
        "Takes about 15 min in all.\n",
        "      How: Weigh its edges down, and take it off by day.\n",
        "      Take care: Mind the [31mred[0m wire.\n",
        "      When it is done: dewbell note carrot-1 cover\n                      and: dewbell note lettuce-1 cover\n",
        "\nsouth:\n",
        "  \xE2\x9C\x93 Lay fleece over the carrot in south [cover/carrot-2]\n      Done on Wed 24 June.\n",
        "\nStill open from earlier days\n",
        "Thin carrot in north",
        "\nComing in the next 6 days\n  Fri 26  ",
        "Watch the carrot in north; the same for lettuce (lettuce-1) and\n          lettuce (lettuce-2) (and the days "
        "after)\n",
    };

    (void) state;
    has_in_order(text, parts, ROWS(parts));
    /* What comes daily stands once. */
    assert_null(strstr(strstr(strstr(text, "Watch the"), "south") + 5, "Watch the carrot in north"));
    free(text);
    plot_free(&plot);
}

/* 24 July: the round of a bed is one line with an item for each, the most urgent first; each caution once, and none that
 * another says; a bed with one of them has its own line. */
static void a_round_is_told_once(void **state)
{
    struct plot plot = make_plot(false);
    char *text = digest_of(&plot, on(2026, 7, 24), DB_TELLING_ALL);
    static const char *const parts[] = {
        "\nToday\nTo fetch: Watering can.\n\nnorth:\n",
        "  * Carry water to north: the row of carrot; the row of lettuce (lettuce-1);\n",
        "    lettuce, a can each (lettuce-2) [drink-row/carrot-1]\n",
        "Some of it by Sat 25 July, the rest by Sun 26 July. Takes about 10 min\n      in all.\n",
        "      Why: It was sown on 25 May.\n",
        "      How: Use the fine rose.\n      How: Pour at the foot.\n",
        "      Take care: Lift with a straight back. Mind the hose.\n",
        "      When it is done: dewbell note carrot-1 drink-row\n",
        "and: dewbell note lettuce-1 drink-row\n",
        "and: dewbell note lettuce-2 drunk\n",
        "south:\n  * Wet the row of carrot in south [drink-row/carrot-2]\n",
    };

    (void) state;
    has_in_order(text, parts, ROWS(parts));
    assert_null(strstr(text, "For carrot-2"));
    free(text);
    text = digest_of(&plot, on(2026, 7, 25), DB_TELLING_REASONS);
    assert_non_null(strstr(text, "Some of it today, the rest by Sun 26 July."));
    free(text);
    plot_free(&plot);
}

static void a_brief_day_leaves_the_reasons_out(void **state)
{
    struct plot plot = make_plot(false);
    char *text = digest_of(&plot, on(2026, 6, 24), DB_TELLING_LINES);

    (void) state;
    assert_null(strstr(text, "Why:"));
    assert_null(strstr(text, "How:"));
    assert_null(strstr(text, "dewbell note"));
    assert_non_null(strstr(text, "Lay fleece over the carrot in north"));
    assert_non_null(strstr(text, "\nToday\nTo fetch: gardener's trowel; fleece and hoops.\nnorth:\n"));
    free(text);
    plot_free(&plot);
}

static void days_without_jobs_say_what_is_next(void **state)
{
    struct plot plot = make_plot(false);
    char *text = digest_of(&plot, on(2026, 5, 20), DB_TELLING_ALL);
    static const char *const parts[] = { "\nNo job falls on today.\n", "The next job is on Monday 1 June 2026:\n",
                                         "Look at " };

    (void) state;
    has_in_order(text, parts, ROWS(parts));
    free(text);
    text = digest_of(&plot, on(2027, 2, 20), DB_TELLING_ALL);
    assert_non_null(strstr(text, "No jobs after this day"));
    free(text);
    plot_free(&plot);
}

/* fleece was due on 24 and 25 June. */
static void what_has_ended_is_told_for_three_days(void **state)
{
    struct plot plot = make_plot(false);
    char *text = digest_of(&plot, on(2026, 6, 28), DB_TELLING_ALL);
    static const char *const parts[] = { "\nEnded in the last 3 days without a note\n", "Lay fleece over",
                                         "Its days ended on Thu 25 June." };

    (void) state;
    has_in_order(text, parts, ROWS(parts));
    free(text);
    text = digest_of(&plot, on(2026, 6, 29), DB_TELLING_ALL);
    assert_null(strstr(text, "Lay fleece over"));
    free(text);
    plot_free(&plot);
}

/* What is fetched: for open jobs of the day alone, each once whatever the case of its letters, none where there is none. */
static void tools_are_told_once(void **state)
{
    struct plot plot = make_plot(true);
    const struct db_jobs *jobs = kit_evaluate(&plot, on(2026, 6, 24));
    const char **tools = NULL;
    size_t count = 9;
    char *text;

    (void) state;
    assert_int_equal(db_tools_on(jobs, on(2026, 6, 24), plot.arena, &tools, &count), DB_OK);
    assert_int_equal(count, 2);
    assert_string_equal(tools[0], "gardener's trowel");
    assert_string_equal(tools[1], "fleece and hoops");
    assert_int_equal(db_tools_on(jobs, on(2026, 7, 24), plot.arena, &tools, &count), DB_OK);
    assert_int_equal(count, 1);
    assert_int_equal(db_tools_on(jobs, on(2026, 6, 26), plot.arena, &tools, &count), DB_OK); /* only watching */
    assert_int_equal(count, 0);
    text = digest_of(&plot, on(2026, 6, 26), DB_TELLING_ALL); /* and planting, still open, asks for nothing today */
    assert_non_null(strstr(text, "Still open from earlier days"));
    assert_null(strstr(text, "To fetch"));
    free(text);
    for (int i = 0; i < 4; i++) {
        static const char *const ids[] = { "carrot-1", "lettuce-1", "lettuce-2", "lettuce-2" };

        plot_note(&plot, ids[i], i < 3 ? "cover" : "planted", on(2026, 6, 24));
    }
    plot_close_diary(&plot);
    text = digest_of(&plot, on(2026, 6, 24), DB_TELLING_ALL);
    assert_non_null(strstr(text, "Done on Wed 24 June."));
    assert_null(strstr(text, "To fetch"));
    free(text);
    plot_free(&plot);
}

static const char *text_at(json_object *object, const char *key)
{
    json_object *value = NULL;

    if (!json_object_object_get_ex(object, key, &value))
        fail_msg("there is no \"%s\"", key);
    return value ? json_object_get_string(value) : NULL;
}

static void json_tells_each_job(void **state)
{
    struct plot plot = make_plot(true);
    struct db_bytes out = { 0 };
    const struct db_jobs *jobs = kit_evaluate(&plot, on(2026, 6, 24));
    size_t count = db_jobs_count(jobs), done = 0;
    char first[11];

    (void) state;
    assert_int_equal(db_json_jobs(jobs, 0, count, plot.arena, &out), DB_OK);
    json_object *all = json_tokener_parse(out.data);
    assert_true(json_object_is_type(all, json_type_array));
    assert_int_equal(json_object_array_length(all), count);
    for (size_t i = 0; i < count; i++) {
        const struct db_job *job = db_jobs_at(jobs, i);
        json_object *told = json_object_array_get_idx(all, i), *minutes = NULL, *why = NULL;
        char name[128];

        (void) db_job_name(jobs, job, name, sizeof name);
        assert_string_equal(text_at(told, "job"), name);
        assert_string_equal(text_at(told, "summary"), db_job_summary(jobs, job, plot.arena));
        assert_string_equal(text_at(told, "best"), db_date_iso(job->best, first));
        assert_string_equal(text_at(told, "first"), db_date_iso(job->first, first));
        assert_non_null(text_at(told, "kind"));
        assert_non_null(text_at(told, "how"));
        if (*db_rule_tool(plot.view.rules, job->rule))
            assert_string_equal(text_at(told, "tool"), db_rule_tool(plot.view.rules, job->rule));
        else
            assert_null(text_at(told, "tool"));
        assert_true(json_object_object_get_ex(told, "minutes", &minutes));
        assert_int_equal(minutes ? json_object_get_int(minutes) : 0, (int) (job->minutes + 0.5F));
        assert_true(json_object_object_get_ex(told, "why", &why) && json_object_is_type(why, json_type_array));
        if (strcmp(text_at(told, "state"), "done") == 0) {
            done++;
            assert_string_equal(text_at(told, "done"), "2026-06-24");
            assert_string_equal(text_at(told, "sowing"), "carrot-2");
        } else {
            assert_null(text_at(told, "done"));
        }
    }
    assert_int_equal(done, 1);
    (void) json_object_put(all);
    out.length = 0;
    assert_int_equal(db_json_jobs(jobs, 3, 3, plot.arena, &out), DB_OK);
    assert_string_equal(out.data, "[]\n");
    db_bytes_free(&out);
    plot_free(&plot);
}

/* Raise the arena's limit until the text fits: every smaller one must fail cleanly. */
/* Every element that is opened is closed in its turn (HTML Living Standard: h1..h3, p, ul, li, strong and code need their
 * end or may have it; br has none), and only those of headings, paragraphs and lists appear. */
static void check_elements(const char *html)
{
    static const char *const known[] = { "h1", "h2", "h3", "p", "ul", "li", "strong", "code" };
    char open[16][8];
    size_t depth = 0;

    for (const char *at = html; (at = strchr(at, '<')); at++) {
        const bool end = at[1] == '/';
        char name[8] = "";
        size_t which = 0;

        assert_int_equal(sscanf(at + 1 + end, "%7[a-z0-9]>", name), 1);
        if (strcmp(name, "br") == 0)
            continue;
        while (which < ROWS(known) && strcmp(known[which], name) != 0)
            which++;
        assert_true(which < ROWS(known));
        if (end) {
            assert_true(depth > 0);
            assert_string_equal(open[--depth], name);
        } else {
            assert_true(depth < ROWS(open));
            memcpy(open[depth++], name, sizeof name);
        }
        assert_true(strcmp(name, "li") != 0 || end || strcmp(open[depth - 2], "ul") == 0);
    }
    assert_int_equal(depth, 0);
}

static void html_holds_the_same_in_headings_and_lists(void **state)
{
    struct plot plot = make_plot(true);
    static const char *const parts[] = { "<h1>Tarn Hollow: Wednesday 24 June 2026</h1>",
                                         "<h2>Today</h2>\n<p>To fetch: gardener&#39;s trowel; fleece and hoops.</p>\n",
                                         "<h3>north</h3>\n<ul>\n<li><strong>",
                                         "<br>Why: ",
                                         "<br>Take care: Mind the [31mred[0m wire.",
                                         "<code>dewbell note ",
                                         "<h2>Coming in the next 6 days</h2>",
                                         "<h3>Friday 26 June 2026</h3>" };
    const struct db_jobs *jobs = kit_evaluate(&plot, on(2026, 6, 24));
    struct db_bytes out = { 0 };

    (void) state;
    for (int day = -30; day < 90; day++) {
        struct db_date date = db_date_add(on(2026, 6, 24), day);
        out.length = 0;
        assert_int_equal(db_digest_html(jobs, date, DB_TELLING_ALL, plot.arena, &out), DB_OK);
        check_elements(out.data);
        assert_null(strchr(out.data, '\x1B'));
        if (day == 0)
            has_in_order(out.data, parts, ROWS(parts));
    }
    out.length = 0;
    assert_int_equal(db_digest_escape("<a href=\"x\">&'", &out), DB_OK);
    assert_string_equal(out.data, "&#60;a href=&#34;x&#34;&#62;&#38;&#39;");
    /* carrot, lettuce-1, lettuce-2 to cover, lettuce-2 to plant; carrot-2 is noted as covered or not by its rule. */
    assert_true(db_digest_count(jobs, on(2026, 6, 24)) >= 4);
    assert_int_equal(db_digest_count(jobs, on(2026, 1, 1)), 0);
    db_bytes_free(&out);
    plot_free(&plot);
}

static void any_memory_limit_is_survived(void **state)
{
    struct plot plot = make_plot(true);
    const struct db_jobs *jobs = kit_evaluate(&plot, on(2026, 6, 24));
    enum db_status status = DB_FULL;

    (void) state;
    for (size_t limit = 0; status != DB_OK; limit += 512) {
        struct db_arena *arena = db_arena_new(limit);
        struct db_bytes out = { 0 };

        assert_non_null(arena);
        status = db_digest_day(jobs, on(2026, 6, 24), DB_TELLING_ALL, arena, &out);
        assert_true(status == DB_OK || status == DB_FULL);
        if (status == DB_OK)
            status = db_digest_html(jobs, on(2026, 6, 24), DB_TELLING_ALL, arena, &out);
        if (status == DB_OK)
            status = db_json_jobs(jobs, 0, db_jobs_count(jobs), arena, &out);
        assert_true(status == DB_OK || status == DB_FULL);
        db_bytes_free(&out);
        (void) db_arena_free(arena);
    }
    plot_free(&plot);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_day_reads_in_order),
        cmocka_unit_test(a_round_is_told_once),
        cmocka_unit_test(a_brief_day_leaves_the_reasons_out),
        cmocka_unit_test(days_without_jobs_say_what_is_next),
        cmocka_unit_test(what_has_ended_is_told_for_three_days),
        cmocka_unit_test(tools_are_told_once),
        cmocka_unit_test(json_tells_each_job),
        cmocka_unit_test(html_holds_the_same_in_headings_and_lists),
        cmocka_unit_test(any_memory_limit_is_survived),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
