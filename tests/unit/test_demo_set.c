/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/cm.h"

#include <dirent.h>
#include <stdlib.h>
#include <string.h>

#include "io/file.h"
#include "io/hill_file.h"
#include "io/rig_file.h"
#include "io/settings.h"
#include "io/setup_json.h"
#include "support/demo_hills.h"
#include "talkdown/plan.h"
#include "talkdown/units.h"

/* The committed hills are what the seeded generator draws, byte by byte. */
static void hills_are_as_drawn(void **state)
{
    (void)state;
    for (unsigned i = 0; demo_hill_id(i) != NULL; i++) {
        char path[1024];
        (void)snprintf(path, sizeof path, "%s/profiles/hills/%s.geojson", TD_SOURCE_DIR,
                       demo_hill_id(i));
        char *committed = NULL, *drawn = NULL;
        size_t committed_length = 0, drawn_length = 0;
        assert_int_equal(td_file_read(path, 8 << 20, &committed, &committed_length, NULL), TD_OK);
        FILE *memory = open_memstream(&drawn, &drawn_length);
        assert_non_null(memory);
        assert_true(demo_hill_write(i, memory));
        assert_int_equal(fclose(memory), 0);
        assert_int_equal(drawn_length, committed_length);
        if (memcmp(drawn, committed, drawn_length) != 0)
            fail_msg("%s differs from what is drawn; ninja demo_hills rebuilds it", path);
        free(committed);
        free(drawn);
    }
}

static void read_rig(const char *name, struct td_rig *rig)
{
    char path[1024];
    struct td_problem problem = {.text = ""};
    (void)snprintf(path, sizeof path, "%s/profiles/rigs/%s.yaml", TD_SOURCE_DIR, name);
    if (td_rig_file_read(path, rig, &problem) != TD_OK)
        fail_msg("%s:%d: %s", problem.file, problem.line, problem.text);
}

/* As JSON, every member in it: the structures have padding. */
static void assert_same_truck(const struct td_rig *a, const struct td_rig *b)
{
    struct td_setup setup_a = {.rig = *a}, setup_b = {.rig = *b};
    char *text_a = td_setup_to_json(&setup_a), *text_b = td_setup_to_json(&setup_b);
    assert_non_null(text_a);
    assert_non_null(text_b);
    assert_string_equal(text_a, text_b);
    free(text_a);
    free(text_b);
}

static void rigs_are_what_they_say(void **state)
{
    (void)state;
    struct td_rig full, bare, empty, box;
    read_rig("five-axle", &full);
    read_rig("five-axle-no-brake", &bare);
    read_rig("five-axle-empty", &empty);
    read_rig("box-truck", &box);
    assert_near(full.loads[full.load_now].mass_kg, td_kg_from_lb(79900), 0.01);
    assert_int_equal(full.stage_count, 2);
    assert_int_equal(full.gear_count, 10);
    assert_int_equal(bare.stage_count, 0);
    assert_string_equal(empty.loads[empty.load_now].name, "empty");
    assert_int_equal(box.gearbox, TD_GEARBOX_AUTOMATIC);
    assert_int_equal(box.axles, 2);
    static const char *const named[] = {"bobtail", "empty", "half", "full"};
    for (size_t i = 0; i < 4; i++)
        assert_string_equal(full.loads[i].name, named[i]);
    /* but for load and engine brake the three five-axle rigs are one truck */
    bare.stage_count = full.stage_count;
    memcpy(bare.stages, full.stages, sizeof bare.stages);
    memcpy(bare.name, full.name, sizeof bare.name);
    memcpy(empty.name, full.name, sizeof empty.name);
    empty.load_now = full.load_now;
    assert_same_truck(&bare, &full);
    assert_same_truck(&empty, &full);
}

