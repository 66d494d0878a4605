/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Draws a closed-loop drive from its seed, drives it and sums it up. */
#include "support/closed_loop.h"

#include <glob.h>
#include <stdlib.h>
#include <string.h>

#include "io/phrase_file.h"
#include "io/rig_file.h"

#define LIGHT_KG (33000 * TD_KG_PER_LB)
#define SOUND_DELAY_MS 120

static bool read_rig(struct loop_set *set, const char *path)
{
    struct td_problem problem;
    const char *name = strrchr(path, '/') + 1;
    size_t length = strlen(name) - strlen(".yaml");
    if (set->rig_count == LOOP_RIGS_MAX || length >= LOOP_NAME_MAX)
        return false;
    if (td_rig_file_read(path, &set->rigs[set->rig_count], &problem) != TD_OK) {
        fprintf(stderr, "%s:%d: %s\n", problem.file, problem.line, problem.text);
        return false;
    }
    memcpy(set->names[set->rig_count], name, length);
    set->rig_count++;
    return true;
}

bool loop_set_read(struct loop_set *set)
{
    memset(set, 0, sizeof *set);
    struct td_problem problem;
    struct td_phrase_file *phrases = NULL;
    if (td_phrase_file_read(TD_SOURCE_DIR "/sounds/phrases/en-us.yaml", &phrases, &problem) !=
        TD_OK) {
        fprintf(stderr, "%s:%d: %s\n", problem.file, problem.line, problem.text);
        return false;
    }
    memcpy(set->speech_ms, td_phrase_file_speech_ms(phrases), sizeof set->speech_ms);
    td_phrase_file_free(&phrases);
    glob_t found;
    if (glob(TD_SOURCE_DIR "/profiles/rigs/*.yaml", 0, NULL, &found) != 0)
        return false;
    bool good = true;
    for (size_t i = 0; i < found.gl_pathc; i++)
        good = good && read_rig(set, found.gl_pathv[i]);
    globfree(&found);
    return good;
}

struct loop *loop_new(const struct loop_set *set)
{
    struct loop *loop = calloc(1, sizeof *loop);
    if (!loop || !(loop->memory = malloc(td_coach_size())))
        abort();
    loop->set = set;
    return loop;
}

void loop_free(struct loop *loop)
{
    free(loop->memory);
    free(loop);
}

struct watcher {
    struct loop_outcome *seen;
    struct loop *loop;
    int32_t ceiling_mph; /* called last, 0 none */
};

/* "Fifty or slower." after "Twenty five or slower." on a downgrade is leave to speed up. */
static void tell_ceiling(struct watcher *watcher, const struct td_truck *truck, int32_t mph)
{
    bool rises = watcher->ceiling_mph > 0 && mph >= watcher->ceiling_mph + 10;
    if (rises && td_truck_downgrade(truck) > 0.02)
        watcher->seen->rises++;
    watcher->ceiling_mph = mph;
}

static void tell_heat(struct loop_heat *heat, const struct td_truck *truck, enum td_prompt_id id)
{
    double share = truck->temp_c / truck->rig->brakes.limit_c;
    heat->building += id == TD_PROMPT_SPEED_BUILDING;
    heat->engine += id == TD_PROMPT_ENGINE_OVER_SPEED;
    heat->parking += id == TD_PROMPT_HOT_PARKING;
    heat->still_hot += id == TD_PROMPT_BRAKES_STILL_HOT;
    if (id == TD_PROMPT_BRAKES_HEATING && heat->heating++ == 0)
        heat->heating_share = share;
    bool hot = id == TD_PROMPT_BRAKES_HOT || id == TD_PROMPT_STOP_AT;
    if (hot && heat->hot++ == 0)
        heat->hot_share = share;
}

static void tell(struct watcher *watcher, const struct td_ride *ride,
                 const struct td_event *event)
{
    struct loop_outcome *seen = watcher->seen;
    const struct td_truck *truck = &ride->trip.truck;
    if (event->kind != TD_EVENT_SPOKEN)
        return;
    bool before = truck->along_m < truck->hill->crest_m;
    enum td_prompt_id id = event->prompt.id;
    if (id == TD_PROMPT_CEILING && event->prompt.args[0].unit == TD_UNIT_MPH)
        tell_ceiling(watcher, truck, event->prompt.args[0].value);
    tell_heat(&seen->heat, truck, id);
    bool no_go = id == TD_PROMPT_NO_GO || id == TD_PROMPT_NO_GO_ICE;
    if (no_go) {
        seen->no_go_late = !seen->told_no_go && !before;
        seen->told_no_go = true;
    }
    seen->warned_before_crest |= before && (no_go || id == TD_PROMPT_CEILING ||
                                            id == TD_PROMPT_SLOW_FOR_GRADE ||
                                            id == TD_PROMPT_BRIEFING);
}


