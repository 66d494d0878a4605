/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Listening to what was played: a speech recogniser (pocketsphinx) with a closed grammar made of
 * the English phrase file and of close rivals that are never said. A recogniser is not a driver: it
 * compares and catches regressions. And a closed grammar always answers, so every use needs its
 * negative controls and must look at the sound's presence and length as well. */
#ifndef TD_TESTS_RECOGNISE_H
#define TD_TESTS_RECOGNISE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "phrase/phrasebook.h"

enum { RECOGNISE_WORDS_MAX = 1024, RECOGNISE_RATE_HZ = 22050 };

struct recogniser;

/* True when the acoustic model is installed; where it is not, tests skip. */
bool recogniser_is_there(void);
/* NULL, with a line on standard error, when a word is not in its dictionary and the like. */
struct recogniser *recogniser_open(const struct td_phrasebook *book);
/* The same with a grammar of the caller's (JSGF, name and public rule "said"). */
struct recogniser *recogniser_open_grammar(const char *grammar);
void recogniser_close(struct recogniser *recogniser);

/* Words of one stretch of speech (one prompt, or some in a row), lower case, one blank between
 * them; "" when nothing was understood. Mono, RECOGNISE_RATE_HZ. */
void recogniser_words(struct recogniser *recogniser, const int16_t *samples, size_t count,
                      char words[RECOGNISE_WORDS_MAX]);

/* Stretches of sound in a recording: louder than -40 dB of its peak, parted by at least gap_s of
 * silence. Returns how many there are; at most `most` are written. */
struct stretch {
    size_t from, to; /* samples */
};
size_t recognise_stretches(const int16_t *samples, size_t count, double gap_s,
                           struct stretch *stretches, size_t most);

/* Text as the recogniser would give it: lower case, no punctuation, "miles" as "mile" (it cannot
 * tell them apart, and neither must a driver). `plain` has room for RECOGNISE_WORDS_MAX. */
void recognise_plain(const char *text, char *plain);
/* Words that must be changed, added or left out to make one text of the other (plain texts), and
 * the number of words of `said`. */
size_t recognise_errors(const char *said, const char *heard, size_t *said_words);

/* The grammar (JSGF) made of a phrasebook; false when it does not fit. */
bool recognise_grammar(const struct td_phrasebook *book, char *grammar, size_t size);

#endif