/* The kinds of truck the demo set shows beside the five-axle ones. */
static void rigs_cover_their_kinds(void **state)
{
    (void)state;
    struct td_rig hauler, twelve, tanker, box;
    read_rig("heavy-hauler", &hauler);
    read_rig("automated-twelve", &twelve);
    read_rig("tanker-retarder", &tanker);
    read_rig("box-truck", &box);
    assert_int_equal(hauler.gear_count, 18);
    assert_int_equal(hauler.gearbox, TD_GEARBOX_MANUAL);
    assert_int_equal(hauler.axles, 9);
    assert_int_equal(hauler.stage_count, 3);
    assert_int_equal(twelve.gear_count, 12);
    assert_int_equal(twelve.gearbox, TD_GEARBOX_AUTOMATED);
    assert_int_equal(twelve.stage_count, 3);
    assert_int_equal(tanker.axles, 6);
    assert_int_equal(tanker.brakes.kind, TD_BRAKE_DISC);
    assert_int_equal(tanker.stage_count, 5);
    for (size_t i = 1; i < 5; i++)
        assert_int_equal(tanker.stages[i].kind, TD_HOLDER_RETARDER);
    assert_int_equal(tanker.stages[3].torque.count, 0);
    assert_int_equal(tanker.stages[4].torque.count, tanker.stages[0].torque.count);
    assert_int_equal(box.gear_count, 6);
    assert_int_equal(box.stages[0].kind, TD_HOLDER_EXHAUST_BRAKE);
    assert_int_equal(box.brakes.kind, TD_BRAKE_DRUM);
}

/* Whatever lies in the folder is read, is in the drive log as it is, and says where it is from. */
static void every_rig_is_sound_and_fits_the_log(void **state)
{
    (void)state;
    static const char suffix[] = ".yaml";
    DIR *folder = opendir(TD_SOURCE_DIR "/profiles/rigs");
    assert_non_null(folder);
    const struct dirent *entry;
    unsigned count = 0;
    while ((entry = readdir(folder)) != NULL) {
        size_t length = strlen(entry->d_name);
        if (length < sizeof suffix || strcmp(entry->d_name + length - 5, suffix) != 0)
            continue;
        char name[256];
        (void)snprintf(name, sizeof name, "%.*s", (int)(length - 5), entry->d_name);
        static struct td_setup setup, back;
        memset(&setup, 0, sizeof setup);
        read_rig(name, &setup.rig);
        char *text = td_setup_to_json(&setup);
        assert_non_null(text);
        assert_int_equal(td_setup_from_json(text, strlen(text), &back, NULL), TD_OK);
        assert_int_equal(td_rig_check(&back.rig, NULL), TD_OK);
        assert_same_truck(&back.rig, &setup.rig);
        free(text);
        count++;
    }
    (void)closedir(folder);
    assert_true(count >= 7);
}

static struct td_hill_file *read_hill(const char *id)
{
    char path[1024];
    struct td_problem problem = {.text = ""};
    struct td_hill_file *file = NULL;
    (void)snprintf(path, sizeof path, "%s/profiles/hills/%s.geojson", TD_SOURCE_DIR, id);
    if (td_hill_file_read(path, &file, &problem) != TD_OK)
        fail_msg("%s:%d: %s", problem.file, problem.line, problem.text);
    assert_string_equal(td_hill_file_hill(file)->id, id);
    return file;
}

static size_t places_of(const struct td_hill *hill, enum td_place_kind kind, unsigned has)
{
    size_t count = 0;
    for (size_t i = 0; i < hill->place_count; i++)
        count += hill->places[i].kind == kind && (hill->places[i].has & has) == has ? 1 : 0;
    return count;
}

/* No land within 1,000 km: the middle of the hills is by the point of the ocean that is farthest
 * from any coast, 48 deg 52.6' S 123 deg 23.6' W (from memory). */
static void hills_lie_in_the_open_ocean(void **state)
{
    (void)state;
    for (unsigned i = 0; demo_hill_id(i) != NULL; i++) {
        struct td_hill_file *file = read_hill(demo_hill_id(i));
        const struct td_hill *hill = td_hill_file_hill(file);
        for (size_t at = 0; at < hill->station_count; at++) {
            assert_near(hill->stations[at].lat_deg, -48.88, 1.0);
            assert_near(hill->stations[at].lon_deg, -123.39, 1.6);
        }
        if (hill->coached)
            assert_true(hill->crest_m >= 2000);
        assert_true(hill->length_m - hill->foot_m >= 800);
        td_hill_file_free(&file);
    }
}

