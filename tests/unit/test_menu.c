/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One button: which command each press is, and that the menu has one voice. */
#include "support/cm.h"

#include "support/coach_bench.h"
#include "talkdown/menu.h"

static struct td_setup setup;
static struct td_menu_around around;
static struct td_menu menu;
static struct td_command got[TD_MENU_COMMANDS_MAX];
static int64_t now_ns;

static int park(void **state)
{
    (void)state;
    setup = (struct td_setup){.rig_is_set = true, .road = TD_ROAD_DRY};
    setup.rig.load_count = 3;
    setup.rig.load_now = 2;
    setup.rig.stage_count = 2;
    around = (struct td_menu_around){.setup = &setup, .stage_most = 1, .standing = true};
    menu = (struct td_menu){0};
    now_ns = TD_NS_PER_S;
    return 0;
}

static void assert_press(enum td_press press, unsigned count, enum td_command_kind kind,
                         int32_t value)
{
    now_ns += TD_NS_PER_S;
    assert_int_equal(td_menu_press(&menu, &around, press, now_ns, got), count);
    assert_int_equal(got[count - 1].kind, kind);
    assert_int_equal(got[count - 1].value, value);
}

static void rolling_it_says_again_or_quiets(void **state)
{
    (void)state;
    around.standing = false;
    assert_press(TD_PRESS_SHORT, 1, TD_COMMAND_AGAIN, 0);
    assert_press(TD_PRESS_LONG, 1, TD_COMMAND_QUIET, 0);
    assert_int_equal(menu.item, TD_MENU_CLOSED);
}

static void standing_a_prompt_is_quieted_first(void **state)
{
    (void)state;
    around.speaking = true;
    assert_press(TD_PRESS_LONG, 1, TD_COMMAND_QUIET, 0);
    assert_press(TD_PRESS_SHORT, 1, TD_COMMAND_AGAIN, 0);
    around.speaking = false;
    assert_press(TD_PRESS_LONG, 1, TD_COMMAND_ASK_LOAD, 2);
}

/* Load 2 of 3 is asked first; one step on is the first again. */
static void one_press_a_step_through_all_three(void **state)
{
    (void)state;
    assert_press(TD_PRESS_LONG, 1, TD_COMMAND_ASK_LOAD, 2);
    around.speaking = true; /* its own words do not keep the menu from going on */
    assert_press(TD_PRESS_SHORT, 1, TD_COMMAND_ASK_LOAD, 0);
    assert_press(TD_PRESS_SHORT, 1, TD_COMMAND_ASK_LOAD, 1);
    assert_press(TD_PRESS_LONG, 2, TD_COMMAND_ASK_ROAD, TD_ROAD_DRY);
    assert_int_equal(got[0].kind, TD_COMMAND_LOAD);
    assert_int_equal(got[0].value, 1);
    assert_press(TD_PRESS_SHORT, 1, TD_COMMAND_ASK_ROAD, TD_ROAD_WET);
    assert_press(TD_PRESS_SHORT, 1, TD_COMMAND_ASK_ROAD, TD_ROAD_ICE);
    assert_press(TD_PRESS_SHORT, 1, TD_COMMAND_ASK_ROAD, TD_ROAD_DRY);
    assert_press(TD_PRESS_SHORT, 1, TD_COMMAND_ASK_ROAD, TD_ROAD_WET);
    assert_press(TD_PRESS_LONG, 2, TD_COMMAND_ASK_ENGINE_BRAKE, 1);
    assert_int_equal(got[0].kind, TD_COMMAND_ROAD);
    assert_int_equal(got[0].value, TD_ROAD_WET);
    assert_press(TD_PRESS_SHORT, 1, TD_COMMAND_ASK_ENGINE_BRAKE, -1);
    assert_press(TD_PRESS_SHORT, 1, TD_COMMAND_ASK_ENGINE_BRAKE, 0);
    assert_press(TD_PRESS_LONG, 2, TD_COMMAND_MENU_CLOSED, 0);
    assert_int_equal(got[0].kind, TD_COMMAND_ENGINE_BRAKE);
    assert_int_equal(got[0].value, 0);
    assert_int_equal(td_menu_next_ns(&menu), INT64_MAX);
}

static void without_a_rig_only_the_road_is_asked(void **state)
{
    (void)state;
    setup.rig_is_set = false;
    assert_press(TD_PRESS_LONG, 1, TD_COMMAND_ASK_ROAD, TD_ROAD_DRY);
    assert_press(TD_PRESS_LONG, 2, TD_COMMAND_MENU_CLOSED, 0);
}

static void time_and_motion_close_it_with_nothing_taken(void **state)
{
    (void)state;
    assert_press(TD_PRESS_LONG, 1, TD_COMMAND_ASK_LOAD, 2);
    assert_press(TD_PRESS_SHORT, 1, TD_COMMAND_ASK_LOAD, 0);
    int64_t ends_ns = td_menu_next_ns(&menu);
    assert_int_equal(ends_ns - now_ns, (int64_t)(TD_MENU_OPEN_S * 1e9));
    assert_int_equal(td_menu_tick(&menu, &around, ends_ns - 1, got), 0);
    assert_int_equal(td_menu_tick(&menu, &around, ends_ns, got), 1);
    assert_int_equal(got[0].kind, TD_COMMAND_MENU_CLOSED);
    assert_int_equal(td_menu_tick(&menu, &around, ends_ns + 1, got), 0);
    assert_press(TD_PRESS_LONG, 1, TD_COMMAND_ASK_LOAD, 2);
    around.standing = false;
    assert_int_equal(td_menu_tick(&menu, &around, now_ns + 1, got), 1);
    assert_int_equal(got[0].kind, TD_COMMAND_MENU_CLOSED);
}

