/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Libraries: what goes in comes out, the same hills make the same bytes, and whatever is altered,
 * cut short, foreign or newer is refused in one line that names the file. */
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "io/drive_schema.h"
#include "io/file.h"
#include "io/library_schema.h"
#include "io/shelf.h"
#include "support/cm.h"
#include "support/library_rig.h"

enum { HILLS = 72 }; /* a block of the manifest and a part of a second */

static struct rig_hill hills[HILLS];
static const char *path;
static char path_room[64];

static int set_up(void **state)
{
    (void)state;
    for (unsigned i = 0; i < HILLS; i++)
        hills[i].index = i;
    (void)rig_folder();
    (void)snprintf(path_room, sizeof path_room, "%s", rig_in("a.hills"));
    path = path_room;
    rig_pack(path, hills, HILLS);
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    rig_remove_folder();
    return 0;
}

static char *bytes_of(const char *name, size_t *length)
{
    char *bytes = NULL;
    struct td_problem problem;
    if (td_file_read(name, 1 << 24, &bytes, length, &problem) != TD_OK)
        fail_msg("%s: %s", problem.file, problem.text);
    return bytes;
}

/* The first place of the words among the bytes, NULL where there is none. */
static char *find(char *bytes, size_t length, const char *words)
{
    size_t size = strlen(words);
    for (size_t i = 0; i + size <= length; i++)
        if (memcmp(bytes + i, words, size) == 0)
            return bytes + i;
    return NULL;
}

static void put(const char *name, const char *bytes, size_t length)
{
    struct td_problem problem;
    assert_int_equal(td_file_write(name, bytes, length, true, &problem), TD_OK);
}

static void what_goes_in_comes_out(void **state)
{
    (void)state;
    struct td_library_file *library = rig_open(path);
    struct td_problem problem = {0};
    assert_int_equal(td_library_file_count(library), HILLS);
    for (size_t i = 0; i < HILLS; i++) {
        struct td_hill_file *file = NULL;
        struct td_hill_entry entry;
        size_t length = 0, packed = 0;
        char *text = rig_text(&hills[i], &length);
        assert_int_equal(td_library_file_read(library, i, &file, &problem), TD_OK);
        const char *bytes = td_hill_file_bytes(file, &packed);
        assert_int_equal(packed, length);
        assert_memory_equal(bytes, text, length);
        assert_int_equal(td_library_file_entry(library, i, &entry, &problem), TD_OK);
        assert_string_equal(entry.id, td_hill_file_hill(file)->id);
        assert_memory_equal(entry.hash, td_hill_file_hill(file)->hash, TD_HASH_BYTES);
        assert_true(entry.coached && entry.crest_m > 500 && entry.foot_m > entry.crest_m);
        if (i % 9 == 0)
            assert_int_equal(td_library_file_check(library, i, &problem), TD_OK);
        td_hill_file_free(&file);
        free(text);
    }
    struct td_hill_file *none = NULL;
    assert_int_equal(td_library_file_read(library, HILLS, &none, &problem), TD_NOT_FOUND);
    assert_null(none);
    td_library_file_close(&library);
    td_library_file_close(&library);
}