static void hills_are_what_they_say(void **state)
{
    (void)state;
    struct td_hill_file *drop = read_hill("vessarin-drop");
    struct td_hill_file *pass = read_hill("ombral-pass");
    struct td_hill_file *bends = read_hill("tavinek-switchbacks");
    struct td_hill_file *slope = read_hill("lunnet-slope");
    const struct td_hill *hill = td_hill_file_hill(drop); /* short and steep */
    assert_true(hill->coached && hill->foot_m - hill->crest_m < 1800);
    assert_near(hill->steepest_downgrade_ratio, 0.092, 0.004);
    hill = td_hill_file_hill(pass); /* long, false bottom, two escape lanes, sign by weight */
    assert_true(hill->foot_m - hill->crest_m > 4.0 * TD_M_PER_MI);
    assert_int_equal(hill->easing_count, 1);
    assert_int_equal(places_of(hill, TD_PLACE_ESCAPE_LANE, 0), 2);
    assert_int_equal(places_of(hill, TD_PLACE_TRUCK_SPEED, TD_PLACE_OVER_MASS), 1);
    assert_int_equal(places_of(hill, TD_PLACE_BRAKE_CHECK, TD_PLACE_MANDATORY), 1);
    assert_int_equal(hill->flashers, TD_FLASHERS_REQUIRED);
    hill = td_hill_file_hill(bends); /* hairpins with their own speeds; one lane is closed */
    assert_int_equal(places_of(hill, TD_PLACE_CURVE_SPEED, TD_PLACE_SPEED), 6);
    assert_int_equal(places_of(hill, TD_PLACE_ESCAPE_LANE, TD_PLACE_CLOSED), 1);
    size_t tight = 0;
    for (size_t i = 0; i < hill->curve_count; i++)
        tight += hill->curves[i].radius_m < 35 ? 1 : 0;
    assert_int_equal(tight, 5);
    assert_false(td_hill_file_hill(slope)->coached); /* needs no word */
    td_hill_file_free(&drop);
    td_hill_file_free(&pass);
    td_hill_file_free(&bends);
    td_hill_file_free(&slope);
}

/* Longest part between crest and foot on which a loaded truck does not gain; its beginning. */
static double longest_break_m(const struct td_hill *hill, double *from_m)
{
    double longest_m = 0, since_m = hill->crest_m;
    for (double at_m = hill->crest_m; at_m < hill->foot_m; at_m += 10) {
        if (td_hill_downgrade_at(hill, at_m) >= TD_PLAN_BREAK_RATIO)
            since_m = at_m;
        if (at_m - since_m > longest_m) {
            longest_m = at_m - since_m;
            *from_m = since_m;
        }
    }
    return longest_m;
}

/* Two downgrades more than a mile apart: a brake check before each, trucks signed by weight on
 * each, every escape lane with what tells how fast a truck it stops. */
static void the_steps_are_two_downgrades(void **state)
{
    (void)state;
    struct td_hill_file *file = read_hill("quorrin-steps");
    const struct td_hill *hill = td_hill_file_hill(file);
    double from_m = 0, length_m = longest_break_m(hill, &from_m);
    size_t checks_before = 0, checks_between = 0, lanes = 0;
    assert_true(length_m > TD_M_PER_MI);
    assert_true(from_m - hill->crest_m > 1.8 * TD_M_PER_MI);
    assert_true(hill->foot_m - from_m - length_m > 2.2 * TD_M_PER_MI);
    for (size_t i = 0; i < hill->place_count; i++) {
        const struct td_place *place = &hill->places[i];
        bool check = place->kind == TD_PLACE_BRAKE_CHECK;
        checks_before += check && place->at_m < hill->crest_m ? 1 : 0;
        checks_between += check && place->at_m > from_m && place->at_m < from_m + length_m ? 1 : 0;
        if (place->kind != TD_PLACE_ESCAPE_LANE)
            continue;
        lanes++;
        assert_true((place->has & TD_PLACE_LENGTH) != 0 && (place->has & TD_PLACE_GRADE) != 0);
        assert_true(place->material[0] != '\0');
    }
    assert_int_equal(checks_before, 1);
    assert_int_equal(checks_between, 1);
    assert_int_equal(lanes, 3);
    assert_int_equal(places_of(hill, TD_PLACE_TRUCK_SPEED, TD_PLACE_OVER_MASS), 2);
    assert_near(hill->steepest_downgrade_ratio, 0.077, 0.003);
    td_hill_file_free(&file);
}

