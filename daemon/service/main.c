/* The program `dewbelld`: options, and the parts of the service put together in the order in which they need each other. */
#include "service/clock.h"
#include "service/clock_shift.h"
#include "service/forecast.h"
#include "service/gardens.h"
#include "service/http.h"
#include "service/log.h"
#include "service/metrics.h"
#include "service/morning.h"
#include "service/notify.h"
#include "service/publish.h"
#include "service/status.h"

#include <sys/epoll.h>
#include <sys/signalfd.h>

#include <errno.h>
#include <getopt.h>
#include <limits.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/banned.h"

enum { FINE = 0, TROUBLE = 3, USAGE = 64 };

struct options {
    const char *garden, *gardens, *state, *rules, *metrics, *stand_on;
    struct db_http_wish http;
};

struct service {
    struct db_clock real, shifted; /* used where a day to stand on was given */
    struct db_loop *loop;
    struct db_house house;
    struct db_notify *notify;
    struct db_http *http;
    struct db_metrics *metrics;
    struct db_desk *desk;
    struct db_mornings *mornings;
    struct db_gardens *gardens;
    struct db_publish *publish;
    struct db_forecasts *forecasts;
    int signals;
};

/* ---- options ---- */

static const struct option long_options[] = {
    { "garden", required_argument, NULL, 'g' },      { "gardens", required_argument, NULL, 'G' },
    { "state", required_argument, NULL, 's' },       { "rules", required_argument, NULL, 'r' },
    { "listen", required_argument, NULL, 'l' },      { "metrics", required_argument, NULL, 'm' },
    { "connections", required_argument, NULL, 'c' }, { "per-address", required_argument, NULL, 'a' },
    { "idle", required_argument, NULL, 'i' },        { "patience", required_argument, NULL, 'p' },
    { "no-gzip", no_argument, NULL, 'z' },           { "log-requests", no_argument, NULL, 'q' },
    { "stand-on", required_argument, NULL, 'd' },    { "help", no_argument, NULL, 'h' },
    { "version", no_argument, NULL, 'V' },           { NULL, 0, NULL, 0 },
};

static void show_help(void)
{
    printf("dewbelld: looks after gardens: calendar feeds and mornings out, forecasts in\n\n"
           "  dewbelld [options]\n\nOptions\n"
           "  --garden FILE        the plan (default: $DEWBELL_GARDEN, else garden.ini in this folder)\n"
           "  --gardens DIR        many gardens: each folder in it with a garden.ini\n"
           "  --state DIR          where records are kept (default: .dewbell beside each plan)\n"
           "  --rules DIR          the shipped crops and rules, if not where they were installed\n"
           "  --listen ADDRESS     serve feeds there (default: 127.0.0.1:8737); [::1]:8737, or the path of a socket\n"
           "  --connections N      of readers at once (default: 1500)\n"
           "  --per-address N      of these from one address (default: 24; any number on loopback, for a proxy)\n"
           "  --idle SECONDS       a reader's connection may stand idle (default: 75)\n"
           "  --patience SECONDS   for a request to arrive; an answer has three times as long (default: 20)\n"
           "  --no-gzip            send feeds as they are, whatever readers ask for\n"
           "  --log-requests       a line for each request, without its token\n"
           "  --metrics ADDRESS    serve /metrics there (default: nowhere)\n"
           "  --stand-on DAY       play a record back: begin on that day, 2026-06-14, or at 2026-06-14T07:00\n"
           "  --help               these lines\n"
           "  --version            the version\n"
           "\nIt stays in the foreground. SIGHUP reads all plans again, SIGTERM and Ctrl-C end it.\n"
           "Exit status: 0 it was asked to end; 3 something failed at the start; 64 the command line is wrong.\n");
}

static int usage(const char *what, const char *words)
{
    fprintf(stderr, "dewbelld: %s %s\ndewbelld --help lists the options.\n", what, words);
    return USAGE;
}

static bool read_limit(struct db_http_wish *wish, int letter, const char *text)
{
    char *end;
    unsigned long number = strtoul(text, &end, 10);

    if (*text < '0' || *text > '9' || *end || number < 1 || number > 100000)
        return false;
    *(letter == 'c'   ? &wish->connections
      : letter == 'a' ? &wish->per_address
      : letter == 'i' ? &wish->idle_seconds
                      : &wish->patience) = (unsigned) number;
    return true;
}

