/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Between track.c and its two readers. */
#ifndef TD_IO_TRACK_PARTS_H
#define TD_IO_TRACK_PARTS_H

#include <stdbool.h>

#include "io/track.h"

/* A track that grows. */
struct td_track_made {
    const char *name; /* of the file, for messages */
    struct td_track track;
    size_t room;
};

/* Adds the fix, or counts it when td_fix_is_sane refuses it. */
TD_CHECKED enum td_result td_track_add(struct td_track_made *made, const struct td_fix *fix,
                                       struct td_problem *problem);

TD_CHECKED enum td_result td_track_gpx(struct td_track_made *made, const char *bytes,
                                       size_t length, struct td_problem *problem);
TD_CHECKED enum td_result td_track_tpv(struct td_track_made *made, const char *bytes,
                                       size_t length, struct td_problem *problem);

TD_CHECKED enum td_result td_track_geojson(struct td_track_made *made, const char *bytes,
                                           size_t length, struct td_problem *problem);
bool td_track_is_geojson(const char *bytes, size_t length);

/* True when sentences of a receiver begin a line near the top. */
bool td_track_is_nmea(const char *bytes, size_t length);
/* The file as gpsd understands it, one object a line, for td_track_tpv; *bytes is the caller's to
 * free. TD_NOT_FOUND: gpsd's decoder is not installed. */
TD_CHECKED enum td_result td_track_decode_nmea(const char *path, char **bytes, size_t *length,
                                               struct td_problem *problem);

#endif