/* One that no rule of the format lets pass for coached keeps its blanks; a survey's date stays. */
static void a_list_tells_of_each_hill(void **state)
{
    (void)state;
    static const char text[] =
        "{\"type\":\"FeatureCollection\",\"features\":[{\"type\":\"Feature\",\"properties\":"
        "{\"role\":\"road\",\"id\":\"flat\",\"name\":\"Flat\",\"surveyed\":\"2031-05-17\","
        "\"revision\":3.0},"
        "\"geometry\":{\"type\":\"LineString\",\"coordinates\":"
        "[[179.999,-20,5],[-179.999,-20,5],[-179.997,-20,5]]}}]}";
    struct td_hill_file *file = NULL;
    struct td_library_pack *pack = NULL;
    struct td_library_made made;
    struct td_hill_entry entry;
    struct td_problem problem = {0};
    assert_int_equal(td_hill_file_parse("f", text, sizeof text - 1, &file, &problem), TD_OK);
    assert_int_equal(td_library_pack_begin(rig_in("flat.hills"), false, &pack, &problem), TD_OK);
    assert_int_equal(td_library_pack_add(pack, file, "f", &problem), TD_OK);
    assert_int_equal(td_library_pack_finish(&pack, NULL, NULL, &made, &problem), TD_OK);
    assert_true(made.hills == 1 && made.pieces == 1);
    struct stat about;
    assert_int_equal(stat(rig_in("flat.hills"), &about), 0);
    assert_int_equal(about.st_size, made.bytes);
    struct td_library_file *library = rig_open(rig_in("flat.hills"));
    assert_non_null(strstr(td_library_file_manifest(library), made.root));
    assert_int_equal(td_library_file_entry(library, 0, &entry, &problem), TD_OK);
    assert_string_equal(entry.surveyed, "2031-05-17");
    assert_int_equal(entry.revision, 3);
    assert_string_equal(entry.name, "Flat");
    assert_false(entry.coached);
    assert_near(entry.west_deg, 179.999, 1e-4);
    assert_near(entry.east_deg, 180.003, 1e-4);
    assert_int_equal(td_library_file_check(library, 0, &problem), TD_OK);
    td_library_file_close(&library);
    td_hill_file_free(&file);
}

static void the_same_hills_make_the_same_bytes(void **state)
{
    (void)state;
    struct rig_hill other[HILLS];
    for (size_t i = 0; i < HILLS; i++)
        other[i] = hills[(i * 77 + 5) % HILLS]; /* 77 and 72 have no common factor */
    size_t length = 0, other_length = 0;
    rig_pack(rig_in("b.hills"), other, HILLS);
    char *bytes = bytes_of(path, &length), *again = bytes_of(rig_in("b.hills"), &other_length);
    assert_int_equal(length, other_length);
    assert_memory_equal(bytes, again, length);
    free(bytes);
    free(again);
    rig_pack(rig_in("b.hills"), other, 5);
    again = bytes_of(rig_in("b.hills"), &other_length);
    bytes = bytes_of(path, &length);
    assert_true(other_length != length || memcmp(bytes, again, length) != 0);
    free(bytes);
    free(again);
}

static void one_id_is_one_hill(void **state)
{
    (void)state;
    const struct rig_hill twice[] = {{7, 0, 0}, {8, 0, 0}, {7, -40, -120}};
    struct td_problem problem = {0};
    size_t before = rig_file_count();
    assert_int_equal(rig_try_pack(rig_in("twice.hills"), twice, 3, &problem), TD_INVALID);
    assert_string_equal(problem.file, "hill 7");
    assert_string_equal(problem.text, "has the id \"ocean-000007\" of hill 7; give each hill an id "
                                      "of its own");
    assert_int_equal(rig_try_pack(rig_in("twice.hills"), NULL, 0, &problem), TD_INVALID);
    assert_non_null(strstr(problem.text, "no hill to put into it"));
    assert_int_equal(rig_file_count(), before);
}

static void an_existing_file_stays(void **state)
{
    (void)state;
    struct td_library_pack *pack = NULL;
    struct td_problem problem = {0};
    assert_int_equal(td_library_pack_begin(path, false, &pack, &problem), TD_INVALID);
    assert_null(pack);
    assert_non_null(strstr(problem.text, "is there already"));
    assert_int_equal(td_library_pack_begin(rig_in("none/a.hills"), false, &pack, &problem),
                     TD_NOT_FOUND);
    struct td_library_file *library = rig_open(path);
    td_library_file_close(&library);
}

/* A new one by rename leaves whoever has the old one open with the old one. */
static void replaced_while_open(void **state)
{
    (void)state;
    rig_pack(rig_in("r.hills"), hills, HILLS);
    struct td_library_file *library = rig_open(rig_in("r.hills"));
    rig_pack(rig_in("r.hills"), hills, 3);
    struct td_hill_file *file = NULL;
    struct td_problem problem = {0};
    assert_int_equal(td_library_file_read(library, HILLS - 1, &file, &problem), TD_OK);
    td_hill_file_free(&file);
    assert_int_equal(td_library_file_count(library), HILLS);
    td_library_file_close(&library);
    library = rig_open(rig_in("r.hills"));
    assert_int_equal(td_library_file_count(library), 3);
    td_library_file_close(&library);
}

