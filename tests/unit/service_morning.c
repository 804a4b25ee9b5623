/* Mornings on a clock that runs a year in seconds. The loop, the record and the engine are the real ones; the courier is a
 * receiver that keeps what it is handed, and the keeper holds a small garden. What should have come is worked out minute by
 * minute with the C library's own local time. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "kit/mornings.h"
#include "kit/thrift.h"

#include <time.h>

#include "base/banned.h"

enum { DAYS_MOST = 800 };

/* ---- what should have come, by the C library ---- */

struct zone_span {
    int64_t from; /* steady ms */
    const char *zone;
};

/* For each date from `first` on: the wall time (unix ms) of the first minute in which clocks in the garden stood between
 * 06:30 and noon of it; 0: they never did. */
static void shown_days(int64_t wall, int64_t length, const struct sim_event *events, size_t count,
                       const struct zone_span *zones, size_t zone_count, struct db_date first, int64_t shown[DAYS_MOST])
{
    size_t event = 0, zone = zone_count;

    for (int64_t steady = 0; steady < length; steady += MINUTE) {
        while (event < count && events[event].at <= steady)
            wall += events[event++].set;
        size_t now = 0;
        while (now + 1 < zone_count && zones[now + 1].from <= steady)
            now++;
        if (now != zone) {
            zone = now;
            assert_int_equal(setenv("TZ", zones[zone].zone, 1), 0);
            tzset();
        }
        const time_t seconds = (time_t) ((wall + steady) / 1000);
        struct tm local;
        struct db_date date;
        assert_non_null(localtime_r(&seconds, &local));
        assert_int_equal(db_date_of(local.tm_year + 1900, local.tm_mon + 1, local.tm_mday, &date), DB_OK);
        const int32_t i = date.day - first.day;
        assert_true(i >= 0 && i < DAYS_MOST);
        /* The last minute before noon leaves no time to write and send; none of the events below needs it. */
        if (local.tm_hour * 60 + local.tm_min >= 390 && local.tm_hour * 60 + local.tm_min < 719 && !shown[i])
            shown[i] = wall + steady;
    }
    (void) unsetenv("TZ");
    tzset();
}

/* ---- the tests ---- */

static int64_t utc(int year, int month, int day, int hour, int minute)
{
    return ((int64_t) on(year, month, day).day * 1440 + hour * 60 + minute) * MINUTE;
}

