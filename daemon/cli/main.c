/* The program `dewbell`: options, the table of commands, help. */
#include "cli/cli.h"

#include <errno.h>
#include <getopt.h>
#include <string.h>

#include "base/banned.h"

static const struct command {
    const char *name, *words, *help;
    int least, most; /* how many words it takes */
    int (*run)(struct db_session *, int, char **);
} commands[] = {
    { "today", "", "what to do today, what is still open, what comes in the next days", 0, 0, db_cmd_today },
    { "jobs", "[FROM [TO]]", "the jobs of a span of days (14 days from today unless said)", 0, 2, db_cmd_jobs },
    { "why", "JOB", "why a job is there, why on that day, and how to do it", 1, 1, db_cmd_why },
    { "beds", "[BED [CROP]]", "what is in the beds until when, and what is free; how much of a crop a bed holds", 0, 2,
      db_cmd_beds },
    { "note", "SOWING WORD [DATE]", "write down what was seen or done: note kale-2 up 14 June 2026", 2, 5,
      db_cmd_note },
    { "notes", "[SOWING]", "all notes, in order", 0, 1, db_cmd_notes },
    { "strike", "NUMBER", "strike a wrong note out; it stays in the history", 1, 1, db_cmd_strike },
    { "feed", "", "write the calendar feeds", 0, 0, db_cmd_feed },
    { "weather", "", "the weather that it goes by, and where each figure is from", 0, 0, db_cmd_weather },
    { "check", "", "read all files, say every mistake, show which rules are overridden", 0, 0, db_cmd_check },
    { "status", "", "how the service is that looks after this garden", 0, 0, db_cmd_status },
    { "crop", "[CROP]", "what is known of a crop, with sources", 0, 1, db_cmd_crop },
    { "token", "", "the addresses of the feeds that dewbelld serves", 0, 0, db_cmd_token },
    { "key", "", "print a fresh key for a new garden", 0, 0, db_cmd_key },
};
enum { COMMANDS = sizeof commands / sizeof commands[0] };

static const struct option long_options[] = {
    { "garden", required_argument, NULL, 'g' },
    { "state", required_argument, NULL, 's' },
    { "rules", required_argument, NULL, 'r' },
    { "date", required_argument, NULL, 'd' },
    { "out", required_argument, NULL, 'o' },
    { "text", required_argument, NULL, 't' },
    { "json", no_argument, NULL, 'j' },
    { "brief", no_argument, NULL, 'b' },
    { "full", no_argument, NULL, 'f' },
    { "all", no_argument, NULL, 'a' },
    { "base", required_argument, NULL, 'B' },
    { "new", no_argument, NULL, 'n' },
    { "try", required_argument, NULL, 'T' },
    { "source", required_argument, NULL, 'S' },
    { "help", no_argument, NULL, 'h' },
    { "version", no_argument, NULL, 'V' },
    { NULL, 0, NULL, 0 },
};

static void show_help(FILE *to)
{
    fprintf(to, "dewbell: what to do in the garden today\n\n"
                "  dewbell [options] COMMAND [words]\n\nCommands\n");
    for (size_t i = 0; i < COMMANDS; i++)
        fprintf(to, "  %-7s %-19s %s\n", commands[i].name, commands[i].words, commands[i].help);
    fprintf(to, "\nOptions\n"
                "  --garden FILE   the plan (default: $DEWBELL_GARDEN, else garden.ini in this folder)\n"
                "  --date DAY      stand on another day: 2026-06-14, \"14 June 2026\", tomorrow, yesterday\n"
                "  --json          for scripts: today, jobs, why, beds, notes, crop, status, weather\n"
                "  --brief         today: what and where, no more\n"
                "  --full          today: with how each job is done\n"
                "  --text WORDS    note: a remark that goes with it\n"
                "  --out DIR       feed: where it writes (default: the folder feeds beside the plan)\n"
                "  --all           feed: no ceiling on the number of events\n"
                "  --try PLACE     weather: read this file or address as a forecast, and show what it says\n"
                "  --source NAME   weather --try: by this description (default: the plan's)\n"
                "  --base URL      token: what stands before the addresses (default: http://127.0.0.1:8737)\n"
                "  --new           token: another one; the old address no longer works\n"
                "  --state DIR     where notes are kept (default: .dewbell beside the plan)\n"
                "  --rules DIR     the shipped crops and rules, if not where they were installed\n"
                "\nExit status: 0 fine; 1 not there, or the note was refused; 2 mistakes in your files;\n"
                "3 a file or the record failed; 64 the command line is wrong.\n");
}

