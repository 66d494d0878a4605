/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The I/O thread of the daemon where a key is trusted: what it starts with, what it takes and
 * refuses under way, and what is left to a truck whose library on disk is bad. */
#include "daemon/library.h"

#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "io/library_sign.h"
#include "support/cm.h"
#include "support/library_rig.h"
#include "support/sign.h"

enum { WAIT_MS = 20000, FLEET = 1, OTHER = 2 };

static const struct rig_hill hills[] = {{1, 0, 0}, {2, 0, 0}, {3, 0, 0}};
static char path[128], last_good[128];
static struct td_library_source source;
static struct td_library *library;
enum { TOLD_MAX = 8 };
static struct td_answer told[TOLD_MAX]; /* ends of looking through that came between */
static size_t told_count;

static struct td_trust trust_of(unsigned char seed)
{
    char text[SIGN_TEXT_MAX];
    struct td_trust trust;
    (void)sign_public_key(seed, text);
    assert_int_equal(td_trust_parse("key", text, strlen(text), &trust, NULL), TD_OK);
    return trust;
}

static int start(void **state)
{
    (void)state;
    (void)rig_folder();
    (void)snprintf(path, sizeof path, "%s", rig_in("fleet.hills"));
    (void)snprintf(last_good, sizeof last_good, "%s", rig_in("state.hills"));
    source = (struct td_library_source){path, last_good, trust_of(FLEET)};
    return 0;
}

static int stop(void **state)
{
    (void)state;
    td_library_stop(&library);
    rig_remove_folder();
    return 0;
}

/* A new library in the place of the old one, signed by that key; 0 by nobody. */
static void put(size_t count, unsigned revision, unsigned char seed)
{
    struct td_problem problem = {0};
    rig_pack_revision(path, hills, count, revision);
    if (seed == 0)
        return;
    char text[SIGN_TEXT_MAX];
    struct td_voucher voucher;
    struct td_trust trust = trust_of(seed);
    struct td_library_file *file = rig_open(path);
    const char *manifest = td_library_file_manifest(file);
    (void)sign_message(seed, manifest, strlen(manifest), 1, "country", text);
    td_library_file_close(&file);
    if (td_library_attach(path, "s", text, strlen(text), &trust, &voucher, &problem) != TD_OK)
        fail_msg("%s: %s", problem.file, problem.text);
}

static struct td_library_begun begin(void)
{
    struct td_library_begun begun;
    struct td_problem problem = {0};
    td_library_stop(&library);
    told_count = 0;
    if (td_library_start(&source, &library, &begun, &problem) != TD_OK)
        fail_msg("%s: %s", problem.file, problem.text);
    return begun;
}

static struct td_answer any(void)
{
    struct td_answer answer;
    struct pollfd wait = {.fd = td_library_fd(library), .events = POLLIN};
    while (!td_library_take(library, &answer))
        assert_int_equal(poll(&wait, 1, WAIT_MS), 1);
    return answer;
}

/* What was asked for; that the library in use was verified may come between. */
static struct td_answer next(void)
{
    for (;;) {
        struct td_answer answer = any();
        if (answer.kind != TD_ANSWER_VERIFIED)
            return answer;
        assert_true(told_count < TOLD_MAX);
        told[told_count++] = answer;
    }
}

/* The next end of looking through a library; nothing else may be under way. */
static struct td_answer verified(void)
{
    struct td_answer answer = told_count > 0 ? told[0] : any();
    assert_int_equal(answer.kind, TD_ANSWER_VERIFIED);
    if (told_count > 0)
        memmove(told, told + 1, --told_count * sizeof told[0]);
    return answer;
}

static void is_whole(void)
{
    struct td_answer answer = verified();
    if (answer.result != TD_OK)
        fail_msg("%s: %s", answer.problem.file, answer.problem.text);
    assert_int_equal(answer.on_board.verified, TD_VERIFIED_WHOLE);
    assert_false(answer.fell_back);
}

static struct td_answer reload(void)
{
    assert_true(td_library_reload(library, path, 3));
    struct td_answer answer = next();
    assert_int_equal(answer.kind, TD_ANSWER_SHELF);
    return answer;
}

static void refuses(const char *words)
{
    struct td_answer answer = reload();
    if (answer.result == TD_OK || strstr(answer.problem.text, words) == NULL)
        fail_msg("result %d: \"%s\" lacks \"%s\"", (int)answer.result, answer.problem.text, words);
}

/* Hills found at the first one's place: the truck still has them. */
static uint32_t handle; /* of the last of them */

