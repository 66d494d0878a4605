/* SPDX-License-Identifier: GPL-3.0-or-later */
/* bench_locate [--km N] [--seed FIRST] [--threads N] [--only SEED [--route N] [--trace]]
 * The locator on random road nets, judged against the truth; the tables of docs/locating.md.
 * Exit 1 when an aim is missed (see `judge`). */
#include <inttypes.h>
#include <math.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "locate_tally.h"

struct options {
    double km;
    uint64_t first;
    int threads;
    bool only;
    struct tally_only looked;
};

struct worker {
    const struct options *options;
    int index;
    struct tally *tally;
    struct tally_work *work;
};

enum { THREADS_MAX = 2, NETS_A_ROUND = 8 };

static void *work_round(void *of)
{
    struct worker *worker = of;
    uint64_t seed = worker->options->first + (uint64_t)worker->index;
    for (int i = 0; i < NETS_A_ROUND; i++)
        tally_net(worker->work, &worker->tally[i],
                  seed + (uint64_t)(i * worker->options->threads), NULL);
    return NULL;
}

/* Rounds of nets until that many kilometres are driven; merged in the order of seeds, so that the
 * figures do not depend on the threads' number beyond the round. */
static void run(const struct options *given, struct tally *total)
{
    struct options options = *given;
    struct worker workers[THREADS_MAX];
    for (int t = 0; t < options.threads; t++) {
        workers[t] = (struct worker){&options, t, calloc(NETS_A_ROUND, sizeof *total),
                                     tally_work_new()};
        if (workers[t].tally == NULL)
            abort();
    }
    while (total->driven_m < options.km * 1000) {
        pthread_t threads[THREADS_MAX];
        for (int t = 0; t < options.threads; t++) {
            for (int i = 0; i < NETS_A_ROUND; i++)
                tally_init(&workers[t].tally[i]);
            if (pthread_create(&threads[t], NULL, work_round, &workers[t]) != 0)
                abort();
        }
        for (int t = 0; t < options.threads; t++)
            (void)pthread_join(threads[t], NULL);
        for (int i = 0; i < NETS_A_ROUND; i++)
            for (int t = 0; t < options.threads; t++)
                tally_merge(total, &workers[t].tally[i]);
        options.first += (uint64_t)(NETS_A_ROUND * options.threads);
    }
    for (int t = 0; t < options.threads; t++) {
        free(workers[t].tally);
        free(workers[t].work);
    }
}

static void print_errors(const struct tally *tally)
{
    static const char *const claims[] = {"as it is", "half, or none"};
    printf("Along-road error, m, by the receiver's sigma (one standard deviation per axis):\n"
           "sigma  claims        fixes      p50    p95    max    aim (2 sigma + 2)\n");
    for (int k = 0; k < 2; k++)
        for (int i = 0; i < TALLY_SIGMAS; i++) {
            const struct tally_spread *error = &tally->error[i][k];
            double aim_m = 2 * tally_sigmas_m[i] + 2, p95_m = tally_spread_share(error, 0.95);
            printf("%5.0f  %-13s %9" PRIu64 " %6.1f %6.1f %6.1f   %2.0f%s\n", tally_sigmas_m[i],
                   claims[k], error->count, tally_spread_share(error, 0.5), p95_m, error->most,
                   aim_m, p95_m > aim_m ? " over" : "");
        }
}

static void print_spread(const char *name, const struct tally_spread *spread)
{
    printf("%-46s %7" PRIu64 "  p50 %6.1f  p95 %6.1f  max %6.1f\n", name, spread->count,
           tally_spread_share(spread, 0.5), tally_spread_share(spread, 0.95), spread->most);
}