/* -1: go on; else the exit status. */
static int read_options(struct options *options, int argc, char **argv)
{
    int letter;

    opterr = 0;
    while ((letter = getopt_long(argc, argv, ":g:s:r:l:m:hV", long_options, NULL)) != -1) {
        switch (letter) {
        case 'g':
            options->garden = optarg;
            break;
        case 'G':
            options->gardens = optarg;
            break;
        case 's':
            options->state = optarg;
            break;
        case 'r':
            options->rules = optarg;
            break;
        case 'l':
            options->http.listen = optarg;
            break;
        case 'c':
        case 'a':
        case 'i':
        case 'p':
            if (!read_limit(&options->http, letter, optarg))
                return usage("that is no number from 1 to 100000:", optarg);
            break;
        case 'z':
            options->http.plain = true;
            break;
        case 'q':
            options->http.tell = true;
            break;
        case 'm':
            options->metrics = optarg;
            break;
        case 'd':
            options->stand_on = optarg;
            break;
        case 'h':
            show_help();
            return FINE;
        case 'V':
            printf("dewbelld %s\n", DB_VERSION);
            return FINE;
        case ':':
            return usage("something must follow", argv[optind - 1]);
        default:
            return usage("there is no option", argv[optind - 1]);
        }
    }
    if (optind < argc)
        return usage("there is no place for", argv[optind]);
    if (options->garden && options->gardens)
        return usage("give one of --garden and --gardens,", "not both");
    return -1;
}

static const char *or_env(const char *given, const char *name)
{
    const char *from = given ? given : getenv(name);

    return from && *from ? from : NULL;
}

/* ---- places ---- */

/* As it was built, beside the program; else where it was installed. */
static const char *shipped_folder(const char *named, char buffer[PATH_MAX])
{
    char here[PATH_MAX], probe[PATH_MAX + 32];

    if (named)
        return realpath(named, buffer) ? buffer : named;
    ssize_t length = readlink("/proc/self/exe", here, sizeof here - 1);
    if (length > 0) {
        here[length] = '\0';
        char *cut = strrchr(here, '/');
        if (cut) {
            *cut = '\0';
            (void) snprintf(probe, sizeof probe, "%s/../rules/crops", here);
            if (access(probe, R_OK) == 0) {
                (void) snprintf(probe, sizeof probe, "%s/../rules", here);
                if (realpath(probe, buffer))
                    return buffer;
            }
        }
    }
    return DB_SHARE "/rules";
}

/* The zone whose hour is kept when standing on another day: of the garden, or of the first one that can be read. */
static const struct db_zone *garden_zone(const char *garden, const char *shipped)
{
    struct db_arena *arena = db_arena_new((size_t) 1 << 30);
    struct db_mistakes *mistakes = arena ? db_mistakes_new(arena) : NULL;
    struct db_estate estate = { 0 };
    const struct db_zone *zone = NULL;

    if (garden && mistakes && db_estate_read(garden, shipped, arena, mistakes, &estate) == DB_OK)
        zone = db_zone_find(db_garden_site(estate.garden)->zone);
    (void) db_arena_free(arena);
    return zone ? zone : db_zone_find("UTC");
}

static int stand_on(struct service *service, const char *day, const char *garden)
{
    int64_t shift = 0;
    bool moved = db_clock_real(&service->real) == DB_OK;

    if (moved && db_clock_shift_read(garden_zone(garden, service->house.shipped), day,
                                     service->real.wall(service->real.context), &shift) != DB_OK)
        return usage("no day to stand on:", day);
    moved = moved && db_clock_shift(&service->real, shift, &service->shifted) == DB_OK;
    if (!moved) {
        db_log(DB_LOG_ERROR, "the clock cannot be moved");
        return TROUBLE;
    }
    service->loop = db_loop_new(&service->shifted);
    db_log(DB_LOG_NOTICE, "the clock stands on %s", day);
    return -1;
}

/* ---- signals ---- */

static void signalled(void *context, int fd, uint32_t events)
{
    struct service *service = context;
    struct signalfd_siginfo signal;
    (void) events;

    while (read(fd, &signal, sizeof signal) == (ssize_t) sizeof signal) {
        if (signal.ssi_signo != SIGHUP) {
            db_loop_stop(service->loop);
            return;
        }
        db_log(DB_LOG_INFO, "reading all plans again");
        db_notify_reloading();
        if (service->gardens)
            db_gardens_look(service->gardens);
        db_house_reload(&service->house);
        db_notify_ready("looking after gardens");
    }
}

static bool take_signals(struct service *service)
{
    sigset_t set;

    if (sigemptyset(&set) != 0 || sigaddset(&set, SIGTERM) != 0 || sigaddset(&set, SIGINT) != 0 ||
        sigaddset(&set, SIGHUP) != 0 || sigprocmask(SIG_BLOCK, &set, NULL) != 0)
        return false;
    (void) signal(SIGXFSZ, SIG_IGN); /* a file that may not grow is a full disk, and no reason to die */
    service->signals = signalfd(-1, &set, SFD_NONBLOCK | SFD_CLOEXEC);
    return service->signals >= 0 &&
           db_loop_watch(service->loop, service->signals, EPOLLIN, signalled, service) == DB_OK;
}

/* ---- the parts ---- */

static int failed(const char *what, const char *why)
{
    db_log(DB_LOG_ERROR, "%s%s%s", what, *why ? ": " : "", why);
    return TROUBLE;
}

