/* What the plan says of the service: [forecast], [morning], and the sections with a name that carry mornings and feeds. */
#include "read/outlets.h"

#include "base/limits.h"
#include "read/files.h"
#include "read/outlet_values.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

#define NONE                                                                                                           \
    {                                                                                                                  \
        0                                                                                                              \
    }
#define TEXT(key, needed, help)                                                                                        \
    {                                                                                                                  \
        key, DB_FIELD_TEXT, NONE, NULL, NULL, needed, help                                                             \
    }
#define LIST(key, needed, help)                                                                                        \
    {                                                                                                                  \
        key, DB_FIELD_LIST, NONE, NULL, NULL, needed, help                                                             \
    }
#define WORD(key, words, what, help)                                                                                   \
    {                                                                                                                  \
        key, DB_FIELD_WORD, NONE, words, what, false, help                                                             \
    }
#define SECRET(help) TEXT("secret_file", false, help)
#define CA_FILE TEXT("ca_file", false, "certificates to trust in place of the system's")
#define TELL(load, place, instead, ...) db_mistakes_add((load)->mistakes, place, instead, __VA_ARGS__)

enum { F_SOURCE, F_SOURCES, F_URL, F_CONTACT, F_EVERY, F_LEARN, F_CA_FILE, FORECAST_ROWS };
static const struct db_field forecast_rows[FORECAST_ROWS] = {
    [F_SOURCE] = TEXT("source", true, "the name of a source's description"),
    [F_SOURCES] = TEXT("sources", false, "a file or folder with descriptions of your own"),
    [F_URL] = TEXT("url", false, "the address to ask, in place of the source's own"),
    [F_CONTACT] = TEXT("contact", false, "how the source can reach you, as its terms may ask"),
    [F_EVERY] = { "every",
                  DB_FIELD_AMOUNT,
                  { DB_KIND_TIME, "h", 30.0 / 1440, 1, false, NULL },
                  NULL,
                  NULL,
                  false,
                  "time between askings, 30 min to 1 day" },
    [F_LEARN] = { "learn", DB_FIELD_TRUTH, NONE, NULL, NULL, false,
                  "no: forecasts are not corrected by what was measured here" },
    [F_CA_FILE] = CA_FILE,
};

static const char *const quiet_words[] = { "nothing", "a line", NULL };
enum { M_AT, M_QUIET, M_LINK, MORNING_ROWS };
static const struct db_field morning_rows[MORNING_ROWS] = {
    [M_AT] = TEXT("at", true, "an hour, as in 06:30, or from sunrise, as in sunrise - 30 min"),
    [M_QUIET] = WORD("quiet", quiet_words, "what is sent on a day without jobs", "nothing or a line"),
    [M_LINK] = TEXT("link", false, "the address of the garden's page, for links"),
};

static const char *const tls_words[] = { "always", "if offered", NULL };
enum { MAIL_SERVER, MAIL_FROM, MAIL_TO, MAIL_LOGIN, MAIL_SECRET, MAIL_TLS, MAIL_CA_FILE, MAIL_ROWS };
static const struct db_field mail_rows[MAIL_ROWS] = {
    [MAIL_SERVER] = TEXT("server", true, "the mail server, as in smtps://mail.example.org"),
    [MAIL_FROM] = TEXT("from", true, "the address it comes from"),
    [MAIL_TO] = LIST("to", true, "the addresses it goes to, between commas"),
    [MAIL_LOGIN] = TEXT("login", false, "the name to log in with"),
    [MAIL_SECRET] = SECRET("a file that holds the password"),
    [MAIL_TLS] = WORD("tls", tls_words, "a way to use TLS", "always or if offered"),
    [MAIL_CA_FILE] = CA_FILE,
};

static const char *const format_words[] = { "text", "json", NULL };
enum { POST_URL, POST_FORMAT, POST_SECRET, POST_CA_FILE, POST_ROWS };
static const struct db_field post_rows[POST_ROWS] = {
    [POST_URL] = TEXT("url", true, "the address to post to"),
    [POST_FORMAT] = WORD("format", format_words, "a format", "text or json"),
    [POST_SECRET] = SECRET("a file that holds the token sent as Authorization: Bearer"),
    [POST_CA_FILE] = CA_FILE,
};

