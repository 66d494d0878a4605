/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Any bytes as a rig and as settings. */
#include "fuzz/fuzz.h"

#include <math.h>

#include "io/rig_file.h"
#include "io/settings.h"
#include "talkdown/forces.h"
#include "talkdown/retarder.h"

static void try_rig(const char *bytes, size_t length)
{
    struct td_rig rig = {0};
    struct td_problem problem = {0};
    enum td_result result = td_rig_file_parse("fuzz", bytes, length, &rig, &problem);
    if (result != TD_OK) {
        must_be_clear(result, &problem, "fuzz");
        MUST(rig.gear_count == 0);
        return;
    }
    MUST(td_rig_check(&rig, NULL) == TD_OK);
    MUST(isfinite(td_rig_rpm(&rig, 0, 10)));
    for (int stage = -1; stage < (int)rig.stage_count; stage++) {
        double share = td_retarder_share(&rig.retarder, 90);
        double hold_n = td_force_hold_n(&rig, 0, stage, 1, share, 10);
        MUST(isfinite(hold_n) && hold_n >= 0);
    }
}

static void try_settings(const char *bytes, size_t length)
{
    struct td_settings settings = {.volume_percent = 77};
    struct td_problem problem = {0};
    enum td_result result = td_settings_parse("fuzz", bytes, length, &settings, &problem);
    if (result != TD_OK) {
        must_be_clear(result, &problem, "fuzz");
        MUST(settings.volume_percent == 77);
        return;
    }
    MUST(settings.volume_percent >= 40 && settings.volume_percent <= 100);
    MUST(settings.stream_latency_ms >= 20 && settings.stream_latency_ms <= 200);
    MUST(isfinite(settings.ambient_c) && fabs(settings.ambient_c) <= 60);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    try_rig((const char *)data, size);
    try_settings((const char *)data, size);
    return 0;
}