/* --- refusals at opening --- */

static void refuse(const char *name, enum td_result result, const char *words)
{
    struct td_shelf *shelf = NULL;
    struct td_problem problem = {0};
    enum td_result is = td_shelf_open(name, &shelf, &problem);
    if (is != result || strstr(problem.text, words) == NULL)
        fail_msg("%s: result %d: \"%s\" lacks \"%s\"", name, (int)is, problem.text, words);
    assert_null(shelf);
    assert_string_equal(problem.file, name);
    assert_null(strchr(problem.text, '\n'));
}

static void refuse_altered(const char *sql, enum td_result result, const char *words)
{
    const char *name = rig_in("altered.hills");
    size_t length = 0;
    char *bytes = bytes_of(path, &length);
    put(name, bytes, length);
    free(bytes);
    rig_alter(name, sql);
    refuse(name, result, words);
}

static void what_is_no_library_is_refused(void **state)
{
    (void)state;
    refuse(rig_in("none.hills"), TD_NOT_FOUND, "cannot find the hills");
    put(rig_in("empty.hills"), "", 0);
    refuse(rig_in("empty.hills"), TD_INVALID, "is no library");
    put(rig_in("text.hills"), "this is no database at all, whatever its name says", 50);
    refuse(rig_in("text.hills"), TD_INVALID, "is no library");
    char sql[64];
    (void)snprintf(sql, sizeof sql, "PRAGMA application_id=%d", (int)TD_DRIVE_APPLICATION_ID);
    refuse_altered(sql, TD_INVALID, "database of another kind (application id 0x7464644c)");
    refuse_altered("PRAGMA application_id=0", TD_INVALID, "database of another kind");
    refuse_altered("PRAGMA user_version=3", TD_UNSUPPORTED,
                   "is a library of version 3, newer than version 2");
    refuse_altered("PRAGMA user_version=1", TD_UNSUPPORTED,
                   "is a library of version 1, older than version 2 that this talkdown reads; "
                   "pack it anew");
    refuse_altered("PRAGMA journal_mode=WAL", TD_INVALID, "header contradicts itself");
    refuse_altered("PRAGMA page_size=8192; VACUUM", TD_INVALID, "header contradicts itself");
}

static void a_library_cut_short_is_refused(void **state)
{
    (void)state;
    size_t length = 0;
    char *bytes = bytes_of(path, &length);
    const char *name = rig_in("cut.hills");
    for (size_t cut = 1; cut < length; cut = cut * 3 + (cut > 50 ? 4096u : 0u)) {
        put(name, bytes, length - cut);
        refuse(name, TD_INVALID, length - cut < 100 ? "is no library" : "cut short");
    }
    put(name, bytes, 60);
    refuse(name, TD_INVALID, "is no library");
    char *longer = realloc(bytes, length + 4096);
    assert_non_null(longer);
    memset(longer + length, 0, 4096);
    put(name, longer, length + 4096);
    refuse(name, TD_INVALID, "too long");
    free(longer);
}

static void altered_tables_and_manifests_are_refused(void **state)
{
    (void)state;
    static const char tables[] = "its tables are not those of a library";
    static const char manifest[] = "its manifest is not that of its hills";
    refuse_altered("CREATE VIEW v AS SELECT 1", TD_INVALID, tables);
    refuse_altered("CREATE TRIGGER t DELETE ON block BEGIN SELECT 1; END", TD_INVALID, tables);
    refuse_altered("CREATE TABLE zebra(a)", TD_INVALID, tables);
    refuse_altered("DROP TABLE block", TD_INVALID, tables);
    refuse_altered("ALTER TABLE hill ADD COLUMN more", TD_INVALID, tables);
    refuse_altered("DROP TABLE road; CREATE TABLE road(piece, south_deg, north_deg, west_deg,"
                   " east_deg)",
                   TD_INVALID, tables);
    refuse_altered("DELETE FROM meta", TD_INVALID, "it has no manifest");
    refuse_altered("UPDATE meta SET value = replace(value, 'hills 72', 'hills 73')", TD_INVALID,
                   manifest);
    refuse_altered("UPDATE meta SET value = value || 'more'", TD_INVALID, manifest);
    refuse_altered("UPDATE block SET hash = zeroblob(32) WHERE number = 1", TD_INVALID, manifest);
    refuse_altered("UPDATE block SET hash = zeroblob(31) WHERE number = 1", TD_INVALID,
                   "its manifest holds what is no hash");
    refuse_altered("DELETE FROM block WHERE number = 1", TD_INVALID, manifest);
    refuse_altered("DELETE FROM hill WHERE number = 72", TD_INVALID, "hills are missing");
    refuse_altered("DELETE FROM hill; DELETE FROM profile", TD_INVALID, "hills are missing");
}

