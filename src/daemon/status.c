/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Status as JSON. What is not known is null. */
#include "daemon/status.h"

#include <jansson.h>
#include <math.h>
#include <string.h>

#include "io/problem.h"
#include "talkdown/units.h"

static json_t *real_or_null(double value, bool known)
{
    return known && isfinite(value) ? json_real(value) : json_null();
}

static json_t *text_or_null(const char *text)
{
    return text != NULL && text[0] != '\0' ? json_string(text) : json_null();
}

static json_t *where_part(const struct td_cab_state *cab)
{
    const struct td_estimate *at = &cab->estimate;
    bool on = cab->hill != NULL;
    return json_pack("{s:s, s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "state", td_where_name(at->where),
                     "hill", on ? text_or_null(cab->hill->id) : json_null(), "hill_name",
                     on ? text_or_null(cab->hill->name) : json_null(), "along_m",
                     real_or_null(at->along_m, on), "sigma_m", real_or_null(at->sigma_m, on),
                     "speed_mps", real_or_null(at->speed_mps, at->where != TD_WHERE_NO_FIX),
                     "speed_mph",
                     real_or_null(td_mph_from_mps(at->speed_mps), at->where != TD_WHERE_NO_FIX),
                     "target_mph",
                     real_or_null(td_mph_from_mps(at->target_mps), at->target_mps > 0.0));
}

static json_t *heat_part(const struct td_cab_state *cab)
{
    const struct td_estimate *at = &cab->estimate;
    bool set = cab->setup->rig_is_set;
    return json_pack("{s:o, s:o, s:o}", "least_c", real_or_null(at->heat_least_c, set), "likely_c",
                     real_or_null(at->heat_likely_c, set), "most_c",
                     real_or_null(at->heat_most_c, set));
}

static json_t *rig_part(const struct td_cab_state *cab)
{
    static const char *const roads[] = {"dry", "wet", "ice"};
    const struct td_setup *setup = cab->setup;
    const struct td_rig *rig = &setup->rig;
    bool set = setup->rig_is_set;
    const char *stage = "off";
    if (cab->stage_most >= 0 && (size_t)cab->stage_most < rig->stage_count)
        stage = rig->stages[cab->stage_most].name;
    return json_pack("{s:o, s:o, s:o, s:b, s:o, s:s}", "name",
                     set ? text_or_null(rig->name) : json_null(), "load",
                     set ? text_or_null(rig->loads[rig->load_now].name) : json_null(), "weight_kg",
                     real_or_null(set ? rig->loads[rig->load_now].mass_kg : 0.0, set),
                     "load_confirmed", (int)(set && setup->load_confirmed), "engine_brake",
                     set ? json_string(stage) : json_null(), "road", roads[setup->road]);
}

static json_t *sound_part(const struct td_status *status)
{
    const struct td_voice_state *voice = &status->voice;
    return json_pack("{s:b, s:o, s:b, s:o, s:i, s:b, s:i}", "up", (int)voice->device_up, "device",
                     text_or_null(voice->device), "voice_running", (int)voice->running, "voice_pid",
                     voice->running ? json_integer(voice->pid) : json_null(), "voice_respawns",
                     (int)voice->respawns, "quiet", (int)status->cab.quiet, "volume_percent",
                     status->settings->volume_percent);
}

static json_t *gps_part(const struct td_status *status)
{
    const struct td_gpsd_state *gpsd = &status->gpsd;
    return json_pack("{s:s, s:I, s:I, s:I, s:i}", "state", td_gpsd_health_name(gpsd->health),
                     "fixes", (json_int_t)gpsd->fixes, "dropped_fixes",
                     (json_int_t)gpsd->dropped_fixes, "refused_lines",
                     (json_int_t)gpsd->refused_lines, "connections", (int)gpsd->connections);
}

static json_t *log_part(const struct td_status *status)
{
    static const char *const words[] = {"off", "writing", "failing"};
    const struct td_logger_state *log = &status->log;
    return json_pack("{s:s, s:o, s:I, s:o}", "state", words[log->health], "path",
                     text_or_null(log->path), "lost", (json_int_t)log->lost, "problem",
                     text_or_null(log->problem));
}

static json_t *library_part(const struct td_status_library *library)
{
    static const char *const verified[] = {"at opening", "not yet", "whole", "damaged"};
    char line[TD_PROBLEM_FILE_MAX + TD_PROBLEM_TEXT_MAX + 24] = "";
    if (library->refused.text[0] != '\0')
        (void)td_problem_line(&library->refused, line, sizeof line);
    return json_pack("{s:o, s:o, s:s, s:o}", "revision",
                     library->now.revision > 0 ? json_integer(library->now.revision) : json_null(),
                     "signed_by", text_or_null(library->now.key_id), "verified",
                     verified[library->now.verified], "refused", text_or_null(line));
}

static const char *button_word(const struct td_status *status)
{
    if (status->settings->button[0] == '\0')
        return "none";
    return status->button_up ? "ready" : "away";
}

char *td_status_text(const struct td_status *status)
{
    json_t *object = json_pack(
        "{s:b, s:s, s:f, s:i, s:o, s:I, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:s}", "ok", 1,
        "version", status->version, "up_s", status->up_s, "hills",
        (int)status->cab.setup->hills_on_board, "library", library_part(&status->library), "steps",
        (json_int_t)status->cab.steps, "last_words", text_or_null(status->cab.words), "where",
        where_part(&status->cab), "brakes", heat_part(&status->cab), "rig", rig_part(&status->cab),
        "sound", sound_part(status), "gps", gps_part(status), "log", log_part(status), "button",
        button_word(status));
    char *text = object != NULL ? json_dumps(object, JSON_COMPACT | JSON_REAL_PRECISION(6)) : NULL;
    json_decref(object);
    return text;
}
