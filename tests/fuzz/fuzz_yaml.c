/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Any bytes as a rig and as settings. What follows a line "#base" is what every base of the rig
 * reads as, so that chains, loops and merges are tried without a disk. */
#include "fuzz/fuzz.h"

#include <math.h>

#include "io/problem.h"
#include "io/rig_file.h"
#include "io/settings.h"
#include "talkdown/forces.h"
#include "talkdown/retarder.h"
#include "talkdown/text.h"

struct base {
    const char *bytes; /* NULL none */
    size_t length;
    char paths[TD_RIG_BASES_MAX][TD_PROBLEM_FILE_MAX]; /* asked for */
    unsigned count;
};

static enum td_result read_base(void *context, const char *path, char **bytes, size_t *length,
                                struct td_problem *problem)
{
    struct base *base = context;
    MUST(base->count < TD_RIG_BASES_MAX);
    MUST(path[0] != '/' && strstr(path, "../") == NULL);
    (void)td_text_copy(base->paths[base->count++], TD_PROBLEM_FILE_MAX, path);
    if (base->bytes == NULL)
        return td_problem_set(problem, TD_NOT_FOUND, path, 0, "cannot open it");
    *bytes = malloc(base->length + 1);
    MUST(*bytes != NULL);
    memcpy(*bytes, base->bytes, base->length);
    *length = base->length;
    return TD_OK;
}

/* The rig's own file or one of its bases is named. */
static void must_name_a_file(enum td_result result, const struct td_problem *problem,
                             const struct base *base)
{
    const char *file = "fuzz";
    for (unsigned i = 0; i < base->count; i++)
        if (strcmp(problem->file, base->paths[i]) == 0)
            file = base->paths[i];
    must_be_clear(result, problem, file);
}

/* Length of the rig's own part. */
static size_t own_part(const char *bytes, size_t length)
{
    static const char mark[] = "#base\n";
    for (size_t at = 0; at + sizeof mark - 1 <= length; at++)
        if (memcmp(bytes + at, mark, sizeof mark - 1) == 0)
            return at;
    return length;
}

static void try_rig(const char *bytes, size_t length)
{
    size_t own = own_part(bytes, length);
    struct base base = {.bytes = own < length ? bytes + own : NULL, .length = length - own};
    const struct td_rig_source source = {read_base, &base};
    struct td_rig rig = {0};
    struct td_problem problem = {0};
    enum td_result result = td_rig_file_parse_with("fuzz", bytes, own, &source, &rig, &problem);
    if (result != TD_OK) {
        must_name_a_file(result, &problem, &base);
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
