/* A made-up garden of any size over the recorded Seattle years. */
#include "bench.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

const char bench_today[] = "2013-06-10";

static const struct {
    const char *crop, *way, *extent;
} kinds[] = {
    { "carrot", "drill", "row = 3 m" },    { "radish", "drill", "row = 1.5 m" },
    { "beetroot", "plugs", "plugs = 24" }, { "lettuce", "plugs", "plugs = 12" },
    { "kale", "pot", "plants = 6" },       { "savoy-cabbage", "pot", "plants = 6" },
    { "spinach", "drill", "row = 2 m" },   { "pea", "drill", "row = 2 m" },
    { "onion", "plugs", "plugs = 40" },    { "tomato", "pot", "plants = 4" },
    { "parsnip", "drill", "row = 2 m" },   { "turnip", "drill", "row = 2 m" },
};
enum { KINDS = sizeof kinds / sizeof kinds[0], A_FILE = 1000 };

static uint64_t next(uint64_t *state) /* splitmix64 */
{
    uint64_t z = *state += 0x9e3779b97f4a7c15u;

    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

static FILE *open_in(const char *folder, const char *name)
{
    char path[4096];

    (void) snprintf(path, sizeof path, "%s/%s", folder, name);
    return fopen(path, "w");
}

static int close_it(FILE *file)
{
    int bad = ferror(file);

    return fclose(file) != 0 || bad ? -1 : 0;
}

static int copy_weather(const char *folder)
{
    FILE *from = fopen("tests/data/seattle-weather.csv", "r"), *to = open_in(folder, "weather.csv");
    char bytes[8192];
    size_t got;

    if (!from || !to)
        return -1;
    while ((got = fread(bytes, 1, sizeof bytes, from)) > 0)
        (void) fwrite(bytes, 1, got, to);
    (void) fclose(from);
    return close_it(to);
}

static void write_sowing(FILE *to, size_t number, uint64_t *state)
{
    size_t kind = (size_t) (next(state) % KINDS);
    unsigned bed = (unsigned) (next(state) % 8), day = (unsigned) (next(state) % 180);
    static const unsigned lengths[] = { 28, 31, 30, 31, 30, 31 }; /* February .. July 2013 */
    unsigned month = 0;
    int indoors = kinds[kind].way[0] == 'p';

    while (month < 5 && day >= lengths[month])
        day -= lengths[month++];
    if (day >= lengths[month])
        day = lengths[month] - 1;
    (void) fprintf(to, "[sowing %s-%zu]\ncrop = %s\nraised = %s\nbed = %s%u\n", kinds[kind].crop, number,
                   kinds[kind].crop, kinds[kind].way, indoors ? "bench" : "plot", indoors ? bed % 2 : bed);
    if (indoors)
        (void) fprintf(to, "into = plot%u\n", bed);
    (void) fprintf(to, "%s\n%s = 2013-%02u-%02u\n\n", kinds[kind].extent,
                   month < 4 || (month == 4 && day < 9) ? "sown" : "sow", month + 2, day + 1);
}

int bench_garden_write(const char *folder, size_t sowings, uint64_t seed)
{
    char name[64], path[4096];
    FILE *plan;

    (void) snprintf(path, sizeof path, "%s/sowings", folder);
    if ((mkdir(folder, 0777) != 0 && errno != EEXIST) || (mkdir(path, 0777) != 0 && errno != EEXIST))
        return -1;
    if (copy_weather(folder) != 0 || !(plan = open_in(folder, "garden.ini")))
        return -1;
    (void) fprintf(
        plan,
        "[garden]\nname = Bench Field\nkey = 5d1f9f0e-8f0a-4c0e-9a70-3d0c3c6f2b11\nlatitude = 47.45\n"
        "longitude = -122.3\naltitude = 130 m\nzone = America/Los_Angeles\nindoors = 18 °C\ninclude = sowings\n\n"
        "[weather]\nobserved = weather.csv\npast_years = weather.csv\nrecord_ahead = 5 days\n"
        "columns = date=date, low=temp_min [°C], high=temp_max [°C], rain=precipitation [mm], wind=wind [m/s]\n\n");
    for (unsigned i = 0; i < 8; i++)
        (void) fprintf(plan, "[bed plot%u]\nsize = 1.2 m x 6 m\ncover = %s\n\n", i, i == 7 ? "fleece" : "open");
    (void) fprintf(plan, "[bed bench0]\ncover = indoors\n\n[bed bench1]\ncover = frame\n\n");
    if (close_it(plan) != 0)
        return -1;
    for (size_t i = 0; i < sowings; i += A_FILE) {
        (void) snprintf(name, sizeof name, "sowings/%03zu.ini", i / A_FILE);
        FILE *part = open_in(folder, name);
        if (!part)
            return -1;
        for (size_t j = i; j < sowings && j < i + A_FILE; j++)
            write_sowing(part, j + 1, &seed);
        if (close_it(part) != 0)
            return -1;
    }
    return 0;
}
