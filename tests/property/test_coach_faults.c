/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The coach under the faults that receivers were recorded with: silence, a frozen place with times
 * that go on, jumps of kilometres, smooth coasting in a straight line, dates rolled over by 1,024
 * weeks, zero and swapped coordinates, steps of height, stamps doubled and reordered, lines late,
 * and out of a silence a few places wide of the road under a date rolled over.
 * The laws: nothing is said about the hill while the truck is more than 30 m from where it is
 * thought to be; blindness is told within its limit; once; and its end too. */
#include "support/cm.h"

#include "support/coach_bench.h"
#include "support/drive.h"
#include "support/seed.h"

enum fault {
    F_NONE = 0, F_SILENT, F_BURSTS, F_FROZEN, F_FROZEN_STILL, F_JUMP, F_WILD, F_COAST, F_ROLL_OVER,
    F_ZERO, F_SWAPPED, F_HEIGHT, F_DOUBLED, F_REORDERED, F_LATE, F_WAKES_WRONG, F_KINDS
};
static const char *const fault_names[F_KINDS] = {
    "none", "silent", "bursts", "frozen", "frozen, speed 0", "jump", "wild jumps", "coasting",
    "date", "zero", "swapped", "height", "doubled", "reordered", "late", "wakes wrong"};

#define ROLL_OVER_MS (1024LL * 7 * 86400 * 1000)
#define ASTRAY_M     30.0
/* 20 s, an interval of fixes, and what is being said before it may end first. */
#define BLIND_MOST_S 26.0

static struct road road;
static struct drive receiver; /* its errors only */
static struct td_rng draw;
static struct coach_bench *bench;

static struct {
    enum fault fault;
    uint64_t seed;
    double along_m, speed_mps; /* truth at the last second */
    int64_t second_ns;
    bool told_once, lost_said;
    int64_t seeing_ns; /* when the place told was last true */
    double worst_m, blind_most_s;
    long prompts, losses, founds;
} run;

static void draw_road(void)
{
    road_begin(&road, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 1500, td_rng_between(&draw, -180, 180));
    road_add(&road, 2200, td_rng_between(&draw, -40, 40), 0.0, 25);
    double side = td_rng_below(&draw, 2) ? 1.0 : -1.0;
    for (int i = 0; i < 14; i++) {
        double length = td_rng_between(&draw, 150, 450);
        road_add(&road, length, side * td_rng_between(&draw, 25, 80), 0.07, 25);
        side = -side;
    }
    road_add(&road, 900, 0, 0.0, 25);
    road_done(&road);
}

static double truth_now_m(void)
{
    return run.along_m + run.speed_mps * td_s_from_ns(bench->now_ns - run.second_ns);
}

#define CHECK(condition, ...)                                                                      \
    do {                                                                                           \
        if (!(condition)) {                                                                        \
            printf("seed %llu, %s, %.1f s, %.0f m: ", (unsigned long long)run.seed,                \
                   fault_names[run.fault], td_s_from_ns(bench->now_ns), truth_now_m());            \
            printf(__VA_ARGS__);                                                                   \
            printf("\n");                                                                          \
            fail();                                                                                \
        }                                                                                          \
    } while (0)

static void check_spoken(const struct td_prompt *prompt, double error_m)
{
    if (prompt->id == TD_PROMPT_POSITION_LOST) {
        run.lost_said = true;
        run.losses++;
    } else if (prompt->id == TD_PROMPT_POSITION_BACK) {
        run.lost_said = false;
        run.founds++;
    } else if (prompt->hill_handle != 0 && prompt->id > TD_PROMPT_RIG_NOT_SET) {
        CHECK(error_m <= ASTRAY_M, "%s while %.0f m astray", td_prompt_key(prompt->id), error_m);
        run.worst_m = fmax(run.worst_m, error_m);
        run.prompts++;
    }
}

static void watch(struct coach_bench *b)
{
    const struct td_estimate *estimate = &b->output.estimate;
    double truth_m = truth_now_m();
    double error_m =
        estimate->handle != 0 ? fabs(estimate->along_m - truth_m) : (double)INFINITY;
    if (b->output.has_speak)
        check_spoken(&b->output.speak, error_m);
    unsigned lost = b->spoken_count[TD_PROMPT_POSITION_LOST];
    unsigned found = b->spoken_count[TD_PROMPT_POSITION_BACK];
    CHECK(found <= lost && lost <= found + 1, "lost was said %u times, found %u", lost, found);
    run.told_once = run.told_once || estimate->handle != 0;
    if (error_m <= ASTRAY_M || run.lost_said || !run.told_once || run.speed_mps < 1.0 ||
        truth_m > road.hill.foot_m)
        run.seeing_ns = b->now_ns;
    double blind_s = td_s_from_ns(b->now_ns - run.seeing_ns);
    run.blind_most_s = fmax(run.blind_most_s, blind_s);
    CHECK(blind_s <= BLIND_MOST_S, "blind for %.0f s, and nothing said (%s, %.0f m astray)",
          blind_s, td_where_name(estimate->where), error_m);
}

