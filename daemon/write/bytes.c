/* A growing run of bytes. */
#include "write/private.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

void db_bytes_free(struct db_bytes *bytes)
{
    free(bytes->data);
    *bytes = (struct db_bytes){ 0 };
}

/* Room for `more` bytes and a NUL. */
static bool make_room(struct db_bytes *bytes, size_t more)
{
    size_t limit = bytes->limit ? bytes->limit : SIZE_MAX / 2;

    if (bytes->length > limit || more > limit - bytes->length)
        return false;
    size_t need = bytes->length + more + 1, room = bytes->room ? bytes->room : 1024;
    if (bytes->data && need <= bytes->room)
        return true;
    while (room < need)
        room *= 2;
    char *data = realloc(bytes->data, room);
    if (!data)
        return false;
    bytes->data = data;
    bytes->room = room;
    return true;
}

enum db_status db_bytes_add(struct db_bytes *bytes, const char *data, size_t length)
{
    if (!make_room(bytes, length))
        return DB_FULL;
    if (length)
        memcpy(bytes->data + bytes->length, data, length);
    bytes->length += length;
    bytes->data[bytes->length] = '\0';
    return DB_OK;
}

enum db_status db_bytes_text(struct db_bytes *bytes, const char *text)
{
    return db_bytes_add(bytes, text, strlen(text));
}

enum db_status db_bytes_format(struct db_bytes *bytes, const char *format, ...)
{
    va_list words;

    int length = 0;

    /* Into the room that is there; a second time only if that was too small. */
    for (int turn = 0; turn < 2; turn++) {
        if (!make_room(bytes, (size_t) length))
            break;
        size_t room = bytes->room - bytes->length;
        va_start(words, format);
        length = vsnprintf(bytes->data + bytes->length, room, format, words);
        va_end(words);
        if (length < 0)
            break;
        if ((size_t) length < room && make_room(bytes, (size_t) length)) { /* the ceiling may lie below the room */
            bytes->length += (size_t) length;
            return DB_OK;
        }
    }
    if (bytes->data)
        bytes->data[bytes->length] = '\0';
    return DB_FULL;
}
