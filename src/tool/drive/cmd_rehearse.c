/* SPDX-License-Identifier: GPL-3.0-or-later */
/* talkdown rehearse: a simulated truck and driver go down a hill with the voice beside them. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/hill_named.h"
#include "io/problem.h"
#include "sim/trip.h"
#include "talkdown/units.h"
#include "tool/commands.h"
#include "tool/drive/drill.h"
#include "tool/drive/drive_options.h"
#include "tool/drive/rehearse_drill.h"

static const char usage[] = "rehearse HILL --rig RIG --out DIR [--driver NAME] [--seed N] ...";
static const char more[] =
    "  HILL is a profile, or one hill of a library: country.hills:gull-pass-east\n"
    "  --driver NAME    careful (default), late, heavy-foot, brake-rider, ten-over, deaf,\n"
    "                   no-brakes\n"
    "  --seed N         strays mass, grade, brakes and engine brake, and the receiver; default 1\n"
    "  --as-filed       the truck and the road are exactly as on file\n"
    "  --cruise MPH     speed between prompts; default 55\n"
    "  --drill NAME     one thing goes wrong, and drill.txt in DIR asks the trainee what is\n"
    "                   right; --drill list names them. Exit 1: the drive gave no occasion\n"
    TD_DRIVE_HELP
    "Writes drive.db, prompts.txt, voice.wav and review.html into DIR and prints each prompt when\n"
    "its fate is known.\n";

/* Time the last words get after the road's end. */
#define AFTER_NS (8 * TD_NS_PER_S)
/* Every rehearsal begins at the same moment of an invented day, so that two can be compared. */
#define START_NS     TD_NS_PER_S
#define START_UTC_MS 1893499200000LL /* 2030-01-01T12:00:00Z */

struct rehearsal {
    struct td_trip trip;
    struct td_cab *cab;
    struct td_drill_run drill;
};

static void hear(void *who, const struct td_prompt *prompt, int64_t now_ns)
{
    td_driver_hear(who, prompt, now_ns);
}

static enum td_result drive(struct rehearsal *run, struct td_problem *problem)
{
    struct td_trip *trip = &run->trip;
    const struct td_truck *truck = &trip->truck;
    enum td_trip_end end = TD_TRIP_GOING;
    enum td_result result = td_cab_run_to(run->cab, trip->now_ns, problem);
    while (result == TD_OK && end == TD_TRIP_GOING) {
        struct td_fix fix;
        if (td_trip_step(trip, &fix))
            result = td_cab_fix(run->cab, &fix, trip->now_ns, problem);
        else
            result = td_cab_run_to(run->cab, trip->now_ns, problem);
        td_trip_judge(trip, truck->hill->crest_m, td_cab_estimate(run->cab)->target_mps);
        if (run->drill.drill != NULL)
            td_drill_watch(&run->drill, trip);
        end = td_trip_ended(trip);
    }
    if (result == TD_OK && (end == TD_TRIP_STANDS || end == TD_TRIP_CRAWLS))
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "the truck does not get down: it %s at %.0f m of %.0f m",
                              end == TD_TRIP_STANDS ? "stands" : "crawls", truck->along_m,
                              truck->hill->length_m);
    if (result == TD_OK)
        result = td_cab_run_to(run->cab, trip->now_ns + AFTER_NS, problem);
    return result;
}

