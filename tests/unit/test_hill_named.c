/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A hill by the name that people give it: a profile, a library's id, a slip in one. */
#include "io/hill_named.h"

#include <stdlib.h>
#include <string.h>

#include "io/file.h"
#include "support/cm.h"
#include "support/library_rig.h"

enum { HILLS = 70 };
static struct rig_hill hills[HILLS];
static char path[128];

static int start(void **state)
{
    (void)state;
    (void)rig_folder();
    for (unsigned i = 0; i < HILLS; i++)
        hills[i].index = i * 3;
    (void)snprintf(path, sizeof path, "%s", rig_in("fleet.hills"));
    rig_pack(path, hills, HILLS);
    return 0;
}

static int stop(void **state)
{
    (void)state;
    rig_remove_folder();
    return 0;
}

static void is(const char *name, const char *id)
{
    struct td_hill_file *file = NULL;
    struct td_problem problem = {0};
    if (td_hill_named_read(name, &file, &problem) != TD_OK)
        fail_msg("%s: %s: %s", name, problem.file, problem.text);
    assert_string_equal(td_hill_file_hill(file)->id, id);
    td_hill_file_free(&file);
}

static void refused(const char *name, enum td_result right, const char *words)
{
    struct td_hill_file *file = NULL;
    struct td_problem problem = {0};
    enum td_result result = td_hill_named_read(name, &file, &problem);
    if (result != right || strstr(problem.text, words) == NULL)
        fail_msg("%s: result %d: \"%s\" lacks \"%s\"", name, (int)result, problem.text, words);
    assert_null(file);
}

static void every_hill_is_found_by_its_id(void **state)
{
    (void)state;
    char name[256], id[32];
    for (unsigned i = 0; i < HILLS; i++) {
        (void)snprintf(id, sizeof id, "ocean-%06u", i * 3);
        (void)snprintf(name, sizeof name, "%s:%s", path, id);
        is(name, id);
    }
    is(TD_SOURCE_DIR "/profiles/hills/ombral-pass.geojson", "ombral-pass");
}

static void a_slip_is_told_with_what_is_near(void **state)
{
    (void)state;
    char name[256];
    (void)snprintf(name, sizeof name, "%s:ocaen-000003", path);
    refused(name, TD_NOT_FOUND, "has no hill \"ocaen-000003\"; near it: ocean-000003, ");
    (void)snprintf(name, sizeof name, "%s:00207", path);
    refused(name, TD_NOT_FOUND, "near it: ocean-000207");
    (void)snprintf(name, sizeof name, "%s:a-name-of-another-country", path);
    refused(name, TD_NOT_FOUND, "none near it; \"talkdown hills list\" tells its 70");
    (void)snprintf(name, sizeof name, "%s:", path);
    refused(name, TD_NOT_FOUND, "has no hill \"\"");
    refused("none.hills:ocean-000003", TD_NOT_FOUND, "");
    refused(path, TD_INVALID, "holds 70 hills; name one by its id, for example ");
}

static void a_library_of_one_hill_needs_no_id(void **state)
{
    (void)state;
    const char *one = rig_in("one.hills");
    rig_pack(one, hills + 5, 1);
    is(one, "ocean-000015");
}

/* A file whose own name has a colon in it is that file. */
static void a_colon_in_the_name_of_a_file_is_no_id(void **state)
{
    (void)state;
    size_t length = 0;
    char *text = rig_text(&hills[1], &length);
    const char *name = rig_in("fleet.hills:ocean-000000");
    assert_int_equal(td_file_write(name, text, length, false, NULL), TD_OK);
    free(text);
    is(name, "ocean-000003");
}

static void its_file_is_told(void **state)
{
    (void)state;
    char name[256], file[256];
    (void)snprintf(name, sizeof name, "%s:ocean-000003", path);
    assert_true(td_hill_named_path(name, file, sizeof file));
    assert_string_equal(file, path);
    assert_true(td_hill_named_path("a.geojson", file, sizeof file));
    assert_string_equal(file, "a.geojson");
    assert_false(td_hill_named_path("a.geojson", file, 4));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_hill_is_found_by_its_id),
        cmocka_unit_test(a_slip_is_told_with_what_is_near),
        cmocka_unit_test(a_library_of_one_hill_needs_no_id),
        cmocka_unit_test(its_file_is_told),
        cmocka_unit_test(a_colon_in_the_name_of_a_file_is_no_id),
    };
    return cmocka_run_group_tests(tests, start, stop);
}