static size_t found(void)
{
    struct td_hill_file *file = NULL;
    size_t length = 0, count = 0;
    char *text = rig_text(&hills[0], &length);
    assert_int_equal(td_hill_file_parse("h", text, length, &file, NULL), TD_OK);
    const struct td_station *at = &td_hill_file_hill(file)->stations[0];
    const struct td_want want = {1, at->lat_deg, at->lon_deg, 3000};
    assert_true(td_library_want(library, 1, &want));
    struct td_answer answer;
    while ((answer = next()).offer.kind == TD_OFFER_HILL) {
        handle = answer.offer.handle;
        count++;
    }
    assert_int_equal(answer.offer.kind, TD_OFFER_END);
    td_hill_file_free(&file);
    free(text);
    return count;
}

static void a_signed_one_is_taken_and_kept(void **state)
{
    (void)state;
    put(2, 7, FLEET);
    struct td_library_begun begun = begin();
    assert_false(begun.refused);
    assert_int_equal(begun.on_board.hills, 2);
    assert_int_equal(begun.on_board.revision, 7);
    assert_string_equal(begun.on_board.key_id, "0101010101010101");
    assert_int_equal(begun.on_board.verified, TD_VERIFIED_NOT_YET);
    is_whole();
    assert_int_equal(access(last_good, R_OK), 0);
    assert_int_not_equal(access(rig_in("state.hills.new"), F_OK), 0);
    assert_int_equal(found(), 1);
    put(3, 8, FLEET);
    struct td_answer answer = reload();
    assert_int_equal(answer.result, TD_OK);
    assert_int_equal(answer.on_board.hills, 3);
    assert_int_equal(answer.on_board.revision, 8);
    /* The same again, and the same revision packed anew, are no step back. */
    assert_int_equal(reload().result, TD_OK);
    assert_int_equal(found(), 1);
}

static void under_way_bad_ones_leave_the_last_good_one(void **state)
{
    (void)state;
    put(3, 8, FLEET);
    (void)begin();
    put(3, 9, 0);
    refuses("is unsigned, and a key is trusted");
    put(3, 9, OTHER);
    refuses("which is not trusted");
    put(3, 7, FLEET);
    refuses("is revision 7, older than revision 8 in use");
    put(3, 9, FLEET);
    rig_alter(path, "UPDATE meta SET value = replace(value, 'revision 9', 'revision 10')");
    refuses("does not fit");
    put(3, 9, FLEET);
    rig_alter(path, "PRAGMA user_version=1");
    refuses("older than version 2");
    put(3, 9, FLEET);
    assert_int_equal(truncate(path, 20000), 0);
    refuses("cut short");
    assert_int_equal(unlink(path), 0);
    refuses("cannot find the hills");
    assert_int_equal(found(), 1);
    put(2, 9, FLEET);
    assert_int_equal(reload().on_board.hills, 2);
}

/* After a bad update and a cut of power the next start has the last good library, and says so. */
static void at_the_start_the_last_good_one_takes_its_place(void **state)
{
    (void)state;
    put(3, 8, FLEET);
    (void)begin();
    is_whole();
    put(2, 9, OTHER);
    struct td_library_begun begun = begin();
    assert_true(begun.refused);
    assert_non_null(strstr(begun.why.text, "which is not trusted"));
    assert_int_equal(begun.on_board.hills, 3);
    assert_int_equal(begun.on_board.revision, 8);
    assert_int_equal(found(), 1);
    /* An older one put back on disk is noticed after a restart too. */
    put(2, 7, FLEET);
    begun = begin();
    assert_true(begun.refused);
    assert_non_null(strstr(begun.why.text, "is revision 7, older than revision 8 in use"));
    assert_int_equal(begun.on_board.hills, 3);
    assert_int_equal(unlink(path), 0);
    begun = begin();
    assert_true(begun.refused && begun.on_board.hills == 3);
    /* A good one ends it. */
    put(2, 8, FLEET);
    begun = begin();
    assert_true(!begun.refused && begun.on_board.hills == 2);
    is_whole();
    /* The last good one itself altered: not trusted either. */
    rig_alter(last_good, "DELETE FROM meta WHERE key = 'signature'");
    put(2, 9, OTHER);
    begun = begin();
    assert_true(begun.refused && begun.on_board.hills == 0);
}

static void without_a_last_good_one_there_are_no_hills(void **state)
{
    (void)state;
    put(3, 1, 0);
    struct td_library_begun begun = begin();
    assert_true(begun.refused);
    assert_int_equal(begun.on_board.hills, 0);
    assert_string_equal(begun.on_board.key_id, "");
    assert_int_equal(found(), 0);
    put(3, 1, FLEET);
    struct td_answer answer = reload();
    assert_true(answer.result == TD_OK && answer.on_board.hills == 3);
    is_whole();
    assert_int_equal(found(), 1);
    /* No file at all is a slip in the settings, and told as such. */
    td_library_stop(&library);
    assert_int_equal(unlink(path), 0);
    assert_int_equal(unlink(last_good), 0);
    struct td_problem problem = {0};
    assert_int_equal(td_library_start(&source, &library, &begun, &problem), TD_NOT_FOUND);
}