static void print_found(const struct tally *tally)
{
    double per_1000km = 1e6 / tally->driven_m;
    printf("\nRecognition:\n");
    print_spread("  started on the hill's road: m until told", &tally->cold_m);
    print_spread("  started on the hill's road: s until told", &tally->cold_s);
    print_spread("  joined it: m until told", &tally->joined_m);
    print_spread("  joined it: s until told", &tally->joined_s);
    print_spread("  left it: m told on, 8 sigma off", &tally->held_m);
    printf("  stays of 800 m and more told: %" PRIu64 " of %" PRIu64 "\n", tally->visits_told,
           tally->visits);
    printf("  told a mile ahead of the crest, approach 2 km and alone: %" PRIu64 " of %" PRIu64
           " (%.2f %%)\n", tally->approaches_told, tally->approaches,
           100.0 * (double)tally->approaches_told / fmax(1, (double)tally->approaches));
    printf("  the same, another hill on file shares the approach: %" PRIu64 " of %" PRIu64 "\n",
           tally->shared_told, tally->shared);
    printf("  the same, the receiver claims half its error: %" PRIu64 " of %" PRIu64 "\n",
           tally->flattered_told, tally->flattered);
    printf("\nFalse recognitions in %.0f km (%.0f km on no hill on file):\n",
           tally->driven_m / 1000, tally->off_hill_m / 1000);
    for (int i = 0; i < TALLY_WHATS; i++)
        printf("  %-24s %6" PRIu64 "  %.4f per 1,000 km\n",
               tally_what_name((enum tally_what)i), tally->whats[i],
               (double)tally->whats[i] * per_1000km);
    printf("  of all false: under 2 sigma %" PRIu64 ", under 4 sigma %" PRIu64
           ", both roads on file %" PRIu64 "; by route:", tally->near_under_2,
           tally->near_under_4, tally->near_both);
    for (int i = 0; i < NET_KINDS; i++)
        printf(" %s %" PRIu64, net_kind_name((enum net_kind)i), tally->false_kinds[i]);
    printf("\n");
}

static void print_events(const struct tally *tally)
{
    for (size_t i = 0; i < tally->event_count; i++) {
        const struct tally_event *event = &tally->events[i];
        printf("%s: --only %" PRIu64 " --route %zu (hill %zu, sigma %.0f x%.1f, %.0f Hz) at %.0f m,"
               " %.1f m\n", tally_what_name(event->what), event->seed, event->route,
               event->hill + 1, event->receiver.sigma_m, event->receiver.claim,
               event->receiver.rate_hz, event->route_m, event->away_m);
    }
}

/* One aim, printed; true when it is met. */
static bool aim(bool met, const char *words)
{
    printf("%s: %s\n", met ? "met   " : "MISSED", words);
    return met;
}

static bool judge(const struct tally *tally)
{
    bool well = true;
    printf("\n");
    well &= aim(tally_spread_share(&tally->error_share, 0.95) <= 1,
                "95 % of told places within 2 sigma + 2 m where claims are honest");
    well &= aim(tally->whats[TALLY_WRONG_PLACE] == 0, "never at a wrong place of the hill");
    well &= aim(tally->whats[TALLY_FALSE_CLEAR] == 0,
                "nothing recognised on a road 8 sigma off");
    well &= aim(tally->whats[TALLY_HELD] == 0, "nothing told on after leaving");
    well &= aim((double)tally->approaches_told >= 0.99 * (double)tally->approaches,
                "99 % recognised a mile ahead of the crest");
    return well;
}

static uint64_t number(const char *text)
{
    char *end;
    uint64_t value = strtoull(text, &end, 10);
    if (*end != '\0' || end == text) {
        fprintf(stderr, "bench_locate: %s is not a whole number\n", text);
        exit(2);
    }
    return value;
}

static void read_options(int argc, char **argv, struct options *options)
{
    for (int i = 1; i < argc; i++) {
        const char *value = i + 1 < argc ? argv[i + 1] : "";
        if (strcmp(argv[i], "--trace") == 0) {
            options->looked.trace = true;
            continue;
        }
        i++;
        if (strcmp(argv[i - 1], "--km") == 0)
            options->km = (double)number(value);
        else if (strcmp(argv[i - 1], "--seed") == 0 || strcmp(argv[i - 1], "--only") == 0)
            options->first = number(value);
        else if (strcmp(argv[i - 1], "--threads") == 0)
            options->threads = number(value) > 1 ? THREADS_MAX : 1;
        else if (strcmp(argv[i - 1], "--route") == 0)
            options->looked.route = (long)number(value);
        else {
            fprintf(stderr, "bench_locate: unknown option %s\n", argv[i - 1]);
            exit(2);
        }
        options->only |= strcmp(argv[i - 1], "--only") == 0;
    }
}

int main(int argc, char **argv)
{
    static struct tally total;
    struct options options = {.km = 1000, .first = 1, .threads = 1, .looked = {.route = -1}};
    read_options(argc, argv, &options);
    tally_init(&total);
    if (options.only)
        tally_net(tally_work_new(), &total, options.first, &options.looked);
    else
        run(&options, &total);
    printf("%" PRIu64 " nets, %" PRIu64 " drives, %.0f km, %" PRIu64 " fixes; seeds from %" PRIu64
           "\n", total.nets, total.drives, total.driven_m / 1000, total.fixes, options.first);
    print_errors(&total);
    print_found(&total);
    bool well = judge(&total);
    print_events(&total);
    return options.only || well ? 0 : 1;
}
