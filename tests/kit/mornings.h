/* A house for mornings: a keeper of one small garden that is evaluated when asked, and a courier that keeps what it is
 * handed. They take the places of the service's own, so only one program a file may hold them. Include after cmocka.h. */
#ifndef DB_TESTS_KIT_MORNINGS_H
#define DB_TESTS_KIT_MORNINGS_H

#include "kit/rules.h"
#include "kit/sim_clock.h"
#include "read/zone.h"
#include "service/log.h"
#include "service/morning.h"

#include <unistd.h>

#define MINUTE INT64_C(60000)
#define HOUR (60 * MINUTE)
#define DAY (24 * HOUR)
enum { OUTLETS = 2 };

/* ---- the keeper: a garden that is evaluated when asked ---- */

struct db_keeper {
    struct plot plot;
    struct db_estate estate;
    struct db_arena *arena;
    const struct db_jobs *jobs;
    struct db_record *record;
    struct db_loop *loop;
    struct db_timer *soon;
    db_feeds_changed *changed;
    void *context;
    bool deaf; /* evaluations do not come */
};

const char *db_keeper_name(const struct db_keeper *keeper)
{
    (void) keeper;
    return "Tarn Hollow";
}

const char *db_keeper_folder(const struct db_keeper *keeper)
{
    (void) keeper;
    return "/nonexistent";
}

struct db_record *db_keeper_record(const struct db_keeper *keeper)
{
    return keeper->record;
}

const struct db_estate *db_keeper_estate(const struct db_keeper *keeper)
{
    return &keeper->estate;
}

const struct db_jobs *db_keeper_jobs(const struct db_keeper *keeper)
{
    return keeper->jobs;
}

const struct db_mistakes *db_keeper_mistakes(const struct db_keeper *keeper)
{
    (void) keeper;
    return NULL;
}

enum db_status db_keeper_on_change(struct db_keeper *keeper, db_feeds_changed *changed, void *context)
{
    keeper->changed = changed;
    keeper->context = context;
    return DB_OK;
}

enum db_status db_house_on_keeper(struct db_house *house, db_keeper_came *came, void *context)
{
    (void) house;
    (void) came;
    (void) context;
    return DB_OK;
}

static void evaluate(void *context)
{
    struct db_keeper *keeper = context;
    const struct db_zone *zone = db_zone_find(db_garden_site(keeper->plot.garden)->zone);

    (void) db_arena_free(keeper->arena);
    keeper->arena = db_arena_new((size_t) 1 << 28);
    assert_non_null(keeper->arena);
    keeper->plot.view.today = db_zone_day(zone, db_loop_wall(keeper->loop) / 1000);
    assert_int_equal(db_garden_evaluate(&keeper->plot.view, keeper->arena, &keeper->jobs), DB_OK);
    keeper->changed(keeper->context, keeper, 0);
}

void db_keeper_nudge(struct db_keeper *keeper)
{
    if (!keeper->deaf)
        db_timer_after(keeper->soon, 200);
}

/* ---- the courier: a receiver of mornings ---- */

enum answer { TAKEN, LATER, NEVER, CUT, NO_NETWORK };

struct got {
    char message[128];
    int copies;   /* that were taken, or may have been */
    int64_t wall; /* ms: when the first came */
};

static struct {
    struct got *got;
    size_t count;
    int under_way;
    enum answer (*answer)(const char *message, int64_t wall); /* NULL: taken */
    struct db_loop *loop;
    char last[1 << 17];
    char id[128]; /* of the last */
} receiver;

struct delivery {
    struct db_timer *timer;
    struct delivery *next;
    db_returned *returned;
    void *context;
    char message[128];
};
static struct delivery *deliveries;