static void print_event(const struct td_ride *ride, const struct td_event *event, FILE *to)
{
    const struct td_truck *truck = &ride->trip.truck;
    if (event->kind == TD_EVENT_DECIDED || event->kind == TD_EVENT_STARTED ||
        event->kind > TD_EVENT_PLAN)
        return;
    fprintf(to, "%7.1f s %6.0f m %5.1f mph gear %2d stage %2d %4.0f F ceiling %4.1f  %s %s %s",
            td_s_from_ns(ride->trip.now_ns), truck->along_m, td_mph_from_mps(truck->speed_mps),
            truck->gear, truck->stage, td_f_from_c(truck->temp_c),
            td_mph_from_mps(td_ride_ceiling_mps(ride)), td_event_name(event->kind),
            event->kind < TD_EVENT_WHERE ? td_prompt_key(event->prompt.id) : "",
            td_why_word(event->why));
    for (unsigned i = 0; event->kind < TD_EVENT_WHERE && i < event->prompt.arg_count; i++)
        fprintf(to, " %d:%d", (int)event->prompt.args[i].unit, (int)event->prompt.args[i].value);
    fprintf(to, event->kind < TD_EVENT_WHERE ? "\n" : "%d\n", (int)event->value);
}

static void watch(void *who, const struct td_ride *ride, const struct td_event *event)
{
    struct watcher *watcher = who;
    tell(watcher, ride, event);
    if (watcher->loop->transcript)
        print_event(ride, event, watcher->loop->transcript);
    if (watcher->loop->event)
        watcher->loop->event(watcher->loop->who, ride, event);
}

static enum td_road draw_road(struct td_rng *rng)
{
    double u = td_rng_unit(rng);
    return u < 0.03 ? TD_ROAD_ICE : u < 0.18 ? TD_ROAD_WET : TD_ROAD_DRY;
}

/* Rig and load: the heaviest as often as all others together; hills are hard on that. */
static void draw_rig(struct loop *loop, const struct loop_choice *choice, struct td_rng *rng)
{
    loop->rig = td_rng_below(rng, (uint32_t)loop->set->rig_count);
    if (choice->rig >= 0)
        loop->rig = (size_t)choice->rig;
    const struct td_rig *rig = &loop->set->rigs[loop->rig];
    uint32_t load = td_rng_below(rng, 2 * (uint32_t)rig->load_count);
    loop->load = load < rig->load_count ? load : td_rig_heaviest_load(rig);
}

static enum loop_class class_of(const struct td_rig *rig, double mass_kg)
{
    if (mass_kg < LIGHT_KG)
        return LOOP_LIGHT;
    if (td_rig_has_retarder(rig))
        return LOOP_RETARDER;
    return rig->stage_count == 0 ? LOOP_NO_BRAKE : LOOP_BRAKE;
}

static double slowest_curve_mps(const struct td_ride *ride)
{
    const struct td_hill *hill = ride->trip.truck.hill;
    double slowest_mps = td_mps_from_mph(TD_PLAN_MOST_MPH);
    for (size_t i = 0; i < hill->curve_count; i++) {
        const struct td_curve *curve = &hill->curves[i];
        if (curve->to_m > hill->crest_m && curve->from_m < hill->foot_m)
            slowest_mps = fmin(slowest_mps, td_plan_curve_mps(&ride->setup.rig, ride->setup.road,
                                                              curve->radius_m));
    }
    return slowest_mps;
}

