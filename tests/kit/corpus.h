/* A folder of malformed files: each NAME.ini, or folder NAME with a garden.ini, gives exactly the mistakes that stand beside
 * it in NAME.err: file, line, column, what is wrong, what to write instead. ACCEPT=1 in the environment writes the .err
 * files anew, for the difference to be read as text. Include after cmocka.h. */
#ifndef DB_TESTS_KIT_CORPUS_H
#define DB_TESTS_KIT_CORPUS_H

#include "dewbell/mistake.h"

#include <dirent.h>
#include <sys/stat.h>

#include <stdbool.h>
#include <string.h>

#include "base/text.h"
#include "kit/files.h"
#include "kit/thrift.h"

enum { CORPUS_PATH = 512 };

struct corpus {
    const char *folder;
    int least;                                                                /* cases */
    void (*report)(const struct corpus *corpus, const char *file, FILE *out); /* reads it, and corpus_say()s of it */
};

/* One mistake a line, files named as they lie in the folder. A place lies inside its line, or just behind it. */
static inline void corpus_say(const struct corpus *corpus, const struct db_mistakes *mistakes, FILE *out)
{
    const size_t above = strlen(corpus->folder);
    const struct db_mistake *m;

    for (size_t i = 0; (m = db_mistakes_at(mistakes, i)); i++) {
        const char *file = m->at.file;

        if (m->at.text)
            assert_true(m->at.column - 1 + m->at.width <=
                        db_text_characters(m->at.text, strcspn(m->at.text, "\n")) + 1);
        if (file && strncmp(file, corpus->folder, above) == 0 && file[above] == '/')
            file += above + 1;
        (void) fprintf(out, "%s:%u:%u: %s%s", file, m->at.line, m->at.column, m->advice ? "advice: " : "", m->what);
        if (*m->instead)
            (void) fprintf(out, "%s%s", m->what[strlen(m->what) - 1] == '?' ? " " : "; ", m->instead);
        (void) fputc('\n', out);
    }
}

/* The case's name and file; false for what is no case. */
static inline bool corpus_case(const struct corpus *corpus, const char *entry, char name[CORPUS_PATH],
                               char file[CORPUS_PATH])
{
    const size_t length = strlen(entry);
    const bool alone = length > 4 && strcmp(entry + length - 4, ".ini") == 0;
    struct stat about;

    (void) snprintf(name, CORPUS_PATH, "%.*s", (int) (alone ? length - 4 : length), entry);
    (void) snprintf(file, CORPUS_PATH, "%s/%s%s", corpus->folder, entry, alone ? "" : "/garden.ini");
    return entry[0] != '.' && stat(file, &about) == 0;
}

static inline bool corpus_agrees(const struct corpus *corpus, const char *name, const char *file)
{
    char beside[CORPUS_PATH * 2], *got = NULL;
    size_t length = 0;
    FILE *out = open_memstream(&got, &length);

    assert_non_null(out);
    corpus->report(corpus, file, out);
    assert_int_equal(fclose(out), 0);
    (void) snprintf(beside, sizeof beside, "%s/%s.err", corpus->folder, name);
    if (getenv("ACCEPT"))
        write_file(beside, got);
    char *expected = read_file(beside, NULL);
    const bool agrees = expected && *expected && strcmp(got, expected) == 0;
    if (!agrees)
        print_error("%s\n--- expected in %s\n%s+++ got\n%s", file, beside, expected ? expected : "", got);
    free(expected);
    free(got);
    return agrees;
}

static inline void corpus_check(const struct corpus *corpus)
{
    DIR *folder = opendir(corpus->folder);
    char name[CORPUS_PATH], file[CORPUS_PATH];
    int cases = 0, wrong = 0;

    assert_non_null(folder);
    for (const struct dirent *entry; (entry = readdir(folder));)
        if (corpus_case(corpus, entry->d_name, name, file)) {
            if (cases++ % thrift(1, 6) == 0)
                wrong += !corpus_agrees(corpus, name, file);
        }
    (void) closedir(folder);
    print_message("%d malformed files\n", cases);
    assert_true(cases >= corpus->least);
    assert_int_equal(wrong, 0);
}

#endif
