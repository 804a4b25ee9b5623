/* The manual page of the plan names every key of the service, of the weather, of sowings and of the days that the readers' tables hold. */
#include "read/fields.h"
#include "read/load.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "base/banned.h"

static char *page;

static int read_page(void **state)
{
    enum { ROOM = 65536 };
    FILE *file = fopen("docs/dewbell-garden.5", "re");

    (void) state;
    page = calloc(ROOM, 1);
    assert_non_null(file);
    assert_non_null(page);
    assert_true(fread(page, 1, ROOM - 1, file) > 1000);
    return fclose(file);
}

static int drop_page(void **state)
{
    (void) state;
    free(page);
    return 0;
}

/* Whether a tag of a list is that key: ".It Ic low , Ic high". */
static bool is_named(const char *key)
{
    size_t length = strlen(key);

    for (const char *at = page; (at = strstr(at, "Ic ")) != NULL; at++) {
        const char *word = at + 3;
        if (strncmp(word, key, length) == 0 && (word[length] == '\n' || word[length] == ' '))
            return true;
    }
    return false;
}

static void look_for(const struct db_field *fields, size_t count)
{
    assert_true(count > 0);
    for (size_t i = 0; i < count; i++)
        if (!is_named(fields[i].key))
            fail_msg("docs/dewbell-garden.5 does not name %s (%s)", fields[i].key, fields[i].help);
}

static void keys_of_the_service(void **state)
{
    size_t count = 0, tables = 0;
    const struct db_field *fields;

    (void) state;
    for (; (fields = db_outlet_fields(tables, &count)) != NULL; tables++)
        look_for(fields, count);
    assert_true(tables >= 6);
}

static void keys_of_the_weather(void **state)
{
    size_t count = 0;
    const struct db_field *fields = db_weather_fields(&count);

    (void) state;
    look_for(fields, count);
}

static void keys_of_a_sowing(void **state)
{
    size_t count = 0;
    const struct db_field *fields = db_sowing_fields(&count);

    (void) state;
    look_for(fields, count);
}

static void keys_of_the_days(void **state)
{
    size_t count = 0;
    const struct db_field *fields = db_days_fields(&count);

    (void) state;
    look_for(fields, count);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(keys_of_the_service), cmocka_unit_test(keys_of_the_weather),
                                        cmocka_unit_test(keys_of_a_sowing), cmocka_unit_test(keys_of_the_days) };

    return cmocka_run_group_tests(tests, read_page, drop_page);
}