enum { COMMAND_RUN, COMMAND_ROWS };
static const struct db_field command_rows[COMMAND_ROWS] = {
    [COMMAND_RUN] = TEXT("run", true, "a program with its whole path, and its arguments"),
};

static const char *const feed_words[] = { "jobs", "mornings", "tasks", NULL };
enum { PUBLISH_TO, PUBLISH_FEEDS, PUBLISH_REGION, PUBLISH_LOGIN, PUBLISH_SECRET, PUBLISH_CA_FILE, PUBLISH_ROWS };
static const struct db_field publish_rows[PUBLISH_ROWS] = {
    [PUBLISH_TO] = TEXT("to", true, "a folder, or the https:// address of a WebDAV collection or S3 bucket"),
    [PUBLISH_FEEDS] = LIST("feeds", false, "jobs, mornings, tasks: which of them, between commas"),
    [PUBLISH_REGION] = TEXT("region", false, "the region of an S3 bucket"),
    [PUBLISH_LOGIN] = TEXT("login", false, "the name, or the access key of the bucket"),
    [PUBLISH_SECRET] = SECRET("a file that holds the password or secret key"),
    [PUBLISH_CA_FILE] = CA_FILE,
};

enum { ROWS_MOST = 8 };
static const struct {
    const char *kind;
    const struct db_field *rows;
    size_t count;
} tables[] = {
    { "forecast", forecast_rows, FORECAST_ROWS },
    { "morning", morning_rows, MORNING_ROWS },
    { "mail", mail_rows, MAIL_ROWS },
    { "post", post_rows, POST_ROWS },
    { "command", command_rows, COMMAND_ROWS },
    { "publish", publish_rows, PUBLISH_ROWS },
};
enum { TABLES = sizeof tables / sizeof tables[0] };

const struct db_field *db_outlet_fields(size_t index, size_t *ret_count)
{
    *ret_count = index < TABLES ? tables[index].count : 0;
    return index < TABLES ? tables[index].rows : NULL;
}

/* Takes keys that hold a secret out of the section and says where it belongs. The line is not shown: it may be on its way
 * to a log. */
static void refuse_secrets(struct db_load *load, struct db_ini_section *section, const struct db_field *rows,
                           size_t count)
{
    static const char *const secrets[] = { "password", "passwd", "pass", "secret", "token", "secret_key" };
    enum { SECRETS = sizeof secrets / sizeof secrets[0] };
    const char *names[SECRETS + ROWS_MOST];
    size_t kept = 0;

    memcpy(names, secrets, sizeof secrets);
    for (size_t i = 0; i < count; i++)
        names[SECRETS + i] = rows[i].key;
    for (size_t i = 0; i < section->key_count; i++) {
        const struct db_words *key = &section->keys[i].key;
        const char *meant = db_nearest(key->text, names, SECRETS + count);
        bool secret = false;

        for (size_t s = 0; s < SECRETS; s++)
            secret = secret || strcmp(key->text, secrets[s]) == 0 || meant == secrets[s];
        for (size_t r = 0; r < count; r++)
            secret = secret && strcmp(key->text, rows[r].key) != 0;
        if (!secret) {
            section->keys[kept++] = section->keys[i];
            continue;
        }
        struct db_place at = db_words_place(key, 0, key->length);
        at.text = NULL;
        TELL(load, at, "put it in a file of its own: secret_file = FILE", "a secret does not belong into the plan");
        section->cut = true; /* that it is missing now is no second mistake */
    }
    section->key_count = kept;
}

static const char *kept(struct db_load *load, const struct db_value *value)
{
    const char *text = value->good ? db_span_text(value->span, load->arena) : NULL;

    for (const char *c = text; c && *c; c++)
        if ((unsigned char) *c < 0x20 || *c == 0x7f) {
            TELL(load, db_span_place(value->span), "take it out", "there is a control character in it");
            return NULL;
        }
    return text;
}

static const char *kept_path(struct db_load *load, const struct db_plan *plan, const struct db_value *value)
{
    const char *text = kept(load, value);

    return text ? db_path_join(load->arena, plan->folder, text) : NULL;
}

/* A bare name stays one: it may be a credential that the service manager hands over. */
static const char *kept_secret(struct db_load *load, const struct db_plan *plan, const struct db_value *value)
{
    const char *text = kept(load, value);

    return text && strchr(text, '/') ? db_path_join(load->arena, plan->folder, text) : text;
}

