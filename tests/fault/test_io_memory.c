/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every allocation of every loader fails once, those inside the libraries included: the loader says
 * that there is no memory, leaves its out-parameter alone and leaks nothing.
 *
 * malloc and its kin are replaced for the whole program, over glibc's own names for them; a
 * sanitizer has replaced them already, so there the test is skipped. */
#include "support/cm.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "io/csv.h"
#include "io/file.h"
#include "io/hill_edit.h"
#include "io/hill_file.h"
#include "io/hill_write.h"
#include "io/library_pack.h"
#include "io/problem.h"
#include "io/rig_file.h"
#include "io/settings.h"
#include "io/shelf.h"
#include "io/track.h"

#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
#define REPLACED 0
#elif defined(__has_feature)
#if __has_feature(address_sanitizer) || __has_feature(thread_sanitizer)
#define REPLACED 0
#endif
#endif
#ifndef REPLACED
#define REPLACED 1
#endif

static long fail_at;     /* 0: none fails */
static long asked, live; /* since armed */

#if REPLACED
void *__libc_malloc(size_t size);
void *__libc_calloc(size_t count, size_t size);
void *__libc_realloc(void *old, size_t size);
void __libc_free(void *old);

static int fails(void)
{
    return fail_at > 0 && ++asked == fail_at;
}

void *malloc(size_t size)
{
    void *made = fails() ? NULL : __libc_malloc(size);
    live += made != NULL;
    return made;
}

void *calloc(size_t count, size_t size)
{
    void *made = fails() ? NULL : __libc_calloc(count, size);
    live += made != NULL;
    return made;
}

void *realloc(void *old, size_t size)
{
    void *made = fails() ? NULL : __libc_realloc(old, size);
    live += made != NULL && old == NULL;
    return made;
}

void free(void *old)
{
    live -= old != NULL;
    __libc_free(old);
}
#endif

static char *hill_text, *rig_text, *settings_text, *gpx_text, *tpv_text;
static size_t hill_length, rig_length, settings_length, gpx_length, tpv_length;

static void read_text(const char *path, char **text, size_t *length)
{
    struct td_problem problem;
    if (td_file_read(path, 1 << 20, text, length, &problem) != TD_OK)
        fail_msg("%s: %s", path, problem.text);
}

static enum td_result load_hill(struct td_problem *problem)
{
    struct td_hill_file *file = NULL;
    enum td_result result = td_hill_file_parse("f", hill_text, hill_length, &file, problem);
    if ((result == TD_OK) != (file != NULL))
        abort();
    td_hill_file_free(&file);
    return result;
}

static enum td_result load_rig(struct td_problem *problem)
{
    struct td_rig rig = {0};
    enum td_result result = td_rig_file_parse("f", rig_text, rig_length, &rig, problem);
    if (result != TD_OK && rig.gear_count != 0)
        abort();
    return result;
}

static enum td_result load_based_rig(struct td_problem *problem)
{
    struct td_rig rig = {0};
    enum td_result result =
        td_rig_file_read(TD_SOURCE_DIR "/profiles/rigs/five-axle-empty.yaml", &rig, problem);
    if (result != TD_OK && rig.gear_count != 0)
        abort();
    return result;
}

static enum td_result load_settings(struct td_problem *problem)
{
    struct td_settings settings = {0};
    return td_settings_parse("f", settings_text, settings_length, &settings, problem);
}

static enum td_result load_gpx(struct td_problem *problem)
{
    struct td_track track = {0};
    enum td_result result = td_track_parse("f", gpx_text, gpx_length, true, &track, problem);
    td_track_free(&track);
    return result;
}

static enum td_result load_tpv(struct td_problem *problem)
{
    struct td_track track = {0};
    enum td_result result = td_track_parse("f", tpv_text, tpv_length, true, &track, problem);
    td_track_free(&track);
    return result;
}

static enum td_result load_shelf(struct td_problem *problem)
{
    struct td_shelf *shelf = NULL;
    enum td_result result =
        td_shelf_open(TD_SOURCE_DIR "/tests/unit/data/hill.geojson", &shelf, problem);
    if ((result == TD_OK) != (shelf != NULL))
        abort();
    td_shelf_close(&shelf);
    return result;
}

