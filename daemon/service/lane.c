/* One feed on its way to one outlet. A WebDAV server is asked to take it only over what we left there (If-Match), or over
 * nothing at all; when it says that something else is there, we look whether that is an older copy of ours. */
#include "service/lane.h"

#include "service/lane_reply.h"
#include "service/log.h"
#include "service/secret.h"
#include "write/write.h"

#include <openssl/evp.h>

#include <errno.h>
#include <sys/random.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

enum {
    SOON = 30 * 1000,         /* ms until the first new try; doubled for each further one */
    AN_HOUR = 60 * 60 * 1000, /* the longest of those */
    REFUSED = 6 * AN_HOUR,    /* after a plain no: somebody has to do something about it */
    LONGEST = 24 * 60 * 60,   /* s; what a server may put us off */
    THERE = 2 * 1024 * 1024   /* bytes of what is found at our address */
};

/* Bytes to carry. */
struct parcel {
    char *data; /* NULL: none */
    size_t length;
    unsigned char hash[16];
};

struct place {
    enum db_way_out way;
    char *url, *login, *secret_file, *folder, *region, *ca_file; /* url: of the file; NULL: none */
    int64_t secret_stamp;
};

struct db_lane {
    struct db_lane_home home;
    char *outlet, *feed;
    struct place place;
    unsigned char address[16]; /* hash of where it goes */
    struct parcel wanted, going;
    struct db_published known;
    struct db_timer *timer;
    bool is_known; /* `known` tells what is at that address */
    bool is_set, under_way, dropped;
    bool moved;                                            /* where to was changed while a request was under way */
    bool refused;                                          /* the last try met a plain no */
    bool looked;                                           /* this time we already looked what is there */
    bool unguarded;                                        /* it is ours, and the server gives no ETag to hold it by */
    char etag[sizeof((struct db_published *) NULL)->etag]; /* what must be there; "": nothing must be */
    unsigned tries;
    char trouble[256];
};

static void go(struct db_lane *lane);

static void free_place(struct place *place)
{
    free(place->url);
    free(place->login);
    free(place->secret_file);
    free(place->folder);
    free(place->region);
    free(place->ca_file);
    memset(place, 0, sizeof *place);
}

static void free_parcel(struct parcel *parcel)
{
    free(parcel->data);
    memset(parcel, 0, sizeof *parcel);
}

struct db_lane *db_lane_free(struct db_lane *lane)
{
    if (lane) {
        free_place(&lane->place);
        free_parcel(&lane->wanted);
        free_parcel(&lane->going);
        (void) db_timer_free(lane->timer);
        free(lane->outlet);
        free(lane->feed);
        free(lane);
    }
    return NULL;
}

static bool hash(const void *data, size_t length, unsigned char ret[16])
{
    unsigned char whole[EVP_MAX_MD_SIZE];
    unsigned int size = 0;

    if (!EVP_Digest(data, length, whole, &size, EVP_sha256(), NULL) || size < 16)
        return false;
    memcpy(ret, whole, 16);
    return true;
}

/* A folder is looked into each time: it costs nothing. */
static bool is_there(const struct db_lane *lane, const struct parcel *parcel)
{
    return lane->place.way != DB_OUT_FOLDER && lane->is_known &&
           memcmp(lane->known.hash, parcel->hash, sizeof parcel->hash) == 0;
}

static void due(void *context)
{
    go(context);
}

struct db_lane *db_lane_new(const struct db_lane_home *home, const char *outlet, const char *feed)
{
    struct db_lane *lane = calloc(1, sizeof *lane);

    if (!lane)
        return NULL;
    lane->home = *home;
    lane->outlet = strdup(outlet);
    lane->feed = strdup(feed);
    lane->timer = db_timer_new(home->loop, "publish a feed again", due, lane);
    if (lane->outlet && lane->feed && lane->timer)
        return lane;
    return db_lane_free(lane);
}

void db_lane_drop(struct db_lane *lane)
{
    lane->dropped = true;
    db_timer_stop(lane->timer);
}

bool db_lane_busy(const struct db_lane *lane)
{
    return lane->under_way;
}

bool db_lane_is(const struct db_lane *lane, const char *outlet, const char *feed)
{
    return strcmp(lane->outlet, outlet) == 0 && strcmp(lane->feed, feed) == 0;
}

const char *db_lane_outlet(const struct db_lane *lane)
{
    return lane->outlet;
}

