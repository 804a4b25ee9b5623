/* Names that never change: UUIDs of version 5 in the garden's own name space. */
#include "write/private.h"

#include <uuid.h>

#include <string.h>

#include "base/banned.h"

void db_uid_make(const unsigned char space[16], const char *name, unsigned char ret[16])
{
    uuid_generate_sha1(ret, space, name, strlen(name));
}

enum db_status db_uid_read(const char *text, unsigned char ret[16])
{
    uuid_t read;

    if (!text || uuid_parse(text, read) != 0)
        return DB_RANGE;
    memcpy(ret, read, sizeof read);
    return DB_OK;
}

char *db_uid_text(const unsigned char uid[16], char buffer[DB_UID_TEXT])
{
    uuid_unparse_lower(uid, buffer);
    return buffer;
}
