/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Movement: fixes into position, speed and its rate; which hill is being visited; and what standing
 * long or losing the position calls for. */
#include "core/coach_state.h"

#include <math.h>

#include "talkdown/units.h"

/* A fix older than this when it arrives says where the truck was, not where it is. */
#define FIX_OLD_NS      (5 * TD_NS_PER_S)
#define RATE_OVER_NS    (3200 * TD_NS_PER_MS)
#define RATE_LEAST_NS   (800 * TD_NS_PER_MS)
#define RATE_APART_NS   (200 * TD_NS_PER_MS)
#define SPEED_FRESH_NS  (2500 * TD_NS_PER_MS)
/* Off a hill for longer, the next time on it is another visit. */
#define VISIT_ENDS_NS   (60 * TD_NS_PER_S)
/* On no hill for this far, the truck is not on the one where it was lost: that one would have been
 * recognised by then. */
#define FOUND_AFTER_M   200.0
#define LATELY_NS       (300 * TD_NS_PER_S)
#define LONG_STOP_NS    (1200 * TD_NS_PER_S)
#define STANDING_MPS    0.5
#define ROLLING_MPS     1.5
/* A grade that is not on file is told at most once in ten miles. */
#define UNFILED_APART_M (10.0 * TD_M_PER_MI)
/* Losing the position this far past the foot is no longer about the hill. */
#define PAST_FOOT_M     200.0

static void add_speed(struct td_speeds *speeds, int64_t at_ns, double mps)
{
    /* Faster receivers than the spacing only refresh the newest. */
    bool replace = speeds->count > 1 && at_ns - speeds->at_ns[1] < RATE_APART_NS;
    unsigned keep = speeds->count < TD_SPEEDS_MAX ? speeds->count : TD_SPEEDS_MAX - 1;
    for (unsigned i = keep; !replace && i > 0; i--) {
        speeds->at_ns[i] = speeds->at_ns[i - 1];
        speeds->mps[i] = speeds->mps[i - 1];
    }
    speeds->at_ns[0] = at_ns;
    speeds->mps[0] = mps;
    if (!replace)
        speeds->count = keep + 1;
}

/* Least squares over the last seconds; 0 while there are too few. */
static double speed_rate(const struct td_speeds *speeds)
{
    double n = 0.0, sum_t = 0.0, sum_v = 0.0, sum_tt = 0.0, sum_tv = 0.0;
    int64_t span_ns = 0;
    for (unsigned i = 0; i < speeds->count; i++) {
        int64_t ago_ns = speeds->at_ns[0] - speeds->at_ns[i];
        if (ago_ns > RATE_OVER_NS)
            break;
        double t = -td_s_from_ns(ago_ns);
        span_ns = ago_ns;
        n += 1.0;
        sum_t += t;
        sum_v += speeds->mps[i];
        sum_tt += t * t;
        sum_tv += t * speeds->mps[i];
    }
    double spread = n * sum_tt - sum_t * sum_t;
    return span_ns >= RATE_LEAST_NS && spread > 0.0 ? (n * sum_tv - sum_t * sum_v) / spread : 0.0;
}

/* Of the last second alone: when the foot comes down, it tells first. */
static double last_rate(const struct td_speeds *speeds)
{
    for (unsigned i = 1; i < speeds->count; i++) {
        int64_t apart_ns = speeds->at_ns[0] - speeds->at_ns[i];
        if (apart_ns >= RATE_LEAST_NS)
            return apart_ns <= SPEED_FRESH_NS
                       ? (speeds->mps[0] - speeds->mps[i]) / td_s_from_ns(apart_ns)
                       : 0.0;
    }
    return 0.0;
}

static bool speed_fresh(const struct td_coach *coach)
{
    return coach->speeds.count > 0 && coach->now_ns - coach->speeds.at_ns[0] <= SPEED_FRESH_NS;
}

static void keep_fastest(struct td_coach *coach, double mps)
{
    if (coach->now_ns - coach->fastest_ns >= LATELY_NS) {
        coach->fastest_mps[1] = coach->fastest_mps[0];
        coach->fastest_mps[0] = 0.0;
        coach->fastest_ns = coach->now_ns;
    }
    coach->fastest_mps[0] = fmax(coach->fastest_mps[0], mps);
}

/* Heights count while the truck is on no hill on file. */
static void watch_unfiled(struct td_coach *coach)
{
    const struct td_fix *fix = &coach->locator.last;
    enum td_where where = coach->locator.where;
    if (where != TD_WHERE_OFF_FILE && where != TD_WHERE_WEIGHING)
        td_unfiled_restart(&coach->unfiled);
    else if (fix->has & TD_FIX_ALTITUDE)
        td_unfiled_fix(&coach->unfiled, coach->locator.odometer_m, fix->altitude_m,
                       coach->locator.believed_ns);
}

