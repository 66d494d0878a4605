/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Draws ocean hills: an approach, a descent of several grades, a run-out, along a winding line. */
#include "support/ocean_hills.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "io/hill_write.h"
#include "talkdown/geo.h"
#include "talkdown/rng.h"
#include "talkdown/units.h"

#define VERTEX_M      25.0
#define M_PER_DEG     111195.0
#define LAT_STEP_DEG  0.09
#define LON_STEP_DEG  0.17

enum { COLUMN_BITS = 9 };

/* Bits of the index in turn to column and row, so that any number of hills fills a square. */
void ocean_hill_place(unsigned index, double *lat_deg, double *lon_deg)
{
    unsigned column = 0, row = 0;
    for (unsigned bit = 0; bit < COLUMN_BITS; bit++) {
        column |= (index >> (2 * bit) & 1u) << bit;
        row |= (index >> (2 * bit + 1) & 1u) << bit;
    }
    *lat_deg = -61.5 + row * LAT_STEP_DEG;
    *lon_deg = -174.0 + column * LON_STEP_DEG;
}

struct pen {
    double x_m, y_m, z_m, heading_rad, curve_per_m, downgrade;
};

/* A stretch of road: the grade is one, the curve changes every 150 m or so. */
static void lay(struct pen *pen, struct td_rng *rng, double length_m, double downgrade,
                struct td_point *points, double *heights_m, size_t *count)
{
    double grade_from = pen->downgrade, laid_m = 0;
    while (laid_m < length_m && *count < OCEAN_VERTICES_MAX) {
        if (fmod(laid_m, 150) < VERTEX_M)
            pen->curve_per_m = td_rng_normal(rng) / 400.0;
        double blend = fmin(1, laid_m / 150);
        pen->downgrade = grade_from + (downgrade - grade_from) * blend;
        pen->heading_rad += pen->curve_per_m * VERTEX_M * 0.5;
        pen->x_m += VERTEX_M * cos(pen->heading_rad);
        pen->y_m += VERTEX_M * sin(pen->heading_rad);
        pen->z_m -= VERTEX_M * pen->downgrade;
        points[*count] = (struct td_point){pen->x_m, pen->y_m};
        heights_m[(*count)++] = pen->z_m;
        laid_m += VERTEX_M;
    }
}

static size_t draw(unsigned index, struct td_point *points, double *heights_m)
{
    struct td_rng rng;
    size_t count = 0;
    td_rng_seed(&rng, 1000003u + index, 5);
    struct pen pen = {.z_m = 1100, .heading_rad = td_rng_between(&rng, 0, 2 * TD_PI)};
    lay(&pen, &rng, td_rng_between(&rng, 2000, 3000), -0.004, points, heights_m, &count);
    unsigned stretches = 2 + td_rng_below(&rng, 8);
    for (unsigned i = 0; i < stretches; i++)
        lay(&pen, &rng, td_rng_between(&rng, 500, 1200), td_rng_between(&rng, 0.045, 0.085),
            points, heights_m, &count);
    lay(&pen, &rng, 600, 0.004, points, heights_m, &count);
    return count;
}

char *ocean_hill_text_at(unsigned index, double lat_deg, double lon_deg, size_t *length)
{
    struct td_point *points = calloc(OCEAN_VERTICES_MAX, sizeof *points);
    double *heights_m = calloc(OCEAN_VERTICES_MAX, sizeof *heights_m);
    struct td_station *stations = calloc(OCEAN_VERTICES_MAX, sizeof *stations);
    char *text = NULL, id[24], name[40];
    if (points != NULL && heights_m != NULL && stations != NULL) {
        size_t count = draw(index, points, heights_m);
        for (size_t i = 0; i < count; i++) {
            double lat = lat_deg + points[i].y_m / M_PER_DEG;
            double wide_m = M_PER_DEG * cos(td_rad_from_deg((lat + lat_deg) / 2));
            stations[i].lat_deg = lat;
            stations[i].lon_deg = td_geo_turn_deg(lon_deg + points[i].x_m / wide_m);
            stations[i].elevation_m = heights_m[i];
        }
        const struct td_hill hill = {.stations = stations, .station_count = count};
        (void)snprintf(id, sizeof id, "ocean-%06u", index);
        (void)snprintf(name, sizeof name, "Ocean grade %u", index);
        if (td_hill_write_text(&hill, id, name, "invented", &text, length, NULL) != TD_OK)
            text = NULL;
    }
    free(points);
    free(heights_m);
    free(stations);
    return text;
}

char *ocean_hill_text(unsigned index, size_t *length)
{
    double lat_deg, lon_deg;
    ocean_hill_place(index, &lat_deg, &lon_deg);
    return ocean_hill_text_at(index, lat_deg, lon_deg, length);
}
