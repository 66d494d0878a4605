/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Tables as RFC 4180 has them and as spreadsheets save them. */
#include "support/cm.h"

#include <string.h>

#include "io/csv.h"

static struct td_csv read(const char *text)
{
    struct td_csv csv;
    struct td_problem problem = {0};
    if (td_csv_parse("t.csv", text, strlen(text), &csv, &problem) != TD_OK)
        fail_msg("%d: %s", problem.line, problem.text);
    return csv;
}

static void reads_rows_and_quotes(void **state)
{
    (void)state;
    struct td_csv csv = read("\xef\xbb\xbf" "role,name,say\r\n"
                             "stop,\"At the \"\"Gull\"\", left\",\r\n"
                             ",,\r\n"
                             " note , \"two\nlines\" ,x\n"
                             "\n"
                             "signal,last,");
    assert_int_equal(csv.columns, 3);
    assert_string_equal(csv.head[0], "role");
    assert_string_equal(csv.head[2], "say");
    assert_int_equal(csv.count, 3);
    assert_int_equal(csv.rows[0].line, 2);
    assert_string_equal(csv.rows[0].cells[1], "At the \"Gull\", left");
    assert_string_equal(csv.rows[0].cells[2], "");
    assert_int_equal(csv.rows[1].line, 4);
    assert_string_equal(csv.rows[1].cells[0], "note");
    assert_string_equal(csv.rows[1].cells[1], "two\nlines");
    assert_string_equal(csv.rows[1].cells[2], "x");
    assert_int_equal(csv.rows[2].line, 7); /* the quoted line end counts */
    assert_string_equal(csv.rows[2].cells[1], "last");
    td_csv_free(&csv);
}

static void one_column_is_a_table_too(void **state)
{
    (void)state;
    struct td_csv csv = read("id\nlower\nupper\n");
    assert_int_equal(csv.count, 2);
    assert_string_equal(csv.rows[1].cells[0], "upper");
    td_csv_free(&csv);
}

static void says_what_is_wrong_and_where(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        size_t length; /* 0: to the NUL */
        int line;
        const char *words;
    } rows[] = {
        {"", 0, 0, "is empty"},
        {"\n\n", 0, 0, "is empty"},
        {"role;id\nstop;a\n", 0, 1, "parted by semicolons"},
        {"role\tid\nstop\ta\n", 0, 1, "parted by semicolons"},
        {"role,id\nstop,a\nstop,b,c\n", 0, 3, "has 3 cells, but the head has 2"},
        {"role,id\n\nstop\n", 0, 3, "has 1 cells, but the head has 2"},
        {"role,id\nstop,\"a\n", 0, 2, "not closed"},
        {"role,id\nstop,\"a\"b\n", 0, 2, "text follows a closing quote"},
        {"role,id\nstop,5\" sign\n", 0, 2, "a quote stands inside a cell"},
        {"role,id\nst\0p,a\n", 15, 0, "NUL"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct td_csv csv = {.count = 77};
        struct td_problem problem = {0};
        size_t length = rows[i].length > 0 ? rows[i].length : strlen(rows[i].text);
        assert_int_equal(td_csv_parse("t.csv", rows[i].text, length, &csv, &problem), TD_INVALID);
        if (strstr(problem.text, rows[i].words) == NULL || problem.line != rows[i].line)
            fail_msg("%zu: line %d: %s", i, problem.line, problem.text);
        assert_string_equal(problem.file, "t.csv");
        assert_int_equal(csv.count, 77);
    }
    char wide[200];
    memset(wide, ',', sizeof wide);
    struct td_csv csv;
    struct td_problem problem = {0};
    assert_int_equal(td_csv_parse("t.csv", wide, sizeof wide, &csv, &problem), TD_INVALID);
    assert_non_null(strstr(problem.text, "over 64 columns"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_rows_and_quotes),
        cmocka_unit_test(one_column_is_a_table_too),
        cmocka_unit_test(says_what_is_wrong_and_where),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