const char *db_lane_feed(const struct db_lane *lane)
{
    return lane->feed;
}

bool db_lane_current(const struct db_lane *lane)
{
    return lane->is_set && !lane->wanted.data && !lane->under_way;
}

int64_t db_lane_published(const struct db_lane *lane)
{
    return lane->is_known ? lane->known.at : 0;
}

const char *db_lane_trouble(const struct db_lane *lane)
{
    return lane->trouble;
}

/* Half to one and a half of `ms`: a server that came back is not met by everybody at once. */
static int64_t with_jitter(int64_t ms)
{
    uint32_t draw = 0;

    if (getrandom(&draw, sizeof draw, GRND_NONBLOCK) != (ssize_t) sizeof draw)
        draw = UINT32_MAX / 2;
    return ms / 2 + (int64_t) ((double) ms * (double) draw / (double) UINT32_MAX);
}

/* Newer bytes may have come meanwhile: those it is then. */
static void put_back(struct db_lane *lane)
{
    lane->under_way = false;
    if (!lane->wanted.data) {
        lane->wanted = lane->going;
        memset(&lane->going, 0, sizeof lane->going);
    }
    free_parcel(&lane->going);
}

static void fail(struct db_lane *lane, bool refused, int64_t put_off, const char *trouble)
{
    const int64_t back_off = lane->tries < 7 ? (int64_t) SOON << lane->tries : AN_HOUR;
    int64_t wait = with_jitter(refused ? REFUSED : back_off < AN_HOUR ? back_off : AN_HOUR);

    if (put_off > LONGEST)
        put_off = LONGEST;
    if (put_off * 1000 > wait)
        wait = put_off * 1000;
    lane->tries++;
    lane->refused = refused;
    put_back(lane);
    db_timer_after(lane->timer, wait);
    if (strcmp(lane->trouble, trouble) != 0) /* once is enough */
        db_log(DB_LOG_WARNING, "%s: the feed %s did not get to [%s]: %s; next try in %lld min", lane->home.garden,
               lane->feed, lane->outlet, trouble, (long long) (wait + 59999) / 60000);
    (void) snprintf(lane->trouble, sizeof lane->trouble, "%s", trouble);
}

static void succeed(struct db_lane *lane, const char *etag)
{
    struct db_published row = { .at = db_loop_wall(lane->home.loop) / 1000 };

    memcpy(row.address, lane->address, sizeof row.address);
    memcpy(row.hash, lane->going.hash, sizeof row.hash);
    if (db_etag_guards(etag) && strlen(etag) < sizeof row.etag)
        memcpy(row.etag, etag, strlen(etag) + 1);
    if (!lane->is_known || lane->trouble[0])
        db_log(DB_LOG_INFO, "%s: the feed %s is at [%s]%s", lane->home.garden, lane->feed, lane->outlet,
               lane->trouble[0] ? " again" : "");
    lane->known = row;
    lane->is_known = true;
    lane->tries = 0;
    lane->refused = false;
    lane->trouble[0] = '\0';
    lane->under_way = false;
    db_timer_stop(lane->timer);
    free_parcel(&lane->going);
    /* Should this fail, a start sends it once more. */
    if (db_record_put_published(lane->home.record, lane->outlet, lane->feed, &row) != DB_OK)
        db_log(DB_LOG_WARNING, "%s: that the feed %s got to [%s] was not remembered: %s", lane->home.garden, lane->feed,
               lane->outlet, db_record_trouble(lane->home.record));
    if (lane->wanted.data && is_there(lane, &lane->wanted))
        free_parcel(&lane->wanted);
    if (lane->wanted.data)
        go(lane);
}

/* The one way to ask something of the server. */
static void ask(struct db_lane *lane, const struct db_errand *wish, db_returned *returned)
{
    struct db_errand errand = *wish;
    char secret[DB_SECRET_ROOM] = "", why[256] = "", sigv4[100] = "";
    enum db_status status = DB_OK;

    if (lane->place.secret_file)
        status = db_secret_read(lane->place.secret_file, lane->place.folder, secret, why);
    if (status == DB_OK) {
        errand.url = lane->place.url;
        errand.redirects = -1;
        errand.ca_file = lane->place.ca_file;
        if (lane->place.secret_file) {
            errand.user = lane->place.login;
            errand.password = secret;
        }
        if (lane->place.way == DB_OUT_S3) {
            (void) snprintf(sigv4, sizeof sigv4, "aws:amz:%s:s3", lane->place.region);
            errand.sigv4 = sigv4;
        }
        status = db_courier_send(lane->home.courier, &errand, returned, lane, why);
    }
    db_secret_wipe(secret);
    if (status == DB_OK)
        lane->under_way = true;
    else
        fail(lane, status != DB_FULL, 0, why);
}

