/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Runaway: the truck gains and nothing holds it.
 *
 * A satellite receiver cannot see a brake pedal. A truck without brakes and a driver who has not
 * yet braked look the same until the driver must have acted, so that is what is waited for: a
 * warning was heard to its end, three times the reaction time of sight-distance design has passed
 * (and what braking needs to show), and since then the truck has gained without a break, is well
 * over its ceiling, faster than ever before in this time over speed, and will go on gaining. A
 * driver who snubs at a speed of his own choice never gets faster than he was; one who is late
 * slows by then (docs/runaway.md has the figures, docs/decisions/runaway.md the reasons).
 *
 * Once called it is ended only by real slowing. Until then nothing below danger is said on the
 * hill. An open escape lane is called twice, then whenever the distance to it has other words; the
 * last call ends 5 to 8 s before the gore (docs/decisions/runaway-countdown.md). */
#include "core/cue.h"

#include <math.h>

#include "talkdown/units.h"

/* 7.5 s, three times AASHTO's 2.5 s, and what brakes and receiver take to show it: half a second of
 * braking takes a third of the last second's gain and more, and that is looked for. */
#define UNANSWERED_NS   (8 * TD_NS_PER_S)
/* As long as a warning was not heard the driver cannot have left it unanswered; over the ceiling by
 * less, or gained less since, a driver may mean it (all ours: one who holds ten over, with the
 * receiver's noise on top, was called at ten). */
#define OVER_MPS        (12.0 * TD_MPS_PER_MPH)
#define GAINED_MPS      (7.0 * TD_MPS_PER_MPH)
/* Far over, and past a speed at which he braked before: then less of a gain tells (ours). */
#define FAR_OVER_MPS    (15.0 * TD_MPS_PER_MPH)
#define FAR_GAINED_MPS  (5.0 * TD_MPS_PER_MPH)
#define FASTER_MPS      0.5
#define FELL_MPS        0.7
#define GAINING_MPS2    0.05
/* The last second's gain against the mean of the gain: much less tells that a foot came down. */
#define UNBROKEN_RATIO  0.7
/* One sigma of that second is 0.14 m/s2 with a receiver's 0.1 m/s on speed: calls waited for it. */
#define NOISE_MPS2      0.1
/* So long at or below a ceiling well under its speed before: the driver means to keep to it. */
#define HEEDS_NS        (10 * TD_NS_PER_S)
/* Eight seconds on it must still gain, by the grade there. */
#define LOOK_S          8.0
/* Where the answer was no, there is no ceiling: this stands for one (ours). */
#define REFUSED_MPS     (20.0 * TD_MPS_PER_MPH)
/* Ended: back under the ceiling, or nearly and slowing for so long. */
#define NEARLY_MPS      (5.0 * TD_MPS_PER_MPH)
#define SLOWING_NS      (4 * TD_NS_PER_S)
/* Ended too: so much slower than at its fastest, and losing so fast where the road falls, as no
 * truck without brakes does (ours: an engine brake alone gives some 0.4 m/s2 and the grade takes
 * 0.3). A recorded car among hairpins, braking from 36 to 18 mph for each, was told to use open
 * ground for eight minutes. */
#define SHED_MPS        (10.0 * TD_MPS_PER_MPH)
#define BRAKED_MPS2     0.5
#define BRAKED_ON_RATIO 0.03
#define STANDING_MPS    0.5
#define LOOK_STEP_M     50.0
#define LOOK_STEPS      64
/* MIL-STD-1472: critical repeats with at most 3 s of pause (from memory): the first call of a lane,
 * or of open ground, is made twice. */
#define PAUSE_NS        (2500 * TD_NS_PER_MS)
/* Open ground has no distance that changes: called again so often (ours, as over speed's). */
#define REMIND_NS       (30 * TD_NS_PER_S)
/* A lane many miles away counts by whole miles: no longer silence than this (ours). */
#define SILENT_NS       (60 * TD_NS_PER_S)
/* Farther than this the side can wait: fewer words (ours). */
#define SIDE_FROM_MI    1.0
#define SIDE_FROM_KM    1.0
/* Seconds from the end of the last call to the gore: due at the first, the countdown before it must
 * leave the second (A18: 5 to 8 s). */
#define LAST_CALL_S     7.5
#define LAST_CALL_LEAST_S 5.5
#define PASSED_M        20.0
/* A truck in the lane is not told from one beside it until the bed slows it: "no lane" said to a
 * driver who had just steered into one was what this is here for. */