static int usage(const char *what, const char *words)
{
    fprintf(stderr, "dewbell: %s %s\ndewbell --help lists the commands and options.\n", what, words);
    return DB_EXIT_USAGE;
}

static int unknown_command(const char *name)
{
    const char *names[COMMANDS];

    for (size_t i = 0; i < COMMANDS; i++)
        names[i] = commands[i].name;
    const char *near = db_nearest(name, names, COMMANDS);
    fprintf(stderr, "dewbell: there is no command \"%s\"", name);
    if (near)
        fprintf(stderr, "; did you mean \"%s\"?", near);
    fprintf(stderr, "\ndewbell --help lists the commands and options.\n");
    return DB_EXIT_USAGE;
}

/* 0: go on; otherwise the exit status + 1 (so that --help can say 0). */
static int read_options(struct db_options *options, int argc, char **argv)
{
    int letter;

    opterr = 0;
    while ((letter = getopt_long(argc, argv, ":g:s:r:d:o:t:B:jbfnahV", long_options, NULL)) != -1) {
        switch (letter) {
        case 'g':
            options->garden = optarg;
            break;
        case 's':
            options->state = optarg;
            break;
        case 'r':
            options->rules = optarg;
            break;
        case 'd':
            options->date = optarg;
            break;
        case 'o':
            options->out = optarg;
            break;
        case 't':
            options->text = optarg;
            break;
        case 'j':
            options->json = true;
            break;
        case 'b':
            options->brief = true;
            break;
        case 'f':
            options->full = true;
            break;
        case 'a':
            options->all = true;
            break;
        case 'B':
            options->base = optarg;
            break;
        case 'n':
            options->fresh = true;
            break;
        case 'T':
            options->try = optarg;
            break;
        case 'S':
            options->source = optarg;
            break;
        case 'h':
            show_help(stdout);
            return DB_EXIT_FINE + 1;
        case 'V':
            printf("dewbell %s\n", DB_VERSION);
            return DB_EXIT_FINE + 1;
        case ':':
            return usage("something must follow", argv[optind - 1]) + 1;
        default:
            return usage("there is no option", argv[optind - 1]) + 1;
        }
    }
    return 0;
}

int main(int argc, char **argv)
{
    struct db_session session = { 0 };
    int stop = read_options(&session.options, argc, argv);

    if (stop)
        return stop - 1;
    if (optind == argc) {
        show_help(stderr);
        return DB_EXIT_USAGE;
    }
    for (size_t i = 0; i < COMMANDS; i++) {
        const struct command *c = &commands[i];
        int words = argc - optind - 1;

        if (strcmp(c->name, argv[optind]) != 0)
            continue;
        if (words < c->least || words > c->most) {
            fprintf(stderr, "dewbell: write: dewbell %s%s%s\n", c->name, *c->words ? " " : "", c->words);
            return DB_EXIT_USAGE;
        }
        int status = c->run(&session, words, argv + optind + 1);
        db_session_close(&session);
        if (fflush(stdout) != 0 || ferror(stdout)) {
            fprintf(stderr, "dewbell: could not write the answer: %s\n", strerror(errno));
            return DB_EXIT_TROUBLE;
        }
        return status;
    }
    return unknown_command(argv[optind]);
}
