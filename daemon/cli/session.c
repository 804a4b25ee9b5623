/* One run of the program: files in, weather laid out, diary read, jobs worked out. */
#include "cli/cli.h"

#include "read/files.h"
#include "read/zone.h"
#include "service/told.h"

#include <errno.h>
#include <limits.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/banned.h"

static const size_t files_limit = (size_t) 1 << 30, work_limit = (size_t) 1 << 30;

static int out_of_memory(void)
{
    fprintf(stderr, "dewbell: out of memory\n");
    return DB_EXIT_TROUBLE;
}

static const char *garden_file(const struct db_session *session)
{
    const char *named = session->options.garden ? session->options.garden : getenv("DEWBELL_GARDEN");

    return named && *named ? named : "garden.ini";
}

/* The shipped data: the folder named, else beside the program as it was built, else where it was installed. */
const char *db_session_shipped(const struct db_session *session, char *buffer)
{
    const char *named = session->options.rules ? session->options.rules : getenv("DEWBELL_RULES");

    if (named && *named)
        return named;
    ssize_t length = readlink("/proc/self/exe", buffer, PATH_MAX - 32);
    if (length > 0) {
        buffer[length] = '\0';
        char *cut = strrchr(buffer, '/');
        if (cut) {
            char probe[PATH_MAX + 16];
            (void) snprintf(cut, 32, "/../rules");
            (void) snprintf(probe, sizeof probe, "%s/crops", buffer);
            char *whole = access(probe, R_OK) == 0 ? realpath(buffer, NULL) : NULL;
            if (whole && strlen(whole) < PATH_MAX) {
                memcpy(buffer, whole, strlen(whole) + 1);
                free(whole);
                return buffer;
            }
            free(whole);
        }
    }
    return DB_SHARE "/rules";
}

static int settle_today(struct db_session *session)
{
    const char *said = session->options.date;
    const struct db_site *site = db_garden_site(session->estate.garden);
    struct db_date now = db_clock_day(db_clock_now(), site->zone);

    if (!said || strcmp(said, "today") == 0)
        session->today = now;
    else if (strcmp(said, "tomorrow") == 0)
        session->today = db_date_add(now, 1);
    else if (strcmp(said, "yesterday") == 0)
        session->today = db_date_add(now, -1);
    else {
        enum db_status status = db_date_read(said, strlen(said), &session->today);
        if (status == DB_ABSENT)
            fprintf(stderr, "dewbell: the calendar has no day \"%s\"\n", said);
        else if (status != DB_OK)
            fprintf(stderr, "dewbell: \"%s\" is not a date; write 2026-06-14 or \"14 June 2026\"\n", said);
        if (status != DB_OK)
            return DB_EXIT_USAGE;
    }
    if (!db_date_known(session->today)) {
        fprintf(stderr, "dewbell: could not tell what day it is in %s\n", site->zone);
        return DB_EXIT_TROUBLE;
    }
    return DB_EXIT_FINE;
}

static int refuse(struct db_session *session)
{
    size_t count = db_mistakes_count(session->mistakes);

    db_show_mistakes(stderr, session->mistakes);
    fprintf(stderr, "%zu mistake%s; nothing was written\n", count, count == 1 ? "" : "s");
    return DB_EXIT_MISTAKES;
}

static bool is_there(const char *garden)
{
    if (access(garden, F_OK) == 0 || errno != ENOENT)
        return true;
    fprintf(stderr,
            "dewbell: there is no plan at %s\n"
            "Name one with --garden FILE, or make your first one: the README shows how in five minutes.\n",
            garden);
    return false;
}

int db_session_read(struct db_session *session)
{
    char buffer[PATH_MAX];
    const char *garden = garden_file(session);

    session->files = db_arena_new(files_limit);
    session->mistakes = session->files ? db_mistakes_new(session->files) : NULL;
    if (!session->mistakes)
        return out_of_memory();
    if (!is_there(garden))
        return DB_EXIT_TROUBLE;
    enum db_status status = db_estate_read(garden, db_session_shipped(session, buffer), session->files,
                                           session->mistakes, &session->estate);
    if (status == DB_FULL)
        return out_of_memory();
    return status == DB_OK ? settle_today(session) : refuse(session);
}

char *db_session_path(const char *folder, const char *name)
{
    size_t size = strlen(folder) + strlen(name) + 2;
    char *path = malloc(size);

    if (path)
        (void) snprintf(path, size, "%s/%s", folder, name);
    return path;
}

static int read_diary(struct db_session *session)
{
    session->diary = db_diary_new(session->files);
    if (!session->diary)
        return out_of_memory();
    if (session->record) {
        enum db_status status = db_record_read_notes(session->record, session->files, session->diary);
        if (status == DB_FULL)
            return out_of_memory();
        if (status != DB_OK) {
            fprintf(stderr, "dewbell: could not read the notes in %s: %s\n", session->state,
                    db_record_trouble(session->record));
            return DB_EXIT_TROUBLE;
        }
    }
    return db_diary_close(session->diary, session->estate.garden) == DB_OK ? DB_EXIT_FINE : out_of_memory();
}

char *db_session_state(const struct db_session *session)
{
    const char *named = session->options.state ? session->options.state : getenv("STATE_DIRECTORY");
    const char *garden = garden_file(session);

    if (named && *named)
        return strdup(named);
    const char *slash = strrchr(garden, '/');
    char *folder = slash ? strndup(garden, slash == garden ? 1 : (size_t) (slash - garden)) : strdup(".");
    char *state = folder ? db_session_path(folder, ".dewbell") : NULL;
    free(folder);
    return state;
}

