/* Many gardens: a folder in which each sub-folder with a garden.ini is one. They come and go while the service runs. */
#ifndef DB_SERVICE_GARDENS_H
#define DB_SERVICE_GARDENS_H

#include "service/keeper.h"

struct db_gardens;

/* Looks after each garden of `folder` and watches for others. state: where each has a folder of its own name; NULL: .dewbell in
 * each garden. A garden whose record cannot be opened is told in the log and tried again when something changes; the others do
 * not mind. DB_TROUBLE: the folder cannot be read (trouble says why). */
DB_MUST_USE enum db_status db_gardens_new(struct db_house *house, const char *folder, const char *state,
                                          struct db_gardens **ret, char trouble[256]);
/* Before db_house_close(). NULL allowed; returns NULL. */
struct db_gardens *db_gardens_free(struct db_gardens *gardens);
/* Looks for gardens that came or went. */
void db_gardens_look(struct db_gardens *gardens);

#endif