static struct td_fix true_fix(void)
{
    double lat, lon, track;
    drive_place(&road, run.along_m, 1, 0, &lat, &lon, &track);
    receiver.height_m = td_hill_elevation_at(&road.hill, run.along_m);
    receiver.now_ns = run.second_ns;
    drive_wander(&receiver, 1.0);
    return drive_make_fix(&receiver, lat, lon, run.speed_mps, track);
}

static void deliver(const struct td_fix *fix)
{
    bench->input.has_fix = true;
    bench->input.fix = *fix;
    bench->input.fix.received_ns = bench->now_ns;
    coach_bench_step(bench, bench->now_ns);
}

/* What the receiver had when the fault began, and the fixes held back. */
static struct {
    struct td_fix from;
    int from_s, until_s;
    double east_deg, north_deg;
    struct td_fix held[8];
    unsigned held_count;
} faulty;

/* Out of a tunnel: four seconds of places 200 m and more aside, dated 1,024 weeks back. */
static void wake_wrong(struct td_fix *fix, int left_s)
{
    fix->utc_ms -= ROLL_OVER_MS;
    if (left_s <= 4) {
        fix->lat_deg += faulty.north_deg / 100.0 + copysign(0.0015, faulty.north_deg);
        fix->lon_deg += faulty.east_deg / 100.0;
        deliver(fix);
    }
}

static void begin_fault(const struct td_fix *fix, int second, int until)
{
    memset(&faulty, 0, sizeof faulty);
    faulty.from = *fix;
    faulty.from_s = second;
    faulty.until_s = until;
    faulty.east_deg = td_rng_between(&draw, -0.3, 0.3);
    faulty.north_deg = td_rng_between(&draw, 0.03, 0.3) * (td_rng_below(&draw, 2) ? 1 : -1);
}

static void coast(struct td_fix *fix, int second)
{
    double t = second - faulty.from_s;
    double course = td_rad_from_deg(faulty.from.track_deg);
    fix->lat_deg = faulty.from.lat_deg +
                   td_deg_from_rad(faulty.from.speed_mps * t * cos(course) / 6371008.8);
    fix->lon_deg = faulty.from.lon_deg +
                   td_deg_from_rad(faulty.from.speed_mps * t * sin(course) / 6371008.8 /
                                   cos(td_rad_from_deg(faulty.from.lat_deg)));
    fix->speed_mps = faulty.from.speed_mps;
    fix->track_deg = faulty.from.track_deg;
}

static void release_held(void)
{
    for (unsigned i = 0; i < faulty.held_count; i++)
        deliver(&faulty.held[i]);
    faulty.held_count = 0;
}

/* Places that are wrong. */
static void bend(struct td_fix *fix, int second)
{
    switch (run.fault) {
    case F_FROZEN:
    case F_FROZEN_STILL:
        fix->lat_deg = faulty.from.lat_deg;
        fix->lon_deg = faulty.from.lon_deg;
        if (run.fault == F_FROZEN_STILL)
            fix->speed_mps = 0.0;
        break;
    case F_WILD:
        faulty.east_deg = td_rng_between(&draw, -0.3, 0.3);
        faulty.north_deg = td_rng_between(&draw, -0.3, 0.3);
        /* fall through */
    case F_JUMP:
        fix->lon_deg += faulty.east_deg;
        fix->lat_deg += faulty.north_deg;
        break;
    case F_COAST:
        coast(fix, second);
        break;
    case F_ZERO:
        if (faulty.east_deg < 0.1)
            fix->lat_deg = 0.0;
        if (faulty.east_deg > -0.1)
            fix->lon_deg = 0.0;
        break;
    case F_SWAPPED: {
        double lat = fix->lat_deg;
        fix->lat_deg = fix->lon_deg;
        fix->lon_deg = lat;
        break;
    }
    case F_HEIGHT:
        fix->altitude_m += 2000.0 * faulty.east_deg;
        break;
    case F_ROLL_OVER:
        fix->utc_ms -= ROLL_OVER_MS;
        break;
    default:
        break;
    }
}

