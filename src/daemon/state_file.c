/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The state file as JSON. */
#include "daemon/state_file.h"

#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/file.h"
#include "io/problem.h"
#include "talkdown/heat.h"
#include "talkdown/text.h"
#include "talkdown/units.h"

enum { STATE_BYTES_MAX = 4096 };

static const double heat_least_c = -60.0, heat_most_c = 1500.0;
static const int64_t confirmed_for_ns = 20 * 60 * TD_NS_PER_S;

static bool read_text(const json_t *object, const char *key, char *text, size_t size)
{
    const char *value = json_string_value(json_object_get(object, key));
    return value != NULL && td_text_copy(text, size, value);
}

static bool read_heat(const json_t *object, const char *key, double *heat_c)
{
    const json_t *value = json_object_get(object, key);
    if (!json_is_number(value))
        return false;
    *heat_c = json_number_value(value);
    return *heat_c >= heat_least_c && *heat_c <= heat_most_c;
}

static bool read_object(const json_t *object, struct td_carried *made)
{
    const json_t *saved = json_object_get(object, "saved_ns");
    const json_t *confirmed = json_object_get(object, "load_confirmed");
    made->saved_ns = json_integer_value(saved);
    made->load_confirmed = json_is_true(confirmed);
    return json_integer_value(json_object_get(object, "version")) == 1 && json_is_integer(saved) &&
           json_is_boolean(confirmed) &&
           read_text(object, "boot_id", made->boot_id, sizeof made->boot_id) &&
           read_text(object, "rig", made->rig, sizeof made->rig) &&
           read_text(object, "load", made->load, sizeof made->load) &&
           read_heat(object, "heat_least_c", &made->least_c) &&
           read_heat(object, "heat_likely_c", &made->likely_c) &&
           read_heat(object, "heat_most_c", &made->most_c);
}

enum td_result td_carried_read(const char *path, struct td_carried *carried,
                               struct td_problem *problem)
{
    char *bytes = NULL;
    size_t length = 0;
    enum td_result result = td_file_read(path, STATE_BYTES_MAX, &bytes, &length, problem);
    if (result != TD_OK)
        return result;
    json_error_t error;
    json_t *object = json_loadb(bytes, length, JSON_REJECT_DUPLICATES, &error);
    struct td_carried made = {0};
    bool good = object != NULL && read_object(object, &made);
    json_decref(object);
    free(bytes);
    if (!good)
        return td_problem_set(problem, TD_INVALID, path, 0,
                              "is no state file of this program; heat and load start anew");
    *carried = made;
    return TD_OK;
}

char *td_carried_text(const struct td_carried *carried)
{
    json_t *object = json_pack(
        "{s:i, s:s, s:I, s:s, s:s, s:b, s:f, s:f, s:f}", "version", 1, "boot_id",
        carried->boot_id, "saved_ns", (json_int_t)carried->saved_ns, "rig", carried->rig, "load",
        carried->load, "load_confirmed", (int)carried->load_confirmed, "heat_least_c",
        carried->least_c, "heat_likely_c", carried->likely_c, "heat_most_c", carried->most_c);
    char *text = object != NULL ? json_dumps(object, JSON_INDENT(1)) : NULL;
    json_decref(object);
    return text;
}

static bool same_rig(const struct td_carried *carried, const struct td_rig *rig)
{
    return strcmp(carried->rig, rig->name) == 0;
}

static bool same_boot(const struct td_carried *carried, const char *boot_id, int64_t now_ns)
{
    return boot_id[0] != '\0' && strcmp(carried->boot_id, boot_id) == 0 &&
           now_ns >= carried->saved_ns;
}

double td_carried_heat_c(const struct td_carried *carried, const struct td_rig *rig,
                         const char *boot_id, int64_t now_ns, double ambient_c)
{
    if (!same_rig(carried, rig))
        return (double)NAN;
    if (!same_boot(carried, boot_id, now_ns))
        return carried->likely_c;
    /* Full capacity: a smaller one would cool sooner than it may. */
    return td_heat_step_c(&rig->brakes, 1.0, carried->likely_c, 0.0, 0.0, ambient_c,
                          td_s_from_ns(now_ns - carried->saved_ns));
}

size_t td_carried_load(const struct td_carried *carried, const struct td_rig *rig)
{
    for (size_t i = 0; same_rig(carried, rig) && i < rig->load_count; i++)
        if (strcmp(rig->loads[i].name, carried->load) == 0)
            return i;
    return rig->load_now;
}

bool td_carried_load_confirmed(const struct td_carried *carried, const struct td_rig *rig,
                               const char *boot_id, int64_t now_ns)
{
    return carried->load_confirmed && same_rig(carried, rig) &&
           same_boot(carried, boot_id, now_ns) && now_ns - carried->saved_ns <= confirmed_for_ns;
}
