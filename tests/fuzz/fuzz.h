/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a fuzz target is: one function fed with any bytes, which aborts when a promise is broken.
 * libFuzzer drives it (clang, -DTD_FUZZ=ON), or replay.c does, over a corpus and seeded changes. */
#ifndef TD_TESTS_FUZZ_H
#define TD_TESTS_FUZZ_H

#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "talkdown/result.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#define MUST(promise)                                                                              \
    do {                                                                                           \
        if (!(promise)) {                                                                          \
            (void)fprintf(stderr, "%s:%d: broken: %s\n", __FILE__, __LINE__, #promise);            \
            abort();                                                                               \
        }                                                                                          \
    } while (0)

/* A refusal is one clear line that names the file. */
static inline void must_be_clear(enum td_result result, const struct td_problem *problem,
                                 const char *file)
{
    MUST(result == TD_INVALID || result == TD_FULL);
    MUST(strcmp(problem->file, file) == 0);
    MUST(problem->line >= 0);
    MUST(memchr(problem->text, '\0', sizeof problem->text) != NULL);
    MUST(strlen(problem->text) >= 8);
    for (const char *c = problem->text; *c != '\0'; c++)
        MUST((unsigned char)*c >= 0x20 && *c != 0x7f);
}

#endif
