/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/cm.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "io/file.h"
#include "io/problem.h"

static char folder[64];

static const char *in_folder(const char *name)
{
    static char path[128];
    (void)snprintf(path, sizeof path, "%s/%s", folder, name);
    return path;
}

static int make_folder(void **state)
{
    (void)state;
    (void)snprintf(folder, sizeof folder, "file-test.XXXXXX");
    return mkdtemp(folder) == NULL ? -1 : 0;
}

static int remove_folder(void **state)
{
    (void)state;
    (void)unlink(in_folder("a"));
    return rmdir(folder); /* fails when a temporary file stayed behind */
}

static mode_t mode_of(const char *name)
{
    struct stat about;
    assert_int_equal(stat(in_folder(name), &about), 0);
    return about.st_mode & 07777;
}

/* Whatever the umask, wider or tighter. */
static void private_files_are_of_owner_and_group(void **state)
{
    (void)state;
    static const mode_t masks[] = {0, 022, 077};
    (void)unlink(in_folder("a")); /* of the test before */
    struct td_problem problem;
    for (size_t i = 0; i < sizeof masks / sizeof masks[0]; i++) {
        mode_t before = umask(masks[i]);
        assert_int_equal(td_file_write_private(in_folder("a"), "x", 1, false, &problem), TD_OK);
        assert_int_equal(mode_of("a"), 0640);
        /* One that was open to all is closed when it is replaced. */
        assert_int_equal(chmod(in_folder("a"), 0666), 0);
        assert_int_equal(td_file_write_private(in_folder("a"), "y", 1, true, &problem), TD_OK);
        assert_int_equal(mode_of("a"), 0640);
        int fd = -1;
        assert_int_equal(td_file_create_private(in_folder("a"), &fd, &problem), TD_INVALID);
        assert_int_equal(unlink(in_folder("a")), 0);
        assert_int_equal(td_file_create_private(in_folder("a"), &fd, &problem), TD_OK);
        assert_int_equal(close(fd), 0);
        assert_int_equal(mode_of("a"), 0640);
        assert_int_equal(unlink(in_folder("a")), 0);
        (void)umask(before);
    }
    int fd = -1;
    assert_int_equal(td_file_create_private(in_folder("none/a"), &fd, &problem), TD_NOT_FOUND);
}

static void writes_whole_and_reads_back(void **state)
{
    (void)state;
    struct td_problem problem;
    assert_int_equal(td_file_write(in_folder("a"), "one\0two", 7, false, &problem), TD_OK);
    char *bytes = NULL;
    size_t length = 0;
    assert_int_equal(td_file_read(in_folder("a"), 7, &bytes, &length, &problem), TD_OK);
    assert_int_equal(length, 7);
    assert_memory_equal(bytes, "one\0two\0", 8);
    free(bytes);
    assert_int_equal(td_file_read(in_folder("a"), 6, &bytes, &length, &problem), TD_INVALID);
    assert_non_null(strstr(problem.text, "larger than 6 bytes"));
}

static void leaves_an_existing_file_alone(void **state)
{
    (void)state;
    struct td_problem problem;
    assert_int_equal(td_file_write(in_folder("a"), "new", 3, false, &problem), TD_INVALID);
    char *bytes = NULL;
    size_t length = 0;
    assert_int_equal(td_file_read(in_folder("a"), 99, &bytes, &length, &problem), TD_OK);
    assert_int_equal(length, 7);
    free(bytes);
    assert_int_equal(td_file_write(in_folder("a"), "new", 3, true, &problem), TD_OK);
    assert_int_equal(td_file_read(in_folder("a"), 99, &bytes, &length, &problem), TD_OK);
    assert_string_equal(bytes, "new");
    free(bytes);
}

static void says_why_it_cannot(void **state)
{
    (void)state;
    struct td_problem problem;
    char *bytes = NULL;
    size_t length = 0;
    assert_int_equal(td_file_read(in_folder("none"), 9, &bytes, &length, &problem), TD_NOT_FOUND);
    assert_string_equal(problem.file, in_folder("none"));
    assert_int_equal(td_file_read(folder, 9, &bytes, &length, &problem), TD_INVALID);
    assert_non_null(strstr(problem.text, "is a folder"));
    assert_int_equal(td_file_write(in_folder("no/such"), "x", 1, true, &problem), TD_NOT_FOUND);
    assert_null(bytes);
}

static void a_problem_is_one_line(void **state)
{
    (void)state;
    struct td_problem problem;
    assert_int_equal(td_problem_set(&problem, TD_INVALID, "a.yaml", 3, "key \"%s\"", "x\ny\x1b"),
                     TD_INVALID);
    char line[64];
    assert_string_equal(td_problem_line(&problem, line, sizeof line), "a.yaml:3: key \"x?y?\"");
    assert_int_equal(td_problem_set(NULL, TD_FULL, NULL, 0, "x"), TD_FULL);
    (void)td_problem_set(&problem, TD_INVALID, NULL, 0, "bare");
    assert_string_equal(td_problem_line(&problem, line, sizeof line), "bare");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(writes_whole_and_reads_back),
        cmocka_unit_test(leaves_an_existing_file_alone),
        cmocka_unit_test(says_why_it_cannot),
        cmocka_unit_test(a_problem_is_one_line),
        cmocka_unit_test(private_files_are_of_owner_and_group),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