static char library_path[32] = "memory-XXXXXX";

/* Everything that a library is asked for, on one of a single hill. */
static enum td_result load_library(struct td_problem *problem)
{
    struct td_shelf *shelf = NULL;
    struct td_hill_file *file = NULL;
    size_t index = 9, found = 0;
    enum td_result result = td_shelf_open(library_path, &shelf, problem);
    if ((result == TD_OK) != (shelf != NULL))
        abort();
    if (result == TD_OK)
        result = td_shelf_near(shelf, -47.1, -128.9, 6000, &index, 1, &found, problem);
    if (result == TD_OK && (found != 1 || index != 0))
        abort();
    if (result == TD_OK)
        result = td_shelf_read(shelf, index, &file, problem);
    td_hill_file_free(&file);
    td_shelf_close(&shelf);
    return result;
}

static enum td_result pack_library(struct td_problem *problem)
{
    struct td_hill_file *file = NULL;
    struct td_library_pack *pack = NULL;
    struct td_library_made made;
    enum td_result result =
        td_hill_file_read(TD_SOURCE_DIR "/tests/unit/data/hill.geojson", &file, problem);
    if (result == TD_OK)
        result = td_library_pack_begin(library_path, true, &pack, problem);
    if (result == TD_OK)
        result = td_library_pack_add(pack, file, "hill.geojson", problem);
    if (result == TD_OK)
        result = td_library_pack_finish(&pack, NULL, NULL, &made, problem);
    td_library_pack_abandon(&pack);
    td_hill_file_free(&file);
    return result;
}

static enum td_result write_hill(struct td_problem *problem)
{
    static const struct td_station stations[2] = {{.lat_deg = -47}, {.lat_deg = -47.001}};
    static const struct td_hill hill = {.stations = stations, .station_count = 2};
    char *bytes = NULL;
    size_t length = 0;
    static size_t whole; /* as written without a fault */
    enum td_result result = td_hill_write_text(&hill, "a", "A", "s", &bytes, &length, problem);
    whole = whole == 0 ? length : whole;
    if (result == TD_OK && length != whole)
        abort();
    free(bytes);
    return result;
}

static enum td_result read_csv(struct td_problem *problem)
{
    static const char text[] = "role,along\r\nstop,1 mi\r\nnote,\"2 mi\"\r\n";
    struct td_csv csv = {.count = 0};
    enum td_result result = td_csv_parse("t.csv", text, sizeof text - 1, &csv, problem);
    if (result == TD_OK && csv.count != 2)
        abort();
    td_csv_free(&csv);
    return result;
}

/* A place moved, one added, one taken off: the text is changed or the edit says that it failed. */
static enum td_result edit_hill(struct td_problem *problem)
{
    struct td_hill_edit edit;
    struct td_hill_file *file = NULL;
    td_hill_edit_begin(&edit, hill_text, hill_length);
    td_hill_edit_move(&edit, 2, -47.1, -128.88, 1520);
    td_hill_edit_set(&edit, 2, TD_IN_PROPERTIES, "id", "\"moved\"");
    td_hill_edit_append(&edit, "{\"type\": \"Feature\", \"properties\": {\"role\": \"stop\"}, "
                               "\"geometry\": {\"type\": \"Point\", \"coordinates\": "
                               "[-128.88, -47.1]}}");
    td_hill_edit_remove(&edit, 3);
    enum td_result result =
        edit.failed ? td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "no memory to change it")
                    : td_hill_file_parse("h", edit.bytes, edit.length, &file, problem);
    if (result == TD_OK && strstr(edit.bytes, "\"id\": \"moved\"") == NULL)
        abort();
    td_hill_edit_free(&edit);
    td_hill_file_free(&file);
    return result;
}

enum library { OURS = 0, JANSSON = 1 << 0, SQLITE = 1 << 1 };

