/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Drives the routes of a net with the locator alone and books what it told against the truth. */
#include "locate_tally.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "talkdown/units.h"

#define CLEAR_SIGMAS   8.0
#define JUST_LEFT_M    100.0
#define HELD_MOST_M    150.0
#define MISSED_LEAST_M 800.0
#define APPROACH_M     2000.0 /* of file before the crest: what a profile should have */

const double tally_sigmas_m[TALLY_SIGMAS] = {1, 2, 3, 5, 8, 10, 15};

/* One stay on one hill's road. */
struct visit {
    bool on, joined, told, isolated, approach_shared, shared;
    double from_route_m, from_along_m, off_m;
    int64_t from_ns;
};

struct tally_work {
    struct net net;
    struct net_drive drive;
    struct td_locator locator;
    struct td_hill_slot slots[TD_HILL_SLOTS];
    struct visit visits[TD_HILL_SLOTS];
    uint32_t told;            /* handle at the last fix */
    bool told_was_right;      /* since it is told */
    bool wrong_place;
    double left_m;            /* driven 8 sigma off since */
    double before_m;          /* route at the last fix */
    size_t route_index;
    bool trace;
    bool alone_net; /* this net only */
};

struct tally_work *tally_work_new(void)
{
    struct tally_work *work = calloc(1, sizeof *work);
    if (work == NULL)
        abort();
    return work;
}

static void spread_init(struct tally_spread *spread, double step)
{
    spread->step = step;
}

void tally_init(struct tally *tally)
{
    memset(tally, 0, sizeof *tally);
    for (int i = 0; i < TALLY_SIGMAS; i++)
        for (int k = 0; k < 2; k++)
            spread_init(&tally->error[i][k], 0.1);
    spread_init(&tally->error_share, 0.001);
    spread_init(&tally->cold_m, 2);
    spread_init(&tally->cold_s, 0.5);
    spread_init(&tally->joined_m, 2);
    spread_init(&tally->joined_s, 0.5);
    spread_init(&tally->held_m, 1);
}

void tally_spread_add(struct tally_spread *spread, double value)
{
    size_t bin = value < 0 ? 0 : (size_t)(value / spread->step);
    spread->bins[bin < TALLY_BINS ? bin : TALLY_BINS - 1]++;
    spread->count++;
    spread->most = fmax(spread->most, value);
}

double tally_spread_share(const struct tally_spread *spread, double share)
{
    uint64_t wanted = (uint64_t)ceil(share * (double)spread->count), seen = 0;
    for (size_t i = 0; i < TALLY_BINS; i++) {
        seen += spread->bins[i];
        if (seen >= wanted && seen > 0)
            return ((double)i + 1) * spread->step;
    }
    return 0;
}

static void spread_merge(struct tally_spread *into, const struct tally_spread *from)
{
    for (size_t i = 0; i < TALLY_BINS; i++)
        into->bins[i] += from->bins[i];
    into->count += from->count;
    into->most = fmax(into->most, from->most);
}

void tally_merge(struct tally *into, const struct tally *from)
{
    for (int i = 0; i < TALLY_SIGMAS; i++)
        for (int k = 0; k < 2; k++)
            spread_merge(&into->error[i][k], &from->error[i][k]);
    spread_merge(&into->error_share, &from->error_share);
    spread_merge(&into->cold_m, &from->cold_m);
    spread_merge(&into->cold_s, &from->cold_s);
    spread_merge(&into->joined_m, &from->joined_m);
    spread_merge(&into->joined_s, &from->joined_s);
    spread_merge(&into->held_m, &from->held_m);
    into->nets += from->nets;
    into->drives += from->drives;
    into->fixes += from->fixes;
    into->told_fixes += from->told_fixes;
    into->approaches += from->approaches;
    into->approaches_told += from->approaches_told;
    into->shared += from->shared;
    into->shared_told += from->shared_told;
    into->flattered += from->flattered;
    into->flattered_told += from->flattered_told;
    into->visits += from->visits;
    into->visits_told += from->visits_told;
    into->driven_m += from->driven_m;
    into->off_hill_m += from->off_hill_m;
    into->near_under_2 += from->near_under_2;
    into->near_under_4 += from->near_under_4;
    into->near_both += from->near_both;
    for (int i = 0; i < TALLY_WHATS; i++)
        into->whats[i] += from->whats[i];
    for (int i = 0; i < NET_KINDS; i++)
        into->false_kinds[i] += from->false_kinds[i];
    for (size_t i = 0; i < from->event_count && into->event_count < TALLY_EVENTS_MAX; i++)
        into->events[into->event_count++] = from->events[i];
}

