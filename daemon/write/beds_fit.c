/* How much of a crop a bed holds: plants, rows, seed. */
#include "write/beds.h"

#include "base/text.h"
#include "dewbell/space.h"
#include "dewbell/units.h"

#include <json-c/json.h>

#include <math.h>

#include "base/banned.h"

enum { SAID = 256 };
static const double nearly_square = 1.25; /* rows so many times as far apart as plants may be staggered */

struct fit {
    double apart, rows;                /* mm, the middle of the crop's ranges */
    double in_rows, staggered, row;    /* plants; mm of rows. 0: none fits, or not known */
    double seeds_a_metre, seed_weight; /* of thinned rows; g for all of them. NaN: not known */
    double free, free_plants;          /* m2 that is free today, and what it holds */
};

static struct fit fit_of(const struct db_bed *bed, const struct db_crop_facts *crop, double left)
{
    const struct db_sowing whole = { .crop = crop, .bed = bed, .into = bed, .way = crop->usual, .row = 1000 };
    struct fit f = { .apart = db_crop_middle(crop, DB_FACT_SPACING),
                     .rows = db_crop_middle(crop, DB_FACT_ROW_SPACING) };

    f.in_rows = db_plants_in_bed(bed->width, bed->length, f.apart, f.rows);
    f.row = db_rows_in_bed(bed->width, bed->length, f.rows);
    if (f.rows <= f.apart * nearly_square)
        f.staggered = db_plants_staggered(bed->width, bed->length, fmax(f.apart, f.rows));
    f.seeds_a_metre = crop->usual == DB_WAY_DRILL ? db_sowing_seeds(&whole) : (double) NAN;
    f.seed_weight = f.seeds_a_metre * f.row / 1000 / db_crop_middle(crop, DB_FACT_SEEDS_PER_GRAM);
    f.free = left;
    f.free_plants = floor(left * 1e6 / (f.apart * f.rows) + 1e-6);
    if (!(f.free_plants >= 0) || f.free_plants > f.in_rows)
        f.free_plants = f.in_rows;
    return f;
}

/* m2 that are likely free today. */
static enum db_status free_today(const struct db_jobs *jobs, const struct db_bed *bed, struct db_arena *arena,
                                 double *ret)
{
    const struct db_date today = db_jobs_view(jobs)->today;
    const struct db_step *steps;
    size_t count;
    const enum db_status status = db_plot_steps(db_jobs_plot(jobs), bed, today, today, arena, &steps, &count);

    *ret = status == DB_OK && count ? steps[0].left[1] : 0;
    return status;
}

static void add_amount(struct db_text *text, const struct db_jobs *jobs, double amount, enum db_kind kind)
{
    char words[64];

    (void) db_amount_text((struct db_amount){ amount, kind }, db_garden_site(db_jobs_view(jobs)->garden)->imperial,
                          words, sizeof words);
    db_text_add(text, words);
}

static enum db_status put_line(struct db_bytes *out, const char *line)
{
    const enum db_status status = db_bytes_text(out, line);

    return status == DB_OK ? db_bytes_text(out, "\n") : status;
}

static enum db_status tell(const struct db_jobs *jobs, const struct db_bed *bed, const struct db_crop_facts *crop,
                           const struct fit *f, struct db_bytes *out)
{
    char buffer[SAID];
    struct db_text text = db_text_in(buffer, sizeof buffer);
    enum db_status status;

    db_text_add_format(&text, "%s in %s", crop->text[DB_FACT_PLURAL], bed->name);
    if ((status = put_line(out, buffer)) != DB_OK)
        return status;
    text = db_text_in(buffer, sizeof buffer);
    db_text_add(&text, "  ");
    add_amount(&text, jobs, f->apart, DB_KIND_LENGTH);
    db_text_add(&text, " apart, rows ");
    add_amount(&text, jobs, f->rows, DB_KIND_LENGTH);
    db_text_add(&text, " apart");
    if ((status = put_line(out, buffer)) != DB_OK)
        return status;
    text = db_text_in(buffer, sizeof buffer);
    db_text_add_format(&text, "  %d in rows", (int) f->in_rows);
    if (f->staggered > 0)
        db_text_add_format(&text, ", %d staggered", (int) f->staggered);
    if ((status = put_line(out, buffer)) != DB_OK)
        return status;
    text = db_text_in(buffer, sizeof buffer);
    db_text_add(&text, "  ");
    add_amount(&text, jobs, f->row, DB_KIND_LENGTH);
    db_text_add(&text, " of rows");
    if (!isnan(f->seeds_a_metre))
        db_text_add_format(&text, ", %d seeds a metre", (int) f->seeds_a_metre);
    if (!isnan(f->seed_weight)) {
        db_text_add(&text, ", ");
        add_amount(&text, jobs, f->seed_weight, DB_KIND_WEIGHT);
    }
    if ((status = put_line(out, buffer)) != DB_OK)
        return status;
    text = db_text_in(buffer, sizeof buffer);
    db_text_add(&text, "  free today ");
    add_amount(&text, jobs, f->free, DB_KIND_AREA);
    db_text_add_format(&text, ": %d", (int) f->free_plants);
    return put_line(out, buffer);
}

enum db_status db_beds_fit_text(const struct db_jobs *jobs, const struct db_bed *bed, const struct db_crop_facts *crop,
                                struct db_arena *arena, struct db_bytes *out)
{
    double left;
    enum db_status status = free_today(jobs, bed, arena, &left);

    if (status == DB_OK) {
        const struct fit f = fit_of(bed, crop, left);

        status = tell(jobs, bed, crop, &f, out);
    }
    return status;
}

static bool put_number(json_object *to, const char *key, double number)
{
    char words[40];
    struct db_text text = db_text_in(words, sizeof words);
    json_object *value = NULL;

    db_text_add_number(&text, number, 4);
    if (isfinite(number) && !(value = json_object_new_double_s(number, words)))
        return false;
    return json_object_object_add(to, key, value) == 0;
}

static bool put_fit(json_object *to, const struct db_bed *bed, const struct db_crop_facts *crop, const struct fit *f)
{
    json_object *id = json_object_new_string(bed->id), *crop_id = json_object_new_string(crop->id);

    return id && json_object_object_add(to, "bed", id) == 0 && crop_id &&
           json_object_object_add(to, "crop", crop_id) == 0 && put_number(to, "apart", f->apart) &&
           put_number(to, "rows_apart", f->rows) && put_number(to, "in_rows", f->in_rows) &&
           put_number(to, "staggered", f->staggered > 0 ? f->staggered : (double) NAN) &&
           put_number(to, "row", f->row / 1000) && put_number(to, "seeds_a_metre", f->seeds_a_metre) &&
           put_number(to, "seed", f->seed_weight) && put_number(to, "free", f->free) &&
           put_number(to, "fit_in_free", f->free_plants);
}

enum db_status db_beds_fit_json(const struct db_jobs *jobs, const struct db_bed *bed, const struct db_crop_facts *crop,
                                struct db_arena *arena, struct db_bytes *out)
{
    double left;
    enum db_status status = free_today(jobs, bed, arena, &left);
    json_object *object = json_object_new_object();
    const char *text = NULL;

    if (status == DB_OK) {
        const struct fit f = fit_of(bed, crop, left);

        if (object && put_fit(object, bed, crop, &f))
            text = json_object_to_json_string_ext(object, JSON_C_TO_STRING_PLAIN | JSON_C_TO_STRING_NOSLASHESCAPE);
        status = text ? put_line(out, text) : DB_FULL;
    }
    (void) json_object_put(object);
    return status;
}
