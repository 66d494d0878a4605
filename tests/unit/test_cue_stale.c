/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A20: what would leave less than 2.5 s after its words is not said (perception and reaction,
 * AASHTO, secondary source). For each prompt about something ahead, at every speed and distance;
 * the lead is reckoned here by plain arithmetic from 2 s of speech. The short form is the runaway's
 * last call: unit.cue_runaway. */
#include "support/cm.h"
#include "support/cue_bench.h"

static const double say_s = CUE_SAY_MS * 1e-3, least_s = 2.5;

static const struct {
    enum td_prompt_id id;
    enum td_place_kind kind;
    double at_m; /* of the place, or crest or foot, which the bench has at 3 and 8 km */
} ahead[] = {
    {TD_PROMPT_ESCAPE_LANE, TD_PLACE_ESCAPE_LANE, 5600},
    {TD_PROMPT_BRAKE_CHECK_AHEAD, TD_PLACE_BRAKE_CHECK, 2600},
    {TD_PROMPT_CHAIN_AREA, TD_PLACE_CHAIN_AREA, 2600},
    {TD_PROMPT_SLOW_FOR_GRADE, TD_PLACE_ESCAPE_LANE, 3000},
    {TD_PROMPT_GEAR, TD_PLACE_ESCAPE_LANE, 3000},
    {TD_PROMPT_HILL_AHEAD, TD_PLACE_ESCAPE_LANE, 3000},
    {TD_PROMPT_BOTTOM_AHEAD, TD_PLACE_ESCAPE_LANE, 8000},
};

static enum td_fill fill_at(size_t which, double away_m, double speed_mps, enum td_why *why)
{
    static struct cue_bench bench;
    cue_bench_init(&bench);
    (void)cue_bench_place(&bench, ahead[which].kind, ahead[which].at_m);
    cue_bench_at(&bench, ahead[which].at_m - away_m, speed_mps);
    struct td_prompt prompt = {.id = ahead[which].id, .hill_handle = 7, .place = 0,
                               .category = td_prompt_category(ahead[which].id),
                               .about_m = ahead[which].at_m,
                               .decided_ns = bench.moment.now_ns};
    return td_cue_fill(&bench.moment, &bench.visit, &prompt, why);
}

static void a20_what_leaves_too_little_time_is_not_said(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof ahead / sizeof ahead[0]; i++) {
        unsigned ready = 0, unsaid = 0;
        double least_ready_s = HUGE_VAL;
        for (double speed_mps = 4; speed_mps <= 30; speed_mps += 1)
            for (double away_m = 2; away_m < 800; away_m += 3) {
                enum td_why why = TD_WHY_NONE;
                double lead_s = away_m / speed_mps - say_s;
                enum td_fill fill = fill_at(i, away_m, speed_mps, &why);
                if (fill == TD_FILL_READY) {
                    ready++;
                    least_ready_s = fmin(least_ready_s, lead_s);
                }
                unsaid += fill != TD_FILL_READY && lead_s < least_s;
            }
        printf("%-20s said at %u places, %.2f s left at least; not said at %u\n",
               td_prompt_key(ahead[i].id), ready, least_ready_s, unsaid);
        assert_true(ready > 500 && unsaid > 100);
        assert_true(least_ready_s >= least_s - 1e-6);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a20_what_leaves_too_little_time_is_not_said),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
