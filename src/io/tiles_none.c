/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Elevation tiles in a build without GDAL: says so. */
#include "io/problem.h"
#include "io/tiles.h"

bool td_tiles_there(void)
{
    return false;
}

enum td_result td_tiles_open(const char *path, struct td_tiles **tiles, struct td_problem *problem)
{
    (void)tiles;
    return td_problem_set(problem, TD_NOT_FOUND, path, 0,
                          "elevation tiles need GDAL, and this program was built without it; build "
                          "it again with libgdal-dev installed");
}

bool td_tiles_height(const struct td_tiles *tiles, double lat_deg, double lon_deg,
                     double *height_m)
{
    (void)tiles, (void)lat_deg, (void)lon_deg, (void)height_m;
    return false;
}

size_t td_tiles_count(const struct td_tiles *tiles)
{
    (void)tiles;
    return 0;
}

void td_tiles_close(struct td_tiles **tiles)
{
    (void)tiles;
}
