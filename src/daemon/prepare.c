/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a coach starts with. */
#include "daemon/prepare.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "daemon/journal.h"
#include "daemon/state_file.h"
#include "io/problem.h"
#include "io/rig_file.h"

enum { BLOCKS_AHEAD_MS = 15 }; /* handing words over and the first block of sound, measured */

/* Folders that may hold the phrases, first to last; a set variable is an order. */
static enum td_result find_phrases(const struct td_settings *settings, char *path, size_t size,
                                   struct td_problem *problem)
{
    const char *asked = getenv("TALKDOWN_DATA");
    const char *roots[] = {TD_DATA_DIR, TD_SOURCE_DATA_DIR};
    size_t count = sizeof roots / sizeof roots[0];
    if (settings->phrases[0] != '\0') {
        (void)snprintf(path, size, "%s/%s.yaml", settings->phrases, settings->language);
        return TD_OK;
    }
    if (asked != NULL && asked[0] != '\0') {
        roots[0] = asked;
        count = 1;
    }
    for (size_t i = 0; i < count; i++) {
        (void)snprintf(path, size, "%s/sounds/phrases/%s.yaml", roots[i], settings->language);
        if (access(path, R_OK) == 0)
            return TD_OK;
    }
    return td_problem_set(problem, TD_NOT_FOUND, NULL, 0,
                          "language %s: no phrase file came with the program; name a folder that "
                          "holds %s.yaml under \"phrases\"",
                          settings->language, settings->language);
}

enum td_result td_prepare_phrases(const struct td_settings *settings, struct td_phrase_file **out,
                                  struct td_problem *problem)
{
    char path[2 * TD_PATH_MAX];
    enum td_result result = find_phrases(settings, path, sizeof path, problem);
    if (result != TD_OK)
        return result;
    return td_phrase_file_read(path, out, problem);
}

static void carry_over(const struct td_settings *settings, int64_t now_ns, struct td_setup *setup)
{
    struct td_carried carried;
    struct td_problem problem;
    char boot_id[TD_BOOT_ID_SIZE];
    enum td_result result = td_carried_read(settings->state, &carried, &problem);
    if (result == TD_NOT_FOUND)
        return;
    if (result != TD_OK) {
        td_journal_problem(TD_LEVEL_WARN, &problem);
        return;
    }
    td_clock_boot_id(boot_id);
    setup->brakes_from_c =
        td_carried_heat_c(&carried, &setup->rig, boot_id, now_ns, setup->ambient_c);
    setup->rig.load_now = td_carried_load(&carried, &setup->rig);
    setup->load_confirmed = td_carried_load_confirmed(&carried, &setup->rig, boot_id, now_ns);
}

enum td_result td_prepare_setup(const struct td_settings *settings,
                                const struct td_phrase_file *phrases, int64_t now_ns,
                                struct td_setup *setup, struct td_problem *problem)
{
    *setup = (struct td_setup){
        .road = TD_ROAD_DRY,
        .credit = settings->credit,
        .talk = settings->talk,
        .metric = settings->metric,
        .ambient_c = settings->ambient_c,
        .brakes_from_c = (double)NAN,
        .sound_delay_ms = settings->stream_latency_ms + BLOCKS_AHEAD_MS,
    };
    memcpy(setup->speech_ms, td_phrase_file_speech_ms(phrases), sizeof setup->speech_ms);
    if (settings->rig[0] == '\0')
        return TD_OK;
    enum td_result result = td_rig_file_read(settings->rig, &setup->rig, problem);
    if (result != TD_OK)
        return result;
    setup->rig_is_set = true;
    carry_over(settings, now_ns, setup);
    return TD_OK;
}
