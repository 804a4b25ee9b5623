#include "read/fields.h"

#include "read/files.h"

#include <sys/stat.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

enum { NAMES_MOST = 1024 };

static const char *zone_folder(void)
{
    const char *folder = getenv("TZDIR");

    return folder && *folder ? folder : "/usr/share/zoneinfo";
}

/* Letters, digits and _ + - between single slashes: no way out of the folder. */
static bool is_zone_name(const char *name, size_t length)
{
    for (size_t i = 0; i < length; i++) {
        const char c = name[i];
        const bool letter = (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z');
        const bool slash = c == '/' && i > 0 && i + 1 < length && name[i - 1] != '/';

        if (!letter && !slash && !(c >= '0' && c <= '9') && c != '_' && c != '+' && c != '-')
            return false;
    }
    return length > 0;
}

static bool is_zone_file(const char *path)
{
    struct stat about;
    char magic[4] = { 0 };
    FILE *file;
    bool is = false;

    if (stat(path, &about) != 0 || !S_ISREG(about.st_mode) || !(file = fopen(path, "rbe")))
        return false;
    is = fread(magic, 1, sizeof magic, file) == sizeof magic && memcmp(magic, "TZif", 4) == 0;
    (void) fclose(file);
    return is;
}

/* The names that the time zone database lists for the inhabited places of the world. */
static size_t zone_names(struct db_reader to, const char *names[NAMES_MOST])
{
    FILE *table = fopen(db_say(to.scratch, "%s/tzdata.zi", zone_folder()), "re");
    char line[256];
    size_t count = 0;

    if (!table)
        return 0;
    /* "Z Europe/London ..." a zone; "L Europe/London Europe/Jersey" a link to one */
    while (count < NAMES_MOST && fgets(line, sizeof line, table)) {
        char *at = line[0] == 'L' && line[1] == ' ' ? strchr(line + 2, ' ') : line + 1;

        if ((line[0] != 'Z' && line[0] != 'L') || !at || *at != ' ')
            continue;
        at++;
        at[strcspn(at, " \n")] = '\0';
        names[count] = db_say(to.scratch, "%s", at);
        count += names[count][0] != '\0';
    }
    (void) fclose(table);
    return count;
}

/* By the whole name, else by the place alone: "London" for Europe/London. */
static const char *likely_zone(struct db_reader to, const char *written)
{
    const char **names = db_arena_get(to.scratch, NAMES_MOST, sizeof *names);
    const char **places = db_arena_get(to.scratch, NAMES_MOST, sizeof *places);
    const size_t count = names && places ? zone_names(to, names) : 0;
    const char *near = count ? db_nearest(written, names, count) : NULL;

    if (!near) {
        for (size_t i = 0; i < count; i++) {
            const char *slash = strrchr(names[i], '/');

            places[i] = slash ? slash + 1 : names[i];
        }
        near = count ? db_nearest(written, places, count) : NULL;
        for (size_t i = 0; near && i < count; i++)
            if (places[i] == near)
                return db_say(to.scratch, "did you mean \"%s\"?", names[i]);
    }
    return near ? db_say(to.scratch, "did you mean \"%s\"?", near) : "write a name such as Europe/London";
}

bool db_zone_check(struct db_span span, struct db_reader to)
{
    const char *name = db_span_text(span, to.scratch);

    if (!name || !is_zone_name(name, db_span_length(span))) {
        db_mistakes_add(to.mistakes, db_span_place(span), "write a name such as Europe/London",
                        "\"%.*s\" cannot be a time zone", (int) db_span_length(span), db_span_start(span));
        return false;
    }
    if (is_zone_file(db_say(to.scratch, "%s/%s", zone_folder(), name)))
        return true;
    if (!db_path_is_folder(zone_folder()))
        db_mistakes_add(to.mistakes, db_span_place(span), "install the package tzdata",
                        "this machine has no time zones under %s", zone_folder());
    else
        db_mistakes_add(to.mistakes, db_span_place(span), likely_zone(to, name), "there is no time zone \"%s\"", name);
    return false;
}
