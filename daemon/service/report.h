/* What the service knows of itself, for `dewbell status`, for scripts and for metrics. */
#ifndef DB_SERVICE_REPORT_H
#define DB_SERVICE_REPORT_H

#include "service/http.h"
#include "service/keeper.h"

/* Jobs of the last evaluation by state. */
struct db_job_count {
    size_t open, done, missed;
};
struct db_job_count db_report_jobs(const struct db_keeper *keeper);

/* VEVENT and VTODO in a feed. */
size_t db_report_events(const struct db_ready_bytes *feed);

/* One JSON document of the whole house, a newline at its end; for free(). Times are unix seconds (docs/service.md has every
 * key). `started`: when the service began. NULL: out of memory. */
char *db_report_json(const struct db_house *house, int64_t started, size_t *ret_length);

/* The same figures and those of the HTTP server (NULL: none) in the OpenMetrics 1.0 text format, `# EOF` at its end; for
 * free(). NULL: out of memory. */
char *db_report_metrics(const struct db_house *house, const struct db_http *http, int64_t started, size_t *ret_length);

#endif
