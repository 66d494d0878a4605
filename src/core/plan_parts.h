/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the parts of the plan share: the road in pieces, one trial descent, the report. */
#ifndef TD_CORE_PLAN_PARTS_H
#define TD_CORE_PLAN_PARTS_H

#include "talkdown/plan.h"

/* Cuts crest to foot into pieces with slope, ceiling and bans (plan_road.c). */
void td_plan_road(const struct td_hill *hill, const struct td_rig *rig,
                  const struct td_plan_query *query, struct td_plan_work *work);

/* Speeds of a trial: as they are, or rounded down the way they are spoken. */
enum td_plan_rounding { TD_PLAN_EXACT = 0, TD_PLAN_SPOKEN_MPH, TD_PLAN_SPOKEN_KMH };

/* Everything a trial descent needs that does not change from one to the next. */
struct td_plan_case {
    const struct td_hill *hill;
    const struct td_rig *rig;
    const struct td_plan_query *query;
    const struct td_plan_work *road;
    bool filed;            /* heat without doubt: truck and road as on file */
    double credit;         /* share of rated engine-brake torque */
    double stop_mps2;      /* emergency stop that the brakes are to be able to make */
    double slowest_mps;    /* least and most ceiling of the road */
    double fastest_mps;
    enum td_plan_rounding spoken;
    double mild_mps;       /* 0: not even the slowest is */
    double alone_mps;      /* most on the service brakes with the engine motoring; 0: none */
    double climb_mps;      /* at which the engine would climb the steepest 300 m */
};

#define TD_PLAN_HOLDS_RATIO 1.1

struct td_plan_trial {
    int gear, stage;       /* stage -1: engine brake off; gear -1: no engine at all */
    double cruise_mps;     /* the ceiling where none is lower */
    enum td_plan_rounding rounding;
};

struct td_plan_outcome {
    bool known;            /* no figure in it came to nonsense */
    bool cool;             /* brakes under the limit everywhere, one emergency stop included */
    bool failure_cool;     /* the same when the engine brake goes at the worst point */
    double peak_c, peak_at_m, final_c;
    double worst_c, worst_at_m;     /* with the emergency stop */
    double failure_c, failure_at_m; /* with the stop after losing the engine brake */
    double brake_j, pull_j;
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
/* Engine's credited force over what the worst 300 m (at *at_m) ask of it; 1.1 and up holds every
 * 300 m with a tenth to spare. At most TD_PLAN_HOLD_MOST. but_bans: leaves out where an engine
 * brake is banned. */
#define TD_PLAN_HOLD_MOST 10.0
double td_plan_hold_ratio(const struct td_plan_case *plan_case, const struct td_plan_trial *trial,
                          bool but_bans, double *at_m);
/* The drive wheels can pass on what the stage holds back. */
bool td_plan_grips(const struct td_plan_case *plan_case, const struct td_plan_trial *trial);
/* Drives the trial from crest to foot; stops early at the first heat failure when `hasty`. */
void td_plan_descend(const struct td_plan_case *plan_case, const struct td_plan_trial *trial,
                     bool hasty, struct td_plan_outcome *outcome);

/* Fills target, stretches and figures of a plan from the trial chosen (plan_report.c). */
void td_plan_report(const struct td_plan_case *plan_case, const struct td_plan_trial *chosen,
                    enum td_plan_limit beyond, struct td_plan *plan);
void td_plan_report_refusal(const struct td_plan_case *plan_case, double crawl_mps,
                            struct td_plan *plan);
void td_plan_add_reason(struct td_plan *plan, enum td_plan_reason_kind kind, double value,
                        double at_m);

#endif