/* From 1 January 2028, in the garden's zone; each happens when the wall clock, as set by those before, reads that. */
static void a_year_brings_one_morning_a_day(void **state)
{
    const int64_t begin = utc(2028, 1, 1, 0, 10), length = thrift(400, 40) * DAY;
    const struct db_date first = on(2027, 12, 1);
    const struct sim_event events[] = {
        /* one hour on, an hour and a half before the morning; one back, just after it */
        { utc(2028, 1, 20, 5, 0) - begin, HOUR, 0 },
        { utc(2028, 1, 25, 5, 40) - begin, -HOUR, 0 },
        /* over the hour itself, both ways, near both changes and on 29 February */
        { utc(2028, 2, 28, 6, 0) - begin, HOUR, 0 },
        { utc(2028, 2, 29, 5, 35) - begin, -HOUR, 0 },
        /* two days on in the small hours: two mornings that no clock ever showed; two days back by day */
        { utc(2028, 4, 10, 3, 0) - begin, 2 * DAY, 0 },
        { utc(2028, 5, 10, 9, 0) - begin, -2 * DAY, 0 },
        /* two days back and forth within minutes, before the hour and after it */
        { utc(2028, 7, 1, 4, 0) - begin, -2 * DAY, 0 },
        { utc(2028, 7, 1, 4, 20) - begin, 2 * DAY, 0 },
        { utc(2028, 7, 3, 8, 0) - begin, 2 * DAY, 0 },
        { utc(2028, 7, 3, 8, 20) - begin, -2 * DAY, 0 },
        /* on the days the clocks change in London: 26 March and 29 October 2028 */
        { utc(2028, 10, 29, 0, 30) - begin, HOUR, 0 },
        { utc(2028, 10, 29, 7, 0) - begin, -HOUR, 0 },
    };
    const struct zone_span zones[] = { { 0, "Europe/London" },
                                       { utc(2028, 11, 15, 14, 0) - begin, "Pacific/Auckland" },
                                       { utc(2028, 12, 5, 3, 0) - begin, "Pacific/Pago_Pago" },
                                       { utc(2028, 12, 20, 18, 0) - begin, "Pacific/Kiritimati" },
                                       { utc(2029, 1, 10, 9, 0) - begin, "Europe/London" } };
    static int64_t shown[DAYS_MOST];
    struct bench *b = bench_new(begin, "Europe/London", first);
    size_t days = 0;

    (void) state;
    b->sim.events = events;
    b->sim.count = sizeof events / sizeof events[0];
    for (size_t z = 0; z < sizeof zones / sizeof zones[0]; z++) {
        const bool last = z + 1 == sizeof zones / sizeof zones[0];

        set_zone(&b->keeper, zones[z].zone);
        evaluate(&b->keeper); /* as a keeper does when the plan was changed */
        sim_run(&b->sim, b->house.loop,
                (last || zones[z + 1].from > length ? length : zones[z + 1].from) - b->sim.steady);
        if (b->sim.steady >= length)
            break;
    }
    shown_days(begin, length, events, b->sim.count, zones, sizeof zones / sizeof zones[0], first, shown);
    for (int32_t i = 0; i < DAYS_MOST; i++) {
        const struct db_date date = db_date_add(first, i);
        const struct got *got = find_got(date, "me");
        const int expected = shown[i] != 0;
        char iso[11];

        days += (size_t) expected;
        if (copies(date, "me") != expected || copies(date, "you") != expected)
            fail_msg("%s: %d and %d copies, expected %d", db_date_iso(date, iso), copies(date, "me"),
                     copies(date, "you"), expected);
        /* At its hour, not somewhere before noon: the clock we step along reads minutes, writing and sending take seconds. */
        if (got && (got->wall < shown[i] - MINUTE || got->wall > shown[i] + MINUTE))
            fail_msg("%s: %lld s after its hour", db_date_iso(date, iso), (long long) (got->wall - shown[i]) / 1000);
    }
    assert_true((int64_t) days > length / DAY - 15);
    assert_int_equal(copies(on(2028, 2, 29), "me"), length > 60 * DAY);
    assert_int_equal(copies(on(2028, 3, 26), "me"), length > 90 * DAY);
    assert_int_equal(copies(on(2028, 10, 29), "me"), length > 365 * DAY);
    assert_false(db_loop_flooded(b->house.loop));
    bench_free(b);
}

/* Numbers that depend on the seed alone (SplitMix64, Steele, Lea and Flood 2014). */
static uint64_t seed, drawn;
static uint64_t draw(void)
{
    uint64_t z = (drawn += UINT64_C(0x9e3779b97f4a7c15));

    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    return z ^ (z >> 31);
}

static int cuts;
static enum answer moody(const char *message, int64_t wall)
{
    (void) message;
    (void) wall;
    switch (draw() % 8) {
    case 0:
    case 1:
        return LATER;
    case 2:
        return NO_NETWORK;
    case 3:
        cuts++;
        return CUT;
    default:
        return TAKEN;
    }
}

/* The service dies at any moment and starts again at any later one; the server is moody. Every day on which the service ran
 * for long enough has its morning; a second copy comes only where it could not be known, and bears the same mark. */
static void deaths_lose_nothing(void **state)
{
    const int64_t begin = utc(2028, 1, 1, 0, 10);
    struct bench *b = bench_new(begin, "Europe/London", on(2027, 12, 1));
    int extra = 0, deaths_under_way = 0;

    (void) state;
    print_message("SEED=%llu\n", (unsigned long long) seed);
    drawn = seed;
    receiver.answer = moody;
    const int lived = thrift(60, 8);
    for (int day = 0; day < lived; day++) {
        const struct db_date date = db_date_add(on(2028, 1, 1), day);
        const int64_t midnight = (int64_t) date.day * DAY;

        /* Three deaths around the hour, each after up to 90 s, then until the next midnight. */
        sim_run(&b->sim, b->house.loop, midnight + 390 * MINUTE - b->sim.wall - 500);
        for (int death = 0; death < 3; death++) {
            sim_run(&b->sim, b->house.loop, (int64_t) (draw() % 4000) + 1);
            if (deliveries && draw() % 2) { /* it was taken, and the answer never came back */
                take(deliveries->message);
                deaths_under_way++;
            }
            stop(b);
            start(b);
        }
        sim_run(&b->sim, b->house.loop, midnight + DAY - b->sim.wall);
        for (int o = 0; o < OUTLETS; o++) {
            const int had = copies(date, o ? "you" : "me");

            if (had < 1)
                fail_msg("day %d has no morning; SEED=%llu", day, (unsigned long long) seed);
            extra += had - 1;
        }
    }
    /* Copies beyond the first are those windows, and no others. */
    print_message("%d second copies out of %d windows that mail cannot close\n", extra, cuts + deaths_under_way);
    assert_true(extra <= cuts + deaths_under_way);
    assert_int_equal(receiver.count, lived * OUTLETS); /* one mark a date and outlet */
    bench_free(b);
}

