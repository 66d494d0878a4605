/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rigs that rest on others, from files in memory: what is merged how, where a complaint points, and
 * which bases are refused. What a merged rig must come to is a rig written out whole. */
#include "support/cm.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "io/file.h"
#include "io/problem.h"
#include "io/rig_file.h"
#include "io/setup_json.h"

#define CLASS_HEAD                                                                                 \
    "gearbox: manual\naxles: 5\nbraked_axles: 5\ntyre_radius: 0.5 m\nrolling_resistance: 0.0065\n" \
    "drag_area: 6.2 m2\ndriveline_efficiency: 95%\naxle_ratio: 3.7\nrotating_wheels: 500 kg\n"
#define ENGINE(most)                                                                               \
    "engine:\n  inertia: 3.5 kg m2\n  least: 1000 rpm\n  best: 1600 rpm\n  most: " most "\n"       \
    "  motoring:\n    - [1000 rpm, 150 N m]\n    - [2100 rpm, 270 N m]\n"
#define BRAKE                                                                                      \
    "engine_brake:\n  - name: low\n    torque: [[1000 rpm, 250 N m], [2100 rpm, 700 N m]]\n"
#define GEARS "gears:\n  - {name: first, ratio: 12}\n  - {name: second, ratio: 9}\n"
#define RETARDER                                                                                   \
    "retarder:\n  stages:\n    - {name: one, torque: [[300 rpm, 600 N m], [1500 rpm, 900 N m]]}\n" \
    "  heat_capacity: 180 kJ/K\n  cooling: 2.2 kW/K\n  derates_from: 120 C\n  derates_to: 160 C\n" \
    "  least: 25%\n"
#define LOADS "loads:\n  - {name: half, weight: 50000 lb}\n  - {name: full, weight: 79900 lb}\n"
#define CLASS CLASS_HEAD ENGINE("2100 rpm") BRAKE GEARS RETARDER LOADS

struct file {
    const char *path, *text;
};

static enum td_result read_one(void *context, const char *path, char **bytes, size_t *length,
                               struct td_problem *problem)
{
    for (const struct file *file = context; file->path != NULL; file++)
        if (strcmp(file->path, path) == 0) {
            *bytes = strdup(file->text);
            assert_non_null(*bytes);
            *length = strlen(file->text);
            return TD_OK;
        }
    return td_problem_set(problem, TD_NOT_FOUND, path, 0, "cannot open it: none there");
}

/* The first of the files, the others as its bases. */
static enum td_result read_chain(const struct file *files, struct td_rig *rig,
                                 struct td_problem *problem)
{
    const struct td_rig_source source = {read_one, (void *)(uintptr_t)files};
    return td_rig_file_parse_with(files[0].path, files[0].text, strlen(files[0].text), &source,
                                  rig, problem);
}

static void read_good(const struct file *files, struct td_rig *rig)
{
    struct td_problem problem = {0};
    if (read_chain(files, rig, &problem) != TD_OK)
        fail_msg("%s:%d: %s", problem.file, problem.line, problem.text);
}

/* By their JSON in a drive log, which has every member. */
static void assert_same_rig(const struct td_rig *a, const struct td_rig *b)
{
    static struct td_setup setups[2];
    setups[0].rig = *a;
    setups[1].rig = *b;
    char *texts[2] = {td_setup_to_json(&setups[0]), td_setup_to_json(&setups[1])};
    assert_non_null(texts[0]);
    assert_non_null(texts[1]);
    assert_string_equal(texts[0], texts[1]);
    free(texts[0]);
    free(texts[1]);
}

static void single_keys_are_replaced_and_lists_whole(void **state)
{
    (void)state;
    static const struct file files[] = {
        {"d/unit.yaml",
         "name: Unit\nbase: kinds/class.yaml\ngearbox: automated\ndrag_area: 5.5 m2\n"
         "engine: {most: 1900 rpm}\ngears: [{name: a, ratio: 8}, {name: b, ratio: 6}]\n"
         "brakes: {kind: disc, limit: 400 F}\nretarder: {cooling: 2 kW/K}\n"},
        {"d/kinds/class.yaml", "name: Class\nbrakes: {missing: 10%, limit: 500 F}\n" CLASS},
        {NULL, NULL}};
    static const struct file whole[] = {
        {"whole.yaml",
         "name: Unit\ngearbox: automated\naxles: 5\nbraked_axles: 5\ntyre_radius: 0.5 m\n"
         "rolling_resistance: 0.0065\ndrag_area: 5.5 m2\ndriveline_efficiency: 95%\n"
         "axle_ratio: 3.7\nrotating_wheels: 500 kg\n" ENGINE("1900 rpm") BRAKE LOADS
         "gears: [{name: a, ratio: 8}, {name: b, ratio: 6}]\n"
         "brakes: {kind: disc, limit: 400 F, missing: 10%}\n"
         "retarder:\n  stages:\n"
         "    - {name: one, torque: [[300 rpm, 600 N m], [1500 rpm, 900 N m]]}\n"
         "  heat_capacity: 180 kJ/K\n  cooling: 2 kW/K\n  derates_from: 120 C\n"
         "  derates_to: 160 C\n  least: 25%\n"},
        {NULL, NULL}};
    struct td_rig rig, expected;
    read_good(files, &rig);
    read_good(whole, &expected);
    assert_same_rig(&rig, &expected);
    assert_int_equal(rig.gear_count, 2);
    assert_int_equal(rig.brakes.kind, TD_BRAKE_DISC);
}

