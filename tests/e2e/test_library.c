/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Many hills as a folder and as a library made of it, through the real tool: packing, listing,
 * checking, and a recorded drive that hears the same of both, byte for byte. The hills are surveyed
 * from recorded centre lines and a recorded climb; what is driven is the recorded descent. */
#include <stdlib.h>
#include <string.h>

#include "support/cm.h"
#include "support/tool_run.h"

#define HILLS TD_SOURCE_DIR "/profiles/hills"
#define RIG   TD_SOURCE_DIR "/profiles/rigs/box-truck.yaml"
#define LINES TD_SHARED_DIR "/data/road-lines"
#define PINS  TD_SHARED_DIR "/data/hairpins"

static const char *const lines[] = {"CG_1_0", "CG_1_1", "CG_1_3", "CG_2_0", "CG_2_1",
                                    "CG_2_2", "CG_2_3", "CG_3_1", "CG_3_6", "CG_4_0",
                                    "CG_4_1", "CG_5_0", "CG_6_2"};
enum { LINES_COUNT = sizeof lines / sizeof lines[0] };

static char folder[64], library[96];
static size_t hill_count;

static struct tool_run run_well(const char *arguments)
{
    struct tool_run run = tool_run(arguments);
    if (run.exit_code != 0)
        fail_msg("talkdown %s: exit %d: %s%s", arguments, run.exit_code, run.out, run.err);
    return run;
}

static void survey(const char *track, const char *more, const char *id)
{
    char arguments[1024];
    (void)snprintf(arguments, sizeof arguments, "survey %s %s --id %s --out %s/%s.geojson", track,
                   more, id, folder, id);
    struct tool_run run = run_well(arguments);
    hill_count++;
    tool_run_free(&run);
}

/* The folder and the library of it, once. */
static void make_hills(void)
{
    char text[1024];
    if (folder[0] != '\0')
        return;
    (void)snprintf(folder, sizeof folder, "%s", tool_folder());
    (void)snprintf(library, sizeof library, "%s/../country.hills", folder);
    (void)snprintf(text, sizeof text, "cp " HILLS "/*.geojson %s/", folder);
    assert_int_equal(system(text), 0);
    if (tool_is_file(LINES) && tool_is_file(PINS)) {
        survey(PINS "/climb.gpx", "--reverse", "hairpins");
        for (size_t i = 0; i < LINES_COUNT; i++) {
            char track[512], id[32];
            (void)snprintf(track, sizeof track, LINES "/%s.gpx", lines[i]);
            (void)snprintf(id, sizeof id, "line-%zu", i);
            survey(track, "", id);
        }
    } else {
        printf("SKIPPED in part: %s and %s not there; the demo hills only\n", LINES, PINS);
    }
    (void)snprintf(text, sizeof text, "hills pack %s --out %s", folder, library);
    struct tool_run run = run_well(text);
    assert_non_null(strstr(run.out, " hills, "));
    assert_string_equal(run.err, ""); /* progress is for a terminal */
    tool_run_free(&run);
}

static size_t lines_of(const char *text)
{
    size_t count = 0;
    for (; *text != '\0'; text++)
        count += *text == '\n';
    return count;
}

/* The same hills are listed, a line each, and all of them pass. */
static void it_lists_and_checks_as_the_folder(void **state)
{
    (void)state;
    char text[1024];
    make_hills();
    (void)snprintf(text, sizeof text, "hills list %s --json", folder);
    struct tool_run of_folder = run_well(text);
    (void)snprintf(text, sizeof text, "hills list %s --json", library);
    struct tool_run of_library = run_well(text);
    assert_true(lines_of(of_folder.out) >= hill_count + 4);
    assert_int_equal(lines_of(of_folder.out), lines_of(of_library.out));
    assert_non_null(strstr(of_library.out, "\"id\": \"ombral-pass\""));
    tool_run_free(&of_folder);
    tool_run_free(&of_library);
    (void)snprintf(text, sizeof text, "hills list %s", library);
    of_library = run_well(text);
    assert_non_null(strstr(of_library.out, "\nroot "));
    tool_run_free(&of_library);
    (void)snprintf(text, sizeof text, "hills check %s", library);
    of_library = run_well(text);
    assert_non_null(strstr(of_library.out, ", 0 errors, "));
    tool_run_free(&of_library);
}

static void verify_says_what_it_could(void **state)
{
    (void)state;
    char text[1024];
    make_hills();
    (void)snprintf(text, sizeof text, "hills verify %s", library);
    struct tool_run run = tool_run(text);
    assert_int_equal(run.exit_code, 1);
    assert_non_null(strstr(run.out, "unsigned: nobody vouches for it"));
    assert_non_null(strstr(run.out, "Not verified: who packed it"));
    tool_run_free(&run);
    /* A way from the root of the index to nowhere, which no hill by itself shows. */
    (void)snprintf(text, sizeof text,
                   "hills list %s >/dev/null && cp %s %s.torn && sqlite3 %s.torn \"UPDATE "
                   "road_node SET data = CAST(substr(data, 1, 2) || x'0000' || substr(data, 5) AS "
                   "BLOB) WHERE nodeno = 1\" && \"$TOOL\" hills verify %s.torn",
                   library, library, library, library, library);
    (void)setenv("TOOL", TD_TALKDOWN, 1);
    run = tool_run(text);
    assert_int_equal(run.exit_code, 1);
    assert_non_null(strstr(run.err, "leads a search astray"));
    tool_run_free(&run);
}

