/* SPDX-License-Identifier: GPL-3.0-or-later */
/* gpsd JSON, one object a line; objects of other classes than TPV are passed over, so that a
 * recording may be what gpsd sent, whole. */
#include "io/track_parts.h"

#include <jansson.h>
#include <math.h>
#include <stdbool.h>
#include <string.h>

#include "io/problem.h"
#include "io/utc.h"

enum { LINE_MOST = 1 << 16 };

/* gpsd gives errors at 95 %: 2.4477 sigma for the radius of two axes (Rayleigh), 1.96 for one. */
static const double sigmas_of_radius = 2.4477;
static const double sigmas_of_axis = 1.96;

struct line {
    const char *name;
    int number;
};

static enum td_result fail(const struct line *line, struct td_problem *problem, const char *what)
{
    return td_problem_set(problem, TD_INVALID, line->name, line->number, "%s", what);
}

/* *has tells whether the member is there; false when it is there and no number. */
static bool number(const json_t *object, const char *key, bool *has, double *value)
{
    const json_t *member = json_object_get(object, key);
    *has = member != NULL && !json_is_null(member);
    if (!*has)
        return true;
    if (!json_is_number(member))
        return false;
    *value = json_number_value(member);
    return true;
}

static bool take(const json_t *object, const char *key, unsigned bit, double *value,
                 struct td_fix *fix)
{
    bool has = false;
    if (!number(object, key, &has, value))
        return false;
    if (has)
        fix->has |= bit;
    return true;
}

static bool take_sigma(const json_t *object, struct td_fix *fix)
{
    bool has_x = false, has_y = false, has_radius = false;
    double x = 0, y = 0, radius = 0;
    if (!number(object, "epx", &has_x, &x) || !number(object, "epy", &has_y, &y) ||
        !number(object, "eph", &has_radius, &radius))
        return false;
    if (has_radius) /* first, as from a live receiver: a replay must see what the drive saw */
        fix->sigma_m = radius / sigmas_of_radius;
    else if (has_x && has_y)
        fix->sigma_m = fmax(x, y) / sigmas_of_axis;
    if (fix->sigma_m > 0)
        fix->has |= TD_FIX_SIGMA;
    else
        fix->sigma_m = 0; /* some drivers send 0 for unknown */
    return true;
}

static enum td_result read_tpv(const json_t *object, const struct line *line, struct td_fix *fix,
                               struct td_problem *problem)
{
    const json_t *time = json_object_get(object, "time");
    if (time != NULL) {
        const char *text = json_string_value(time);
        if (text == NULL || !td_utc_parse(text, &fix->utc_ms))
            return fail(line, problem, "time is unreadable; 2031-05-17T08:00:00.000Z is the form");
        fix->has |= TD_FIX_UTC;
    }
    bool has_lat = false, has_lon = false;
    if (!number(object, "lat", &has_lat, &fix->lat_deg) ||
        !number(object, "lon", &has_lon, &fix->lon_deg))
        return fail(line, problem, "lat or lon is no number; degrees are needed");
    if (has_lat && has_lon)
        fix->has |= TD_FIX_POSITION;
    /* "alt" is what versions before 3.20 called height above mean sea level. */
    const char *altitude = json_object_get(object, "altMSL") != NULL ? "altMSL" : "alt";
    if (!take(object, altitude, TD_FIX_ALTITUDE, &fix->altitude_m, fix) ||
        !take(object, "speed", TD_FIX_SPEED, &fix->speed_mps, fix) ||
        !take(object, "track", TD_FIX_TRACK, &fix->track_deg, fix) || !take_sigma(object, fix))
        return fail(line, problem, "altitude, speed, track or error is no number; metres, m/s and "
                                   "degrees are needed");
    if (fix->track_deg == 360.0)
        fix->track_deg = 0;
    return TD_OK;
}

static enum td_result take_object(struct td_track_made *made, const json_t *object,
                                  const struct line *line, struct td_problem *problem)
{
    const char *class = json_string_value(json_object_get(object, "class"));
    if (class == NULL)
        return fail(line, problem, "object without \"class\"; a gpsd recording has one a line");
    if (strcmp(class, "TPV") != 0)
        return TD_OK;
    struct td_fix fix = {0};
    enum td_result result = read_tpv(object, line, &fix, problem);
    return result == TD_OK ? td_track_add(made, &fix, problem) : result;
}

static enum td_result take_line(struct td_track_made *made, const char *text, size_t length,
                                const struct line *line, struct td_problem *problem)
{
    if (length > LINE_MOST)
        return fail(line, problem, "is longer than 65536 bytes; one gpsd object a line is needed");
    json_error_t error;
    json_t *object = json_loadb(text, length, JSON_REJECT_DUPLICATES, &error);
    /* Where memory fails jansson mostly says nothing at all. */
    if (object == NULL &&
        (error.text[0] == '\0' || json_error_code(&error) == json_error_out_of_memory))
        return td_problem_set(problem, TD_NO_MEMORY, line->name, line->number,
                              "no memory to read it");
    if (object == NULL)
        return td_problem_set(problem, TD_INVALID, line->name, line->number,
                              "is no JSON object at column %d (%s); one gpsd object a line is "
                              "needed",
                              error.column, error.text);
    enum td_result result = json_is_object(object) ? take_object(made, object, line, problem)
                                                   : fail(line, problem, "is no JSON object");
    json_decref(object);
    return result;
}

static bool is_blank(const char *text, size_t length)
{
    for (size_t i = 0; i < length; i++)
        if (text[i] != ' ' && text[i] != '\t' && text[i] != '\r')
            return false;
    return true;
}

enum td_result td_track_tpv(struct td_track_made *made, const char *bytes, size_t length,
                            struct td_problem *problem)
{
    struct line line = {.name = made->name};
    if (length >= 3 && memcmp(bytes, "\xef\xbb\xbf", 3) == 0) {
        bytes += 3;
        length -= 3;
    }
    while (length > 0) {
        const char *end = memchr(bytes, '\n', length);
        size_t here = end == NULL ? length : (size_t)(end - bytes);
        line.number++;
        if (!is_blank(bytes, here)) {
            enum td_result result = take_line(made, bytes, here, &line, problem);
            if (result != TD_OK)
                return result;
        }
        size_t step = end == NULL ? here : here + 1;
        bytes += step;
        length -= step;
    }
    return TD_OK;
}
