/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the parts of the plan share: the road in pieces and descents, a trial on one of them, what
 * is allowed on it, the report. */
#ifndef TD_CORE_PLAN_PARTS_H
#define TD_CORE_PLAN_PARTS_H

#include "talkdown/plan.h"

/* Cuts crest to foot into pieces with slope, ceiling and bans, and these into descents between
 * breaks (plan_road.c). */
void td_plan_road(const struct td_hill *hill, const struct td_rig *rig,
                  const struct td_plan_query *query, struct td_plan_work *work);

/* Speeds of a trial: as they are, or rounded down the way they are spoken. */
enum td_plan_rounding { TD_PLAN_EXACT = 0, TD_PLAN_SPOKEN_MPH, TD_PLAN_SPOKEN_KMH };

/* Everything that a trial on one descent needs and that does not change from one to the next. */
struct td_plan_case {
    const struct td_hill *hill;
    const struct td_rig *rig;
    const struct td_plan_query *query;
    const struct td_plan_work *road;
    struct td_plan_span span;
    struct td_plan_span after; /* the break that follows; empty after the last descent */
    double enter_mps;      /* speed in the break before; 0: none, the descent begins at the crest */
    double retarder_from_c;
    double over_mps;       /* faster than the trial everywhere, for margins */
    bool filed;            /* heat without doubt: truck and road as on file */
    double credit;         /* share of rated engine-brake torque */
    double stop_mps2;      /* emergency stop that the brakes are to be able to make */
    double slowest_mps;    /* least and most ceiling of the descent */
    double fastest_mps;
    double climb_mps;      /* at which the engine would climb its steepest 300 m */
    enum td_plan_rounding spoken;
};

#define TD_PLAN_HOLDS_RATIO 1.1

struct td_plan_trial {
    int gear, stage;       /* stage -1: engine brake off; gear -1: no engine at all */
    double cruise_mps;     /* the ceiling where none is lower */
    enum td_plan_rounding rounding;
};

double td_plan_round_down_mps(double speed_mps, enum td_plan_rounding rounding);
double td_plan_piece_mps(const struct td_plan_case *plan_case, const struct td_plan_trial *trial,
                         size_t piece);
/* Least and most speed of the descent. */
double td_plan_slowest_mps(const struct td_plan_case *plan_case, const struct td_plan_trial *trial);
double td_plan_fastest_mps(const struct td_plan_case *plan_case, const struct td_plan_trial *trial);
/* Engine speeds of the whole descent stay inside the band. */
bool td_plan_rpm_fits(const struct td_plan_case *plan_case, const struct td_plan_trial *trial);

/* What engine and retarder hold back on a piece at a speed; free_n is what asks for it (pull less
 * rolling and air). *retarder_c is the retarder's temperature, carried along. */
double td_plan_hold_n(const struct td_plan_case *plan_case, const struct td_plan_trial *trial,
                      const struct td_plan_piece *piece, double speed_mps, double free_n,
                      double *retarder_c);
/* Speed at which the engine would climb the steepest 300 m; truck and road as filed. */
double td_plan_climb_mps(const struct td_plan_case *plan_case);
/* No cooler a retarder than one that has just come down and then cools through a break. */
double td_plan_retarder_after_c(const struct td_plan_case *plan_case, double break_s);
/* Engine's credited force over what the worst 300 m (at *at_m) ask of it; 1.1 and up holds every
 * 300 m with a tenth to spare. At most TD_PLAN_HOLD_MOST; stops looking at the first below
 * `enough`. but_bans: leaves out where an engine brake is banned. */
#define TD_PLAN_HOLD_MOST 10.0
double td_plan_hold_ratio(const struct td_plan_case *plan_case, const struct td_plan_trial *trial,
                          bool but_bans, double enough, double *at_m);
/* The drive wheels can pass on what the stage holds back. */
bool td_plan_grips(const struct td_plan_case *plan_case, const struct td_plan_trial *trial);

/* Truck and brakes on the way down (plan_body.c). settle: what stays the same while the speed does;
 * enter: what a piece asks and what a stop on it would cost. */
struct td_plan_body {
    const struct td_plan_case *plan_case;
    const struct td_plan_trial *trial;
    double capacity_j_per_k, cooling_ratio, moving_kg, weight_n;
    bool has_retarder;
    double retarder_c;
    double signed_work_j; /* of the pull; carries anything that is no number to the end */
    double speed_mps, length_m;
    bool banned;
    double air_n, engine_n, cooling_w_per_k, kinetic_c;
    double share;         /* of the way to the steady temperature in one piece */
    double unshare;       /* 1 / (1 - share) */
    double pull_n, brake_n, steady_c; /* of the piece entered */
    double stop_c, failure_c; /* rise of an emergency stop, and of the one after losing the engine
                                 brake; the latter 0 with none to lose */
};

