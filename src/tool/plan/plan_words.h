/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Figures and reasons of a plan in words: the same ones in text, JSON and on the card.
 *
 * Units are the answer's: miles, mph, feet, pounds and Fahrenheit, or km, km/h, m, kg and Celsius
 * when its query speaks km/h. Places count from the crest, which a driver can see; the start of the
 * road on file is nothing to him. Each function that takes `line` (TD_PLAN_LINE_MAX bytes) writes
 * there and returns it. Nothing is rounded to the bold side: speeds and room to spare go down,
 * distances to stop go up. */
#ifndef TD_TOOL_PLAN_WORDS_H
#define TD_TOOL_PLAN_WORDS_H

#include "tool/plan/plan_answer.h"

const char *td_plan_limit_name(enum td_plan_limit limit);
const char *td_plan_road_name(enum td_road road);
const char *td_plan_credit_name(enum td_credit credit);
const char *td_plan_reason_name(enum td_plan_reason_kind kind);

/* Name of a gear or stage by index; NULL when there is none. A rig that has stages and leaves them
 * off: "off". */
const char *td_plan_gear_name(const struct td_plan_answer *answer, int gear);
const char *td_plan_stage_name(const struct td_plan_answer *answer, int gear, int stage);
/* "engine brake", "exhaust brake", "retarder": what the stage works; with none the rig's first. */
const char *td_plan_holder_name(const struct td_plan_answer *answer, int stage);

/* Of the stage that reasons speak of: the plan's; of a refusal the strongest it could count on. */
const char *td_plan_reason_holder(const struct td_plan_answer *answer);

/* "18 mph" of a speed; of the whole figures of a descent the one in the answer's unit. */
const char *td_plan_speed_words(const struct td_plan_answer *answer, double mps, char *line);
int td_plan_target_figure(const struct td_plan_answer *answer,
                          const struct td_plan_descent *descent);
int td_plan_say_figure(const struct td_plan_answer *answer, const struct td_plan_descent *descent);
const char *td_plan_speed_unit(const struct td_plan_answer *answer);
/* "mile 1.3", "0.4 miles before the crest". */
const char *td_plan_place_words(const struct td_plan_answer *answer, double at_m, char *line);
/* "6.1 miles"; "820 ft" of what a person paces off, rounded up. */
const char *td_plan_way_words(const struct td_plan_answer *answer, double m, char *line);
const char *td_plan_reach_words(const struct td_plan_answer *answer, double m, char *line);
/* "79,900 lb" */
const char *td_plan_mass_words(const struct td_plan_answer *answer, double kg, char *line);
/* "500 F" of a temperature; of a difference with `difference`. */
const char *td_plan_temp_words(const struct td_plan_answer *answer, double c, char *line);
const char *td_plan_warmth_words(const struct td_plan_answer *answer, double c_more, char *line);

/* "low gear", "third gear"; "retarder two", "engine brake off"; "" for none. */
const char *td_plan_gear_words(const struct td_plan_answer *answer, int gear, char *line);
const char *td_plan_stage_words(const struct td_plan_answer *answer, int gear, int stage,
                                char *line);

/* One clear clause each. */
const char *td_plan_reason_line(const struct td_plan_answer *answer,
                                const struct td_plan_reason *reason, char *line);
/* "4,200 lb more or 6 mph faster reaches the limit" */
const char *td_plan_margin_line(const struct td_plan_answer *answer, char *line);
/* "stopping from 18 mph takes 240 ft where it is steepest" */
const char *td_plan_stop_line(const struct td_plan_answer *answer, char *line);
/* Where hot brakes can still stop it when the engine brake is lost. */
const char *td_plan_last_stop_line(const struct td_plan_answer *answer, char *line);
/* "escape lane, right, mile 1.3: a runaway could come at 74 mph, its 920 ft stop 58 mph" */
const char *td_plan_escape_line(const struct td_plan_answer *answer,
                                const struct td_plan_escape *escape, char *line);
/* The place on file that an escape lane of the plan stands for; NULL when it is gone. */
const struct td_place *td_plan_escape_place(const struct td_plan_answer *answer,
                                            const struct td_plan_escape *escape);
/* The hottest of all descents; the plan's own figures are those of the slowest. */
void td_plan_hottest(const struct td_plan_answer *answer, double *peak_c, double *peak_at_m);
/* "likely 180 F, at worst 240 F at mile 1.9; limit 500 F" */
const char *td_plan_heat_line(const struct td_plan_answer *answer, char *line);

#endif