/* --- refusals at reading --- */

static struct td_library_file *open_altered(const char *sql)
{
    const char *name = rig_in("altered.hills");
    size_t length = 0;
    char *bytes = bytes_of(path, &length);
    put(name, bytes, length);
    free(bytes);
    rig_alter(name, sql);
    return rig_open(name);
}

static void read_refused(const char *sql, size_t index, const char *words)
{
    struct td_library_file *library = open_altered(sql);
    struct td_hill_file *file = NULL;
    struct td_problem problem = {0};
    enum td_result result = td_library_file_read(library, index, &file, &problem);
    if (result != TD_INVALID || strstr(problem.text, words) == NULL)
        fail_msg("%s: result %d: \"%s\"", sql, (int)result, problem.text);
    assert_null(file);
    assert_string_equal(problem.file, rig_in("altered.hills"));
    td_library_file_close(&library);
}

#define OTHER_BYTES "replace(CAST(bytes AS TEXT), 'invented', 'inventeD')"

static void an_altered_hill_is_not_read(void **state)
{
    (void)state;
    static const char differs[] = "hill \"ocean-000070\" is not as it was packed: its hash differs";
    read_refused("UPDATE profile SET bytes = CAST(" OTHER_BYTES " AS BLOB) WHERE number = 71", 70,
                 differs);
    read_refused("UPDATE hill SET hash = zeroblob(32) WHERE number = 71", 70, differs);
    read_refused("UPDATE hill SET leaf = zeroblob(32) WHERE number = 71", 70, differs);
    /* Another hill of the library in its place, with its hash, and with its leaf too. */
    static const char swap[] =
        "UPDATE profile SET bytes = (SELECT bytes FROM profile WHERE number = 60) WHERE number = "
        "71; UPDATE hill SET hash = (SELECT hash FROM hill WHERE number = 60) WHERE number = 71;"
        "UPDATE hill SET leaf = (SELECT leaf FROM hill WHERE number = 60) WHERE number = 71";
    read_refused(swap, 70, differs);
    /* Nor a neighbour whose block no longer holds together, while other blocks do. */
    static const char gone[] = "UPDATE hill SET leaf = zeroblob(32) WHERE number = 68";
    read_refused(gone, 70, differs);
    struct td_library_file *library = open_altered(gone);
    struct td_hill_file *file = NULL;
    assert_int_equal(td_library_file_read(library, 63, &file, NULL), TD_OK);
    td_hill_file_free(&file);
    assert_int_equal(td_library_file_read(library, 0, &file, NULL), TD_OK);
    td_hill_file_free(&file);
    td_library_file_close(&library);
    read_refused("DELETE FROM hill WHERE number = 71", 70, "a hill is missing");
    read_refused("DELETE FROM profile WHERE number = 71", 70, "a hill is missing");
    read_refused("UPDATE profile SET bytes = '' WHERE number = 71", 70, "damaged");
}

/* One bit anywhere in the profiles: opening may miss it, reading never does. */
static void a_flipped_bit_in_a_profile_is_found(void **state)
{
    (void)state;
    size_t length = 0;
    char *bytes = bytes_of(path, &length);
    /* The list has the name as well, but not in JSON. */
    char *found = find(bytes, length, "\"Ocean grade 41\"");
    assert_non_null(found);
    char *digit = find(found, 400, ".");
    assert_non_null(digit);
    digit[2] ^= 1;
    put(rig_in("bit.hills"), bytes, length);
    free(bytes);
    struct td_library_file *library = rig_open(rig_in("bit.hills"));
    struct td_hill_file *file = NULL;
    struct td_problem problem = {0};
    assert_int_equal(td_library_file_read(library, 41, &file, &problem), TD_INVALID);
    assert_non_null(strstr(problem.text, "\"ocean-000041\" is not as it was packed"));
    assert_int_equal(td_library_file_read(library, 40, &file, &problem), TD_OK);
    td_hill_file_free(&file);
    td_library_file_close(&library);
}

