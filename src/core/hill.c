/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A hill's stations: looked up by distance along, and filled from their coordinates. The grade is
 * smoothed over 240 m (td_hill_smoothed_at): heights come from barometers, receivers and terrain
 * models with metres of noise, and a truck's speed does not answer to less. */
#include "talkdown/hill.h"

#include <math.h>

#include "hill_shape.h"
#include "talkdown/text.h"

#define GAP_MOST_M    2000.0
#define EDGE_LEAST_M  0.01

size_t td_hill_station_at(const struct td_hill *hill, double along_m)
{
    size_t low = 0, high = hill->station_count - 1; /* the last piece starts at high - 1 */
    while (high - low > 1) {
        size_t middle = low + (high - low) / 2;
        if (hill->stations[middle].along_m <= along_m)
            low = middle;
        else
            high = middle;
    }
    return low;
}

double td_hill_downgrade_at(const struct td_hill *hill, double along_m)
{
    return hill->stations[td_hill_station_at(hill, along_m)].downgrade_ratio;
}

static double ratio_in(const struct td_station *from, double along_m)
{
    double length = from[1].along_m - from[0].along_m;
    return fmin(1.0, fmax(0.0, (along_m - from[0].along_m) / length));
}

double td_hill_elevation_at(const struct td_hill *hill, double along_m)
{
    const struct td_station *from = &hill->stations[td_hill_station_at(hill, along_m)];
    double ratio = ratio_in(from, along_m);
    return from[0].elevation_m + ratio * (from[1].elevation_m - from[0].elevation_m);
}

struct td_point td_hill_point_at(const struct td_hill *hill, double along_m)
{
    const struct td_station *from = &hill->stations[td_hill_station_at(hill, along_m)];
    double ratio = ratio_in(from, along_m);
    struct td_point point = {from[0].x_m + ratio * (from[1].x_m - from[0].x_m),
                             from[0].y_m + ratio * (from[1].y_m - from[0].y_m)};
    return point;
}

/* Starts the problem's line and leaves it open for more. */
static struct td_text begin_problem(struct td_problem *problem)
{
    struct td_text text;
    problem->file[0] = '\0';
    problem->line = 0;
    td_text_init(&text, problem->text, sizeof problem->text);
    return text;
}

static enum td_result bad_vertex(struct td_problem *problem, size_t index, const char *what)
{
    if (problem != NULL) {
        struct td_text text = begin_problem(problem);
        td_text_add(&text, "road: vertex ");
        td_text_add_int(&text, (int64_t)index + 1);
        td_text_add(&text, what);
    }
    return TD_INVALID;
}

static enum td_result check_stations(const struct td_hill *hill, struct td_problem *problem)
{
    if (hill->station_count < 2 || hill->station_count > TD_HILL_STATIONS_MAX) {
        if (problem != NULL) {
            struct td_text text = begin_problem(problem);
            td_text_add(&text, "road: it has ");
            td_text_add_int(&text, (int64_t)hill->station_count);
            td_text_add(&text, " vertices; 2 to ");
            td_text_add_int(&text, TD_HILL_STATIONS_MAX);
            td_text_add(&text, " are right");
        }
        return TD_INVALID;
    }
    for (size_t i = 0; i < hill->station_count; i++) {
        const struct td_station *station = &hill->stations[i];
        if (!(fabs(station->lat_deg) <= TD_GEO_LATITUDE_MOST_DEG))
            return bad_vertex(problem, i, " has a latitude that is not within 85 degrees of the "
                                          "equator; check the order: longitude, latitude, height");
        if (!(fabs(station->lon_deg) <= 180.0))
            return bad_vertex(problem, i, " has a longitude that is not within 180 degrees");
        if (!(station->elevation_m >= -500.0 && station->elevation_m <= 9000.0))
            return bad_vertex(problem, i, " has a height that is not within -500 to 9000 metres");
    }
    return TD_OK;
}

/* Checks every edge before the first station is touched. */
static enum td_result check_edges(const struct td_hill *hill, const struct td_frame *frame,
                                  struct td_problem *problem)
{
    for (size_t i = 0; i < hill->station_count; i++) {
        const struct td_station *here = &hill->stations[i];
        struct td_point point;
        if (!td_frame_point(frame, here->lat_deg, here->lon_deg, &point))
            return bad_vertex(problem, i, " lies over 100 km from the middle of the road; split "
                                          "the road into hills");
        if (i == 0)
            continue;
        double edge_m = td_geo_distance_m(here[-1].lat_deg, here[-1].lon_deg, here->lat_deg,
                                          here->lon_deg);
        if (edge_m < EDGE_LEAST_M)
            return bad_vertex(problem, i, " repeats the one before it; leave one of them out");
        if (edge_m > GAP_MOST_M)
            return bad_vertex(problem, i, " lies over 2 km from the one before it; vertices "
                                          "between them are missing");
    }
    return TD_OK;
}

static void lay_out(struct td_hill *hill, struct td_station *stations,
                    const struct td_frame *frame)
{
    double along_m = 0.0;
    for (size_t i = 0; i < hill->station_count; i++) {
        struct td_station *here = &stations[i];
        struct td_point point = {0.0, 0.0};
        (void)td_frame_point(frame, here->lat_deg, here->lon_deg, &point); /* checked before */
        if (i > 0)
            along_m += td_geo_distance_m(here[-1].lat_deg, here[-1].lon_deg, here->lat_deg,
                                         here->lon_deg);
        here->along_m = along_m;
        here->x_m = point.x_m;
        here->y_m = point.y_m;
    }
    hill->length_m = along_m;
}

/* Mean smoothed grade of each piece, so that pieces of any length add up to the same fall. */
static void fill_grades(const struct td_hill *hill, struct td_station *stations)
{
    struct td_smoothed from = td_hill_smoothed_at(hill, 0.0);
    for (size_t i = 0; i + 1 < hill->station_count; i++) {
        struct td_smoothed to = td_hill_smoothed_at(hill, stations[i + 1].along_m);
        double length = stations[i + 1].along_m - stations[i].along_m;
        stations[i].downgrade_ratio = (from.elevation_m - to.elevation_m) / length;
        from = to;
    }
    stations[hill->station_count - 1].downgrade_ratio = from.downgrade_ratio;
}

enum td_result td_hill_derive(struct td_hill *hill, struct td_station *stations,
                              struct td_problem *problem)
{
    enum td_result result = check_stations(hill, problem);
    if (result != TD_OK)
        return result;
    const struct td_station *middle = &stations[hill->station_count / 2];
    struct td_frame frame;
    (void)td_frame_init(&frame, middle->lat_deg, middle->lon_deg); /* checked above */
    result = check_edges(hill, &frame, problem);
    if (result != TD_OK)
        return result;
    hill->origin_lat_deg = middle->lat_deg;
    hill->origin_lon_deg = middle->lon_deg;
    lay_out(hill, stations, &frame);
    fill_grades(hill, stations);
    td_hill_find_descent(hill);
    td_hill_find_runs(hill);
    td_hill_find_curves(hill);
    return TD_OK;
}
