#define DB_PURE
#include "dewbell/diary.h"

#include "base/sort.h"

#include <stdint.h>
#include <string.h>

#include "base/banned.h"

static const char *const stage_words[DB_STAGE_COUNT] = { "sown",      "up",      "pricked_out", "rooted",
                                                         "hardening", "planted", "cropping",    "cleared" };

/* A note that counts, in the order in which it is looked for. */
struct entry {
    size_t sowing;
    const struct db_note *note;
};

struct db_diary {
    struct db_arena *arena;
    struct db_note *notes;
    size_t count, room;
    struct entry *entries; /* by sowing, word, date, number; made by close */
    size_t entry_count;
};

const char *db_stage_word(enum db_stage stage)
{
    return (size_t) stage < DB_STAGE_COUNT ? stage_words[stage] : "";
}

int db_stage_find(const char *word)
{
    for (int i = 0; i < DB_STAGE_COUNT; i++)
        if (strcmp(stage_words[i], word) == 0)
            return i;
    return -1;
}

struct db_diary *db_diary_new(struct db_arena *arena)
{
    struct db_diary *diary = db_arena_get(arena, 1, sizeof *diary);

    if (diary)
        diary->arena = arena;
    return diary;
}

enum db_status db_diary_add(struct db_diary *diary, const struct db_note *note)
{
    if (diary->count == diary->room) {
        const size_t room = diary->room ? 2 * diary->room : 32;
        struct db_note *notes = db_arena_get(diary->arena, room, sizeof *notes);

        if (!notes)
            return DB_FULL;
        if (diary->count)
            memcpy(notes, diary->notes, diary->count * sizeof *notes);
        diary->notes = notes;
        diary->room = room;
    }
    diary->notes[diary->count++] = *note;
    return DB_OK;
}

static int by_number(const void *a, const void *b, const void *context)
{
    const struct db_note *x = a, *y = b;

    (void) context;
    return (x->number > y->number) - (x->number < y->number);
}

static int by_subject(size_t sowing_a, const char *word_a, size_t sowing_b, const char *word_b)
{
    return sowing_a != sowing_b ? (sowing_a > sowing_b ? 1 : -1) : strcmp(word_a, word_b);
}

/* The notes are in order of number already, so a stable sort by date keeps that order within a day. */
static int by_entry(const void *a, const void *b, const void *context)
{
    const struct entry *x = a, *y = b;
    const int subject = by_subject(x->sowing, x->note->word, y->sowing, y->note->word);

    (void) context;
    return subject ? subject : (x->note->date.day > y->note->date.day) - (x->note->date.day < y->note->date.day);
}

enum db_status db_diary_close(struct db_diary *diary, const struct db_garden *garden)
{
    struct entry *entries = db_arena_get(diary->arena, diary->count, sizeof *entries);
    size_t count = 0;

    if (!entries)
        return DB_FULL;
    if (db_sort(diary->notes, diary->count, sizeof *diary->notes, by_number, NULL, diary->arena) != DB_OK)
        return DB_FULL;
    for (size_t i = 0; i < diary->count; i++) {
        const struct db_note *note = &diary->notes[i];
        const size_t sowing = note->struck ? SIZE_MAX : db_garden_find_sowing(garden, note->sowing);

        if (sowing != SIZE_MAX && db_date_known(note->date))
            entries[count++] = (struct entry){ sowing, note };
    }
    if (db_sort(entries, count, sizeof *entries, by_entry, NULL, diary->arena) != DB_OK)
        return DB_FULL;
    diary->entries = entries;
    diary->entry_count = count;
    return DB_OK;
}

size_t db_diary_count(const struct db_diary *diary)
{
    return diary->count;
}

const struct db_note *db_diary_at(const struct db_diary *diary, size_t index)
{
    return index < diary->count ? &diary->notes[index] : NULL;
}

/* The first entry of this sowing and word, or, with `past`, the first one after them. */
static size_t bound(const struct db_diary *diary, size_t sowing, const char *word, bool past)
{
    size_t low = 0, high = diary->entry_count;

    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        const struct entry *e = &diary->entries[middle];
        const int order = by_subject(e->sowing, e->note->word, sowing, word);

        if (order < 0 || (past && order == 0))
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

struct db_date db_diary_last(const struct db_diary *diary, size_t sowing, const char *word)
{
    if (!diary)
        return DB_NO_DATE;

    const size_t first = bound(diary, sowing, word, false), end = bound(diary, sowing, word, true);

    return first < end ? diary->entries[end - 1].note->date : DB_NO_DATE;
}

struct db_date db_diary_last_by(const struct db_diary *diary, size_t sowing, const char *word, struct db_date until)
{
    if (!diary)
        return DB_NO_DATE;

    const size_t first = bound(diary, sowing, word, false);
    size_t end = bound(diary, sowing, word, true);

    while (end > first && diary->entries[end - 1].note->date.day > until.day)
        end--;
    return first < end ? diary->entries[end - 1].note->date : DB_NO_DATE;
}

size_t db_diary_dates(const struct db_diary *diary, size_t sowing, const char *word, struct db_date *ret, size_t room)
{
    if (!diary)
        return 0;

    const size_t first = bound(diary, sowing, word, false), end = bound(diary, sowing, word, true);

    for (size_t i = first; i < end && i - first < room; i++)
        ret[i - first] = diary->entries[i].note->date;
    return end - first;
}

size_t db_diary_of(const struct db_diary *diary, size_t sowing, size_t from, const struct db_note **ret, size_t room)
{
    size_t count = 0;

    if (!diary)
        return 0;
    for (size_t i = bound(diary, sowing, "", false) + from;
         count < room && i < diary->entry_count && diary->entries[i].sowing == sowing; i++)
        ret[count++] = diary->entries[i].note;
    return count;
}