/* Fixes that do not come, or not as they should. */
static void disorder(struct td_fix *fix, int second)
{
    switch (run.fault) {
    case F_SILENT:
        break;
    case F_BURSTS:
        if (second / 3 % 2)
            deliver(fix);
        break;
    case F_DOUBLED: {
        struct td_fix again = faulty.from; /* an old place under a new stamp's twin */
        again.utc_ms = fix->utc_ms;
        deliver(fix);
        deliver(&again);
        break;
    }
    case F_REORDERED:
        faulty.held[faulty.held_count++] = *fix;
        if (faulty.held_count == 2) {
            deliver(&faulty.held[1]);
            deliver(&faulty.held[0]);
            faulty.held_count = 0;
        }
        break;
    case F_LATE:
        faulty.held[faulty.held_count++] = *fix;
        if (td_rng_below(&draw, 3) == 0 || faulty.held_count == 4)
            release_held();
        break;
    case F_WAKES_WRONG:
        wake_wrong(fix, faulty.until_s - second);
        break;
    default:
        bend(fix, second);
        deliver(fix);
        break;
    }
}

static void drive_on(double *rate_mps2)
{
    if (td_rng_below(&draw, 8) == 0)
        *rate_mps2 = td_rng_between(&draw, -0.8, 0.6);
    run.along_m += run.speed_mps;
    run.second_ns = bench->now_ns;
    run.speed_mps = fmin(24.0, fmax(4.0, run.speed_mps + *rate_mps2));
}

static void take_seconds(enum fault kind)
{
    double rate_mps2 = 0.0;
    int begins_s = 150 + (int)td_rng_below(&draw, 150), lasts_s = 2 + (int)td_rng_below(&draw, 70);
    bool for_good = kind == F_ROLL_OVER || kind == F_HEIGHT;
    for (int second = 1; second < 900 && run.along_m < road.hill.length_m - 40; second++) {
        int64_t end_ns = (bench->now_ns / TD_NS_PER_S + 1) * TD_NS_PER_S;
        coach_bench_until(bench, end_ns - 1);
        bench->now_ns = end_ns;
        drive_on(&rate_mps2);
        struct td_fix fix = true_fix();
        bool now = second >= begins_s && (second < begins_s + lasts_s || for_good);
        run.fault = now ? kind : F_NONE;
        if (second == begins_s)
            begin_fault(&fix, second, begins_s + lasts_s);
        if (!now)
            release_held();
        if (now)
            disorder(&fix, second);
        else
            deliver(&fix);
        run.fault = kind;
        coach_bench_step(bench, end_ns); /* the laws are looked at each second at least */
    }
}

static void take_drive(enum fault kind, uint64_t seed)
{
    td_rng_seed(&draw, seed, 13);
    memset(&run, 0, sizeof run);
    draw_road();
    drive_begin(&receiver, td_rng_between(&draw, 1.5, 5.0), 1.0, seed);
    bench = coach_bench_new();
    for (size_t i = 0; i < road.count; i++)
        bench->stations[i] = road.stations[i];
    bench->hill = road.hill;
    bench->hill.stations = bench->stations;
    bench->hill.places = bench->places;
    coach_bench_place(bench, TD_PLACE_ESCAPE_LANE, 4200);
    bench->watch = watch;
    run.seed = seed;
    run.fault = kind;
    run.speed_mps = td_rng_between(&draw, 8, 18);
    coach_bench_start(bench);
    coach_bench_step(bench, 0);
    take_seconds(kind);
}

static void never_misleads(void **state)
{
    enum fault kind = *(const enum fault *)*state;
    long prompts = 0, losses = 0, founds = 0;
    double worst_m = 0.0, blind_s = 0.0;
    struct td_rng rng;
    test_seed(&rng, __func__, 20);
    uint64_t first = td_rng_u32(&rng);
    int drives = getenv("TD_DRIVES") ? (int)strtol(getenv("TD_DRIVES"), NULL, 10) : 25;
    for (int i = 0; i < drives; i++) {
        take_drive(kind, first + (uint64_t)i);
        prompts += run.prompts;
        losses += run.losses;
        founds += run.founds;
        worst_m = fmax(worst_m, run.worst_m);
        blind_s = fmax(blind_s, run.blind_most_s);
        coach_bench_free(bench);
    }
    printf("%-16s %4ld prompts, astray by at most %4.1f m; lost said %2ld times, found %2ld; "
           "blind unsaid for at most %4.1f s\n",
           fault_names[kind], prompts, worst_m, losses, founds, blind_s);
    assert_true(prompts > drives); /* else nothing was tried */
}

/* One test a fault, by its name. */
int main(void)
{
    static enum fault kinds[F_KINDS];
    struct CMUnitTest tests[F_KINDS];
    for (int kind = 0; kind < F_KINDS; kind++) {
        kinds[kind] = (enum fault)kind;
        tests[kind] = (struct CMUnitTest){fault_names[kind], never_misleads, NULL, NULL,
                                          &kinds[kind]};
    }
    return cmocka_run_group_tests(tests, NULL, NULL);
}
