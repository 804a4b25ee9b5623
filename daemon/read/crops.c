#include "read/load.h"

#include "base/limits.h"
#include "read/files.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

/* After the facts' rows, which come first and in their order. */
enum {
    RAISE = DB_FACT_COUNT,
    EMERGENCE,
    EMERGENCE_BASE,
    EMERGENCE_BEST,
    EMERGENCE_TOP,
    EMERGENCE_SUM,
    SOURCE,
    CROP_ROWS
};

#define WARM                                                                                                           \
    {                                                                                                                  \
        DB_KIND_TEMPERATURE, "°C", -10, 50, false, NULL                                                                \
    }

static const struct db_field more_rows[CROP_ROWS - DB_FACT_COUNT] = {
    [RAISE - DB_FACT_COUNT] = { "raise",
                                DB_FIELD_LIST,
                                { 0 },
                                NULL,
                                NULL,
                                true,
                                "the ways of raising it, the usual one first" },
    [EMERGENCE - DB_FACT_COUNT] = { "emergence",
                                    DB_FIELD_LIST,
                                    { 0 },
                                    NULL,
                                    NULL,
                                    false,
                                    "days from sowing to seedlings, as in 10 °C: 17 days, 20 °C: 7 days" },
    [EMERGENCE_BASE - DB_FACT_COUNT] = { "emergence_base", DB_FIELD_AMOUNT, WARM, NULL, NULL, false,
                                         "warmth below which none comes up" },
    [EMERGENCE_BEST - DB_FACT_COUNT] = { "emergence_best", DB_FIELD_AMOUNT, WARM, NULL, NULL, false,
                                         "warmth at which it comes up soonest" },
    [EMERGENCE_TOP -
        DB_FACT_COUNT] = { "emergence_top", DB_FIELD_AMOUNT, WARM, NULL, NULL, false, "warmth above which it fails" },
    [EMERGENCE_SUM - DB_FACT_COUNT] = { "emergence_sum",
                                        DB_FIELD_AMOUNT,
                                        { DB_KIND_THERMAL, "K d", 5, 2000, false, NULL },
                                        NULL,
                                        NULL,
                                        false,
                                        "warmth that it takes to come up" },
    [SOURCE - DB_FACT_COUNT] = { "source",
                                 DB_FIELD_TEXT,
                                 { 0 },
                                 NULL,
                                 NULL,
                                 false,
                                 "where the facts come from that name no source of their own" },
};

static const struct db_field source_rows[] = {
    { "title", DB_FIELD_TEXT, { 0 }, NULL, NULL, true, "the work, its author and year" },
};

static const char common_practice[] = "common practice";

/* What one reading of crop files works with. */
struct crop_files {
    struct db_load *load;
    const struct db_ini *own, *shipped; /* own: NULL without */
    struct db_field rows[CROP_ROWS];
    struct db_crops *crops;
};

#define TELL(files, place, instead, ...) db_mistakes_add((files)->load->mistakes, place, instead, __VA_ARGS__)

static const char *unit_for(enum db_kind kind)
{
    switch (kind) {
    case DB_KIND_LENGTH:
        return "cm";
    case DB_KIND_TEMPERATURE:
        return "°C";
    case DB_KIND_TIME:
        return "days";
    case DB_KIND_THERMAL:
        return "K d";
    default:
        return "";
    }
}

static void lay_rows(const struct db_load *load, struct db_field rows[CROP_ROWS])
{
    for (enum db_fact fact = DB_FACT_NAME; fact < (enum db_fact) DB_FACT_COUNT; fact++) {
        const struct db_fact_row *row = db_fact_row(fact);
        const bool word = row->kind == DB_KIND_WORD;

        rows[fact] = (struct db_field){
            .key = row->key,
            .kind = word && row->words           ? DB_FIELD_WORD
                    : word                       ? DB_FIELD_TEXT
                    : row->kind == DB_KIND_TRUTH ? DB_FIELD_TRUTH
                                                 : DB_FIELD_RANGE,
            .measure = { row->kind, fact == DB_FACT_DAY_LIMIT ? "h" : unit_for(row->kind), row->least, row->most, false,
                         NULL },
            .words = row->words,
            .what = db_say(load->scratch, "a word for %s", row->key),
            .needed = row->needed,
            .help = row->help,
        };
    }
    memcpy(rows + DB_FACT_COUNT, more_rows, sizeof more_rows);
}

