/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/cm.h"

#include <stdlib.h>
#include <string.h>

#include "io/file.h"
#include "io/rig_file.h"
#include "talkdown/units.h"

static char *base;
static size_t base_length;

static int read_data(const char *path)
{
    return td_file_read(path, 1 << 16, &base, &base_length, NULL) == TD_OK ? 0 : -1;
}

static int read_base(void **state)
{
    (void)state;
    return read_data(TD_SOURCE_DIR "/tests/unit/data/rig.yaml");
}

static int read_retarder_base(void **state)
{
    (void)state;
    return read_data(TD_SOURCE_DIR "/tests/unit/data/rig_retarder.yaml");
}

static int free_base(void **state)
{
    (void)state;
    free(base);
    return 0;
}

/* The base with the first `from` turned into `to`. */
static enum td_result parse_changed(const char *from, const char *to, struct td_rig *rig,
                                    struct td_problem *problem)
{
    char *at = strstr(base, from);
    assert_non_null(at);
    size_t head = (size_t)(at - base), size = base_length + strlen(to) + 1;
    char *changed = malloc(size);
    assert_non_null(changed);
    int length = snprintf(changed, size, "%.*s%s%s", (int)head, base, to, at + strlen(from));
    enum td_result result = td_rig_file_parse("r.yaml", changed, (size_t)length, rig, problem);
    free(changed);
    return result;
}

static void reads_every_member(void **state)
{
    (void)state;
    struct td_rig rig;
    struct td_problem problem;
    if (td_rig_file_parse("r.yaml", base, base_length, &rig, &problem) != TD_OK)
        fail_msg("%d: %s", problem.line, problem.text);
    assert_string_equal(rig.name, "Five-axle, two-stage engine brake");
    assert_int_equal(rig.gearbox, TD_GEARBOX_MANUAL);
    assert_int_equal(rig.load_count, 2);
    assert_string_equal(rig.loads[0].name, "bobtail");
    assert_near(rig.loads[1].mass_kg, 79900 * 0.45359237, 1e-9);
    assert_int_equal(rig.load_now, 1);
    assert_int_equal(rig.axles, 5);
    assert_int_equal(rig.braked_axles, 5);
    assert_true(rig.tyre_radius_m == 0.5 && rig.rolling_ratio == 0.0065);
    assert_true(rig.drag_area_m2 == 6.2 && rig.axle_ratio == 3.7);
    assert_near(rig.driveline_ratio, 0.95, 1e-15);
    assert_true(rig.rotating_kg_wheels == 500 && rig.engine_inertia_kgm2 == 3.5);
    assert_true(rig.drive_power_w == 300e3);
    assert_true(rig.rpm_least == 1000 && rig.rpm_best == 1600 && rig.rpm_most == 2100);
    assert_int_equal(rig.motoring.count, 2);
    assert_true(rig.motoring.rpm[1] == 2100 && rig.motoring.torque_nm[1] == 270);
    assert_int_equal(rig.stage_count, 2);
    assert_string_equal(rig.stages[1].name, "high");
    assert_true(rig.stages[1].torque.torque_nm[0] == 500);
    assert_int_equal(rig.gear_count, 2);
    assert_string_equal(rig.gears[1].name, "second");
    assert_true(rig.gears[1].ratio == 9.32);
    assert_true(rig.brakes.heat_capacity_j_per_k == 570e3 && rig.brakes.cooling_w_per_k == 120);
    assert_true(rig.brakes.cooling_w_per_k_per_mps == 20);
    assert_near(rig.brakes.limit_c, 260, 1e-12);
    assert_near(rig.brakes.missing_ratio, 0.2, 1e-15);
    assert_true(rig.comfortable_mps2 == 0.5);
    assert_near(rig.rollover_g, 0.35, 1e-15);
}

static void the_manual_shows(const char *part)
{
    char *manual = NULL;
    size_t length = 0;
    assert_int_equal(
        td_file_read(TD_SOURCE_DIR "/docs/formats.md", 1 << 20, &manual, &length, NULL), TD_OK);
    assert_non_null(strstr(manual, part));
    free(manual);
}

static void the_manual_shows_this_very_file(void **state)
{
    (void)state;
    the_manual_shows(strstr(base, "name: Five"));
}

/* Member by member: the structure has padding. */
static void assert_brakes_equal(const struct td_brakes *a, const struct td_brakes *b)
{
    assert_int_equal(a->kind, b->kind);
    assert_true(a->heat_capacity_j_per_k == b->heat_capacity_j_per_k);
    assert_true(a->cooling_w_per_k == b->cooling_w_per_k);
    assert_true(a->cooling_w_per_k_per_mps == b->cooling_w_per_k_per_mps);
    assert_true(a->limit_c == b->limit_c && a->missing_ratio == b->missing_ratio);
}

