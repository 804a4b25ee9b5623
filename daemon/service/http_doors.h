/* Which garden's feeds an address opens, and the answers that stand ready for it. */
#ifndef DB_SERVICE_HTTP_DOORS_H
#define DB_SERVICE_HTTP_DOORS_H

#include "service/keeper.h"

struct MHD_Response;
struct db_doors;

/* One form of a feed: `whole` serves 200 and HEAD, `unchanged` 304. Both have the length of the whole, and of the second no body
 * is ever sent. */
struct db_form {
    struct MHD_Response *whole, *unchanged;
};
/* A feed as it is answered: made anew when the keeper has other bytes. */
struct db_shelf {
    struct db_ready_bytes *ready;
    struct db_form plain, packed; /* packed: NULLs where there is no gzip */
};

enum db_door_state { DB_DOOR_UNKNOWN, DB_DOOR_REVOKED, DB_DOOR_OPEN };
enum { DB_TOKEN_MARK = 5 };

struct db_doors *db_doors_new(struct db_house *house, bool gzip);
struct db_doors *db_doors_free(struct db_doors *doors); /* NULL allowed; returns NULL */
/* Call before a keeper of the house goes. */
void db_doors_forget(struct db_doors *doors);
/* What the token (DB_TOKEN_LENGTH characters) opens; it is looked up by a keyed hash of it, so that neither the time it takes
 * nor its order tells anything. ret_door: for db_doors_shelf(), until the next call. ret_mark: the last four characters of its
 * hash, for logs; "" while it is unknown. Changes that others make in the record count within half a second. */
enum db_door_state db_doors_find(struct db_doors *doors, const char *token, size_t *ret_door,
                                 char ret_mark[DB_TOKEN_MARK]);
/* The feed's answers as of now; NULL while there never was one, or out of memory. Stays the caller's to use until the next
 * call; an answer that was queued lives on by itself. */
const struct db_shelf *db_doors_shelf(struct db_doors *doors, size_t door, enum db_ready_feed feed);

#endif
