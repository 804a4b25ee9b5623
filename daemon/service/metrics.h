/* Metrics over HTTP for those who gather them: GET /metrics on an address of its own, off unless it is asked for. */
#ifndef DB_SERVICE_METRICS_H
#define DB_SERVICE_METRICS_H

#include "service/http.h"
#include "service/keeper.h"

struct db_metrics;

/* Listens at `at`, which is as db_listen_at() takes it. http: NULL: none. House and http must outlive it. DB_RANGE: `at` is
 * no address. DB_TROUBLE: it cannot listen there. Both say why in `trouble`. */
DB_MUST_USE enum db_status db_metrics_new(struct db_house *house, const struct db_http *http, const char *at,
                                          struct db_metrics **ret, char trouble[256]);
struct db_metrics *db_metrics_free(struct db_metrics *metrics); /* NULL allowed; returns NULL */
/* The port it listens on (where 0 was asked for, the one it got; 0 for a Unix socket). */
unsigned db_metrics_port(const struct db_metrics *metrics);

#endif
