/* Every ceiling in the program, in one place. Each is named in the message that reports it. */
#ifndef DB_BASE_LIMITS_H
#define DB_BASE_LIMITS_H

enum {
    DB_LIMIT_LINE = 198, /* bytes of a line in an INI file, without its newline: what inih holds as packaged */
    DB_LIMIT_NAME = 49,  /* bytes of a section name or a key: the same */
    DB_LIMIT_FILE = 4 * 1024 * 1024, /* bytes of one file of the plan, rules or crops */
    DB_LIMIT_VALUE = 8192,           /* bytes of one value, its continuation lines joined */
    DB_LIMIT_WEATHER_FILE = 32 * 1024 * 1024,
    DB_LIMIT_WEATHER_DAYS = 120 * 366,   /* days in one series */
    DB_LIMIT_INCLUDES = 256,             /* files of one garden */
    DB_LIMIT_MISTAKES = 100,             /* mistakes kept with their texts; the rest are counted */
    DB_LIMIT_NODES = 200,                /* nodes of one expression */
    DB_LIMIT_DEPTH = 32,                 /* nesting of one expression */
    DB_LIMIT_SPAN = 120,                 /* days one weather window looks at */
    DB_LIMIT_OUTLETS = 32,               /* sections of one garden that send mornings or feeds */
    DB_LIMIT_FORECAST = 2 * 1024 * 1024, /* bytes of one answer of a weather service */
    DB_LIMIT_FORECAST_DEPTH = 32,        /* its nesting */
    DB_LIMIT_FORECAST_VALUES = 200000,   /* its values, counted before they take memory */
    DB_LIMIT_RULES = 500,
    DB_LIMIT_CROPS = 1000,
    DB_LIMIT_SCRATCH = 1 << 30, /* bytes of working memory while files are read */
    DB_LIMIT_BEDS = 10000,
    DB_LIMIT_SECTIONS = 200000, /* sections of one set of files */
    DB_LIMIT_FUTURES = 120,     /* members of the set of possible futures */
    DB_LIMIT_SOWINGS = 100000,
    DB_LIMIT_JOBS = 1000000,         /* jobs of one garden */
    DB_LIMIT_REPEATS = 60,           /* jobs of one repeating rule for one sowing */
    DB_LIMIT_SPELLS = 30,            /* the same for a spell of weather */
    DB_LIMIT_HOLD = 60,              /* days that `hold` may move a job */
    DB_LIMIT_FEED_EVENTS = 1000,     /* events of one calendar feed: large calendar services drop what is beyond */
    DB_LIMIT_FEED_BYTES = 512 * 1024 /* the same in bytes */
};

#endif
