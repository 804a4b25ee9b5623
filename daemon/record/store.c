/* Opening the record, its layout, and the statements that the other files use. */
#include "record/private.h"

#include <errno.h>
#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

enum {
    APPLICATION = 0x44657762, /* "Dewb": tells our file from any other SQLite file */
    LAYOUT = 6,
    WAIT_MS = 10000, /* how long to wait for another writer */
    LOOK_MS = 10     /* and how long between two looks, where SQLite does not wait by itself */
};

/* A note's date is ISO text so that any tool reads it; struck is when it was struck out (unix seconds), or NULL. The
 * ledger keeps its rows in the order they came, so that reading it all is one sequential walk (measured against a table
 * kept in the order of its key, at 100 000 events: read in 0.8 of the time, written in 0.4). */
static const char layout_1[] = "CREATE TABLE note ("
                               " number INTEGER PRIMARY KEY AUTOINCREMENT,"
                               " sowing TEXT NOT NULL CHECK (sowing <> ''),"
                               " word TEXT NOT NULL CHECK (word <> ''),"
                               " date TEXT NOT NULL CHECK (length(date) = 10),"
                               " text TEXT NOT NULL,"
                               " written INTEGER NOT NULL,"
                               " struck INTEGER) STRICT;"
                               "CREATE TABLE ledger ("
                               " feed TEXT NOT NULL,"
                               " identity BLOB NOT NULL CHECK (length(identity) = 16),"
                               " meaning BLOB NOT NULL CHECK (length(meaning) = 16),"
                               " sequence INTEGER NOT NULL,"
                               " created INTEGER NOT NULL,"
                               " modified INTEGER NOT NULL,"
                               " bytes BLOB NOT NULL,"
                               " UNIQUE (feed, identity)) STRICT;";

/* What the service keeps. A morning and an answer are written before they are used, so that no crash can lose or double
 * them; `served` is what readers were given last, so that a start serves it at once. */
static const char layout_2[] =
    "CREATE TABLE token ("
    " token TEXT PRIMARY KEY,"
    " made INTEGER NOT NULL,"
    " revoked INTEGER) STRICT;"
    "CREATE TABLE answer (" /* the last good forecast of a source */
    " source TEXT PRIMARY KEY,"
    " url TEXT NOT NULL,"
    " fetched INTEGER NOT NULL,"
    " issued INTEGER NOT NULL,"
    " etag TEXT NOT NULL,"
    " last_modified TEXT NOT NULL,"
    " expires INTEGER NOT NULL,"
    " body BLOB NOT NULL) STRICT;"
    "CREATE TABLE seen (" /* each day's figures as they were forecast and as they were observed */
    " date TEXT NOT NULL CHECK (length(date) = 10),"
    " figure INTEGER NOT NULL,"
    " origin INTEGER NOT NULL,"
    " issued INTEGER NOT NULL,"
    " source TEXT NOT NULL,"
    " value REAL NOT NULL,"
    " PRIMARY KEY (date, figure, origin, issued)) STRICT, WITHOUT ROWID;"
    "CREATE TABLE morning ("
    " date TEXT NOT NULL CHECK (length(date) = 10),"
    " outlet TEXT NOT NULL,"
    " state TEXT NOT NULL CHECK (state IN ('intended', 'sending', 'sent', 'failed', 'folded')),"
    " tries INTEGER NOT NULL,"
    " next INTEGER NOT NULL," /* when to try again, unix seconds */
    " changed INTEGER NOT NULL,"
    " message TEXT NOT NULL," /* Message-ID or idempotency key */
    " trouble TEXT NOT NULL," /* why it was not sent the last time; "" */
    " body BLOB NOT NULL,"
    " PRIMARY KEY (date, outlet)) STRICT;"
    "CREATE TABLE position (" /* where each job was last published; dates are days since 1970 */
    " identity BLOB PRIMARY KEY CHECK (length(identity) = 16),"
    " inputs BLOB NOT NULL CHECK (length(inputs) = 16),"
    " words BLOB NOT NULL CHECK (length(words) = 16),"
    " rule TEXT NOT NULL,"
    " sowing TEXT NOT NULL,"
    " occurrence INTEGER NOT NULL,"
    " first INTEGER NOT NULL,"
    " best INTEGER NOT NULL,"
    " last INTEGER NOT NULL,"
    " there INTEGER NOT NULL,"
    " moved INTEGER,"        /* day of its last move */
    " gone INTEGER) STRICT;" /* day on which it was first not asked for any more */
    "CREATE TABLE served ("
    " feed TEXT PRIMARY KEY,"
    " modified INTEGER NOT NULL,"
    " bytes BLOB NOT NULL) STRICT;"
    "CREATE TABLE published (" /* what an outlet holds of each feed, as far as we know */
    " outlet TEXT NOT NULL,"
    " feed TEXT NOT NULL,"
    " address BLOB NOT NULL CHECK (length(address) = 16)," /* hash of where it went */
    " hash BLOB NOT NULL CHECK (length(hash) = 16),"       /* of the bytes */
    " etag TEXT NOT NULL,"                                 /* the server's, "" if it gave none */
    " at INTEGER NOT NULL,"
    " PRIMARY KEY (outlet, feed)) STRICT;";