/* The span without the "[key]" at its end; *ret_key is what stands in the brackets, empty where there are none. */
static struct db_span split_source(struct db_span span, struct db_span *ret_key)
{
    const char *text = span.words->text;
    size_t open = span.to;

    *ret_key = (struct db_span){ span.words, span.to, span.to };
    if (span.to == span.from || text[span.to - 1] != ']')
        return span;
    while (open > span.from && text[open - 1] != '[')
        open--;
    if (open == span.from)
        return span;
    *ret_key = (struct db_span){ span.words, open, span.to - 1 };
    return db_span_trim((struct db_span){ span.words, span.from, open - 1 });
}

static const struct db_words *title_in(const struct db_ini *ini, const char *section)
{
    const struct db_ini_section *source = ini ? db_ini_find(ini, section) : NULL;

    return source ? db_ini_value(source, "title") : NULL;
}

/* The title of [source KEY], the gardener's own files first; NULL if there is none. */
static const struct db_words *title_of(const struct crop_files *files, struct db_span key)
{
    const char *section = db_say(files->load->scratch, "source %.*s", (int) db_span_length(key), db_span_start(key));
    const struct db_words *own = title_in(files->own, section);

    return own ? own : title_in(files->shipped, section);
}

static void refuse_source(const struct crop_files *files, struct db_span key)
{
    const struct db_ini *both[] = { files->own, files->shipped };
    const char **names;
    const char *written = db_span_text(key, files->load->scratch);
    size_t count = 0, room = db_ini_count(files->shipped) + (files->own ? db_ini_count(files->own) : 0);

    names = db_arena_get(files->load->scratch, room, sizeof *names);
    for (size_t f = 0; names && f < 2; f++)
        for (size_t i = 0; both[f] && i < db_ini_count(both[f]); i++) {
            const struct db_ini_section *section = db_ini_at(both[f], i);

            if (strcmp(section->kind, "source") == 0 && section->id)
                names[count++] = section->id;
        }
    if (!names || !written)
        return;
    const char *near = db_did_you_mean(db_load_reader(files->load), written, names, count);
    TELL(files, db_span_place(key),
         *near ? near : db_say(files->load->scratch, "write a section [source %s] with its title", written),
         "there is no source \"%s\"", written);
}

/* The titles of the keys in brackets, or `otherwise` where there are none. NULL when the arena is full. */
static const char *source_text(const struct crop_files *files, struct db_span keys, const char *otherwise)
{
    const char *text = NULL;
    struct db_span key;

    if (keys.from == keys.to)
        return otherwise;
    for (size_t at = keys.from; db_span_next(keys, ',', &at, &key);) {
        const struct db_words *title = title_of(files, key);

        if (!title) {
            refuse_source(files, key);
            continue;
        }
        text = text ? db_say(files->load->arena, "%s; %s", text, title->text)
                    : db_say(files->load->arena, "%s", title->text);
    }
    return text ? text : otherwise;
}

/* `source = KEY` or any words. */
static const char *section_source(const struct crop_files *files, const struct db_value *value)
{
    const struct db_words *title = value->good ? title_of(files, value->span) : NULL;

    if (title)
        return db_say(files->load->arena, "%s", title->text);
    return value->good ? db_say(files->load->arena, "%s", value->span.words->text) : common_practice;
}

static void read_ways(const struct crop_files *files, const struct db_value *value, struct db_crop_facts *crop)
{
    static const char *const words[] = { "drill", "stations", "plugs", "pot", "sets", NULL };
    struct db_span part;
    size_t way;

    for (size_t at = value->span.from; value->good && db_span_next(value->span, ',', &at, &part);) {
        if (!db_value_word(part, words, "a way of raising", db_load_reader(files->load), &way))
            continue;
        if (crop->ways & 1u << way)
            TELL(files, db_span_place(part), "name it once", "%s is named twice", words[way]);
        if (!crop->ways)
            crop->usual = (enum db_way) way;
        crop->ways |= 1u << way;
    }
}

