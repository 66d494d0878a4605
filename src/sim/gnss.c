/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The receiver's errors and silences. */
#include "sim/gnss.h"

#include <math.h>

#include "talkdown/units.h"

/* Semi-axes of WGS 84 give metres a degree here; errors of centimetres over these lengths. */
#define WGS84_A_M 6378137.0
#define WGS84_E2 6.69437999014e-3

struct td_gnss_options td_gnss_options_default(void)
{
    return (struct td_gnss_options){
        .rate_hz = 1,
        .sigma_m = 3,
        .wander_s = 60,
        .altitude_sigma_m = 6,
        .speed_sigma_mps = 0.1,
        .silences_per_hour = 3,
        .silence_least_s = 2,
        .silence_most_s = 6,
    };
}

struct td_gnss_options td_gnss_options_perfect(void)
{
    return (struct td_gnss_options){.rate_hz = 1, .sigma_m = 0, .wander_s = 60};
}

void td_gnss_init(struct td_gnss *gnss, const struct td_gnss_options *options, uint64_t seed,
                  int64_t first_ns, int64_t utc_from_ms)
{
    *gnss = (struct td_gnss){.options = *options, .next_ns = first_ns,
                             .silent_until_ns = INT64_MIN, .utc_from_ms = utc_from_ms};
    td_rng_seed(&gnss->rng, seed, 0x676e7373U);
    gnss->east_m = options->sigma_m * td_rng_normal(&gnss->rng);
    gnss->north_m = options->sigma_m * td_rng_normal(&gnss->rng);
    gnss->up_m = options->altitude_sigma_m * td_rng_normal(&gnss->rng);
}

/* Exact step of the process over dt: keeps the variance at sigma squared for any dt. */
static void wander(double *error, double sigma, double keep, struct td_rng *rng)
{
    *error = *error * keep + sigma * sqrt(1 - keep * keep) * td_rng_normal(rng);
}

static void metres_per_degree(double lat_deg, double *north_m, double *east_m)
{
    double sin_lat = sin(td_rad_from_deg(lat_deg));
    double w2 = 1 - WGS84_E2 * sin_lat * sin_lat;
    double meridian_m = WGS84_A_M * (1 - WGS84_E2) / (w2 * sqrt(w2));
    double normal_m = WGS84_A_M / sqrt(w2);
    *north_m = td_rad_from_deg(meridian_m);
    *east_m = td_rad_from_deg(normal_m * cos(td_rad_from_deg(lat_deg)));
}

struct place_now {
    double lat_deg, lon_deg, altitude_m, track_deg;
};

/* On the road by straight lines between vertices; straight on before the first. */
static struct place_now place_of(const struct td_truck *truck)
{
    const struct td_hill *hill = truck->hill;
    size_t at = td_hill_station_at(hill, truck->along_m);
    if (at + 1 >= hill->station_count)
        at = hill->station_count - 2;
    const struct td_station *from = &hill->stations[at], *to = &hill->stations[at + 1];
    double share = (truck->along_m - from->along_m) / (to->along_m - from->along_m);
    double grade_m = truck->along_m < 0 ? 0 : share * (to->elevation_m - from->elevation_m);
    double north_m, east_m;
    metres_per_degree(from->lat_deg, &north_m, &east_m);
    double track = td_deg_from_rad(atan2((to->lon_deg - from->lon_deg) * east_m,
                                         (to->lat_deg - from->lat_deg) * north_m));
    return (struct place_now){
        .lat_deg = from->lat_deg + share * (to->lat_deg - from->lat_deg),
        .lon_deg = from->lon_deg + share * (to->lon_deg - from->lon_deg),
        .altitude_m = from->elevation_m + grade_m,
        .track_deg = track < 0 ? track + 360 : track,
    };
}

static void run_errors(struct td_gnss *gnss, double dt_s)
{
    const struct td_gnss_options *options = &gnss->options;
    double keep = exp(-dt_s / options->wander_s);
    wander(&gnss->east_m, options->sigma_m, keep, &gnss->rng);
    wander(&gnss->north_m, options->sigma_m, keep, &gnss->rng);
    wander(&gnss->up_m, options->altitude_sigma_m, keep, &gnss->rng);
}

static void fill(struct td_gnss *gnss, const struct td_truck *truck, int64_t now_ns,
                 struct td_fix *fix)
{
    const struct td_gnss_options *options = &gnss->options;
    struct place_now place = place_of(truck);
    double north_m, east_m;
    metres_per_degree(place.lat_deg, &north_m, &east_m);
    double speed_mps = truck->speed_mps + options->speed_sigma_mps * td_rng_normal(&gnss->rng);
    /* Course is the direction of a velocity with the same noise on both axes. */
    double across_mps = options->speed_sigma_mps * td_rng_normal(&gnss->rng);
    double track_deg =
        place.track_deg + td_deg_from_rad(atan2(across_mps, fmax(truck->speed_mps, 0.01)));
    *fix = (struct td_fix){
        .received_ns = now_ns,
        .has = TD_FIX_POSITION | TD_FIX_ALTITUDE | TD_FIX_SPEED | TD_FIX_SIGMA | TD_FIX_UTC,
        .utc_ms = gnss->utc_from_ms + now_ns / TD_NS_PER_MS,
        .lat_deg = place.lat_deg + gnss->north_m / north_m,
        .lon_deg = place.lon_deg + gnss->east_m / east_m,
        .altitude_m = place.altitude_m + gnss->up_m,
        .speed_mps = fmax(0, speed_mps),
        .sigma_m = fmax(options->sigma_m, 0.5),
    };
    /* A receiver gives no course while it stands. */
    if (truck->speed_mps > 0.5) {
        fix->has |= TD_FIX_TRACK;
        fix->track_deg = fmod(track_deg + 720.0, 360.0);
    }
}

bool td_gnss_fix(struct td_gnss *gnss, const struct td_truck *truck, int64_t now_ns,
                 struct td_fix *fix)
{
    if (now_ns < gnss->next_ns)
        return false;
    const struct td_gnss_options *options = &gnss->options;
    double period_s = 1 / options->rate_hz;
    gnss->next_ns += (int64_t)(period_s * (double)TD_NS_PER_S);
    run_errors(gnss, period_s);
    double chance = options->silences_per_hour * period_s / TD_S_PER_HOUR;
    if (td_rng_unit(&gnss->rng) < chance) {
        double silent_s =
            td_rng_between(&gnss->rng, options->silence_least_s, options->silence_most_s);
        gnss->silent_until_ns = now_ns + (int64_t)(silent_s * (double)TD_NS_PER_S);
    }
    if (now_ns < gnss->silent_until_ns)
        return false;
    fill(gnss, truck, now_ns, fix);
    return true;
}
