/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Heights out of elevation tiles: SRTM (.hgt) or GeoTIFF, by GDAL. An optional part of the build:
 * without it opening says so (td_tiles_there tells beforehand). */
#ifndef TD_IO_TILES_H
#define TD_IO_TILES_H

#include <stdbool.h>
#include <stddef.h>

#include "talkdown/result.h"

enum { TD_TILES_MAX = 256 };

struct td_tiles;

bool td_tiles_there(void);
/* One tile, or every *.hgt, *.tif and *.tiff of a folder. TD_NOT_FOUND: none there, or no GDAL in
 * this build; TD_INVALID: one is no raster, or does not say where it lies. */
TD_CHECKED enum td_result td_tiles_open(const char *path, struct td_tiles **tiles,
                                        struct td_problem *problem);
/* Bilinear between the four nearest heights, in metres. False: no tile has the place, or the tile
 * has a hole (no data) beside it. */
bool td_tiles_height(const struct td_tiles *tiles, double lat_deg, double lon_deg,
                     double *height_m);
size_t td_tiles_count(const struct td_tiles *tiles);
void td_tiles_close(struct td_tiles **tiles); /* accepts NULL and *tiles NULL */

#endif
