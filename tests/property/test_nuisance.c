/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A22: what is said on roads without a grade, at most once in four hours (Lerner, TRID 574800,
 * abstract read: drivers bore nuisance alarms once in one to four hours, of a voice less). Recorded
 * drives on flat roads, as they are and again and again through a receiver that is much worse than
 * those were. Where hills are on file nearby, bench.locate counts what is told of the wrong road.
 */
#include "support/cm.h"

#include <stdlib.h>

#include "support/recorded.h"
#include "support/rig_five_axle.h"
#include "support/seed.h"
#include "talkdown/coach.h"

/* Motorway drives, a phone and a USB receiver, and a car at 10 Hz. */
static const char *const flat[] = {"motorway/trip-1-phone.tpv.json", "motorway/trip-1-usb.tpv.json",
                                   "motorway/trip-2-phone.tpv.json", "ten-hertz/car.tpv.json"};
enum { FLAT = sizeof flat / sizeof flat[0] };

/* What befalls a receiver in an hour; all of it invented, and more than any recording shows. */
#define SILENCES_AN_HOUR 10.0 /* of 2 to 60 s */
#define JUMPS_AN_HOUR    8.0  /* of up to 500 m, for 2 to 12 s */
#define FREEZES_AN_HOUR  6.0  /* the place stays for 2 to 20 s, the speed does not */
#define WANDER_M         12.0 /* along a Gauss-Markov path of 40 s */
#define HEIGHT_WANDER_M  12.0
#define WANDER_S         40.0

struct bad_receiver {
    struct td_rng rng;
    double east_m, north_m, up_m;
    double silent_s, jump_s, jump_m, freeze_s; /* left of it */
    struct td_fix frozen;
};

static double wander(struct bad_receiver *bad, double now, double sigma, double dt_s)
{
    double keep = exp(-dt_s / WANDER_S);
    return keep * now + sqrt(1 - keep * keep) * sigma * td_rng_normal(&bad->rng);
}

static void befall(struct bad_receiver *bad, double *left_s, double an_hour, double most_s,
                   double dt_s)
{
    *left_s -= dt_s;
    if (*left_s <= 0 && td_rng_unit(&bad->rng) < an_hour * dt_s / 3600)
        *left_s = td_rng_between(&bad->rng, 2, most_s);
}

/* False while it is silent. */
static bool spoil(struct bad_receiver *bad, struct td_fix *fix, double dt_s)
{
    bad->east_m = wander(bad, bad->east_m, WANDER_M, dt_s);
    bad->north_m = wander(bad, bad->north_m, WANDER_M, dt_s);
    bad->up_m = wander(bad, bad->up_m, HEIGHT_WANDER_M, dt_s);
    bool jumped = bad->jump_s > 0, froze = bad->freeze_s > 0;
    befall(bad, &bad->silent_s, SILENCES_AN_HOUR, 60, dt_s);
    befall(bad, &bad->jump_s, JUMPS_AN_HOUR, 12, dt_s);
    befall(bad, &bad->freeze_s, FREEZES_AN_HOUR, 20, dt_s);
    if (!jumped)
        bad->jump_m = td_rng_between(&bad->rng, -500, 500);
    fix->lat_deg += (bad->north_m + (bad->jump_s > 0 ? bad->jump_m : 0)) / 111200;
    fix->lon_deg += bad->east_m / (111200 * cos(fix->lat_deg * TD_PI / 180));
    fix->altitude_m += bad->up_m;
    if (!froze)
        bad->frozen = *fix;
    if (bad->freeze_s > 0) {
        fix->lat_deg = bad->frozen.lat_deg;
        fix->lon_deg = bad->frozen.lon_deg;
        fix->altitude_m = bad->frozen.altitude_m;
    }
    return bad->silent_s <= 0;
}

struct tally {
    double hours;
    unsigned said;
    unsigned fixes;
};