static void an_empty_list_takes_away(void **state)
{
    (void)state;
    static const struct file files[] = {
        {"unit.yaml", "name: Unit\nbase: ./class.yaml\nengine_brake: []\nretarder: {stages: []}\n"},
        {"class.yaml", CLASS},
        {NULL, NULL}};
    static const struct file whole[] = {
        {"whole.yaml", "name: Unit\n" CLASS_HEAD ENGINE("2100 rpm") GEARS LOADS}, {NULL, NULL}};
    struct td_rig rig, expected;
    read_good(files, &rig);
    read_good(whole, &expected);
    assert_int_equal(rig.stage_count, 0);
    assert_same_rig(&rig, &expected);
}

static void the_nearest_file_wins_down_the_chain(void **state)
{
    (void)state;
    static const struct file files[] = {
        {"a.yaml", "name: A\nbase: b.yaml\n"},
        {"b.yaml", "base: c.yaml\naxle_ratio: 4.0\n"},
        {"c.yaml", "name: C\nbase: d.yaml\naxle_ratio: 3.0\ndrag_area: 4 m2\n"},
        {"d.yaml", "base: e.yaml\ndrag_area: 5 m2\nrollover: 0.4 g\n"},
        {"e.yaml", CLASS "rollover: 0.3 g\n"},
        {NULL, NULL}};
    struct td_rig rig;
    read_good(files, &rig);
    assert_string_equal(rig.name, "A");
    assert_true(rig.axle_ratio == 4.0 && rig.drag_area_m2 == 4 && rig.axles == 5);
    assert_near(rig.rollover_g, 0.4, 1e-15);
}

/* The same four files, one more on top: five bases in a row. */
static void a_chain_too_long_is_refused(void **state)
{
    (void)state;
    static const struct file files[] = {
        {"a.yaml", "name: A\nbase: b.yaml\n"}, {"b.yaml", "base: c.yaml\n"},
        {"c.yaml", "base: d.yaml\n"},          {"d.yaml", "base: e.yaml\n"},
        {"e.yaml", "\nbase: f.yaml\n" CLASS},  {"f.yaml", CLASS}, {NULL, NULL}};
    struct td_rig rig = {.axles = 77};
    struct td_problem problem = {0};
    assert_int_equal(read_chain(files, &rig, &problem), TD_INVALID);
    assert_string_equal(problem.file, "e.yaml");
    assert_int_equal(problem.line, 2);
    assert_string_equal(problem.text, "base: \"f.yaml\" is one base too many; a rig may rest on 4 "
                                      "in a row (a base of a.yaml)");
    assert_int_equal(rig.axles, 77);
}

struct row {
    const char *unit, *base; /* texts of unit.yaml and class.yaml */
    const char *file;
    int line;
    const char *says;
};

static void try_rows(const struct row *rows, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        const struct file files[] = {
            {"unit.yaml", rows[i].unit}, {"class.yaml", rows[i].base}, {NULL, NULL}};
        struct td_rig rig = {.axles = 77};
        struct td_problem problem = {0};
        if (read_chain(files, &rig, &problem) != TD_INVALID)
            fail_msg("row %zu was accepted", i);
        if (strcmp(problem.file, rows[i].file) != 0 || problem.line != rows[i].line ||
            strstr(problem.text, rows[i].says) == NULL)
            fail_msg("row %zu: %s:%d: %s", i, problem.file, problem.line, problem.text);
        bool of_base = strstr(problem.text, " (a base of unit.yaml)") != NULL;
        assert_int_equal(of_base, strcmp(problem.file, "class.yaml") == 0);
        assert_int_equal(rig.axles, 77);
    }
}

