/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Prompts into words, for one language. Pure.
 *
 * Ownership: a phrasebook points into memory of whoever loaded it (the phrase file reader); words
 * are written to the caller's buffer. */
#ifndef TD_PHRASE_H
#define TD_PHRASE_H

#include <stddef.h>
#include <stdint.h>

#include "talkdown/hill.h"
#include "talkdown/prompt.h"
#include "talkdown/result.h"
#include "talkdown/rig.h"

enum { TD_WORDS_MAX = 256 };

struct td_phrasebook; /* src/phrase/phrasebook.h */

/* Writes the words of `prompt` to `words` (TD_WORDS_MAX bytes). `hill` may be NULL when the prompt
 * names none. TD_INVALID when an argument lies outside the hill, the rig or its unit's range: the
 * caller then drops the prompt and logs it; nothing half right is ever spoken. */
TD_CHECKED enum td_result td_phrase_words(const struct td_phrasebook *book,
                                          const struct td_prompt *prompt,
                                          const struct td_hill *hill, const struct td_rig *rig,
                                          char *words);

#endif