static void take(const char *message)
{
    for (size_t i = 0; i < receiver.count; i++)
        if (strcmp(receiver.got[i].message, message) == 0) {
            receiver.got[i].copies++;
            return;
        }
    receiver.got = realloc(receiver.got, (receiver.count + 1) * sizeof *receiver.got);
    assert_non_null(receiver.got);
    memset(&receiver.got[receiver.count], 0, sizeof *receiver.got);
    (void) snprintf(receiver.got[receiver.count].message, sizeof receiver.got[0].message, "%s", message);
    receiver.got[receiver.count].wall = db_loop_wall(receiver.loop);
    receiver.got[receiver.count++].copies = 1;
}

static void drop_delivery(struct delivery *delivery)
{
    struct delivery **at = &deliveries;

    while (*at != delivery)
        at = &(*at)->next;
    *at = delivery->next;
    (void) db_timer_free(delivery->timer);
    free(delivery);
}

static void deliver(void *context)
{
    struct delivery *delivery = context;
    struct db_reply reply = { .retry_after = -1, .body = "", .trouble = "" };
    const enum answer answer =
        receiver.answer ? receiver.answer(delivery->message, db_loop_wall(receiver.loop) / 1000) : TAKEN;
    db_returned *returned = delivery->returned;
    void *whose = delivery->context;

    switch (answer) {
    case TAKEN:
        take(delivery->message);
        reply.arrived = true;
        reply.status = 250;
        break;
    case LATER:
    case NEVER:
        reply.arrived = true;
        reply.status = answer == LATER ? 451 : 550;
        reply.trouble = answer == LATER ? "busy" : "no such person";
        break;
    case CUT:
        take(delivery->message);
        reply.uncertain = true;
        reply.status = 354;
        reply.trouble = "the connection ended early";
        break;
    case NO_NETWORK:
        reply.trouble = "no network";
        break;
    }
    drop_delivery(delivery);
    returned(whose, &reply);
}

enum db_status db_courier_send(struct db_courier *courier, const struct db_errand *errand, db_returned *returned,
                               void *context, char why[256])
{
    struct delivery *delivery = calloc(1, sizeof *delivery);
    const char *id = strstr(errand->body, "Message-ID: <");

    (void) courier;
    (void) why;
    assert_non_null(delivery);
    assert_non_null(id);
    assert_int_equal(sscanf(id, "Message-ID: <%127[^>]>", delivery->message), 1);
    assert_true(errand->body_length < sizeof receiver.last);
    memcpy(receiver.last, errand->body, errand->body_length + 1);
    (void) snprintf(receiver.id, sizeof receiver.id, "%s", delivery->message);
    delivery->returned = returned;
    delivery->context = context;
    delivery->timer = db_timer_new(receiver.loop, "delivery", deliver, delivery);
    assert_non_null(delivery->timer);
    db_timer_after(delivery->timer, 1500);
    delivery->next = deliveries;
    deliveries = delivery;
    return DB_OK;
}

static const struct got *find_got(struct db_date date, const char *outlet)
{
    char begin[64], iso[11];

    (void) snprintf(begin, sizeof begin, "%s.mail.%s.", db_date_iso(date, iso), outlet);
    for (size_t i = 0; i < receiver.count; i++)
        if (strncmp(receiver.got[i].message, begin, strlen(begin)) == 0)
            return &receiver.got[i];
    return NULL;
}

/* Copies of the morning of a date that an outlet took. */
static int copies(struct db_date date, const char *outlet)
{
    const struct got *got = find_got(date, outlet);

    return got ? got->copies : 0;
}

/* ---- the bench ---- */

struct bench {
    char folder[64], file[80];
    struct sim_clock sim;
    struct db_keeper keeper;
    struct db_keeper *keepers[1];
    struct db_house house;
    struct db_mornings *mornings;
};

static const char *const to[] = { "anna@example.org", NULL };
static const struct db_outlet outlets[OUTLETS] = {
    { .way = DB_OUT_MAIL, .name = "mail me", .url = "smtp://x", .from = "g@example.org", .to = to },
    { .way = DB_OUT_MAIL, .name = "mail you", .url = "smtp://x", .from = "g@example.org", .to = to },
};

