#define DB_PURE
#include "dewbell/status.h"

#include "base/banned.h"

const char *db_status_text(enum db_status status)
{
    switch (status) {
    case DB_OK:
        return "done";
    case DB_RANGE:
        return "a figure lies outside what is allowed";
    case DB_FULL:
        return "out of memory, or past the limit set for it";
    case DB_MISTAKEN:
        return "there are mistakes in what was written";
    case DB_ABSENT:
        return "there is no such thing";
    case DB_TROUBLE:
        return "a file, the record or a library failed";
    }
    return "an unknown status";
}
