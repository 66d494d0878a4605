/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Any bytes as a recorded track, and any track as a survey. */
#include "fuzz/fuzz.h"

#include <math.h>

#include "support/surveyed.h"

/* The whole and its second half as two passes, so that passes meet. */
static void survey(const struct td_track *track, bool reverse)
{
    struct surveyed *made = surveyed_new();
    surveyed_add(made, track->fixes, track->count);
    if (track->count > 1)
        surveyed_add(made, track->fixes + track->count / 2, track->count - track->count / 2);
    made->options.reverse = reverse;
    enum td_result result = surveyed_make(made);
    if (result == TD_OK) {
        const struct td_hill *hill = &made->hill;
        MUST(hill->station_count >= 2 && hill->station_count <= TD_HILL_STATIONS_MAX);
        MUST(isfinite(hill->length_m) && hill->length_m > 0);
        for (size_t i = 0; i < hill->station_count; i++)
            MUST(isfinite(made->stations[i].elevation_m));
    } else {
        must_be_clear(result, &made->problem, "");
    }
    surveyed_free(&made);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    for (int derive = 0; derive < 2; derive++) {
        struct td_track track = {0};
        struct td_problem problem = {0};
        enum td_result result = td_track_parse("fuzz", (const char *)data, size, derive != 0,
                                               &track, &problem);
        if (result != TD_OK) {
            must_be_clear(result, &problem, "fuzz");
            MUST(track.fixes == NULL);
            continue;
        }
        MUST(track.count > 0);
        for (size_t i = 0; i < track.count; i++) {
            MUST(td_fix_is_sane(&track.fixes[i]));
            MUST(!track.timed || i == 0 ||
                 track.fixes[i].received_ns >= track.fixes[i - 1].received_ns);
        }
        if (track.count < 20000)
            survey(&track, derive != 0);
        td_track_free(&track);
    }
    return 0;
}