#define ENTERS_NS (6 * TD_NS_PER_S)
/* From the gore to standing in a bed: 85 mph at a sixth of g and more (ours; gravel gives more). */
#define IN_BED_NS (25 * TD_NS_PER_S)
#define EXPIRES_NS      (3 * TD_NS_PER_S)

static double limit_here_mps(const struct td_moment *moment)
{
    bool refused = moment->plan && moment->plan->coached && !moment->plan->safe;
    return refused && td_cue_on_grade(moment) ? REFUSED_MPS : td_cue_limit_mps(moment);
}

/* When the driver had been told, 0 not yet. Who asked for quiet has heard it. */
static int64_t told_ns(const struct td_moment *moment, const struct td_visit *visit)
{
    if (moment->plan && !moment->plan->safe)
        return visit->no_go_ns;
    if (visit->over.muted && visit->over.heard_ns == 0)
        return visit->over.called_ns;
    return visit->over.heard_ns;
}

static void begin_gain(const struct td_moment *moment, struct td_runaway *runaway)
{
    runaway->low_mps = runaway->high_mps = moment->fix_mps;
    runaway->low_ns = moment->now_ns;
}

/* Keeps where the gain under way began. A fall ends it, and what it reached is remembered. */
static void follow_gain(const struct td_moment *moment, struct td_runaway *runaway, bool told)
{
    double mps = moment->fix_mps;
    if (told && !runaway->warned) {
        runaway->warned = true;
        begin_gain(moment, runaway);
    }
    if (mps < runaway->high_mps - FELL_MPS) {
        runaway->peak_mps = fmax(runaway->peak_mps, runaway->high_mps);
        begin_gain(moment, runaway);
    }
    runaway->high_mps = fmax(runaway->high_mps, mps);
}

/* A driver who came over the crest well over the ceiling and never slowed may take his own speed
 * again, that of the road before. One who kept to the ceiling has no such habit. */
static void begin_over(const struct td_moment *moment, struct td_runaway *runaway)
{
    runaway->over = true;
    begin_gain(moment, runaway);
    if (!runaway->heeds && moment->fix_mps >= runaway->limit_mps + OVER_MPS)
        runaway->peak_mps = fmax(runaway->peak_mps, moment->lately_mps);
}

/* At or below the ceiling, or none holds. How fast the driver has let it run is forgotten with the
 * ceiling, or once he has kept to it; not for each bend that made him slow. */
static void rest(const struct td_moment *moment, struct td_runaway *runaway, double limit_mps)
{
    int64_t under_ns = runaway->under_ns != 0 ? runaway->under_ns : td_cue_stamp(moment->now_ns);
    bool keeps = limit_mps > 0.0 && moment->now_ns - under_ns >= HEEDS_NS;
    bool heeds = runaway->heeds || (keeps && limit_mps <= moment->lately_mps - OVER_MPS);
    bool forget = limit_mps <= 0.0 || keeps;
    *runaway = (struct td_runaway){
        .under_ns = limit_mps > 0.0 ? under_ns : 0,
        .heeds = heeds,
        .peak_mps = forget ? 0.0 : fmax(runaway->peak_mps, runaway->high_mps)};
}

static bool gains_ahead(const struct td_moment *moment)
{
    double at_m = moment->along_m + LOOK_S * moment->fix_mps;
    double more = td_hill_downgrade_at(moment->hill, at_m) -
                  td_hill_downgrade_at(moment->hill, moment->along_m);
    return at_m < moment->hill->foot_m &&
           moment->fix_accel_mps2 + TD_GRAVITY_MPS2 * more > GAINING_MPS2;
}

static bool runs_away(const struct td_moment *moment, const struct td_runaway *runaway,
                      int64_t since_told_ns)
{
    double mps = moment->fix_mps, gained_mps = mps - runaway->low_mps;
    double mean_mps2 = gained_mps / fmax(1.0, td_s_from_ns(moment->now_ns - runaway->low_ns));
    double unbroken_mps2 = fmax(GAINING_MPS2, UNBROKEN_RATIO * mean_mps2 - NOISE_MPS2);
    bool far = mps >= runaway->limit_mps + FAR_OVER_MPS && runaway->peak_mps > 0.0;
    return since_told_ns >= UNANSWERED_NS && mps >= runaway->limit_mps + OVER_MPS &&
           gained_mps >= (far ? FAR_GAINED_MPS : GAINED_MPS) &&
           mps >= runaway->peak_mps + FASTER_MPS &&
           moment->fix_accel_mps2 >= unbroken_mps2 &&
           gains_ahead(moment);
}

