/* SPDX-License-Identifier: GPL-3.0-or-later */
/* bench_step: what a step of the coach costs in processor time, far from hills, near eight and on
 * one; that it never touches the heap (exit 1 if it does); and how fast an hour is replayed.
 * Times are printed, never judged: they are of this machine, now. */
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "support/count_alloc.h"
#include "support/cpu_clock.h"
#include "support/net_cab.h"
#include "support/net_drive.h"
#include "talkdown/units.h"

enum { STEPS_MAX = 400000 };

enum scene { SCENE_FAR = 0, SCENE_NEAR, SCENE_ON, SCENES };

struct costs {
    const char *name;
    size_t count;
    float us[STEPS_MAX];
};

struct bench {
    struct costs scenes[SCENES];
    bool far;
    int64_t before_ns;
    double clock_us; /* what reading the clock twice costs */
    uint64_t calls_before, calls, steps;
};

static struct net net;
static struct net_drive drive;
static struct net_cab cab;
static struct bench bench = {.scenes = {{.name = "far from hills"},
                                        {.name = "near eight, on none"},
                                        {.name = "on a hill, eight in hand"}}};

static void stepping(void *who, const struct net_cab *of)
{
    struct bench *to = who;
    (void)of;
    to->calls_before = count_alloc_calls();
    to->before_ns = cpu_thread_ns();
}

static void stepped(void *who, const struct net_cab *of)
{
    struct bench *to = who;
    double us = 1e-3 * (double)(cpu_thread_ns() - to->before_ns) - to->clock_us;
    to->calls += count_alloc_calls() - to->calls_before;
    to->steps++;
    enum td_where where = of->output.estimate.where;
    bool on = where == TD_WHERE_ON_HILL || where == TD_WHERE_COASTING;
    struct costs *costs = &to->scenes[to->far ? SCENE_FAR : on ? SCENE_ON : SCENE_NEAR];
    if (costs->count < STEPS_MAX)
        costs->us[costs->count++] = (float)fmax(0, us);
}

static double clock_cost_us(void)
{
    enum { TIMES = 20000 };
    int64_t from_ns = cpu_thread_ns();
    for (int i = 0; i < TIMES; i++)
        (void)cpu_thread_ns();
    return 1e-3 * (double)(cpu_thread_ns() - from_ns) / TIMES;
}

/* Every route of the net, once; hills are on board or none is. */
static void drive_net(bool far)
{
    struct td_rng rng;
    td_rng_seed(&rng, net.seed, 0x73746570U);
    size_t hills = net.hill_count;
    net.hill_count = far ? 0 : hills;
    bench.far = far;
    for (size_t r = 0; r < net.route_count; r++) {
        struct net_receiver receiver = net_receiver_draw(&rng);
        net_drive_begin(&drive, &net, &net.routes[r], &receiver, r);
        net_cab_begin(&cab, &net, drive.now_ns);
        while (net_drive_next(&drive))
            if (drive.has_fix)
                net_cab_fix(&cab, &drive.fix, drive.now_ns);
    }
    net.hill_count = hills;
}

static int by_size(const void *a, const void *b)
{
    float x = *(const float *)a, y = *(const float *)b;
    return (x > y) - (x < y);
}

static void print_costs(struct costs *costs)
{
    double sum_us = 0;
    if (costs->count == 0)
        return;
    qsort(costs->us, costs->count, sizeof *costs->us, by_size);
    for (size_t i = 0; i < costs->count; i++)
        sum_us += (double)costs->us[i];
    printf("%-26s %7zu steps  mean %5.1f  p50 %5.1f  p99 %5.1f  max %6.1f us\n", costs->name,
           costs->count, sum_us / (double)costs->count, (double)costs->us[costs->count / 2],
           (double)costs->us[costs->count * 99 / 100], (double)costs->us[costs->count - 1]);
}

