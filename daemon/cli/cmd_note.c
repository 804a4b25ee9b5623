/* note: what was seen or done. It is refused when it cannot be true; once acknowledged it is never lost. */
#include "cli/cli.h"

#include "base/text.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* The words after SOWING WORD as one date: "14 June 2026", "2026-06-14", "yesterday", "14 June" (the last one there was). */
static int read_day(const struct db_session *s, int count, char **words, struct db_date *ret_day)
{
    char joined[96], dated[112];
    struct db_text text = db_text_in(joined, sizeof joined);
    int year;

    if (count == 0) {
        *ret_day = s->today;
        return DB_EXIT_FINE;
    }
    for (int i = 0; i < count; i++) {
        db_text_add(&text, i ? " " : "");
        db_text_add(&text, words[i]);
    }
    if (strcmp(joined, "today") == 0 || strcmp(joined, "yesterday") == 0) {
        *ret_day = db_date_add(s->today, joined[0] == 'y' ? -1 : 0);
        return DB_EXIT_FINE;
    }
    enum db_status status = db_date_read(joined, text.length, ret_day);
    db_date_parts(s->today, &year, NULL, NULL);
    for (int back = 0; status == DB_RANGE && back < 2; back++) {
        int length = snprintf(dated, sizeof dated, "%s %d", joined, year - back);
        status = db_date_read(dated, (size_t) length, ret_day);
        if (status == DB_OK && ret_day->day > s->today.day && back == 0)
            status = DB_RANGE; /* said in January of a day in December: last year's */
    }
    if (status == DB_OK)
        return DB_EXIT_FINE;
    if (status == DB_ABSENT)
        fprintf(stderr, "dewbell: the calendar has no day \"%s\"\n", joined);
    else
        fprintf(stderr, "dewbell: \"%s\" is not a date; write 2026-06-14, \"14 June\" or yesterday\n", joined);
    return DB_EXIT_USAGE;
}

/* The word as the rules know it ("pricked-out" is taken for pricked_out), or NULL after saying what was perhaps meant. */
static const char *known_word(const struct db_session *s, const char *said)
{
    char word[64];
    struct db_text text = db_text_in(word, sizeof word);
    const char *known;
    size_t count = 0;

    db_text_add(&text, said);
    for (char *c = word; *c; c++)
        if (*c == '-' || *c == ' ')
            *c = '_';
    for (; (known = db_rules_note_word(s->estate.rules, count)) != NULL; count++)
        if (strcmp(known, word) == 0 || strcmp(known, said) == 0)
            return known;
    const char **names = calloc(count + 1, sizeof *names);
    if (!names)
        return NULL;
    for (size_t i = 0; i < count; i++)
        names[i] = db_rules_note_word(s->estate.rules, i);
    const char *near = db_nearest(word, names, count);
    fprintf(stderr, "dewbell: \"%s\" is not a word for a note", said);
    if (near)
        fprintf(stderr, "; did you mean \"%s\"?", near);
    fprintf(stderr, "\nThe words are:");
    for (size_t i = 0; i < count; i++)
        fprintf(stderr, "%s %s", i ? "," : "", names[i]);
    fputc('\n', stderr);
    free(names);
    return NULL;
}

/* The note that stands for this sowing and word; on `day` if that is a date. */
static const struct db_note *standing(const struct db_session *s, const char *sowing, const char *word,
                                      struct db_date day)
{
    const struct db_note *note, *found = NULL;

    for (size_t i = 0; (note = db_diary_at(s->diary, i)) != NULL; i++)
        if (!note->struck && strcmp(note->sowing, sowing) == 0 && strcmp(note->word, word) == 0 &&
            (!db_date_known(day) || note->date.day == day.day))
            found = note;
    return found;
}