static void sum_up(const struct loop *loop, struct loop_outcome *outcome)
{
    const struct td_ride *ride = &loop->ride;
    const struct td_truck *truck = &ride->trip.truck;
    const struct td_trip_seen *seen = &ride->trip.seen;
    const struct td_rig *rig = &ride->setup.rig;
    outcome->safe = ride->has_plan && ride->plan.safe;
    outcome->went_down = outcome->told_no_go && seen->crest_ns != 0;
    outcome->no_go_late = (outcome->no_go_late || !outcome->told_no_go) && ride->has_plan &&
                          ride->plan.coached && !ride->plan.safe && seen->crest_ns != 0;
    /* Nothing to warn of: the crest is driven as fast as he came. */
    outcome->warned_before_crest |=
        outcome->safe && td_plan_target_at(&ride->plan, truck->hill->crest_m) >=
                             ride->trip.driver.cruise_mps - td_mps_from_mph(5);
    outcome->judged = seen->judged;
    outcome->over_mph = seen->judged ? td_mph_from_mps(seen->over_mps) : 0;
    outcome->over_at_m = seen->over_at_m;
    outcome->over_5mph_s = seen->over_5mph_s;
    outcome->peak_f = td_f_from_c(truck->hottest_c);
    outcome->peak_at_m = seen->hottest_at_m;
    outcome->limit_f = td_f_from_c(rig->brakes.limit_c);
    outcome->past_limit = truck->hottest_c > rig->brakes.limit_c;
    outcome->plan_peak_f = outcome->safe ? td_f_from_c(ride->plan.peak_c) : 0;
    outcome->target_mph = ride->plan.target_mph;
    outcome->say_mph = ride->plan.say_mph;
    outcome->curve_mph = td_mph_from_mps(slowest_curve_mps(ride));
    outcome->prompts = ride->said.prompts;
    outcome->minute_most = ride->said.minute_most;
    outcome->dangers = ride->said.by_category[TD_DANGER];
    outcome->break_over_mph = td_mph_from_mps(ride->break_over_mps);
    outcome->lane_mph = td_mph_from_mps(seen->lane_mps);
    outcome->miles = td_mi_from_m(truck->along_m - ride->trip.from_m);
    outcome->minutes = td_s_from_ns(ride->trip.now_ns - ride->trip.start_ns) / 60;
    outcome->hill_miles = td_mi_from_m(truck->hill->foot_m - truck->hill->crest_m);
}

static void watch_heat(const struct td_ride *ride, double *service_from_j,
                       struct loop_heat *heat)
{
    const struct td_truck *truck = &ride->trip.truck;
    const struct td_brakes *brakes = &truck->rig->brakes;
    if (!truck->hill->coached || truck->along_m < truck->hill->crest_m ||
        truck->along_m > truck->hill->foot_m) {
        if (truck->along_m < truck->hill->crest_m)
            *service_from_j = truck->work.service_j;
        return;
    }
    heat->service_c = (truck->work.service_j - *service_from_j) / brakes->heat_capacity_j_per_k;
    heat->likely_over_c =
        fmax(heat->likely_over_c, ride->output.estimate.heat_likely_c - truck->temp_c);
    double share = truck->temp_c / brakes->limit_c;
    if (!heat->near_limit)
        heat->told_warm = heat->heating + heat->hot > 0;
    if (share < 1)
        heat->told_hot = heat->hot > 0;
    heat->warm |= share >= 0.75;
    heat->near_limit |= share >= 0.9;
}

/* Mostly the default policy; the others are a fleet's choice too. */
static enum td_credit draw_credit(struct td_rng *rng)
{
    double u = td_rng_unit(rng);
    return u < 0.15 ? TD_CREDIT_NONE : u < 0.85 ? TD_CREDIT_CAUTIOUS : TD_CREDIT_FULL;
}

/* From a good receiver under an open sky to a poor one between rock walls. */
static struct td_gnss_options draw_receiver(struct td_rng *rng)
{
    struct td_gnss_options receiver = td_gnss_options_default();
    receiver.rate_hz = td_rng_below(rng, 4) == 0 ? 5 : 1;
    receiver.sigma_m = td_rng_between(rng, 1.5, 6);
    receiver.silences_per_hour = td_rng_between(rng, 0, 20);
    receiver.silence_most_s = td_rng_between(rng, 3, 12);
    return receiver;
}

/* Weather, brake heat and what the coach knows of it: at times it does not know the brakes. */
static void draw_day(struct td_trip_options *options, struct td_setup *setup, struct td_rng *rng)
{
    setup->road = options->road = draw_road(rng);
    setup->credit = draw_credit(rng);
    setup->ambient_c = options->ambient_c = td_rng_between(rng, -10, 40);
    options->brakes_from_c = fmax(options->ambient_c, td_rng_between(rng, 20, 120));
    bool known = options->brakes_from_c > 65 || td_rng_below(rng, 2) == 0;
    setup->brakes_from_c = known ? options->brakes_from_c : (double)NAN;
}