void td_plan_body_begin(const struct td_plan_case *plan_case, const struct td_plan_trial *trial,
                        struct td_plan_body *body);
void td_plan_body_enter(struct td_plan_body *body, const struct td_plan_piece *piece,
                        double speed_mps);
/* Rise from slowing entirely on the service brakes; 0 when it is no slowing. */
double td_plan_slowing_c(const struct td_plan_body *body, double from_mps, double to_mps);

struct td_plan_outcome {
    bool known;            /* no figure in it came to nonsense */
    double peak_c, peak_at_m, final_c;
    double worst_c, worst_at_m;     /* with the emergency stop */
    double failure_c, failure_at_m; /* with the stop after losing the engine brake */
    double hopeless_at_m;  /* first place where a stop passes the limit; INFINITY: nowhere */
    double next_c;         /* after the break that follows */
    double brake_j, pull_j;
};

/* Drives the trial down the descent from a brake temperature at its crest, and through the break
 * after it. */
void td_plan_descend(const struct td_plan_case *plan_case, const struct td_plan_trial *trial,
                     double from_c, struct td_plan_outcome *outcome);

/* The same for every temperature at the crest at once: the brakes' heat is linear in it. */
struct td_plan_map {
    double cap_c;        /* highest temperature at the crest from which all stops stay under the
                            limit */
    double normal_cap_c; /* and from which the brakes stay in ordinary use */
    struct td_plan_line {
        double slope, offset_c; /* temperature at the next crest, of that at this one */
    } exact, spoken;
};

/* At the exact and at the spoken speed. False, and *map is not to be used, when no temperature from
 * floor_c up keeps the stops under the limit. */
bool td_plan_map(const struct td_plan_case *plan_case, const struct td_plan_trial *trial,
                 double floor_c, struct td_plan_map *map);

/* What is allowed (plan_allow.c). */
int td_plan_last_step(const struct td_plan_case *plan_case);
double td_plan_step_mps(const struct td_plan_case *plan_case, int step);
int td_plan_stage_most(const struct td_plan_case *plan_case);
bool td_plan_holds(const struct td_plan_case *plan_case, struct td_plan_trial trial, bool but_bans);
bool td_plan_is_crawl(const struct td_plan_case *plan_case, double cruise_mps);
/* Prepares the table of a descent. */
void td_plan_table_begin(const struct td_plan_case *plan_case, struct td_plan_table *table);
/* Fills rows of the table from the last step down to `step`; stages too, or none. */
void td_plan_table_to(const struct td_plan_case *plan_case, struct td_plan_table *table, int step,
                      bool with_stages);
/* Highest temperature at the crest at which the trial is allowed, below every temperature when it
 * is not; *map is set when it is. */
double td_plan_allowed_c(const struct td_plan_case *plan_case, const struct td_plan_table *table,
                         int step, struct td_plan_trial trial, struct td_plan_map *map);
enum td_plan_limit td_plan_limit_beyond(const struct td_plan_case *plan_case,
                                        const struct td_plan_table *table, int step,
                                        struct td_plan_trial trial, double from_c);
/* Whether brakes alone stay in ordinary use, from that temperature. */
bool td_plan_is_mild(const struct td_plan_table *table, int step, double from_c);

/* The plan found: its descents with their trials (plan.c). */
struct td_plan_leg {
    struct td_plan_case of;
    struct td_plan_trial trial;
    int step;
    double from_c;              /* brakes at its crest, the slowing for it not yet in */
    enum td_plan_limit beyond;  /* what stops it from going faster where no ceiling does */
    bool held, mild;
    double mild_peak_c;
};

struct td_plan_legs {
    struct td_plan_leg leg[TD_PLAN_DESCENTS_MAX];
    size_t count;
};

/* All legs one after the other from the query's temperature; each[] is what they came to, the
 * hottest after a stop is returned. */
double td_plan_drive(const struct td_plan_legs *legs, enum td_plan_rounding rounding,
                     struct td_plan_outcome *each);

/* Fills target, stretches and figures (plan_report.c), margins and escape lanes (plan_margin.c). */
void td_plan_report(const struct td_plan_legs *legs, struct td_plan *plan);
void td_plan_report_refusal(const struct td_plan_case *plan_case, double crawl_mps,
                            struct td_plan *plan);
void td_plan_stretches(const struct td_plan_legs *legs, struct td_plan *plan);
void td_plan_add_reason(struct td_plan *plan, enum td_plan_reason_kind kind, double value,
                        double at_m);
void td_plan_margins(const struct td_plan_legs *legs, size_t slowest, struct td_plan *plan);
void td_plan_escapes(const struct td_plan_legs *legs, struct td_plan *plan);

#endif
