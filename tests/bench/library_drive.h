/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The coach driven over hills of a library, with all that it asks for on the way. */
#ifndef TD_TESTS_LIBRARY_DRIVE_H
#define TD_TESTS_LIBRARY_DRIVE_H

#include <stdbool.h>
#include <stddef.h>

#include "talkdown/result.h"

struct drive_cost {
    size_t fixes, wants, offers, recognised;
    /* Mean processor time of a fix: the step of the coach, and the searches and readings it asked
     * for. Plans are left out: they are solved once a hill, whatever the library. */
    double fix_us;
};

/* Down the roads of the first ten hills, which every library of ocean hills has. False with the
 * problem. */
bool drive_library(const char *path, struct drive_cost *cost, struct td_problem *problem);

#endif
