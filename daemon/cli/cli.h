/* What the commands share. */
#ifndef DB_CLI_CLI_H
#define DB_CLI_CLI_H

#include "dewbell/job.h"
#include "read/read.h"
#include "record/record.h"

#include <stdio.h>

/* Exit statuses, as the manual promises them. */
enum db_exit {
    DB_EXIT_FINE = 0,
    DB_EXIT_ABSENT = 1,   /* what was asked for is not there, or the note was refused; nothing was written */
    DB_EXIT_MISTAKES = 2, /* the gardener's files have mistakes; nothing was written */
    DB_EXIT_TROUBLE = 3,  /* a file, the record or memory failed */
    DB_EXIT_USAGE = 64    /* the command line is wrong */
};

struct db_options {
    const char *garden, *state, *rules, *out, *text; /* NULL: not given */
    const char *date;
    const char *base, *try, *source;
    bool json, all, brief, full, fresh;
};

/* One run: what was read and what was worked out from it. */
struct db_session {
    struct db_options options;
    struct db_date today;
    struct db_arena *files, *work; /* what was read; what was worked out */
    struct db_mistakes *mistakes;
    struct db_estate estate;
    char *state; /* folder of the record, malloc'd */
    struct db_record *record;
    struct db_diary *diary;
    struct db_weather *weather;
    const struct db_jobs *jobs;
};

/* Each step says on standard error what went wrong and returns an exit status; DB_EXIT_FINE goes on. */
int db_session_read(struct db_session *session);              /* plan, rules, crops; settles today */
int db_session_record(struct db_session *session, bool make); /* diary; make: also where there is no record yet */
/* The record alone: also while the plan is full of mistakes. */
int db_session_open(struct db_session *session, bool make);
/* Where the state of the garden lies, without reading its plan; for free(), NULL when out of memory. */
char *db_session_state(const struct db_session *session);
int db_session_weather(struct db_session *session);
int db_session_jobs(struct db_session *session); /* all of the above, then evaluates */
void db_session_close(struct db_session *session);
/* Reads the diary again and evaluates again: after a note. */
int db_session_again(struct db_session *session);
/* Where shipped crops, rules and sources are; buffer: PATH_MAX bytes that it may use. */
const char *db_session_shipped(const struct db_session *session, char *buffer);
/* Unix seconds now; on another day (--date) the same hour of that day, in the garden's zone. */
int64_t db_session_now(const struct db_session *session);
/* Index of a sowing by name, or SIZE_MAX after saying what was perhaps meant. */
size_t db_session_sowing(const struct db_session *session, const char *id);
/* A text in `folder`/`name` for free(); NULL when out of memory. */
char *db_session_path(const char *folder, const char *name);

/* Unix seconds; SOURCE_DATE_EPOCH stands in for the clock where it is set. */
int64_t db_clock_now(void);
/* The civil day at `now` in an IANA zone. */
struct db_date db_clock_day(int64_t now, const char *zone);
/* "7:05 on 14 June", with the year where it is not this year's, in an IANA zone. */
const char *db_clock_words(int64_t at, const char *zone, char buffer[48]);

/* "file:line:column: what; instead", the line and a mark under the words. */
void db_show_mistakes(FILE *to, const struct db_mistakes *mistakes);
/* "Friday 14 June 2013" and "14 June" (with the year where it is not today's). */
const char *db_show_day(struct db_date date, char buffer[48]);
const char *db_show_short(struct db_date date, struct db_date today, char buffer[48]);
/* Writes text indented by `indent`, wrapped at 78 columns (code points). */
void db_show_wrapped(FILE *to, const char *text, int indent);
/* Terminal emphasis: the sequence, or "" where the stream is not a terminal, NO_COLOR is set or the terminal is dumb. */
const char *db_show_bold(FILE *to);
const char *db_show_plain(FILE *to);

int db_cmd_today(struct db_session *session, int count, char **words);
int db_cmd_jobs(struct db_session *session, int count, char **words);
int db_cmd_why(struct db_session *session, int count, char **words);
int db_cmd_beds(struct db_session *session, int count, char **words);
int db_cmd_feed(struct db_session *session, int count, char **words);
int db_cmd_check(struct db_session *session, int count, char **words);
int db_cmd_note(struct db_session *session, int count, char **words);
int db_cmd_strike(struct db_session *session, int count, char **words);
int db_cmd_notes(struct db_session *session, int count, char **words);
int db_cmd_crop(struct db_session *session, int count, char **words);
int db_cmd_weather(struct db_session *session, int count, char **words);
int db_cmd_status(struct db_session *session, int count, char **words);
int db_cmd_token(struct db_session *session, int count, char **words);
int db_cmd_key(struct db_session *session, int count, char **words);

#endif
