/* A record in a folder of its own, from before a test to after it. Include after cmocka.h, in one file of a program. */
#ifndef DB_TESTS_KIT_RECORD_H
#define DB_TESTS_KIT_RECORD_H

#include "record/record.h"

#include <unistd.h>

#include <stdio.h>
#include <stdlib.h>

static char record_folder[64], record_file[96]; /* the file is made when it is first opened */

static inline int make_record_folder(void **state)
{
    (void) state;
    (void) snprintf(record_folder, sizeof record_folder, "/tmp/dewbell-record-XXXXXX");
    if (!mkdtemp(record_folder))
        return -1;
    (void) snprintf(record_file, sizeof record_file, "%s/record.sqlite", record_folder);
    return 0;
}

/* Fails when anything but the record's own files is left in the folder. */
static inline int remove_record_folder(void **state)
{
    static const char *const tails[] = { "", "-wal", "-shm", "-journal" };
    char path[128];

    (void) state;
    for (size_t i = 0; i < sizeof tails / sizeof tails[0]; i++) {
        (void) snprintf(path, sizeof path, "%s%s", record_file, tails[i]);
        (void) unlink(path);
    }
    return rmdir(record_folder);
}

static inline struct db_record *open_record(void)
{
    struct db_record *record = NULL;
    char trouble[256] = "";

    if (db_record_open(record_file, &record, trouble) != DB_OK)
        fail_msg("%s", trouble);
    assert_non_null(record);
    return record;
}

#endif
