/* Whole files. Include after cmocka.h. */
#ifndef DB_TESTS_KIT_FILES_H
#define DB_TESTS_KIT_FILES_H

#include <stdio.h>
#include <stdlib.h>

enum { FILE_MOST = 1 << 20 };

/* Its bytes and a NUL behind them, for free(); *ret_length, which may be NULL, without it. NULL: it is not there. */
static inline char *read_file(const char *path, size_t *ret_length)
{
    FILE *file = fopen(path, "re");
    char *text = file ? calloc(1, FILE_MOST) : NULL;

    if (!file)
        return NULL;
    assert_non_null(text);
    const size_t length = fread(text, 1, FILE_MOST - 1, file);
    assert_true(length < FILE_MOST - 1);
    assert_int_equal(fclose(file), 0);
    if (ret_length)
        *ret_length = length;
    return text;
}

static inline void write_file(const char *path, const char *text)
{
    FILE *file = fopen(path, "we");

    if (!file)
        fail_msg("%s cannot be written", path);
    assert_true(fputs(text, file) >= 0);
    assert_int_equal(fclose(file), 0);
}

#endif
