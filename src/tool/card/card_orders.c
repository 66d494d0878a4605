/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What to do, large enough to be read at arm's length: gear, engine brake, speed; or that the truck
 * must not go down. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "tool/card/card_parts.h"

#define FRAME    "fill=\"none\" stroke=\"#000\" stroke-width=\"3\""
#define BIG      46.0
#define BIG_LEAST 38.0 /* 24 pixels on a phone */
#define INSIDE   14.0

/* Largest size from `most` down to `least` at which the words fit; they are cut if none does. */
static double fit(char *words, size_t room, double width, double most, double least)
{
    char whole[TD_PLAN_LINE_MAX];
    double size = most;
    while (size > least && td_svg_width(words, size, true) > width)
        size -= 1;
    (void)snprintf(whole, sizeof whole, "%s", words);
    td_svg_cut(whole, width, size, true, words, room);
    return size;
}

static void big_line(struct td_card *card, char *words)
{
    double size = fit(words, TD_PLAN_LINE_MAX, CARD_RIGHT - CARD_LEFT - 2 * INSIDE, BIG, BIG_LEAST);
    card->y += BIG * 1.1;
    td_svg_text(card->svg, CARD_LEFT + INSIDE, card->y, card_type(size, true, TD_SVG_LEFT), words);
}

/* One descent: three lines, the speed the largest. */
static void order(struct td_card *card, const struct td_plan_descent *descent)
{
    char words[TD_PLAN_LINE_MAX];
    double top = card->y;
    card->y += 2;
    if (descent->gear >= 0) {
        (void)td_plan_gear_words(card->answer, descent->gear, words);
        big_line(card, card_capital(words));
        (void)td_plan_stage_words(card->answer, descent->gear, descent->stage, words);
        if (words[0] != '\0')
            big_line(card, card_capital(words));
    }
    card->y += 71;
    (void)snprintf(words, sizeof words, "%d", td_plan_say_figure(card->answer, descent));
    td_svg_text(card->svg, CARD_LEFT + INSIDE, card->y, card_type(76, true, TD_SVG_LEFT), words);
    double right = CARD_LEFT + INSIDE + td_svg_width(words, 76, true) + 14;
    (void)snprintf(words, sizeof words, "%s or slower", td_plan_speed_unit(card->answer));
    double size = fit(words, sizeof words, CARD_RIGHT - INSIDE - right, 42, BIG_LEAST);
    td_svg_text(card->svg, right, card->y, card_type(size, true, TD_SVG_LEFT), words);
    card->y += 16;
    td_svg_rect(card->svg, CARD_LEFT, top, CARD_RIGHT - CARD_LEFT, card->y - top, FRAME);
}

#define GEAR_X  (CARD_LEFT + INSIDE)
#define GAP     20.0
#define HEAD    16.0

/* Where the columns stand and how large their words are. Gears and stages too long for one row of
 * the least size get a row each, and so do stages of more than one kind of brake, which no heading
 * can name. */
struct columns {
    double size, stage_x, speed_x;
    bool has_stage, two_rows;
};

static double widest(const struct td_plan_answer *answer, bool stage, double size)
{
    double width = 0;
    for (size_t i = 0; i < answer->plan.descent_count; i++) {
        const struct td_plan_descent *descent = &answer->plan.descents[i];
        const char *name = stage ? td_plan_stage_name(answer, descent->gear, descent->stage)
                                 : td_plan_gear_name(answer, descent->gear);
        if (name != NULL)
            width = fmax(width, td_svg_width(name, size, true));
    }
    return width;
}

static bool is_mixed(const struct td_plan_answer *answer)
{
    const char *first = NULL;
    for (size_t i = 0; i < answer->plan.descent_count; i++) {
        int stage = answer->plan.descents[i].stage;
        const char *holder = td_plan_holder_name(answer, stage);
        if (stage >= 0 && first != NULL && strcmp(first, holder) != 0)
            return true;
        first = stage >= 0 ? holder : first;
    }
    return false;
}

static const char *stage_head(const struct td_card *card, char *words)
{
    (void)snprintf(words, TD_PLAN_LINE_MAX, "%s",
                   td_plan_holder_name(card->answer, card->answer->plan.stage));
    return card_capital(words);
}

