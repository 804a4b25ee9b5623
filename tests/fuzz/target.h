/* What a fuzz target offers, by the name that libFuzzer calls. */
#ifndef DB_FUZZ_TARGET_H
#define DB_FUZZ_TARGET_H

#include <stddef.h>
#include <stdint.h>

/* Takes any bytes; aborts if a promise is broken. Always returns 0. */
int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#endif