static void book(struct tally_work *work, struct tally *tally, enum tally_what what, size_t hill,
                 double away_m)
{
    tally->whats[what]++;
    struct tally_event event = {what, work->net.seed, work->route_index, hill,
                                work->drive.receiver, work->drive.truth.route_m, away_m};
    /* Common ones would crowd the others out; a single net's are all kept. */
    bool common = what == TALLY_FALSE_NEAR || what == TALLY_WAITED || what == TALLY_GIVEN_UP;
    if (tally->event_count < TALLY_EVENTS_MAX && (work->alone_net || !common))
        tally->events[tally->event_count++] = event;
}

static int sigma_index(double sigma_m)
{
    int i = 0;
    while (i + 1 < TALLY_SIGMAS && tally_sigmas_m[i] < sigma_m)
        i++;
    return i;
}

/* From where the truck comes on to the crest: the main road stands alone, 8 sigma or more. */
static bool is_alone(struct tally_work *work, double from_m, double to_m)
{
    const struct net_road *road = &work->net.roads[0];
    double apart_m = CLEAR_SIGMAS * work->drive.receiver.sigma_m;
    for (double at_m = from_m; at_m < to_m; at_m += 25) {
        struct net_point a = net_road_at(road, at_m), b = net_road_at(road, at_m + 5);
        double heading = atan2(b.y_m - a.y_m, b.x_m - a.x_m);
        if (net_neighbour_m(&work->net, 0, &a, heading) < apart_m)
            return false;
    }
    return true;
}

/* Another hill on file has some of the approach's road in the same direction. */
static bool is_shared(const struct tally_work *work, double from_m, double to_m)
{
    for (double at_m = from_m; at_m < to_m; at_m += 25)
        for (size_t k = 1; k < work->net.hill_count; k++)
            if (net_hill_path_m(&work->net.hills[k], 0, at_m, 1) >= 0)
                return true;
    return false;
}

static void visit_begin(struct tally_work *work, size_t k, double along_m)
{
    const struct net_drive *drive = &work->drive;
    const struct td_hill *hill = &work->net.hills[k].hill;
    struct visit *visit = &work->visits[k];
    *visit = (struct visit){.on = true,
                            .joined = drive->truth.route_m > 30 && along_m > 30,
                            .from_route_m = drive->truth.route_m,
                            .from_along_m = along_m,
                            .from_ns = drive->now_ns};
    if (k != 0 || !hill->coached || hill->crest_m - along_m < APPROACH_M)
        return;
    double from_m = drive->truth.road_m, to_m = from_m + hill->crest_m - along_m;
    visit->isolated = is_alone(work, from_m, to_m);
    visit->approach_shared = is_shared(work, from_m, to_m);
}

/* Another hill on file within 8 sigma, half of the way from there on or more. */
static bool has_neighbour(const struct tally_work *work, size_t k, double from_m)
{
    const struct net_drive *drive = &work->drive;
    int near = 0, looks = 0;
    for (double at_m = from_m; at_m < work->before_m; at_m += 50, looks++) {
        const struct net_point *a = &drive->line.points[td_hill_station_at(&drive->as_hill, at_m)];
        double heading = atan2(a[1].y_m - a[0].y_m, a[1].x_m - a[0].x_m), least_m = HUGE_VAL;
        for (size_t i = 0; i < work->net.hill_count; i++)
            if (i != k)
                least_m = fmin(least_m, net_hill_distance_m(&work->net.hills[i], a->x_m, a->y_m,
                                                            heading));
        near += least_m < CLEAR_SIGMAS * net_drive_doubt_m(drive, k);
    }
    return 2 * near >= looks;
}

static void visit_end(struct tally_work *work, struct tally *tally, size_t k)
{
    struct visit *visit = &work->visits[k];
    double stayed_m = work->before_m - visit->from_route_m;
    if (!visit->on)
        return;
    visit->on = false;
    /* Of two hills on one road the other may be told, or neither before they part. */
    if (stayed_m < MISSED_LEAST_M || (visit->shared && !visit->told))
        return;
    tally->visits++;
    tally->visits_told += visit->told;
    if (!visit->told)
        book(work, tally, has_neighbour(work, k, visit->from_route_m) ? TALLY_WAITED
                                                                      : TALLY_MISSED,
             k, stayed_m);
}

