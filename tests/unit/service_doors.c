/* Which address opens which door, and that looking for one tells nothing of those that are there. No time is taken: the tokens
 * are secrets whose every byte is marked as unknown, and memcheck (`make check` runs this under valgrind) reports each branch
 * and each address that hangs on an unknown byte. What comes out of SHA-256 is known again: with a key that nobody outside has,
 * its order says nothing of what went in. The method is that of A. Langley's ctgrind (2010). Without valgrind the paths are
 * only counted. */
#include "service/http_doors.h"

#include <openssl/evp.h>
#include <valgrind/memcheck.h>

#include <unistd.h>

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "kit/sim_clock.h"

#include "base/banned.h"

/* ---- what stands between the doors and what they call (the linker's --wrap) ---- */

enum db_status __real_db_record_tokens(struct db_record *, struct db_token **, size_t *);
enum db_status __wrap_db_record_tokens(struct db_record *, struct db_token **, size_t *);
int __real_EVP_DigestUpdate(EVP_MD_CTX *, const void *, size_t);
int __wrap_EVP_DigestUpdate(EVP_MD_CTX *, const void *, size_t);
int __real_EVP_DigestFinal_ex(EVP_MD_CTX *, unsigned char *, unsigned *);
int __wrap_EVP_DigestFinal_ex(EVP_MD_CTX *, unsigned char *, unsigned *);

static size_t hashes, unknown_inputs; /* since the test set them to 0 */
static unsigned char last_hash[32];

enum db_status __wrap_db_record_tokens(struct db_record *record, struct db_token **ret, size_t *ret_count)
{
    enum db_status status = __real_db_record_tokens(record, ret, ret_count);

    for (size_t i = 0; status == DB_OK && i < *ret_count; i++)
        (void) VALGRIND_MAKE_MEM_UNDEFINED((*ret)[i].text, DB_TOKEN_LENGTH);
    return status;
}

int __wrap_EVP_DigestUpdate(EVP_MD_CTX *context, const void *data, size_t length)
{
    unsigned char bits[64];

    /* (Asked for by its bits: a check would be an error of its own.) */
    if (length <= sizeof bits && VALGRIND_GET_VBITS(data, bits, length) == 1 && bits[0])
        unknown_inputs++;
    return __real_EVP_DigestUpdate(context, data, length);
}

int __wrap_EVP_DigestFinal_ex(EVP_MD_CTX *context, unsigned char *hash, unsigned *length)
{
    int done = __real_EVP_DigestFinal_ex(context, hash, length);

    hashes++;
    (void) VALGRIND_MAKE_MEM_DEFINED(hash, 32);
    memcpy(last_hash, hash, sizeof last_hash);
    return done;
}

/* ---- two gardens without feeds ---- */

struct db_keeper {
    struct db_record *record;
};

struct db_ready_bytes *db_keeper_feed(struct db_keeper *keeper, enum db_ready_feed which)
{
    (void) keeper;
    (void) which;
    return NULL;
}

void db_ready_release(struct db_ready_bytes *held)
{
    (void) held;
}

struct db_record *db_keeper_record(const struct db_keeper *keeper)
{
    return keeper->record;
}

const char *db_keeper_state(const struct db_keeper *keeper)
{
    (void) keeper;
    return "build";
}

const char *db_keeper_name(const struct db_keeper *keeper)
{
    (void) keeper;
    return "Tarn Hollow";
}

struct stage {
    struct sim_clock sim;
    struct db_house house;
    struct db_keeper gardens[2], *keepers[2];
    struct db_doors *doors;
    char folder[64], files[2][96];
    struct db_token old, now, other; /* the first garden's, revoked and not; the second's */
};

static void open_stage(struct stage *stage)
{
    char trouble[256] = "";

    *stage = (struct stage){ .folder = "/tmp/dewbell-doors-XXXXXX" };
    assert_non_null(mkdtemp(stage->folder));
    for (size_t i = 0; i < 2; i++) {
        (void) snprintf(stage->files[i], sizeof stage->files[i], "%s/record-%zu", stage->folder, i);
        assert_int_equal(db_record_open(stage->files[i], &stage->gardens[i].record, trouble), DB_OK);
        stage->keepers[i] = &stage->gardens[i];
    }
    struct db_record *first = stage->gardens[0].record, *second = stage->gardens[1].record;
    bool made;
    assert_int_equal(db_record_replace_token(first, NULL, 1, &stage->old, &made), DB_OK);
    assert_int_equal(db_record_replace_token(first, &stage->old, 2, &stage->now, &made), DB_OK);
    assert_int_equal(db_record_replace_token(second, NULL, 3, &stage->other, &made), DB_OK);
    sim_start(&stage->sim, 1781697600000);
    stage->house =
        (struct db_house){ .loop = db_loop_new(&stage->sim.clock), .keepers = stage->keepers, .keeper_count = 2 };
    assert_non_null(stage->house.loop);
    stage->doors = db_doors_new(&stage->house, true);
    assert_non_null(stage->doors);
}

