/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Laws of rigs and of what holds them, on random sound rigs of every kind. */
#include <stdlib.h>
#include <string.h>

#include "io/setup_json.h"
#include "support/cm.h"
#include "support/random_rig.h"
#include "support/seed.h"
#include "talkdown/forces.h"
#include "talkdown/retarder.h"

enum { ROUNDS = 3000, SPEEDS = 8 };

static void random_rigs_are_sound_and_of_every_kind(void **state)
{
    (void)state;
    struct td_rng rng;
    unsigned gears[TD_RIG_GEARS_MAX + 1] = {0}, stages[TD_RIG_STAGES_MAX + 1] = {0};
    unsigned axles[10] = {0}, kinds[TD_HOLDER_RETARDER + 1] = {0};
    test_seed(&rng, "rig_laws sound", 31);
    for (int round = 0; round < ROUNDS; round++) {
        struct td_rig rig = random_sound_rig(&rng);
        struct td_problem problem = {.text = ""};
        if (td_rig_check(&rig, &problem) != TD_OK)
            fail_msg("round %d: %s", round, problem.text);
        gears[rig.gear_count]++;
        axles[rig.axles]++;
        stages[rig.stage_count]++;
        for (size_t i = 0; i < rig.stage_count; i++)
            kinds[rig.stages[i].kind]++;
    }
    for (int i = 5; i <= TD_RIG_GEARS_MAX; i++)
        assert_true(gears[i] > 0);
    for (int i = 2; i < 10; i++)
        assert_true(axles[i] > 0);
    for (int i = 0; i <= 7; i++)
        assert_true(stages[i] > 0);
    for (int i = 0; i <= TD_HOLDER_RETARDER; i++)
        assert_true(kinds[i] > 0);
}

/* Through the drive log's JSON and back: sound, and the same text again, digit by digit. */
static void rigs_come_back_from_the_log(void **state)
{
    (void)state;
    struct td_rng rng;
    test_seed(&rng, "rig_laws log", 32);
    static struct td_setup setup, back;
    for (int round = 0; round < ROUNDS / 4; round++) {
        memset(&setup, 0, sizeof setup);
        setup.rig = random_sound_rig(&rng);
        char *text = td_setup_to_json(&setup);
        assert_non_null(text);
        struct td_problem problem = {.text = ""};
        if (td_setup_from_json(text, strlen(text), &back, &problem) != TD_OK)
            fail_msg("round %d: %s", round, problem.text);
        assert_int_equal(td_rig_check(&back.rig, NULL), TD_OK);
        char *again = td_setup_to_json(&back);
        assert_string_equal(again, text);
        double v = td_rng_between(&rng, 1, 30);
        for (int stage = -1; stage < (int)setup.rig.stage_count; stage++)
            assert_true(td_force_hold_n(&back.rig, 3, stage, 0.75, 0.9, v) ==
                        td_force_hold_n(&setup.rig, 3, stage, 0.75, 0.9, v));
        free(text);
        free(again);
    }
}

/* Whatever is asked of the rig at one speed. */
struct setting {
    int gear, stage;
    double credit, share, speed_mps;
};

static struct setting random_setting(struct td_rng *rng, const struct td_rig *rig)
{
    return (struct setting){
        .gear = (int)td_rng_below(rng, (uint32_t)rig->gear_count + 1) - 1,
        .stage = (int)td_rng_below(rng, (uint32_t)rig->stage_count + 1) - 1,
        .credit = td_rng_between(rng, 0, 1),
        .share = td_rng_between(rng, 0, 1),
        .speed_mps = td_rng_between(rng, 0, 35),
    };
}

static double hold_n(const struct td_rig *rig, struct setting at)
{
    return td_force_hold_n(rig, at.gear, at.stage, at.credit, at.share, at.speed_mps);
}

