/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Output that grows as it is made, to a file or to standard output: in its place whole, or not at
 * all. */
#ifndef TD_TOOL_OUT_FILE_H
#define TD_TOOL_OUT_FILE_H

#include <stdbool.h>
#include <stdio.h>

#include "talkdown/result.h"

struct td_out_file {
    FILE *to; /* write here */
    const char *path; /* NULL: standard output */
    bool replace;
    char *temporary;
};

/* TD_INVALID when the file is there and is not to be replaced; TD_IO, TD_NO_MEMORY. */
TD_CHECKED enum td_result td_out_file_open(struct td_out_file *out, const char *path, bool replace,
                                           struct td_problem *problem);
/* To be called once after an opening, well or not. With `made` other than TD_OK nothing is left
 * behind and that is returned; else whether all could be written. */
TD_CHECKED enum td_result td_out_file_close(struct td_out_file *out, enum td_result made,
                                            struct td_problem *problem);

#endif
