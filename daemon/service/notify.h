/* What systemd is told, and the sockets it hands over. Without systemd none of this does anything. */
#ifndef DB_SERVICE_NOTIFY_H
#define DB_SERVICE_NOTIFY_H

#include "service/loop.h"

struct db_notify;

/* Starts the beat of the watchdog where the unit asks for one. NULL: out of memory. */
struct db_notify *db_notify_new(struct db_loop *loop);
struct db_notify *db_notify_free(struct db_notify *notify); /* NULL allowed; returns NULL */
void db_notify_ready(const char *status);                   /* one line of what the service does */
void db_notify_reloading(void);                             /* followed by db_notify_ready() */
void db_notify_stopping(void);

/* Sockets that listen already, in the order of the socket unit; ours to close from now on. At most `room`. */
size_t db_notify_sockets(int *ret, size_t room);

#endif
