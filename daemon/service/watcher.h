/* Changes of files, by inotify: folders are watched, not files, since editors write beside and rename. Several may watch the
 * same folder. */
#ifndef DB_SERVICE_WATCHER_H
#define DB_SERVICE_WATCHER_H

#include "service/loop.h"

struct db_watcher;
/* NULL: inotify is not to be had, or no memory. */
struct db_watcher *db_watcher_new(struct db_loop *loop);
struct db_watcher *db_watcher_free(struct db_watcher *watcher);

/* What is watched: a folder for files that come, go or are written to the end; the same and writes that go on, too; one file
 * that another program keeps open and adds to. The more is watched, the more wakes us up. */
enum db_watch { DB_WATCH_FOLDER, DB_WATCH_WRITES, DB_WATCH_FILE };

/* name: of the file in the folder; "" for DB_WATCH_FILE, and when the folder itself went, or when so much happened that some of it is unknown.
 * done: false for a write that may still go on. */
typedef void db_folder_changed(void *context, const char *folder, const char *name, bool done);

/* Between these two calls a context says anew what it watches: what it names again goes on without a gap, the rest ends. */
void db_watcher_begin(struct db_watcher *watcher, const void *context);
/* *ret_new (may be NULL): it was not watched for this context before. DB_ABSENT: there is no such folder or file. DB_TROUBLE:
 * the kernel refuses (errno). */
DB_MUST_USE enum db_status db_watcher_add(struct db_watcher *watcher, const char *path, enum db_watch what,
                                          db_folder_changed *changed, void *context, bool *ret_new);
void db_watcher_end(struct db_watcher *watcher, const void *context);

#endif
