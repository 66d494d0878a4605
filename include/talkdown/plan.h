/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The descent plan: which gear, which engine-brake stage, how fast, and whether at all.
 *
 * Pure: same query, same plan. Solved outside the coaching loop (it may take milliseconds); the
 * result is an input of a later step. Ownership: plain values; `work` is the caller's scratch.
 *
 * The road from crest to foot is one descent, or several where a break parts them: at least
 * TD_PLAN_BREAK_M on which the truck does not gain by itself, so that brakes cool and a gear can be
 * changed before the next crest. One gear and one stage hold for a whole descent.
 *
 * A trial (gear, stage, speed) is allowed when all of this holds (docs/physics.md derives each):
 * posted speed for trucks of this weight; curve speed; engine speed inside its band; brakes under
 * their limit at every point to the foot plus one emergency stop, with the engine brake credited
 * by policy and the truth as far off as `doubt` says; if the engine brake fails at the worst point
 * the service brakes alone can still stop the truck under the limit; and one of these:
 *   held      the credited engine brake or retarder holds every 300 m with a tenth to spare;
 *   climbing  no faster than the engine could climb the steepest 300 m (driver's manual, 2.16.2:
 *             the gear needed to climb the hill), not at a crawl, and the service brakes alone do;
 *   assisted  at a climbing speed of at most TD_PLAN_ASSISTED_MPH, or held but for bans of engine
 *             brakes, the service brakes stay within their normal temperature to the foot with the
 *             engine brake as credited;
 *   mild      the service brakes alone would stay within their normal temperature to the foot.
 * Each trial must also be allowed at its spoken, rounded-down speed in the same gear, since slower
 * can be hotter. The target is the highest allowed speed; of the gears and stages allowed at it,
 * the one that leaves the service brakes least to do, then the one nearest the engine's best speed,
 * then the weakest stage. With several descents the lowest target is made as high as it can be
 * first, then each in the order of the road is raised as far as those after it stay allowed. */
#ifndef TD_PLAN_H
#define TD_PLAN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "talkdown/hill.h"
#include "talkdown/result.h"
#include "talkdown/rig.h"

enum td_road { TD_ROAD_DRY = 0, TD_ROAD_WET, TD_ROAD_ICE };

/* How far the plan trusts the engine brake. */
enum td_credit { TD_CREDIT_NONE = 0, TD_CREDIT_CAUTIOUS, /* three quarters of rated torque */
                 TD_CREDIT_FULL };

/* What holds the target down. */
enum td_plan_limit { TD_LIMIT_POSTED = 0, TD_LIMIT_HEAT, TD_LIMIT_CURVE, TD_LIMIT_GEAR,
                     TD_LIMIT_NONE /* nothing below the highest speed scanned */ };

/* How far the truck and the road may stray from what is on file, all at once, to the worse side.
 * The brakes must stay under their limit even so. All of it ours: assumed, no source. */
struct td_plan_doubt {
    double mass_ratio;     /* true mass over the mass on file, 1 and up */
    double downgrade_add;  /* added to every downgrade, 0 and up */
    double capacity_ratio; /* of the brakes' heat capacity, beside what the rig counts as missing */
    double cooling_ratio;  /* the same of their cooling; both above 0 and at most 1 */
};

struct td_plan_query {
    double mass_kg;
    enum td_road road;
    enum td_credit credit;
    int stage_most;       /* strongest engine-brake stage to count on: index, -1 none */
    double ambient_c;
    double brakes_from_c; /* brake temperature at the crest */
    struct td_plan_doubt doubt;
    bool speak_kmh;       /* say_ figures in 5 km/h instead of 5 mph */
};

/* Truth as filed, and the doubt a plan is made with: 5 % more mass, 0.3 % more grade, a twentieth
 * less heat capacity and a fifth less cooling beside the fifth of the brakes taken as missing. */
struct td_plan_doubt td_plan_doubt_none(void);
struct td_plan_doubt td_plan_doubt_default(void);

/* Sound defaults for a rig as loaded now: dry, cautious, strongest stage, default doubt, 32.2 degC
 * (90 degF) ambient and 65.6 degC (150 degF) brakes, the reference model's own (check against
 * FHWA/RD-81/185, from memory). */
struct td_plan_query td_plan_query_default(const struct td_rig *rig);

enum {
    TD_PLAN_STRETCHES_MAX = 48,
    TD_PLAN_REASONS_MAX = 12,
    TD_PLAN_DESCENTS_MAX = 6,
    TD_PLAN_ESCAPES_MAX = 12,
};

