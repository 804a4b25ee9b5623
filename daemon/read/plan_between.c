/* `between`: a sowing between the rows of another. Read when all sowings are known, as the other may stand below. */
#include "read/load.h"

#include "base/text.h"
#include "read/files.h"

#include <string.h>

#include "base/banned.h"

enum { NOBODY = -1, ROW_GAP = 150 /* mm from the other's row; common practice, no source */ };
enum { UNSEEN, ON_THE_WAY, SEEN };

#define TELL(load, place, instead, ...) db_mistakes_add((load)->mistakes, place, instead, __VA_ARGS__)

struct between {
    struct db_load *load;
    const struct db_plan *plan;
    const struct db_garden *garden;
    int32_t *host; /* of each sowing; NOBODY */
};

static const struct db_words *words_of(const struct between *b, const struct db_sowing *sowing)
{
    const struct db_ini_section *section = db_ini_find(b->plan->ini, db_say(b->load->scratch, "sowing %s", sowing->id));

    return section ? db_ini_value(section, "between") : NULL;
}

static struct db_place place_of(const struct between *b, const struct db_sowing *sowing)
{
    const struct db_words *words = words_of(b, sowing);

    return words ? db_words_place(words, 0, words->length) : sowing->at;
}

static bool is_tray(const struct db_sowing *sowing)
{
    return sowing->way == DB_WAY_PLUGS || sowing->way == DB_WAY_POT;
}

static enum db_status refuse_unknown(const struct between *b, const struct db_sowing *sowing)
{
    const size_t count = db_garden_sowings(b->garden);
    const char **names;
    const char *near;

    if (db_ini_find(b->plan->ini, db_say(b->load->scratch, "sowing %s", sowing->between)))
        return DB_OK; /* it is there, and something else is wrong with it */
    names = db_arena_get(b->load->scratch, count, sizeof *names);
    if (!names)
        return DB_FULL;
    for (size_t i = 0; i < count; i++)
        names[i] = db_garden_sowing(b->garden, i)->id;
    near = db_did_you_mean(db_load_reader(b->load), sowing->between, names, count);
    TELL(b->load, place_of(b, sowing), *near ? near : "write the name of its section, as in between = garlic-1",
         "there is no sowing \"%s\"", sowing->between);
    return DB_OK;
}

/* What makes poor neighbours, though it can be done. */
static void advise(const struct between *b, const struct db_sowing *sowing, const struct db_sowing *host)
{
    const char *family = sowing->crop->text[DB_FACT_FAMILY], *other = host->crop->text[DB_FACT_FAMILY];
    const double rows = host->crop->high[DB_FACT_ROW_SPACING];
    char gap[48];

    if (family && other && strcmp(family, other) == 0)
        db_mistakes_advise(b->load->mistakes, place_of(b, sowing), "choose a host of another family if you can",
                           "%s and %s are both %s and share their troubles", sowing->crop->text[DB_FACT_NAME],
                           host->crop->text[DB_FACT_NAME], family);
    if (rows < 2 * ROW_GAP) {
        (void) db_amount_text((struct db_amount){ rows, DB_KIND_LENGTH }, db_garden_site(b->garden)->imperial, gap,
                              sizeof gap);
        db_mistakes_advise(b->load->mistakes, place_of(b, sowing), "leave wider rows, or a row out, where it is to go",
                           "the rows of %s stand %s apart and leave little room between them",
                           host->crop->text[DB_FACT_NAME], gap);
    }
}

/* The host, NOBODY without one or with one that cannot be. */
static enum db_status find_host(const struct between *b, size_t index)
{
    const struct db_sowing *sowing = db_garden_sowing(b->garden, index), *host;
    size_t found;

    b->host[index] = NOBODY;
    if (!sowing->between)
        return DB_OK;
    found = db_garden_find_sowing(b->garden, sowing->between);
    if (found == SIZE_MAX)
        return refuse_unknown(b, sowing);
    host = db_garden_sowing(b->garden, found);
    if (found == index)
        TELL(b->load, place_of(b, sowing), "name the other sowing, or take it out",
             "%s cannot stand between its own rows", sowing->id);
    else if (host->into != sowing->into)
        TELL(
            b->load, place_of(b, sowing),
            db_say(b->load->scratch, "write %s = %s, or take it out", is_tray(sowing) ? "into" : "bed", host->into->id),
            "%s grows in %s and %s in %s", host->id, host->into->id, sowing->id, sowing->into->id);
    else {
        advise(b, sowing, host);
        b->host[index] = (int32_t) found;
    }
    return DB_OK;
}

/* "a between b, b between c, c between a" */
static void refuse_circle(const struct between *b, size_t start)
{
    char words[160];
    struct db_text text = db_text_in(words, sizeof words);
    size_t at = start;
    int named = 0;

    do {
        if (named++ < 3)
            db_text_add_format(&text, "%s%s between %s", named > 1 ? ", " : "", db_garden_sowing(b->garden, at)->id,
                               db_garden_sowing(b->garden, (size_t) b->host[at])->id);
        at = (size_t) b->host[at];
    } while (at != start);
    TELL(b->load, place_of(b, db_garden_sowing(b->garden, start)), "take one of them out",
         "these sowings stand between one another: %s%s", words, named > 3 ? " and so on" : "");
}

/* Every sowing has one host at most, so each way from host to host is walked once. */
static enum db_status find_circles(const struct between *b)
{
    const size_t count = db_garden_sowings(b->garden);
    unsigned char *seen = db_arena_get(b->load->scratch, count, 1);

    if (!seen)
        return DB_FULL;
    for (size_t i = 0; i < count; i++) {
        int32_t at = (int32_t) i;

        for (; at != NOBODY && seen[at] == UNSEEN; at = b->host[at])
            seen[at] = ON_THE_WAY;
        if (at != NOBODY && seen[at] == ON_THE_WAY)
            refuse_circle(b, (size_t) at);
        for (at = (int32_t) i; at != NOBODY && seen[at] == ON_THE_WAY; at = b->host[at])
            seen[at] = SEEN;
    }
    return DB_OK;
}

enum db_status db_plan_between(struct db_load *load, const struct db_plan *plan, const struct db_garden *garden)
{
    const size_t count = db_garden_sowings(garden);
    struct between b = { load, plan, garden, db_arena_get(load->scratch, count, sizeof *b.host) };
    enum db_status status = b.host ? DB_OK : DB_FULL;

    for (size_t i = 0; i < count && status == DB_OK; i++)
        status = find_host(&b, i);
    return status == DB_OK ? find_circles(&b) : status;
}
