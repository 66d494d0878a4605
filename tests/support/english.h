/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The English phrase file and a rig and hill to fill its slots, for tests of words and sound. */
#ifndef TD_TESTS_ENGLISH_H
#define TD_TESTS_ENGLISH_H

#include "io/phrase_file.h"
#include "phrase/phrasebook.h"

/* Languages that come along: "en-us" first; NULL past the last. */
const char *english_language(unsigned index);
/* Reads the file of a language under sounds/phrases; fails the running test with its problem. */
struct td_phrase_file *english_open_language(const char *language);
struct td_phrase_file *english_open(void); /* en-us */
/* A rig with gears "low", "second" ... and stages "low", "high"; a hill with an escape lane on the
 * right (place 0), one with words of its own on the left (1), a closed one (2), a stop sign (3). */
const struct td_rig *english_rig(void);
const struct td_hill *english_hill(void);
/* Gives the rig another gearbox than its manual one and its stages another kind than engine brakes:
 * gears and stages are then said with how to take them. */
void english_variant(enum td_gearbox gearbox, enum td_holder holder);
/* A prompt with as many arguments as given (unit TD_UNIT_NONE may be one). */
struct td_prompt english_prompt(enum td_prompt_id id, unsigned count, const struct td_arg *args);
/* Words of the prompt on that rig and hill; "" when there are none. `words`: TD_WORDS_MAX. */
void english_say(const struct td_phrase_file *file, const struct td_prompt *prompt, char *words);

/* Every prompt at arguments that make it as long as it can be: call with rising `index` until it
 * returns false. */
bool english_longest(unsigned index, struct td_prompt *prompt);

/* The same, then every speed, distance, grade and what comes next that prompts are given, and some
 * weights: what the sound is measured over. */
bool english_every(unsigned index, struct td_prompt *prompt);

#endif
