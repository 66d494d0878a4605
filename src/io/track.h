/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Recorded tracks: GPX (expat, streaming); gpsd JSON, one TPV object a line; the first line of a
 * GeoJSON file, for a road out of a GIS; and what a receiver sent (NMEA), through gpsd's own
 * decoder as a child process. The format is told by the content, not the name. libgps is not used
 * here: a recording is plain JSON. */
#ifndef TD_IO_TRACK_H
#define TD_IO_TRACK_H

#include <stddef.h>

#include "talkdown/fix.h"
#include "talkdown/result.h"

enum { TD_TRACK_FIXES_MAX = 2000000, TD_TRACK_BYTES_MAX = 512 * 1024 * 1024 };

struct td_track {
    struct td_fix *fixes; /* in file order; received_ns = utc from the first fix on, when timed */
    size_t count;
    bool timed;           /* every fix has a time that does not run backwards */
    size_t refused;       /* points that td_fix_is_sane refused */
};

/* Derives speed and track of fixes that lack them from their neighbours only when `derive`.
 * td_track_parse does not read NMEA: the decoder wants a file.
 * TD_INVALID names file and line: empty, not whole, no known format, no usable point. TD_FULL
 * beyond the counts above. TD_NOT_FOUND: no such file, or no decoder. Free with td_track_free. */
TD_CHECKED enum td_result td_track_read(const char *path, bool derive, struct td_track *track,
                                        struct td_problem *problem);
TD_CHECKED enum td_result td_track_parse(const char *name, const char *bytes, size_t length,
                                         bool derive, struct td_track *track,
                                         struct td_problem *problem);
void td_track_free(struct td_track *track); /* accepts a zeroed track */

#endif
