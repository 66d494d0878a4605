/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Phrase files on disk: YAML, one a language, into a td_phrasebook (pure side: src/phrase). */
#ifndef TD_IO_PHRASE_FILE_H
#define TD_IO_PHRASE_FILE_H

#include <stddef.h>
#include <stdint.h>

#include "talkdown/phrase.h"

struct td_phrase_file; /* owns the book and its strings */

TD_CHECKED enum td_result td_phrase_file_read(const char *path, struct td_phrase_file **out,
                                              struct td_problem *problem);
TD_CHECKED enum td_result td_phrase_file_parse(const char *name, const char *bytes, size_t length,
                                               struct td_phrase_file **out,
                                               struct td_problem *problem);
const struct td_phrasebook *td_phrase_file_book(const struct td_phrase_file *file);
/* Voice and rate the file asks of the synthesiser, and its measured table of lengths (a prompt's
 * longest speech in ms, tone included), part of the same file. */
const char *td_phrase_file_voice(const struct td_phrase_file *file);
int td_phrase_file_rate_wpm(const struct td_phrase_file *file);
const int32_t *td_phrase_file_speech_ms(const struct td_phrase_file *file); /* TD_PROMPT_IDS */
void td_phrase_file_free(struct td_phrase_file **file);

#endif