static const char *kept_url(struct db_load *load, const struct db_value *value, const struct db_url_wish *wish)
{
    return value->good ? db_value_url(load, value->span, wish) : NULL;
}

static const char *const web[] = { "https", "http", NULL }, *const mail[] = { "smtps", "smtp", NULL };
static const char web_example[] = "write it as https://example.org/path";

static void read_forecast(struct db_load *load, const struct db_plan *plan, const struct db_ini_section *section,
                          struct db_forecast_wish *ret)
{
    static const struct db_url_wish wish = { web, web_example, false };
    struct db_value v[FORECAST_ROWS];

    db_fields_read(section, forecast_rows, FORECAST_ROWS, v, db_load_reader(load));
    *ret = (struct db_forecast_wish){
        .source = kept(load, &v[F_SOURCE]),
        .sources = kept_path(load, plan, &v[F_SOURCES]),
        .url = kept_url(load, &v[F_URL], &wish),
        .contact = kept(load, &v[F_CONTACT]),
        .learn = !v[F_LEARN].good || v[F_LEARN].yes,
        .every = v[F_EVERY].good ? (int32_t) lround(v[F_EVERY].low * 1440) : 180,
        .ca_file = kept_path(load, plan, &v[F_CA_FILE]),
        .at = db_value_place(&v[F_SOURCE], section),
    };
}

static void read_morning(struct db_load *load, const struct db_ini_section *section, struct db_morning_wish *ret)
{
    static const struct db_url_wish wish = { web, web_example, false };
    struct db_value v[MORNING_ROWS];

    db_fields_read(section, morning_rows, MORNING_ROWS, v, db_load_reader(load));
    ret->wanted = true;
    if (v[M_AT].good)
        (void) db_value_hour(load, v[M_AT].span, &ret->by_sun, &ret->minutes);
    ret->quiet_line = v[M_QUIET].good && v[M_QUIET].word == 1;
    ret->link = kept_url(load, &v[M_LINK], &wish);
}

/* A login and its secret belong together. */
static void check_login(struct db_load *load, const struct db_ini_section *section, const struct db_value *login,
                        const struct db_value *secret)
{
    if (section->cut)
        return;
    if (login->given && !secret->given)
        TELL(load, db_span_place(login->span), "add secret_file = a file that holds the password",
             "there is a login and no password");
    if (secret->given && !login->given)
        TELL(load, db_span_place(secret->span), "add login = the name that it belongs to",
             "there is a password and no login");
}

static void read_mail(struct db_load *load, const struct db_plan *plan, const struct db_ini_section *section,
                      struct db_outlet *out)
{
    static const struct db_url_wish wish = { mail, "write it as smtps://mail.example.org, or smtp:// with a port",
                                             false };
    struct db_value v[MAIL_ROWS];

    db_fields_read(section, mail_rows, MAIL_ROWS, v, db_load_reader(load));
    out->url = kept_url(load, &v[MAIL_SERVER], &wish);
    out->from = v[MAIL_FROM].good ? db_value_address(load, v[MAIL_FROM].span) : NULL;
    out->to = v[MAIL_TO].good ? db_value_addresses(load, v[MAIL_TO].span) : NULL;
    out->login = kept(load, &v[MAIL_LOGIN]);
    out->secret_file = kept_secret(load, plan, &v[MAIL_SECRET]);
    out->plain_allowed = v[MAIL_TLS].good && v[MAIL_TLS].word == 1;
    out->ca_file = kept_path(load, plan, &v[MAIL_CA_FILE]);
    check_login(load, section, &v[MAIL_LOGIN], &v[MAIL_SECRET]);
    if (out->plain_allowed && v[MAIL_LOGIN].given)
        TELL(load, db_span_place(v[MAIL_TLS].span), "write tls = always",
             "the password would go unencrypted where the server offers no TLS");
}

static void read_post(struct db_load *load, const struct db_plan *plan, const struct db_ini_section *section,
                      struct db_outlet *out)
{
    struct db_value v[POST_ROWS];

    db_fields_read(section, post_rows, POST_ROWS, v, db_load_reader(load));
    const struct db_url_wish wish = { web, web_example, v[POST_SECRET].given };
    out->url = kept_url(load, &v[POST_URL], &wish);
    out->json = v[POST_FORMAT].good && v[POST_FORMAT].word == 1;
    out->secret_file = kept_secret(load, plan, &v[POST_SECRET]);
    out->ca_file = kept_path(load, plan, &v[POST_CA_FILE]);
}

