/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The descent plan for machines: one JSON object. Its keys are a contract (docs/physics.md). */
#include <jansson.h>
#include <stdio.h>

#include "tool/plan/plan_figures.h"
#include "tool/plan/plan_words.h"

static json_t *word_or_null(const char *word)
{
    return word != NULL ? json_string(word) : json_null();
}

/* As the rig file has it. */
static const char *holder_key(const struct td_plan_answer *answer, int stage)
{
    static const char *const keys[] = {"engine_brake", "exhaust_brake", "retarder"};
    return keys[answer->rig->stages[stage].kind];
}

static json_t *stretches(const struct td_plan *plan)
{
    json_t *list = json_array();
    for (size_t i = 0; i < plan->stretch_count; i++) {
        const struct td_plan_stretch *stretch = &plan->stretches[i];
        (void)json_array_append_new(
            list, json_pack("{s:f, s:f, s:f, s:f, s:s}", "from_m",
                            td_round_to(stretch->from_m, 0.1), "to_m",
                            td_round_to(stretch->to_m, 0.1), "grade_pct",
                            td_round_to(stretch->downgrade_ratio * 100, 0.01), "target_mph",
                            td_floor_mph(stretch->target_mps), "limited_by",
                            td_plan_limit_name(stretch->limited_by)));
    }
    return list;
}

static json_t *descents(const struct td_plan_answer *answer)
{
    json_t *list = json_array();
    for (size_t i = 0; i < answer->plan.descent_count; i++) {
        const struct td_plan_descent *descent = &answer->plan.descents[i];
        json_t *rpm = descent->gear >= 0 ? json_integer(lround(descent->rpm)) : json_null();
        (void)json_array_append_new(
            list,
            json_pack("{s:f, s:f, s:i, s:f, s:i, s:i, s:s?, s:s?, s:o, s:s, s:f, s:f, s:f}",
                      "from_m", td_round_to(descent->from_m, 0.1), "to_m",
                      td_round_to(descent->to_m, 0.1), "target_mph", descent->target_mph,
                      "target_exact_mph", td_floor_mph(descent->target_mps), "say_mph",
                      descent->say_mph, "say_kmh", descent->say_kmh, "gear",
                      td_plan_gear_name(answer, descent->gear), "engine_brake",
                      td_plan_stage_name(answer, descent->gear, descent->stage), "rpm", rpm,
                      "limited_by", td_plan_limit_name(descent->limited_by), "peak_temp_f",
                      td_temp_f(descent->peak_c), "peak_at_m",
                      td_round_to(descent->peak_at_m, 0.1), "final_temp_f",
                      td_temp_f(descent->final_c)));
    }
    return list;
}

/* 0 stands for "not on file" in the plan, null for it here. */
static json_t *known_or_null(double value)
{
    return value > 0 ? json_real(value) : json_null();
}

static json_t *escape_lanes(const struct td_plan *plan)
{
    json_t *list = json_array();
    for (size_t i = 0; i < plan->escape_count; i++) {
        const struct td_plan_escape *escape = &plan->escapes[i];
        (void)json_array_append_new(
            list, json_pack("{s:f, s:f, s:o, s:o, s:o}", "at_m", td_round_to(escape->at_m, 0.1),
                            "runaway_mph",
                            ceil(td_mph_from_mps(escape->runaway_mps) * 10 - 1e-6) / 10,
                            "length_ft", known_or_null(floor(td_ft_from_m(escape->length_m))),
                            "stops_mph", known_or_null(td_floor_mph(escape->stops_mps)), "needs_ft",
                            known_or_null(ceil(td_ft_from_m(escape->needs_m) - 1e-6))));
    }
    return list;
}

static json_t *reasons(const struct td_plan_answer *answer)
{
    json_t *list = json_array();
    char line[TD_PLAN_LINE_MAX];
    for (size_t i = 0; i < answer->plan.reason_count; i++) {
        const struct td_plan_reason *reason = &answer->plan.reasons[i];
        (void)json_array_append_new(
            list, json_pack("{s:s, s:f, s:s}", "reason", td_plan_reason_name(reason->kind), "at_m",
                            td_round_to(reason->at_m, 0.1), "words",
                            td_plan_reason_line(answer, reason, line)));
    }
    return list;
}

static void set(json_t *object, const char *key, json_t *value)
{
    /* NULL (no memory) leaves the key out; the caller counts them. */
    (void)json_object_set_new(object, key, value);
}

