/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The gate every position passes once. Comparisons are written so that NaN fails them. */
#include "talkdown/fix.h"

#include <math.h>

static bool within(double value, double low, double high)
{
    return value >= low && value <= high;
}

/* A value that is not there need not make sense. */
static bool absent_or_within(const struct td_fix *fix, unsigned bit, double value, double low,
                             double high)
{
    return (fix->has & bit) == 0 || within(value, low, high);
}

bool td_fix_is_sane(const struct td_fix *fix)
{
    if ((fix->has & TD_FIX_POSITION) == 0 || !within(fix->lat_deg, -90.0, 90.0) ||
        !within(fix->lon_deg, -180.0, 180.0))
        return false;
    if (fabs(fix->lat_deg) <= 0.0 && fabs(fix->lon_deg) <= 0.0)
        return false;
    if (!absent_or_within(fix, TD_FIX_ALTITUDE, fix->altitude_m, -500.0, 9000.0) ||
        !absent_or_within(fix, TD_FIX_SPEED, fix->speed_mps, 0.0, 70.0) ||
        !absent_or_within(fix, TD_FIX_TRACK, fix->track_deg, 0.0, 360.0) ||
        !absent_or_within(fix, TD_FIX_SIGMA, fix->sigma_m, 0.0, 1000.0))
        return false;
    if ((fix->has & TD_FIX_TRACK) != 0 && fix->track_deg >= 360.0)
        return false;
    return (fix->has & TD_FIX_SIGMA) == 0 || fix->sigma_m > 0.0;
}
