/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Height as a weak hint. Profiles and receivers differ by 50 m and more in height, but a road that
 * falls by 7 % beside one that stays level parts from it by 14 m in 200 m. So only the change of
 * the gap between the receiver's height and the profile's counts, over 100 to 300 m. It can speak
 * only against a road, and never loudly: profiles from terrain models are wrong over viaducts. */
#include <math.h>

#include "locate_hypothesis.h"

#define MARK_EVERY_M   100.0
#define MARKS          3u
#define OVER_LEAST_M   100.0
#define SMOOTH_M       30.0
#define SLIP_SIGMA_M   5.0  /* a receiver's height over 10 to 20 s, and the profile's error */
#define HINT_LEAST     (-2.5)
#define OVER_TELLING_M 200.0
/* Where the profile is level or climbs to a crest only a great slip counts, lest a hill be told
 * late; where it falls, one by which the truck's way is nearer to level than to the profile. */
#define SLIP_LEVEL_M   20.0
#define SLIP_LEAST_M   8.0
#define FALLS_M        10.0
#define SLIP_RATIO     0.25 /* as good as the profile's own fall gets with a receiver's height */

static void put_mark(struct td_climb *climb, double age_m, double profile_m)
{
    if (climb->count == MARKS) {
        for (unsigned i = 1; i < MARKS; i++) {
            climb->age_m[i - 1] = climb->age_m[i];
            climb->gap_m[i - 1] = climb->gap_m[i];
            climb->profile_m[i - 1] = climb->profile_m[i];
        }
        climb->count--;
    }
    climb->age_m[climb->count] = age_m;
    climb->profile_m[climb->count] = profile_m;
    climb->gap_m[climb->count++] = climb->gap_now_m;
}

double td_climb_weigh(struct td_climb *climb, double age_m, double travelled_m, bool has_height,
                      double told_m, double profile_m)
{
    if (!has_height) {
        *climb = (struct td_climb){0};
        return 0.0;
    }
    double gap_m = told_m - profile_m;
    if (climb->count == 0)
        climb->gap_now_m = gap_m;
    climb->gap_now_m += (gap_m - climb->gap_now_m) * fmin(1.0, travelled_m / SMOOTH_M);
    if (climb->count == 0 || age_m - climb->age_m[climb->count - 1] >= MARK_EVERY_M)
        put_mark(climb, age_m, profile_m);
    climb->over_m = age_m - climb->age_m[0];
    climb->slip_m = climb->gap_now_m - climb->gap_m[0];
    climb->rise_m = profile_m - climb->profile_m[0];
    if (climb->over_m < OVER_LEAST_M)
        return 0.0;
    double z = climb->slip_m / SLIP_SIGMA_M;
    return fmax(HINT_LEAST, fmin(0.0, 0.5 - 0.5 * z * z));
}

bool td_climb_contradicts(const struct td_climb *climb)
{
    double most_m = fmax(SLIP_LEAST_M, SLIP_LEVEL_M + 0.8 * fmin(0.0, climb->rise_m));
    return climb->over_m >= OVER_TELLING_M && fabs(climb->slip_m) > most_m;
}

bool td_climb_is_doubtful(const struct td_climb *climb)
{
    return climb->over_m >= OVER_TELLING_M && climb->rise_m < -FALLS_M &&
           fabs(climb->slip_m) > SLIP_RATIO * -climb->rise_m;
}