static void set_question(json_t *object, const struct td_plan_answer *answer)
{
    const struct td_hill *hill = answer->hill;
    bool rig = answer->rig != NULL;
    set(object, "model", json_string(answer->model));
    set(object, "hill", answer->is_plain ? json_null() : json_string(hill->id));
    set(object, "rig", rig ? json_string(answer->rig->name) : json_null());
    set(object, "load", word_or_null(answer->load));
    set(object, "weight_lb", json_integer(lround(td_lb_from_kg(answer->query.mass_kg))));
    set(object, "road", rig ? json_string(td_plan_road_name(answer->query.road)) : json_null());
    set(object, "credit",
        rig ? json_string(td_plan_credit_name(answer->query.credit)) : json_null());
    set(object, "ambient_f", json_real(td_temp_f(answer->query.ambient_c)));
    set(object, "brakes_from_f",
        json_real(td_temp_f(answer->query.brakes_from_c)));
    set(object, "crest_m", json_real(td_round_to(hill->crest_m, 0.1)));
    set(object, "foot_m", json_real(td_round_to(hill->foot_m, 0.1)));
    set(object, "mean_grade_pct", json_real(td_round_to(hill->mean_downgrade_ratio * 100, 0.01)));
}

/* Room to spare, stops and heat, where a rig was planned and may go; null elsewhere. */
static void set_margins(json_t *object, const struct td_plan_answer *answer)
{
    const struct td_plan *plan = &answer->plan;
    bool known = answer->rig != NULL && plan->coached && plan->safe;
    set(object, "margin_lb",
        known ? json_integer(td_floor_lb(plan->spare_kg)) : json_null());
    set(object, "margin_mph", known ? json_real(td_floor_mph(plan->spare_mps)) : json_null());
    set(object, "likely_peak_temp_f",
        known ? json_real(td_temp_f(plan->likely_peak_c)) : json_null());
    set(object, "stop_distance_ft",
        known ? json_integer((long long)ceil(td_ft_from_m(plan->stop_m) - 1e-6)) : json_null());
    set(object, "last_stop_m",
        known ? json_real(td_round_to(plan->last_stop_m, 0.1)) : json_null());
    set(object, "escape_lanes", escape_lanes(plan));
}

static void set_figures(json_t *object, const struct td_plan_answer *answer)
{
    const struct td_plan *plan = &answer->plan;
    bool known = plan->coached;
    set(object, "coached", json_boolean(plan->coached));
    set(object, "safe", json_boolean(plan->safe));
    set(object, "target_mph", known ? json_integer(plan->target_mph) : json_null());
    set(object, "target_exact_mph",
        known ? json_real(td_floor_mph(plan->target_mps)) : json_null());
    set(object, "say_mph", known ? json_integer(plan->say_mph) : json_null());
    set(object, "say_kmh", known ? json_integer(plan->say_kmh) : json_null());
    set(object, "without_engine_brake_mph",
        known ? json_integer(plan->without_engine_brake_mph) : json_null());
    set(object, "limited_by", json_string(td_plan_limit_name(plan->limited_by)));
    set(object, "gear", word_or_null(td_plan_gear_name(answer, plan->gear)));
    set(object, "engine_brake", 
        word_or_null(td_plan_stage_name(answer, plan->gear, plan->stage)));
    set(object, "engine_brake_kind",
        plan->stage >= 0 ? json_string(holder_key(answer, plan->stage)) : json_null());
    set(object, "rpm", plan->gear >= 0 ? json_integer(lround(plan->rpm)) : json_null());
    set(object, "peak_temp_f",
        known ? json_real(td_temp_f(plan->peak_c)) : json_null());
    set(object, "final_temp_f",
        known ? json_real(td_temp_f(plan->final_c)) : json_null());
    set(object, "limit_temp_f", json_real(td_temp_f(answer->limit_c)));
    set(object, "margin_temp_f", known ? json_real(td_round_to(plan->margin_c * 1.8, 0.1))
                                       : json_null());
    set(object, "service_brake_share_pct",
        answer->rig != NULL && plan->gear >= 0
            ? json_real(td_round_to(plan->brake_share * 100, 0.1))
            : json_null());
}

bool td_plan_print_json(const struct td_plan_answer *answer)
{
    json_t *object = json_object();
    if (object == NULL)
        return false;
    set_question(object, answer);
    set_figures(object, answer);
    set_margins(object, answer);
    set(object, "descents", descents(answer));
    set(object, "stretches", stretches(&answer->plan));
    set(object, "reasons", reasons(answer));
    set(object, "advice_only",
        json_string("posted signs, the law and the driver come first"));
    enum { KEYS = 39 };
    bool whole = json_object_size(object) == KEYS;
    int failed = json_dumpf(object, stdout, JSON_INDENT(2) | JSON_REAL_PRECISION(9));
    json_decref(object);
    return whole && failed == 0 && putchar('\n') != EOF && fflush(stdout) == 0;
}