static struct td_setup make_setup(const struct loop *loop)
{
    struct td_setup setup = {
        .rig = loop->set->rigs[loop->rig],
        .rig_is_set = true,
        .load_confirmed = true,
        .hills_on_board = 1,
        .sound_delay_ms = SOUND_DELAY_MS,
    };
    setup.rig.load_now = loop->load;
    memcpy(setup.speech_ms, loop->set->speech_ms, sizeof setup.speech_ms);
    return setup;
}

struct loop_outcome loop_drive(struct loop *loop, uint64_t seed, const struct loop_choice *choice)
{
    struct td_rng rng;
    td_rng_seed(&rng, seed, 0x6c6f6f70U);
    random_hill_draw(&loop->hill, seed);
    draw_rig(loop, choice, &rng);
    uint32_t driver = td_rng_below(&rng, TD_DRIVER_KINDS);
    loop->driver = (enum td_driver_kind)(choice->driver >= 0 ? choice->driver : (int)driver);
    const struct td_rig *rig = &loop->set->rigs[loop->rig];
    struct td_trip_options options = td_trip_options_default(rig);
    struct td_setup setup = make_setup(loop);
    draw_day(&options, &setup, &rng);
    options.driver = loop->driver;
    options.cruise_mps = td_mps_from_mph(td_rng_between(&rng, 40, 62));
    options.mass_kg = rig->loads[loop->load].mass_kg;
    options.truth = td_truth_draw(seed);
    options.receiver = draw_receiver(&rng);
    options.seed = seed;
    options.failure = choice->failure;
    options.warnings_only = choice->warnings_only;
    struct loop_outcome outcome = {
        .seed = seed, .driver = loop->driver, .rig = loop->rig, .load = loop->load,
        .road = setup.road, .credit = setup.credit, .class = class_of(rig, options.mass_kg)};
    struct watcher watcher = {.seen = &outcome, .loop = loop};
    loop->ride.watch = watch;
    loop->ride.who = &watcher;
    if (!td_ride_set_out(&loop->ride, &loop->hill.road.hill, &setup, &options, loop->memory,
                         &loop->work))
        abort();
    double service_from_j = 0;
    do {
        td_ride_step(&loop->ride);
        watch_heat(&loop->ride, &service_from_j, &outcome.heat);
        if (loop->step)
            loop->step(loop->who, &loop->ride);
        outcome.end = td_trip_ended(&loop->ride.trip);
    } while (outcome.end == TD_TRIP_GOING);
    sum_up(loop, &outcome);
    return outcome;
}

const char *loop_class_name(enum loop_class class)
{
    static const char *const names[] = {"light", "heavy, no engine brake", "heavy, engine brake",
                                        "heavy, retarder"};
    return names[class];
}

bool loop_obeys(enum td_driver_kind driver)
{
    return driver == TD_DRIVER_CAREFUL || driver == TD_DRIVER_LATE ||
           driver == TD_DRIVER_HEAVY_FOOT;
}

void loop_print(const struct loop_set *set, const struct loop_outcome *o, FILE *to)
{
    static const char *const roads[] = {"dry", "wet", "ice"};
    static const char *const credits[] = {"credit none", "credit cautious", "credit full"};
    static const char *const ends[] = {"going",       "down",   "stayed up",
                                       "in the lane", "STANDS", "CRAWLS"};
    fprintf(to,
            "seed %llu: %s, %s %s (%s), %s, %s: %s; hill %.1f mi; plan %s %d/%d mph peak %.0f F; "
            "peak %.0f F at %.0f m (limit %.0f F); worst %+.1f mph at %.0f m, %.0f s over +5; "
            "%u prompts in %.1f mi%s%s%s; rises %u\n",
            (unsigned long long)o->seed, td_driver_name(o->driver), set->names[o->rig],
            set->rigs[o->rig].loads[o->load].name, loop_class_name(o->class), roads[o->road],
            credits[o->credit], ends[o->end], o->hill_miles, o->safe ? "safe" : "NO",
            o->target_mph, o->say_mph,
            o->plan_peak_f, o->peak_f, o->peak_at_m, o->limit_f, o->over_mph, o->over_at_m,
            o->over_5mph_s, o->prompts, o->miles, o->told_no_go ? "; told no-go" : "",
            o->went_down ? ", WENT DOWN" : "", o->no_go_late ? "; NO-GO LATE" : "", o->rises);
}
