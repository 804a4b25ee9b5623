/* The metrics document: OpenMetrics 1.0 text. One family at a time: TYPE, UNIT, HELP, then a sample a garden. */
#include "service/report.h"

#include "service/forecast.h"
#include "service/publish.h"

#include <sys/resource.h>
#include <unistd.h>

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

#include "base/banned.h"

/* A label's value: what the format wants escaped is. */
static void label(FILE *to, const char *name, const char *value)
{
    fprintf(to, "%s=\"", name);
    for (; *value; value++) {
        if (*value == '\\' || *value == '"')
            fprintf(to, "\\%c", *value);
        else if (*value == '\n')
            fputs("\\n", to);
        else
            fputc(*value, to);
    }
    fputc('"', to);
}

static void family(FILE *to, const char *name, const char *type, const char *unit, const char *help)
{
    fprintf(to, "# TYPE %s %s\n", name, type);
    if (unit)
        fprintf(to, "# UNIT %s %s\n", name, unit);
    fprintf(to, "# HELP %s %s\n", name, help);
}

/* One sample of a garden; more: a second label, or NULL. */
static void sample(FILE *to, const char *name, struct db_keeper *keeper, const char *more, const char *value,
                   int64_t number)
{
    fprintf(to, "%s{", name);
    label(to, "garden", db_keeper_name(keeper));
    if (more && value) {
        fputc(',', to);
        label(to, more, value);
    }
    fprintf(to, "} %" PRId64 "\n", number);
}

static void plain(FILE *to, const char *name, const char *type, const char *unit, const char *help, int64_t number)
{
    family(to, name, type, unit, help);
    fprintf(to, "%s%s %" PRId64 "\n", name, type[0] == 'c' ? "_total" : "", number);
}

static void tell_process(FILE *to)
{
    struct rusage used;
    long resident = 0;
    FILE *memory = fopen("/proc/self/statm", "re");

    if (memory) {
        if (fscanf(memory, "%*s %ld", &resident) != 1) // NOLINT(cert-err34-c): the kernel writes a number
            resident = 0;
        (void) fclose(memory);
    }
    if (resident > 0)
        plain(to, "process_resident_memory_bytes", "gauge", "bytes", "Memory of the service that is in use.",
              (int64_t) resident * sysconf(_SC_PAGESIZE));
    if (getrusage(RUSAGE_SELF, &used) == 0) {
        int64_t micro = ((int64_t) used.ru_utime.tv_sec + used.ru_stime.tv_sec) * 1000000 + used.ru_utime.tv_usec +
                        used.ru_stime.tv_usec;
        family(to, "process_cpu_seconds", "counter", "seconds", "Processor time that the service has used.");
        fprintf(to, "process_cpu_seconds_total %" PRId64 ".%06" PRId64 "\n", micro / 1000000, micro % 1000000);
    }
}

static void tell_house(FILE *to, const struct db_house *house, int64_t started)
{
    const char *name;
    int64_t at;

    family(to, "dewbell_build", "info", NULL, "The running version.");
    fputs("dewbell_build_info{", to);
    label(to, "version", DB_VERSION);
    fputs("} 1\n", to);
    plain(to, "dewbell_start_time_seconds", "gauge", "seconds", "When the service began.", started);
    plain(to, "dewbell_gardens", "gauge", NULL, "Gardens looked after.", (int64_t) house->keeper_count);
    plain(to, "dewbell_wakes", "counter", NULL, "Waits of the event loop that ended.",
          (int64_t) db_loop_wakes(house->loop));
    plain(to, "dewbell_flooded", "gauge", NULL, "1 once timers came far too fast and were held back.",
          db_loop_flooded(house->loop) ? 1 : 0);
    plain(to, "dewbell_errands", "gauge", NULL, "Requests over the network under way.",
          house->courier ? (int64_t) db_courier_under_way(house->courier) : 0);
    if (db_loop_next(house->loop, 0, &name, &at))
        plain(to, "dewbell_next_wake_time_seconds", "gauge", "seconds", "The next moment the service wants to wake.",
              at / 1000);
}

