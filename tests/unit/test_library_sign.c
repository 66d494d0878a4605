/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A library and its signature: attached, checked, and refused whatever was done to either. */
#include "io/library_sign.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "io/file.h"
#include "io/shelf.h"
#include "support/cm.h"
#include "support/library_rig.h"
#include "support/sign.h"

static const struct rig_hill hills[] = {{1, 0, 0}, {2, 0, 0}, {3, 0, 0}};
static char path[128];
static struct td_trust fleet;

static struct td_trust trust_of(unsigned char seed)
{
    char text[SIGN_TEXT_MAX];
    struct td_trust trust;
    (void)sign_public_key(seed, text);
    assert_int_equal(td_trust_parse("key", text, strlen(text), &trust, NULL), TD_OK);
    return trust;
}

/* Signs the manifest of `of` with that key and attaches it to the library at `to`. */
static enum td_result attach(const char *of, const char *to, unsigned char seed,
                             const struct td_trust *trust, struct td_problem *problem)
{
    char text[SIGN_TEXT_MAX];
    struct td_voucher voucher;
    struct td_library_file *library = rig_open(of);
    const char *manifest = td_library_file_manifest(library);
    (void)sign_message(seed, manifest, strlen(manifest), 1, "country", text);
    td_library_file_close(&library);
    enum td_result result =
        td_library_attach(to, "f.minisig", text, strlen(text), trust, &voucher, problem);
    if (result == TD_OK)
        assert_string_equal(voucher.comment, "country");
    return result;
}

static int start(void **state)
{
    (void)state;
    (void)rig_folder();
    (void)snprintf(path, sizeof path, "%s", rig_in("fleet.hills"));
    rig_pack(path, hills, 3);
    fleet = trust_of(1);
    return 0;
}

static int stop(void **state)
{
    (void)state;
    rig_remove_folder();
    return 0;
}

static void trusted(const char *name)
{
    struct td_shelf *shelf = NULL;
    struct td_problem problem = {0};
    if (td_shelf_open_trusted(name, &fleet, &shelf, &problem) != TD_OK)
        fail_msg("%s: %s", problem.file, problem.text);
    assert_int_equal(td_shelf_count(shelf), 3);
    assert_string_equal(td_shelf_about(shelf).key_id, "0101010101010101");
    assert_string_equal(td_shelf_about(shelf).comment, "country");
    td_shelf_close(&shelf);
}

static void refused(const char *name, const char *words)
{
    struct td_shelf *shelf = NULL;
    struct td_problem problem = {0};
    enum td_result result = td_shelf_open_trusted(name, &fleet, &shelf, &problem);
    if (result == TD_OK || strstr(problem.text, words) == NULL)
        fail_msg("%s: result %d: \"%s\" lacks \"%s\"", name, (int)result, problem.text, words);
    assert_null(shelf);
    assert_string_equal(problem.file, name);
}

static void attached_it_is_trusted(void **state)
{
    (void)state;
    struct td_problem problem = {0};
    size_t before = rig_file_count();
    refused(path, "is unsigned, and a key is trusted");
    if (attach(path, path, 1, &fleet, &problem) != TD_OK)
        fail_msg("%s: %s", problem.file, problem.text);
    assert_int_equal(rig_file_count(), before); /* nothing stays behind */
    trusted(path);
    /* Its hills are read as before, and it is whole by every check there is. */
    struct td_library_file *library = rig_open(path);
    assert_non_null(td_library_file_signature(library));
    for (size_t i = 0; i < 3; i++)
        assert_int_equal(td_library_file_check(library, i, &problem), TD_OK);
    td_library_file_close(&library);
    /* A second signature takes the place of the first. */
    struct td_trust other = trust_of(2);
    assert_int_equal(attach(path, path, 2, &other, &problem), TD_OK);
    refused(path, "is signed with the key 0202020202020202, which is not trusted; a signature by "
                  "0101010101010101 is needed");
    assert_int_equal(attach(path, path, 1, &fleet, &problem), TD_OK);
    trusted(path);
}

static void one_that_does_not_fit_is_not_attached(void **state)
{
    (void)state;
    struct td_problem problem = {0};
    struct td_trust other = trust_of(2);
    const char *second = rig_in("second.hills");
    rig_pack(second, hills, 2);
    assert_int_equal(attach(second, path, 1, &fleet, &problem), TD_INVALID);
    assert_non_null(strstr(problem.text, "does not fit"));
    assert_string_equal(problem.file, "f.minisig");
    assert_int_equal(attach(path, path, 1, &other, &problem), TD_INVALID);
    assert_non_null(strstr(problem.text, "which is not trusted"));
    refused(path, "is unsigned");
    struct td_voucher voucher;
    assert_int_equal(td_library_attach(path, "f", "nonsense", 8, &fleet, &voucher, &problem),
                     TD_INVALID);
    assert_int_equal(
        td_library_attach(rig_in("none.hills"), "f", "nonsense", 8, &fleet, &voucher, &problem),
        TD_INVALID);
}

