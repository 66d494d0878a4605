/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every figure of a descent against a drive written down second by second, so that each expected
 * value below can be reckoned by hand. The hill: crest at 1000 m, foot at 5000 m, a brake check
 * area at 500 m. Speeds in whole m/s where nothing else is said. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "review/facts_parts.h"
#include "support/cm.h"
#include "talkdown/units.h"

enum { SAMPLES_MOST = 2000, PROMPTS_MOST = 8 };

static struct td_review_sample samples[SAMPLES_MOST];
static struct td_review_prompt prompts[PROMPTS_MOST];
static struct td_place places[] = {{.kind = TD_PLACE_BRAKE_CHECK, .at_m = 500.0},
                                   {.kind = TD_PLACE_TURN_OUT, .at_m = 3000.0}};
static struct td_hill hill = {.id = "hand-hill", .coached = true, .crest_m = 1000.0,
                              .foot_m = 5000.0, .length_m = 5500.0, .places = places,
                              .place_count = 2};
static struct td_review_hill hills[] = {{.hill = &hill, .id = "hand-hill"}};
static struct td_setup setup;
static struct td_review_drive drive;

static int64_t at_s(double s)
{
    return (int64_t)(s * 1e9);
}

static int fresh(void **state)
{
    (void)state;
    for (size_t i = 0; i < drive.descent_count; i++) {
        free(drive.descents[i].snubs);
        free(drive.descents[i].stands);
    }
    free(drive.descents);
    memset(&setup, 0, sizeof setup);
    setup.rig_is_set = true;
    setup.rig.brakes.limit_c = 260.0;
    memset(prompts, 0, sizeof prompts);
    drive = (struct td_review_drive){.path = NULL, .setup = &setup, .hills = hills,
                                     .hill_count = 1, .samples = samples, .prompts = prompts};
    return 0;
}

static struct td_review_sample *add(double s, double along_m, double speed_mps)
{
    assert_true(drive.sample_count < SAMPLES_MOST);
    struct td_review_sample *sample = &samples[drive.sample_count++];
    *sample = (struct td_review_sample){.at_ns = at_s(s), .where = TD_WHERE_ON_HILL,
                                        .along_m = along_m, .speed_mps = speed_mps,
                                        .target_mps = 10.0, .least_c = 50.0, .likely_c = 60.0,
                                        .most_c = 80.0};
    return sample;
}

/* A sample a second from the last one on, each `speed_mps` further; the speed changes by
 * `change_mps` from one to the next. */
static void roll(int seconds, double change_mps)
{
    for (int i = 0; i < seconds; i++) {
        const struct td_review_sample *last = &samples[drive.sample_count - 1];
        (void)add(td_s_from_ns(last->at_ns) + 1.0, last->along_m + last->speed_mps,
                  last->speed_mps + change_mps);
    }
}

static struct td_review_descent *reckon(void)
{
    td_facts_mark_holes(samples, drive.sample_count, drive.losses, drive.loss_count);
    assert_int_equal(td_facts_visits(&drive, NULL), TD_OK);
    for (size_t i = 0; i < drive.descent_count; i++)
        assert_int_equal(td_facts_figures(&drive, &drive.descents[i], NULL), TD_OK);
    assert_int_equal(td_facts_follow(&drive, NULL), TD_OK);
    return drive.descent_count > 0 ? &drive.descents[0] : NULL;
}

/* 10 m/s from 0 to 5200 m: 521 samples. Crest passed at 100 s, foot at 500 s. */
static void even_drive(void)
{
    (void)add(0.0, 0.0, 10.0);
    roll(520, 0.0);
}

static void an_even_drive_has_plain_figures(void **state)
{
    (void)state;
    even_drive();
    samples[300].likely_c = 200.0; /* at 3000 m */
    samples[310].most_c = 240.0;
    samples[290].least_c = 70.0;
    const struct td_review_descent *d = reckon();
    assert_int_equal(drive.descent_count, 1);
    assert_true(d->went_down && d->reached_foot);
    assert_int_equal(d->first, 0);
    assert_int_equal(d->last, 520);
    assert_near(d->grade_s, 401.0, 1e-9); /* 100 s to the first sample beyond 5000 m */
    assert_near(d->fastest_mps, 10.0, 1e-9);
    assert_true(d->judged);
    assert_near(d->over_most_mps, 0.0, 1e-9);
    assert_near(d->over_s, 0.0, 1e-9);
    assert_near(d->least_c, 70.0, 1e-9);
    assert_near(d->likely_c, 200.0, 1e-9);
    assert_near(d->most_c, 240.0, 1e-9);
    assert_near(d->hottest_at_m, 3000.0, 1e-9);
    assert_near(d->first_c, 60.0, 1e-9);
    assert_int_equal(d->snub_count, 0);
    assert_true(isnan(d->snub_drop_mps));
    assert_int_equal(d->check, TD_CHECK_PASSED);
    assert_int_equal(d->stand_count, 0);
    assert_near(d->hole_s + d->lost_s + d->silent_s, 0.0, 1e-9);
}

