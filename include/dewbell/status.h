/* What a call that can fail answers. */
#ifndef DEWBELL_STATUS_H
#define DEWBELL_STATUS_H

#ifdef __cplusplus
extern "C" {
#endif

enum db_status {
    DB_OK,       /* done; the ret_ arguments are written (only then) */
    DB_RANGE,    /* an argument lies outside what its doc comment allows (NaN always does) */
    DB_FULL,     /* the arena's limit is reached, or the machine is out of memory; nothing was changed */
    DB_MISTAKEN, /* what the gardener wrote has mistakes; they are in the list that was handed in */
    DB_ABSENT,   /* the thing asked for is not there */
    DB_TROUBLE   /* a file, the record or a library failed; the text handed back says which */
};

/* One short English clause, for logs. Never NULL. */
const char *db_status_text(enum db_status status);

#define DB_MUST_USE __attribute__((warn_unused_result))

#ifdef __cplusplus
}
#endif
#endif