/* Whether the lane still wants the answer. */
static bool still_wanted(struct db_lane *lane)
{
    lane->under_way = false;
    if (lane->dropped || !lane->moved)
        return !lane->dropped;
    lane->moved = false;
    go(lane);
    return false;
}

static void put(struct db_lane *lane);

/* The server did not say which ETag it gave to what we put there. */
static void on_head(void *context, const struct db_reply *reply)
{
    struct db_lane *lane = context;

    if (still_wanted(lane))
        succeed(lane, reply->arrived && reply->status == 200 ? reply->etag : "");
}

static void on_look(void *context, const struct db_reply *reply)
{
    struct db_lane *lane = context;
    char trouble[256];

    if (!still_wanted(lane))
        return;
    if (reply->arrived && reply->status == 200) {
        if (reply->length == lane->going.length && memcmp(reply->body, lane->going.data, reply->length) == 0) {
            succeed(lane, reply->etag); /* it got there, and only the answer did not come back */
            return;
        }
        if (!db_calendar_ours(reply->body, reply->length, lane->going.data, lane->going.length)) {
            fail(lane, true, 0,
                 "something else stands at that address, which we leave alone; move it, or name another");
            return;
        }
        lane->unguarded = !db_etag_guards(reply->etag);
        (void) snprintf(lane->etag, sizeof lane->etag, "%s", lane->unguarded ? "" : reply->etag);
        put(lane);
    } else if (reply->arrived && (reply->status == 404 || reply->status == 410)) {
        lane->unguarded = false;
        lane->etag[0] = '\0';
        put(lane);
    } else {
        const enum db_verdict verdict = db_reply_verdict(reply, lane->place.way, trouble);

        fail(lane, verdict != DB_VERDICT_LATER, reply->retry_after, *trouble ? trouble : "nothing can be read there");
    }
}

static void on_put(void *context, const struct db_reply *reply)
{
    struct db_lane *lane = context;
    char trouble[256];

    if (!still_wanted(lane))
        return;
    switch (db_reply_verdict(reply, lane->place.way, trouble)) {
    case DB_VERDICT_TAKEN:
        if (lane->place.way == DB_OUT_WEBDAV && !reply->etag[0])
            ask(lane, &(struct db_errand){ .method = "HEAD" }, on_head);
        else
            succeed(lane, reply->etag);
        return;
    case DB_VERDICT_CHANGED:
        if (lane->looked) {
            fail(lane, false, 0, "another program keeps changing what stands at that address");
            return;
        }
        lane->looked = true;
        ask(lane, &(struct db_errand){ .most_bytes = THERE }, on_look);
        return;
    case DB_VERDICT_LATER:
        fail(lane, false, reply->retry_after, trouble);
        return;
    case DB_VERDICT_REFUSED:
        fail(lane, true, reply->retry_after, trouble);
    }
}

static void put(struct db_lane *lane)
{
    char condition[sizeof lane->etag + 32] = "If-None-Match: *";
    const char *headers[] = { "Content-Type: text/calendar; charset=utf-8", condition, NULL };

    if (lane->place.way == DB_OUT_S3)
        (void) snprintf(condition, sizeof condition, "Cache-Control: private, max-age=900");
    else if (lane->etag[0])
        (void) snprintf(condition, sizeof condition, "If-Match: %s", lane->etag);
    else if (lane->unguarded)
        headers[1] = NULL;
    ask(lane,
        &(struct db_errand){ .method = "PUT",
                             .headers = headers,
                             .body = lane->going.data,
                             .body_length = lane->going.length,
                             .most_bytes = 256 * 1024 },
        on_put);
}

static void put_into_folder(struct db_lane *lane)
{
    char trouble[256];
    bool changed;

    if (db_file_swap(lane->place.url, lane->going.data, lane->going.length, &changed) == DB_OK) {
        succeed(lane, "");
        return;
    }
    (void) snprintf(trouble, sizeof trouble, "%.150s cannot be written: %s", lane->place.url, strerror(errno));
    fail(lane, false, 0, trouble);
}