/* A break parts two descents: so long, without a downgrade that makes the truck gain. */
#define TD_PLAN_BREAK_M     1000.0
#define TD_PLAN_BREAK_RATIO 0.02
/* On service brakes alone no plan goes slower than this; ours. */
#define TD_PLAN_CRAWL_MPH 10.0
/* Nor slower than this with anything: such an answer is no; ours. */
#define TD_PLAN_LEAST_MPH 5.0
/* On engine brake and service brakes together no plan goes faster; ours. */
#define TD_PLAN_ASSISTED_MPH 15.0
/* Brakes in ordinary use: ICBC, Driving commercial vehicles, about 120 degC; 250 degC the most. */
#define TD_PLAN_NORMAL_C 120.0

/* One descent between breaks. */
struct td_plan_descent {
    double from_m, to_m; /* to_m of one and from_m of the next have the break between them */
    double target_mps;   /* lowest stretch target in it: exact */
    int target_mph, say_mph, say_kmh; /* as in struct td_plan */
    enum td_plan_limit limited_by;
    int gear, stage;
    double rpm;
    double peak_c, peak_at_m, final_c; /* with doubt */
};

/* An open escape lane. Green Book: v2 = 2 g L (R + G), R by material (from memory). */
struct td_plan_escape {
    double at_m;
    double runaway_mps; /* free rolling from the plan's speed at the crest of its descent, or at the
                           open lane before it: as fast as the truck could come in */
    double length_m;    /* 0: not on file */
    double stops_mps;   /* the ramp stops a truck that comes in this fast; 0: not known */
    double needs_m;     /* length that runaway_mps needs; 0: not known */
};

struct td_plan_stretch {
    double from_m, to_m;
    double downgrade_ratio;
    double target_mps;
    enum td_plan_limit limited_by;
};

/* Why the plan is as it is; values are SI and named by the kind. */
enum td_plan_reason_kind {
    TD_REASON_POSTED = 0,        /* value: posted speed m/s; at_m: sign */
    TD_REASON_CURVE,             /* value: curve speed m/s; at_m: curve */
    TD_REASON_HEAT,              /* value: peak brake temperature degC; at_m: where */
    TD_REASON_RPM_MOST,          /* value: highest speed in the gear, m/s */
    TD_REASON_RPM_LEAST,         /* value: lowest speed in the lowest gear, m/s */
    TD_REASON_ENGINE_BRAKE_HOLDS, /* value: force to spare, ratio, on the worst 300 m */
    TD_REASON_ENGINE_BRAKE_WEAK, /* value: share of the pull it holds on the worst 300 m */
    TD_REASON_FAILURE_STOP,      /* engine brake lost at at_m; value: degC after the stop */
    TD_REASON_ICE_NO_CHAINS,     /* value, at_m: 0 */
    TD_REASON_NOTHING_ALLOWED,   /* value, at_m: 0; the reasons after it say what fails */
    TD_REASON_CLIMBING,          /* value: speed at which it would climb the worst 300 m, m/s */
    TD_REASON_CRAWL,             /* value: speed that the brakes alone would allow, m/s */
    TD_REASON_MILD,              /* value: degC that the service brakes alone would reach */
    TD_REASON_BREAK,             /* value: length of the break; at_m: where it begins */
    TD_REASON_KINDS
};

struct td_plan_reason {
    enum td_plan_reason_kind kind;
    double value;
    double at_m;
};

struct td_plan {
    bool safe;      /* false: this rig at this weight should not go down here */
    bool coached;   /* false: the hill needs no plan (gentle); the rest is then unset */
    double target_mps; /* lowest stretch target: exact, before rounding */
    int target_mph; /* whole mph, rounded down */
    int say_mph;    /* multiple of 5 rounded down (whole mph below 5) */
    int say_kmh;    /* the same in km/h; gear and rpm are solved at the one the query speaks */
    int without_engine_brake_mph; /* whole mph; 0 when not safe without it */
    enum td_plan_limit limited_by;
    int gear;       /* index into rig->gears; -1 when not safe */
    int stage;      /* index into rig->stages; -1 engine brake off */
    double rpm;     /* at the spoken speed in that gear */
    double peak_c, final_c; /* brakes, credited engine brake, missing capacity counted */
    double peak_at_m;
    double likely_peak_c; /* the same without doubt: truck and road as filed */
    double margin_c;  /* limit less (peak with one emergency stop), may be negative */
    double spare_kg;  /* so much more weight, same gear and speed, reaches the brakes' limit (the
                         engine brake may stop holding before); at most the truck's own mass */
    double spare_mps; /* so much over the target, same gear, reaches it; at most to the end of the
                         engine's band and TD_PLAN_MOST_MPH */
    double stop_m;      /* to stop from the target where it is steepest: perception, reaction, air
                           lag, then what hot brakes are to do */
    double last_stop_m; /* engine brake lost at the crest and the speed held by the service brakes:
                           the last place where they can still stop the truck; foot_m: everywhere */
    double brake_share; /* share of the pull's work that the service brakes must take, slowing for
                           curves and signs included; engine brake as credited (cautiously when not
                           credited at all) */
    struct td_plan_stretch stretches[TD_PLAN_STRETCHES_MAX];
    size_t stretch_count;
    struct td_plan_descent descents[TD_PLAN_DESCENTS_MAX]; /* 1 and up when safe; the summary above
                                                              is that of the lowest target */
    size_t descent_count;
    struct td_plan_escape escapes[TD_PLAN_ESCAPES_MAX];
    size_t escape_count;
    struct td_plan_reason reasons[TD_PLAN_REASONS_MAX];
    size_t reason_count;
};