static void visit_told(struct tally_work *work, struct tally *tally, size_t k, double along_m)
{
    struct visit *visit = &work->visits[k];
    const struct td_hill *hill = &work->net.hills[k].hill;
    double after_m = work->drive.truth.route_m - visit->from_route_m;
    double after_s = td_s_from_ns(work->drive.now_ns - visit->from_ns);
    visit->told = true;
    tally_spread_add(visit->joined ? &tally->joined_m : &tally->cold_m, after_m);
    tally_spread_add(visit->joined ? &tally->joined_s : &tally->cold_s, after_s);
    bool in_time = hill->crest_m - along_m >= TD_M_PER_MI;
    if (!visit->isolated)
        return;
    double claim = work->drive.receiver.claim;
    bool flattered = claim > 0 && claim < 1;
    uint64_t *all = visit->approach_shared ? &tally->shared
                    : flattered            ? &tally->flattered
                                           : &tally->approaches;
    uint64_t *told = visit->approach_shared ? &tally->shared_told
                     : flattered            ? &tally->flattered_told
                                            : &tally->approaches_told;
    *all += 1;
    *told += in_time;
    if (!in_time && all == &tally->approaches)
        book(work, tally, TALLY_LATE, k, hill->crest_m - along_m);
}

/* On the hill that is told. */
static void book_right(struct tally_work *work, struct tally *tally, size_t k, double along_m,
                       double told_m)
{
    const struct net_receiver *receiver = &work->drive.receiver;
    double error_m = fabs(told_m - along_m);
    tally->told_fixes++;
    tally_spread_add(&tally->error[sigma_index(receiver->sigma_m)][receiver->claim < 1],
                     error_m);
    if (receiver->claim >= 1)
        tally_spread_add(&tally->error_share, error_m / (2 * receiver->sigma_m + 2));
    bool wrong = error_m > fmax(50, 6 * receiver->sigma_m);
    if (wrong && !work->wrong_place)
        book(work, tally, TALLY_WRONG_PLACE, k, error_m);
    work->wrong_place = wrong;
    work->told_was_right = true;
    work->left_m = 0;
    if (!work->visits[k].told)
        visit_told(work, tally, k, along_m);
}

static bool is_on_file(const struct tally_work *work)
{
    for (size_t i = 0; i < work->net.hill_count; i++)
        if (net_drive_along_m(&work->drive, i) >= 0)
            return true;
    return false;
}

/* Not on the hill that is told. */
static void book_wrong(struct tally_work *work, struct tally *tally, size_t k, bool newly,
                       double moved_m)
{
    const struct net_truth *truth = &work->drive.truth;
    double sigma_m = work->drive.receiver.sigma_m, doubt_m = net_drive_doubt_m(&work->drive, k);
    double away_m = net_hill_distance_m(&work->net.hills[k], truth->x_m, truth->y_m,
                                        truth->heading_rad);
    bool clear = away_m >= CLEAR_SIGMAS * doubt_m;
    if (newly) {
        away_m = net_drive_away_m(&work->drive, k, JUST_LEFT_M);
        bool apart = away_m >= CLEAR_SIGMAS * sigma_m;
        bool by_both = away_m >= CLEAR_SIGMAS * doubt_m;
        bool filed = is_on_file(work);
        book(work, tally, by_both ? TALLY_FALSE_CLEAR
                          : apart ? TALLY_FALSE_SURVEY
                          : filed ? TALLY_FALSE_FILED
                                  : TALLY_FALSE_NEAR, k, away_m);
        tally->near_under_2 += away_m < 2 * doubt_m;
        tally->near_under_4 += away_m < 4 * doubt_m;
        tally->near_both += filed;
        tally->false_kinds[work->drive.route->kind]++;
    }
    if (!clear)
        return;
    double before_m = work->left_m;
    work->left_m += moved_m;
    if (before_m < HELD_MOST_M && work->left_m >= HELD_MOST_M)
        book(work, tally, TALLY_HELD, k, away_m);
}

static void trace_fix(const struct tally_work *work, const struct td_located *located)
{
    const struct net_truth *truth = &work->drive.truth;
    printf("t %.1f route %.0f road %d at %.0f way %d v %.1f | %s %u along %.1f |",
           td_s_from_ns(work->drive.now_ns), truth->route_m, truth->road, truth->road_m,
           truth->direction, truth->speed_mps, td_where_name(located->where), located->handle,
           located->along_m);
    for (size_t k = 0; k < work->net.hill_count; k++) {
        double along_m = net_drive_along_m(&work->drive, k);
        double away_m = net_hill_distance_m(&work->net.hills[k], truth->x_m, truth->y_m,
                                            truth->heading_rad);
        if (along_m >= 0 || away_m < 100)
            printf(" hill %zu true %.1f off %.1f", k + 1, along_m, away_m);
    }
    for (size_t i = 0; i < TD_HYPOTHESES_MAX; i++) {
        const struct td_hypothesis *h = &work->locator.hypotheses[i];
        if (h->handle != 0)
            printf(" [%u%c %.0f ll %.1f age %.0f agr %.0f off %.1f lat %.1f]", h->handle,
                   h->direction > 0 ? '+' : '-', h->along_m, h->log_likelihood, h->age_m,
                   h->agreed_m, h->offset_m, h->lateral_m);
    }
    printf("\n");
}