static enum answer out_of_order(const char *message, int64_t wall)
{
    if (strstr(message, ".mail.you."))
        return TAKEN;
    return strncmp(message, "2028-01-12", 10) == 0   ? LATER
           : strncmp(message, "2028-01-14", 10) == 0 ? NEVER
           : strncmp(message, "2028-01-16", 10) == 0 ? CUT
           : wall < 0                                ? NO_NETWORK
                                                     : TAKEN;
}

static void run_to(struct bench *b, int month, int day, int hour, int minute)
{
    sim_run(&b->sim, b->house.loop, utc(2028, month, day, hour, minute) - b->sim.wall);
}

/* The text part of the last letter has a line that begins so; soft breaks are taken out first. */
static bool last_says(const char *words)
{
    char *plain = calloc(1, sizeof receiver.last);
    size_t length = 0;

    assert_non_null(plain);
    for (const char *c = receiver.last; *c; c++) {
        if (strncmp(c, "=\r\n", 3) == 0)
            c += 2;
        else
            plain[length++] = *c;
    }
    const bool found = strstr(plain, words) != NULL;
    free(plain);
    return found;
}

static void what_fails_is_told_the_next_day(void **state)
{
    struct bench *b = bench_new(utc(2028, 1, 11, 0, 0), "Europe/London", on(2027, 12, 1));

    (void) state;
    receiver.answer = out_of_order;
    run_to(b, 1, 12, 6, 29);
    assert_int_equal(copies(on(2028, 1, 12), "you"), 0);
    run_to(b, 1, 12, 6, 31);
    assert_int_equal(copies(on(2028, 1, 12), "you"), 1);
    run_to(b, 1, 12, 13, 0);
    assert_int_equal(copies(on(2028, 1, 12), "me"), 0); /* "come later" until noon */
    run_to(b, 1, 13, 6, 31);
    assert_int_equal(copies(on(2028, 1, 13), "me"), 1);
    assert_true(last_says("Yesterday's morning could not be sent by [mail me]: busy."));
    run_to(b, 1, 14, 6, 31);
    assert_false(last_says("could not be sent")); /* told once */
    assert_true(last_says("Look at the"));
    run_to(b, 1, 15, 6, 31);
    assert_int_equal(copies(on(2028, 1, 14), "me"), 0); /* refused for good */
    assert_true(last_says("Yesterday's morning could not be sent by [mail me]: no such person."));
    run_to(b, 1, 16, 13, 0);
    assert_int_equal(copies(on(2028, 1, 16), "me"), 3); /* cut after all was handed over: no more than three */
    assert_int_equal(copies(on(2028, 1, 16), "you"), 1);
    bench_free(b);
}

/* Another program writes to the record over the hour of the morning, and again while what came of it is to be written down: it
 * is tried again each second, and each way has its one letter. */
