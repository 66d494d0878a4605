/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/cm.h"

#include "talkdown/result.h"

static void every_result_has_its_own_name(void **state)
{
    (void)state;
    for (int a = TD_OK; a <= TD_UNSUPPORTED; a++)
        for (int b = a + 1; b <= TD_UNSUPPORTED; b++)
            assert_string_not_equal(td_result_name((enum td_result)a),
                                    td_result_name((enum td_result)b));
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(every_result_has_its_own_name)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
