/* What the service has to say: plain lines to stderr, where a terminal shows them or the journal keeps them. No secret, no
 * token ever goes in here: callers name files and hosts, never addresses with a token in their path. */
#ifndef DB_SERVICE_LOG_H
#define DB_SERVICE_LOG_H

/* The numbers are syslog's. */
enum db_log_level { DB_LOG_ERROR = 3, DB_LOG_WARNING = 4, DB_LOG_NOTICE = 5, DB_LOG_INFO = 6 };

/* One line; no newline at the end. Control characters in it become "?", what is beyond 1000 bytes is cut. Begins with
 * "<3>" and the like where the journal reads (JOURNAL_STREAM names this very stderr), else with the level's word. */
__attribute__((format(printf, 2, 3))) void db_log(enum db_log_level level, const char *format, ...);

/* What is less important than this is left out; the default is DB_LOG_INFO. */
void db_log_set(enum db_log_level least);

#endif
