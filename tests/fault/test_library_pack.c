/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Packing over a library that is in use, while the disk is full, the sync fails, or the packer is
 * killed: what was there stays there, byte for byte, and a later packing succeeds. */
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include "io/file.h"
#include "support/cm.h"
#include "support/library_rig.h"
#include "talkdown/rng.h"

enum { OLD = 3, NEW = 40 };

static struct rig_hill hills[NEW];
static char path[64];
static char *old_bytes, *new_bytes;
static size_t old_length, new_length;

/* The program's own fsync: what the writer of the last step calls before the rename. */
static enum { SYNCS, SYNC_FAILS, SYNC_KILLS } at_sync;

int fsync(int fd)
{
    if (at_sync == SYNC_KILLS)
        (void)raise(SIGKILL);
    if (at_sync == SYNC_FAILS) {
        errno = EIO;
        return -1;
    }
    return fdatasync(fd);
}

static char *bytes_of(size_t *length)
{
    char *bytes = NULL;
    struct td_problem problem;
    if (td_file_read(path, 1 << 24, &bytes, length, &problem) != TD_OK)
        fail_msg("%s: %s", problem.file, problem.text);
    return bytes;
}

static int set_up(void **state)
{
    (void)state;
    for (unsigned i = 0; i < NEW; i++)
        hills[i].index = i;
    (void)rig_folder();
    (void)snprintf(path, sizeof path, "%s", rig_in("a.hills"));
    rig_pack(path, hills, NEW);
    new_bytes = bytes_of(&new_length);
    rig_pack(path, hills, OLD);
    old_bytes = bytes_of(&old_length);
    (void)signal(SIGXFSZ, SIG_IGN);
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    free(old_bytes);
    free(new_bytes);
    rig_remove_folder();
    return 0;
}

static void assert_is(const char *bytes, size_t length)
{
    size_t is_length = 0;
    char *is = bytes_of(&is_length);
    assert_int_equal(is_length, length);
    assert_memory_equal(is, bytes, length);
    free(is);
    struct td_library_file *library = rig_open(path);
    td_library_file_close(&library);
}

static enum td_result pack_capped(rlim_t most, struct td_problem *problem)
{
    struct rlimit before, capped;
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &before), 0);
    capped = before;
    capped.rlim_cur = most;
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &capped), 0);
    enum td_result result = rig_try_pack(path, hills, NEW, problem);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &before), 0);
    return result;
}

/* The cap cuts a write in two: the first part is written, the next is refused. */
static void a_full_disk_changes_nothing(void **state)
{
    (void)state;
    struct td_rng rng;
    size_t refused = 0;
    td_rng_seed(&rng, 4, 1);
    for (size_t cap = 0; cap < new_length; cap += 1 + td_rng_below(&rng, 40000)) {
        struct td_problem problem = {0};
        enum td_result result = pack_capped(cap, &problem);
        if (result != TD_IO || strstr(problem.text, "cannot write the library") == NULL)
            fail_msg("%zu bytes of %zu: result %d: %s", cap, new_length, (int)result, problem.text);
        assert_string_equal(problem.file, path);
        assert_is(old_bytes, old_length);
        assert_int_equal(rig_file_count(), 1);
        refused++;
    }
    assert_true(refused > 10);
}

static void a_failing_sync_changes_nothing(void **state)
{
    (void)state;
    struct td_problem problem = {0};
    at_sync = SYNC_FAILS;
    enum td_result result = rig_try_pack(path, hills, NEW, &problem);
    at_sync = SYNCS;
    assert_int_equal(result, TD_IO);
    assert_non_null(strstr(problem.text, "cannot write it: Input/output error"));
    assert_is(old_bytes, old_length);
    assert_int_equal(rig_file_count(), 1);
}

struct point {
    size_t adds; /* hills taken in before the end; NEW and more: it comes while finishing */
    size_t told;
};

static size_t told_count;

static void kill_when_told(void *whom, size_t done, size_t total)
{
    const struct point *point = whom;
    (void)done, (void)total;
    if (++told_count > point->told)
        (void)raise(SIGKILL);
}

/* In a child: packs and dies at the point. */
static void pack_and_die(const struct point *point)
{
    struct td_library_pack *pack = NULL;
    struct td_library_made made;
    if (td_library_pack_begin(path, true, &pack, NULL) != TD_OK)
        _exit(9);
    for (size_t i = 0; i < NEW; i++) {
        size_t length = 0;
        struct td_hill_file *file = NULL;
        char *text = rig_text(&hills[i], &length);
        if (i == point->adds)
            (void)raise(SIGKILL);
        if (td_hill_file_parse("hill", text, length, &file, NULL) != TD_OK ||
            td_library_pack_add(pack, file, "hill", NULL) != TD_OK)
            _exit(9);
        td_hill_file_free(&file);
        free(text);
    }
    struct point mine = *point;
    bool done = td_library_pack_finish(&pack, kill_when_told, &mine, &made, NULL) == TD_OK;
    _exit(done ? 8 : 9);
}

static void killed_at(const struct point *point)
{
    size_t before = rig_file_count();
    pid_t child = fork();
    if (child == 0)
        pack_and_die(point);
    int status = 0;
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFSIGNALED(status) && WTERMSIG(status) == SIGKILL);
    assert_is(old_bytes, old_length);
    /* One unfinished file stays behind, as docs/formats.md says. */
    assert_true(rig_file_count() <= before + 1);
}

static void killed_at_any_point_it_leaves_the_old_one(void **state)
{
    (void)state;
    for (size_t adds = 0; adds < NEW; adds += 13)
        killed_at(&(struct point){adds, 0});
    for (size_t told = 0; told < 2; told++) /* it is told every 64 hills and at the end */
        killed_at(&(struct point){NEW, told});
    at_sync = SYNC_KILLS; /* the file is written, and not yet in its place */
    killed_at(&(struct point){NEW, 1000});
    at_sync = SYNCS;
    rig_pack(path, hills, NEW);
    assert_is(new_bytes, new_length);
    rig_pack(path, hills, OLD);
}

/* A folder that nothing may be written to, or that is not there. */
static void no_place_to_write_is_told(void **state)
{
    (void)state;
    struct td_library_pack *pack = NULL;
    struct td_problem problem = {0};
    assert_int_equal(td_library_pack_begin("no/such/folder/a.hills", true, &pack, &problem),
                     TD_NOT_FOUND);
    assert_string_equal(problem.file, "no/such/folder/a.hills");
    assert_null(pack);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_full_disk_changes_nothing),
        cmocka_unit_test(a_failing_sync_changes_nothing),
        cmocka_unit_test(killed_at_any_point_it_leaves_the_old_one),
        cmocka_unit_test(no_place_to_write_is_told),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
