/* SPDX-License-Identifier: GPL-3.0-or-later */
/* bench_prompts [--km N] [--seed FIRST] [--only SEED]: the whole coach on random road nets; every
 * prompt about a hill against where the truck truly was when it was issued. Exit 1 when one was
 * issued on a road that stands 8 sigma or more from the hill it speaks of. */
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "support/net_cab.h"
#include "support/net_drive.h"
#include "talkdown/units.h"

#define DISPLACED_M 30.0
#define JUST_LEFT_M 150.0 /* in which a side road must be noticed */
#define CLEAR_SIGMAS 8.0

enum { BINS = 1000, SHOWN_MOST = 12, SIGMAS = 7 };

static const double sigmas_m[SIGMAS] = {1, 2, 3, 5, 8, 10, 15};

struct count {
    uint64_t spoken, displaced, near, left, apart;
};

struct bench {
    struct count by_id[TD_PROMPT_IDS];
    uint64_t bins[BINS], placed; /* displacement in 0.5 m steps */
    uint64_t of_sigma[SIGMAS], displaced_of_sigma[SIGMAS]; /* by the receiver's */
    double driven_m, most_m;
    uint64_t drives, steps;
    /* Between two fixes the truck runs on evenly. */
    double from_m, to_m;
    int64_t from_ns, to_ns;
    size_t route;
    unsigned shown;
    bool all;
};

static struct net net;
static struct net_drive drive;
static struct net_cab cab;
static struct bench bench;

static void show(const char *what, const struct td_prompt *prompt, double away_m)
{
    printf("%s: net %" PRIu64 " route %zu (%s) at %.0f m: %s of hill %u, %.1f m; sigma %.0f x%.1f,"
           " %.0f Hz\n", what, net.seed, bench.route, net_kind_name(drive.route->kind),
           drive.truth.route_m, td_prompt_key(prompt->id), prompt->hill_handle, away_m,
           drive.receiver.sigma_m, drive.receiver.claim, drive.receiver.rate_hz);
}

/* Notices about the coach itself place nothing. */
static bool speaks_of_a_place(const struct td_prompt *prompt)
{
    return prompt->hill_handle != 0 && prompt->category != TD_NOTICE &&
           prompt->id != TD_PROMPT_POSITION_LOST;
}

static void book(const struct td_prompt *prompt, double along_m)
{
    size_t k = prompt->hill_handle - 1;
    struct count *count = &bench.by_id[prompt->id];
    double true_m = net_drive_along_m(&drive, k);
    count->spoken++;
    if (true_m >= 0) {
        double off_m = fabs(along_m - true_m);
        size_t bin = (size_t)(off_m / 0.5);
        bench.bins[bin < BINS ? bin : BINS - 1]++;
        bench.placed++;
        bench.most_m = fmax(bench.most_m, off_m);
        count->displaced += off_m > DISPLACED_M;
        size_t of = 0;
        while (of + 1 < SIGMAS && sigmas_m[of] < drive.receiver.sigma_m)
            of++;
        bench.of_sigma[of]++;
        bench.displaced_of_sigma[of] += off_m > DISPLACED_M;
        if (off_m > DISPLACED_M &&
            (bench.all || (drive.receiver.sigma_m <= 8 && bench.shown++ < SHOWN_MOST)))
            show("displaced", prompt, off_m);
        return;
    }
    double clear_m = CLEAR_SIGMAS * net_drive_doubt_m(&drive, k);
    double away_m = net_drive_away_m(&drive, k, 0);
    bool near = away_m < clear_m;
    bool left = !near && net_drive_away_m(&drive, k, JUST_LEFT_M) < clear_m;
    count->near += near;
    count->left += left;
    count->apart += !near && !left;
    if (!near || bench.all)
        show(near ? "on a road near" : left ? "just left it" : "on another road", prompt, away_m);
}

static void stepped(void *who, const struct net_cab *of)
{
    (void)who;
    bench.steps++;
    if (!of->output.has_speak || !speaks_of_a_place(&of->output.speak))
        return;
    double share = (double)(of->now_ns - bench.from_ns) /
                   (double)(bench.to_ns > bench.from_ns ? bench.to_ns - bench.from_ns : 1);
    net_drive_look(&drive, bench.from_m + share * (bench.to_m - bench.from_m));
    book(&of->output.speak, of->output.estimate.along_m);
    net_drive_look(&drive, bench.to_m);
}