static void watch(const struct td_moment *moment, const struct td_visit *visit,
                  struct td_runaway *runaway)
{
    double limit_mps = limit_here_mps(moment);
    if (limit_mps <= 0.0 || moment->fix_mps <= limit_mps) {
        rest(moment, runaway, limit_mps);
        return;
    }
    runaway->under_ns = 0;
    runaway->limit_mps = limit_mps;
    if (!runaway->over)
        begin_over(moment, runaway);
    int64_t told = told_ns(moment, visit);
    follow_gain(moment, runaway, told != 0);
    runaway->on = told != 0 && runs_away(moment, runaway, moment->fix_ns - told);
}

static bool brakes_hold(const struct td_moment *moment, const struct td_runaway *runaway)
{
    return moment->fix_mps <= runaway->high_mps - SHED_MPS &&
           moment->fix_accel_mps2 <= -BRAKED_MPS2 &&
           td_hill_downgrade_at(moment->hill, moment->along_m) >= BRAKED_ON_RATIO;
}

/* The brakes hold, and the driver will not have them hold the ceiling: he is warned anew, and only
 * past the fastest he has let it run would it be a runaway again. */
static void end_by_braking(const struct td_moment *moment, struct td_visit *visit)
{
    struct td_runaway *runaway = &visit->runaway;
    *runaway = (struct td_runaway){.over = true,
                                   .heeds = runaway->heeds,
                                   .limit_mps = runaway->limit_mps,
                                   .peak_mps = fmax(runaway->peak_mps, runaway->high_mps)};
    begin_gain(moment, runaway);
    visit->over = (struct td_over){0};
}

/* Past the lane of the last call and losing speed: in its bed, most likely. What is lesser, as "No
 * more escape lanes.", has time until the truck stands or drives on. */
static bool slows_past_lane(const struct td_moment *moment, const struct td_runaway *runaway)
{
    return runaway->behind_ns != 0 && moment->now_ns - runaway->behind_ns < IN_BED_NS &&
           moment->fix_mps > STANDING_MPS && td_cue_slowing(moment);
}

/* Beyond the foot the ceiling last in force is what it must come down to. */
static void watch_end(const struct td_moment *moment, struct td_visit *visit)
{
    struct td_runaway *runaway = &visit->runaway;
    double limit_mps = limit_here_mps(moment);
    if (limit_mps > 0.0)
        runaway->limit_mps = limit_mps;
    runaway->high_mps = fmax(runaway->high_mps, moment->fix_mps);
    if (!td_cue_slowing(moment))
        runaway->slow_since_ns = 0;
    else if (runaway->slow_since_ns == 0)
        runaway->slow_since_ns = td_cue_stamp(moment->now_ns);
    if (slows_past_lane(moment, runaway))
        return;
    bool slowed = runaway->slow_since_ns != 0 &&
                  moment->now_ns - runaway->slow_since_ns >= SLOWING_NS &&
                  moment->fix_mps <= runaway->limit_mps + NEARLY_MPS;
    if (!slowed && moment->fix_mps > fmax(runaway->limit_mps, STANDING_MPS)) {
        if (brakes_hold(moment, runaway))
            end_by_braking(moment, visit);
        return;
    }
    *runaway = (struct td_runaway){.heeds = runaway->heeds,
                                   .peak_mps = fmax(runaway->peak_mps, runaway->high_mps)};
    visit->over = (struct td_over){0};
}

/* Seconds from the end of the speech of `id`, begun now, to a place, at the rate it gains now. */
static double lead_s(const struct td_moment *moment, enum td_prompt_id id, double at_m)
{
    double mps = fmax(moment->speed_mps, 1.0), away_m = fmax(0.0, at_m - moment->along_m);
    double rate_mps2 = fmin(1.5, fmax(0.0, moment->accel_mps2));
    double takes_s = 2.0 * away_m / (mps + sqrt(mps * mps + 2.0 * rate_mps2 * away_m));
    return takes_s - td_cue_say_s(moment, id);
}

/* Slowing so that it would be under the ceiling before a place: no call for it. By the grade in
 * between: what slows on the level alone gains again where it falls. */