/* "10 °C: 17.3 days" or "40 °C: none" (the colon may be left out before none). */
static bool read_point(const struct crop_files *files, struct db_span part, double *ret_warmth, double *ret_days)
{
    static const struct db_measure warmth = WARM;
    static const struct db_measure days = { DB_KIND_TIME, "days", 0.5, 400, false, NULL };
    const struct db_reader to = db_load_reader(files->load);
    const char *text = db_span_start(part);
    const size_t length = db_span_length(part);
    const bool none = length > 4 && memcmp(text + length - 4, "none", 4) == 0;
    const char *colon = memchr(text, ':', length);
    const size_t middle = colon ? (size_t) (colon - text) : none ? length - 4 : length;
    const struct db_span left = { part.words, part.from, part.from + middle };
    const struct db_span right =
        db_span_trim((struct db_span){ part.words, part.from + middle + (colon != NULL), part.to });

    *ret_days = 0;
    if (middle == length) {
        TELL(files, db_span_place(part), "write it as 10 °C: 17 days, or 40 °C: none", "\"%.*s\" gives no days",
             (int) length, text);
        return false;
    }
    if (!db_value_amount(left, &warmth, to, ret_warmth))
        return false;
    return db_span_is(right, "none") || db_value_amount(right, &days, to, ret_days);
}

static bool read_table(const struct crop_files *files, const struct db_value *value, struct db_emergence *table)
{
    struct db_span part;
    bool good = true;

    for (size_t at = value->span.from; db_span_next(value->span, ',', &at, &part);) {
        double warmth, days;

        if (!read_point(files, part, &warmth, &days)) {
            good = false;
        } else if (table->count == DB_EMERGENCE_POINTS) {
            TELL(files, db_span_place(part), "leave some out", "there are more than %d points", DB_EMERGENCE_POINTS);
            return false;
        } else if (table->count && !(warmth > table->temperature[table->count - 1])) {
            TELL(files, db_span_place(part), "write them from cold to warm",
                 "this point is not warmer than the one before");
            good = false;
        } else {
            table->temperature[table->count] = warmth;
            table->days[table->count++] = days;
        }
    }
    return good;
}

/* The table's ends. A coldest or warmest point with none coming up is an end by itself; elsewhere emergence_base and
 * emergence_top say how it goes on. */
static bool check_table(const struct crop_files *files, const struct db_value v[CROP_ROWS], struct db_emergence *table)
{
    const struct db_value *base = &v[EMERGENCE_BASE], *top = &v[EMERGENCE_TOP];
    const size_t last = table->count - 1;
    size_t up = 0;

    for (size_t i = 0; i < table->count; i++)
        up += table->days[i] > 0;
    table->base = base->good ? base->low : table->temperature[0];
    table->top = top->good ? top->low : table->temperature[last];
    if (!up) {
        TELL(files, db_span_place(v[EMERGENCE].span), "write the days at which it comes up",
             "none of these points has seed coming up");
    } else if (table->days[0] > 0 && !base->given) {
        TELL(files, db_span_place(v[EMERGENCE].span), "write emergence_base, or a colder point with none",
             "nothing says below which warmth none comes up");
    } else if (table->days[last] > 0 && !top->given) {
        TELL(files, db_span_place(v[EMERGENCE].span), "write emergence_top, or a warmer point with none",
             "nothing says above which warmth it fails");
    } else if (table->days[0] > 0 && table->base > table->temperature[0]) {
        TELL(files, db_span_place(base->span), "write a lower one",
             "emergence_base lies above the coldest point at which seed comes up");
    } else if (table->days[last] > 0 && table->top < table->temperature[last]) {
        TELL(files, db_span_place(top->span), "write a higher one",
             "emergence_top lies below the warmest point at which seed comes up");
    } else {
        return true;
    }
    return false;
}

/* A key that another one calls for. */
static bool asks_for(const struct crop_files *files, const struct db_ini_section *section, const struct db_value *v,
                     int row, const char *because)
{
    if (v[row].given)
        return true;
    if (!section->cut)
        TELL(files, section->at, db_field_hint(&files->rows[row], db_load_reader(files->load)),
             "[%s] %s, but does not say %s", section->title, because, files->rows[row].key);
    return false;
}