/* Whoever alters a signed library without the secret key is found out, whichever part it is. */
static void altered_it_is_refused(void **state)
{
    (void)state;
    static const struct {
        const char *sql, *words;
    } cases[] = {
        {"DELETE FROM meta WHERE key = 'signature'", "is unsigned, and a key is trusted"},
        {"UPDATE meta SET value = replace(value, 'revision 0', 'revision 9')", "does not fit"},
        {"UPDATE meta SET value = replace(value, 'country', 'county')", "comment was altered"},
        {"UPDATE meta SET value = '' WHERE key = 'signature'", "it lacks lines"},
        {"UPDATE meta SET value = 'x' || value WHERE key = 'signature'", "is no signature"},
        {"UPDATE meta SET value = CAST(zeroblob(9000) AS TEXT) WHERE key = 'signature'", ""},
        {"UPDATE block SET hash = zeroblob(32)", "its manifest is not that of its hills"},
        {"UPDATE meta SET value = replace(value, 'hills 3', 'hills 2')",
         "its manifest is not that of its hills"},
        {"PRAGMA user_version=1", "older than version 2"},
        {"PRAGMA user_version=3", "newer than version 2"},
    };
    struct td_problem problem = {0};
    assert_int_equal(attach(path, path, 1, &fleet, &problem), TD_OK);
    size_t length = 0;
    char *bytes = NULL;
    assert_int_equal(td_file_read(path, 1 << 24, &bytes, &length, NULL), TD_OK);
    const char *name = rig_in("altered.hills");
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        assert_int_equal(td_file_write(name, bytes, length, true, NULL), TD_OK);
        trusted(name);
        rig_alter(name, cases[i].sql);
        refused(name, cases[i].words);
    }
    for (size_t cut = 1; cut < length; cut = cut * 3 + 4000) {
        assert_int_equal(td_file_write(name, bytes, length - cut, true, NULL), TD_OK);
        refused(name, length - cut < 100 ? "is no library" : "cut short");
    }
    free(bytes);
}

/* A signature over the manifest does not mend a hill that no longer hashes to it. */
static void an_altered_hill_of_a_signed_library_is_not_read(void **state)
{
    (void)state;
    struct td_problem problem = {0};
    struct td_shelf *shelf = NULL;
    struct td_hill_file *file = NULL;
    assert_int_equal(attach(path, path, 1, &fleet, &problem), TD_OK);
    rig_alter(path, "UPDATE profile SET bytes = CAST(replace(CAST(bytes AS TEXT), '-', '- ') AS "
                    "BLOB) WHERE number = 2");
    assert_int_equal(td_shelf_open_trusted(path, &fleet, &shelf, &problem), TD_OK);
    assert_int_equal(td_shelf_read(shelf, 0, &file, &problem), TD_OK);
    td_hill_file_free(&file);
    assert_int_equal(td_shelf_read(shelf, 1, &file, &problem), TD_INVALID);
    assert_null(file);
    assert_non_null(strstr(problem.text, "is not as it was packed"));
    td_shelf_close(&shelf);
}

static void profiles_are_signed_by_nobody(void **state)
{
    (void)state;
    refused(TD_SOURCE_DIR "/profiles/hills", "profiles are signed by nobody");
    refused(TD_SOURCE_DIR "/profiles/hills/ombral-pass.geojson", "profiles are signed by nobody");
    refused(rig_in("none"), "cannot find the hills");
    struct td_shelf *shelf = NULL;
    struct td_trust nobody = {.count = 0};
    assert_int_equal(td_shelf_open_trusted(TD_SOURCE_DIR "/profiles/hills", &nobody, &shelf, NULL),
                     TD_OK);
    assert_null(td_shelf_about(shelf).key_id);
    td_shelf_close(&shelf);
}

/* The same library and signature make the same bytes: a build can be compared. */
static void signed_again_it_is_the_same(void **state)
{
    (void)state;
    struct td_problem problem = {0};
    size_t length[2] = {0, 0};
    char *bytes[2] = {NULL, NULL};
    for (int i = 0; i < 2; i++) {
        rig_pack(path, hills, 3);
        assert_int_equal(attach(path, path, 1, &fleet, &problem), TD_OK);
        assert_int_equal(td_file_read(path, 1 << 24, &bytes[i], &length[i], NULL), TD_OK);
    }
    assert_int_equal(length[0], length[1]);
    assert_memory_equal(bytes[0], bytes[1], length[0]);
    free(bytes[0]);
    free(bytes[1]);
}

#define SIGN_TEST(f) cmocka_unit_test_setup_teardown(f, start, stop)

int main(void)
{
    const struct CMUnitTest tests[] = {
        SIGN_TEST(attached_it_is_trusted),
        SIGN_TEST(one_that_does_not_fit_is_not_attached),
        SIGN_TEST(altered_it_is_refused),
        SIGN_TEST(an_altered_hill_of_a_signed_library_is_not_read),
        SIGN_TEST(profiles_are_signed_by_nobody),
        SIGN_TEST(signed_again_it_is_the_same),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
