/* The house: the keepers and what they share. */
#include "service/keeper_private.h"

#include "service/log.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

struct db_house_rest {
    struct db_watcher *watcher;
    struct {
        db_keeper_came *came;
        void *context;
    } * listeners;
    size_t listener_count;
};

static void jumped(void *context)
{
    struct db_house *house = context;

    for (size_t i = 0; i < house->keeper_count; i++)
        db_keeper_look_at_day(house->keepers[i]);
}

enum db_status db_house_furnish(struct db_house *house)
{
    if (house->rest)
        return DB_OK;
    struct db_house_rest *rest = calloc(1, sizeof *rest);
    if (!rest)
        return DB_FULL;
    rest->watcher = db_watcher_new(house->loop);
    if (!rest->watcher || db_loop_on_jump(house->loop, jumped, house) != DB_OK) {
        (void) db_watcher_free(rest->watcher);
        free(rest);
        return DB_FULL;
    }
    house->rest = rest;
    return DB_OK;
}

struct db_watcher *db_house_watcher(struct db_house *house)
{
    return house->rest->watcher;
}

enum db_status db_house_on_keeper(struct db_house *house, db_keeper_came *came, void *context)
{
    enum db_status status = db_house_furnish(house);
    void *grown = NULL;

    if (status == DB_OK) {
        grown = reallocarray(house->rest->listeners, house->rest->listener_count + 1, sizeof *house->rest->listeners);
        status = grown ? DB_OK : DB_FULL;
    }
    if (status == DB_OK) {
        house->rest->listeners = grown;
        house->rest->listeners[house->rest->listener_count].came = came;
        house->rest->listeners[house->rest->listener_count++].context = context;
    }
    return status;
}

static void tell(const struct db_house *house, struct db_keeper *keeper, bool came)
{
    for (size_t i = 0; i < house->rest->listener_count; i++)
        house->rest->listeners[i].came(house->rest->listeners[i].context, keeper, came);
}

enum db_status db_house_enter(struct db_house *house, struct db_keeper *keeper)
{
    enum db_status status = db_house_furnish(house);

    if (status != DB_OK)
        return status;
    struct db_keeper **grown = reallocarray(house->keepers, house->keeper_count + 1, sizeof(struct db_keeper *));
    if (!grown)
        return DB_FULL;
    house->keepers = grown;
    size_t at = house->keeper_count++;
    for (; at > 0 && strcmp(grown[at - 1]->folder, keeper->folder) > 0; at--)
        grown[at] = grown[at - 1];
    grown[at] = keeper;
    tell(house, keeper, true);
    return DB_OK;
}

void db_house_leave(struct db_house *house, struct db_keeper *keeper)
{
    size_t at = 0;

    while (at < house->keeper_count && house->keepers[at] != keeper)
        at++;
    if (at == house->keeper_count)
        return; /* it never came in */
    tell(house, keeper, false);
    for (; at + 1 < house->keeper_count; at++)
        house->keepers[at] = house->keepers[at + 1];
    house->keeper_count--;
    db_watcher_begin(house->rest->watcher, keeper);
    db_watcher_end(house->rest->watcher, keeper);
}

void db_house_reload(struct db_house *house)
{
    for (size_t i = 0; i < house->keeper_count; i++)
        db_keeper_read(house->keepers[i]);
}

void db_house_close(struct db_house *house)
{
    if (house->rest)
        house->rest->listener_count = 0; /* those who listen may have gone before */
    while (house->keeper_count)
        (void) db_keeper_free(house->keepers[house->keeper_count - 1]);
    free(house->keepers);
    house->keepers = NULL;
    if (house->rest) {
        (void) db_watcher_free(house->rest->watcher);
        free(house->rest->listeners);
        free(house->rest);
        house->rest = NULL;
    }
}
