/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which point of the road each recorded point stands for. A pass is followed from point to point,
 * within what was driven between them, so that the legs of a hairpin and a loop over itself stay
 * apart; it is taken up only where it runs the road's way. */
#include <math.h>

#include "survey/survey_parts.h"

#define TAKE_UP_M     40.0 /* from the road, to begin to follow */
#define KEEP_M        60.0 /* as far as a place may lie from it (docs/formats.md) */
#define BEHIND_M      40.0
#define AHEAD_M       60.0
#define LOSE_AFTER_M  150.0 /* driven away from the road */
#define LOOK_EVERY_M  20.0
#define LAP_M         100.0 /* back along the road by more is another run over it */
#define COURSE_COS    0.4   /* within 66 degrees of the road's course */
#define OVERSHOOT_M   5.0   /* past the road's ends */

void td_survey_into_frame(const struct td_frame *frame, struct td_survey_pass *pass)
{
    struct td_survey_point *points = pass->points;
    size_t kept = 0;
    for (size_t i = 0; i < pass->point_count; i++) {
        struct td_point at, smooth;
        if (!td_frame_point(frame, points[i].lat_deg, points[i].lon_deg, &at) ||
            !td_frame_point(frame, points[i].smooth_lat_deg, points[i].smooth_lon_deg, &smooth))
            continue;
        points[kept] = points[i];
        points[kept].x_m = at.x_m;
        points[kept].y_m = at.y_m;
        points[kept].course_x = smooth.x_m; /* the smoothed place, until the course is known */
        points[kept++].course_y = smooth.y_m;
    }
    pass->report.elsewhere += pass->point_count - kept;
    pass->point_count = kept;
    /* In place: what is needed of the point before is kept aside. */
    struct td_point before = {0, 0};
    for (size_t i = 0; i < kept; i++) {
        struct td_point here = {points[i].course_x, points[i].course_y};
        const struct td_survey_point *next = &points[i + 1 < kept ? i + 1 : i];
        if (i == 0)
            before = here;
        points[i].course_x = next->course_x - before.x_m;
        points[i].course_y = next->course_y - before.y_m;
        before = here;
    }
}

struct found {
    double along_m, lateral_m, distance_m;
};

/* Nearest piece of road from `from` to before `to` that runs the point's way (-1: the other). */
static struct found nearest(const struct td_station *road, size_t count, size_t from, size_t to,
                            const struct td_survey_point *point, double way)
{
    struct found best = {0, 0, HUGE_VAL};
    double course = hypot(point->course_x, point->course_y);
    for (size_t i = from; i < to && i + 1 < count; i++) {
        double dx = road[i + 1].x_m - road[i].x_m, dy = road[i + 1].y_m - road[i].y_m;
        double along = way * (dx * point->course_x + dy * point->course_y);
        if (along < COURSE_COS * hypot(dx, dy) * course)
            continue;
        struct td_foot_point foot =
            td_geo_project((struct td_point){road[i].x_m, road[i].y_m},
                           (struct td_point){road[i + 1].x_m, road[i + 1].y_m},
                           (struct td_point){point->x_m, point->y_m});
        if (foot.distance_m >= best.distance_m)
            continue;
        double over_m = sqrt(fmax(0, foot.distance_m * foot.distance_m -
                                         foot.lateral_m * foot.lateral_m));
        bool at_end = (i == 0 && foot.ratio <= 0) || (i + 2 == count && foot.ratio >= 1);
        if (at_end && over_m > OVERSHOOT_M)
            continue;
        best.along_m = road[i].along_m + foot.ratio * (road[i + 1].along_m - road[i].along_m);
        best.lateral_m = foot.lateral_m;
        best.distance_m = foot.distance_m;
    }
    return best;
}

struct follower {
    const struct td_station *road;
    size_t count;
    double way; /* 1 down, -1 up */
    double step_m;
    bool following;
    double at_m;       /* along the road, when following */
    double away_m;     /* driven since it was last on the road */
    double looked_m;   /* driven since it was last looked for */
    double west_m, east_m, south_m, north_m; /* box of the road */
};

static size_t index_at(const struct follower *follower, double along_m)
{
    double index = along_m / follower->step_m;
    return index <= 0 ? 0 : index >= (double)follower->count ? follower->count : (size_t)index;
}

static bool in_box(const struct follower *follower, const struct td_survey_point *point)
{
    return point->x_m > follower->west_m && point->x_m < follower->east_m &&
           point->y_m > follower->south_m && point->y_m < follower->north_m;
}

