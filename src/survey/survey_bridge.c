/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Tunnels, viaducts and spikes. A terrain model knows the mountain above a tunnel and the valley
 * below a viaduct: heights leave the road steeper than any road and come back as steeply. Between
 * the two they are taken out. What leaves more gently cannot be told from a road. */
#include <math.h>

#include "survey/survey_parts.h"

#define STEEP_RATIO   0.16 /* over 50 m; steeper than any road built for trucks: common practice */
#define STEEP_OVER_M  50.0
#define JOIN_M        60.0
#define LONGEST_M     2500.0
#define BRIDGE_RATIO  0.12 /* a straight line between both ends must be a road */
/* The fit of the heights has smeared both ends by as much. */
#define MARGIN_M      TD_SURVEY_HEIGHT_HALF_M

enum { CLIFFS_MAX = 64 };

/* A stretch of more than STEEP_RATIO, of one sign. */
struct cliff {
    size_t from, to;
    bool climbs;
};

static size_t find_cliffs(const struct td_survey_lane *lane, size_t count, double step_m,
                          struct cliff *cliffs)
{
    size_t over = (size_t)fmax(1, round(STEEP_OVER_M / step_m)), found = 0;
    for (size_t i = 0; i + over < count; i++) {
        if (!lane->has_height[i] || !lane->has_height[i + over])
            continue;
        double ratio = (lane->height_m[i + over] - lane->height_m[i]) / (step_m * (double)over);
        if (fabs(ratio) <= STEEP_RATIO)
            continue;
        struct cliff *last = found > 0 ? &cliffs[found - 1] : NULL;
        if (last != NULL && last->climbs == (ratio > 0) &&
            (double)i * step_m < (double)last->to * step_m + JOIN_M)
            last->to = i + over;
        else if (found < CLIFFS_MAX)
            cliffs[found++] = (struct cliff){i, i + over, ratio > 0};
    }
    return found;
}

static bool spans(const struct td_survey_lane *lane, size_t from, size_t to, double step_m)
{
    return lane->has_height[from] && lane->has_height[to] && to > from &&
           fabs(lane->height_m[to] - lane->height_m[from]) <=
               BRIDGE_RATIO * step_m * (double)(to - from);
}

void td_survey_find_bridges(struct td_survey_lane *lane, size_t count, double step_m,
                            bool *bridged)
{
    struct cliff cliffs[CLIFFS_MAX];
    size_t found = find_cliffs(lane, count, step_m, cliffs);
    size_t margin = (size_t)ceil(MARGIN_M / step_m);
    for (size_t i = 0; i < found; i++) {
        size_t from = cliffs[i].from > margin ? cliffs[i].from - margin : 0;
        for (size_t k = i + 1; k < found; k++) {
            size_t to = cliffs[k].to + margin < count ? cliffs[k].to + margin : count - 1;
            if ((double)(to - from) * step_m > LONGEST_M)
                break;
            if (cliffs[k].climbs == cliffs[i].climbs || !spans(lane, from, to, step_m))
                continue;
            for (size_t at = from + 1; at < to; at++) {
                lane->has_height[at] = false;
                bridged[at] = true;
            }
            i = k;
            break;
        }
    }
}
