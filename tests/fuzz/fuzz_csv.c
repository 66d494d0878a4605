/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Any bytes as a table of comma-separated values: rows of whole cells in lines that go on, or one
 * clear line. */
#include "fuzz/fuzz.h"

#include "io/csv.h"

static void check(const struct td_csv *csv, size_t size)
{
    int line = 0;
    size_t letters = 0;
    MUST(csv->columns >= 1 && csv->columns <= TD_CSV_COLUMNS_MAX);
    for (size_t i = 0; i < csv->count; i++) {
        MUST(csv->rows[i].line > line);
        line = csv->rows[i].line;
        size_t filled = 0;
        for (size_t k = 0; k < csv->columns; k++)
            filled += strlen(csv->rows[i].cells[k]);
        MUST(filled > 0);
        letters += filled;
    }
    MUST(letters <= size);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct td_csv csv = {.count = 0};
    struct td_problem problem = {0};
    enum td_result result = td_csv_parse("fuzz", (const char *)data, size, &csv, &problem);
    if (result == TD_OK)
        check(&csv, size);
    else
        must_be_clear(result, &problem, "fuzz");
    td_csv_free(&csv);
    return 0;
}
