/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Counts every call of the heap in this program, those of the C library's own included. Link
 * count_alloc.c into the program; not together with a sanitizer, which has a heap of its own. */
#ifndef TD_TESTS_COUNT_ALLOC_H
#define TD_TESTS_COUNT_ALLOC_H

#include <stdint.h>

/* Of malloc, calloc, realloc and free, of all threads. */
uint64_t count_alloc_calls(void);

#endif
