/* Passwords and keys: read from a file of their own when they are used, wiped right after. */
#ifndef DB_SERVICE_SECRET_H
#define DB_SERVICE_SECRET_H

#include "dewbell/status.h"

#include <stdint.h>

enum { DB_SECRET_ROOM = 1024 }; /* bytes, with the closing NUL */

/* The first line of the file, without its end. A bare name (no "/") is looked up in the folder that the service manager
 * names in $CREDENTIALS_DIRECTORY, then in `folder` (beside the plan; "" for the current one); a path is taken as it is.
 * Outside $CREDENTIALS_DIRECTORY a file that others than its owner may read or write is refused. Wipe what you got with
 * db_secret_wipe(). DB_TROUBLE: trouble says why, naming the file and nothing of what it holds; secret is "". */
DB_MUST_USE enum db_status db_secret_read(const char *secret_file, const char *folder, char secret[DB_SECRET_ROOM],
                                          char trouble[256]);
void db_secret_wipe(char secret[DB_SECRET_ROOM]);
/* A number that is another one when another file stands there, or it was written anew. 0: there is none. */
int64_t db_secret_stamp(const char *secret_file, const char *folder);

#endif