/* Fails the first allocation, then the second, and so on until all were asked for. */
static void each_fails_once(enum td_result (*load)(struct td_problem *), unsigned libraries)
{
    struct td_problem problem = {0};
    enum td_result result = load(&problem); /* what a library keeps for ever, it has now */
    if (result != TD_OK)
        fail_msg("without a fault: %s", problem.text);
    long count = 0;
    do {
        problem = (struct td_problem){0};
        live = asked = 0;
        /* SQLite asks thousands of times; past its opening every fifth will do. */
        fail_at = count += (libraries & SQLITE) != 0 && count > 500 ? 5 : 1;
        result = load(&problem);
        long seen = asked, left = live;
        fail_at = 0;
        if (left != 0)
            fail_msg("allocation %ld of it failed and %ld stayed behind", count, left);
        if (seen < count) {
            assert_int_equal(result, TD_OK);
            break;
        }
        if ((libraries & SQLITE) != 0 && result == TD_OK)
            continue; /* it can do without some: a larger hash table, a cached page */
        if ((libraries & JANSSON) != 0 && result == TD_INVALID)
            continue; /* its scanner takes some failures for a syntax error; refused all the same */
        if (result != TD_NO_MEMORY)
            fail_msg("allocation %ld of it failed: result %d: %s", count, (int)result,
                     problem.text);
        assert_non_null(strstr(problem.text, "no memory"));
    } while (count < 100000);
    print_message("%ld allocations\n", asked);
    assert_true(count > 1);
}

static void hill(void **state) { (void)state, each_fails_once(load_hill, JANSSON); }
static void rig(void **state) { (void)state, each_fails_once(load_rig, OURS); }
static void based_rig(void **state) { (void)state, each_fails_once(load_based_rig, OURS); }
static void settings(void **state) { (void)state, each_fails_once(load_settings, OURS); }
static void gpx(void **state) { (void)state, each_fails_once(load_gpx, OURS); }
static void tpv(void **state) { (void)state, each_fails_once(load_tpv, JANSSON); }
static void shelf(void **state) { (void)state, each_fails_once(load_shelf, JANSSON); }
static void packed(void **state) { (void)state, each_fails_once(pack_library, JANSSON | SQLITE); }
static void library(void **state) { (void)state, each_fails_once(load_library, JANSSON | SQLITE); }
static void written(void **state) { (void)state, each_fails_once(write_hill, OURS); }

static void csv(void **state) { (void)state, each_fails_once(read_csv, OURS); }
static void edited(void **state) { (void)state, each_fails_once(edit_hill, JANSSON); }

static int read_all(void **state)
{
    (void)state;
    static const char tests[] = TD_SOURCE_DIR "/tests/";
    char path[512];
    const struct {
        const char *name;
        char **text;
        size_t *length;
    } files[] = {
        {"unit/data/hill.geojson", &hill_text, &hill_length},
        {"unit/data/rig.yaml", &rig_text, &rig_length},
        {"fuzz/corpus/yaml/settings.yaml", &settings_text, &settings_length},
        {"fuzz/corpus/track/small.gpx", &gpx_text, &gpx_length},
        {"fuzz/corpus/track/small.tpv.json", &tpv_text, &tpv_length},
    };
    int made = mkstemp(library_path);
    if (made < 0 || close(made) != 0)
        return -1;
    for (size_t i = 0; i < sizeof files / sizeof files[0]; i++) {
        (void)snprintf(path, sizeof path, "%s%s", tests, files[i].name);
        read_text(path, files[i].text, files[i].length);
    }
    return 0;
}

static int free_all(void **state)
{
    (void)state;
    (void)unlink(library_path);
    free(hill_text);
    free(rig_text);
    free(settings_text);
    free(gpx_text);
    free(tpv_text);
    return 0;
}

int main(void)
{
    if (!REPLACED) {
        (void)printf("SKIPPED: a sanitizer holds malloc\n");
        return 77;
    }
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hill), cmocka_unit_test(rig), cmocka_unit_test(settings),
        cmocka_unit_test(based_rig),
        cmocka_unit_test(gpx),  cmocka_unit_test(tpv), cmocka_unit_test(shelf),
        cmocka_unit_test(written), cmocka_unit_test(packed), cmocka_unit_test(library),
        cmocka_unit_test(csv),  cmocka_unit_test(edited),
    };
    return cmocka_run_group_tests(tests, read_all, free_all);
}