/* Places one point; `driven_m` since the one before. */
static bool place(struct follower *follower, struct td_survey_point *point, double driven_m)
{
    struct found found = {0, 0, HUGE_VAL};
    point->new_run = false;
    if (follower->following) {
        double ahead_m = driven_m + follower->away_m + AHEAD_M;
        double low_m = follower->at_m - (follower->way > 0 ? BEHIND_M : ahead_m);
        double high_m = follower->at_m + (follower->way > 0 ? ahead_m : BEHIND_M);
        found = nearest(follower->road, follower->count, index_at(follower, low_m),
                        index_at(follower, high_m) + 1, point, follower->way);
    } else {
        follower->looked_m += driven_m;
        if (follower->looked_m < LOOK_EVERY_M || !in_box(follower, point))
            return false;
        follower->looked_m = 0;
        found = nearest(follower->road, follower->count, 0, follower->count, point, follower->way);
        if (found.distance_m > TAKE_UP_M)
            return false;
        point->new_run = (found.along_m - follower->at_m) * follower->way < -LAP_M;
    }
    if (found.distance_m > KEEP_M) {
        follower->away_m += driven_m;
        follower->following = follower->away_m < LOSE_AFTER_M;
        return false;
    }
    follower->following = true;
    follower->away_m = 0;
    follower->at_m = found.along_m;
    point->road_m = found.along_m;
    point->lateral_m = found.lateral_m;
    return true;
}

static struct follower start(const struct td_station *road, size_t count, double way)
{
    struct follower follower = {.road = road, .count = count, .way = way,
                                .step_m = road[count - 1].along_m / (double)(count - 1),
                                .at_m = way > 0 ? -1e9 : 1e9, .looked_m = LOOK_EVERY_M,
                                .west_m = HUGE_VAL, .east_m = -HUGE_VAL,
                                .south_m = HUGE_VAL, .north_m = -HUGE_VAL};
    for (size_t i = 0; i < count; i++) {
        follower.west_m = fmin(follower.west_m, road[i].x_m - TAKE_UP_M);
        follower.east_m = fmax(follower.east_m, road[i].x_m + TAKE_UP_M);
        follower.south_m = fmin(follower.south_m, road[i].y_m - TAKE_UP_M);
        follower.north_m = fmax(follower.north_m, road[i].y_m + TAKE_UP_M);
    }
    return follower;
}

/* The run over the road with the greatest reach. */
struct run {
    size_t from, to;
    double covers_m;
};

static struct run follow(struct td_survey_pass *pass, const struct td_station *road, size_t count,
                         double way)
{
    struct follower follower = start(road, count, way);
    struct run best = {0, 0, 0}, run = {0, 0, 0};
    double low_m = HUGE_VAL, high_m = -HUGE_VAL;
    for (size_t i = 0; i < pass->point_count; i++) {
        struct td_survey_point *point = &pass->points[i];
        double driven_m = i == 0 ? 0 : fabs(point->along_m - point[-1].along_m);
        point->on_road = place(&follower, point, driven_m);
        if (!point->on_road)
            continue;
        if (point->new_run) {
            run.from = i;
            low_m = HUGE_VAL;
            high_m = -HUGE_VAL;
        }
        low_m = fmin(low_m, point->road_m);
        high_m = fmax(high_m, point->road_m);
        run.to = i + 1;
        run.covers_m = high_m - low_m;
        if (run.covers_m > best.covers_m)
            best = run;
    }
    return best;
}

/* By place along the road; the points are nearly in order already. */
static void sort(struct td_survey_point *points, size_t count)
{
    for (size_t i = 1; i < count; i++) {
        struct td_survey_point here = points[i];
        size_t k = i;
        for (; k > 0 && points[k - 1].road_m > here.road_m; k--)
            points[k] = points[k - 1];
        points[k] = here;
    }
}

void td_survey_align(struct td_survey_pass *pass, const struct td_station *road, size_t count)
{
    struct run up = follow(pass, road, count, -1);
    struct run down = follow(pass, road, count, 1);
    bool climbed = up.covers_m > down.covers_m;
    if (climbed)
        down = follow(pass, road, count, -1);
    size_t kept = 0;
    for (size_t i = down.from; i < down.to; i++)
        if (pass->points[i].on_road)
            pass->points[kept++] = pass->points[i];
    pass->report.elsewhere += pass->point_count - kept;
    pass->report.used = kept;
    pass->report.climbed = climbed != pass->turned;
    pass->report.covers_m = down.covers_m;
    pass->point_count = kept;
    if (climbed) {
        td_survey_turn_round(pass->points, kept);
        for (size_t i = 0; i < kept; i++) {
            pass->points[i].course_x *= -1;
            pass->points[i].course_y *= -1;
        }
    }
    sort(pass->points, kept);
}

void td_survey_realign(struct td_survey_pass *pass, const struct td_station *road, size_t count)
{
    struct follower follower = start(road, count, 1);
    double shift_m = 0; /* a moved road is a little longer or shorter, the more the further along */
    size_t kept = 0;
    for (size_t i = 0; i < pass->point_count; i++) {
        struct td_survey_point *point = &pass->points[i];
        double was_m = point->road_m;
        follower.following = true;
        follower.away_m = 0;
        follower.at_m = was_m + shift_m;
        if (!place(&follower, point, 0))
            continue;
        shift_m = point->road_m - was_m;
        pass->points[kept++] = *point;
    }
    pass->point_count = kept;
    sort(pass->points, kept);
}