static bool asks_for_ends(const struct crop_files *files, const struct db_ini_section *section,
                          const struct db_value *v, const char *because)
{
    bool all = true;

    for (int row = EMERGENCE_BASE; row <= EMERGENCE_TOP; row++)
        all = asks_for(files, section, v, row, because) && all;
    return all;
}

static void read_emergence(const struct crop_files *files, const struct db_ini_section *section,
                           const struct db_value v[CROP_ROWS], struct db_crop_facts *crop)
{
    struct db_emergence table = { 0 };
    bool good = false;

    if (v[EMERGENCE].given && v[EMERGENCE_SUM].given) {
        TELL(files, db_span_place(v[EMERGENCE_SUM].span), "keep one of the two", "emergence is given already");
        return;
    }
    if (v[EMERGENCE].given) {
        good = read_table(files, &v[EMERGENCE], &table) && v[EMERGENCE_BASE].given == v[EMERGENCE_BASE].good &&
               v[EMERGENCE_TOP].given == v[EMERGENCE_TOP].good && check_table(files, v, &table);
    } else if (v[EMERGENCE_SUM].given) {
        const bool ends = asks_for_ends(files, section, v, "has emergence_sum");

        if (ends && v[EMERGENCE_SUM].good && v[EMERGENCE_BASE].good && v[EMERGENCE_BEST].good &&
            v[EMERGENCE_TOP].good) {
            good = db_emergence_linear(v[EMERGENCE_BASE].low, v[EMERGENCE_SUM].low, v[EMERGENCE_BEST].low,
                                       v[EMERGENCE_TOP].low, &table) == DB_OK;
            if (!good)
                TELL(files, db_span_place(v[EMERGENCE_BEST].span), "write them rising",
                     "emergence_base, emergence_best and emergence_top are not in order");
        }
    } else if (crop->ways & ~(1u << DB_WAY_SETS) && !section->cut) {
        TELL(files, section->at,
             "write emergence, or emergence_sum with emergence_base, emergence_best and emergence_top",
             "[%s] does not say when seedlings come up", section->title);
    }
    if (good)
        crop->emergence = table;
}

static void check_facts(const struct crop_files *files, const struct db_ini_section *section,
                        const struct db_value v[CROP_ROWS], const struct db_crop_facts *crop)
{
    if (v[DB_FACT_CROP_TIME].given)
        (void) asks_for(files, section, v, DB_FACT_COUNTED, "has crop_time");
    if (crop->ways & (1u << DB_WAY_PLUGS | 1u << DB_WAY_POT))
        (void) asks_for(files, section, v, DB_FACT_PLUG_TIME, "is raised in plugs or pots");
    if (crop->ways & 1u << DB_WAY_POT)
        (void) asks_for(files, section, v, DB_FACT_PRICK_OUT, "is raised in pots");
    if (crop->low[DB_FACT_PLUG_KEEP] > crop->high[DB_FACT_PLUG_SEEDS])
        TELL(files, db_span_place(v[DB_FACT_PLUG_KEEP].span), "write fewer",
             "plug_keep leaves more seedlings than plug_seeds sows");
}

/* One value; where its source stands in brackets behind it, that is taken off first. */
static void read_value(const struct crop_files *files, int row, const char *otherwise, struct db_value *value,
                       const char **ret_source)
{
    struct db_span keys;
    const struct db_span span = split_source(value->span, &keys);

    db_field_read(&files->rows[row], span, db_load_reader(files->load), value);
    *ret_source = source_text(files, keys, otherwise);
}

static void take_fact(const struct crop_files *files, enum db_fact fact, const struct db_value *value,
                      struct db_crop_facts *crop)
{
    if (!value->good)
        return;
    switch (files->rows[fact].kind) {
    case DB_FIELD_TEXT:
        crop->text[fact] = db_span_text(value->span, files->load->arena);
        break;
    case DB_FIELD_WORD:
        crop->text[fact] = files->rows[fact].words[value->word];
        break;
    case DB_FIELD_TRUTH:
        crop->low[fact] = crop->high[fact] = value->yes;
        break;
    default:
        crop->low[fact] = value->low;
        crop->high[fact] = value->high;
    }
}