static void read_command(struct db_load *load, const struct db_ini_section *section, struct db_outlet *out)
{
    struct db_value v[COMMAND_ROWS];

    db_fields_read(section, command_rows, COMMAND_ROWS, v, db_load_reader(load));
    out->words = v[COMMAND_RUN].good ? db_value_words(load, v[COMMAND_RUN].span) : NULL;
}

static const char *const *read_feeds(struct db_load *load, const struct db_value *value)
{
    static const char *const all[] = { "jobs", "mornings", "tasks", NULL };
    const char **feeds = db_arena_get(load->arena, sizeof all / sizeof all[0], sizeof *feeds);
    bool named[sizeof all / sizeof all[0]] = { false };
    struct db_span part;
    size_t count = 0, which;

    if (!value->good || !feeds)
        return all;
    for (size_t at = value->span.from; db_span_next(value->span, ',', &at, &part);) {
        if (!db_value_word(part, feed_words, "a feed", db_load_reader(load), &which))
            continue;
        if (named[which])
            TELL(load, db_span_place(part), "name it once", "%s stands here twice", all[which]);
        else
            feeds[count++] = all[which];
        named[which] = true;
    }
    return feeds;
}

/* Feeds are put under the address by their names. libcurl 7.88 signs some other bytes of a path, and any query, wrongly. */
static void check_publish_address(struct db_load *load, const struct db_value *to, const struct db_value *region,
                                  const struct db_outlet *out)
{
    const char *host = out->url ? strstr(out->url, "://") : NULL;
    const char *path = host ? strpbrk(host + 3, "/?") : NULL;

    if (path && strchr(path, '?')) {
        TELL(load, db_span_place(to->span), "end it before the question mark", "feeds cannot be put behind a query");
        return;
    }
    if (out->way != DB_OUT_S3)
        return;
    if (path && path[strspn(path, "abcdefghijklmnopqrstuvwxyz0123456789/._-")])
        TELL(load, db_span_place(to->span), "use small letters, digits and / . _ - after the host",
             "the name of a bucket or of a folder in it holds something else");
    if (region->good && out->region && out->region[strspn(out->region, "abcdefghijklmnopqrstuvwxyz0123456789-")])
        TELL(load, db_span_place(region->span), "write it as in eu-central-1", "that is not a region");
}

static void read_publish(struct db_load *load, const struct db_plan *plan, const struct db_ini_section *section,
                         struct db_outlet *out)
{
    struct db_value v[PUBLISH_ROWS];

    db_fields_read(section, publish_rows, PUBLISH_ROWS, v, db_load_reader(load));
    const struct db_url_wish wish = { web, "write a folder, or https://example.org/path/", v[PUBLISH_SECRET].given };
    const struct db_value *to = &v[PUBLISH_TO];
    const bool address = to->good && strstr(db_span_text(to->span, load->scratch), "://") != NULL;

    out->way = !address ? DB_OUT_FOLDER : v[PUBLISH_REGION].given ? DB_OUT_S3 : DB_OUT_WEBDAV;
    out->url = address ? kept_url(load, to, &wish) : kept_path(load, plan, to);
    out->feeds = read_feeds(load, &v[PUBLISH_FEEDS]);
    out->region = kept(load, &v[PUBLISH_REGION]);
    out->login = kept(load, &v[PUBLISH_LOGIN]);
    out->secret_file = kept_secret(load, plan, &v[PUBLISH_SECRET]);
    out->ca_file = kept_path(load, plan, &v[PUBLISH_CA_FILE]);
    if (address) {
        check_publish_address(load, to, &v[PUBLISH_REGION], out);
        check_login(load, section, &v[PUBLISH_LOGIN], &v[PUBLISH_SECRET]);
        if (out->way == DB_OUT_S3 && !v[PUBLISH_LOGIN].given && !v[PUBLISH_SECRET].given && !section->cut)
            TELL(load, section->at, "add login and secret_file", "a bucket takes nothing without its access key");
        return;
    }
    for (size_t i = 0; to->good && i < PUBLISH_ROWS; i++)
        if (i != PUBLISH_TO && i != PUBLISH_FEEDS && v[i].given)
            TELL(load, db_span_place(v[i].span), "take it out, or name an https:// address", "a folder needs no %s",
                 publish_rows[i].key);
}

