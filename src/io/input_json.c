/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Inputs and prompts as JSON. What is absent from an input (no fix, no report, no offer, no plan,
 * no command) is absent from its JSON, since most steps carry a fix or nothing. */
#include "io/input_json.h"

#include <string.h>

#include "io/members.h"
#include "io/problem.h"

static const struct td_member fix_members[] = {
    TD_M_WHOLE(struct td_fix, received_ns, 0, 0),
    TD_M_UNSIGNED(struct td_fix, has, 63),
    TD_M_WHOLE(struct td_fix, utc_ms, 0, 0),
    TD_M_REAL(struct td_fix, lat_deg),
    TD_M_REAL(struct td_fix, lon_deg),
    TD_M_REAL(struct td_fix, altitude_m),
    TD_M_REAL(struct td_fix, speed_mps),
    TD_M_REAL(struct td_fix, track_deg),
    TD_M_REAL(struct td_fix, sigma_m),
    TD_M_END,
};

static const struct td_member report_members[] = {
    TD_M_UNSIGNED(struct td_report, serial, 0),
    TD_M_UNSIGNED(struct td_report, kind, TD_REPORT_DROPPED),
    TD_M_END,
};

static const struct td_member reports_members[] = {
    TD_M_ARRAY(struct td_input, reports, report_count, STRUCT, report_members),
    TD_M_END,
};

static const struct td_member offer_members[] = {
    TD_M_UNSIGNED(struct td_offer, kind, TD_OFFER_DAMAGED),
    TD_M_UNSIGNED(struct td_offer, want_serial, 0),
    TD_M_UNSIGNED(struct td_offer, handle, 0),
    TD_M_END,
};

static const struct td_member command_members[] = {
    TD_M_UNSIGNED(struct td_command, kind, TD_COMMAND_KINDS - 1),
    TD_M_WHOLE(struct td_command, value, 0, 0),
    TD_M_END,
};

static const struct td_member stretch_members[] = {
    TD_M_REAL(struct td_plan_stretch, from_m),
    TD_M_REAL(struct td_plan_stretch, to_m),
    TD_M_REAL(struct td_plan_stretch, downgrade_ratio),
    TD_M_REAL(struct td_plan_stretch, target_mps),
    TD_M_UNSIGNED(struct td_plan_stretch, limited_by, TD_LIMIT_NONE),
    TD_M_END,
};

static const struct td_member reason_members[] = {
    TD_M_UNSIGNED(struct td_plan_reason, kind, TD_REASON_KINDS - 1),
    TD_M_REAL(struct td_plan_reason, value),
    TD_M_REAL(struct td_plan_reason, at_m),
    TD_M_END,
};

static const struct td_member descent_members[] = {
    TD_M_REAL(struct td_plan_descent, from_m),
    TD_M_REAL(struct td_plan_descent, to_m),
    TD_M_REAL(struct td_plan_descent, target_mps),
    TD_M_WHOLE(struct td_plan_descent, target_mph, 0, 0),
    TD_M_WHOLE(struct td_plan_descent, say_mph, 0, 0),
    TD_M_WHOLE(struct td_plan_descent, say_kmh, 0, 0),
    TD_M_UNSIGNED(struct td_plan_descent, limited_by, TD_LIMIT_NONE),
    TD_M_WHOLE(struct td_plan_descent, gear, -1, TD_RIG_GEARS_MAX - 1),
    TD_M_WHOLE(struct td_plan_descent, stage, -1, TD_RIG_STAGES_MAX - 1),
    TD_M_REAL(struct td_plan_descent, rpm),
    TD_M_REAL(struct td_plan_descent, peak_c),
    TD_M_REAL(struct td_plan_descent, peak_at_m),
    TD_M_REAL(struct td_plan_descent, final_c),
    TD_M_END,
};

static const struct td_member escape_members[] = {
    TD_M_REAL(struct td_plan_escape, at_m),
    TD_M_REAL(struct td_plan_escape, runaway_mps),
    TD_M_REAL(struct td_plan_escape, length_m),
    TD_M_REAL(struct td_plan_escape, stops_mps),
    TD_M_REAL(struct td_plan_escape, needs_m),
    TD_M_END,
};