static struct columns columns_of(const struct td_card *card)
{
    const struct td_plan_answer *answer = card->answer;
    char words[TD_PLAN_LINE_MAX];
    double head = td_svg_width(stage_head(card, words), HEAD, false);
    struct columns columns = {44, 0, 0, widest(answer, true, 1) > 0, false};
    (void)snprintf(words, sizeof words, "%s or slower", td_plan_speed_unit(answer));
    columns.speed_x = CARD_RIGHT - INSIDE - td_svg_width(words, HEAD, false);
    for (; columns.size >= BIG_LEAST && !is_mixed(answer); columns.size -= 1) {
        double stage = columns.has_stage ? fmax(head, widest(answer, true, columns.size)) + GAP : 0;
        columns.stage_x = columns.speed_x - stage;
        if (GEAR_X + widest(answer, false, columns.size) + GAP <= columns.stage_x)
            return columns;
    }
    columns.size = BIG_LEAST;
    columns.two_rows = true;
    columns.stage_x = GEAR_X;
    return columns;
}

static void cell(struct td_card *card, double x, double right, double size, const char *words)
{
    char text[TD_PLAN_LINE_MAX];
    td_svg_cut(words, right - x, size, true, text, sizeof text);
    td_svg_text(card->svg, x, card->y, card_type(size, true, TD_SVG_LEFT), text);
}

/* One of several descents: a row of the table. */
static void row(struct td_card *card, const struct columns *columns, size_t at)
{
    const struct td_plan_answer *answer = card->answer;
    const struct td_plan_descent *descent = &answer->plan.descents[at];
    char line[512], from[TD_PLAN_LINE_MAX], to[TD_PLAN_LINE_MAX], words[TD_PLAN_LINE_MAX];
    (void)snprintf(line, sizeof line, "Downgrade %zu: %s to %s", at + 1,
                   td_plan_place_words(answer, descent->from_m, from),
                   td_plan_place_words(answer, descent->to_m, to));
    td_svg_text(card->svg, GEAR_X, card->y + 18, card_type(15, true, TD_SVG_LEFT), line);
    card->y += 58;
    const char *gear = td_plan_gear_name(answer, descent->gear);
    if (gear != NULL)
        cell(card, GEAR_X, columns->two_rows ? CARD_RIGHT - INSIDE : columns->stage_x - 8,
             columns->size, gear);
    card->y += columns->two_rows ? 46 : 0;
    const char *stage = td_plan_stage_name(answer, descent->gear, descent->stage);
    if (columns->two_rows && stage != NULL) {
        (void)td_plan_stage_words(answer, descent->gear, descent->stage, words);
        double size = fit(words, sizeof words, columns->speed_x - 8 - GEAR_X, BIG_LEAST, 26);
        cell(card, GEAR_X, columns->speed_x - 8, size, card_capital(words));
    } else if (stage != NULL) {
        cell(card, columns->stage_x, columns->speed_x - 8, columns->size, stage);
    }
    (void)snprintf(words, sizeof words, "%d", td_plan_say_figure(answer, descent));
    cell(card, columns->speed_x, CARD_RIGHT, columns->size, words);
    card->y += 12;
}

static void table(struct td_card *card)
{
    struct columns columns = columns_of(card);
    struct td_svg_type type = card_type(HEAD, false, TD_SVG_LEFT);
    char words[TD_PLAN_LINE_MAX];
    double top = card->y;
    card->y += 22;
    td_svg_text(card->svg, GEAR_X, card->y, type, "Gear");
    if (columns.has_stage && !columns.two_rows)
        td_svg_text(card->svg, columns.stage_x, card->y, type, stage_head(card, words));
    (void)snprintf(words, sizeof words, "%s or slower", td_plan_speed_unit(card->answer));
    td_svg_text(card->svg, columns.speed_x, card->y, type, words);
    card->y += 6;
    for (size_t i = 0; i < card->answer->plan.descent_count; i++) {
        td_svg_line(card->svg, CARD_LEFT, card->y, CARD_RIGHT, card->y, CARD_THIN);
        row(card, &columns, i);
    }
    td_svg_rect(card->svg, CARD_LEFT, top, CARD_RIGHT - CARD_LEFT, card->y - top, FRAME);
}