static void print_summary(const struct td_drive_options *options, const struct rehearsal *run,
                          const struct td_cab_summary *summary)
{
    FILE *to = td_drive_summary_to(options);
    const struct td_trip_seen *seen = &run->trip.seen;
    const struct td_truck *truck = &run->trip.truck;
    (void)fprintf(to, "driver %s, %.1f mi in %.0f s", td_driver_name(run->trip.driver.kind),
                  td_mi_from_m(truck->along_m - run->trip.from_m),
                  td_s_from_ns(run->trip.now_ns - START_NS));
    if (seen->fastest_mps > 0)
        (void)fprintf(to, ", fastest on the grade %.1f mph", td_mph_from_mps(seen->fastest_mps));
    (void)fprintf(to, "\n");
    if (run->trip.driver.stays_up && truck->along_m < truck->hill->crest_m)
        (void)fprintf(to, "told not to go down, the driver stopped %.0f m before the crest\n",
                      truck->hill->crest_m - truck->along_m);
    if (seen->lane_mps > 0)
        (void)fprintf(to, "went into an escape lane at %.0f m with %.1f mph\n", truck->along_m,
                      td_mph_from_mps(seen->lane_mps));
    if (seen->judged)
        (void)fprintf(to, "worst against the target: %+.1f mph at %.0f m\n",
                      td_mph_from_mps(seen->over_mps), seen->over_at_m);
    (void)fprintf(to, "brakes at most %.0f F (%.0f C), limit %.0f F%s\n",
                  td_f_from_c(truck->hottest_c), truck->hottest_c,
                  td_f_from_c(truck->rig->brakes.limit_c),
                  truck->brakes_failed ? "; the service brakes failed" : "");
    if (td_rig_has_retarder(truck->rig))
        (void)fprintf(to, "retarder at most %.0f F (%.0f C), weaker from %.0f F on\n",
                      td_f_from_c(truck->retarder_hottest_c), truck->retarder_hottest_c,
                      td_f_from_c(truck->rig->retarder.derates_from_c));
    td_drive_summary_print(options, summary);
}

struct words {
    const char *driver, *seed, *cruise, *drill;
    bool as_filed;
};

/* Puts truck, driver and receiver on the road. */
static enum td_result set_out(struct rehearsal *run, const struct td_hill *hill,
                              const struct td_setup *setup, const struct words *words,
                              struct td_problem *problem)
{
    long long seed = 1, cruise_mph = 55;
    int kind = words->driver != NULL ? td_driver_from_name(words->driver) : TD_DRIVER_CAREFUL;
    if (kind < 0)
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "--driver \"%s\" is none of: careful, late, heavy-foot, brake-rider, "
                              "ten-over, deaf, no-brakes", words->driver);
    const struct td_drill *drill = run->drill.drill;
    if (drill != NULL && words->driver != NULL)
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "--drill brings its own driver; leave --driver out");
    enum td_result result = TD_OK;
    if (words->seed != NULL)
        result = td_tool_whole("--seed", words->seed, 0, INT64_MAX, &seed, problem);
    if (result == TD_OK && words->cruise != NULL)
        result = td_tool_whole("--cruise", words->cruise, 10, 75, &cruise_mph, problem);
    if (result != TD_OK)
        return result;
    const struct td_rig *rig = &setup->rig;
    struct td_trip_options options = td_trip_options_default(rig);
    options.driver = drill != NULL ? drill->driver : (enum td_driver_kind)kind;
    options.slip = drill != NULL ? drill->slip : TD_SLIP_NONE;
    options.cruise_mps = td_mps_from_mph((double)cruise_mph);
    options.mass_kg = rig->loads[rig->load_now].mass_kg;
    if (!words->as_filed)
        options.truth = td_truth_draw((uint64_t)seed);
    options.road = setup->road;
    options.ambient_c = setup->ambient_c;
    options.start_ns = START_NS;
    options.utc_from_ms = START_UTC_MS - START_NS / TD_NS_PER_MS;
    options.seed = (uint64_t)seed;
    td_trip_set_out(&run->trip, hill, rig, &options);
    return TD_OK;
}

/* Names and solves the drill that is asked for, and checks that the hill has what it needs. */
static enum td_result choose_drill(struct rehearsal *run, const struct td_hill *hill,
                                   const struct td_setup *setup, const struct words *words,
                                   struct td_plan_answer *answer, struct td_problem *problem)
{
    if (words->drill == NULL)
        return TD_OK;
    run->drill.drill = td_drill_find(words->drill);
    if (run->drill.drill == NULL)
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "--drill \"%s\" is no drill; --drill list names them",
                              words->drill);
    enum td_result result = td_rehearse_plan(hill, setup, answer, problem);
    return result == TD_OK ? td_drill_fits(run->drill.drill, answer, problem) : result;
}