static void take_fix(struct td_coach *coach, struct td_fix fix, struct td_output *output)
{
    if (fix.received_ns > coach->now_ns)
        fix.received_ns = coach->now_ns;
    if (!td_fix_is_sane(&fix) || coach->now_ns - fix.received_ns > FIX_OLD_NS) {
        td_event_add(output, TD_EVENT_REFUSED, TD_WHY_NONE, TD_REFUSED_FIX, NULL);
        return;
    }
    coach->has_position = true;
    coach->lat_deg = fix.lat_deg;
    coach->lon_deg = fix.lon_deg;
    int64_t believed_ns = coach->locator.believed_ns;
    bool believed_before = coach->locator.last.has != 0;
    td_locate_fix(&coach->locator, coach->slots, &fix, coach->now_ns);
    bool believed = coach->locator.last.has != 0 &&
                    (!believed_before || coach->locator.believed_ns != believed_ns);
    if (!believed)
        return;
    watch_unfiled(coach);
    double mps = (fix.has & TD_FIX_SPEED) ? fix.speed_mps
                                          : fabs(td_located_now(&coach->locator).speed_mps);
    if (!isfinite(mps))
        return;
    add_speed(&coach->speeds, fix.received_ns, mps);
    keep_fastest(coach, mps);
}

/* After twenty minutes the trailer may be another one. */
static void watch_standing(struct td_coach *coach)
{
    if (!speed_fresh(coach))
        return;
    double mps = coach->speeds.mps[0];
    if (mps < STANDING_MPS && coach->stood_since_ns == 0)
        coach->stood_since_ns = td_cue_stamp(coach->now_ns);
    if (mps > ROLLING_MPS && coach->stood_since_ns != 0) {
        bool long_stop = coach->now_ns - coach->stood_since_ns >= LONG_STOP_NS;
        coach->stood_since_ns = 0;
        if (long_stop && coach->setup.rig_is_set && coach->setup.load_confirmed) {
            coach->setup.load_confirmed = false;
            coach->set_ns = 0;
            td_coach_replan(coach);
        }
    }
}

void td_coach_move(struct td_coach *coach, const struct td_input *input,
                   struct td_output *output)
{
    td_locate_tick(&coach->locator, coach->slots, coach->now_ns);
    if (input->has_fix)
        take_fix(coach, input->fix, output);
    coach->located = td_located_now(&coach->locator);
    if (td_coach_slot(coach, coach->located.handle) < 0)
        coach->located.handle = 0;
    watch_standing(coach);
    if (coach->located.where != coach->where) {
        coach->where = coach->located.where;
        td_event_add(output, TD_EVENT_WHERE, TD_WHY_NONE, (int32_t)coach->where, NULL);
    }
}

void td_coach_moment(const struct td_coach *coach, struct td_moment *moment)
{
    const struct td_located *located = &coach->located;
    *moment = (struct td_moment){.now_ns = coach->now_ns, .setup = &coach->setup};
    moment->mass_kg = td_coach_mass_kg(coach);
    moment->where = located->where;
    moment->handle = located->handle != 0 ? located->handle : coach->visit.handle;
    int slot = td_coach_slot(coach, moment->handle);
    if (slot >= 0) {
        moment->hill = coach->slots[slot].hill;
        moment->plan = coach->plans[slot].have ? &coach->plans[slot].plan : NULL;
        moment->next_grade_m = td_coach_next_grade_m(coach, moment->hill);
    }
    moment->on_hill = slot >= 0 && moment->hill->coached && located->handle == moment->handle &&
                      (located->where == TD_WHERE_ON_HILL || located->where == TD_WHERE_COASTING) &&
                      located->astray_m <= TD_LOCATE_ASTRAY_M;
    moment->along_m = located->along_m;
    moment->sigma_m = located->sigma_m;
    moment->speed_mps = fmax(0.0, located->speed_mps);
    moment->accel_mps2 = speed_rate(&coach->speeds);
    moment->speed_fresh = speed_fresh(coach);
    moment->fix_ns = coach->speeds.at_ns[0];
    moment->fix_mps = coach->speeds.mps[0];
    moment->fix_accel_mps2 = last_rate(&coach->speeds);
    moment->lately_mps = fmax(coach->fastest_mps[0], coach->fastest_mps[1]);
    moment->heat_least_c = coach->heat.least_c;
    moment->heat_likely_c = coach->heat.likely_c;
    moment->heat_most_c = coach->heat.most_c;
    moment->hill_damaged = coach->damaged.near.count > 0 && !moment->on_hill;
    moment->library_damaged = coach->damaged.library && !moment->on_hill;
    moment->sound_up = coach->queue.sound_up;
    moment->sound_since_ns = coach->sound_since_ns;
}

