/* Beds over time as text. */
#include "write/beds.h"

#include "base/text.h"
#include "dewbell/units.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

enum { COLUMNS = 44, SAID = 512 };

struct telling {
    const struct db_jobs *jobs;
    const struct db_plot *plot;
    struct db_arena *arena;
    struct db_bytes *out;
    enum db_status status;
};

bool db_beds_shows(const struct db_jobs *jobs, const struct db_stay *stay)
{
    const int32_t today = db_jobs_view(jobs)->today.day;

    return stay->from[1].day <= today + DB_BEDS_AHEAD && (!db_date_known(stay->to[1]) || stay->to[1].day > today);
}

bool db_beds_has_tray(const struct db_jobs *jobs, size_t sowing, const struct db_bed *bed)
{
    const struct db_sowing *it = db_garden_sowing(db_jobs_view(jobs)->garden, sowing);
    const struct db_life *life = db_jobs_life(jobs, sowing);
    const struct db_date sown = life->stage[DB_STAGE_SOWN].likely, planted = life->stage[DB_STAGE_PLANTED].likely,
                         cleared = life->stage[DB_STAGE_CLEARED].likely;
    const int32_t today = db_jobs_view(jobs)->today.day;
    const struct db_date leaves = it->into == it->bed ? cleared : planted;

    return it->bed == bed && (it->way == DB_WAY_PLUGS || it->way == DB_WAY_POT) && db_date_known(sown) &&
           sown.day <= today + DB_BEDS_TRAYS && (!db_date_known(leaves) || leaves.day > today) &&
           life->stage[DB_STAGE_CLEARED].how != DB_NOTED;
}

/* One or more lines of at most 44 columns: the first indented by `first`, those after it by `indent`. */
static void say(struct telling *t, size_t first, size_t indent, const char *said)
{
    const char *text = db_clean_line(said, t->arena);
    size_t column = 0;

    if (!text)
        t->status = DB_FULL;
    while (t->status == DB_OK && *text) {
        const size_t length = strcspn(text, " "), wide = db_text_characters(text, length);

        if (column && column + 1 + wide > COLUMNS) {
            t->status = db_bytes_text(t->out, "\n");
            column = 0;
            first = indent;
        }
        if (t->status == DB_OK)
            t->status = db_bytes_format(t->out, "%*s%.*s", column ? 1 : (int) first, "", (int) length, text);
        column += wide + (column ? 1 : first);
        text += length;
        text += strspn(text, " ");
    }
    if (t->status == DB_OK)
        t->status = db_bytes_text(t->out, "\n");
}

static void add_day(struct db_text *text, const struct telling *t, struct db_date day)
{
    char words[DB_WORDS];
    int year, this_year;

    db_date_parts(day, &year, NULL, NULL);
    db_date_parts(db_jobs_view(t->jobs)->today, &this_year, NULL, NULL);
    db_text_add(text, db_words_date(day, words));
    if (year != this_year) {
        db_text_add(text, " ");
        db_text_add_int(text, year);
    }
}

/* "4 July (28 June to 12 July)" */
static void add_days(struct db_text *text, const struct telling *t, const struct db_date day[3])
{
    add_day(text, t, day[1]);
    if (!db_date_known(day[0]) || !db_date_known(day[2]) || day[0].day >= day[2].day)
        return;
    db_text_add(text, " (");
    add_day(text, t, day[0]);
    db_text_add(text, " to ");
    add_day(text, t, day[2]);
    db_text_add(text, ")");
}

static void add_ground(struct db_text *text, const struct telling *t, double ground)
{
    char words[64];

    (void) db_amount_text((struct db_amount){ ground, DB_KIND_AREA },
                          db_garden_site(db_jobs_view(t->jobs)->garden)->imperial, words, sizeof words);
    db_text_add(text, words);
}

static const struct db_sowing *sowing_at(const struct telling *t, size_t index)
{
    return db_garden_sowing(db_jobs_view(t->jobs)->garden, index);
}

static const char *crops(const struct telling *t, size_t index)
{
    return sowing_at(t, index)->crop->text[DB_FACT_PLURAL];
}

static void say_clash(struct telling *t, const struct db_room *room)
{
    char buffer[SAID];
    struct db_text text = db_text_in(buffer, sizeof buffer);

    if (room->fit != DB_FIT_NO)
        return;
    if (db_date_known(room->ready[1])) {
        db_text_add(&text, "! full until ");
        add_days(&text, t, room->ready);
    } else
        db_text_add(&text, "! no room here as far as is known");
    if (room->elsewhere) {
        db_text_add_format(&text, "; room %s from ", room->elsewhere->where);
        add_day(&text, t, room->elsewhere_from);
    }
    say(t, 4, 6, buffer);
}