/* What each feed was last built from, so that a day without a change reads and builds no event. */
static const char layout_3[] = "CREATE TABLE edition ("
                               " feed TEXT PRIMARY KEY,"
                               " gist BLOB NOT NULL CHECK (length(gist) = 16)," /* of what it was built from */
                               " hash BLOB NOT NULL CHECK (length(hash) = 16)," /* of its bytes */
                               " length INTEGER NOT NULL,"
                               " events INTEGER NOT NULL,"
                               " left_out INTEGER NOT NULL,"
                               " day INTEGER NOT NULL) STRICT;"; /* days since 1970 */

/* Rows of the ledger go in the end; what they leave behind is where the SEQUENCE of new ones begins. */
static const char layout_4[] =
    "ALTER TABLE ledger ADD COLUMN gone INTEGER;" /* day on which it was first not asked for */
    "CREATE TABLE floor ("
    " feed TEXT PRIMARY KEY,"
    " sequence INTEGER NOT NULL) STRICT;";

/* The day on which the gardener's days put a job. */
static const char layout_5[] = "ALTER TABLE position ADD COLUMN put INTEGER;";

/* What was said of a day last before it began, and what was measured of it. */
static const char layout_6[] = "CREATE TABLE beforehand ("
                               " date TEXT PRIMARY KEY CHECK (length(date) = 10),"
                               " asked BLOB NOT NULL CHECK (length(asked) = 16)," /* hash of who was asked for what */
                               " low REAL,"
                               " high REAL,"
                               " measured_low REAL,"
                               " measured_high REAL) STRICT, WITHOUT ROWID;";

static const char *const layouts[LAYOUT] = { layout_1, layout_2, layout_3, layout_4, layout_5, layout_6 };