static void packed_again_it_is_the_same(void **state)
{
    (void)state;
    char text[1024];
    make_hills();
    /* File by file, backwards, and the library itself as input. */
    (void)snprintf(text, sizeof text,
                   "hills pack $(ls -r %s/*.geojson) --out %s.2 && cmp %s %s.2 && \"$TOOL\" hills "
                   "pack %s.2 --out %s.3 && cmp %s %s.3",
                   folder, library, library, library, library, library, library, library);
    (void)setenv("TOOL", TD_TALKDOWN, 1);
    struct tool_run run = run_well(text);
    tool_run_free(&run);
    (void)snprintf(text, sizeof text, "hills pack %s --out %s", folder, library);
    run = tool_run(text);
    assert_int_equal(run.exit_code, 2);
    assert_non_null(strstr(run.err, "is there already and is left alone"));
    tool_run_free(&run);
    (void)snprintf(text, sizeof text, "hills pack %s %s --out %s.4", folder, library, library);
    run = tool_run(text);
    assert_int_equal(run.exit_code, 2);
    assert_non_null(strstr(run.err, "give each hill an id of its own"));
    assert_non_null(strstr(run.err, ".geojson; give"));
    assert_non_null(strstr(run.err, "country.hills:"));
    tool_run_free(&run);
}

static char *prompts_of(const char *track, const char *hills)
{
    char text[1024], path[128];
    const char *out = tool_folder();
    (void)snprintf(text, sizeof text,
                   "replay %s --hills %s --rig " RIG " --out %s/run --json --no-sound", track,
                   hills, out);
    (void)snprintf(path, sizeof path, "%s/run/prompts.txt", out);
    struct tool_run run = run_well(text);
    tool_run_free(&run);
    char *prompts = tool_file(path, NULL);
    assert_non_null(prompts);
    (void)snprintf(text, sizeof text, "replay --exact %s/run/drive.db", out);
    run = run_well(text);
    tool_run_free(&run);
    return prompts;
}

static void a_drive_hears_the_same_of_both(void **state)
{
    (void)state;
    make_hills();
    static const char track[] = PINS "/descent.gpx";
    if (!tool_is_file(track)) {
        printf("SKIPPED: %s not there\n", track);
        return;
    }
    char *of_folder = prompts_of(track, folder), *of_library = prompts_of(track, library);
    assert_string_equal(of_folder, of_library);
    assert_non_null(strstr(of_library, "bottom"));
    assert_true(lines_of(of_library) > 8);
    free(of_folder);
    free(of_library);
}

/* A plan, and a rehearsal with its neighbours on board, of a hill named LIBRARY:ID. */
static void a_hill_of_it_is_named_by_its_id(void **state)
{
    (void)state;
    static const char *const of[] = {HILLS "/ombral-pass.geojson", NULL};
    char text[1024], name[128], *plans[2], *prompts[2];
    make_hills();
    (void)snprintf(name, sizeof name, "%s:ombral-pass", library);
    for (int i = 0; i < 2; i++) {
        const char *hill = i == 0 ? of[0] : name, *out = tool_folder();
        (void)snprintf(text, sizeof text, "plan %s --rig " RIG " --json", hill);
        struct tool_run run = run_well(text);
        plans[i] = strdup(run.out);
        tool_run_free(&run);
        (void)snprintf(text, sizeof text, "rehearse %s --rig " RIG " --out %s/run --no-sound", hill,
                       out);
        run = run_well(text);
        tool_run_free(&run);
        (void)snprintf(text, sizeof text, "%s/run/prompts.txt", out);
        prompts[i] = tool_file(text, NULL);
        assert_non_null(prompts[i]);
    }
    assert_string_equal(plans[0], plans[1]);
    /* The first words count the hills on board; all others are the same. */
    assert_string_equal(strchr(prompts[0], '\n'), strchr(prompts[1], '\n'));
    for (int i = 0; i < 2; i++) {
        free(plans[i]);
        free(prompts[i]);
    }
    (void)snprintf(text, sizeof text, "plan %s:ombral-pas --rig " RIG, library);
    struct tool_run run = tool_run(text);
    assert_int_equal(run.exit_code, 2);
    assert_non_null(strstr(run.err, "has no hill \"ombral-pas\"; near it: ombral-pass"));
    tool_run_free(&run);
    (void)snprintf(text, sizeof text, "rehearse %s --rig " RIG " --out none --no-sound", library);
    run = tool_run(text);
    assert_int_equal(run.exit_code, 2);
    assert_non_null(strstr(run.err, "hills; name one by its id, for example "));
    tool_run_free(&run);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_lists_and_checks_as_the_folder),
        cmocka_unit_test(verify_says_what_it_could),
        cmocka_unit_test(packed_again_it_is_the_same),
        cmocka_unit_test(a_drive_hears_the_same_of_both),
        cmocka_unit_test(a_hill_of_it_is_named_by_its_id),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