static void set_zone(struct db_keeper *keeper, const char *zone)
{
    ((struct db_site *) (uintptr_t) db_garden_site(keeper->plot.garden))->zone = zone;
}

static void start(struct bench *b)
{
    char trouble[256];

    b->house.loop = receiver.loop = b->keeper.loop = db_loop_new(&b->sim.clock);
    assert_non_null(b->house.loop);
    assert_int_equal(db_record_open(b->file, &b->keeper.record, trouble), DB_OK);
    b->keeper.soon = db_timer_new(b->house.loop, "evaluation", evaluate, &b->keeper);
    assert_non_null(b->keeper.soon);
    b->mornings = db_mornings_new(&b->house);
    assert_non_null(b->mornings);
}

/* As after a crash: nobody says good-bye to anybody. */
static void stop(struct bench *b)
{
    b->mornings = db_mornings_free(b->mornings);
    while (deliveries)
        drop_delivery(deliveries);
    b->keeper.soon = db_timer_free(b->keeper.soon);
    b->keeper.record = db_record_close(b->keeper.record);
    b->house.loop = db_loop_free(b->house.loop);
}

static struct bench *bench_new(int64_t wall, const char *zone, struct db_date first)
{
    struct bench *b = calloc(1, sizeof *b);
    static struct db_crop_facts crop;

    assert_non_null(b);
    db_log_set(DB_LOG_ERROR);
    memset(&receiver, 0, sizeof receiver);
    (void) snprintf(b->folder, sizeof b->folder, "/tmp/dewbell-morning-XXXXXX");
    assert_non_null(mkdtemp(b->folder));
    (void) snprintf(b->file, sizeof b->file, "%s/record", b->folder);
    sim_start(&b->sim, wall);
    b->keeper.plot = plot_new(52, 0);
    crop = kit_crop("carrot");
    plot_weather(&b->keeper.plot, db_date_add(first, -420), 1400);
    for (int i = 0; i < 1400; i++)
        plot_day(&b->keeper.plot, db_date_add(first, i - 420), 8, 18, 1);
    plot_rules(&b->keeper.plot, "[look]\njob = Look at the {crops} in {bed}\nduring = sown .. sown + 59 days\n"
                                "every = 1 day\nhow = Look.\nsource = invented for the test\n");
    (void) plot_sow(&b->keeper.plot, (struct db_sowing){ .id = "carrot-1",
                                                         .crop = &crop,
                                                         .bed = plot_bed(&b->keeper.plot, "north", DB_COVER_OPEN),
                                                         .way = DB_WAY_DRILL,
                                                         .planned = db_date_add(first, 10),
                                                         .sown = db_date_add(first, 10) });
    plot_close_diary(&b->keeper.plot);
    b->keeper.estate =
        (struct db_estate){ .garden = b->keeper.plot.garden,
                            .outlets = { .morning = { .wanted = true, .minutes = 6 * 60 + 30, .quiet_line = true },
                                         .outlets = outlets,
                                         .count = OUTLETS } };
    set_zone(&b->keeper, zone);
    b->keepers[0] = &b->keeper;
    b->house.keepers = b->keepers;
    b->house.keeper_count = 1;
    start(b);
    return b;
}

static void bench_free(struct bench *b)
{
    static const char *const tails[] = { "", "-wal", "-shm" };
    char path[96];

    stop(b);
    for (size_t i = 0; i < 3; i++) {
        (void) snprintf(path, sizeof path, "%s%s", b->file, tails[i]);
        (void) unlink(path);
    }
    assert_int_equal(rmdir(b->folder), 0);
    (void) db_arena_free(b->keeper.arena);
    plot_free(&b->keeper.plot);
    free(receiver.got);
    free(b);
}

#endif