static void a_stop_in_the_area_is_a_brake_check(void **state)
{
    (void)state;
    (void)add(0.0, 0.0, 10.0);
    roll(44, 0.0);               /* 440 m */
    roll(10, -1.0);              /* down to a stand, 495 m */
    roll(60, 0.0);               /* stands 60 s more */
    samples[drive.sample_count - 1].speed_mps = 10.0; /* and is off */
    roll(460, 0.0);
    const struct td_review_descent *d = reckon();
    assert_int_equal(d->check, TD_CHECK_MADE);
    assert_int_equal(d->stand_count, 1);
    /* Stood at 54 s; the sample at 114 s rolls. */
    assert_near(d->check_stood_s, 60.0, 1e-9);
    assert_int_equal(d->stands[0].place, 0);
    assert_near(d->stands[0].at_m, 495.0, 1e-9);
}

static void a_stand_of_a_second_is_no_stop(void **state)
{
    (void)state;
    even_drive();
    samples[50].speed_mps = 0.0; /* at 500 m, one second */
    assert_int_equal(reckon()->check, TD_CHECK_PASSED);
}

static void a_hole_at_the_area_leaves_it_unknown(void **state)
{
    (void)state;
    even_drive();
    for (size_t i = 48; i < 52; i++)
        samples[i].where = TD_WHERE_COASTING;
    assert_int_equal(reckon()->check, TD_CHECK_UNKNOWN);
    (void)fresh(NULL);
    (void)add(0.0, 600.0, 10.0); /* first seen beyond the area's sign */
    roll(400, 0.0);
    assert_int_equal(reckon()->check, TD_CHECK_UNKNOWN);
    (void)fresh(NULL);
    places[0].kind = TD_PLACE_NOTE;
    even_drive();
    assert_int_equal(reckon()->check, TD_CHECK_NONE);
    places[0].kind = TD_PLACE_BRAKE_CHECK;
}

static void time_over_the_target_is_counted_in_seconds(void **state)
{
    (void)state;
    even_drive();
    for (size_t i = 200; i < 205; i++)
        samples[i].speed_mps = 12.0; /* 5 s at 2 m/s over, 2000 m on */
    samples[203].speed_mps = 13.5;
    for (size_t i = 250; i < 252; i++)
        samples[i].speed_mps = 11.0; /* 2 s */
    samples[260].speed_mps = 10.4;   /* less than a mile an hour over: noise */
    samples[50].speed_mps = 20.0;    /* before the crest: not judged */
    const struct td_review_descent *d = reckon();
    assert_near(d->over_most_mps, 3.5, 1e-9);
    assert_near(d->over_most_at_m, 2030.0, 1e-9);
    assert_near(d->over_s, 7.0, 1e-9);
    assert_near(d->over_longest_s, 5.0, 1e-9);
    assert_near(d->fastest_mps, 13.5, 1e-9);
}

static void nothing_is_counted_over_a_hole(void **state)
{
    (void)state;
    even_drive();
    for (size_t i = 200; i < 210; i++)
        samples[i].speed_mps = 12.0;
    for (size_t i = 203; i < 206; i++)
        samples[i].where = TD_WHERE_LOST, samples[i].hill = -1;
    const struct td_review_descent *d = reckon();
    /* 200 to 202 is 2 s, 206 to 210 is 4 s: what lies between may have been anything. */
    assert_near(d->over_s, 6.0, 1e-9);
    assert_near(d->over_longest_s, 4.0, 1e-9);
    assert_near(d->lost_s, 3.0, 1e-9);
}

static void no_target_is_no_judgement(void **state)
{
    (void)state;
    even_drive();
    for (size_t i = 0; i < drive.sample_count; i++)
        samples[i].target_mps = 0.0;
    assert_false(reckon()->judged);
}

