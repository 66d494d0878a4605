/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The heap's entries stand here in place of the C library's (glibc, "Replacing malloc"), count, and
 * hand on to it. */
#include "support/count_alloc.h"

#include <stdatomic.h>
#include <stdlib.h>

/* glibc's own, under the names it keeps for this. */
extern void *__libc_malloc(size_t size);
extern void *__libc_calloc(size_t count, size_t size);
extern void *__libc_realloc(void *old, size_t size);
extern void __libc_free(void *old);

static atomic_uint_fast64_t calls;

void *malloc(size_t size)
{
    atomic_fetch_add(&calls, 1);
    return __libc_malloc(size);
}

void *calloc(size_t count, size_t size)
{
    atomic_fetch_add(&calls, 1);
    return __libc_calloc(count, size);
}

void *realloc(void *old, size_t size)
{
    atomic_fetch_add(&calls, 1);
    return __libc_realloc(old, size);
}

void free(void *old)
{
    atomic_fetch_add(&calls, 1);
    __libc_free(old);
}

uint64_t count_alloc_calls(void)
{
    return atomic_load(&calls);
}
