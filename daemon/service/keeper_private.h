/* What the files of a keeper share. */
#ifndef DB_SERVICE_KEEPER_PRIVATE_H
#define DB_SERVICE_KEEPER_PRIVATE_H

#include "read/zone.h"
#include "service/feed_store.h"
#include "service/keeper.h"
#include "service/watcher.h"

struct db_keeper {
    struct db_house *house;
    char *file, *folder, *state; /* absolute; of garden.ini, its folder, its record's folder */
    int lock;                    /* held while we look after it */
    struct db_record *record;
    int64_t version; /* of the record when we last looked */

    struct db_arena *files; /* what `estate` lives in */
    struct db_estate estate;
    bool good;                 /* there is an estate in force */
    struct db_arena *mistaken; /* what `mistakes` lives in, where it is not `files` */
    struct db_mistakes *mistakes;
    struct db_arena *nothing; /* what `no_mistakes` lives in */
    struct db_mistakes *no_mistakes;
    const struct db_zone *zone;

    struct db_arena *work; /* what `jobs` lives in */
    const struct db_jobs *jobs;
    struct db_date today; /* of the last evaluation */
    int64_t evaluated;    /* unix seconds */

    struct db_ready_bytes *ready[DB_READY_COUNT];
    char **names;        /* of the files read, without their folders; NULL-terminated */
    size_t advice;       /* how much the log last said there is */
    bool waiting;        /* another program was writing: try again soon */
    int waits, failures; /* in a row: of that; of putting feeds into the record */
    char trouble[256];   /* why the feeds are not kept; "" */
    bool put_by,
        told_put_by; /* the files in force are in the state folder as the last good ones; that they are not was told */
    struct db_timer *settle;   /* files changed: read them when they have come to rest */
    int64_t restless;          /* steady time of the first change that is not read yet; -1: none */
    struct db_timer *soon;     /* evaluate */
    struct db_timer *midnight; /* the next day begins */
    struct db_timer *again;    /* the feeds' lock may be free by now */
    struct {
        db_feeds_changed *changed;
        void *context;
    } * listeners;
    size_t listener_count;
};

/* ---- keeper.c ---- */
/* Reads the files when they have been quiet for a moment. */
void db_keeper_touch(struct db_keeper *keeper);
/* Works out the jobs of an estate and makes the feeds. Takes over `files`, in which the estate lives, where it differs from
 * the keeper's and the status is DB_OK. DB_ABSENT: somebody else is writing the feeds; try again soon. DB_MISTAKEN: the
 * weather does not do; see the list. */
DB_MUST_USE enum db_status db_keeper_evaluate(struct db_keeper *keeper, struct db_arena *files,
                                              const struct db_estate *estate, struct db_mistakes *mistakes);
/* Makes the feeds of a garden that was never read, today and each day until it is. Answers as for db_feeds_changed. */
unsigned db_keeper_tell_unread(struct db_keeper *keeper);
/* Tells those who listen. */
void db_keeper_tell(struct db_keeper *keeper, unsigned which);

/* After a jump of the clock. */
void db_keeper_look_at_day(struct db_keeper *keeper);

/* ---- house.c ---- */
/* Makes what the keepers share, once. */
DB_MUST_USE enum db_status db_house_furnish(struct db_house *house);
DB_MUST_USE enum db_status db_house_enter(struct db_house *house, struct db_keeper *keeper);
void db_house_leave(struct db_house *house, struct db_keeper *keeper);
/* What all keepers' files are watched by. */
struct db_watcher *db_house_watcher(struct db_house *house);

/* ---- keeper_files.c ---- */
/* Reads the files; what is good is taken into force, what is not is told. */
void db_keeper_read(struct db_keeper *keeper);
void db_keeper_forget_names(struct db_keeper *keeper);

/* ---- keeper_good.c ---- */
/* Copies the files in force into the state folder, whole or not at all, where they are not there yet. */
void db_keeper_store_good(struct db_keeper *keeper);
/* Reads the copies. DB_ABSENT: there are none. */
DB_MUST_USE enum db_status db_keeper_read_good(const struct db_keeper *keeper, struct db_arena *files,
                                               struct db_mistakes *mistakes, struct db_estate *ret);

/* ---- keeper_feeds.c ---- */
/* What was served last, from the record. */
void db_keeper_load_feeds(struct db_keeper *keeper);
/* What was made and stands in the record, but is not served yet; a feed without bytes is served as it is. */
struct db_made_feeds {
    struct db_feed_result feeds[DB_READY_COUNT];
    int64_t now;
};
/* Makes the feeds of the jobs anew and puts them into the record, within the caller's pair of db_record_begin() and
 * db_record_end(); the feeds' lock must be held. On failure *ret_doing says at what. Either way db_keeper_drop() what was
 * made. */
DB_MUST_USE enum db_status db_keeper_make_feeds(struct db_keeper *keeper, const struct db_jobs *jobs,
                                                const struct db_mistakes *mistakes, struct db_made_feeds *made,
                                                const char **ret_doing);
/* The same with feeds that hold nothing but what is wrong, for a garden that has never been read; those of before stay where
 * there are any. */
DB_MUST_USE enum db_status db_keeper_make_unread(struct db_keeper *keeper, struct db_made_feeds *made,
                                                 const char **ret_doing);
/* From now on readers get them. Answers as for db_feeds_changed. */
unsigned db_keeper_serve(struct db_keeper *keeper, struct db_made_feeds *made);
void db_keeper_drop(struct db_made_feeds *made);

#endif