static enum td_result rehearse(const struct td_drive_options *options, const char *hill_name,
                               const struct words *words, bool *occasion,
                               struct td_problem *problem)
{
    struct td_drive_parts parts;
    struct td_hill_file *hill = NULL;
    struct rehearsal run = {.cab = NULL};
    struct td_plan_answer answer = {.model = "rig"};
    struct td_cab_summary summary = {.steps = 0};
    char beside[1024]; /* without --hills: all that lies in the hill's own file */
    enum td_result result = td_hill_named_read(hill_name, &hill, problem);
    if (result != TD_OK)
        return result;
    (void)td_hill_named_path(hill_name, beside, sizeof beside);
    result = td_drive_parts_open(options, options->hills != NULL ? options->hills : beside, &parts,
                                 problem);
    if (result == TD_OK)
        result = choose_drill(&run, td_hill_file_hill(hill), &parts.setup, words, &answer, problem);
    if (result == TD_OK)
        result = set_out(&run, td_hill_file_hill(hill), &parts.setup, words, problem);
    if (result == TD_OK) {
        struct td_cab_options cab = td_drive_cab_options(options, &parts);
        cab.program = "talkdown rehearse";
        cab.start_ns = START_NS;
        cab.start_utc_ms = START_UTC_MS;
        cab.hear = hear;
        cab.who = &run.trip.driver;
        cab.told = run.drill.drill != NULL ? td_drill_told : NULL;
        cab.told_who = &run.drill;
        result = td_cab_open(&cab, &run.cab, problem);
    }
    if (result == TD_OK)
        result = drive(&run, problem);
    enum td_result closed = td_cab_close(&run.cab, run.trip.now_ns + AFTER_NS, &summary,
                                         result == TD_OK ? problem : NULL);
    result = result == TD_OK ? closed : result;
    if (result == TD_OK)
        result = td_drive_review(options, problem);
    if (result == TD_OK && run.drill.drill != NULL)
        result = td_rehearse_sheet(options->out, &run.drill, &answer, &run.trip, START_NS, problem);
    if (result == TD_OK)
        print_summary(options, &run, &summary);
    *occasion = run.drill.drill == NULL || td_drill_answered(&run.drill);
    if (result == TD_OK && run.drill.drill != NULL)
        td_rehearse_tell(td_drive_summary_to(options), &run.drill, &answer.plan, options->out);
    td_drill_free(&run.drill);
    td_drive_parts_close(&parts);
    td_hill_file_free(&hill);
    return result;
}

int td_cmd_rehearse(int argc, char **argv)
{
    struct td_drive_options options = {.hills = NULL};
    struct words words = {.driver = NULL};
    bool occasion = true;
    struct td_tool_option table[TD_DRIVE_OPTIONS + 5] = {
        {"driver", &words.driver, NULL},
        {"seed", &words.seed, NULL},
        {"cruise", &words.cruise, NULL},
        {"drill", &words.drill, NULL},
        {"as-filed", NULL, &words.as_filed},
    };
    td_drive_option_table(&options, table + 5);
    const char *hill[1];
    struct td_tool_line line = {
        .usage = usage, .more = more, .options = table,
                                .option_count = TD_DRIVE_OPTIONS + 5, .words = hill,
                                .word_most = 1};
    struct td_problem problem;
    if (td_tool_options(argc, argv, &line, &problem) != TD_OK)
        return td_tool_fail(&problem);
    if (line.help)
        return TD_EXIT_DONE;
    if (words.drill != NULL && strcmp(words.drill, "list") == 0) {
        td_drill_list(stdout);
        return TD_EXIT_DONE;
    }
    if (line.word_count != 1)
        return td_tool_fail_words("rehearse needs one hill file; usage: talkdown %s", usage);
    if (rehearse(&options, hill[0], &words, &occasion, &problem) != TD_OK)
        return td_tool_fail(&problem);
    return occasion ? TD_EXIT_DONE : TD_EXIT_NO;
}