static void another_program_is_writing(void **state)
{
    struct bench *b = bench_new(utc(2028, 1, 11, 0, 0), "Europe/London", on(2027, 12, 1));
    struct db_record *other = NULL;
    char trouble[256];

    (void) state;
    assert_int_equal(db_record_open(b->file, &other, trouble), DB_OK);
    db_record_set_patience(b->keeper.record, 0); /* it would be real time */
    run_to(b, 1, 12, 6, 29);
    assert_int_equal(db_record_begin(other), DB_OK);
    run_to(b, 1, 12, 6, thrift(40, 32));
    assert_int_equal(copies(on(2028, 1, 12), "me"), 0); /* nothing leaves that does not stand in the record */
    assert_int_equal(db_record_end(other, DB_OK), DB_OK);
    sim_run(&b->sim, b->house.loop, 5000);
    assert_int_equal(copies(on(2028, 1, 12), "me") + copies(on(2028, 1, 12), "you"), 2);
    assert_int_equal(db_record_begin(other), DB_OK); /* what came of them may or may not stand there by now */
    run_to(b, 1, 12, 6, thrift(59, 35));
    assert_int_equal(db_record_end(other, DB_OK), DB_OK);
    run_to(b, 1, 12, 13, 0);
    assert_int_equal(copies(on(2028, 1, 12), "me"), 1);
    assert_int_equal(copies(on(2028, 1, 12), "you"), 1);
    run_to(b, 1, 13, 6, 31);
    assert_false(last_says("could not be sent"));
    (void) db_record_close(other);
    bench_free(b);
}

static void down_over_the_hour(void **state)
{
    struct bench *b = bench_new(utc(2028, 1, 20, 0, 0), "Europe/London", on(2027, 12, 1));

    (void) state;
    run_to(b, 1, 20, 20, 0);
    stop(b);
    b->sim.wall = utc(2028, 1, 21, 9, 0); /* up at nine: once, marked late */
    start(b);
    run_to(b, 1, 21, 9, 2);
    assert_int_equal(copies(on(2028, 1, 21), "me"), 1);
    assert_true(last_says("This morning comes late: it was due at 06:30."));
    stop(b);
    start(b);
    run_to(b, 1, 21, 22, 0);
    assert_int_equal(copies(on(2028, 1, 21), "me"), 1);
    stop(b);
    b->sim.wall = utc(2028, 1, 22, 23, 0); /* up at eleven at night: not any more, told the next day */
    start(b);
    run_to(b, 1, 23, 6, 31);
    assert_int_equal(copies(on(2028, 1, 22), "me"), 0);
    assert_int_equal(copies(on(2028, 1, 23), "me"), 1);
    assert_true(last_says("Yesterday's morning was not sent: the service did not run at its hour."));
    b->keeper.deaf = true; /* an evaluation that does not come costs a minute, not the morning */
    run_to(b, 1, 24, 6, 33);
    assert_int_equal(copies(on(2028, 1, 24), "me"), 1);
    bench_free(b);
}

static void a_quiet_day_is_decided_once(void **state)
{
    struct bench *b =
        bench_new(utc(2028, 5, 1, 0, 0), "Europe/London", on(2027, 12, 1)); /* the sowing's days are over */
    const struct db_date day = on(2028, 5, 2);
    struct db_date before;
    bool there = false;

    (void) state;
    run_to(b, 5, 1, 7, 0);
    assert_int_equal(copies(on(2028, 5, 1), "me"), 1);
    assert_true(last_says("nothing needs doing today, Monday 1 May 2028."));
    assert_true(last_says("Subject: Tarn Hollow: Monday 1 May, nothing to do\r\n"));
    b->keeper.estate.outlets.morning.quiet_line = false;
    run_to(b, 5, 2, 7, 0);
    assert_int_equal(copies(day, "me"), 0);
    assert_int_equal(db_record_morning_dates(b->keeper.record, day, &there, &before), DB_OK);
    assert_true(there);
    b->keeper.estate.outlets.morning.quiet_line = true; /* too late for this day */
    run_to(b, 5, 2, 14, 0);
    assert_int_equal(copies(day, "me"), 0);
    run_to(b, 5, 3, 7, 0);
    assert_int_equal(copies(on(2028, 5, 3), "me"), 1);
    assert_false(last_says("did not run")); /* a quiet day is no gap */
    bench_free(b);
}

/* Sunrise in London, from the table of HM Nautical Almanac Office for 2026 (from memory): 21 June 03:43 UTC, 21 December
 * 08:04 UTC; Auckland 21 June about 07:34 NZST. Two minutes are allowed. */
