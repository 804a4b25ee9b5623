/* Which feed goes where: after each evaluation the lanes are made to fit what the plan says now. */
#include "service/publish.h"

#include "service/lane.h"
#include "service/log.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

struct way {                  /* a lane and whose it is */
    struct db_keeper *keeper; /* NULL: dropped, and waiting for its last answer */
    struct db_lane *lane;
    bool meant; /* the plan still says so */
};

struct site {
    struct db_publish *publish;
    struct db_keeper *keeper;
    struct site *next;
};

struct db_publish {
    struct db_house *house;
    struct site *sites;
    struct way *ways;
    size_t count, room;
};

static const char *const feeds[DB_READY_COUNT] = {
    [DB_READY_JOBS] = "jobs", [DB_READY_MORNINGS] = "mornings", [DB_READY_TASKS] = "tasks"
};

static bool names(const char *const *list, const char *word)
{
    for (; *list; list++)
        if (strcmp(*list, word) == 0)
            return true;
    return false;
}

static struct db_lane *find_lane(struct db_publish *publish, struct db_keeper *keeper, const char *outlet,
                                 const char *feed)
{
    for (size_t i = 0; i < publish->count; i++)
        if (publish->ways[i].keeper == keeper && db_lane_is(publish->ways[i].lane, outlet, feed)) {
            publish->ways[i].meant = true;
            return publish->ways[i].lane;
        }
    if (publish->count == publish->room) {
        size_t room = publish->room ? publish->room * 2 : 8;
        struct way *ways = reallocarray(publish->ways, room, sizeof *ways);

        if (!ways)
            return NULL;
        publish->ways = ways;
        publish->room = room;
    }
    const struct db_lane_home home = { publish->house->loop, publish->house->courier, db_keeper_record(keeper),
                                       db_keeper_folder(keeper) };
    struct db_lane *lane = db_lane_new(&home, outlet, feed);
    if (lane)
        publish->ways[publish->count++] = (struct way){ keeper, lane, true };
    return lane;
}

/* Frees the lanes that were dropped and wait for nothing any more. */
static void sweep(struct db_publish *publish)
{
    size_t kept = 0;

    for (size_t i = 0; i < publish->count; i++)
        if (publish->ways[i].keeper || db_lane_busy(publish->ways[i].lane))
            publish->ways[kept++] = publish->ways[i];
        else
            (void) db_lane_free(publish->ways[i].lane);
    publish->count = kept;
}

static void drop_unmeant(struct db_publish *publish, const struct db_keeper *keeper)
{
    for (size_t i = 0; i < publish->count; i++)
        if (publish->ways[i].keeper == keeper && !publish->ways[i].meant) {
            publish->ways[i].keeper = NULL;
            db_lane_drop(publish->ways[i].lane);
        }
    sweep(publish);
}

static void set_lane(struct db_publish *publish, struct db_keeper *keeper, const struct db_outlet *outlet,
                     enum db_ready_feed feed)
{
    struct db_lane *lane = find_lane(publish, keeper, outlet->name, feeds[feed]);
    struct db_ready_bytes *bytes = db_keeper_feed(keeper, feed);

    if (!lane || (bytes && db_lane_set(lane, outlet, db_keeper_estate(keeper)->folder, bytes->name, bytes->data,
                                       bytes->length) != DB_OK))
        db_log(DB_LOG_ERROR, "%s: the feed %s is not sent to [%s]: there is no memory left", db_keeper_folder(keeper),
               feeds[feed], outlet->name);
    if (bytes)
        db_ready_release(bytes);
}

static void changed(void *context, struct db_keeper *keeper, unsigned which)
{
    const struct site *site = context;
    struct db_publish *publish = site->publish;
    const struct db_estate *estate = db_keeper_estate(keeper);

    (void) which; /* the plan may have changed where they go, too */
    if (!estate || !publish->house->courier)
        return;
    for (size_t i = 0; i < publish->count; i++)
        if (publish->ways[i].keeper == keeper)
            publish->ways[i].meant = false;
    for (size_t i = 0; i < estate->outlets.count; i++) {
        const struct db_outlet *outlet = &estate->outlets.outlets[i];

        if (outlet->way != DB_OUT_FOLDER && outlet->way != DB_OUT_WEBDAV && outlet->way != DB_OUT_S3)
            continue;
        for (int feed = 0; feed < DB_READY_COUNT; feed++)
            if (!outlet->feeds || names(outlet->feeds, feeds[feed]))
                set_lane(publish, keeper, outlet, (enum db_ready_feed) feed);
    }
    drop_unmeant(publish, keeper);
}

static void came(void *context, struct db_keeper *keeper, bool comes)
{
    struct db_publish *publish = context;
    struct site **at = &publish->sites;

    while (*at && (*at)->keeper != keeper)
        at = &(*at)->next;
    if (comes && !*at) {
        struct site *site = malloc(sizeof *site);

        if (site)
            *site = (struct site){ publish, keeper, NULL };
        if (!site || db_keeper_on_change(keeper, changed, site) != DB_OK) {
            free(site);
            db_log(DB_LOG_ERROR, "%s: its feeds are not published: there is no memory left", db_keeper_folder(keeper));
            return;
        }
        *at = site;
        changed(site, keeper, 0);
    } else if (!comes && *at) {
        struct site *site = *at;

        *at = site->next;
        free(site);
        for (size_t i = 0; i < publish->count; i++)
            publish->ways[i].meant = publish->ways[i].meant && publish->ways[i].keeper != keeper;
        drop_unmeant(publish, keeper);
    }
}

struct db_publish *db_publish_new(struct db_house *house)
{
    struct db_publish *publish = calloc(1, sizeof *publish);

    if (!publish)
        return NULL;
    publish->house = house;
    if (db_house_on_keeper(house, came, publish) != DB_OK) {
        free(publish);
        return NULL;
    }
    for (size_t i = 0; i < house->keeper_count; i++)
        came(publish, house->keepers[i], true);
    return publish;
}

struct db_publish *db_publish_free(struct db_publish *publish)
{
    if (publish) {
        while (publish->sites) {
            struct site *next = publish->sites->next;

            free(publish->sites);
            publish->sites = next;
        }
        for (size_t i = 0; i < publish->count; i++)
            (void) db_lane_free(publish->ways[i].lane);
        free(publish->ways);
        free(publish);
    }
    return NULL;
}

bool db_publish_at(const struct db_publish *publish, size_t index, struct db_publish_state *ret)
{
    for (size_t i = 0; i < publish->count; i++) {
        const struct way *way = &publish->ways[i];

        if (!way->keeper || index--)
            continue;
        *ret = (struct db_publish_state){ .keeper = way->keeper,
                                          .outlet = db_lane_outlet(way->lane),
                                          .feed = db_lane_feed(way->lane),
                                          .current = db_lane_current(way->lane),
                                          .at = db_lane_published(way->lane),
                                          .trouble = db_lane_trouble(way->lane) };
        return true;
    }
    return false;
}
