/* Stands before glibc's allocator and counts calls. */
#include "bench.h"

#include <stdatomic.h>

extern void *__libc_malloc(size_t size);
extern void *__libc_calloc(size_t count, size_t size);
extern void *__libc_realloc(void *old, size_t size);

void *malloc(size_t size);
void *calloc(size_t count, size_t size);
void *realloc(void *old, size_t size);

static atomic_size_t calls;

void *malloc(size_t size)
{
    atomic_fetch_add_explicit(&calls, 1, memory_order_relaxed);
    return __libc_malloc(size);
}

void *calloc(size_t count, size_t size)
{
    atomic_fetch_add_explicit(&calls, 1, memory_order_relaxed);
    return __libc_calloc(count, size);
}

void *realloc(void *old, size_t size)
{
    atomic_fetch_add_explicit(&calls, 1, memory_order_relaxed);
    return __libc_realloc(old, size);
}

size_t bench_allocations(void)
{
    return atomic_load_explicit(&calls, memory_order_relaxed);
}
