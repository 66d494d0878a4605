/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The foot of the card: what is to spare, where it can be stopped, why, and what it was made of. */
#include <stdio.h>

#include "talkdown/units.h"
#include "tool/card/card_parts.h"

enum { REASONS_SHOWN = 3, ESCAPES_SHOWN = 4, LINES = 2 };

static void note(struct td_card *card, char *line)
{
    td_svg_circle(card->svg, CARD_LEFT + 3, card->y + CARD_SMALL * 0.72, 2.4, "fill=\"#000\"");
    card_write(card, CARD_LEFT + 14, CARD_SMALL, false, LINES, card_capital(line));
}

static void head(struct td_card *card, const char *words)
{
    card->y += 4;
    card_write(card, CARD_LEFT, 15, true, 1, words);
}

static void margins(struct td_card *card)
{
    const struct td_plan_answer *answer = card->answer;
    const struct td_plan *plan = &answer->plan;
    char line[TD_PLAN_LINE_MAX], speed[TD_PLAN_LINE_MAX];
    head(card, "Room to spare and to stop");
    (void)td_plan_margin_line(answer, line);
    note(card, line);
    (void)td_plan_stop_line(answer, line);
    note(card, line);
    (void)td_plan_last_stop_line(answer, line);
    note(card, line);
    if (plan->stage >= 0 && plan->without_engine_brake_mph > 0) {
        (void)snprintf(line, sizeof line, "without the %s: %.30s or slower",
                       td_plan_holder_name(answer, plan->stage),
                       td_plan_speed_words(answer, td_mps_from_mph(plan->without_engine_brake_mph),
                                           speed));
        note(card, line);
    } else if (plan->stage >= 0) {
        (void)snprintf(line, sizeof line, "without the %s: do not go down",
                       td_plan_holder_name(answer, plan->stage));
        note(card, line);
    }
    for (size_t i = 0; i < plan->escape_count && i < ESCAPES_SHOWN; i++) {
        (void)td_plan_escape_line(answer, &plan->escapes[i], line);
        note(card, line);
    }
}

static void reasons(struct td_card *card)
{
    const struct td_plan *plan = &card->answer->plan;
    char line[TD_PLAN_LINE_MAX];
    /* A refusal's first reason stands in its banner. */
    size_t first = plan->coached && !plan->safe ? 1 : 0;
    if (plan->reason_count <= first)
        return;
    head(card, "Why");
    for (size_t i = first; i < plan->reason_count && i < first + REASONS_SHOWN; i++) {
        (void)td_plan_reason_line(card->answer, &plan->reasons[i], line);
        note(card, line);
    }
}

static void origin(struct td_card *card)
{
    const struct td_plan_answer *answer = card->answer;
    const struct td_hill *hill = answer->hill;
    char line[512], hash[16] = "";
    for (size_t i = 0; i < 6; i++)
        (void)snprintf(hash + 2 * i, 3, "%02x", hill->hash[i]);
    if (answer->rig == NULL)
        (void)snprintf(line, sizeof line, "Made of %s, model %s.", card->source, answer->model);
    else if (answer->is_plain)
        (void)snprintf(line, sizeof line, "Made of %s, %s engine-brake credit.", card->source,
                       td_plan_credit_name(answer->query.credit));
    else
        (void)snprintf(line, sizeof line, "Made of %s; hill %.64s revision %s; %s engine-brake "
                       "credit.", card->source, hill->id, hash,
                       td_plan_credit_name(answer->query.credit));
    card_write(card, CARD_LEFT, CARD_SMALL, false, 3, line);
}

void td_card_notes(struct td_card *card)
{
    const struct td_plan *plan = &card->answer->plan;
    card->y += 4;
    if (plan->coached && plan->safe && card->answer->rig != NULL)
        margins(card);
    reasons(card);
    card->y += 6;
    card_write(card, CARD_LEFT, 15, true, 2,
               "Advice only: posted signs, the law and the driver come first.");
    origin(card);
}