static void snubs_are_found_with_their_release_points(void **state)
{
    (void)state;
    (void)add(0.0, 1100.0, 10.0);
    roll(10, 0.0);
    roll(3, -0.75);  /* 10 to 7.75 in 3 s: 5 mph is 2.24 m/s */
    roll(8, 0.25);
    roll(2, -0.75);
    roll(1, -0.1);   /* one step of less ... */
    roll(2, -0.75);  /* ... does not end it: 9.75 to 6.65 in 5 s */
    roll(5, 0.0);
    roll(1, -0.5);   /* 0.5 m/s: too little */
    roll(5, 0.0);
    roll(20, -0.15); /* 3 m/s, but slower than 0.2 m/s2 */
    roll(200, 0.5);
    const struct td_review_descent *d = reckon();
    assert_int_equal(d->snub_count, 2);
    const struct td_review_snub *snub = &d->snubs[0];
    assert_near(snub->from_m, 1200.0, 1e-9);
    assert_near(snub->to_m, 1200.0 + 10.0 + 9.25 + 8.5, 1e-9);
    assert_near(snub->from_mps, 10.0, 1e-9);
    assert_near(snub->to_mps, 7.75, 1e-9);
    assert_near(snub->seconds, 3.0, 1e-9);
    assert_near(d->snubs[1].from_mps, 9.75, 1e-9);
    assert_near(d->snubs[1].to_mps, 6.65, 1e-9);
    assert_near(d->snubs[1].seconds, 5.0, 1e-9);
    assert_near(d->snub_drop_mps, 0.5 * (2.25 + 3.1), 1e-9);
    assert_near(d->snub_seconds, 4.0, 1e-9);
}

static void a_stop_is_no_snub(void **state)
{
    (void)state;
    (void)add(0.0, 2500.0, 10.0);
    roll(10, 0.0);
    roll(10, -1.0);
    roll(30, 0.0);
    roll(10, 1.0);
    roll(200, 0.0);
    const struct td_review_descent *d = reckon();
    assert_int_equal(d->snub_count, 0);
    assert_int_equal(d->stand_count, 1);
    assert_int_equal(d->stands[0].place, -1); /* 2655 m: the turn-out is at 3000 m */
}

static struct td_review_prompt *say(enum td_category category, double from_s, double to_s)
{
    struct td_review_prompt *prompt = &prompts[drive.prompt_count++];
    prompt->spoken = (struct td_spoken){
        .prompt = {.serial = (uint32_t)drive.prompt_count, .category = category},
        .issued_ns = at_s(from_s), .started_ns = at_s(from_s), .fate_ns = at_s(to_s),
        .fate = TD_EVENT_SPOKEN, .hill_id = "hand-hill",
    };
    return prompt;
}

static void answers_are_counted_from_the_end_of_the_words(void **state)
{
    (void)state;
    (void)add(0.0, 1100.0, 12.0);
    roll(24, 0.0);
    roll(8, -0.5);  /* slows from 24 s on: half a mile an hour lost at 25 s */
    roll(60, 0.0);
    struct td_review_prompt *first = say(TD_WARNING, 20.0, 22.0);
    struct td_review_prompt *during = say(TD_DANGER, 26.0, 28.0);
    struct td_review_prompt *never = say(TD_WARNING, 40.0, 42.0);
    struct td_review_prompt *caution = say(TD_CAUTION, 21.0, 22.0);
    struct td_review_prompt *late = say(TD_WARNING, 80.0, 82.0); /* the log ends 10 s later */
    struct td_review_prompt *dropped = say(TD_WARNING, 50.0, 50.0);
    dropped->spoken.started_ns = 0;
    const struct td_review_descent *d = reckon();
    assert_true(first->followed && during->followed && never->followed);
    assert_near(first->slowing_s, 2.0, 1e-9);
    assert_near(first->then_mps, 12.0, 1e-9);
    assert_near(first->after_mps, 8.0, 1e-9);
    assert_near(first->lowest_mps, 8.0, 1e-9);
    assert_near(during->slowing_s, 0.0, 1e-9);
    assert_true(isnan(never->slowing_s));
    assert_near(caution->slowing_s, 2.0, 1e-9);
    assert_false(late->followed);
    assert_false(dropped->said);
    assert_int_equal(d->warnings, 4);
    assert_int_equal(d->warnings_slowed, 2);
    assert_int_equal(d->warnings_unknown, 1);
    assert_near(d->answer_median_s, 1.0, 1e-9);
    assert_near(d->answer_longest_s, 2.0, 1e-9);
}

static void a_hole_hides_the_answer(void **state)
{
    (void)state;
    even_drive();
    samples[230].where = TD_WHERE_COASTING;
    const struct td_review_prompt *prompt = say(TD_WARNING, 210.0, 212.0);
    const struct td_review_descent *d = reckon();
    assert_false(prompt->followed);
    assert_int_equal(d->warnings_unknown, 1);
    assert_true(isnan(d->answer_median_s));
}

