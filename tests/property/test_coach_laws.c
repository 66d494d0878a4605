/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The coach under random drives: speeds that wander, noisy and missing fixes, a voice that loses
 * words or falls dumb, sound that goes and comes, commands at any time, inputs that make no sense.
 * The laws of tests/support/coach_bench.h are checked at every step: never two voices, one last
 * fate for each prompt, nothing expired, no chatter. */
#include "support/cm.h"

#include "support/coach_bench.h"
#include "support/seed.h"
#include "talkdown/rng.h"

static uint64_t first_seed(const char *test)
{
    struct td_rng rng;
    test_seed(&rng, test, 20);
    return td_rng_u32(&rng);
}

static void random_places(struct coach_bench *bench, struct td_rng *rng)
{
    static const enum td_place_kind kinds[] = {TD_PLACE_BRAKE_CHECK, TD_PLACE_ESCAPE_LANE,
                                               TD_PLACE_ESCAPE_LANE, TD_PLACE_ENGINE_BRAKE_BAN,
                                               TD_PLACE_STOP};
    double at_m = 500.0;
    for (unsigned i = 0; i < 5; i++) {
        at_m += td_rng_between(rng, 100.0, 2500.0);
        if (at_m > 8900.0)
            return;
        struct td_place *place = coach_bench_place(bench, kinds[td_rng_below(rng, 5)], at_m);
        place->side = (enum td_side)td_rng_below(rng, 3);
        if (td_rng_below(rng, 2))
            place->has |= TD_PLACE_MANDATORY;
        if (place->kind == TD_PLACE_ESCAPE_LANE && td_rng_below(rng, 4) == 0)
            place->has |= TD_PLACE_CLOSED;
    }
}

static void random_setup(struct coach_bench *bench, struct td_rng *rng)
{
    struct td_setup *setup = &bench->setup;
    setup->load_confirmed = td_rng_below(rng, 2);
    setup->rig_is_set = td_rng_below(rng, 8) != 0;
    setup->talk = (enum td_talk)td_rng_below(rng, 3);
    setup->metric = td_rng_below(rng, 2);
    setup->rig.load_now = td_rng_below(rng, 2);
    setup->road = td_rng_below(rng, 6) == 0 ? TD_ROAD_ICE : TD_ROAD_DRY;
    random_places(bench, rng);
}

static void random_command(struct coach_bench *bench, struct td_rng *rng)
{
    static const enum td_command_kind kinds[] = {
        TD_COMMAND_AGAIN, TD_COMMAND_QUIET,        TD_COMMAND_LOUD,          TD_COMMAND_LOAD,
        TD_COMMAND_ROAD,  TD_COMMAND_ENGINE_BRAKE, TD_COMMAND_HILLS_CHANGED,
        TD_COMMAND_LIBRARY_REFUSED, TD_COMMAND_ASK_LOAD, TD_COMMAND_ASK_ROAD,
        TD_COMMAND_ASK_ENGINE_BRAKE, TD_COMMAND_MENU_CLOSED,
        TD_COMMAND_LIBRARY_DAMAGED};
    bench->input.command.kind = kinds[td_rng_below(rng, sizeof kinds / sizeof kinds[0])];
    bench->input.command.value = (int32_t)td_rng_below(rng, 5) - 1;
}

static void random_voice(struct coach_bench *bench, struct td_rng *rng)
{
    switch (td_rng_below(rng, 300)) {
    case 0:
        if (bench->speaking && !bench->mute)
            coach_bench_report(bench, TD_REPORT_LOST);
        break;
    case 1:
        if (bench->speaking && !bench->started && !bench->mute)
            coach_bench_report(bench, TD_REPORT_DROPPED);
        break;
    case 2:
        bench->mute = !bench->mute;
        bench->speaking = bench->speaking && !bench->mute;
        break;
    case 3:
        bench->input.sound = td_rng_below(rng, 2) ? TD_SOUND_DOWN : TD_SOUND_UP;
        break;
    default:
        break;
    }
}

/* One drive down the hill; the digest is of everything that was put out. */
static uint64_t drive(uint64_t seed)
{
    struct td_rng rng;
    td_rng_seed(&rng, seed, 7);
    struct coach_bench *bench = coach_bench_new();
    random_setup(bench, &rng);
    coach_bench_start(bench);
    coach_bench_step(bench, 0);
    double along_m = td_rng_below(&rng, 3) ? 0.0 : td_rng_between(&rng, 0.0, 7000.0);
    double speed_mps = td_rng_between(&rng, 3.0, 25.0), rate_mps2 = 0.0;
    int silent_s = 0;
    for (int second = 0; second < 900 && along_m < 8950.0; second++) {
        if (td_rng_below(&rng, 8) == 0)
            rate_mps2 = td_rng_between(&rng, -0.8, 0.6);
        speed_mps = fmin(28.0, fmax(0.0, speed_mps + rate_mps2));
        along_m += speed_mps;
        if (td_rng_below(&rng, 100) == 0)
            silent_s = (int)td_rng_below(&rng, 40);
        if (td_rng_below(&rng, 50) == 0)
            random_command(bench, &rng);
        random_voice(bench, &rng);
        if (silent_s > 0) {
            silent_s--;
            coach_bench_until(bench, (second + 1) * TD_NS_PER_S);
            continue;
        }
        coach_bench_second(bench, along_m + 2.0 * td_rng_normal(&rng),
                           speed_mps + 0.1 * td_rng_normal(&rng));
    }
    uint64_t digest = bench->digest;
    coach_bench_free(bench);
    return digest;
}

