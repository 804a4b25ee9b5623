#include "service/log.h"

#include "base/text.h"

#include <errno.h>
#include <sys/stat.h>
#include <unistd.h>

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

enum { LINE = 1000 };

static enum db_log_level least_told = DB_LOG_INFO;

/* systemd sets JOURNAL_STREAM to device:inode of the journal's end; a child whose stderr went elsewhere inherits the
 * variable and must not write prefixes (systemd.exec(5)). */
static bool to_journal(void)
{
    const char *stream = getenv("JOURNAL_STREAM");
    struct stat here;
    char *end;

    if (!stream || fstat(STDERR_FILENO, &here) != 0)
        return false;
    const unsigned long long device = strtoull(stream, &end, 10);
    if (end == stream || *end != ':')
        return false;
    const unsigned long long inode = strtoull(end + 1, &end, 10);
    return *end == '\0' && here.st_dev == (dev_t) device && here.st_ino == (ino_t) inode;
}

static const char *level_word(enum db_log_level level)
{
    switch (level) {
    case DB_LOG_ERROR:
        return "error: ";
    case DB_LOG_WARNING:
        return "warning: ";
    case DB_LOG_NOTICE:
    case DB_LOG_INFO:
        break;
    }
    return "";
}

void db_log_set(enum db_log_level least)
{
    least_told = least;
}

void db_log(enum db_log_level level, const char *format, ...)
{
    char words[LINE + 1], line[LINE + 64];
    va_list list;
    int saved = errno;

    if (level > least_told)
        return;
    va_start(list, format);
    int length = vsnprintf(words, sizeof words, format, list);
    va_end(list);
    if (length < 0)
        return;
    for (char *at = words; *at; at++)
        if ((unsigned char) *at < ' ' || *at == 0x7f)
            *at = '?';
    struct db_text text = db_text_in(line, sizeof line);
    if (to_journal())
        db_text_add_format(&text, "<%d>", (int) level);
    else
        db_text_add_format(&text, "dewbelld: %s", level_word(level));
    db_text_add(&text, words);
    db_text_add(&text, "\n");
    /* One write a line, so that lines of several writers do not mix. Where nobody reads there is nobody to tell. */
    ssize_t written = write(STDERR_FILENO, text.data, text.length);
    (void) written;
    errno = saved;
}
