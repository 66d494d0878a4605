/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Any bytes as a hill profile: refused in one clear line, or sound in every member. */
#include "fuzz/fuzz.h"

#include <math.h>

#include "io/hill_file.h"

static void must_be_sound(const struct td_hill *hill)
{
    MUST(hill->station_count >= 2 && hill->station_count <= TD_HILL_STATIONS_MAX);
    MUST(hill->id[0] != '\0' && hill->name[0] != '\0');
    MUST(isfinite(hill->length_m) && hill->length_m > 0);
    for (size_t i = 0; i < hill->station_count; i++) {
        const struct td_station *station = &hill->stations[i];
        MUST(isfinite(station->along_m) && isfinite(station->x_m) && isfinite(station->y_m));
        MUST(isfinite(station->elevation_m) && isfinite(station->downgrade_ratio));
        MUST(i == 0 ? station->along_m == 0 : station->along_m > station[-1].along_m);
    }
    MUST(hill->place_count <= TD_HILL_PLACES_MAX);
    for (size_t i = 0; i < hill->place_count; i++) {
        const struct td_place *place = &hill->places[i];
        MUST(place->at_m >= 0 && place->at_m <= hill->length_m);
        MUST(i == 0 || place->at_m >= place[-1].at_m);
        MUST((unsigned)place->kind < TD_PLACE_KINDS);
        MUST(isfinite(place->speed_mps) && isfinite(place->over_kg) && isfinite(place->length_m));
        MUST(strlen(place->say) < 64 && strlen(place->name) <= 64 && strlen(place->material) < 64);
    }
    if (hill->coached)
        MUST(hill->crest_m >= 0 && hill->crest_m < hill->foot_m && hill->foot_m <= hill->length_m);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct td_hill_file *file = NULL;
    struct td_problem problem = {0};
    enum td_result result =
        td_hill_file_parse("fuzz", (const char *)data, size, &file, &problem);
    if (result == TD_OK)
        must_be_sound(td_hill_file_hill(file));
    else
        must_be_clear(result, &problem, "fuzz");
    MUST((result == TD_OK) == (file != NULL));
    td_hill_file_free(&file);
    return 0;
}