/* More torque anywhere, more credit, a cooler retarder: never less force; and never a push. */
static void more_torque_never_holds_less(void **state)
{
    (void)state;
    struct td_rng rng;
    test_seed(&rng, "rig_laws torque", 33);
    unsigned grew = 0;
    for (int round = 0; round < ROUNDS; round++) {
        struct td_rig rig = random_sound_rig(&rng);
        for (int i = 0; i < SPEEDS; i++) {
            struct setting at = random_setting(&rng, &rig), more = at;
            double before_n = hold_n(&rig, at);
            assert_true(before_n >= 0 && isfinite(before_n));
            more.credit = td_rng_between(&rng, at.credit, 1);
            more.share = td_rng_between(&rng, at.share, 1);
            assert_true(hold_n(&rig, more) >= before_n);
            if (at.stage < 0)
                continue;
            struct td_rig strong = rig;
            struct td_engine_brake_stage *stage = &strong.stages[at.stage];
            size_t point = td_rng_below(&rng, 3);
            stage->torque.torque_nm[point] += td_rng_between(&rng, 0, 500);
            stage->shaft_torque_nm.torque_nm[point] += td_rng_between(&rng, 0, 500);
            assert_true(hold_n(&strong, at) >= before_n);
            grew += hold_n(&strong, at) > before_n ? 1 : 0;
        }
    }
    assert_true(grew > ROUNDS / 4);
}

/* The order of the list holds within each kind of lever, and the most bounds every setting. */
static void stages_rise_and_the_most_bounds_them(void **state)
{
    (void)state;
    struct td_rng rng;
    test_seed(&rng, "rig_laws order", 34);
    for (int round = 0; round < ROUNDS; round++) {
        struct td_rig rig = random_sound_rig(&rng);
        for (int i = 0; i < SPEEDS; i++) {
            struct setting at = random_setting(&rng, &rig);
            double rpm = at.gear < 0 ? rig.rpm_best
                                     : td_rig_rpm(&rig, (size_t)at.gear, at.speed_mps);
            bool fits = rpm >= rig.rpm_least && rpm <= rig.rpm_most;
            for (at.stage = 0; at.stage < (int)rig.stage_count; at.stage++) {
                bool first = at.stage == 0 || (rig.stages[at.stage].kind == TD_HOLDER_RETARDER) !=
                                 (rig.stages[at.stage - 1].kind == TD_HOLDER_RETARDER);
                struct setting weaker = at;
                weaker.stage = at.stage - 1;
                if (!first && fits)
                    assert_true(hold_n(&rig, at) >= hold_n(&rig, weaker) - 1e-9);
                double now_n = td_force_engine_most_n(&rig, at.stage, at.speed_mps);
                if (fits)
                    assert_true(now_n >= hold_n(&rig, at) - 1e-9);
                assert_true(at.stage == 0 ||
                            now_n >= td_force_engine_most_n(&rig, weaker.stage, at.speed_mps));
            }
        }
    }
}

/* A retarder that is asked for its most on any grade, at any pace: its heat never leaves the range
 * between the air and where full power would settle, and its guard never lets the share rise. */
static void a_retarder_never_cools_by_working(void **state)
{
    (void)state;
    struct td_rng rng;
    test_seed(&rng, "rig_laws heat", 35);
    for (int round = 0; round < ROUNDS / 10;) {
        struct td_rig rig = random_sound_rig(&rng);
        if (!td_rig_has_retarder(&rig))
            continue;
        round++;
        int stage = (int)rig.stage_count - 1;
        double v = td_rng_between(&rng, 3, 28), ambient_c = td_rng_between(&rng, -20, 40);
        double temp_c = ambient_c, share = 1;
        double full_w = td_force_retarder_n(&rig, stage, 1, 1, v) * v;
        double settles_c = ambient_c + full_w / rig.retarder.cooling_w_per_k;
        for (int i = 0; i < 600; i++) {
            double power_w = td_force_retarder_n(&rig, stage, 1, share, v) * v;
            double next_c = td_retarder_step_c(&rig.retarder, temp_c, power_w, ambient_c, 0.5);
            assert_true(next_c >= temp_c - 1e-9 && next_c <= settles_c + 1e-9);
            double next_share = td_retarder_share(&rig.retarder, next_c);
            assert_true(next_share <= share + 1e-12);
            temp_c = next_c;
            share = next_share;
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(random_rigs_are_sound_and_of_every_kind),
        cmocka_unit_test(rigs_come_back_from_the_log),
        cmocka_unit_test(more_torque_never_holds_less),
        cmocka_unit_test(stages_rise_and_the_most_bounds_them),
        cmocka_unit_test(a_retarder_never_cools_by_working),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