/* As it was asked for, with the port that it came to be; port 0: a socket in the file system. */
static const char *address(const char *asked, unsigned port, char buffer[256])
{
    const char *colon = strrchr(asked, ':');

    if (!port || !colon || strchr(asked, '/'))
        return asked;
    (void) snprintf(buffer, 256, "%s%.*s:%u", colon == asked ? "127.0.0.1" : "", (int) (colon - asked), asked, port);
    return buffer;
}

static int open_doors(struct service *service, const struct options *options)
{
    int sockets[DB_HTTP_SOCKETS];
    const size_t count = db_notify_sockets(sockets, DB_HTTP_SOCKETS);
    const char *at = options->http.listen ? options->http.listen : "127.0.0.1:8737";
    struct db_http_wish wish = options->http;
    char trouble[256] = "", where[256];

    service->desk = db_desk_new(&service->house);
    service->mornings = db_mornings_new(&service->house);
    if (!service->desk || !service->mornings)
        return failed("out of memory", "");
    wish.listen = at;
    wish.fds = sockets;
    wish.fd_count = count;
    service->http = db_http_open(&service->house, &wish, trouble);
    if (!service->http)
        return failed("feeds cannot be served", trouble);
    if (count)
        db_log(DB_LOG_INFO, "feeds are served at the socket that was handed over");
    else
        db_log(DB_LOG_INFO, "feeds are served at %s; `dewbell token` prints their addresses",
               address(at, db_http_port(service->http), where));
    if (!options->metrics)
        return -1;
    enum db_status status =
        db_metrics_new(&service->house, service->http, options->metrics, &service->metrics, trouble);
    if (status == DB_RANGE)
        return usage("no address for metrics:", trouble);
    if (status != DB_OK)
        return failed("metrics cannot be served", trouble);
    db_log(DB_LOG_INFO, "metrics are served at %s",
           address(options->metrics, db_metrics_port(service->metrics), where));
    return -1;
}

static int open_gardens(struct service *service, const struct options *options)
{
    const char *state = or_env(options->state, "STATE_DIRECTORY");
    struct db_keeper *keeper;
    char trouble[256] = "";

    if (options->gardens) {
        if (db_gardens_new(&service->house, options->gardens, state, &service->gardens, trouble) != DB_OK)
            return failed("the gardens cannot be looked after", trouble);
        return -1;
    }
    if (access(options->garden, F_OK) != 0 && errno == ENOENT)
        db_log(DB_LOG_WARNING, "there is no plan at %s yet", options->garden);
    if (db_keeper_new(&service->house, options->garden, state, &keeper, trouble) != DB_OK)
        return failed("the garden cannot be looked after", trouble);
    return -1;
}

static int open_service(struct service *service, const struct options *options)
{
    int end = options->stand_on ? stand_on(service, options->stand_on, options->garden) : -1;

    if (end >= 0)
        return end;
    if (!options->stand_on)
        service->loop = db_loop_new(NULL);
    service->house.loop = service->loop;
    if (!service->loop || !take_signals(service) || !(service->notify = db_notify_new(service->loop)) ||
        !(service->house.courier = db_courier_new(service->loop)) ||
        !(service->publish = db_publish_new(&service->house)) ||
        !(service->forecasts = db_forecasts_new(&service->house)))
        return failed("the service cannot start", strerror(errno));
    service->house.forecasts = service->forecasts;
    service->house.publish = service->publish;
    end = open_doors(service, options);
    return end >= 0 ? end : open_gardens(service, options);
}

/* Each part before what it uses. */
static void close_service(struct service *service)
{
    service->metrics = db_metrics_free(service->metrics);
    service->http = db_http_free(service->http);
    service->gardens = db_gardens_free(service->gardens);
    db_house_close(&service->house);
    service->mornings = db_mornings_free(service->mornings);
    service->desk = db_desk_free(service->desk);
    service->house.courier = db_courier_free(service->house.courier);
    service->publish = db_publish_free(service->publish);
    service->forecasts = db_forecasts_free(service->forecasts);
    service->notify = db_notify_free(service->notify);
    if (service->signals >= 0)
        (void) close(service->signals);
    service->loop = db_loop_free(service->loop);
    db_clock_shift_free(&service->shifted);
    db_clock_real_free(&service->real);
}

int main(int argc, char **argv)
{
    struct options options = { 0 };
    struct service service = { .signals = -1 };
    char shipped[PATH_MAX];
    int end = read_options(&options, argc, argv);

    if (end >= 0)
        return end;
    if (!options.gardens) {
        options.garden = or_env(options.garden, "DEWBELL_GARDEN");
        if (!options.garden)
            options.garden = "garden.ini";
    }
    service.house.shipped = shipped_folder(or_env(options.rules, "DEWBELL_RULES"), shipped);
    end = open_service(&service, &options);
    if (end < 0) {
        db_notify_ready("looking after gardens");
        end = db_loop_run(service.loop) == DB_OK ? FINE : failed("the loop ended", strerror(errno));
        db_notify_stopping();
        db_log(DB_LOG_INFO, "ending");
    }
    close_service(&service);
    return end;
}
