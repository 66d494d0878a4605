/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/cm.h"

#include <stdlib.h>
#include <string.h>

#include "io/file.h"
#include "io/rig_file.h"
#include "support/demo_hills.h"
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
    assert_memory_equal(&bare, &full, sizeof full);
    assert_memory_equal(&empty, &full, sizeof full);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hills_are_as_drawn),
        cmocka_unit_test(rigs_are_what_they_say),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