/* A day that cannot be true is refused with the reason. */
static bool is_possible(const struct db_session *s, size_t index, const char *word, struct db_date day)
{
    const struct db_sowing *sowing = db_garden_sowing(s->estate.garden, index);
    int stage = db_stage_find(word);
    char said[48], other[48];

    if (day.day > s->today.day) {
        fprintf(stderr, "dewbell: %s is still to come; a note is for what was seen or done\n",
                db_show_short(day, s->today, said));
        return false;
    }
    const struct db_note *same = standing(s, sowing->id, word, stage >= 0 ? DB_NO_DATE : day);
    if (same) {
        fprintf(stderr,
                "dewbell: %s is noted %s on %s already (note %lld); to change it: dewbell strike %lld, then note it "
                "again\n",
                sowing->id, word, db_show_short(same->date, s->today, other), (long long) same->number,
                (long long) same->number);
        return false;
    }
    struct db_date sown = db_diary_last(s->diary, index, db_stage_word(DB_STAGE_SOWN));
    if (!db_date_known(sown))
        sown = sowing->sown;
    if (stage != DB_STAGE_SOWN && db_date_known(sown) && day.day < sown.day) {
        fprintf(stderr, "dewbell: %s was sown on %s; %s is before that\n", sowing->id,
                db_show_short(sown, s->today, other), db_show_short(day, s->today, said));
        return false;
    }
    for (int i = 0; stage >= 0 && i < DB_STAGE_COUNT; i++) {
        struct db_date noted = db_diary_last(s->diary, index, db_stage_word((enum db_stage) i));
        if (!db_date_known(noted) || i == stage || (i < stage ? noted.day <= day.day : noted.day >= day.day))
            continue;
        fprintf(stderr, "dewbell: %s is noted %s on %s, so it cannot have been %s on %s\n", sowing->id,
                db_stage_word((enum db_stage) i), db_show_short(noted, s->today, other), word,
                db_show_short(day, s->today, said));
        return false;
    }
    return true;
}

/* One line a job of this sowing that the note moved, finished, brought or took away. */
static void show_effect(const struct db_session *s, const struct db_jobs *before, size_t sowing)
{
    const struct db_jobs *sets[2] = { before, s->jobs };
    char name[256], from[48], to[48];
    bool said = false;

    for (int set = 0; set < 2; set++)
        for (size_t i = 0; i < db_jobs_count(sets[set]); i++) {
            const struct db_job *job = db_jobs_at(sets[set], i);
            if (job->sowing != sowing || job->last.day < s->today.day)
                continue;
            (void) db_job_name(sets[set], job, name, sizeof name);
            const struct db_job *twin = db_jobs_find(sets[1 - set], name);
            const char *what = db_job_summary(sets[set], job, s->work);
            if (!what)
                return;
            if (twin && set == 0)
                continue; /* said from the other side */
            if (twin && twin->on.day == job->on.day && twin->state == job->state)
                continue;
            if (!said)
                printf("What changes:\n");
            said = true;
            (void) db_show_short(job->on, s->today, to);
            if (!twin)
                printf("  %s: %s, %s\n", set == 0 ? "no longer needed" : "new", what, to);
            else if (job->state == DB_JOB_DONE)
                printf("  done: %s\n", what);
            else
                printf("  moves: %s, from %s to %s\n", what, db_show_short(twin->on, s->today, from), to);
        }
}

/* What goes with it: who sows under a board has laid the board. Exit status. */
static int note_also(struct db_session *s, const struct db_jobs *jobs, size_t index, const struct db_note *note)
{
    char shown[48];

    for (size_t i = 0; i < db_jobs_count(jobs); i++) {
        const struct db_job *job = db_jobs_at(jobs, i);
        const char *also = db_rule_also(s->estate.rules, job->rule);
        struct db_note other = *note;
        int64_t number;

        if (job->sowing != index || job->state != DB_JOB_OPEN || !also ||
            strcmp(db_rule_records(s->estate.rules, job->rule), note->word) != 0 || note->date.day < job->first.day ||
            note->date.day > job->last.day || standing(s, note->sowing, also, note->date))
            continue;
        other.word = also;
        other.text = "";
        if (db_record_add_note(s->record, &other, db_clock_now(), &number) != DB_OK) {
            fprintf(stderr, "dewbell: that it was %s too was NOT written: %s\n", also, db_record_trouble(s->record));
            return DB_EXIT_TROUBLE;
        }
        printf("Noted with it: %s %s on %s (note %lld); strike it if that was not done\n", other.sowing, also,
               db_show_day(other.date, shown), (long long) number);
    }
    return DB_EXIT_FINE;
}

