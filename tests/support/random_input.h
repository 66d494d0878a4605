/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Random but well-formed inputs, plans, prompts and setups, for tests of what writes and reads
 * them. All padding is zero, so that two of them can be compared byte by byte. */
#ifndef TD_TESTS_RANDOM_INPUT_H
#define TD_TESTS_RANDOM_INPUT_H

#include "talkdown/coach.h"
#include "talkdown/rng.h"

void random_plan(struct td_rng *rng, struct td_plan *plan);
/* An offer of a hill points to `hill`; a plan to `plan`, filled here. */
void random_input(struct td_rng *rng, const struct td_hill *hill, struct td_plan *plan,
                  struct td_input *input);
void random_prompt(struct td_rng *rng, struct td_prompt *prompt);
void random_setup(struct td_rng *rng, struct td_setup *setup);

#endif