static void tell_work(FILE *to, const struct db_house *house)
{
    family(to, "dewbell_evaluation_time_seconds", "gauge", "seconds", "When the jobs were last worked out.");
    for (size_t i = 0; i < house->keeper_count; i++) {
        if (db_keeper_evaluated(house->keepers[i]))
            sample(to, "dewbell_evaluation_time_seconds", house->keepers[i], NULL, NULL,
                   db_keeper_evaluated(house->keepers[i]));
    }
    family(to, "dewbell_jobs", "gauge", NULL, "Jobs of the last evaluation by their state.");
    for (size_t i = 0; i < house->keeper_count; i++) {
        struct db_job_count count = db_report_jobs(house->keepers[i]);

        sample(to, "dewbell_jobs", house->keepers[i], "state", "open", (int64_t) count.open);
        sample(to, "dewbell_jobs", house->keepers[i], "state", "done", (int64_t) count.done);
        sample(to, "dewbell_jobs", house->keepers[i], "state", "missed", (int64_t) count.missed);
    }
    family(to, "dewbell_mistakes", "gauge", NULL, "Mistakes in the garden's files as they are now.");
    for (size_t i = 0; i < house->keeper_count; i++) {
        const struct db_mistakes *mistakes = db_keeper_mistakes(house->keepers[i]);

        sample(to, "dewbell_mistakes", house->keepers[i], NULL, NULL,
               mistakes ? (int64_t) db_mistakes_count(mistakes) : 0);
    }
}

static void tell_forecasts(FILE *to, const struct db_house *house)
{
    family(to, "dewbell_forecast_issued_time_seconds", "gauge", "seconds", "When the forecast in use was issued.");
    for (size_t i = 0; i < house->keeper_count; i++) {
        const struct db_estate *estate = db_keeper_estate(house->keepers[i]);

        if (estate && estate->told)
            sample(to, "dewbell_forecast_issued_time_seconds", house->keepers[i], "source", estate->told->source,
                   estate->told->issued);
    }
    family(to, "dewbell_forecast_days", "gauge", NULL, "Days that the forecast in use tells of.");
    for (size_t i = 0; i < house->keeper_count; i++) {
        const struct db_estate *estate = db_keeper_estate(house->keepers[i]);

        if (estate && estate->told)
            sample(to, "dewbell_forecast_days", house->keepers[i], NULL, NULL, (int64_t) estate->told->count);
    }
}

static void tell_learnt(FILE *to, const struct db_house *house)
{
    family(to, "dewbell_nights_measured", "gauge", NULL,
           "Nights of the last sixty that were forecast and measured, from which is learnt how the garden differs.");
    for (size_t i = 0; i < house->keeper_count; i++) {
        const struct db_estate *estate = db_keeper_estate(house->keepers[i]);

        if (estate && estate->told)
            sample(to, "dewbell_nights_measured", house->keepers[i], NULL, NULL,
                   (int64_t) estate->told->bias[DB_FIGURE_LOW].days);
    }
}

static void tell_fetching(FILE *to, const struct db_house *house)
{
    struct db_fetching fetching;

    family(to, "dewbell_forecast_failures", "gauge", NULL, "Askings for a forecast in a row that brought none.");
    for (size_t i = 0; house->forecasts && i < house->keeper_count; i++) {
        if (db_forecasts_about(house->forecasts, house->keepers[i], &fetching))
            sample(to, "dewbell_forecast_failures", house->keepers[i], NULL, NULL, fetching.failures);
    }
}

static void tell_published(FILE *to, const struct db_house *house)
{
    struct db_publish_state state;

    family(to, "dewbell_published", "gauge", NULL, "1 where an outlet holds the newest bytes of a feed.");
    for (size_t i = 0; house->publish && db_publish_at(house->publish, i, &state); i++) {
        fputs("dewbell_published{", to);
        label(to, "garden", db_keeper_name(state.keeper));
        fputc(',', to);
        label(to, "outlet", state.outlet);
        fputc(',', to);
        label(to, "feed", state.feed);
        fprintf(to, "} %d\n", state.current ? 1 : 0);
    }
}

static int64_t feed_bytes(const struct db_ready_bytes *feed)
{
    return (int64_t) feed->length;
}

static int64_t feed_events(const struct db_ready_bytes *feed)
{
    return (int64_t) db_report_events(feed);
}

static int64_t feed_modified(const struct db_ready_bytes *feed)
{
    return feed->modified;
}