#define UNIT "name: Unit\nbase: class.yaml\n"

static void a_complaint_points_at_the_file_that_holds_the_value(void **state)
{
    (void)state;
    static const struct row rows[] = {
        {UNIT "drag_area: 6.2\n", CLASS, "unit.yaml", 3, "drag_area: \"6.2\" has no unit"},
        {UNIT, CLASS_HEAD ENGINE("2100") GEARS LOADS, "class.yaml", 14,
         "engine.most: \"2100\" has no unit"},
        {UNIT, CLASS_HEAD ENGINE("900 rpm") GEARS LOADS, "class.yaml", 10, "the band of engine"},
        {UNIT "engine:\n  most: 900 rpm\n", CLASS, "unit.yaml", 3, "the band of engine"},
        {UNIT, CLASS "brakes: {limit: 5000 F}\n", "class.yaml", 35, "brakes: limit is"},
        {UNIT "brakes: {missing: 10%}\n", CLASS "brakes:\n  limit: 5000 F\n", "class.yaml", 36,
         "brakes: limit is"},
        {UNIT "brakes:\n  limit: 5000 F\n", CLASS "brakes: {missing: 10%}\n", "unit.yaml", 4,
         "brakes: limit is"},
        {UNIT "load: half\nloads: [{name: all, weight: 70000 lb}]\n", CLASS, "unit.yaml", 3,
         "\"half\" is none of the loads"},
        {UNIT "loads: [{name: all, weight: 70000 lb}]\n", CLASS "load: half\n", "class.yaml", 35,
         "\"half\" is none of the loads"},
        {UNIT "gears: [{name: a, ratio: 8}, {name: b, ratio: 9}]\n", CLASS, "unit.yaml", 3,
         "gears \"b\": its ratio"},
        {UNIT, CLASS "gear: 3\n", "class.yaml", 35, "unknown key \"gear\""},
        {UNIT, CLASS "axles: 4\n", "class.yaml", 35, "axles: is there twice"},
        {UNIT, "", "class.yaml", 0, "is empty; a rig begins with name:"},
        {UNIT "gearbox: manuel\n", CLASS, "unit.yaml", 3, "one of manual, automated, automatic"},
        /* What nobody has is lacking in the rig's own file. */
        {"# Unit\n" UNIT, CLASS_HEAD GEARS LOADS, "unit.yaml", 2, "lacks the key \"engine\""},
        {UNIT "\nengine: {least: 900 rpm}\n", CLASS_HEAD GEARS LOADS, "unit.yaml", 4,
         "engine: lacks the key \"inertia\""},
        {UNIT "retarder:\n  least: 20%\n", CLASS_HEAD ENGINE("2100 rpm") GEARS LOADS, "unit.yaml",
         3, "retarder: lacks the key \"stages\""},
        {UNIT "retarder:\n  stages: []\n  least: 20%\n", CLASS, "unit.yaml", 5,
         "retarder.least: is of a retarder without stages"},
        {"base: class.yaml\n", "name: Class\n" CLASS, "unit.yaml", 1,
         "a rig with a base needs one of its own"},
    };
    try_rows(rows, sizeof rows / sizeof rows[0]);
}

static void what_is_replaced_does_no_harm(void **state)
{
    (void)state;
    static const struct file files[] = {
        {"unit.yaml", UNIT "drag_area: 6 m2\nengine: {most: 2000 rpm}\n" LOADS},
        {"class.yaml", CLASS_HEAD ENGINE("none yet") BRAKE GEARS "load: full\n"},
        {NULL, NULL}};
    struct td_rig rig;
    read_good(files, &rig);
    assert_true(rig.rpm_most == 2000);
    assert_int_equal(rig.load_now, 1);
}

static void bases_that_are_refused(void **state)
{
    (void)state;
    static const struct row rows[] = {
        {"name: U\nbase: unit.yaml\n", "", "unit.yaml", 2, "\"unit.yaml\" is this very file"},
        {"name: U\nbase: .//unit.yaml\n", "", "unit.yaml", 2, "is this very file"},
        {UNIT, "axles: 5\n\nbase: unit.yaml\n", "class.yaml", 3,
         "\"unit.yaml\" leads back to a rig that rests on this one; name a rig file in this"},
        {"name: U\nbase: /etc/passwd\n", "", "unit.yaml", 2, "is an absolute path; name a rig"},
        {"name: U\nbase: ../class.yaml\n", "", "unit.yaml", 2, "leads out of the folder"},
        {"name: U\nbase: a/../../class.yaml\n", "", "unit.yaml", 2, "leads out of the folder"},
        {"name: U\nbase: a/../class.yaml\n", "", "unit.yaml", 2, "leads out of the folder"},
        {"name: U\nbase: .\n", "", "unit.yaml", 2, "to none of its files"},
        {"name: U\nbase: klass.yaml\n", "", "unit.yaml", 2,
         "base: \"klass.yaml\" cannot open it: none there; name a rig file"},
        {UNIT, "base: more/klass.yaml\n", "class.yaml", 1, "\"more/klass.yaml\" cannot open it"},
        {"name: U\nbase:\n", "", "unit.yaml", 2, "base: has no value"},
        {"name: U\nbase: [class.yaml]\n", "", "unit.yaml", 2, "a single value is needed"},
    };
    try_rows(rows, sizeof rows / sizeof rows[0]);
}