/* Which way a section goes out; false: it is none of an outlet. */
static bool way_of(const struct db_ini_section *section, enum db_way_out *ret)
{
    static const struct {
        const char *kind;
        enum db_way_out way;
    } ways[] = {
        { "mail", DB_OUT_MAIL }, { "post", DB_OUT_POST }, { "command", DB_OUT_COMMAND }, { "publish", DB_OUT_FOLDER }
    };

    for (size_t i = 0; section->id && i < sizeof ways / sizeof ways[0]; i++)
        if (strcmp(section->kind, ways[i].kind) == 0) {
            *ret = ways[i].way;
            return true;
        }
    return false;
}

static void read_outlet(struct db_load *load, const struct db_plan *plan, struct db_ini_section *section,
                        struct db_outlet *out)
{
    out->at = section->at;
    out->name = db_arena_text(load->arena, section->title, strlen(section->title));
    for (size_t t = 0; t < TABLES; t++)
        if (strcmp(section->kind, tables[t].kind) == 0)
            refuse_secrets(load, section, tables[t].rows, tables[t].count);
    switch (out->way) {
    case DB_OUT_MAIL:
        read_mail(load, plan, section, out);
        break;
    case DB_OUT_POST:
        read_post(load, plan, section, out);
        break;
    case DB_OUT_COMMAND:
        read_command(load, section, out);
        break;
    case DB_OUT_FOLDER:
    case DB_OUT_WEBDAV:
    case DB_OUT_S3:
        read_publish(load, plan, section, out);
        break;
    }
}

static bool is_carrier(const char *kind)
{
    return strcmp(kind, "mail") == 0 || strcmp(kind, "post") == 0 || strcmp(kind, "command") == 0;
}

/* Mornings that nobody carries, and carriers without a morning. A section whose name was refused counts, too. */
static void check_together(struct db_load *load, const struct db_plan *plan)
{
    const struct db_ini_section *morning = NULL, *carrier = NULL;

    for (size_t i = 0; i < db_ini_count(plan->ini); i++) {
        const struct db_ini_section *section = db_ini_at(plan->ini, i);

        if (!morning && strcmp(section->kind, "morning") == 0)
            morning = section;
        if (!carrier && is_carrier(section->kind))
            carrier = section;
    }
    if (carrier && !morning)
        TELL(load, carrier->at, "write [morning] with at = 06:30", "[%s] has nothing to send: there is no [morning]",
             carrier->title);
    if (morning && !carrier)
        db_mistakes_advise(load->mistakes, morning->at, "write [mail NAME], [post NAME] or [command NAME]",
                           "nothing says where the morning is to go");
}

enum db_status db_plan_outlets(struct db_load *load, const struct db_plan *plan, struct db_outlets *ret)
{
    struct db_ini_section *forecast = db_ini_find(plan->ini, "forecast"), *morning = db_ini_find(plan->ini, "morning");
    struct db_outlet *outlets;
    enum db_way_out way;
    size_t count = 0;

    for (size_t i = 0; i < db_ini_count(plan->ini); i++)
        count += way_of(db_ini_at(plan->ini, i), &way);
    *ret = (struct db_outlets){ .count = count };
    outlets = db_arena_get(load->arena, count, sizeof *outlets);
    if (!outlets)
        return DB_FULL;
    if (forecast) {
        refuse_secrets(load, forecast, forecast_rows, FORECAST_ROWS);
        read_forecast(load, plan, forecast, &ret->forecast);
    }
    if (morning)
        read_morning(load, morning, &ret->morning);
    count = 0;
    for (size_t i = 0; i < db_ini_count(plan->ini); i++) {
        struct db_ini_section *section = db_ini_at(plan->ini, i);

        if (!way_of(section, &way))
            continue;
        outlets[count].way = way;
        read_outlet(load, plan, section, &outlets[count]);
        if (!outlets[count++].name)
            return DB_FULL;
    }
    ret->outlets = outlets;
    if (count > DB_LIMIT_OUTLETS)
        TELL(load, outlets[DB_LIMIT_OUTLETS].at, "", "there are more than %d places to send to", DB_LIMIT_OUTLETS);
    check_together(load, plan);
    return DB_OK;
}