static void brakes_left_out_are_the_published_ones(void **state)
{
    (void)state;
    char *cut = strdup(base);
    assert_non_null(cut);
    char *at = strstr(cut, "brakes:  ");
    assert_non_null(at);
    *at = '\0';
    struct td_rig rig;
    struct td_problem problem;
    if (td_rig_file_parse("r.yaml", cut, strlen(cut), &rig, &problem) != TD_OK)
        fail_msg("%d: %s", problem.line, problem.text);
    struct td_brakes published = td_brakes_published(5);
    assert_brakes_equal(&rig.brakes, &published);
    assert_true(rig.comfortable_mps2 == 0.5);
    free(cut);
    /* One key of its own, the rest published. */
    assert_int_equal(parse_changed("  heat_capacity: 570 kJ/K ", "  #", &rig, &problem), TD_OK);
    assert_true(rig.brakes.heat_capacity_j_per_k == published.heat_capacity_j_per_k);
    assert_true(rig.brakes.cooling_w_per_k == 120);
}

struct row {
    const char *from, *to;
    int line;
    const char *says;
};

static void try_rows(const struct row *rows, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        struct td_rig rig = {.axles = 77};
        struct td_problem problem = {0};
        if (parse_changed(rows[i].from, rows[i].to, &rig, &problem) != TD_INVALID)
            fail_msg("\"%s\" was accepted", rows[i].to);
        assert_int_equal(rig.axles, 77);
        assert_string_equal(problem.file, "r.yaml");
        if (strstr(problem.text, rows[i].says) == NULL || problem.line != rows[i].line)
            fail_msg("\"%s\": line %d: %s", rows[i].to, problem.line, problem.text);
    }
}

/* Seventeen, after the two that are there. */
#define GEAR(name, ratio) "  - {name: " name ", ratio: " ratio "}\n"
#define MORE_GEARS                                                                                 \
    GEAR("a", "9.1") GEAR("b", "9.0") GEAR("c", "8.9") GEAR("d", "8.8") GEAR("e", "8.7")           \
    GEAR("f", "8.6") GEAR("g", "8.5") GEAR("h", "8.4") GEAR("i", "8.3") GEAR("j", "8.2")           \
    GEAR("k", "8.1") GEAR("l", "8.0") GEAR("m", "7.9") GEAR("n", "7.8") GEAR("o", "7.7")           \
    GEAR("p", "7.6") GEAR("q", "7.5")