static void mark_shared(struct tally_work *work)
{
    size_t on = 0;
    for (size_t k = 0; k < work->net.hill_count; k++)
        on += work->visits[k].on;
    for (size_t k = 0; on > 1 && k < work->net.hill_count; k++)
        work->visits[k].shared |= work->visits[k].on;
}

static void book_fix(struct tally_work *work, struct tally *tally)
{
    struct td_located located = td_located_now(&work->locator);
    double moved_m = work->drive.truth.route_m - work->before_m;
    bool told = located.where == TD_WHERE_ON_HILL || located.where == TD_WHERE_COASTING;
    uint32_t handle = told ? located.handle : 0;
    bool newly = handle != work->told, on_any = false;
    if (newly) {
        work->told_was_right = work->wrong_place = false;
        if (work->left_m > 0)
            tally_spread_add(&tally->held_m, work->left_m);
        work->left_m = 0;
    }
    for (size_t k = 0; k < work->net.hill_count; k++) {
        double along_m = net_drive_along_m(&work->drive, k);
        struct visit *visit = &work->visits[k];
        on_any |= along_m >= 0;
        if (along_m >= 0 && !visit->on)
            visit_begin(work, k, along_m);
        if (along_m < 0)
            visit_end(work, tally, k);
        if (newly && handle == 0 && work->told == k + 1 && visit->told && along_m >= 0 &&
            along_m < work->net.hills[k].hill.length_m - JUST_LEFT_M &&
            located.where != TD_WHERE_LOST)
            book(work, tally, TALLY_GIVEN_UP, k, along_m);
        if (handle != k + 1)
            continue;
        if (along_m >= 0)
            book_right(work, tally, k, along_m, located.along_m);
        else
            book_wrong(work, tally, k, newly, moved_m);
    }
    mark_shared(work);
    work->told = handle;
    tally->driven_m += moved_m;
    tally->off_hill_m += on_any ? 0 : moved_m;
    work->before_m = work->drive.truth.route_m;
    if (work->trace)
        trace_fix(work, &located);
}

static void drive_route(struct tally_work *work, struct tally *tally, size_t r,
                        const struct net_receiver *receiver)
{
    struct net_drive *drive = &work->drive;
    net_drive_begin(drive, &work->net, &work->net.routes[r], receiver,
                    work->net.seed * 64 + r);
    td_locator_init(&work->locator);
    memset(work->visits, 0, sizeof work->visits);
    work->told = 0;
    work->told_was_right = work->wrong_place = false;
    work->left_m = work->before_m = 0;
    work->route_index = r;
    while (net_drive_next(drive)) {
        td_locate_tick(&work->locator, work->slots, drive->now_ns);
        if (drive->has_fix)
            td_locate_fix(&work->locator, work->slots, &drive->fix, drive->now_ns);
        tally->fixes += drive->has_fix;
        book_fix(work, tally);
    }
    for (size_t k = 0; k < work->net.hill_count; k++)
        visit_end(work, tally, k);
    tally->drives++;
}

void tally_net(struct tally_work *work, struct tally *tally, uint64_t seed,
               const struct tally_only *only)
{
    struct td_rng rng;
    td_rng_seed(&rng, seed, 0x72656376U);
    net_draw(&work->net, seed);
    memset(work->slots, 0, sizeof work->slots);
    for (size_t k = 0; k < work->net.hill_count; k++)
        work->slots[k] = (struct td_hill_slot){(uint32_t)k + 1, &work->net.hills[k].hill};
    work->alone_net = only != NULL;
    work->trace = only != NULL && only->trace;
    for (size_t r = 0; r < work->net.route_count; r++) {
        struct net_receiver receiver = net_receiver_draw(&rng);
        if (only == NULL || only->route < 0 || only->route == (long)r)
            drive_route(work, tally, r, &receiver);
    }
    tally->nets++;
}

const char *tally_what_name(enum tally_what what)
{
    static const char *const names[TALLY_WHATS] = {
        "false, roads apart",    "false, apart by receiver", "false, roads near",
        "false, both on file",
        "told on after leaving", "wrong place",              "late",
        "missed",                "waited, roads near",      "given up on its road",
    };
    return names[what];
}