static const char *const sql[DB_QUERY_COUNT] = {
    [DB_QUERY_BEGIN] = "BEGIN IMMEDIATE",
    [DB_QUERY_COMMIT] = "COMMIT",
    [DB_QUERY_ROLLBACK] = "ROLLBACK",
    [DB_QUERY_ADD_NOTE] = "INSERT INTO note (sowing, word, date, text, written) VALUES (?1, ?2, ?3, ?4, ?5)",
    [DB_QUERY_STRIKE_NOTE] = "UPDATE note SET struck = ?2 WHERE number = ?1 AND struck IS NULL",
    [DB_QUERY_FIND_NOTE] = "SELECT struck IS NOT NULL FROM note WHERE number = ?1",
    [DB_QUERY_ALL_NOTES] = "SELECT number, sowing, word, date, text, struck IS NOT NULL FROM note ORDER BY number",
    [DB_QUERY_READ_ANSWER] =
        "SELECT url, fetched, issued, etag, last_modified, expires, body FROM answer WHERE source = ?1",
    [DB_QUERY_PUT_ANSWER] =
        "INSERT OR REPLACE INTO answer (source, url, fetched, issued, etag, last_modified, expires, body)"
        " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
    [DB_QUERY_FRESH_ANSWER] = "UPDATE answer SET fetched = ?2, expires = ?3 WHERE source = ?1",
    /* A figure that is what was said last is not kept again. */
    [DB_QUERY_PUT_SEEN] = "INSERT OR REPLACE INTO seen (date, figure, origin, issued, source, value)"
                          " SELECT ?1, ?2, ?3, ?4, ?5, ?6 WHERE ?6 IS NOT (SELECT value FROM seen"
                          "  WHERE date = ?1 AND figure = ?2 AND origin = ?3 ORDER BY issued DESC LIMIT 1)",
    [DB_QUERY_THIN_SEEN] = "DELETE FROM seen AS old WHERE date < ?1 AND issued < (SELECT max(issued) FROM seen"
                           "  WHERE date = old.date AND figure = old.figure AND origin = old.origin)",
    [DB_QUERY_READ_SEEN] = "SELECT date, figure, value, max(issued), source FROM seen"
                           " WHERE origin = ?1 AND date BETWEEN ?2 AND ?3 GROUP BY date, figure ORDER BY date, figure",
    [DB_QUERY_PUT_BEFOREHAND] = "INSERT OR REPLACE INTO beforehand (date, asked, low, high) VALUES (?1, ?2, ?3, ?4)",
    [DB_QUERY_PUT_MEASURED] =
        "UPDATE beforehand SET measured_low = ?3, measured_high = ?4 WHERE date = ?1 AND asked = ?2",
    [DB_QUERY_DROP_BEFOREHAND] = "DELETE FROM beforehand WHERE date < ?1",
    [DB_QUERY_READ_BEFOREHAND] = "SELECT date, low, high, measured_low, measured_high FROM beforehand"
                                 " WHERE asked = ?1 AND date BETWEEN ?2 AND ?3 ORDER BY date",
    [DB_QUERY_LAST_MORNINGS] =
        "SELECT outlet, date, state, tries, next, changed, trouble FROM morning AS one WHERE date ="
        " (SELECT max(date) FROM morning WHERE outlet = one.outlet) ORDER BY outlet",
    [DB_QUERY_READ_PUBLISHED] = "SELECT address, hash, etag, at FROM published WHERE outlet = ?1 AND feed = ?2",
    [DB_QUERY_PUT_PUBLISHED] = "INSERT INTO published (outlet, feed, address, hash, etag, at)"
                               " VALUES (?1, ?2, ?3, ?4, ?5, ?6) ON CONFLICT (outlet, feed) DO UPDATE SET"
                               " address = excluded.address, hash = excluded.hash, etag = excluded.etag,"
                               " at = excluded.at",
    [DB_QUERY_READ_SERVED] = "SELECT modified, bytes FROM served WHERE feed = ?1",
    [DB_QUERY_PUT_SERVED] =
        "INSERT INTO served (feed, modified, bytes) VALUES (?1, ?2, ?3) ON CONFLICT (feed) DO UPDATE"
        " SET modified = excluded.modified, bytes = excluded.bytes",
    [DB_QUERY_INTEND_MORNING] =
        "INSERT INTO morning (date, outlet, state, tries, next, changed, message, trouble, body)"
        " VALUES (?1, ?2, ?3, 0, ?4, ?4, ?5, '', ?6) ON CONFLICT (date, outlet) DO NOTHING",
    [DB_QUERY_FOLD_MORNINGS] = "UPDATE morning SET state = 'folded' WHERE state = 'failed' AND date < ?1",
    [DB_QUERY_MARK_MORNING] = "UPDATE morning SET state = ?3, tries = ?4, next = ?5, changed = ?6, trouble = ?7"
                              " WHERE date = ?1 AND outlet = ?2",
    [DB_QUERY_OPEN_MORNINGS] = "SELECT date, outlet, state, tries, next, changed, message, trouble, body FROM morning"
                               " WHERE state IN ('intended', 'sending') ORDER BY date, outlet",
    [DB_QUERY_FAILED_MORNINGS] = "SELECT date, outlet, state, tries, next, changed, message, trouble, x'' FROM morning"
                                 " WHERE state = 'failed' AND date < ?1 ORDER BY date, outlet",
    [DB_QUERY_MORNING_DATES] = "SELECT coalesce(max(date) FILTER (WHERE date < ?1), ''),"
                               " coalesce(max(date = ?1), 0) FROM morning",
    /* The plus keeps SQLite off the index: one walk over the table is quicker than hopping about in it. */
    [DB_QUERY_READ_LEDGER] = "SELECT identity, meaning, sequence, created, modified, bytes, gone FROM ledger WHERE "
                             "+feed = ?1 ORDER BY rowid",
    [DB_QUERY_PUT_LEDGER] = "INSERT INTO ledger (feed, identity, meaning, sequence, created, modified, bytes)"
                            " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7) ON CONFLICT (feed, identity) DO UPDATE SET"
                            " meaning = excluded.meaning, sequence = excluded.sequence, created = excluded.created,"
                            " modified = excluded.modified, bytes = excluded.bytes, gone = NULL",
    [DB_QUERY_HAS_LEDGER] = "SELECT EXISTS (SELECT 1 FROM ledger WHERE feed = ?1)",
    [DB_QUERY_SET_GONE] = "UPDATE ledger SET gone = ?3 WHERE feed = ?1 AND identity = ?2",
    [DB_QUERY_DROP_LEDGER] = "DELETE FROM ledger WHERE feed = ?1 AND identity = ?2",
    [DB_QUERY_READ_FLOOR] = "SELECT sequence FROM floor WHERE feed = ?1",
    [DB_QUERY_RAISE_FLOOR] = "INSERT INTO floor (feed, sequence) VALUES (?1, ?2) ON CONFLICT (feed) DO UPDATE"
                             " SET sequence = max(sequence, excluded.sequence)",
    [DB_QUERY_READ_EDITION] = "SELECT gist, hash, length, events, left_out, day FROM edition WHERE feed = ?1",
    [DB_QUERY_PUT_EDITION] = "INSERT OR REPLACE INTO edition (feed, gist, hash, length, events, left_out, day)"
                             " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
    [DB_QUERY_COUNT_POSITIONS] = "SELECT count(*) FROM position",
    [DB_QUERY_READ_POSITIONS] =
        "SELECT identity, inputs, words, rule, sowing, occurrence, first, best, last, moved, gone, there, put"
        " FROM position ORDER BY rowid",
    [DB_QUERY_PUT_POSITION] =
        "INSERT INTO position (identity, inputs, words, rule, sowing, occurrence, first, best, last, moved, gone,"
        " there, put)"
        " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13) ON CONFLICT (identity) DO UPDATE SET"
        " inputs = excluded.inputs, words = excluded.words, first = excluded.first, best = excluded.best,"
        " last = excluded.last, moved = excluded.moved, gone = excluded.gone, there = excluded.there,"
        " put = excluded.put",
    [DB_QUERY_DROP_POSITIONS] = "DELETE FROM position WHERE gone < ?1",
    [DB_QUERY_ADD_TOKEN] = "INSERT INTO token (token, made) VALUES (?1, ?2)",
    [DB_QUERY_REVOKE_TOKENS] = "UPDATE token SET revoked = ?1 WHERE revoked IS NULL",
    [DB_QUERY_ALL_TOKENS] = "SELECT token, revoked IS NOT NULL FROM token ORDER BY revoked IS NULL DESC, rowid DESC",
    [DB_QUERY_VERSION] = "PRAGMA data_version",
};

