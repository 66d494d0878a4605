/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The first hundred bytes of a library, looked at before SQLite is (its file format, section 1.3,
 * sqlite.org/fileformat.html): whatever is no library, or not a whole one, is told in our words. */
#ifndef TD_IO_LIBRARY_HEADER_H
#define TD_IO_LIBRARY_HEADER_H

#include "talkdown/result.h"

TD_CHECKED enum td_result td_library_header_check(const char *path, struct td_problem *problem);

#endif