static struct td_plan_work work;
static struct td_plan plan;

static const struct td_plan *solve(const char *id, const char *rig_name)
{
    struct td_rig rig;
    struct td_hill_file *file = read_hill(id);
    read_rig(rig_name, &rig);
    struct td_plan_query query = td_plan_query_default(&rig);
    td_plan_solve(td_hill_file_hill(file), &rig, &query, &work, &plan);
    td_hill_file_free(&file);
    return &plan;
}

/* About 80,000 lb on 8 %, trucks posted at 20 mph: third or fourth gear, 15 to 20 mph, about 1,500
 * rpm, the service brakes at rest (common practice, no source). */
static void the_long_hill_is_driven_as_drivers_do(void **state)
{
    (void)state;
    const struct td_plan *full = solve("ombral-pass", "five-axle");
    assert_true(full->safe && full->coached);
    assert_true(full->gear == 2 || full->gear == 3);
    assert_in_range(full->say_mph, 15, 20);
    assert_near(full->rpm, 1500, 200);
    assert_int_equal(full->stage, 1);
    assert_true(full->brake_share < 0.005);
    int target_mph = full->target_mph;
    const struct td_plan *bare = solve("ombral-pass", "five-axle-no-brake");
    assert_true(!bare->safe || bare->target_mph < target_mph);
    assert_true(solve("ombral-pass", "five-axle-empty")->target_mph > target_mph);
}

static void every_hill_has_a_plan(void **state)
{
    (void)state;
    static const char *const rigs[] = {"five-axle", "five-axle-empty", "box-truck"};
    for (unsigned i = 0; demo_hill_id(i) != NULL; i++)
        for (size_t r = 0; r < sizeof rigs / sizeof rigs[0]; r++) {
            const struct td_plan *solved = solve(demo_hill_id(i), rigs[r]);
            assert_true(solved->safe);
            assert_true(!solved->coached || (solved->say_mph >= 15 && solved->margin_c > 0));
        }
}

/* Heavier, and on a steep hill slower, but down they get. */
static void the_other_trucks_get_down_as_well(void **state)
{
    (void)state;
    static const char *const rigs[] = {"heavy-hauler", "automated-twelve", "tanker-retarder"};
    for (unsigned i = 0; demo_hill_id(i) != NULL; i++)
        for (size_t r = 0; r < sizeof rigs / sizeof rigs[0]; r++) {
            const struct td_plan *solved = solve(demo_hill_id(i), rigs[r]);
            assert_true(solved->safe);
            assert_true(!solved->coached || (solved->say_mph >= 5 && solved->margin_c > 0));
        }
}

static void settings_are_sound(void **state)
{
    (void)state;
    struct td_settings settings;
    struct td_problem problem = {.text = ""};
    if (td_settings_read(TD_SOURCE_DIR "/profiles/settings.yaml", &settings, &problem) != TD_OK)
        fail_msg("%s:%d: %s", problem.file, problem.line, problem.text);
    struct td_rig rig;
    assert_int_equal(td_rig_file_read(settings.rig, &rig, NULL), TD_OK);
    assert_string_equal(settings.language, "en-us");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hills_are_as_drawn),
        cmocka_unit_test(rigs_are_what_they_say),
        cmocka_unit_test(rigs_cover_their_kinds),
        cmocka_unit_test(every_rig_is_sound_and_fits_the_log),
        cmocka_unit_test(hills_lie_in_the_open_ocean),
        cmocka_unit_test(hills_are_what_they_say),
        cmocka_unit_test(the_steps_are_two_downgrades),
        cmocka_unit_test(the_long_hill_is_driven_as_drivers_do),
        cmocka_unit_test(every_hill_has_a_plan),
        cmocka_unit_test(the_other_trucks_get_down_as_well),
        cmocka_unit_test(settings_are_sound),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