static enum db_status read_crop(const struct crop_files *files, const struct db_ini_section *section)
{
    struct db_field plain[CROP_ROWS];
    struct db_value v[CROP_ROWS];
    struct db_crop_facts crop = { .id = db_arena_text(files->load->arena, section->title, strlen(section->title)) };
    const char *otherwise, *source;

    /* First only which keys there are: the values still have their sources behind them. */
    memcpy(plain, files->rows, sizeof plain);
    for (size_t i = 0; i < CROP_ROWS; i++)
        plain[i].kind = DB_FIELD_TEXT;
    db_fields_read(section, plain, CROP_ROWS, v, db_load_reader(files->load));
    otherwise = section_source(files, &v[SOURCE]);
    for (size_t i = 0; i < DB_FACT_COUNT; i++) {
        crop.low[i] = crop.high[i] = (double) NAN;
        if (!v[i].good)
            continue;
        read_value(files, (int) i, otherwise, &v[i], &crop.source[i]);
        take_fact(files, (enum db_fact) i, &v[i], &crop);
    }
    for (int row = RAISE; row < SOURCE; row++) {
        if (!v[row].good)
            continue;
        read_value(files, row, otherwise, &v[row], &source);
        if (row == RAISE)
            crop.ways_source = source;
        else if (row == EMERGENCE || row == EMERGENCE_SUM)
            crop.emergence_source = source;
    }
    read_ways(files, &v[RAISE], &crop);
    read_emergence(files, section, v, &crop);
    check_facts(files, section, v, &crop);
    if (!crop.id)
        return DB_FULL;
    return db_crops_add(files->crops, &crop);
}

static bool is_source(const struct db_ini_section *section)
{
    return strcmp(section->kind, "source") == 0;
}

/* The crops of one set of files, in their order, but those that `over` has as well. */
static enum db_status read_set(const struct crop_files *files, const struct db_ini *set, const struct db_ini *over)
{
    enum db_status status = DB_OK;

    for (size_t i = 0; status == DB_OK && i < db_ini_count(set); i++) {
        const struct db_ini_section *section = db_ini_at(set, i);

        if (is_source(section)) {
            struct db_value v[1];

            if (section->id)
                db_fields_read(section, source_rows, 1, v, db_load_reader(files->load));
            else
                TELL(files, section->at, "write a key after it, as in [source knott]", "this source has no key");
        } else if (section->id) {
            TELL(files, section->at, db_say(files->load->scratch, "write [%s-%s]", section->kind, section->id),
                 "a crop's name is one word");
        } else if (!over || !db_ini_find(over, section->title)) {
            if (db_crops_count(files->crops) < DB_LIMIT_CROPS)
                status = read_crop(files, section);
            else
                TELL(files, section->at, "", "there are more than %d crops", DB_LIMIT_CROPS);
        }
    }
    return status;
}

enum db_status db_crops_read(struct db_load *load, const char *shipped, const char *own, struct db_place own_at,
                             const struct db_crops **ret)
{
    static const char *const kinds[] = { "source", NULL };
    struct crop_files files = { .load = load, .crops = db_crops_new(load->arena) };
    const char *keys[CROP_ROWS + 2] = { "title" };
    const char *folder = db_say(load->arena, "%s/crops", shipped);
    enum db_status status;

    lay_rows(load, files.rows);
    for (size_t i = 0; i < CROP_ROWS; i++)
        keys[i + 1] = files.rows[i].key;
    const struct db_ini_shape shape = { kinds, keys };
    struct db_ini *base = db_ini_new(load->arena, load->scratch, load->mistakes, shape);
    struct db_ini *mine = db_ini_new(load->arena, load->scratch, load->mistakes, shape);
    if (!files.crops || !*folder || !base || !mine)
        return DB_FULL;
    files.shipped = base;
    files.own = own ? mine : NULL;
    status = db_load_ini(load, base, folder, (struct db_place){ .file = folder });
    if (status == DB_OK && own)
        status = db_load_ini(load, mine, own, own_at);
    if (status == DB_OK)
        status = read_set(&files, base, files.own);
    if (status == DB_OK && own)
        status = read_set(&files, mine, NULL);
    if (status == DB_OK)
        *ret = files.crops;
    return status;
}