static void check_finds_what_reading_cannot(void **state)
{
    (void)state;
    static const struct {
        const char *sql, *words;
    } cases[] = {
        {"UPDATE hill SET length_m = 5 WHERE number = 3", "is listed as what it is not"},
        {"UPDATE hill SET name = 'Else' WHERE number = 3", "is listed as what it is not"},
        {"UPDATE hill SET crest_m = NULL WHERE number = 3", "is listed as what it is not"},
        {"DELETE FROM road WHERE piece = (3 << 13) | 2", "the index differs"},
        {"DELETE FROM road WHERE piece = (SELECT max(piece) FROM road WHERE piece >> 13 = 3)",
         "the index differs"},
        {"UPDATE road SET north_deg = 80 WHERE piece = 3 << 13", "the index differs"},
        {"INSERT INTO road SELECT max(piece) + 1, 1, 2, 3, 4 FROM road WHERE piece >> 13 = 3",
         "the index differs"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct td_library_file *library = open_altered(cases[i].sql);
        struct td_problem problem = {0};
        assert_int_equal(td_library_file_check(library, 1, &problem), TD_OK);
        assert_int_equal(td_library_file_check(library, 2, &problem), TD_INVALID);
        if (strstr(problem.text, cases[i].words) == NULL)
            fail_msg("%s: %s", cases[i].sql, problem.text);
        td_library_file_close(&library);
    }
}

/* An index that names what is not there fails the search, not the program. */
static void an_index_gone_wrong_is_told(void **state)
{
    (void)state;
    struct td_library_file *library =
        open_altered("INSERT INTO road VALUES(999 << 13, -61, -60, -174, -173)");
    size_t indexes[4], found = 0;
    struct td_problem problem = {0};
    assert_int_equal(td_library_file_near(library, -60.5, -173.5, 6000, indexes, 4, &found,
                                          &problem),
                     TD_INVALID);
    assert_non_null(strstr(problem.text, "its index names a hill that it does not hold"));
    assert_int_equal(td_library_file_near(library, -50, -173.5, 6000, indexes, 4, &found, &problem),
                     TD_OK);
    td_library_file_close(&library);
}

/* Characters that mean something in a URI are just characters of a name. */
static void any_name_will_do(void **state)
{
    (void)state;
    rig_pack(rig_in("100% #1?x=y \xc3\xa4.hills"), hills, 2);
    struct td_library_file *library = rig_open(rig_in("100% #1?x=y \xc3\xa4.hills"));
    assert_int_equal(td_library_file_count(library), 2);
    td_library_file_close(&library);
    size_t length = 0;
    char *bytes = bytes_of(path, &length);
    put(rig_in("no-ending"), bytes, length);
    free(bytes);
    assert_true(td_library_file_is(rig_in("no-ending")));
    assert_false(td_library_file_is(rig_in("nothing-there")));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_goes_in_comes_out),
        cmocka_unit_test(a_list_tells_of_each_hill),
        cmocka_unit_test(the_same_hills_make_the_same_bytes),
        cmocka_unit_test(one_id_is_one_hill),
        cmocka_unit_test(an_existing_file_stays),
        cmocka_unit_test(replaced_while_open),
        cmocka_unit_test(what_is_no_library_is_refused),
        cmocka_unit_test(a_library_cut_short_is_refused),
        cmocka_unit_test(altered_tables_and_manifests_are_refused),
        cmocka_unit_test(an_altered_hill_is_not_read),
        cmocka_unit_test(a_flipped_bit_in_a_profile_is_found),
        cmocka_unit_test(check_finds_what_reading_cannot),
        cmocka_unit_test(an_index_gone_wrong_is_told),
        cmocka_unit_test(any_name_will_do),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