struct cab {
    struct td_coach *coach;
    struct td_input input;
    struct td_output output;
    const char *name;
};

/* One step, with a voice that has said it at once and no hill to be found. */
static void step(struct cab *cab, int64_t now_ns, struct tally *tally)
{
    cab->input.now_ns = now_ns;
    td_coach_step(cab->coach, &cab->input, &cab->output);
    memset(&cab->input, 0, sizeof cab->input);
    if (cab->output.want.serial != 0)
        cab->input.offer = (struct td_offer){.kind = TD_OFFER_END,
                                             .want_serial = cab->output.want.serial};
    if (!cab->output.has_speak)
        return;
    cab->input.reports[cab->input.report_count++] =
        (struct td_report){cab->output.speak.serial, TD_REPORT_ENDED};
    if (now_ns <= 60 * TD_NS_PER_S)
        return;
    printf("  %s: %s at %.0f s\n", cab->name, td_prompt_key(cab->output.speak.id),
           td_s_from_ns(now_ns));
    tally->said++;
}

static void drive(const char *name, const struct td_track *track, struct bad_receiver *bad,
                  struct tally *tally)
{
    static struct cab cab;
    struct td_setup setup = {.rig_is_set = true, .load_confirmed = true, .ambient_c = 15,
                             .brakes_from_c = (double)NAN};
    setup.rig = rig_five_axle();
    int64_t now_ns = 0, before_ns = 0;
    void *memory = malloc(td_coach_size());
    assert_non_null(memory);
    cab = (struct cab){.coach = td_coach_init(memory, &setup, 0), .name = name};
    assert_non_null(cab.coach);
    for (size_t i = 0; i < track->count; i++) {
        struct td_fix fix = track->fixes[i];
        now_ns = TD_NS_PER_S + (fix.utc_ms - track->fixes[0].utc_ms) * TD_NS_PER_MS;
        fix.received_ns = now_ns;
        if (bad != NULL && !spoil(bad, &fix, fmax(0.01, td_s_from_ns(now_ns - before_ns))))
            continue;
        before_ns = now_ns;
        cab.input.has_fix = true;
        cab.input.fix = fix;
        step(&cab, now_ns, tally);
        tally->fixes++;
    }
    tally->hours += td_s_from_ns(now_ns) / 3600;
    free(memory);
}

static void drive_all(struct bad_receiver *bad, struct tally *tally)
{
    for (size_t i = 0; i < FLAT; i++) {
        struct td_track track;
        recorded_read(flat[i], &track);
        drive(flat[i], &track, bad, tally);
        td_track_free(&track);
    }
}

static void skip_without_recordings(void)
{
    if (recorded_exists(flat[0]))
        return;
    printf("SKIPPED: recorded tracks are not there (%s/data)\n", TD_SHARED_DIR);
    skip();
}

static void a22_flat_recorded_roads_are_silent(void **state)
{
    (void)state;
    struct tally tally = {0};
    skip_without_recordings();
    drive_all(NULL, &tally);
    printf("  %u prompts in %.1f h, %u fixes\n", tally.said, tally.hours, tally.fixes);
    assert_true(tally.hours > 2);
    assert_int_equal(tally.said, 0);
}

static void a22_a_bad_receiver_on_flat_roads_says_hardly_anything(void **state)
{
    (void)state;
    struct bad_receiver bad = {.up_m = 0};
    struct tally tally = {0};
    skip_without_recordings();
    test_seed(&bad.rng, "property.nuisance", 22);
    while (tally.hours < 40)
        drive_all(&bad, &tally);
    printf("  %u prompts in %.1f h, %u fixes\n", tally.said, tally.hours, tally.fixes);
    assert_true((double)tally.said <= tally.hours / 4);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a22_flat_recorded_roads_are_silent),
        cmocka_unit_test(a22_a_bad_receiver_on_flat_roads_says_hardly_anything),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
