/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Recorded tracks: tells the format, collects fixes, and fills in speed and course from the
 * neighbours where a recording lacks them. */
#include "io/track.h"

#include <stdlib.h>
#include <string.h>

#include "io/file.h"
#include "io/problem.h"
#include "io/track_parts.h"
#include "talkdown/geo.h"

/* Neighbours further apart than this say nothing about the speed between them. */
static const int64_t neighbour_most_ms = 5000;
/* Below this, the direction between two fixes is the receiver's noise. */
static const double course_least_m = 1.5;

enum td_result td_track_add(struct td_track_made *made, const struct td_fix *fix,
                            struct td_problem *problem)
{
    struct td_track *track = &made->track;
    if (!td_fix_is_sane(fix)) {
        track->refused++;
        return TD_OK;
    }
    if (track->count == TD_TRACK_FIXES_MAX)
        return td_problem_set(problem, TD_FULL, made->name, 0,
                              "has more than %d points, the most that one track may have",
                              (int)TD_TRACK_FIXES_MAX);
    if (track->count == made->room) {
        size_t room = made->room == 0 ? 1024 : made->room * 2;
        struct td_fix *more = realloc(track->fixes, room * sizeof *more);
        if (more == NULL)
            return td_problem_set(problem, TD_NO_MEMORY, made->name, 0, "no memory for its points");
        track->fixes = more;
        made->room = room;
    }
    track->fixes[track->count++] = *fix;
    return TD_OK;
}

static void set_times(struct td_track *track)
{
    track->timed = track->count > 0;
    for (size_t i = 0; i < track->count; i++) {
        const struct td_fix *fix = &track->fixes[i];
        if ((fix->has & TD_FIX_UTC) == 0 || (i > 0 && fix->utc_ms < fix[-1].utc_ms))
            track->timed = false;
    }
    if (!track->timed)
        return;
    int64_t first_ms = track->fixes[0].utc_ms;
    /* A gap of centuries is no recording; it would overflow nanoseconds. */
    if (track->fixes[track->count - 1].utc_ms - first_ms > INT64_C(86400000) * 3650) {
        track->timed = false;
        return;
    }
    for (size_t i = 0; i < track->count; i++)
        track->fixes[i].received_ns = (track->fixes[i].utc_ms - first_ms) * 1000000;
}

/* Fills in what fix `i` lacks from the stretch between fixes `from` and `to` around it. */
static void derive_one(struct td_track *track, size_t i, size_t from, size_t to)
{
    struct td_fix *fix = &track->fixes[i];
    const struct td_fix *a = &track->fixes[from], *b = &track->fixes[to];
    double moved_m = td_geo_distance_m(a->lat_deg, a->lon_deg, b->lat_deg, b->lon_deg);
    struct td_fix filled = *fix;
    if ((fix->has & TD_FIX_SPEED) == 0 && track->timed && b->utc_ms > a->utc_ms) {
        filled.speed_mps = moved_m / ((double)(b->utc_ms - a->utc_ms) * 1e-3);
        filled.has |= TD_FIX_SPEED;
    }
    if ((fix->has & TD_FIX_TRACK) == 0 && moved_m >= course_least_m) {
        filled.track_deg = td_geo_bearing_deg(a->lat_deg, a->lon_deg, b->lat_deg, b->lon_deg);
        filled.has |= TD_FIX_TRACK;
    }
    if (td_fix_is_sane(&filled))
        *fix = filled;
}

static void derive_all(struct td_track *track)
{
    for (size_t i = 0; i < track->count; i++) {
        const struct td_fix *fix = &track->fixes[i];
        size_t from = i, to = i;
        if (i > 0 && (!track->timed || fix->utc_ms - fix[-1].utc_ms <= neighbour_most_ms))
            from = i - 1;
        if (i + 1 < track->count &&
            (!track->timed || fix[1].utc_ms - fix->utc_ms <= neighbour_most_ms))
            to = i + 1;
        if (from < to)
            derive_one(track, i, from, to);
    }
}

static enum td_result read_any(struct td_track_made *made, const char *bytes, size_t length,
                               struct td_problem *problem)
{
    size_t at = length >= 3 && memcmp(bytes, "\xef\xbb\xbf", 3) == 0 ? 3 : 0;
    while (at < length && (bytes[at] == ' ' || bytes[at] == '\t' || bytes[at] == '\r' ||
                           bytes[at] == '\n'))
        at++;
    if (at == length)
        return td_problem_set(problem, TD_INVALID, made->name, 0,
                              "is empty; a track is GPX, one gpsd TPV object a line, a line of "
                              "GeoJSON, or what a receiver sent (NMEA)");
    if (bytes[at] == '<')
        return td_track_gpx(made, bytes, length, problem);
    if (bytes[at] == '{' && td_track_is_geojson(bytes, length))
        return td_track_geojson(made, bytes + at, length - at, problem);
    if (bytes[at] == '{')
        return td_track_tpv(made, bytes, length, problem);
    return td_problem_set(problem, TD_INVALID, made->name, 1,
                          "is no track; a track is GPX, one gpsd TPV object a line, a line of "
                          "GeoJSON, or what a receiver sent (NMEA)");
}

enum td_result td_track_parse(const char *name, const char *bytes, size_t length, bool derive,
                              struct td_track *track, struct td_problem *problem)
{
    struct td_track_made made = {.name = name};
    enum td_result result = read_any(&made, bytes, length, problem);
    if (result == TD_OK && made.track.count == 0)
        result = td_problem_set(problem, TD_INVALID, name, 0,
                                "holds no usable position (%zu refused); a track needs points "
                                "with latitude and longitude",
                                made.track.refused);
    if (result != TD_OK) {
        td_track_free(&made.track);
        return result;
    }
    set_times(&made.track);
    if (derive)
        derive_all(&made.track);
    *track = made.track;
    return TD_OK;
}

enum td_result td_track_read(const char *path, bool derive, struct td_track *track,
                             struct td_problem *problem)
{
    char *bytes = NULL;
    size_t length = 0;
    enum td_result result = td_file_read(path, TD_TRACK_BYTES_MAX, &bytes, &length, problem);
    if (result != TD_OK)
        return result;
    if (td_track_is_nmea(bytes, length)) {
        free(bytes);
        result = td_track_decode_nmea(path, &bytes, &length, problem);
        if (result == TD_OK && length == 0)
            result = td_problem_set(problem, TD_INVALID, path, 0,
                                    "gpsd's decoder makes nothing of it; a whole recording of "
                                    "what a receiver sent is needed");
        if (result != TD_OK) {
            free(bytes);
            return result;
        }
    }
    result = td_track_parse(path, bytes, length, derive, track, problem);
    free(bytes);
    return result;
}

void td_track_free(struct td_track *track)
{
    free(track->fixes);
    *track = (struct td_track){0};
}
