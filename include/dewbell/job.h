/* evaluate: the one door. Plan, rules, weather, diary and a day go in; jobs come out. Pure: no clock, no I/O; the same
 * inputs give the same jobs. */
#ifndef DEWBELL_JOB_H
#define DEWBELL_JOB_H

#include "dewbell/diary.h"
#include "dewbell/position.h"
#include "dewbell/rule.h"
#include "dewbell/weather.h"

#ifdef __cplusplus
extern "C" {
#endif

/* All that a day's jobs depend on; nothing here is written through. */
struct db_view {
    const struct db_garden *garden;
    const struct db_rules *rules;
    const struct db_weather *weather;     /* filled: no unknown low or high */
    const struct db_diary *diary;         /* NULL: no notes */
    struct db_date today;                 /* in the garden's zone */
    const struct db_positions *published; /* where the jobs stood when last published; NULL: nowhere yet */
};

/* How a stage's date is known. An estimate beyond the known weather is pooled from the past years, where the weather has
 * some (db_weather_futures() - 1): docs/models.md, "Past years". */
enum db_knowing { DB_UNKNOWN, DB_ESTIMATED, DB_PLANNED, DB_NOTED };

struct db_turn {
    struct db_date early, likely, late; /* equal when noted or planned; no date when unknown or not part of this life */
    enum db_knowing how;
};

/* The stages of one sowing, noted or worked out. */
struct db_life {
    struct db_turn stage[DB_STAGE_COUNT];
    struct db_turn ripe;     /* cropping, if raw manure in its bed did not hold the harvest back; else the same */
    struct db_date planned;  /* `sow`, after any hold for shortening days; no date if the plan names none */
    struct db_date solstice; /* the summer solstice that decides for a crop held back for shortening days */
    struct db_date frost;    /* tender plants are not set out before it: frosts are over by then in nine years of ten */
    bool held;               /* sowing is not done yet and was put off to it */
    unsigned char pooled;    /* bits 1 << enum db_stage: estimates made once for each past year of the weather */
};

enum db_job_state {
    DB_JOB_OPEN,
    DB_JOB_DONE,  /* a note says so: `done` is its date */
    DB_JOB_MISSED /* its window is over and no note says that it was done */
};

struct db_job {
    size_t rule, sowing;              /* indices in the view's rules and garden */
    unsigned occurrence;              /* 0 for a job that comes once */
    struct db_date first, best, last; /* window and best day, first <= best <= last */
    /* The day on which it is to be done. Without [days] in the plan it is the best day; with it, an open job stands on a day
     * on which the gardener has time (first <= on <= last, never before today), unless it cannot wait. */
    struct db_date on;
    struct db_date done;
    /* Best day as worked out today. It differs from `best` where the job is kept at its published place although the
     * weather has shifted; no date: the weather no longer asks for the job, which stays until that has settled. */
    struct db_date worked;
    const struct db_position *published; /* of view->published; NULL: never published */
    enum db_job_state state;
    bool placed;           /* `on` was chosen among the gardener's days, or kept there */
    bool there;            /* in the bed where the sowing is planted, no longer where it was sown */
    unsigned char urgency; /* 1 cannot wait, 5 ordinary, 9 when there is time (RFC 5545 priority) */
    float minutes;         /* effort; 0: not said */
};

struct db_jobs;

/* Works out the jobs whose window touches today - 60 .. today + 400 days. Everything comes from `into`. On failure
 * *ret_jobs is untouched. */
DB_MUST_USE enum db_status db_garden_evaluate(const struct db_view *view, struct db_arena *into,
                                              const struct db_jobs **ret_jobs);

/* In order of day (`on`), then rule name, sowing id, occurrence. */
size_t db_jobs_count(const struct db_jobs *jobs);
const struct db_job *db_jobs_at(const struct db_jobs *jobs, size_t index);
/* First job whose day (`on`) is `from` or later; db_jobs_count() if none. */
size_t db_jobs_from(const struct db_jobs *jobs, struct db_date from);
/* The view that the jobs were worked out from. */
const struct db_view *db_jobs_view(const struct db_jobs *jobs);
const struct db_life *db_jobs_life(const struct db_jobs *jobs, size_t sowing);

/* "thin-the-row/carrot-1", "look-daily/lettuce-2/3": the name a gardener types. Always NUL-terminated; returns the
 * length it would take. */
size_t db_job_name(const struct db_jobs *jobs, const struct db_job *job, char *buffer, size_t size);
/* By that name; NULL if there is none. */
const struct db_job *db_jobs_find(const struct db_jobs *jobs, const char *name);

/* The texts of a job, rendered when asked: templates filled in with this job's sowing. NUL-terminated in `into`; NULL
 * when it is full. how and caution are "" where the rule gives none. */
const char *db_job_summary(const struct db_jobs *jobs, const struct db_job *job, struct db_arena *into);
const char *db_job_how(const struct db_jobs *jobs, const struct db_job *job, struct db_arena *into);
const char *db_job_caution(const struct db_jobs *jobs, const struct db_job *job, struct db_arena *into);

/* Jobs of one bed whose rounds read the same are done in one go, and may be told in one line: the round, then an item for
 * each ("Water in the east bed": "leeks, 99 litres"). "" where the rule has no round; NULL when `into` is full. */
const char *db_job_round(const struct db_jobs *jobs, const struct db_job *job, struct db_arena *into);
const char *db_job_item(const struct db_jobs *jobs, const struct db_job *job, struct db_arena *into);

/* Why the job exists and why on that day: lines of English, each with the stage dates or weather figures that decided
 * and where each figure came from. */
struct db_reason {
    const char *text;      /* "Seedlings were noted up on 2 June." */
    enum db_origin origin; /* of the weather figures in it; DB_ORIGIN_NONE: no weather in it */
};
/* Writes at most `room` reasons; *ret_count is how many there are. DB_FULL when `into` is. */
DB_MUST_USE enum db_status db_job_why(const struct db_jobs *jobs, const struct db_job *job, struct db_arena *into,
                                      struct db_reason *ret, size_t room, size_t *ret_count);

/* One sentence where the weather has shifted since the job was published and the job stays where it was; "" elsewhere. It
 * is for whoever asks why; no calendar prints it. NULL when `into` is full. */
const char *db_job_held(const struct db_jobs *jobs, const struct db_job *job, struct db_arena *into);

/* Why an open job stands on the day that it does by the gardener's days, as sentences; "" where they do not say. NULL when
 * `into` is full. */
const char *db_job_days(const struct db_jobs *jobs, const struct db_job *job, struct db_arena *into);

/* A day by the gardener's days. */
struct db_day {
    int32_t has;                /* minutes for the garden; DB_MINUTES_ANY: not counted */
    int32_t takes;              /* minutes of its jobs, those that were done on it included */
    const struct db_away *away; /* NULL: at home */
};
struct db_day db_jobs_day(const struct db_jobs *jobs, struct db_date date);
/* Whether an open job has a later day on which the gardener is at home and has time. */
bool db_job_can_wait(const struct db_jobs *jobs, const struct db_job *job);
/* Open jobs of a day that has too much, to be put off or dropped so that the rest fits its time: those that can wait first, of these
 * what matters least, until it is enough. What cannot wait is never among them, so that they may be too few. None where the
 * day has time enough. DB_FULL when `into` is. */
DB_MUST_USE enum db_status db_jobs_spare(const struct db_jobs *jobs, struct db_date date, struct db_arena *into,
                                         const struct db_job *const **ret, size_t *ret_count);

/* What has to be put on record once these jobs are published: positions that are new or differ from view->published,
 * those of jobs that are gone included. The rows live in `into`, their texts in the view. DB_FULL when it is full. */
DB_MUST_USE enum db_status db_jobs_moves(const struct db_jobs *jobs, struct db_arena *into, struct db_positions *ret);

/* 128 bits over everything that a calendar event of this job prints, but for the weather figures in its reasons (those
 * stay as they were when the job last really changed). Equal meaning: nothing to publish anew. */
void db_job_meaning(const struct db_jobs *jobs, const struct db_job *job, unsigned char ret_hash[16]);
/* 128 bits over what the job is: garden key, rule, sowing, occurrence; never a date. */
void db_job_identity(const struct db_jobs *jobs, const struct db_job *job, unsigned char ret_hash[16]);

#ifdef __cplusplus
}
#endif
#endif