static void due_by_the_sun(void **state)
{
    struct db_morning_wish wish = { .wanted = true, .by_sun = true };
    struct db_site site = { .latitude = 51.5, .longitude = -0.1 };
    const struct db_zone *london = db_zone_find("Europe/London"), *auckland = db_zone_find("Pacific/Auckland");

    (void) state;
    assert_in_range(db_morning_due(&wish, &site, london, on(2026, 6, 21)) - utc(2026, 6, 21, 3, 41) / 1000, 0, 240);
    assert_in_range(db_morning_due(&wish, &site, london, on(2026, 12, 21)) - utc(2026, 12, 21, 8, 2) / 1000, 0, 240);
    wish.minutes = -30;
    assert_in_range(db_morning_due(&wish, &site, london, on(2026, 12, 21)) - utc(2026, 12, 21, 7, 32) / 1000, 0, 240);
    wish.minutes = 6 * 60; /* 14:04 is no morning: 11:00 at the latest */
    assert_int_equal(db_morning_due(&wish, &site, london, on(2026, 12, 21)), utc(2026, 12, 21, 11, 0) / 1000);
    wish.minutes = -6 * 60; /* not the day before */
    assert_int_equal(db_morning_due(&wish, &site, london, on(2026, 6, 21)), utc(2026, 6, 20, 23, 0) / 1000);
    wish.minutes = 0;
    site = (struct db_site){ .latitude = -36.85, .longitude = 174.76 };
    assert_in_range(db_morning_due(&wish, &site, auckland, on(2026, 6, 21)) - utc(2026, 6, 20, 19, 32) / 1000, 0, 240);
    /* Where the sun stays up or down, six o'clock stands for its rising. */
    site = (struct db_site){ .latitude = 69.65, .longitude = 18.96 };
    const struct db_zone *oslo = db_zone_find("Europe/Oslo");
    assert_int_equal(db_morning_due(&wish, &site, oslo, on(2026, 6, 21)), utc(2026, 6, 21, 4, 0) / 1000);
    assert_int_equal(db_morning_due(&wish, &site, oslo, on(2026, 12, 21)), utc(2026, 12, 21, 5, 0) / 1000);
}

/* Anywhere, on any day, the hour lies in that local date and before noon. */
static void due_lies_in_its_own_day(void **state)
{
    static const struct {
        const char *zone;
        double latitude, longitude;
    } places[] = { { "Pacific/Kiritimati", 1.9, -157.4 }, { "Pacific/Pago_Pago", -14.3, -170.7 },
                   { "Pacific/Auckland", -45.9, 170.5 },  { "Pacific/Chatham", -44, -176.5 },
                   { "Asia/Kathmandu", 27.7, 85.3 },      { "America/St_Johns", 47.6, -52.7 },
                   { "Atlantic/Reykjavik", 65.7, -18.1 }, { "America/Santiago", -33.4, -70.7 },
                   { "Africa/Cairo", 30, 31.2 },          { "Australia/Lord_Howe", -31.5, 159.1 } };
    const struct db_morning_wish wishes[] = { { true, true, -30, false, NULL },
                                              { true, true, 60, false, NULL },
                                              { true, false, 0, false, NULL },
                                              { true, false, 150, false, NULL },
                                              { true, false, 719, false, NULL } };

    (void) state;
    for (size_t p = 0; p < sizeof places / sizeof places[0]; p++) {
        const struct db_zone *zone = db_zone_find(places[p].zone);
        const struct db_site site = { .latitude = places[p].latitude, .longitude = places[p].longitude };

        assert_non_null(zone);
        for (int32_t day = 0; day < 731; day += thrift(1, 11))
            for (size_t w = 0; w < sizeof wishes / sizeof wishes[0]; w++) {
                const struct db_date date = db_date_add(on(2027, 1, 1), day);
                const int64_t due = db_morning_due(&wishes[w], &site, zone, date);

                assert_int_equal(db_zone_day(zone, due).day, date.day);
                assert_true(due < db_zone_moment(zone, date, 12 * 60));
            }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_year_brings_one_morning_a_day),
        cmocka_unit_test(deaths_lose_nothing),
        cmocka_unit_test(what_fails_is_told_the_next_day),
        cmocka_unit_test(another_program_is_writing),
        cmocka_unit_test(down_over_the_hour),
        cmocka_unit_test(a_quiet_day_is_decided_once),
        cmocka_unit_test(due_by_the_sun),
        cmocka_unit_test(due_lies_in_its_own_day),
    };
    const char *given = getenv("SEED");

    seed = given && *given ? strtoull(given, NULL, 10) : 2028;
    return cmocka_run_group_tests(tests, NULL, NULL);
}