/* A press that finds it rolling, or late, is no step of the menu. */
static void a_press_after_its_end_is_an_ordinary_one(void **state)
{
    (void)state;
    assert_press(TD_PRESS_LONG, 1, TD_COMMAND_ASK_LOAD, 2);
    around.standing = false;
    assert_press(TD_PRESS_SHORT, 2, TD_COMMAND_AGAIN, 0);
    assert_int_equal(got[0].kind, TD_COMMAND_MENU_CLOSED);
    assert_int_equal(menu.item, TD_MENU_CLOSED);
}

/* A reload may take the rig's loads away while one is asked. */
static void what_the_rig_has_no_more_is_passed_over(void **state)
{
    (void)state;
    assert_press(TD_PRESS_LONG, 1, TD_COMMAND_ASK_LOAD, 2);
    setup.rig_is_set = false;
    assert_press(TD_PRESS_SHORT, 1, TD_COMMAND_ASK_ROAD, TD_ROAD_DRY);
}

static void tell(struct coach_bench *bench, enum td_command_kind kind, int32_t value)
{
    bench->input.command = (struct td_command){kind, value};
    coach_bench_step(bench, bench->now_ns + TD_NS_PER_MS);
}

/* The next question cuts the last; what was set is told whole before the next question. */
static void the_menu_never_speaks_over_itself(void **state)
{
    (void)state;
    struct coach_bench *bench = coach_bench_new();
    coach_bench_start(bench);
    coach_bench_step(bench, 0);
    coach_bench_until(bench, 20 * TD_NS_PER_S);
    tell(bench, TD_COMMAND_ASK_LOAD, 0);
    assert_true(bench->output.has_speak);
    assert_int_equal(bench->output.speak.id, TD_PROMPT_ASK_LOAD);
    uint32_t first = bench->output.speak.serial;
    coach_bench_until(bench, bench->now_ns + 300 * TD_NS_PER_MS);
    tell(bench, TD_COMMAND_ASK_LOAD, 1);
    assert_int_equal(bench->output.cut_serial, first);
    coach_bench_until(bench, bench->now_ns + 5 * TD_NS_PER_S);
    assert_int_equal(bench->spoken_count[TD_PROMPT_ASK_LOAD], 1);
    assert_int_equal(bench->heard[TD_PROMPT_ASK_LOAD].args[0].value, 1);
    unsigned sets = bench->spoken_count[TD_PROMPT_SET_FOR];
    tell(bench, TD_COMMAND_LOAD, 1);
    tell(bench, TD_COMMAND_ASK_ROAD, TD_ROAD_DRY);
    assert_int_equal(bench->spoken_count[TD_PROMPT_ASK_ROAD], 0);
    coach_bench_until(bench, bench->now_ns + 10 * TD_NS_PER_S);
    assert_int_equal(bench->spoken_count[TD_PROMPT_SET_FOR], sets + 1);
    assert_int_equal(bench->spoken_count[TD_PROMPT_ASK_ROAD], 1);
    coach_bench_free(bench);
}

static void a_question_about_nothing_is_refused(void **state)
{
    (void)state;
    struct coach_bench *bench = coach_bench_new();
    coach_bench_start(bench);
    coach_bench_step(bench, 0);
    coach_bench_until(bench, 20 * TD_NS_PER_S);
    static const struct td_command wrong[] = {
        {TD_COMMAND_ASK_LOAD, 99}, {TD_COMMAND_ASK_ROAD, 3},  {TD_COMMAND_ASK_ENGINE_BRAKE, 99},
        {TD_COMMAND_ASK_LOAD, -1}, {TD_COMMAND_ASK_ROAD, -1}, {TD_COMMAND_ASK_ENGINE_BRAKE, -2}};
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        tell(bench, wrong[i].kind, wrong[i].value);
        assert_false(bench->output.has_speak);
        assert_int_equal(bench->output.events[0].kind, TD_EVENT_REFUSED);
    }
    coach_bench_free(bench);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(rolling_it_says_again_or_quiets, park),
        cmocka_unit_test_setup(standing_a_prompt_is_quieted_first, park),
        cmocka_unit_test_setup(one_press_a_step_through_all_three, park),
        cmocka_unit_test_setup(without_a_rig_only_the_road_is_asked, park),
        cmocka_unit_test_setup(time_and_motion_close_it_with_nothing_taken, park),
        cmocka_unit_test_setup(a_press_after_its_end_is_an_ordinary_one, park),
        cmocka_unit_test_setup(what_the_rig_has_no_more_is_passed_over, park),
        cmocka_unit_test(the_menu_never_speaks_over_itself),
        cmocka_unit_test(a_question_about_nothing_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