int db_cmd_note(struct db_session *s, int count, char **words)
{
    struct db_date day;
    char shown[48];
    int64_t number = 0;
    int status = db_session_read(s);

    if (status == DB_EXIT_FINE)
        status = db_session_record(s, true);
    if (status == DB_EXIT_FINE)
        status = read_day(s, count - 2, words + 2, &day);
    if (status != DB_EXIT_FINE)
        return status;
    size_t index = db_session_sowing(s, words[0]);
    const char *word = index == SIZE_MAX ? NULL : known_word(s, words[1]);
    if (!word || !is_possible(s, index, word, day))
        return DB_EXIT_ABSENT;
    const char *remark = s->options.text ? s->options.text : "";
    size_t at;
    if (!db_text_utf8(remark, strlen(remark), &at) || strlen(remark) > 2000) {
        fprintf(stderr, "dewbell: the remark must be UTF-8 text of at most 2000 bytes\n");
        return DB_EXIT_USAGE;
    }
    status = db_session_jobs(s);
    if (status != DB_EXIT_FINE)
        return status;
    const struct db_jobs *before = s->jobs;
    struct db_note note = {
        .sowing = db_garden_sowing(s->estate.garden, index)->id, .word = word, .date = day, .text = remark
    };
    if (db_record_add_note(s->record, &note, db_clock_now(), &number) != DB_OK) {
        fprintf(stderr, "dewbell: the note was NOT written: %s\n", db_record_trouble(s->record));
        return DB_EXIT_TROUBLE;
    }
    printf("Noted: %s %s on %s (note %lld)\n", note.sowing, word, db_show_day(day, shown), (long long) number);
    status = note_also(s, before, index, &note);
    (void) fflush(stdout); /* it is safe now, whatever comes after */
    if (status == DB_EXIT_FINE)
        status = db_session_again(s);
    if (status == DB_EXIT_FINE)
        show_effect(s, before, index);
    return status;
}

int db_cmd_strike(struct db_session *s, int count, char **words)
{
    char *end, shown[48];
    int status;
    long long number = strtoll(words[0], &end, 10);

    (void) count;
    if (*end != '\0' || number < 1) {
        fprintf(stderr, "dewbell: \"%s\" is not the number of a note; dewbell notes lists them\n", words[0]);
        return DB_EXIT_USAGE;
    }
    if ((status = db_session_read(s)) != DB_EXIT_FINE || (status = db_session_record(s, false)) != DB_EXIT_FINE)
        return status;
    const struct db_note *note = NULL;
    for (size_t i = 0; i < db_diary_count(s->diary); i++)
        if (db_diary_at(s->diary, i)->number == number)
            note = db_diary_at(s->diary, i);
    if (!note || note->struck) {
        fprintf(stderr, note ? "dewbell: note %lld is struck out already\n" : "dewbell: there is no note %lld\n",
                number);
        return DB_EXIT_ABSENT;
    }
    if (db_record_strike_note(s->record, number, db_clock_now()) != DB_OK) {
        fprintf(stderr, "dewbell: the note was NOT struck out: %s\n", db_record_trouble(s->record));
        return DB_EXIT_TROUBLE;
    }
    printf("Struck out: note %lld, %s %s on %s. It stays in the history and counts no more.\n", number, note->sowing,
           note->word, db_show_day(note->date, shown));
    return DB_EXIT_FINE;
}