int db_session_open(struct db_session *session, bool make)
{
    char trouble[256] = "";

    if (make && !is_there(garden_file(session)))
        return DB_EXIT_TROUBLE;
    if (make && db_path_is_folder(garden_file(session))) {
        fprintf(stderr, "dewbell: %s is a folder; name the file garden.ini in it\n", garden_file(session));
        return DB_EXIT_MISTAKES;
    }
    session->state = db_session_state(session);
    char *path = session->state ? db_session_path(session->state, "record.sqlite") : NULL;
    if (!path)
        return out_of_memory();
    if (make && mkdir(session->state, 0700) != 0 && errno != EEXIST) {
        fprintf(stderr, "dewbell: could not make the folder %s: %s\n", session->state, strerror(errno));
        free(path);
        return DB_EXIT_TROUBLE;
    }
    if ((make || access(path, F_OK) == 0) && db_record_open(path, &session->record, trouble) != DB_OK) {
        fprintf(stderr, "dewbell: could not open the record %s: %s\n", path, trouble);
        free(path);
        return DB_EXIT_TROUBLE;
    }
    free(path);
    return DB_EXIT_FINE;
}

int db_session_record(struct db_session *session, bool make)
{
    const int status = db_session_open(session, make);

    return status == DB_EXIT_FINE ? read_diary(session) : status;
}

int64_t db_session_now(const struct db_session *session)
{
    const struct db_zone *zone = db_zone_find(db_garden_site(session->estate.garden)->zone);
    const int64_t now = db_clock_now();

    return zone ? now + ((int64_t) session->today.day - db_zone_day(zone, now).day) * 24 * 3600 : now;
}

/* The forecast that the service fetched last. Without one the climate stands in for it, as it does there. */
static int read_told(struct db_session *session)
{
    struct db_mistakes *mistakes = db_mistakes_new(session->work);
    enum db_status status = DB_FULL;

    if (mistakes)
        status = db_forecast_told(session->record, &session->estate, db_session_now(session), session->work, mistakes,
                                  &session->estate.told);
    if (status == DB_FULL)
        return out_of_memory();
    if (status == DB_TROUBLE) {
        fprintf(stderr, "dewbell: could not read the stored forecast: %s\n", db_record_trouble(session->record));
        return DB_EXIT_TROUBLE;
    }
    return DB_EXIT_FINE;
}

int db_session_weather(struct db_session *session)
{
    session->work = db_arena_new(work_limit);
    if (!session->work)
        return out_of_memory();
    if (session->record && session->estate.source) {
        const int stop = read_told(session);
        if (stop != DB_EXIT_FINE)
            return stop;
    }
    enum db_status status =
        db_estate_weather(&session->estate, session->today, session->work, session->mistakes, &session->weather);
    if (status == DB_FULL)
        return out_of_memory();
    return status == DB_OK ? DB_EXIT_FINE : refuse(session);
}

static int evaluate(struct db_session *session)
{
    struct db_view *view = db_arena_get(session->work, 1, sizeof *view);
    struct db_positions *published = db_arena_get(session->work, 1, sizeof *published);

    if (!view || !published)
        return out_of_memory();
    if (session->record && db_record_positions(session->record, session->work, published) != DB_OK) {
        fprintf(stderr, "dewbell: could not read where the jobs stood: %s\n", db_record_trouble(session->record));
        return DB_EXIT_TROUBLE;
    }
    *view = (struct db_view){ .garden = session->estate.garden,
                              .rules = session->estate.rules,
                              .weather = session->weather,
                              .diary = session->diary,
                              .today = session->today,
                              .published = published };
    return db_garden_evaluate(view, session->work, &session->jobs) == DB_OK ? DB_EXIT_FINE : out_of_memory();
}

int db_session_jobs(struct db_session *session)
{
    int status = session->files ? DB_EXIT_FINE : db_session_read(session);

    if (status == DB_EXIT_FINE && !session->diary)
        status = db_session_record(session, false);
    if (status == DB_EXIT_FINE && !session->weather)
        status = db_session_weather(session);
    return status == DB_EXIT_FINE ? evaluate(session) : status;
}

int db_session_again(struct db_session *session)
{
    int status = read_diary(session);

    return status == DB_EXIT_FINE ? evaluate(session) : status;
}

void db_session_close(struct db_session *session)
{
    session->record = db_record_close(session->record);
    session->work = db_arena_free(session->work);
    session->files = db_arena_free(session->files);
    free(session->state);
    session->state = NULL;
}

size_t db_session_sowing(const struct db_session *session, const char *id)
{
    const struct db_garden *garden = session->estate.garden;
    size_t index = db_garden_find_sowing(garden, id), count = db_garden_sowings(garden);

    if (index != SIZE_MAX)
        return index;
    fprintf(stderr, "dewbell: there is no sowing \"%s\"", id);
    const char **names = calloc(count ? count : 1, sizeof *names);
    if (names) {
        for (size_t i = 0; i < count; i++)
            names[i] = db_garden_sowing(garden, i)->id;
        const char *near = db_nearest(id, names, count);
        if (near)
            fprintf(stderr, "; did you mean \"%s\"?", near);
        free(names);
    }
    fputc('\n', stderr);
    return SIZE_MAX;
}