/* White on black where the answer is no: nothing else on a card looks like it. */
static void banner(struct td_card *card, bool is_no, const char *words, const char *why)
{
    char line[TD_PLAN_LINE_MAX], rest[TD_PLAN_LINE_MAX];
    struct td_svg_type type = {52, true, is_no, TD_SVG_LEFT, false};
    double width = CARD_RIGHT - CARD_LEFT - 2 * INSIDE, top = card->y;
    size_t lines = 0;
    for (const char *text = why; *text != '\0'; text += strspn(text, " "), lines++)
        text += td_svg_break(text, width, 20, true);
    td_svg_rect(card->svg, CARD_LEFT, top, CARD_RIGHT - CARD_LEFT, 82 + 27.0 * (double)lines,
                is_no ? "fill=\"#000\"" : FRAME);
    (void)snprintf(line, sizeof line, "%s", words);
    type.size = fit(line, sizeof line, width, 60, BIG_LEAST);
    td_svg_text(card->svg, CARD_LEFT + INSIDE, top + 62, type, line);
    type.size = 20;
    card->y = top + 70;
    for (const char *text = why; *text != '\0'; text += strspn(text, " ")) {
        size_t length = td_svg_break(text, width, 20, true);
        (void)snprintf(rest, sizeof rest, "%.*s", (int)length, text);
        card->y += 27;
        td_svg_text(card->svg, CARD_LEFT + INSIDE, card->y - 7, type, rest);
        text += length;
    }
    card->y += 12;
}

/* The last place on file before the crest where the truck can get off the road. */
static const struct td_place *last_way_out(const struct td_plan_answer *answer)
{
    const struct td_place *last = NULL;
    for (size_t i = 0; i < answer->hill->place_count; i++) {
        const struct td_place *place = &answer->hill->places[i];
        bool is_room = place->kind == TD_PLACE_BRAKE_CHECK || place->kind == TD_PLACE_TURN_OUT ||
                       place->kind == TD_PLACE_CHAIN_AREA;
        if (is_room && place->at_m < answer->hill->crest_m)
            last = place;
    }
    return last;
}

static void refusal(struct td_card *card)
{
    static const char *const kinds[] = {[TD_PLACE_BRAKE_CHECK] = "brake check area",
                                        [TD_PLACE_CHAIN_AREA] = "chain area",
                                        [TD_PLACE_TURN_OUT] = "turn-out"};
    const struct td_plan *plan = &card->answer->plan;
    char why[TD_PLAN_LINE_MAX] = "this rig at this weight should not go down here";
    char line[512], at[TD_PLAN_LINE_MAX];
    if (plan->reason_count > 0)
        (void)td_plan_reason_line(card->answer, &plan->reasons[0], why);
    banner(card, true, "DO NOT GO DOWN", card_capital(why));
    const struct td_place *out = last_way_out(card->answer);
    if (out == NULL)
        return;
    (void)snprintf(line, sizeof line, "Last place on file to stop: %s, %s",
                   kinds[out->kind], td_plan_place_words(card->answer, out->at_m, at));
    card_write(card, CARD_LEFT, 16, true, 2, line);
    card->y += 4;
}

void td_card_orders(struct td_card *card)
{
    const struct td_plan_answer *answer = card->answer;
    const struct td_plan *plan = &answer->plan;
    if (!plan->coached) {
        banner(card, false, "NO PLAN NEEDED", "A gentle road. Posted signs hold.");
        return;
    }
    if (!plan->safe) {
        refusal(card);
        return;
    }
    if (plan->descent_count > 1)
        table(card);
    else if (plan->descent_count == 1)
        order(card, &plan->descents[0]);
    card->y += 4;
    if (answer->rig == NULL)
        card_write(card, CARD_LEFT, 16, true, 2,
                   "The reference truck has no gears: the gear for this speed is yours to choose.");
    else if (answer->rig->gearbox != TD_GEARBOX_MANUAL)
        card_write(card, CARD_LEFT, 16, true, 2,
                   plan->descent_count > 1
                       ? "Manual mode: hold each gear to the end of its downgrade."
                       : "Manual mode: hold the gear until the foot.");
}
