/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A library verified in small steps: a whole one passes, and every way to make a hill wrong or
 * unfindable is found. Beside ours stands SQLite's own check of an R*Tree, rtreecheck(), wherever
 * it can see the damage. */
#include "io/library_audit.h"

#include <sqlite3.h>
#include <stdlib.h>
#include <string.h>

#include "io/file.h"
#include "support/cm.h"
#include "support/library_rig.h"

/* Enough for an index of two floors: 167 boxes fit into a node. */
enum { HILLS = 24 };

static const char *path;
static char *packed; /* the library's bytes as they were packed */
static size_t packed_bytes;
static struct rig_hill hills[HILLS];

static int pack(void **state)
{
    (void)state;
    for (unsigned i = 0; i < HILLS; i++)
        hills[i].index = i;
    (void)rig_folder();
    path = rig_in("fleet.hills");
    rig_pack(path, hills, HILLS);
    return td_file_read(path, 1 << 24, &packed, &packed_bytes, NULL) == TD_OK ? 0 : -1;
}

static int drop(void **state)
{
    (void)state;
    rig_remove_folder();
    free(packed);
    return 0;
}

static enum td_result audit(enum td_library_audit_parts parts, unsigned *steps,
                            struct td_problem *problem)
{
    struct td_library_file *library = rig_open(path);
    struct td_library_audit *going = NULL;
    bool done = false;
    assert_int_equal(td_library_audit_open(library, parts, &going, problem), TD_OK);
    enum td_result result = TD_OK;
    for (*steps = 0; result == TD_OK && !done; ++*steps)
        result = td_library_audit_step(going, &done, problem);
    td_library_audit_close(&going);
    td_library_file_close(&library);
    return result;
}

/* One number that SQLite answers. */
static int64_t ask(const char *sql)
{
    sqlite3 *db = NULL;
    sqlite3_stmt *s = NULL;
    assert_int_equal(sqlite3_open_v2(path, &db, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(db, sql, -1, &s, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(s), SQLITE_ROW);
    int64_t answer = sqlite3_column_int64(s, 0);
    (void)sqlite3_finalize(s);
    (void)sqlite3_close(db);
    return answer;
}

static bool sqlite_finds_the_tree_whole(void)
{
    return ask("SELECT rtreecheck('road') = 'ok'") == 1;
}

static void a_whole_one_passes(void **state)
{
    (void)state;
    unsigned steps = 0, of_index = 0;
    struct td_problem problem = {0};
    assert_true(sqlite_finds_the_tree_whole());
    assert_true(ask("SELECT count(*) FROM road_node") > 2);
    assert_int_equal(audit(TD_AUDIT_ALL, &steps, &problem), TD_OK);
    assert_int_equal(audit(TD_AUDIT_INDEX, &of_index, &problem), TD_OK);
    /* Each node, its parent once more for each child and at its end; each hill; the blocks. */
    assert_int_equal(steps, of_index + HILLS + 2);
    assert_int_equal(of_index, 2 * ask("SELECT count(*) FROM road_node"));
}

static void finds(const char *sql, const char *words, bool sqlite_too, bool index_alone)
{
    unsigned steps = 0;
    struct td_problem problem = {0}, index = {0};
    assert_int_equal(td_file_write(path, packed, packed_bytes, true, NULL), TD_OK);
    rig_alter(path, sql);
    if (audit(TD_AUDIT_ALL, &steps, &problem) != TD_INVALID ||
        strstr(problem.text, words) == NULL)
        fail_msg("%s: \"%s\" lacks \"%s\"", sql, problem.text, words);
    assert_int_equal(audit(TD_AUDIT_INDEX, &steps, &index), index_alone ? TD_INVALID : TD_OK);
    assert_int_equal(sqlite_finds_the_tree_whole(), !sqlite_too);
}

static void a_box_taken_out_or_altered_is_found(void **state)
{
    (void)state;
    const char *astray = "its index leads a search astray";
    finds("DELETE FROM road WHERE piece = 5 << 13 | 2", astray, false, true);
    finds("INSERT INTO road VALUES(99 << 13, 1, 2, 3, 4)", astray, false, true);
    finds("UPDATE road SET piece = 99 << 13 WHERE piece = 5 << 13 | 2",
          "would not be found all along its road", false, false);
    finds("UPDATE road SET north_deg = north_deg + 0.001 WHERE piece = 7 << 13",
          "would not be found all along its road", false, false);
}

/* What no look-up by number shows: the way down from the root. */
static void a_way_down_that_misses_is_found(void **state)
{
    (void)state;
    const char *astray = "its index leads a search astray";
    /* The first child's box, 24 bytes from byte 4 on, of which the last 16: made one point. */
    finds("UPDATE road_node SET data = CAST(substr(data, 1, 12) || substr(data, 13, 4) || "
          "substr(data, 13, 4) || substr(data, 21) AS BLOB) WHERE nodeno = 1",
          astray, true, true);
    /* The first child's number: the second child twice. */
    finds("UPDATE road_node SET data = CAST(substr(data, 1, 4) || substr(data, 29, 8) || "
          "substr(data, 13) AS BLOB) WHERE nodeno = 1",
          astray, true, true);
    finds("UPDATE road_rowid SET nodeno = 1 WHERE rowid = 5 << 13 | 2", astray, true, true);
    finds("UPDATE road_node SET data = substr(data, 1, 3) WHERE nodeno = 2", astray, true, true);
    finds("DELETE FROM road_node WHERE nodeno = 2", astray, true, true);
    /* The first child is the root itself: round in circles. */
    finds("UPDATE road_node SET data = CAST(substr(data, 1, 4) || x'0000000000000001' || "
          "substr(data, 13) AS BLOB) WHERE nodeno = 1",
          astray, true, true);
    /* A tree that claims to be as high as none can be. */
    finds("UPDATE road_node SET data = CAST(x'ffff' || substr(data, 3) AS BLOB) WHERE nodeno = 1",
          astray, true, true);
}

static void an_altered_hill_is_found_and_named(void **state)
{
    (void)state;
    finds("UPDATE profile SET bytes = CAST(replace(CAST(bytes AS TEXT), 'elevation', 'elevatiom') "
          "|| ' ' AS BLOB) WHERE number = 3",
          "is not as it was packed", false, false);
    finds("UPDATE hill SET hash = zeroblob(32) WHERE number = 3", "is not as it was packed", false,
          false);
    finds("UPDATE hill SET leaf = zeroblob(32) WHERE number = 3",
          "would not be found all along its road", false, false);
    finds("UPDATE hill SET id = 'another' WHERE number = 3",
          "\"another\" would not be found all along its road", false, false);
    finds("UPDATE hill SET hash = (SELECT hash FROM hill WHERE number = 4), leaf = (SELECT leaf "
          "FROM hill WHERE number = 4) WHERE number = 3",
          "is not as it was packed", false, false);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_whole_one_passes),
        cmocka_unit_test(a_box_taken_out_or_altered_is_found),
        cmocka_unit_test(a_way_down_that_misses_is_found),
        cmocka_unit_test(an_altered_hill_is_found_and_named),
    };
    return cmocka_run_group_tests(tests, pack, drop);
}