/* A drive of an hour at 1 Hz over and over the main road of the net, down and up, as gpsd JSON. */
static void write_hour(const char *path)
{
    FILE *file = fopen(path, "w");
    if (file == NULL)
        abort();
    struct net_receiver receiver = {.sigma_m = 3, .claim = 1, .rate_hz = 1, .wander_s = 60};
    int64_t from_ns = 0;
    for (size_t pass = 0; from_ns < 3600 * TD_NS_PER_S; pass++) {
        net_drive_begin(&drive, &net, &net.routes[pass % 2 == 0 ? 0 : 3], &receiver, pass);
        int64_t began_ns = drive.now_ns;
        while (net_drive_next(&drive)) {
            int64_t at_s = (from_ns + drive.now_ns - began_ns) / TD_NS_PER_S;
            if (drive.has_fix && at_s < 3600)
                fprintf(file,
                        "{\"class\":\"TPV\",\"mode\":3,"
                        "\"time\":\"2026-06-01T%02d:%02d:%02d.000Z\","
                        "\"lat\":%.8f,\"lon\":%.8f,\"altMSL\":%.1f,\"speed\":%.2f,"
                        "\"track\":%.1f}\n",
                        (int)(at_s / 3600), (int)(at_s / 60 % 60), (int)(at_s % 60),
                        drive.fix.lat_deg, drive.fix.lon_deg, drive.fix.altitude_m,
                        drive.fix.speed_mps, drive.fix.track_deg);
        }
        from_ns += drive.now_ns - began_ns + TD_NS_PER_S;
    }
    (void)fclose(file);
}

/* The net's main road as a hill file. */
static void write_hill(const char *path)
{
    FILE *file = fopen(path, "w");
    if (file == NULL)
        abort();
    const struct td_hill *hill = &net.hills[0].hill;
    fprintf(file, "{\"type\":\"FeatureCollection\",\"features\":[{\"type\":\"Feature\","
                  "\"properties\":{\"role\":\"road\",\"id\":\"net-0\",\"name\":\"Net Grade\"},"
                  "\"geometry\":{\"type\":\"LineString\",\"coordinates\":[");
    for (size_t i = 0; i < hill->station_count; i++)
        fprintf(file, "%s[%.8f,%.8f,%.2f]", i > 0 ? "," : "", hill->stations[i].lon_deg,
                hill->stations[i].lat_deg, hill->stations[i].elevation_m);
    fprintf(file, "]}}]}\n");
    (void)fclose(file);
}

static void replay(const char *name, const char *folder, const char *track, const char *hills,
                   double lasts_s)
{
    char command[2048];
    (void)snprintf(command, sizeof command,
                   "'%s' replay '%s' --hills '%s' --rig '%s/profiles/rigs/five-axle.yaml' "
                   "--out '%s/out' --force --no-sound >'%s/said.txt'",
                   TD_TOOL, track, hills, TD_SOURCE_DIR, folder, folder);
    double before_s = cpu_children_s();
    if (system(command) != 0) {
        printf("replay failed: %s\n", command);
        exit(1);
    }
    double took_s = cpu_children_s() - before_s;
    printf("replay of %s: %.0f s of driving in %.3f s of processor time, %.0f times real time\n",
           name, lasts_s, took_s, lasts_s / took_s);
}

static void replays(void)
{
    char folder[] = "step.XXXXXX", track[64], hill[64], recorded[512], command[96];
    if (mkdtemp(folder) == NULL)
        abort();
    (void)snprintf(track, sizeof track, "%s/hour.json", folder);
    (void)snprintf(hill, sizeof hill, "%s/net-0.geojson", folder);
    write_hour(track);
    write_hill(hill);
    replay("an hour up and down one hill, simulated", folder, track, hill, 3600);
    (void)snprintf(recorded, sizeof recorded, "%s/data/motorway/trip-1-usb.tpv.json",
                   TD_SHARED_DIR);
    if (access(recorded, R_OK) == 0)
        replay("a recorded drive on motorways", folder, recorded, TD_SOURCE_DIR "/profiles/hills",
               3299);
    else
        printf("SKIPPED: the recorded drive is not there (%s)\n", recorded);
    (void)snprintf(command, sizeof command, "rm -rf '%s'", folder);
    if (system(command) != 0)
        printf("%s stays behind\n", folder);
}

int main(void)
{
    uint64_t seed = 1;
    do
        net_draw(&net, seed++);
    while (net.hill_count < TD_HILL_SLOTS);
    printf("net %" PRIu64 ": %zu hills of %zu stations and so\n", net.seed, net.hill_count,
           net.hills[0].hill.station_count);
    bench.clock_us = clock_cost_us();
    cab.stepping = stepping;
    cab.stepped = stepped;
    cab.who = &bench;
    drive_net(true);
    drive_net(false);
    printf("td_coach_step, processor time less %.2f us for the clock:\n", bench.clock_us);
    for (int i = 0; i < SCENES; i++)
        print_costs(&bench.scenes[i]);
    printf("heap calls in %" PRIu64 " steps: %" PRIu64 "\n", bench.steps, bench.calls);
    net_cab_free(&cab);
    replays();
    return bench.calls == 0 ? 0 : 1;
}
