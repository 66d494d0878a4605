/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Heights out of elevation tiles for tracks that have none. A line out of a GIS has vertices where
 * it turns only, and heights are wanted between them too: it is divided first. */
#include "tool/survey/survey_tiles.h"

#include <math.h>
#include <stdlib.h>

#include "io/problem.h"
#include "talkdown/geo.h"

#define PIECE_M       10.0
#define GAP_MOST_M    2000.0 /* a longer piece of a line is no road that somebody drew */
#define MISSING_MOST  0.2    /* of the points; a hole or two is bridged */

bool survey_lacks_heights(const struct td_track *track)
{
    size_t without = 0;
    for (size_t i = 0; i < track->count; i++)
        without += (track->fixes[i].has & TD_FIX_ALTITUDE) == 0;
    return without * 2 > track->count;
}

static size_t pieces_of(const struct td_fix *a, const struct td_fix *b)
{
    double length_m = td_geo_distance_m(a->lat_deg, a->lon_deg, b->lat_deg, b->lon_deg);
    return length_m > GAP_MOST_M ? 1 : (size_t)fmax(1, ceil(length_m / PIECE_M));
}

/* A point at least every PIECE_M along the straight pieces. */
static enum td_result divide(const char *path, struct td_track *track, struct td_problem *problem)
{
    size_t count = 1, made = 0;
    for (size_t i = 0; i + 1 < track->count; i++)
        count += pieces_of(&track->fixes[i], &track->fixes[i + 1]);
    struct td_fix *fixes = count > TD_TRACK_FIXES_MAX ? NULL : calloc(count, sizeof *fixes);
    if (fixes == NULL)
        return td_problem_set(problem, TD_NO_MEMORY, path, 0, "no memory to survey it");
    for (size_t i = 0; i + 1 < track->count; i++) {
        const struct td_fix *a = &track->fixes[i], *b = a + 1;
        size_t pieces = pieces_of(a, b);
        for (size_t k = 0; k < pieces; k++) {
            double share = (double)k / (double)pieces;
            fixes[made] = *a;
            fixes[made].lat_deg += share * (b->lat_deg - a->lat_deg);
            fixes[made++].lon_deg =
                td_geo_turn_deg(a->lon_deg + share * td_geo_turn_deg(b->lon_deg - a->lon_deg));
        }
    }
    fixes[made++] = track->fixes[track->count - 1];
    free(track->fixes);
    track->fixes = fixes;
    track->count = made;
    return TD_OK;
}

enum td_result survey_heights_from(const struct td_tiles *tiles, const char *path,
                                   struct td_track *track, struct td_problem *problem)
{
    if (!track->timed) {
        enum td_result result = divide(path, track, problem);
        if (result != TD_OK)
            return result;
    }
    size_t missing = 0;
    const struct td_fix *first = NULL;
    for (size_t i = 0; i < track->count; i++) {
        struct td_fix *fix = &track->fixes[i];
        fix->has &= ~(unsigned)TD_FIX_ALTITUDE;
        if (td_tiles_height(tiles, fix->lat_deg, fix->lon_deg, &fix->altitude_m)) {
            fix->has |= TD_FIX_ALTITUDE;
            continue;
        }
        fix->altitude_m = 0;
        first = first == NULL ? fix : first;
        missing++;
    }
    if ((double)missing <= MISSING_MOST * (double)track->count)
        return TD_OK;
    return td_problem_set(problem, TD_INVALID, path, 0,
                          "the tiles have no height for %zu of its %zu points, the first at %.4f, "
                          "%.4f (latitude, longitude); add the tile that covers them",
                          missing, track->count, first->lat_deg, first->lon_deg);
}