static void laws_hold_on_random_drives(void **state)
{
    (void)state;
    uint64_t seed = first_seed(__func__);
    for (uint64_t i = 0; i < 150; i++)
        (void)drive(seed + i);
}

static void the_same_inputs_say_the_same(void **state)
{
    (void)state;
    uint64_t seed = first_seed(__func__);
    for (uint64_t i = 0; i < 20; i++)
        assert_true(drive(seed + i) == drive(seed + i));
}

/* Whatever comes in, the laws hold and nothing is said that is not finite or in range. */
static void absurd_inputs_break_nothing(void **state)
{
    (void)state;
    struct td_rng rng;
    td_rng_seed(&rng, first_seed(__func__), 9);
    static const double absurd[] = {0.0, -1.0, 1e308, -1e308, 1e-300, 90.0, 180.0, 360.0};
    for (int run = 0; run < 40; run++) {
        struct coach_bench *bench = coach_bench_new();
        random_setup(bench, &rng);
        coach_bench_start(bench);
        coach_bench_step(bench, 0);
        for (int i = 0; i < 400; i++) {
            struct td_input *input = &bench->input;
            double along_m = td_rng_between(&rng, -500.0, 9500.0);
            coach_bench_fix(bench, fmin(fmax(along_m, 0.0), 9000.0), 0.0, 10.0);
            double *fields[] = {&input->fix.lat_deg, &input->fix.lon_deg, &input->fix.speed_mps,
                                &input->fix.track_deg, &input->fix.sigma_m,
                                &input->fix.altitude_m};
            if (td_rng_below(&rng, 2))
                *fields[td_rng_below(&rng, 6)] = absurd[td_rng_below(&rng, 8)];
            if (td_rng_below(&rng, 20) == 0)
                *fields[td_rng_below(&rng, 6)] = (double)NAN;
            input->fix.has = td_rng_u32(&rng) & 63;
            input->has_fix = td_rng_below(&rng, 4) != 0;
            if (td_rng_below(&rng, 4) == 0)
                input->command = (struct td_command){
                    (enum td_command_kind)td_rng_below(&rng, TD_COMMAND_KINDS + 1),
                    (int32_t)td_rng_u32(&rng)};
            if (td_rng_below(&rng, 10) == 0) {
                input->plan_serial = td_rng_below(&rng, 4);
                input->plan = NULL;
            }
            if (td_rng_below(&rng, 10) == 0)
                input->offer = (struct td_offer){(enum td_offer_kind)td_rng_below(&rng, 7),
                                                 td_rng_below(&rng, 4), td_rng_below(&rng, 3),
                                                 NULL};
            /* Hops of up to ten minutes, and sometimes none. */
            int64_t hop_ns = td_rng_below(&rng, 30) == 0 ? 600 * TD_NS_PER_S : TD_NS_PER_S / 3;
            coach_bench_step(bench, bench->now_ns + (int64_t)td_rng_below(&rng, 4) * hop_ns);
            assert_true(isfinite(bench->output.estimate.heat_most_c));
            assert_true(isfinite(bench->output.estimate.along_m));
        }
        coach_bench_free(bench);
    }
}

/* No caution about the same thing is heard to its end twice within seven seconds (A21). */
static void nothing_stutters(void **state)
{
    (void)state;
    uint64_t seed = first_seed(__func__);
    for (uint64_t run = 0; run < 30; run++) {
        struct td_rng rng;
        td_rng_seed(&rng, seed + run, 11);
        struct coach_bench *bench = coach_bench_new();
        random_places(bench, &rng);
        coach_bench_start(bench);
        coach_bench_step(bench, 0);
        double along_m = 0.0, speed_mps = td_rng_between(&rng, 5.0, 25.0), rate_mps2 = 0.0;
        int64_t last_ns[TD_PROMPT_IDS];
        unsigned heard[TD_PROMPT_IDS] = {0};
        int32_t places[TD_PROMPT_IDS] = {0};
        for (int i = 0; i < TD_PROMPT_IDS; i++)
            last_ns[i] = INT64_MIN / 2;
        while (along_m < 8900.0 && bench->now_ns < 1800 * TD_NS_PER_S) {
            if (td_rng_below(&rng, 8) == 0)
                rate_mps2 = td_rng_between(&rng, -0.8, 0.6);
            speed_mps = fmin(28.0, fmax(1.0, speed_mps + rate_mps2));
            along_m += speed_mps;
            coach_bench_second(bench, along_m, speed_mps);
            for (int id = 0; id < TD_PROMPT_IDS; id++) {
                if (bench->spoken_count[id] == heard[id])
                    continue;
                int32_t place = bench->heard[id].place;
                if (td_prompt_category((enum td_prompt_id)id) == TD_CAUTION && place == places[id])
                    assert_true(bench->now_ns - last_ns[id] >= 7 * TD_NS_PER_S);
                last_ns[id] = bench->now_ns;
                places[id] = place;
                heard[id] = bench->spoken_count[id];
            }
        }
        coach_bench_free(bench);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(laws_hold_on_random_drives),
        cmocka_unit_test(the_same_inputs_say_the_same),
        cmocka_unit_test(absurd_inputs_break_nothing),
        cmocka_unit_test(nothing_stutters),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