static void say_family(struct telling *t, const struct db_stay *stay, const struct db_room *room)
{
    const double off = db_crop_middle(sowing_at(t, stay->sowing)->crop, DB_FACT_KEEP_OFF);
    char buffer[SAID];
    struct db_text text = db_text_in(buffer, sizeof buffer);

    if (!room->family || isnan(off) || room->seasons * 365.25 >= off)
        return;
    db_text_add_format(&text, "! %s, of one family with them, were here in %d", room->family->text[DB_FACT_PLURAL],
                       room->family_season);
    say(t, 4, 6, buffer);
}

/* "! ready 1 June, but manured on 1 April: to be harvested from 30 July" */
static void say_held(struct telling *t, const struct db_stay *stay)
{
    const struct db_life *life = db_jobs_life(t->jobs, stay->sowing);
    const struct db_sowing *sowing = sowing_at(t, stay->sowing);
    const struct db_date ripe = life->ripe.likely;
    struct db_date manured;
    const struct db_date old = db_bed_harvest(stay->bed, db_crop_manure_wait(sowing->crop), ripe, &manured);
    char buffer[SAID];
    struct db_text text = db_text_in(buffer, sizeof buffer);

    if (life->ripe.how != DB_ESTIMATED || !db_date_known(manured) || old.day <= ripe.day)
        return;
    db_text_add(&text, "! ready ");
    add_day(&text, t, ripe);
    db_text_add(&text, ", but manured ");
    add_day(&text, t, manured);
    db_text_add(&text, ": not to be harvested before ");
    add_day(&text, t, old);
    say(t, 4, 6, buffer);
}

static void say_stay(struct telling *t, const struct db_stay *stay)
{
    const struct db_sowing *sowing = sowing_at(t, stay->sowing);
    char buffer[SAID];
    struct db_text text = db_text_in(buffer, sizeof buffer);

    db_text_add_format(&text, "%s (%s)", crops(t, stay->sowing), sowing->id);
    if (!isnan(stay->ground[0])) {
        db_text_add(&text, ", ");
        add_ground(&text, t, stay->ground[0]);
    }
    say(t, 2, 4, buffer);
    text = db_text_in(buffer, sizeof buffer);
    db_text_add(&text, stay->noted ? "since " : "from ");
    add_days(&text, t, stay->from);
    if (db_date_known(stay->to[1])) {
        db_text_add(&text, " until ");
        add_days(&text, t, stay->to);
    }
    say(t, 4, 4, buffer);
    if (stay->host != SIZE_MAX && (!db_date_known(stay->takes[1]) || stay->takes[1].day > stay->from[1].day)) {
        text = db_text_in(buffer, sizeof buffer);
        db_text_add_format(&text, "between the rows of %s", sowing_at(t, stay->host)->id);
        if (db_date_known(stay->takes[1])) {
            db_text_add(&text, " until ");
            add_days(&text, t, stay->takes);
        }
        say(t, 4, 4, buffer);
    }
    say_clash(t, db_plot_room(t->plot, stay->sowing));
    say_family(t, stay, db_plot_room(t->plot, stay->sowing));
    say_held(t, stay);
}

static void say_tray(struct telling *t, size_t index)
{
    const struct db_sowing *sowing = sowing_at(t, index);
    const struct db_life *life = db_jobs_life(t->jobs, index);
    const struct db_turn *planted = &life->stage[DB_STAGE_PLANTED], *sown = &life->stage[DB_STAGE_SOWN];
    char buffer[SAID];
    struct db_text text = db_text_in(buffer, sizeof buffer);

    db_text_add_format(&text, "tray of %s (%s)", crops(t, index), sowing->id);
    if (sown->likely.day > db_jobs_view(t->jobs)->today.day) {
        db_text_add(&text, " from ");
        add_day(&text, t, sown->likely);
    }
    if (sowing->into != sowing->bed) {
        db_text_add_format(&text, ", then %s", sowing->into->where);
        if (db_date_known(planted->likely)) {
            const struct db_date days[3] = { planted->early, planted->likely, planted->late };

            db_text_add(&text, " from ");
            add_days(&text, t, days);
        }
    }
    say(t, 2, 4, buffer);
}