static void tell_feeds(FILE *to, const struct db_house *house)
{
    static const struct {
        const char *name, *unit, *help;
        int64_t (*figure)(const struct db_ready_bytes *);
    } families[] = {
        { "dewbell_feed_size_bytes", "bytes", "Length of a feed as it is served.", feed_bytes },
        { "dewbell_feed_events", NULL, "Events and tasks in a feed.", feed_events },
        { "dewbell_feed_changed_time_seconds", "seconds", "When a feed last changed.", feed_modified },
    };

    for (size_t f = 0; f < sizeof families / sizeof families[0]; f++) {
        family(to, families[f].name, "gauge", families[f].unit, families[f].help);
        for (size_t i = 0; i < house->keeper_count; i++) {
            for (int which = 0; which < DB_READY_COUNT; which++) {
                struct db_ready_bytes *feed = db_keeper_feed(house->keepers[i], (enum db_ready_feed) which);

                if (!feed)
                    continue;
                sample(to, families[f].name, house->keepers[i], "feed", feed->name, families[f].figure(feed));
                db_ready_release(feed);
            }
        }
    }
}

static void tell_stuck(FILE *to, const struct db_house *house)
{
    family(to, "dewbell_feeds_stuck", "gauge", NULL,
           "1 where feeds stay as they were since the record cannot be kept.");
    for (size_t i = 0; i < house->keeper_count; i++)
        sample(to, "dewbell_feeds_stuck", house->keepers[i], NULL, NULL, *db_keeper_trouble(house->keepers[i]) ? 1 : 0);
}

struct morning_sink {
    FILE *to;
    struct db_keeper *keeper;
};

static void tell_morning(void *context, const struct db_last_morning *last)
{
    const struct morning_sink *sink = context;

    fputs("dewbell_morning_changed_time_seconds{", sink->to);
    label(sink->to, "garden", db_keeper_name(sink->keeper));
    fputc(',', sink->to);
    label(sink->to, "outlet", last->outlet);
    fputc(',', sink->to);
    label(sink->to, "state", last->state);
    fprintf(sink->to, "} %" PRId64 "\n", last->changed);
}

static void tell_mornings(FILE *to, const struct db_house *house)
{
    family(to, "dewbell_morning_changed_time_seconds", "gauge", "seconds",
           "When the last morning of an outlet came into the state it is in.");
    for (size_t i = 0; i < house->keeper_count; i++) {
        struct morning_sink sink = { .to = to, .keeper = house->keepers[i] };
        struct db_record *record = db_keeper_record(sink.keeper);

        /* What the record cannot say is left out; the status page says why. */
        if (record && db_record_last_mornings(record, tell_morning, &sink) != DB_OK)
            continue;
    }
}

static void tell_http(FILE *to, const struct db_http *http)
{
    struct db_http_counts counts = db_http_counts(http);
    const struct {
        const char *kind;
        uint64_t count;
    } answers[] = { { "full", counts.full },
                    { "unchanged", counts.unchanged },
                    { "unknown", counts.unknown },
                    { "revoked", counts.revoked },
                    { "refused", counts.refused } };

    family(to, "dewbell_http_answers", "counter", NULL,
           "Answers to requests for feeds: the feed, 304, an unknown address, a revoked one, another refusal.");
    for (size_t i = 0; i < sizeof answers / sizeof answers[0]; i++)
        fprintf(to, "dewbell_http_answers_total{kind=\"%s\"} %" PRIu64 "\n", answers[i].kind, answers[i].count);
    plain(to, "dewbell_http_sent_bytes", "counter", "bytes", "Bytes of feeds that were sent.", (int64_t) counts.bytes);
    plain(to, "dewbell_http_cut", "counter", NULL, "Connections that were over their time.", (int64_t) counts.cut);
    plain(to, "dewbell_http_slowed", "counter", NULL, "Answers held back from those who guess addresses.",
          (int64_t) counts.slowed);
    plain(to, "dewbell_http_connections", "gauge", NULL, "Connections open now.", (int64_t) counts.connections);
}

char *db_report_metrics(const struct db_house *house, const struct db_http *http, int64_t started, size_t *ret_length)
{
    char *text = NULL;
    FILE *to = open_memstream(&text, ret_length);

    if (!to)
        return NULL;
    tell_house(to, house, started);
    tell_work(to, house);
    tell_forecasts(to, house);
    tell_learnt(to, house);
    tell_fetching(to, house);
    tell_feeds(to, house);
    tell_stuck(to, house);
    tell_mornings(to, house);
    tell_published(to, house);
    if (http)
        tell_http(to, http);
    tell_process(to);
    fputs("# EOF\n", to);
    if (fclose(to) != 0) {
        free(text);
        return NULL;
    }
    return text;
}