static void what_was_seen_before_a_hole_counts(void **state)
{
    (void)state;
    (void)add(0.0, 1100.0, 12.0);
    roll(24, 0.0);
    roll(8, -0.5);
    roll(60, 0.0);
    samples[40].where = TD_WHERE_COASTING;
    const struct td_review_prompt *prompt = say(TD_WARNING, 20.0, 22.0);
    const struct td_review_descent *d = reckon();
    assert_false(prompt->followed);
    assert_near(prompt->slowing_s, 2.0, 1e-9);
    assert_int_equal(d->warnings_slowed, 1);
    assert_int_equal(d->warnings_unknown, 0);
}

static void a_stand_ends_the_following(void **state)
{
    (void)state;
    (void)add(0.0, 1100.0, 10.0);
    roll(30, 0.0);
    roll(10, -1.0); /* stands at 40 s, and the log ends at 45 s */
    roll(5, 0.0);
    const struct td_review_prompt *prompt = say(TD_WARNING, 28.0, 30.0);
    (void)reckon();
    assert_true(prompt->followed);
    assert_near(prompt->stood_s, 10.0, 1e-9);
    assert_near(prompt->slowing_s, 0.0, 1e-9);
}

static void the_same_hill_twice_is_two_descents(void **state)
{
    (void)state;
    even_drive();
    for (int i = 0; i < 600; i++) { /* back up by another way, on no hill on file */
        struct td_review_sample *sample = add(521.0 + i, 0.0, 20.0);
        sample->where = TD_WHERE_OFF_FILE;
        sample->hill = -1;
    }
    (void)add(1121.0, 0.0, 10.0);
    roll(520, 0.0);
    const struct td_review_prompt *prompt = say(TD_ADVICE, 1300.0, 1302.0);
    (void)reckon();
    assert_int_equal(drive.descent_count, 2);
    assert_int_equal(prompt->descent, 1);
    assert_near(drive.descents[1].grade_s, 401.0, 1e-9);
    assert_near(drive.descents[0].lost_s, 0.0, 1e-9);
}

static void who_stays_up_went_down_nowhere(void **state)
{
    (void)state;
    (void)add(0.0, 0.0, 10.0);
    roll(90, 0.0);
    roll(10, -1.0); /* 945 m */
    roll(60, 0.0);
    const struct td_review_descent *d = reckon();
    assert_false(d->went_down);
    assert_false(d->judged);
    assert_false(d->heat_known);
    assert_near(d->grade_s, 0.0, 1e-9);
}

static void losses_and_silences_are_told(void **state)
{
    (void)state;
    struct td_review_loss losses[] = {{.at_ns = at_s(150.2), .count = 7}};
    struct td_review_silence silences[] = {{.from_ns = at_s(200.0), .to_ns = at_s(260.0)},
                                           {.from_ns = at_s(510.0), .to_ns = at_s(900.0)}};
    even_drive();
    drive.losses = losses;
    drive.loss_count = 1;
    drive.silences = silences;
    drive.silence_count = 2;
    for (size_t i = 300; i < drive.sample_count; i++)
        samples[i].at_ns += at_s(9.0); /* a hole of ten seconds */
    const struct td_review_descent *d = reckon();
    assert_int_equal(d->lost_steps, 7);
    assert_true(samples[151].after_hole && !samples[150].after_hole && !samples[152].after_hole);
    assert_near(d->hole_s, 10.0, 1e-9);
    assert_near(d->silent_s, 60.0 + 19.0, 1e-9); /* the visit ends at 529 s */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(an_even_drive_has_plain_figures, fresh),
        cmocka_unit_test_setup(a_stop_in_the_area_is_a_brake_check, fresh),
        cmocka_unit_test_setup(a_stand_of_a_second_is_no_stop, fresh),
        cmocka_unit_test_setup(a_hole_at_the_area_leaves_it_unknown, fresh),
        cmocka_unit_test_setup(time_over_the_target_is_counted_in_seconds, fresh),
        cmocka_unit_test_setup(nothing_is_counted_over_a_hole, fresh),
        cmocka_unit_test_setup(no_target_is_no_judgement, fresh),
        cmocka_unit_test_setup(snubs_are_found_with_their_release_points, fresh),
        cmocka_unit_test_setup(a_stop_is_no_snub, fresh),
        cmocka_unit_test_setup(answers_are_counted_from_the_end_of_the_words, fresh),
        cmocka_unit_test_setup(a_hole_hides_the_answer, fresh),
        cmocka_unit_test_setup(what_was_seen_before_a_hole_counts, fresh),
        cmocka_unit_test_setup(a_stand_ends_the_following, fresh),
        cmocka_unit_test_setup(the_same_hill_twice_is_two_descents, fresh),
        cmocka_unit_test_setup(who_stays_up_went_down_nowhere, fresh),
        cmocka_unit_test_setup_teardown(losses_and_silences_are_told, fresh, fresh),
    };
    return cmocka_run_group_tests(tests, NULL, fresh);
}
