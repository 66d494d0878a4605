/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Heights out of elevation tiles for a track or a road line without any. */
#ifndef TD_TOOL_SURVEY_TILES_H
#define TD_TOOL_SURVEY_TILES_H

#include "io/tiles.h"
#include "io/track.h"

/* True when most points have no height. */
bool survey_lacks_heights(const struct td_track *track);
/* Every point gets its height from the tiles; a line without times is divided into pieces of 10 m
 * first. TD_INVALID when the tiles do not have a fifth of it. */
TD_CHECKED enum td_result survey_heights_from(const struct td_tiles *tiles, const char *path,
                                              struct td_track *track, struct td_problem *problem);

#endif
