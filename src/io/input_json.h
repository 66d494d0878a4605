/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One step's input as one line of JSON and back, bit for bit (see members.h); a prompt likewise.
 * A hill is named by its hash only; a plan is written whole. docs/formats.md lists the members. */
#ifndef TD_IO_INPUT_JSON_H
#define TD_IO_INPUT_JSON_H

#include <stdbool.h>
#include <stddef.h>

#include "talkdown/coach.h"

/* For the caller to free; NULL when there is no memory. */
char *td_input_to_json(const struct td_input *input);

struct td_input_read {
    struct td_input input; /* input.plan points to `plan` when one is there; offer.hill is NULL */
    struct td_plan plan;
    bool has_hill; /* input.offer is a hill's: the caller finds it by `hash` */
    uint8_t hash[TD_HASH_BYTES];
};

TD_CHECKED enum td_result td_input_from_json(const char *text, size_t length,
                                             struct td_input_read *read,
                                             struct td_problem *problem);

char *td_prompt_to_json(const struct td_prompt *prompt);
TD_CHECKED enum td_result td_prompt_from_json(const char *text, size_t length,
                                              struct td_prompt *prompt,
                                              struct td_problem *problem);

/* Hash as 64 lower-case hexadecimal digits and back. */
enum { TD_HASH_TEXT = 2 * TD_HASH_BYTES + 1 };
void td_hash_text(const uint8_t hash[TD_HASH_BYTES], char text[TD_HASH_TEXT]);
bool td_hash_from_text(const char *text, uint8_t hash[TD_HASH_BYTES]);

#endif
