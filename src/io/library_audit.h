/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Verifies an open library piece by piece, so that whoever has other things to do does them in
 * between: each step looks at one node of the index, at one hill, or at the hashes of the blocks.
 * Together they cover what the signature covers: every hill's bytes, every box under which it is
 * found, and that a search comes to each of them. Memory does not grow with the library.
 *
 * It does not look at what a list tells (td_library_file_check does), since nothing on the road
 * rests on that, and it computes no road, so that a step takes well under a millisecond of the
 * processor. Thread: that of the library. */
#ifndef TD_IO_LIBRARY_AUDIT_H
#define TD_IO_LIBRARY_AUDIT_H

#include <stdbool.h>

#include "io/library_file.h"

struct td_library_audit;

enum td_library_audit_parts { TD_AUDIT_INDEX = 1, TD_AUDIT_ALL = 3 };

/* The library stays the caller's and must outlive it. With TD_AUDIT_INDEX only the nodes of the
 * index are looked at. */
TD_CHECKED enum td_result td_library_audit_open(struct td_library_file *library,
                                                enum td_library_audit_parts parts,
                                                struct td_library_audit **out,
                                                struct td_problem *problem);
/* TD_OK: nothing wrong so far; *done once there is nothing left. TD_INVALID: damage, which
 * *problem names; TD_IO: it cannot be read. After both the audit is over. TD_NO_MEMORY: the same
 * step may be tried again. */
TD_CHECKED enum td_result td_library_audit_step(struct td_library_audit *audit, bool *done,
                                                struct td_problem *problem);
void td_library_audit_close(struct td_library_audit **audit); /* accepts NULL and *audit NULL */

#endif
