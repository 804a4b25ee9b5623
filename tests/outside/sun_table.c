/* Prints our sun for questions on standard input, one a line, in the same order:
 *   sun LATITUDE LONGITUDE DATE   ->  state (rises, up, down), rise and set in hours UTC from 0:00 of DATE, hours of day
 *   season YEAR (0 March .. 3 December)  ->  Julian Day in UTC */
#include "dewbell/almanac.h"

#include <stdio.h>
#include <string.h>

#include "base/banned.h"

int main(void)
{
    static const char *const states[] = { "rises", "up", "down" };
    char line[128], word[16];
    double latitude, longitude, jd;
    int year, season;

    while (fgets(line, sizeof line, stdin)) {
        struct db_date date;
        struct db_sun sun;

        if (sscanf(line, "sun %lf %lf %15s", &latitude, &longitude, word) == 3) {
            if (db_date_read(word, strlen(word), &date) != DB_OK ||
                db_almanac_sun(latitude, longitude, date, &sun) != DB_OK)
                return 1;
            printf("%s %.8f %.8f %.8f\n", states[sun.state], sun.rise, sun.set, sun.hours);
        } else if (sscanf(line, "season %d %d", &year, &season) == 2) {
            if (db_almanac_season_utc(year, (enum db_season) season, &jd) != DB_OK)
                return 1;
            printf("%.8f\n", jd);
        } else
            return 1;
    }
    return 0;
}