static bool slows_before(const struct td_moment *moment, double limit_mps, double at_m)
{
    if (!td_cue_slowing(moment))
        return false;
    double here_ratio = td_hill_downgrade_at(moment->hill, moment->along_m);
    double square = moment->speed_mps * moment->speed_mps;
    double step_m = fmax(LOOK_STEP_M, (at_m - moment->along_m) / LOOK_STEPS);
    for (double m = moment->along_m + step_m / 2; m < at_m && square > limit_mps * limit_mps;
         m += step_m) {
        double more = td_hill_downgrade_at(moment->hill, m) - here_ratio;
        square += 2.0 * step_m * (moment->accel_mps2 + TD_GRAVITY_MPS2 * more);
    }
    return square <= limit_mps * limit_mps;
}

/* The open lane to make for: the next that can still be called, or that was and is not yet behind;
 * -1 none. */
static int32_t lane_ahead(const struct td_moment *moment, const struct td_runaway *runaway)
{
    const struct td_hill *hill = moment->hill;
    for (size_t i = 0; i < hill->place_count && i < TD_HILL_PLACES_MAX; i++) {
        const struct td_place *place = &hill->places[i];
        if (place->kind != TD_PLACE_ESCAPE_LANE || (place->has & TD_PLACE_CLOSED))
            continue;
        bool taken = runaway->taken == (int32_t)i + 1;
        if (taken ? moment->along_m < place->at_m + PASSED_M + moment->sigma_m
                  : lead_s(moment, TD_PROMPT_TAKE_LANE, place->at_m) >= TD_CUE_LEAD_LEAST_S)
            return (int32_t)i;
    }
    return -1;
}

/* What is to be said of that lane now; TD_PROMPT_IDS: nothing, the last call is near or made. */
static enum td_prompt_id call_for(const struct td_moment *moment,
                                  const struct td_runaway *runaway, int32_t lane)
{
    if (lane < 0)
        return moment->along_m < moment->hill->foot_m ? TD_PROMPT_NO_LANE_AHEAD : TD_PROMPT_IDS;
    double left_s = lead_s(moment, TD_PROMPT_TAKE_LANE, moment->hill->places[lane].at_m);
    if (runaway->taken == lane + 1)
        return TD_PROMPT_IDS;
    if (left_s <= LAST_CALL_S)
        return TD_PROMPT_TAKE_LANE;
    return left_s - td_cue_say_s(moment, TD_PROMPT_RUNAWAY_LANE) >= LAST_CALL_LEAST_S
               ? TD_PROMPT_RUNAWAY_LANE
               : TD_PROMPT_IDS;
}

/* The lane of the last call is behind, and whether the truck is in it will show. */
static bool may_be_in_lane(const struct td_moment *moment, struct td_runaway *runaway,
                           int32_t lane)
{
    if (runaway->taken == 0 || runaway->taken == lane + 1) {
        runaway->behind_ns = 0;
        return false;
    }
    if (runaway->behind_ns == 0)
        runaway->behind_ns = td_cue_stamp(moment->now_ns);
    return !moment->speed_fresh || moment->now_ns - runaway->behind_ns < ENTERS_NS;
}

/* What is called, as it is remembered: 0 is nothing yet. */
static int32_t called_key(int32_t lane)
{
    return lane >= 0 ? lane + 1 : -1;
}

/* A call other than the last is due: at first, once more after the pause, then with each new
 * distance, one interval between fixes early rather than late. */
static bool call_due(const struct td_moment *moment, const struct td_runaway *runaway,
                     int32_t lane)
{
    if (runaway->called != called_key(lane))
        return true;
    if (moment->now_ns < runaway->next_ns || runaway->calls < 2 || lane < 0)
        return moment->now_ns >= runaway->next_ns;
    double left_m =
        td_cue_left_m(moment, TD_PROMPT_RUNAWAY_LANE, moment->hill->places[lane].at_m);
    return (runaway->mark_m > 0.0 && left_m <= runaway->mark_m + moment->speed_mps) ||
           moment->now_ns >= runaway->next_ns + SILENT_NS;
}

