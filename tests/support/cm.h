/* SPDX-License-Identifier: GPL-3.0-or-later */
/* cmocka with what it needs included first, and the few helpers every test uses. */
#ifndef TD_TESTS_CM_H
#define TD_TESTS_CM_H

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

/* cmocka 1.1.5 compares floats only; this one compares doubles and prints both. */
#define assert_near(actual, expected, tolerance)                                                   \
    do {                                                                                           \
        double near_a_ = (actual), near_e_ = (expected), near_t_ = (tolerance);                    \
        if (!(fabs(near_a_ - near_e_) <= near_t_))                                                 \
            fail_msg("%s is %.9g, expected %.9g within %.3g", #actual, near_a_, near_e_, near_t_); \
    } while (0)

#endif