/* "3.2 m2 (1.1 to 3.6 m2)" */
static void add_left(struct db_text *text, const struct telling *t, const double left[3])
{
    size_t number;

    if (left[1] < 0.005)
        db_text_add(text, "nothing");
    else
        add_ground(text, t, left[1]);
    if (left[2] - left[0] < 0.05)
        return;
    db_text_add(text, " (");
    number = text->length;
    add_ground(text, t, left[0]);
    text->length = number + strcspn(text->data + number, " "); /* the unit is said once */
    text->data[text->length] = '\0';
    db_text_add(text, " to ");
    add_ground(text, t, left[2]);
    db_text_add(text, ")");
}

/* What is free now, and each day on which that changes so that it shows. */
static void say_free(struct telling *t, const struct db_step *steps, size_t count)
{
    char before[SAID] = "", buffer[SAID];

    for (size_t i = 0; t->status == DB_OK && i < count; i++) {
        char ground[64];
        struct db_text left = db_text_in(ground, sizeof ground), text = db_text_in(buffer, sizeof buffer);

        add_left(&left, t, steps[i].left);
        if (strcmp(ground, before) == 0)
            continue;
        memcpy(before, ground, sizeof ground);
        db_text_add(&text, i ? "from " : "free now ");
        if (i) {
            add_day(&text, t, steps[i].from);
            db_text_add(&text, " ");
        }
        db_text_add(&text, ground);
        say(t, i ? 4 : 2, 6, buffer);
    }
}

/* Raw manure that is not old enough yet, for what touches the soil and for what hangs clear of it. */
static void say_manured(struct telling *t, const struct db_bed *bed)
{
    const int32_t today = db_jobs_view(t->jobs)->today.day;

    for (size_t i = 0; i < bed->manured_count && bed->manured[i].day <= today + DB_BEDS_AHEAD; i++) {
        const struct db_date day = bed->manured[i], all = db_date_add(day, DB_MANURE_TOUCHING),
                             some = db_date_add(day, DB_MANURE_CLEAR);
        char buffer[SAID];
        struct db_text text = db_text_in(buffer, sizeof buffer);

        if (all.day <= today)
            continue;
        db_text_add(&text, "manured ");
        add_day(&text, t, day);
        db_text_add(&text, ": to be harvested from ");
        add_day(&text, t, all);
        if (some.day > today) {
            db_text_add(&text, ", what hangs clear of the soil from ");
            add_day(&text, t, some);
        }
        say(t, 2, 4, buffer);
    }
}

static void say_bed(struct telling *t, const struct db_bed *bed)
{
    const struct db_garden *garden = db_jobs_view(t->jobs)->garden;
    const struct db_date today = db_jobs_view(t->jobs)->today;
    const size_t sowings = db_garden_sowings(garden), stays = db_plot_count(t->plot, bed);
    const struct db_step *steps;
    size_t count, shown = 0;
    char buffer[SAID];
    struct db_text text = db_text_in(buffer, sizeof buffer);

    db_text_add(&text, bed->name);
    if (buffer[0] >= 'a' && buffer[0] <= 'z')
        buffer[0] = (char) (buffer[0] - 'a' + 'A');
    if (bed->width * bed->length > 0) {
        db_text_add(&text, ", ");
        add_ground(&text, t, bed->width * bed->length / 1e6);
    }
    if (t->out->length)
        t->status = db_bytes_text(t->out, "\n");
    say(t, 0, 2, buffer);
    say_manured(t, bed);
    for (size_t i = 0; i < stays && t->status == DB_OK; i++) {
        const struct db_stay *stay = db_plot_at(t->plot, bed, i);

        if (!db_beds_shows(t->jobs, stay))
            continue;
        say_stay(t, stay);
        shown++;
    }
    for (size_t i = 0; i < sowings && t->status == DB_OK; i++)
        if (db_beds_has_tray(t->jobs, i, bed)) {
            say_tray(t, i);
            shown++;
        }
    if (t->status == DB_OK && !shown)
        say(t, 2, 2, "nothing in it");
    if (t->status == DB_OK)
        t->status = db_plot_steps(t->plot, bed, today, db_date_add(today, DB_BEDS_AHEAD), t->arena, &steps, &count);
    if (t->status == DB_OK)
        say_free(t, steps, count);
}

enum db_status db_beds_text(const struct db_jobs *jobs, const struct db_bed *bed, struct db_arena *arena,
                            struct db_bytes *out)
{
    const struct db_garden *garden = db_jobs_view(jobs)->garden;
    struct telling t = { .jobs = jobs, .plot = db_jobs_plot(jobs), .arena = arena, .out = out };

    for (size_t b = 0; b < db_garden_beds(garden) && t.status == DB_OK; b++)
        if (!bed || bed == db_garden_bed(garden, b))
            say_bed(&t, db_garden_bed(garden, b));
    return t.status;
}