void td_cue_runaway(const struct td_moment *moment, struct td_visit *visit,
                    struct td_wishes *wishes)
{
    struct td_runaway *runaway = &visit->runaway;
    if (moment->speed_fresh) {
        if (runaway->on)
            watch_end(moment, visit);
        else
            watch(moment, visit, runaway);
    }
    if (!runaway->on)
        return;
    int32_t lane = lane_ahead(moment, runaway);
    double at_m = lane >= 0 ? moment->hill->places[lane].at_m : moment->hill->foot_m;
    enum td_prompt_id id = call_for(moment, runaway, lane);
    bool wait = may_be_in_lane(moment, runaway, lane) || !call_due(moment, runaway, lane);
    if (id == TD_PROMPT_IDS || slows_before(moment, runaway->limit_mps, at_m) ||
        (id != TD_PROMPT_TAKE_LANE && wait))
        return;
    td_cue_wish(wishes, moment, id, lane, lane >= 0 ? at_m : moment->along_m,
                runaway->called == 0 ? TD_WHY_STATE : TD_WHY_DISTANCE);
}

/* True where the words end, within the step that they are rounded down to. */
static void fill_countdown(const struct td_moment *moment, struct td_prompt *prompt)
{
    const struct td_place *place = &moment->hill->places[prompt->place];
    bool metric = moment->setup->metric;
    double begin_m = place->at_m - moment->along_m;
    double end_m = td_cue_left_m(moment, prompt->id, place->at_m);
    double from_m = metric ? 1000.0 * SIDE_FROM_KM : TD_M_PER_MI * SIDE_FROM_MI;
    struct td_arg distance = td_countdown_arg(fmax(0.0, fmin(begin_m, 1.1 * end_m)), metric);
    bool near = td_countdown_mark_m(distance) < from_m;
    td_cue_args(prompt, 3,
                (struct td_arg[]){{TD_UNIT_PLACE, prompt->place},
                                  distance,
                                  {TD_UNIT_SIDE, (int32_t)(near ? place->side : TD_SIDE_UNKNOWN)}});
}

static enum td_fill fill_last_call(const struct td_moment *moment, struct td_prompt *prompt)
{
    const struct td_place *place = &moment->hill->places[prompt->place];
    td_cue_args(prompt, 2,
                (struct td_arg[]){{TD_UNIT_PLACE, prompt->place},
                                  {TD_UNIT_SIDE, (int32_t)place->side}});
    return TD_FILL_READY;
}

enum td_fill td_fill_runaway(const struct td_moment *moment, const struct td_visit *visit,
                             struct td_prompt *prompt, enum td_why *why)
{
    const struct td_runaway *runaway = &visit->runaway;
    *why = TD_WHY_CLEARED;
    if (!runaway->on)
        return TD_FILL_GONE;
    int32_t lane = lane_ahead(moment, runaway);
    *why = TD_WHY_PASSED;
    double at_m = lane >= 0 ? moment->hill->places[lane].at_m : moment->hill->foot_m;
    /* A last call that was lost with the sound may still be in time. */
    bool due = prompt->id == TD_PROMPT_TAKE_LANE
                   ? lead_s(moment, prompt->id, at_m) >= TD_CUE_LEAD_LEAST_S
                   : call_for(moment, runaway, lane) == prompt->id;
    if (lane != prompt->place || !due)
        return TD_FILL_GONE;
    *why = TD_WHY_CLEARED;
    if (slows_before(moment, runaway->limit_mps, at_m))
        return TD_FILL_GONE;
    if (prompt->id == TD_PROMPT_RUNAWAY_LANE)
        fill_countdown(moment, prompt);
    if (prompt->id == TD_PROMPT_TAKE_LANE)
        (void)fill_last_call(moment, prompt);
    if (prompt->id == TD_PROMPT_NO_LANE_AHEAD)
        td_cue_args(prompt, 0, NULL);
    prompt->expires_ns = moment->now_ns + EXPIRES_NS;
    return lane < 0 || td_cue_sure(moment, at_m - moment->along_m) ? TD_FILL_READY : TD_FILL_HOLD;
}

void td_cue_runaway_issued(const struct td_moment *moment, struct td_runaway *runaway,
                           const struct td_prompt *prompt)
{
    int64_t say_ns = (int64_t)(td_cue_say_s(moment, prompt->id) * 1e9);
    int32_t key = called_key(prompt->place);
    runaway->calls = runaway->called == key ? runaway->calls + 1 : 1;
    runaway->called = key;
    bool reminds = key < 0 && runaway->calls >= 2;
    runaway->next_ns = moment->now_ns + say_ns + (reminds ? REMIND_NS : PAUSE_NS);
    if (prompt->id == TD_PROMPT_TAKE_LANE)
        runaway->taken = prompt->place + 1;
    if (prompt->id == TD_PROMPT_RUNAWAY_LANE)
        runaway->mark_m = td_countdown_mark_m(prompt->args[1]);
}