static void drive_route(size_t r, const struct net_receiver *receiver)
{
    bench.route = r;
    net_drive_begin(&drive, &net, &net.routes[r], receiver, net.seed * 64 + r);
    net_cab_begin(&cab, &net, drive.now_ns);
    bench.to_m = 0;
    bench.to_ns = drive.now_ns;
    for (;;) {
        bench.from_m = bench.to_m;
        bench.from_ns = bench.to_ns;
        if (!net_drive_next(&drive))
            break;
        bench.to_m = drive.truth.route_m;
        bench.to_ns = drive.now_ns;
        if (drive.has_fix)
            net_cab_fix(&cab, &drive.fix, drive.now_ns);
        else
            net_cab_run_to(&cab, drive.now_ns);
    }
    bench.driven_m += bench.to_m;
    bench.drives++;
}

static void drive_net(uint64_t seed)
{
    struct td_rng rng;
    td_rng_seed(&rng, seed, 0x72656376U);
    net_draw(&net, seed);
    for (size_t r = 0; r < net.route_count; r++) {
        struct net_receiver receiver = net_receiver_draw(&rng);
        drive_route(r, &receiver);
    }
}

static double share_m(double share)
{
    uint64_t wanted = (uint64_t)ceil(share * (double)bench.placed), seen = 0;
    for (size_t i = 0; i < BINS; i++) {
        seen += bench.bins[i];
        if (seen >= wanted)
            return 0.5 * (double)(i + 1);
    }
    return 0;
}

static uint64_t print(void)
{
    struct count all = {0};
    printf("%-20s %8s %10s %10s %10s %10s\n", "prompt", "issued", "over 30 m", "road near",
           "just left", "other road");
    for (int i = 0; i <= TD_PROMPT_IDS; i++) {
        const struct count *count = i < TD_PROMPT_IDS ? &bench.by_id[i] : &all;
        if (count->spoken == 0)
            continue;
        printf("%-20s %8" PRIu64 " %10" PRIu64 " %10" PRIu64 " %10" PRIu64 " %10" PRIu64 "\n",
               i < TD_PROMPT_IDS ? td_prompt_key((enum td_prompt_id)i) : "all", count->spoken,
               count->displaced, count->near, count->left, count->apart);
        if (i == TD_PROMPT_IDS)
            break;
        all.spoken += count->spoken;
        all.displaced += count->displaced;
        all.near += count->near;
        all.left += count->left;
        all.apart += count->apart;
    }
    for (size_t i = 0; i < SIGMAS; i++)
        printf("receivers of %2.0f m: %6" PRIu64 " prompts, over 30 m off %3" PRIu64
               " (%.2f %%; of their fixes, along one axis: %.2f %%)\n", sigmas_m[i],
               bench.of_sigma[i], bench.displaced_of_sigma[i],
               100.0 * (double)bench.displaced_of_sigma[i] / fmax(1, (double)bench.of_sigma[i]),
               100.0 * erfc(DISPLACED_M / sigmas_m[i] / sqrt(2.0)));
    printf("place at issue against the truth: p50 %.1f m, p95 %.1f m, p99.9 %.1f m, max %.1f m\n",
           share_m(0.5), share_m(0.95), share_m(0.999), bench.most_m);
    return all.apart;
}

int main(int argc, char **argv)
{
    double km = 300;
    uint64_t seed = 1;
    for (int i = 1; i + 1 < argc; i += 2) {
        uint64_t value = strtoull(argv[i + 1], NULL, 10);
        if (strcmp(argv[i], "--km") == 0)
            km = (double)value;
        else if (strcmp(argv[i], "--seed") == 0)
            seed = value;
        else if (strcmp(argv[i], "--only") == 0) {
            seed = value;
            km = 0;
            bench.all = true;
        } else {
            fprintf(stderr, "bench_prompts: unknown option %s\n", argv[i]);
            return 2;
        }
    }
    uint64_t first = seed;
    cab.stepped = stepped;
    do
        drive_net(seed++);
    while (bench.driven_m < 1000 * km);
    printf("%" PRIu64 " drives, %.0f km, %" PRIu64 " steps; nets from %" PRIu64 "\n", bench.drives,
           bench.driven_m / 1000, bench.steps, first);
    uint64_t apart = print();
    net_cab_free(&cab);
    return apart == 0 ? 0 : 1;
}