/* What opening cannot see, and no search either: a box taken out of the index. */
static const char box_out[] = "DELETE FROM road WHERE piece = 2 << 13 | 3";

/* A copy that went wrong is taken, since opening looks at little; the one before takes its place as
 * soon as that is seen, and the hill that the truck is on stays the very same in its hand. */
static void a_damaged_one_gives_way_to_the_last_good_one(void **state)
{
    (void)state;
    put(3, 8, FLEET);
    (void)begin();
    is_whole();
    put(3, 9, FLEET);
    rig_alter(path, box_out);
    assert_int_equal(reload().on_board.revision, 9);
    assert_int_equal(found(), 1);
    uint32_t in_hand = handle;
    struct td_answer answer = verified();
    assert_int_equal(answer.result, TD_INVALID);
    assert_non_null(strstr(answer.problem.text, "leads a search astray"));
    assert_true(answer.fell_back);
    assert_int_equal(answer.on_board.revision, 8);
    assert_int_equal(found(), 1);
    assert_int_equal(handle, in_hand);
    is_whole(); /* the one fallen back to is looked through as well */
    /* At the next start it is the same again, and a whole one ends it. */
    (void)begin();
    assert_true(verified().fell_back);
    put(2, 9, FLEET);
    assert_int_equal(reload().on_board.revision, 9);
    is_whole();
}

static void without_another_the_damaged_one_stays_and_is_told(void **state)
{
    (void)state;
    put(3, 8, FLEET);
    rig_alter(path, box_out);
    (void)begin();
    struct td_answer answer = verified();
    assert_int_equal(answer.result, TD_INVALID);
    assert_false(answer.fell_back);
    assert_int_equal(answer.on_board.verified, TD_VERIFIED_DAMAGED);
    assert_int_equal(answer.on_board.hills, 3);
    assert_int_equal(found(), 1);
    assert_int_not_equal(access(last_good, F_OK), 0); /* it is no good one */
}

/* Verified once and damaged on the disk since: no way round in circles. */
static void a_last_good_one_that_went_bad_stays_and_is_told(void **state)
{
    (void)state;
    put(3, 8, FLEET);
    (void)begin();
    is_whole();
    td_library_stop(&library);
    rig_alter(last_good, box_out);
    assert_false(begin().refused); /* the same file by another name */
    assert_false(verified().fell_back);
    put(3, 9, OTHER);
    assert_true(begin().refused);
    assert_false(verified().fell_back);
    assert_int_equal(found(), 1);
}

/* Power was cut before a new library was looked through: it counts all the same. */
static void one_not_yet_verified_is_kept_over_a_restart(void **state)
{
    (void)state;
    put(3, 8, FLEET);
    (void)begin();
    is_whole();
    td_library_stop(&library);
    put(2, 9, FLEET);
    assert_int_equal(link(path, rig_in("state.hills.new")), 0);
    put(3, 8, FLEET);
    struct td_library_begun begun = begin();
    assert_true(begun.refused && begun.on_board.hills == 2);
    assert_non_null(strstr(begun.why.text, "is revision 8, older than revision 9 in use"));
    is_whole();
    assert_int_not_equal(access(rig_in("state.hills.new"), F_OK), 0);
}

/* Without a key nothing is asked, nothing is kept, and an older one is somebody's wish. */
static void without_a_key_all_is_as_it_was(void **state)
{
    (void)state;
    source.trust.count = 0;
    put(3, 8, OTHER);
    struct td_library_begun begun = begin();
    assert_true(!begun.refused && begun.on_board.hills == 3);
    assert_string_equal(begun.on_board.key_id, "");
    assert_int_not_equal(access(last_good, F_OK), 0);
    put(2, 7, 0);
    assert_int_equal(reload().on_board.hills, 2);
}

#define TRUST_TEST(f) cmocka_unit_test_setup_teardown(f, start, stop)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TRUST_TEST(a_signed_one_is_taken_and_kept),
        TRUST_TEST(under_way_bad_ones_leave_the_last_good_one),
        TRUST_TEST(at_the_start_the_last_good_one_takes_its_place),
        TRUST_TEST(without_a_last_good_one_there_are_no_hills),
        TRUST_TEST(a_damaged_one_gives_way_to_the_last_good_one),
        TRUST_TEST(without_another_the_damaged_one_stays_and_is_told),
        TRUST_TEST(a_last_good_one_that_went_bad_stays_and_is_told),
        TRUST_TEST(one_not_yet_verified_is_kept_over_a_restart),
        TRUST_TEST(without_a_key_all_is_as_it_was),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