static const struct td_member plan_members[] = {
    TD_M_BOOL(struct td_plan, safe),
    TD_M_BOOL(struct td_plan, coached),
    TD_M_REAL(struct td_plan, target_mps),
    TD_M_WHOLE(struct td_plan, target_mph, 0, 0),
    TD_M_WHOLE(struct td_plan, say_mph, 0, 0),
    TD_M_WHOLE(struct td_plan, say_kmh, 0, 0),
    TD_M_WHOLE(struct td_plan, without_engine_brake_mph, 0, 0),
    TD_M_UNSIGNED(struct td_plan, limited_by, TD_LIMIT_NONE),
    TD_M_WHOLE(struct td_plan, gear, -1, TD_RIG_GEARS_MAX - 1),
    TD_M_WHOLE(struct td_plan, stage, -1, TD_RIG_STAGES_MAX - 1),
    TD_M_REAL(struct td_plan, rpm),
    TD_M_REAL(struct td_plan, peak_c),
    TD_M_REAL(struct td_plan, final_c),
    TD_M_REAL(struct td_plan, peak_at_m),
    TD_M_REAL(struct td_plan, likely_peak_c),
    TD_M_REAL(struct td_plan, margin_c),
    TD_M_REAL(struct td_plan, spare_kg),
    TD_M_REAL(struct td_plan, spare_mps),
    TD_M_REAL(struct td_plan, stop_m),
    TD_M_REAL(struct td_plan, last_stop_m),
    TD_M_REAL(struct td_plan, brake_share),
    TD_M_ARRAY(struct td_plan, stretches, stretch_count, STRUCT, stretch_members),
    TD_M_ARRAY(struct td_plan, descents, descent_count, STRUCT, descent_members),
    TD_M_ARRAY(struct td_plan, escapes, escape_count, STRUCT, escape_members),
    TD_M_ARRAY(struct td_plan, reasons, reason_count, STRUCT, reason_members),
    TD_M_END,
};

static const struct td_member arg_members[] = {
    TD_M_UNSIGNED(struct td_arg, unit, TD_UNITS - 1),
    TD_M_WHOLE(struct td_arg, value, 0, 0),
    TD_M_END,
};

static const struct td_member prompt_members[] = {
    TD_M_UNSIGNED(struct td_prompt, serial, 0),
    TD_M_UNSIGNED(struct td_prompt, id, TD_PROMPT_IDS - 1),
    TD_M_UNSIGNED(struct td_prompt, category, TD_CATEGORIES - 1),
    TD_M_UNSIGNED(struct td_prompt, hill_handle, 0),
    TD_M_WHOLE(struct td_prompt, place, 0, 0),
    TD_M_REAL(struct td_prompt, about_m),
    TD_M_WHOLE(struct td_prompt, decided_ns, 0, 0),
    TD_M_WHOLE(struct td_prompt, expires_ns, 0, 0),
    TD_M_ARRAY(struct td_prompt, args, arg_count, STRUCT, arg_members),
    TD_M_END,
};

void td_hash_text(const uint8_t hash[TD_HASH_BYTES], char text[TD_HASH_TEXT])
{
    static const char digits[] = "0123456789abcdef";
    for (size_t i = 0; i < TD_HASH_BYTES; i++) {
        text[2 * i] = digits[hash[i] >> 4];
        text[2 * i + 1] = digits[hash[i] & 15];
    }
    text[TD_HASH_TEXT - 1] = '\0';
}

static int digit_value(char c)
{
    if (c >= '0' && c <= '9')
        return c - '0';
    return c >= 'a' && c <= 'f' ? c - 'a' + 10 : -1;
}

bool td_hash_from_text(const char *text, uint8_t hash[TD_HASH_BYTES])
{
    if (strlen(text) != TD_HASH_TEXT - 1)
        return false;
    for (size_t i = 0; i < TD_HASH_BYTES; i++) {
        int high = digit_value(text[2 * i]), low = digit_value(text[2 * i + 1]);
        if (high < 0 || low < 0)
            return false;
        hash[i] = (uint8_t)(high * 16 + low);
    }
    return true;
}

static json_t *write_offer(const struct td_offer *offer)
{
    json_t *object = td_members_write(offer, offer_members);
    if (offer->hill == NULL)
        return object;
    char text[TD_HASH_TEXT];
    td_hash_text(offer->hill->hash, text);
    if (json_object_set_new(object, "hash", json_string(text)) == 0)
        return object;
    json_decref(object);
    return NULL;
}

/* Adds `part` when it is wanted; false when something could not be made. */
static bool add(json_t *object, bool wanted, const char *key, json_t *part)
{
    if (!wanted) {
        json_decref(part);
        return true;
    }
    return json_object_set_new(object, key, part) == 0;
}

char *td_input_to_json(const struct td_input *input)
{
    json_t *object = json_object();
    bool has_sound = input->sound != TD_SOUND_SAME;
    bool has_plan = input->plan != NULL;
    bool has_offer = input->offer.kind != TD_OFFER_NOTHING;
    bool has_command = input->command.kind != TD_COMMAND_NOTHING;
    bool whole =
        add(object, true, "now_ns", json_integer(input->now_ns)) &&
        add(object, input->has_fix, "fix",
            input->has_fix ? td_members_write(&input->fix, fix_members) : NULL) &&
        add(object, input->report_count > 0, "reports",
            input->report_count > 0 ? td_members_write(input, reports_members) : NULL) &&
        add(object, has_sound, "sound", has_sound ? json_integer(input->sound) : NULL) &&
        add(object, has_offer, "offer", has_offer ? write_offer(&input->offer) : NULL) &&
        add(object, input->plan_serial != 0, "plan_serial", json_integer(input->plan_serial)) &&
        add(object, has_plan, "plan",
            has_plan ? td_members_write(input->plan, plan_members) : NULL) &&
        add(object, has_command, "command",
            has_command ? td_members_write(&input->command, command_members) : NULL);
    if (whole)
        return td_members_text(object);
    json_decref(object);
    return NULL;
}

