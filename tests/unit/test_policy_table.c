/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The table of hills and rigs in docs/physics.md is what the code gives: what was read there as a
 * driver would is what drivers get. */
#include <stdlib.h>
#include <string.h>

#include "io/file.h"
#include "support/cm.h"
#include "support/policy_table.h"

#define BEGINS "compared by unit.policy_table -->\n\n"
#define ENDS   "\n\n<!-- policy table ends -->"

static void the_manual_has_this_very_table(void **state)
{
    (void)state;
    char *manual = NULL, *table = NULL;
    size_t length = 0, table_length = 0;
    assert_int_equal(
        td_file_read(TD_SOURCE_DIR "/docs/physics.md", 1 << 20, &manual, &length, NULL), TD_OK);
    FILE *to = open_memstream(&table, &table_length);
    assert_non_null(to);
    assert_true(policy_table_write(TD_SOURCE_DIR "/profiles", to));
    assert_int_equal(fclose(to), 0);
    const char *begins = strstr(manual, BEGINS);
    assert_non_null(begins);
    begins += strlen(BEGINS);
    const char *ends = strstr(begins, ENDS);
    assert_non_null(ends);
    size_t cells = 0;
    for (size_t i = 0; i < table_length; i++)
        cells += table[i] == '|';
    assert_true(cells > 3 * 18 * 7);
    const char *was = begins, *is = table;
    for (int line = 1; was < ends; line++) {
        size_t was_length = strcspn(was, "\n"), is_length = strcspn(is, "\n");
        if (was_length != is_length || memcmp(was, is, was_length) != 0)
            fail_msg("line %d of the table has\n%.*s\nand the code gives\n%.*s", line,
                     (int)was_length, was, (int)is_length, is);
        was += was_length + 1;
        is += is_length + 1;
    }
    free(manual);
    free(table);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(the_manual_has_this_very_table)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