static void hill_event(struct td_output *output, enum td_event_kind kind, uint32_t handle,
                       double along_m)
{
    struct td_prompt about = {.hill_handle = handle, .place = -1, .about_m = along_m};
    td_event_add(output, kind, TD_WHY_NONE, 0, &about);
}

void td_coach_visit(struct td_coach *coach, const struct td_moment *moment,
                    struct td_output *output)
{
    uint32_t on = coach->located.handle;
    if (on != coach->hill_on) {
        if (coach->hill_on != 0)
            hill_event(output, TD_EVENT_HILL_OFF, coach->hill_on, moment->along_m);
        if (on != 0)
            hill_event(output, TD_EVENT_HILL_ON, on, moment->along_m);
        coach->hill_on = on;
    }
    bool lost = moment->where == TD_WHERE_LOST;
    bool ended = !lost && moment->now_ns - coach->visit.off_ns > VISIT_ENDS_NS;
    if (on != 0 && (on != coach->visit.handle || ended))
        td_visit_begin(&coach->visit, on, moment);
    else if (on == 0 && ended)
        coach->visit = (struct td_visit){0};
    if (on != 0 || lost) {
        coach->visit.off_ns = moment->now_ns;
        if (on != 0)
            coach->visit.along_m = moment->along_m;
    }
}

/* The hill could still turn out to be one on file: it is asked for, or being weighed. */
static bool may_be_on_file(const struct td_coach *coach)
{
    if (coach->where != TD_WHERE_OFF_FILE || coach->asking.pending)
        return true;
    for (int i = 0; i < TD_HYPOTHESES_MAX; i++)
        if (coach->locator.hypotheses[i].handle != 0 &&
            coach->locator.hypotheses[i].direction > 0)
            return true;
    return false;
}

static void say_unfiled(struct td_coach *coach, const struct td_moment *moment,
                        struct td_output *output)
{
    double since_m = coach->locator.odometer_m - coach->unfiled_said_m;
    if ((coach->unfiled_said && since_m < UNFILED_APART_M) || !moment->speed_fresh ||
        may_be_on_file(coach) || !td_unfiled_grade(&coach->unfiled))
        return;
    coach->unfiled_said = true;
    coach->unfiled_said_m = coach->locator.odometer_m;
    td_coach_say(coach, moment, TD_PROMPT_GRADE_NOT_ON_FILE, TD_WHY_STATE, output);
}

static bool lost_matters(const struct td_coach *coach, const struct td_moment *moment)
{
    return moment->where == TD_WHERE_LOST && coach->visit.handle != 0 && moment->hill &&
           moment->hill->coached && (!moment->plan || moment->plan->coached) &&
           coach->visit.along_m < moment->hill->foot_m + PAST_FOOT_M;
}

void td_coach_notices(struct td_coach *coach, const struct td_moment *moment,
                      struct td_output *output)
{
    bool first_loss = !coach->visit.lost;
    coach->visit.lost = lost_matters(coach, moment);
    if (coach->visit.lost && first_loss && !coach->lost_said)
        td_coach_say(coach, moment, TD_PROMPT_POSITION_LOST, TD_WHY_STATE, output);
    /* Near the hill it is found only when it is told: what the driver waits for is the coaching. */
    bool off = moment->where == TD_WHERE_OFF_FILE;
    if (!off || !coach->was_off)
        coach->found_at_m = coach->locator.odometer_m;
    coach->was_off = off;
    bool found = coach->located.handle != 0 ||
                 (off && coach->locator.odometer_m - coach->found_at_m >= FOUND_AFTER_M);
    if (coach->lost_said && found && !coach->found_waits)
        td_coach_say(coach, moment, TD_PROMPT_POSITION_BACK, TD_WHY_STATE, output);
    coach->found_waits = coach->lost_said && found;
    bool rolling = moment->speed_fresh && moment->speed_mps > ROLLING_MPS;
    if (coach->set_ns == 0 && rolling)
        td_coach_say(coach, moment, TD_PROMPT_LOAD_NOT_CONFIRMED, TD_WHY_STATE, output);
    say_unfiled(coach, moment, output);
    td_coach_say_damaged(coach, moment, output);
}