static void close_stage(struct stage *stage)
{
    static const char *const tails[] = { "", "-wal", "-shm" };
    char path[128];

    stage->doors = db_doors_free(stage->doors);
    (void) db_loop_free(stage->house.loop);
    for (size_t i = 0; i < 2; i++) {
        stage->gardens[i].record = db_record_close(stage->gardens[i].record);
        for (size_t j = 0; j < 3; j++) {
            (void) snprintf(path, sizeof path, "%s%s", stage->files[i], tails[j]);
            (void) unlink(path);
        }
    }
    assert_int_equal(rmdir(stage->folder), 0);
}

/* Asks for a token whose every byte is unknown. */
static enum db_door_state look_for(struct stage *stage, const char *text, size_t *ret_door)
{
    char asked[DB_TOKEN_LENGTH + 1], mark[DB_TOKEN_MARK];

    memcpy(asked, text, sizeof asked);
    (void) VALGRIND_MAKE_MEM_UNDEFINED(asked, DB_TOKEN_LENGTH);
    return db_doors_find(stage->doors, asked, ret_door, mark);
}

/* The first `right` characters are those of the token, the next one is another, the rest, too. */
static void guess(const char *token, size_t right, char ret[DB_TOKEN_LENGTH + 1])
{
    memcpy(ret, token, DB_TOKEN_LENGTH + 1);
    for (size_t i = right; i < DB_TOKEN_LENGTH; i++)
        ret[i] = ret[i] == 'A' ? 'B' : 'A';
}

static void each_opens_its_own(void **state)
{
    struct stage stage;
    size_t door = 9;

    (void) state;
    open_stage(&stage);
    assert_int_equal(look_for(&stage, stage.now.text, &door), DB_DOOR_OPEN);
    assert_int_equal(door, 0);
    assert_int_equal(look_for(&stage, stage.other.text, &door), DB_DOOR_OPEN);
    assert_int_equal(door, 1);
    assert_int_equal(look_for(&stage, stage.old.text, &door), DB_DOOR_REVOKED);
    assert_int_equal(look_for(&stage, "AAAAAAAAAAAAAAAAAAAAAAAA", &door), DB_DOOR_UNKNOWN);
    close_stage(&stage);
}

/* However much of a guess is right, it is hashed once and looked up by that; and nothing else is done with it. */
static void a_guess_tells_nothing(void **state)
{
    struct stage stage;
    char wrong[DB_TOKEN_LENGTH + 1];
    size_t door = 9;

    (void) state;
    open_stage(&stage);
    const size_t before = VALGRIND_COUNT_ERRORS;
    hashes = unknown_inputs = 0;
    assert_int_equal(look_for(&stage, stage.now.text, &door), DB_DOOR_OPEN); /* reads the tokens */
    if (RUNNING_ON_VALGRIND)
        assert_int_equal(unknown_inputs, hashes); /* the marks came to where they are looked for */
    const struct db_token *const held[] = { &stage.old, &stage.now, &stage.other };
    for (size_t i = 0; i < sizeof held / sizeof held[0]; i++) {
        for (size_t right = 0; right < DB_TOKEN_LENGTH; right++) {
            guess(held[i]->text, right, wrong);
            hashes = unknown_inputs = 0;
            assert_int_equal(look_for(&stage, wrong, &door), DB_DOOR_UNKNOWN);
            assert_int_equal(hashes, 1);
            assert_int_equal(unknown_inputs, RUNNING_ON_VALGRIND ? 1 : 0);
        }
    }
    assert_int_equal(VALGRIND_COUNT_ERRORS, before);
    close_stage(&stage);
}

/* The key is another one at each start: who learns the order of the hashes of one run knows nothing of the tokens. */
static void the_key_is_of_this_run(void **state)
{
    struct stage stage;
    unsigned char first[sizeof last_hash];
    size_t door = 9;

    (void) state;
    open_stage(&stage);
    assert_int_equal(look_for(&stage, stage.now.text, &door), DB_DOOR_OPEN);
    assert_int_equal(look_for(&stage, stage.now.text, &door), DB_DOOR_OPEN); /* this time the tokens are not read */
    memcpy(first, last_hash, sizeof first);
    stage.doors = db_doors_free(stage.doors);
    stage.doors = db_doors_new(&stage.house, true);
    assert_non_null(stage.doors);
    assert_int_equal(look_for(&stage, stage.now.text, &door), DB_DOOR_OPEN);
    assert_int_equal(look_for(&stage, stage.now.text, &door), DB_DOOR_OPEN);
    assert_memory_not_equal(first, last_hash, sizeof first);
    close_stage(&stage);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_opens_its_own),
        cmocka_unit_test(a_guess_tells_nothing),
        cmocka_unit_test(the_key_is_of_this_run),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