enum db_status db_record_blame(struct db_record *record, const char *doing)
{
    int code = sqlite3_extended_errcode(record->file);

    record->busy = (code & 0xff) == SQLITE_BUSY;
    (void) snprintf(record->trouble, sizeof record->trouble, "%s: %s", doing,
                    record->busy ? "another program is writing to the record"
                    : code == SQLITE_FULL || code == SQLITE_IOERR_WRITE || code == SQLITE_IOERR_SHMSIZE
                        ? "there is no room left on the disk, or the file may not grow"
                        : sqlite3_errmsg(record->file));
    return (code & 0xff) == SQLITE_NOMEM ? DB_FULL : DB_TROUBLE;
}

enum db_status db_record_blame_words(struct db_record *record, const char *format, ...)
{
    va_list words;

    record->busy = false;
    va_start(words, format);
    (void) vsnprintf(record->trouble, sizeof record->trouble, format, words);
    va_end(words);
    return DB_TROUBLE;
}

const char *db_record_trouble(const struct db_record *record)
{
    return record->trouble;
}

bool db_record_is_busy(const struct db_record *record)
{
    return record->busy;
}

void db_record_set_patience(struct db_record *record, int ms)
{
    (void) sqlite3_busy_timeout(record->file, ms);
}

sqlite3_stmt *db_record_query(struct db_record *record, enum db_record_query which)
{
    sqlite3_stmt **query = &record->query[which];

    if (!*query &&
        sqlite3_prepare_v3(record->file, sql[which], -1, SQLITE_PREPARE_PERSISTENT, query, NULL) != SQLITE_OK) {
        (void) db_record_blame(record, "the record does not answer");
        return NULL;
    }
    (void) sqlite3_reset(*query);
    (void) sqlite3_clear_bindings(*query);
    return *query;
}