static void names_the_line_and_the_cure(void **state)
{
    (void)state;
    static const struct row rows[] = {
        {"{name: first, ratio: 12.56}", "{name: first, ratio: 0}", 36, "\"first\": ratio is 0"},
        {"{name: first, ratio: 12.56}", "{name: first, ratio: nan}", 36,
         "gears[0].ratio: \"nan\" does not begin with a number"},
        {"{name: first, ratio: 12.56}", "{name: first, ratio: 0x0C}", 36, "is hexadecimal"},
        {"{name: first, ratio: 12.56}", "{name: first, ratio: 9}", 37, "\"second\": its ratio"},
        {"{name: first, ratio: 12.56}", "{name: first}", 36, "gears[0]: lacks the key \"ratio\""},
        {"{name: first, ratio: 12.56}", "first", 36, "gears[0]: is a single value; keys"},
        {"{name: first, ratio: 12.56}", "{nam: first, ratio: 1}", 36,
         "unknown key \"nam\" in gears[0]; known here: name, ratio"},
        {"axle_ratio", "axel_ratio", 15, "unknown key \"axel_ratio\"; known here: name, base"},
        {"axles: 5", "axles: 5\naxles: 5", 10, "axles: is there twice"},
        {"axles: 5", "axles: 5 5", 9, "has something after the number"},
        {"axles: 5", "axles:", 9, "axles: has no value"},
        {"braked_axles: 5", "braked_axles: 6", 10, "a whole number from 1 to 5"},
        {"drag_area: 6.2 m2", "drag_area: 6.2", 13, "\"6.2\" has no unit; write an area"},
        {"drag_area: 6.2 m2", "drag_area: 620 m2", 13, "must lie between"},
        {"drag_area: 6.2 m2", "drag_area: .inf", 13, "does not begin with a number"},
        {"drag_area: 6.2 m2", "drag_area: [6.2 m2]", 13, "is a list; a single value"},
        {"drag_area: 6.2 m2", "drag_area: &a 6.2 m2", 13, "anchor"},
        {"drag_area: 6.2 m2", "drag_area: *a", 13, "alias"},
        {"drag_area: 6.2 m2", "drag_area: !!float 6.2 m2", 13, "tag"},
        {"drag_area: 6.2 m2", "drag_area: \"6.2\\0 m2\"", 13, "control character"},
        {"drag_area: 6.2 m2", "drag_area: 6.2 m2\n  x: 1", 14, "is not well-formed YAML"},
        {"gearbox: manual", "gearbox: manuel", 4, "one of manual, automated, automatic"},
        {"load: full", "load: overfull", 8, "\"overfull\" is none of the loads"},
        {"weight: 79900 lb", "weight: 79900 kgs", 7, "loads[1].weight: \"79900 kgs\""},
        {"weight: 79900 lb", "weight: 799 lb", 7, "\"full\": weight is"},
        {"name: bobtail", "name: a load with much too long a name", 6, "longer than 23 bytes"},
        {"most: 2100 rpm", "most: 900 rpm", 17, "the band of engine speeds"},
        {"[2100 rpm, 270 N m]", "[2100 rpm]", 25, "engine.motoring[1]: has 1 entries; exactly 2"},
        {"[2100 rpm, 270 N m]", "[2100 rpm, 270]", 25, "motoring[1][1]: \"270\" has no unit"},
        {"[2100 rpm, 270 N m]", "[2100 rpm, 270 N m, 3]", 25, "has more than 2 entries"},
        {"[2100 rpm, 700 N m]", "[900 rpm, 700 N m]", 27, "\"low\": the rpm of its torque curve"},
        {"limit: 500 F", "limit: 5000 F", 42, "brakes: limit is"},
        {"limit: 500 F", "limit: -nan", 42, "does not begin"},
        {"rollover: 0.35 g", "rollover: 0.35", 45, "has no unit"},
        {"  - {name: second, ratio: 9.32}\n", "", 35, "gears: has 1 entries; from 2 to 18"},
        {"{name: second, ratio: 9.32}",
         "{name: second, ratio: 9.32}\n" MORE_GEARS, 35, "gears: has more than 18 entries"},
        {"axles: 5\nbraked_axles: 5", "axles: 1\nbraked_axles: 1", 9, "from 2 to 20"},
        {"- name: high", "- name: low", 31, "engine_brake \"low\": named twice"},
        {"- name: low", "- name: low\n    kind: jet", 28, "one of engine, exhaust is needed"},
        {"limit: 500 F", "kind: shoe", 42, "one of drum, disc is needed"},
        {"name: Five", "--- {}\n---\nname: Five", 4, "holds a second document"},
    };
    try_rows(rows, sizeof rows / sizeof rows[0]);
}

static void reads_a_retarder(void **state)
{
    (void)state;
    struct td_rig rig;
    struct td_problem problem;
    if (td_rig_file_parse("r.yaml", base, base_length, &rig, &problem) != TD_OK)
        fail_msg("%d: %s", problem.line, problem.text);
    assert_int_equal(rig.stage_count, 3);
    assert_int_equal(rig.stages[0].kind, TD_HOLDER_EXHAUST_BRAKE);
    assert_int_equal(rig.stages[1].kind, TD_HOLDER_RETARDER);
    assert_string_equal(rig.stages[1].name, "one");
    assert_int_equal(rig.stages[1].torque.count, 0);
    assert_int_equal(rig.stages[1].shaft_torque_nm.count, 2);
    assert_true(rig.stages[1].shaft_torque_nm.rpm[1] == 1500);
    assert_int_equal(rig.stages[2].shaft_torque_nm.count, 3);
    assert_true(rig.stages[2].shaft_torque_nm.torque_nm[1] == 3000);
    assert_memory_equal(&rig.stages[2].torque, &rig.stages[0].torque, sizeof rig.stages[0].torque);
    assert_true(rig.retarder.heat_capacity_j_per_k == 180e3);
    assert_true(rig.retarder.cooling_w_per_k == 2200);
    assert_true(rig.retarder.derates_from_c == 120 && rig.retarder.derates_to_c == 160);
    assert_near(rig.retarder.least_ratio, 0.25, 1e-15);
    /* Discs, with the published figures of drums. */
    struct td_brakes published = td_brakes_published(6);
    assert_int_equal(rig.brakes.kind, TD_BRAKE_DISC);
    published.kind = TD_BRAKE_DISC;
    assert_brakes_equal(&rig.brakes, &published);
    assert_int_equal(rig.load_now, 1);
    the_manual_shows(strstr(base, "engine_brake:\n"));
}