/* The hash is taken out first: it is no member of the struct. */
static enum td_result read_offer(json_t *part, struct td_input_read *read,
                                 struct td_problem *problem)
{
    const json_t *hash = json_object_get(part, "hash");
    if (hash != NULL) {
        const char *text = json_string_value(hash);
        if (text == NULL || !td_hash_from_text(text, read->hash))
            return td_problem_set(problem, TD_INVALID, NULL, 0,
                                  "offer: hash: 64 hexadecimal digits are needed");
        read->has_hill = true;
        (void)json_object_del(part, "hash");
    }
    enum td_result result = td_members_read(part, offer_members, &read->input.offer, problem);
    bool is_hill = read->input.offer.kind == TD_OFFER_HILL;
    if (result == TD_OK && is_hill != read->has_hill)
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "offer: a hash belongs to an offered hill and to nothing else");
    return result;
}

static enum td_result read_whole(const json_t *part, const char *key, int64_t low, int64_t high,
                                 int64_t *value, struct td_problem *problem)
{
    int64_t got = json_integer_value(part);
    if (!json_is_integer(part) || got < low || got > high)
        return td_problem_set(problem, TD_INVALID, NULL, 0, "%s: a whole number is needed", key);
    *value = got;
    return TD_OK;
}

static enum td_result read_part(const char *key, json_t *part, struct td_input_read *read,
                                struct td_problem *problem)
{
    struct td_input *input = &read->input;
    int64_t value = 0;
    enum td_result result;
    if (strcmp(key, "now_ns") == 0)
        return read_whole(part, key, INT64_MIN, INT64_MAX, &input->now_ns, problem);
    if (strcmp(key, "fix") == 0) {
        input->has_fix = true;
        return td_members_read(part, fix_members, &input->fix, problem);
    }
    if (strcmp(key, "reports") == 0)
        return td_members_read(part, reports_members, input, problem);
    if (strcmp(key, "sound") == 0) {
        result = read_whole(part, key, TD_SOUND_UP, TD_SOUND_DOWN, &value, problem);
        input->sound = (enum td_sound)value;
        return result;
    }
    if (strcmp(key, "offer") == 0)
        return read_offer(part, read, problem);
    if (strcmp(key, "plan_serial") == 0) {
        result = read_whole(part, key, 0, UINT32_MAX, &value, problem);
        input->plan_serial = (uint32_t)value;
        return result;
    }
    if (strcmp(key, "plan") == 0) {
        input->plan = &read->plan;
        return td_members_read(part, plan_members, &read->plan, problem);
    }
    if (strcmp(key, "command") == 0)
        return td_members_read(part, command_members, &input->command, problem);
    return td_problem_set(problem, TD_INVALID, NULL, 0, "%s: no such part of an input", key);
}

static json_t *parse(const char *text, size_t length, struct td_problem *problem)
{
    json_error_t error;
    json_t *object = json_loadb(text, length, JSON_REJECT_DUPLICATES, &error);
    if (object == NULL)
        (void)td_problem_set(problem, TD_INVALID, NULL, 0, "no JSON: %s", error.text);
    return object;
}

enum td_result td_input_from_json(const char *text, size_t length, struct td_input_read *read,
                                  struct td_problem *problem)
{
    json_t *object = parse(text, length, problem);
    if (object == NULL)
        return TD_INVALID;
    memset(read, 0, sizeof *read);
    enum td_result result = TD_OK;
    if (!json_is_object(object) || json_object_get(object, "now_ns") == NULL)
        result = td_problem_set(problem, TD_INVALID, NULL, 0,
                                "an input is an object that has at least now_ns");
    const char *key;
    json_t *part;
    if (result == TD_OK) {
        json_object_foreach(object, key, part)
        {
            result = read_part(key, part, read, problem);
            if (result != TD_OK)
                break;
        }
    }
    json_decref(object);
    return result;
}

char *td_prompt_to_json(const struct td_prompt *prompt)
{
    return td_members_text(td_members_write(prompt, prompt_members));
}

enum td_result td_prompt_from_json(const char *text, size_t length, struct td_prompt *prompt,
                                   struct td_problem *problem)
{
    json_t *object = parse(text, length, problem);
    if (object == NULL)
        return TD_INVALID;
    struct td_prompt made = {0};
    enum td_result result = td_members_read(object, prompt_members, &made, problem);
    json_decref(object);
    if (result == TD_OK)
        *prompt = made;
    return result;
}