sqlite3_stmt *db_record_ask(struct db_record *record, enum db_record_query which, const char *about)
{
    sqlite3_stmt *query = db_record_query(record, which);

    if (query) {
        record->trouble[0] = '\0';
        (void) sqlite3_bind_text(query, 1, about, -1, SQLITE_STATIC);
    }
    return query;
}

enum db_status db_record_first(struct db_record *record, sqlite3_stmt *query, const char *doing)
{
    if (!query)
        return DB_TROUBLE;
    const int code = sqlite3_step(query);
    return code == SQLITE_ROW ? DB_OK : code == SQLITE_DONE ? DB_ABSENT : db_record_blame(record, doing);
}

enum db_status db_record_run(struct db_record *record, sqlite3_stmt *query)
{
    enum db_status status = DB_OK;
    int code;

    if (!query)
        return DB_TROUBLE;
    while ((code = sqlite3_step(query)) == SQLITE_ROW)
        ;
    if (code != SQLITE_DONE)
        status = db_record_blame(record, "the record was not changed");
    (void) sqlite3_reset(query);
    return status;
}

enum db_status db_record_begin(struct db_record *record)
{
    record->trouble[0] = '\0';
    if (record->depth++ > 0)
        return DB_OK;
    enum db_status status = db_record_run(record, db_record_query(record, DB_QUERY_BEGIN));
    if (status != DB_OK)
        record->depth = 0;
    return status;
}

enum db_status db_record_end(struct db_record *record, enum db_status so_far)
{
    if (--record->depth > 0)
        return so_far;
    if (so_far == DB_OK)
        so_far = db_record_run(record, db_record_query(record, DB_QUERY_COMMIT));
    if (so_far != DB_OK && !sqlite3_get_autocommit(record->file)) {
        char trouble[sizeof record->trouble];

        memcpy(trouble, record->trouble, sizeof trouble); /* the first trouble is the one to tell */
        sqlite3_stmt *back = db_record_query(record, DB_QUERY_ROLLBACK);
        if (back && sqlite3_step(back) == SQLITE_DONE)
            (void) sqlite3_reset(back);
        memcpy(record->trouble, trouble, sizeof trouble);
    }
    return so_far;
}

/* SQLite syncs its files, not the folder entry of a file that it just made. */
static bool sync_folder(const char *path)
{
    const char *slash = strrchr(path, '/');
    char *folder = slash ? strndup(path, slash == path ? 1 : (size_t) (slash - path)) : strdup(".");

    if (!folder)
        return false;
    int fd = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    free(folder);
    if (fd < 0)
        return false;
    bool done = fsync(fd) == 0;
    return close(fd) == 0 && done;
}

/* Makes the file if it is not there, readable by its owner only: SQLite gives its helper files the same mode. */
static enum db_status make_file(struct db_record *record, const char *path)
{
    int fd = open(path, O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0600);

    if (fd < 0 && errno == EEXIST)
        return DB_OK;
    if (fd < 0)
        return db_record_blame_words(record, "%s cannot be made: %s", path, strerror(errno));
    bool done = fsync(fd) == 0;
    if (close(fd) != 0 || !done || !sync_folder(path))
        return db_record_blame_words(record, "%s cannot be made safely: %s", path, strerror(errno));
    return DB_OK;
}

static enum db_status ask(struct db_record *record, const char *pragma, int64_t *ret)
{
    sqlite3_stmt *query = NULL;
    enum db_status status = DB_OK;

    if (sqlite3_prepare_v2(record->file, pragma, -1, &query, NULL) == SQLITE_OK && sqlite3_step(query) == SQLITE_ROW)
        *ret = sqlite3_column_int64(query, 0);
    else
        status = db_record_blame(record, "the record does not answer");
    (void) sqlite3_finalize(query);
    return status;
}

static enum db_status tell(struct db_record *record, const char *text)
{
    if (sqlite3_exec(record->file, text, NULL, NULL, NULL) != SQLITE_OK)
        return db_record_blame(record, "the record cannot be set up");
    return DB_OK;
}

/* Whether there is nothing to lay out: such a record is opened without waiting for those who write to it. */
static bool is_laid_out(struct db_record *record)
{
    int64_t application = 0, layout = 0;

    return ask(record, "PRAGMA user_version", &layout) == DB_OK && layout == LAYOUT &&
           ask(record, "PRAGMA application_id", &application) == DB_OK && application == APPLICATION;
}

