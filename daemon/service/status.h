/* The desk that answers "how are you?": a unix socket in a garden's state folder, readable by its owner only. Whoever connects is sent
 * one JSON document (service/report.h) and the connection ends. */
#ifndef DB_SERVICE_STATUS_H
#define DB_SERVICE_STATUS_H

#include "service/keeper.h"

/* Its name in the state folder. */
#define DB_DESK_NAME "status.sock"

struct sockaddr_un;
struct db_desk;

/* Opens a socket in the state folder of each keeper that is there or comes later; one that a killed service left is replaced
 * (the keeper knows that no other service is there). A socket that cannot be made is a line in the log. Make it before the
 * keepers. NULL: out of memory. */
struct db_desk *db_desk_new(struct db_house *house);
/* Closes and removes the sockets. To be called between db_house_close(), which still tells it of keepers that go, and the end
 * of the loop. NULL allowed; returns NULL. */
struct db_desk *db_desk_free(struct db_desk *desk);

/* Connects to the socket in `state`; a descriptor to read the document from, or -1 with errno. */
int db_desk_connect(const char *state);
/* The address of the socket in a folder. A path that is too long for an address is reached through the folder's
 * descriptor, which the caller closes (-1: none was needed). False with errno. */
bool db_desk_address(const char *state, struct sockaddr_un *ret, int *ret_folder);

#endif
