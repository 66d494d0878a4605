/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Marks come back as they were set; what is wrong in a file is told with its line. */
#include "io/marks.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "io/file.h"
#include "support/cm.h"

static const char *tells(void *who, uint32_t serial)
{
    (void)who;
    return serial == 7 ? "at 12.0 s: \"Third gear now.\"" : "";
}

static void marks_come_back_as_they_were_set(void **state)
{
    (void)state;
    char folder[] = "marks-test.XXXXXX", path[64];
    struct td_marks marks = {0}, read;
    struct td_problem problem = {0};
    struct stat about;
    assert_non_null(mkdtemp(folder));
    (void)snprintf(path, sizeof path, "%s/d.marks.yaml", folder);
    assert_int_equal(td_marks_read(path, &read, &problem), TD_NOT_FOUND);
    static const char note[] = "said \"left\": C:\\ # no";
    assert_int_equal(td_marks_set(&marks, 9, TD_MARK_WRONG, note, NULL), TD_OK);
    assert_int_equal(td_marks_set(&marks, 7, TD_MARK_LATE, "", NULL), TD_OK);
    assert_int_equal(td_marks_set(&marks, 3, TD_MARK_EARLY, "", NULL), TD_OK);
    assert_int_equal(td_marks_set(&marks, 9, TD_MARK_RIGHT, note, NULL), TD_OK);
    td_marks_remove(&marks, 3);
    td_marks_remove(&marks, 4);
    (void)umask(0);
    assert_int_equal(td_marks_write(path, &marks, tells, NULL, &problem), TD_OK);
    assert_int_equal(stat(path, &about), 0);
    assert_int_equal(about.st_mode & 07777, 0640);
    if (td_marks_read(path, &read, &problem) != TD_OK)
        fail_msg("%d: %s", problem.line, problem.text);
    assert_int_equal(read.count, 2);
    assert_null(td_marks_find(&read, 3));
    assert_int_equal(td_marks_find(&read, 7)->kind, TD_MARK_LATE);
    assert_int_equal(td_marks_find(&read, 9)->kind, TD_MARK_RIGHT);
    assert_string_equal(td_marks_find(&read, 9)->note, note);
    td_marks_free(&read);
    /* None left is a file too. */
    td_marks_remove(&marks, 7);
    td_marks_remove(&marks, 9);
    assert_int_equal(td_marks_write(path, &marks, tells, NULL, &problem), TD_OK);
    assert_int_equal(td_marks_read(path, &read, &problem), TD_OK);
    assert_int_equal(read.count, 0);
    td_marks_free(&marks);
    assert_int_equal(unlink(path), 0);
    assert_int_equal(rmdir(folder), 0);
}

static void names_the_line_and_the_cure(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        int line;
        const char *says;
    } rows[] = {
        {"marks:\n  - serial: 3\n    mark: bad\n", 3, "one of right, late, early, wrong"},
        {"marks:\n  - serial: 3\n    mark: late\n  - serial: 3\n    mark: early\n", 4,
         "marked twice"},
        {"marks:\n  - serial: zero\n    mark: late\n", 2, "marks[0].serial"},
        {"marks:\n  - serial: 0\n    mark: late\n", 2, "from 1 to"},
        {"marks:\n  - mark: late\n", 2, "serial"},
        {"marks:\n  - serial: 3\n", 2, "mark"},
        {"marks:\n  - serial: 3\n    mark: late\n    hint: x\n", 4, "unknown key \"hint\""},
        {"mark: []\n", 1, "unknown key \"mark\""},
        {"", 0, "a file of marks begins with marks:"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct td_marks marks;
        struct td_problem problem = {0};
        assert_int_equal(td_marks_parse("m", rows[i].text, strlen(rows[i].text), &marks, &problem),
                         TD_INVALID);
        assert_int_equal(marks.count, 0);
        if (problem.line != rows[i].line || strstr(problem.text, rows[i].says) == NULL)
            fail_msg("%s: line %d: %s", rows[i].text, problem.line, problem.text);
    }
}

static void marks_stand_beside_their_log(void **state)
{
    (void)state;
    char path[32];
    assert_int_equal(td_marks_path("a/drive.db", path, sizeof path, NULL), TD_OK);
    assert_string_equal(path, "a/drive.marks.yaml");
    assert_int_equal(td_marks_path("log", path, sizeof path, NULL), TD_OK);
    assert_string_equal(path, "log.marks.yaml");
    assert_int_equal(td_marks_path("a/very/long/path/to/a.db", path, sizeof path, NULL),
                     TD_INVALID);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(marks_come_back_as_they_were_set),
        cmocka_unit_test(names_the_line_and_the_cure),
        cmocka_unit_test(marks_stand_beside_their_log),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