/* Inside a write transaction, so that two programs starting at once make the layout once. */
static enum db_status lay_out(struct db_record *record, const char *path)
{
    int64_t application = 0, layout = 0, tables = 0;
    char text[96];

    enum db_status status = ask(record, "PRAGMA application_id", &application);
    if (status == DB_OK)
        status = ask(record, "PRAGMA user_version", &layout);
    if (status == DB_OK)
        status = ask(record, "SELECT count(*) FROM sqlite_schema", &tables);
    if (status != DB_OK)
        return status;
    if (application != APPLICATION && (application != 0 || layout != 0 || tables != 0))
        return db_record_blame_words(record, "%s is a database of some other program; name another file", path);
    if (layout > LAYOUT)
        return db_record_blame_words(record,
                                     "%s was written by a newer dewbell (layout %lld, this one knows %d); "
                                     "use that version, nothing was changed",
                                     path, (long long) layout, LAYOUT);
    if (layout == LAYOUT)
        return DB_OK;
    for (; status == DB_OK && layout < LAYOUT; layout++)
        status = tell(record, layouts[layout]);
    (void) snprintf(text, sizeof text, "PRAGMA application_id = %d; PRAGMA user_version = %d", APPLICATION, LAYOUT);
    return status == DB_OK ? tell(record, text) : status;
}

/* For this lock SQLite does not wait, as the change begins with reading: programs that start at once on a new file refuse
 * each other. */
static enum db_status turn_to_wal(struct db_record *record)
{
    enum db_status status;

    for (int waited = 0;; waited += LOOK_MS) {
        status = tell(record, "PRAGMA journal_mode = WAL");
        if (status == DB_OK || sqlite3_errcode(record->file) != SQLITE_BUSY || waited >= WAIT_MS)
            return status;
        (void) sqlite3_sleep(LOOK_MS);
    }
}

static enum db_status set_up(struct db_record *record, const char *path)
{
    enum db_status status = make_file(record, path);

    if (status != DB_OK)
        return status;
    if (sqlite3_open_v2(path, &record->file, SQLITE_OPEN_READWRITE | SQLITE_OPEN_NOMUTEX | SQLITE_OPEN_EXRESCODE,
                        NULL) != SQLITE_OK)
        return record->file ? db_record_blame(record, path) : DB_FULL;
    if (sqlite3_db_readonly(record->file, "main") == 1)
        return db_record_blame_words(record, "%s cannot be written to", path);
    (void) sqlite3_busy_timeout(record->file, WAIT_MS);
    /* A file that came from elsewhere must not be able to call anything. */
    (void) sqlite3_db_config(record->file, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
    (void) sqlite3_db_config(record->file, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, NULL);
    /* Counts for a new file only. Events are a good thousand bytes: pages of this size hold them with little waste, which
     * measured 0.75 of the time to read and 0.6 to write against pages of 4096. */
    status = tell(record, "PRAGMA page_size = 16384");
    if (status == DB_OK && !is_laid_out(record)) {
        status = db_record_begin(record);
        if (status == DB_OK)
            status = db_record_end(record, lay_out(record, path));
    }
    if (status == DB_OK)
        status = turn_to_wal(record);
    if (status == DB_OK)
        status = tell(record, "PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON;"
                              "PRAGMA wal_autocheckpoint = 250; "
                              "PRAGMA cell_size_check = ON");
    return status;
}

enum db_status db_record_open(const char *path, struct db_record **ret, char trouble[256])
{
    struct db_record *record = calloc(1, sizeof *record);

    if (!record) {
        (void) snprintf(trouble, 256, "there is no memory left");
        return DB_FULL;
    }
    enum db_status status = set_up(record, path);
    if (status != DB_OK) {
        memcpy(trouble, record->trouble, sizeof record->trouble);
        (void) db_record_close(record);
        return status;
    }
    record->trouble[0] = '\0';
    *ret = record;
    return DB_OK;
}

struct db_record *db_record_close(struct db_record *record)
{
    if (record) {
        for (size_t i = 0; i < DB_QUERY_COUNT; i++)
            (void) sqlite3_finalize(record->query[i]);
        (void) sqlite3_close(record->file);
        free(record);
    }
    return NULL;
}