/* Sends what is wanted, from the beginning. */
static void go(struct db_lane *lane)
{
    if (lane->under_way || !lane->wanted.data)
        return;
    free_parcel(&lane->going);
    lane->going = lane->wanted;
    memset(&lane->wanted, 0, sizeof lane->wanted);
    if (lane->place.way == DB_OUT_FOLDER) {
        put_into_folder(lane);
        return;
    }
    lane->looked = false;
    lane->unguarded = lane->is_known && !lane->known.etag[0];
    (void) snprintf(lane->etag, sizeof lane->etag, "%s", lane->is_known ? lane->known.etag : "");
    put(lane);
}

static bool copy_text(char **to, const char *text)
{
    *to = text ? strdup(text) : NULL;
    return *to || !text;
}

static bool make_place(struct place *place, const struct db_outlet *outlet, const char *folder, const char *file)
{
    const size_t length = outlet->url ? strlen(outlet->url) : 0;

    memset(place, 0, sizeof *place);
    place->way = outlet->way;
    place->secret_stamp = outlet->secret_file ? db_secret_stamp(outlet->secret_file, folder) : 0;
    if (length && asprintf(&place->url, "%s%s%s", outlet->url, outlet->url[length - 1] == '/' ? "" : "/", file) < 0)
        place->url = NULL; /* asprintf leaves it open */
    return place->url && copy_text(&place->login, outlet->login) && copy_text(&place->folder, folder) &&
           copy_text(&place->secret_file, outlet->secret_file) && copy_text(&place->region, outlet->region) &&
           copy_text(&place->ca_file, outlet->ca_file);
}

static bool same_text(const char *a, const char *b)
{
    return a && b ? strcmp(a, b) == 0 : a == b;
}

static bool same_place(const struct place *a, const struct place *b)
{
    return a->way == b->way && a->secret_stamp == b->secret_stamp && same_text(a->url, b->url) &&
           same_text(a->login, b->login) && same_text(a->secret_file, b->secret_file) &&
           same_text(a->folder, b->folder) && same_text(a->region, b->region) && same_text(a->ca_file, b->ca_file);
}

/* What the record knows of this address. */
static void remember(struct db_lane *lane)
{
    const enum db_status status = db_record_published(lane->home.record, lane->outlet, lane->feed, &lane->known);

    lane->is_known = status == DB_OK && memcmp(lane->known.address, lane->address, sizeof lane->address) == 0;
    if (status != DB_OK && status != DB_ABSENT)
        db_log(DB_LOG_WARNING, "%s: what is at [%s] is not known: %s", lane->home.garden, lane->outlet,
               db_record_trouble(lane->home.record));
}

enum db_status db_lane_set(struct db_lane *lane, const struct db_outlet *outlet, const char *folder, const char *file,
                           const char *data, size_t length)
{
    struct place place;
    struct parcel parcel = { malloc(length + 1), length, { 0 } };

    if (!make_place(&place, outlet, folder, file) || !parcel.data || !hash(data, length, parcel.hash)) {
        free_place(&place);
        free_parcel(&parcel);
        return DB_FULL;
    }
    if (length)
        memcpy(parcel.data, data, length);
    const bool moved = !lane->is_set || !same_place(&lane->place, &place);
    free_place(&lane->place);
    lane->place = place;
    lane->is_set = true;
    if (moved) {
        (void) hash(place.url, strlen(place.url), lane->address);
        remember(lane);
        lane->tries = 0;
        lane->trouble[0] = '\0';
        lane->moved = lane->under_way;
    }
    const bool newer = !lane->wanted.data || memcmp(lane->wanted.hash, parcel.hash, sizeof parcel.hash) != 0;
    free_parcel(&lane->wanted);
    if (!lane->under_way && is_there(lane, &parcel)) {
        free_parcel(&parcel);
        db_timer_stop(lane->timer);
        lane->trouble[0] = '\0';
    } else if (lane->under_way && !lane->moved && memcmp(lane->going.hash, parcel.hash, sizeof parcel.hash) == 0) {
        free_parcel(&parcel);
    } else {
        lane->wanted = parcel;
        /* While we wait for a server to come back, newer bytes wait with the rest. */
        if (moved || (lane->refused && newer) || !lane->trouble[0])
            go(lane);
    }
    return DB_OK;
}