/* Highest speed the plan considers at all. */
#define TD_PLAN_MOST_MPH 75.0

/* Share of the engine brake's rated torque that a policy counts on. */
double td_plan_credit_ratio(enum td_credit credit);

/* Highest speed on a curve of this radius: the lesser of what side friction holds (point mass,
 * v2 / (g r) = f(v), AASHTO side friction) and of the rollover threshold lowered by a quarter for
 * dynamics (SAE 2003-01-3385) and again by a margin; no superelevation is counted on. Wet: a third
 * slower. Radius above 0, m. */
double td_plan_curve_mps(const struct td_rig *rig, enum td_road road, double radius_m);

enum { TD_PLAN_PIECES_MAX = TD_HILL_STATIONS_MAX };

/* A piece of the descent, 50 m or a little more long, as the plan reckons. */
struct td_plan_piece {
    double from_m, length_m;
    double sine, cosine; /* of the slope; sine positive going down */
    double hot_sine, hot_cosine; /* of the slope with doubt, by which heat is reckoned */
    double ceiling_mps;  /* TD_PLAN_MOST_MPH where nothing is posted and nothing bends */
    double reason_at_m;  /* where the sign or curve that sets the ceiling stands */
    enum td_plan_limit limited_by; /* POSTED, CURVE or NONE */
    bool engine_brake_banned;
};

/* Pieces from first to before last. */
struct td_plan_span {
    size_t first, last;
};

enum {
    TD_PLAN_STEPS_MAX = 304, /* speeds tried: quarters of a mph, halves of a km/h */
    TD_PLAN_CANDIDATES_MAX = 3,
    TD_PLAN_SPANS_MAX = TD_PLAN_DESCENTS_MAX * (TD_PLAN_DESCENTS_MAX + 1) / 2,
};

/* A gear and stage that would do at a speed: from brakes as hot as cap_c at the crest they come to
 * the next crest at slope x + offset, at the exact speed and at the spoken one. */
struct td_plan_candidate {
    double cap_c, slope[2], offset_c[2];
    bool engine_brake;
};

/* What is allowed on one descent at each speed. */
struct td_plan_table {
    double mild_cap_c[TD_PLAN_STEPS_MAX];  /* brakes alone in ordinary use, here and slower */
    double alone_cap_c[TD_PLAN_STEPS_MAX]; /* brakes alone, motoring, here and slower to a crawl */
    int off_from, stages_from;             /* rows are filled from here up */
    int off_best, best;                    /* highest with a candidate of off, of any; 0: none */
    uint8_t count[TD_PLAN_STEPS_MAX];
    struct td_plan_candidate candidates[TD_PLAN_STEPS_MAX][TD_PLAN_CANDIDATES_MAX];
};

/* Scratch for one solve; about 2.5 MB, never on a stack. */
struct td_plan_work {
    struct td_plan_piece pieces[TD_PLAN_PIECES_MAX];
    uint32_t slowest_of_window[TD_PLAN_PIECES_MAX];
    size_t count;
    struct td_plan_span descents[TD_PLAN_DESCENTS_MAX]; /* breaks lie between them */
    size_t descent_count;
    struct td_plan_table tables[TD_PLAN_SPANS_MAX];
};

/* Solves the descent from crest to foot. Always fills *plan; an answer of "no" is a plan with
 * safe false and its reasons, never a guess. hill and rig must have been checked. */
void td_plan_solve(const struct td_hill *hill, const struct td_rig *rig,
                   const struct td_plan_query *query, struct td_plan_work *work,
                   struct td_plan *plan);

/* The descent at a place; in a break and before the crest the one ahead, beyond the foot the last.
 * NULL when the plan has none. */
const struct td_plan_descent *td_plan_descent_at(const struct td_plan *plan, double along_m);
/* The speed the plan holds at a place on the hill; the last stretch's beyond the foot. In a break
 * it is the road's own ceiling. */
double td_plan_target_at(const struct td_plan *plan, double along_m);

#endif