static void put(const char *folder, const char *name, const char *text)
{
    char path[64];
    (void)snprintf(path, sizeof path, "%s/%s", folder, name);
    assert_int_equal(td_file_write(path, text, strlen(text), true, NULL), TD_OK);
}

/* On disk beside the file that names them, whatever the working folder; and nothing that waits. */
static void bases_lie_beside_their_file(void **state)
{
    (void)state;
    char folder[] = "rigs-XXXXXX", path[64], command[64];
    assert_non_null(mkdtemp(folder));
    (void)snprintf(path, sizeof path, "%s/pipe.yaml", folder);
    assert_int_equal(mkfifo(path, 0600), 0);
    put(folder, "class.yaml", CLASS);
    put(folder, "unit.yaml", UNIT);
    put(folder, "waits.yaml", "name: W\nbase: pipe.yaml\n");
    put(folder, "folder.yaml", "name: W\nbase: gone/class.yaml\n");
    struct td_rig rig = {.axles = 77};
    struct td_problem problem = {0};
    (void)snprintf(path, sizeof path, "%s/waits.yaml", folder);
    assert_int_equal(td_rig_file_read(path, &rig, &problem), TD_INVALID);
    assert_string_equal(problem.file, path);
    assert_non_null(strstr(problem.text, "\"pipe.yaml\" is no regular file"));
    (void)snprintf(path, sizeof path, "%s/folder.yaml", folder);
    assert_int_equal(td_rig_file_read(path, &rig, &problem), TD_INVALID);
    assert_non_null(strstr(problem.text, "No such file or directory"));
    assert_int_equal(rig.axles, 77);
    (void)snprintf(path, sizeof path, "%s/unit.yaml", folder);
    assert_int_equal(td_rig_file_read(path, &rig, &problem), TD_OK);
    assert_int_equal(rig.axles, 5);
    (void)snprintf(command, sizeof command, "rm -r %s", folder);
    assert_int_equal(system(command), 0);
}

/* The demo rigs that rest on another differ from it in what they say and in nothing else. */
static void the_demo_rigs_differ_in_what_they_say(void **state)
{
    (void)state;
    struct td_rig base, empty, bare;
    assert_int_equal(td_rig_file_read(TD_SOURCE_DIR "/profiles/rigs/five-axle.yaml", &base, NULL),
                     TD_OK);
    assert_int_equal(
        td_rig_file_read(TD_SOURCE_DIR "/profiles/rigs/five-axle-empty.yaml", &empty, NULL), TD_OK);
    assert_int_equal(
        td_rig_file_read(TD_SOURCE_DIR "/profiles/rigs/five-axle-no-brake.yaml", &bare, NULL),
        TD_OK);
    assert_int_equal(empty.load_now, 1);
    assert_int_equal(bare.stage_count, 0);
    assert_string_not_equal(empty.name, base.name);
    empty.load_now = base.load_now;
    memcpy(empty.name, base.name, sizeof empty.name);
    assert_same_rig(&empty, &base);
    bare.stage_count = base.stage_count;
    memcpy(bare.stages, base.stages, sizeof bare.stages);
    memcpy(bare.name, base.name, sizeof bare.name);
    assert_same_rig(&bare, &base);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(single_keys_are_replaced_and_lists_whole),
        cmocka_unit_test(an_empty_list_takes_away),
        cmocka_unit_test(the_nearest_file_wins_down_the_chain),
        cmocka_unit_test(a_chain_too_long_is_refused),
        cmocka_unit_test(a_complaint_points_at_the_file_that_holds_the_value),
        cmocka_unit_test(what_is_replaced_does_no_harm),
        cmocka_unit_test(bases_that_are_refused),
        cmocka_unit_test(bases_lie_beside_their_file),
        cmocka_unit_test(the_demo_rigs_differ_in_what_they_say),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