#define STAGE(name)                                                                                \
    "    - {name: " name ", torque: [[300 rpm, 600 N m], [1500 rpm, 1100 N m]]}\n"
#define FOUR_MORE STAGE("a") STAGE("b") STAGE("c") STAGE("d")

static void names_the_line_in_a_retarder(void **state)
{
    (void)state;
    static const struct row rows[] = {
        {"- [300 rpm, 600 N m]", "- [300 rpm, 600]", 31,
         "retarder.stages[0].torque[0][1]: \"600\" has no unit"},
        {"- [300 rpm, 600 N m]", "- [1500 rpm, 600 N m]", 29, "retarder \"one\": the rpm of"},
        {"[900 rpm, 3000 N m]", "[900 rpm, 300 N m]", 33, "retarder \"two\": it brakes less"},
        {"- name: two", "- name: exhaust", 33, "retarder \"exhaust\": named twice"},
        {"with_engine_brake: exhaust", "with_engine_brake: high", 38,
         "retarder.stages[1].with_engine_brake: \"high\" is no stage of engine_brake"},
        {"heat_capacity: 180 kJ/K", "heat_capacity: 180 kJ", 39,
         "retarder.heat_capacity: \"180 kJ\""},
        {"heat_capacity: 180 kJ/K", "heat_capacity: 1 kJ/K", 39, "retarder: heat_capacity is 1000"},
        {"cooling: 2.2 kW/K ", "#", 27, "retarder: lacks the key \"cooling\""},
        {"derates_to: 160 C", "derates_to: 120 C", 42, "derates_to is not above derates_from"},
        {"least: 25%", "least: 25", 43, "retarder.least: \"25\" has no unit"},
        {"least: 25%", "most: 25%", 43, "unknown key \"most\" in retarder; known here: stages"},
        {"kind: exhaust", "kind: retarder", 23, "one of engine, exhaust is needed"},
        {"  stages:  ", "  stages:\n" FOUR_MORE FOUR_MORE, 28, "has more than 8 entries"},
        {"    - name: one\n", FOUR_MORE STAGE("e") STAGE("f") "    - name: one\n", 39,
         "retarder.stages[7]: one stage too many; engine_brake and retarder together may have 8"},
    };
    try_rows(rows, sizeof rows / sizeof rows[0]);
}

static void refuses_files_that_are_no_rig(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        const char *says;
    } rows[] = {
        {"", "is empty; a rig begins with name:"},
        {"# only words\n", "is empty"},
        {"---\n", "is empty"},
        {"- a\n- b\n", "is a list; keys with values"},
        {"just words", "is a single value"},
        {"name: [[[[[[[[[[[[[[[[[[[[", "is a list; a single value"},
        {"name: \xff\xfe", "is not well-formed YAML"},
        {"name: \"unfinished", "is not well-formed YAML"},
        {"? [a, b]\n: c\n", "key that is no plain word"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct td_rig rig;
        struct td_problem problem = {0};
        assert_int_equal(
            td_rig_file_parse("r.yaml", rows[i].text, strlen(rows[i].text), &rig, &problem),
            TD_INVALID);
        if (strstr(problem.text, rows[i].says) == NULL)
            fail_msg("%s: %s", rows[i].text, problem.text);
    }
    enum { MUCH = 10 * 1000 * 1000 };
    char *line = malloc(MUCH);
    assert_non_null(line);
    memset(line, 'a', MUCH);
    struct td_rig rig;
    struct td_problem problem = {0};
    assert_int_equal(td_rig_file_parse("r.yaml", line, MUCH, &rig, &problem), TD_INVALID);
    assert_non_null(strstr(problem.text, "larger than"));
    free(line);
    assert_int_equal(td_rig_file_read("no-such-rig.yaml", &rig, &problem), TD_NOT_FOUND);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_every_member),
        cmocka_unit_test(the_manual_shows_this_very_file),
        cmocka_unit_test(brakes_left_out_are_the_published_ones),
        cmocka_unit_test(names_the_line_and_the_cure),
        cmocka_unit_test(refuses_files_that_are_no_rig),
    };
    const struct CMUnitTest retarder_tests[] = {
        cmocka_unit_test(reads_a_retarder),
        cmocka_unit_test(names_the_line_in_a_retarder),
    };
    return cmocka_run_group_tests(tests, read_base, free_base) +
           cmocka_run_group_tests(retarder_tests, read_retarder_base, free_base);
}
