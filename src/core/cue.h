/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Cues: what the moment calls for. A cue looks at one plain moment (where, how fast, which plan)
 * and at what was already said on this hill, and wishes for prompts; the queue arbitrates. Before a
 * prompt is handed to the voice, and when one was cut or lost, td_cue_fill asks again whether it is
 * still true and puts the numbers of this moment in.
 *
 * Times count to the END of the speech: "say" is the speech with its tone and the sound's delay. */
#ifndef TD_CORE_CUE_H
#define TD_CORE_CUE_H

#include <stdbool.h>
#include <stdint.h>

#include "talkdown/coach.h"

/* Below this lead after the speech a prompt is stale (perception and reaction 2.5 s, AASHTO). */
#define TD_CUE_LEAD_LEAST_S 2.5
/* Lead where a gear must be chosen (high judgement, MUTCD 2C.05: 14.0 to 14.5 s). */
#define TD_CUE_LEAD_JUDGE_S 14.5
/* Lead of a final prompt that asks for braking only (Wan 2016: 5 to 8 s). */
#define TD_CUE_LEAD_ACT_S 6.0

/* Slower than this a truck is as good as standing. */
#define TD_CUE_ROLLING_MPS 1.5

/* Everything a cue may look at. Plain values of one step. */
struct td_moment {
    int64_t now_ns;
    const struct td_setup *setup; /* as it is now: load, road and engine brake included */
    double mass_kg;               /* planned for */
    enum td_where where;
    uint32_t handle;              /* hill in force or last in force, 0 none */
    const struct td_hill *hill;   /* of that handle; NULL when none */
    const struct td_plan *plan;   /* for that hill; NULL while there is none */
    bool on_hill;                 /* ON_HILL or COASTING on a hill that needs coaching */
    double along_m, sigma_m;
    double speed_mps, accel_mps2;
    bool speed_fresh;             /* speed and its rate rest on fixes of the last seconds */
    int64_t fix_ns;               /* when the last fix was received */
    double fix_mps;               /* its speed, as told */
    double fix_accel_mps2;        /* from the one a second before it; 0 without one */
    double lately_mps;            /* fastest of the last five to ten minutes */
    bool sound_up;
    int64_t sound_since_ns;       /* since when it is as sound_up says */
    double heat_least_c, heat_likely_c, heat_most_c; /* brakes, as of the last step */
    double next_grade_m;          /* from this hill's foot to the crest of the next, 0 not known */
    bool hill_damaged;            /* one on file is near and cannot be trusted; on no other hill */
    bool library_damaged;         /* hills on file may not be found; on no hill now */
};

enum td_place_said {
    TD_SAID_FAR = 1 << 0,
    TD_SAID_NEAR = 1 << 1,
    TD_SAID_LAST = 1 << 2,
    TD_PLACE_STOPPED = 1 << 3, /* stood there */
    TD_PLACE_ROLLED = 1 << 4,  /* rolled again after it */
    TD_PLACE_BEHIND = 1 << 5,  /* went by: judged once */
    TD_PLACE_AHEAD = 1 << 6,   /* was seen ahead */
};

enum td_visit_said {
    TD_SAID_HILL = 1 << 0,
    TD_SAID_SET = 1 << 1,
    TD_SAID_SLOW = 1 << 2,
    TD_SAID_SLOW_AGAIN = 1 << 3,
    TD_SAID_GEAR = 1 << 4,
    TD_SAID_ENGINE_BRAKE = 1 << 5,
    TD_SAID_LAST_LANE = 1 << 6,
    TD_SAID_BOTTOM_AHEAD = 1 << 7,
    TD_SAID_BOTTOM = 1 << 8,
    TD_SAID_NO_GO_FAR = 1 << 9,
    TD_SAID_NO_GO_CHECK = 1 << 10,
    TD_SAID_NO_GO_CREST = 1 << 11,
    TD_SAID_NO_GO_GRADE = 1 << 12,
    TD_VISIT_BEFORE_CREST = 1 << 13, /* was seen on the approach */
    TD_VISIT_BAN_HELD = 1 << 14,     /* engine brake not called at the crest: banned there */
    TD_SAID_FLASHERS_ON = 1 << 15,
    TD_SAID_FLASHERS_OFF = 1 << 16,
    TD_VISIT_STOOD = 1 << 17,        /* stood on the grade and has not rolled since */
};

/* One time over speed: from crossing the limit until the speed is back below it. */
struct td_over {
    bool over, warned, muted;
    int64_t since_ns;
    int64_t next_ns; /* not said again before this */
    unsigned calls;     /* handed to the voice so far */
    double called_mps;  /* speed at the last of them */
    int64_t called_ns;
    int64_t heard_ns;   /* when the first was spoken to its end, 0 not yet */
};

/* Watching for a runaway, and one that was called (cue_runaway.c). */
struct td_runaway {
    bool on;             /* called, until the truck has really slowed */
    bool over;           /* over the ceiling; all below but the last lines is of this time over */
    bool warned;         /* the gain below was begun after a warning was heard */
    double low_mps;      /* where the gain under way began */
    int64_t low_ns;
    double high_mps;     /* most since then */
    double peak_mps;     /* most before that, since it last kept to a ceiling: what the driver
                          * lets it run to */
    double limit_mps;    /* ceiling last in force */
    int64_t slow_since_ns; /* slowing without a break since; 0 not slowing */
    int32_t called;      /* last: place index + 1 of a lane, -1 open ground, 0 nothing yet */
    unsigned calls;      /* of that, so far */
    int64_t next_ns;     /* not called again before this, the last call excepted */
    double mark_m;       /* distance of its next call in the countdown; 0 only the last is left */
    int32_t taken;       /* place index + 1 of the lane whose last call was made, 0 none */
    int64_t behind_ns;   /* since when that lane is behind, 0 it is not */
    int64_t under_ns;    /* since when it is at or below the ceiling, 0 not */
    bool heeds;          /* it was for a while, and had to slow for it, on this hill */
};

/* Gain on a descent against what the planned gear and stage allow; the engine in that gear. */
struct td_gain {
    int64_t since_ns;   /* since when it is on this descent, 0 it is not */
    int64_t excess_ns;  /* since when it gains more, 0 it does not */
    bool not_taken;     /* the plan was not taken; until the next stop */
    size_t stretch;     /* of the plan, 1 and up: building speed was called there last; 0 never */
    int64_t building_ns; /* when it was last wished for, 0 never */
    int64_t in_band_ns; /* since when the planned gear could be in on this descent, 0 not yet */
    bool in_gear;       /* it could be for long enough */
    bool over_rpm;      /* past its band; called once until back in it */
};

/* Brakes on the hill: what was said at which heat. */
struct td_hot {
    bool caution, warning;       /* threshold passed and not yet well below it again */
    double caution_c, warning_c; /* heat when last said */
    int64_t caution_ns, warning_ns;
    int32_t room;                /* place to stop at named last, plus one; 0 none */
    int32_t ceiling;             /* at which the planned gear alone holds, spoken units; 0 none */
    bool parking, next_grade;    /* said */
};

/* What was said and seen on the hill in force. */
struct td_visit {
    uint32_t handle;
    int64_t off_ns; /* when the truck was last on it */
    double first_along_m; /* where it was recognised */
    double along_m;       /* where it was last known to be */
    bool lost;            /* the loss of position under way was judged */
    unsigned said; /* enum td_visit_said bits */
    uint8_t places[TD_HILL_PLACES_MAX]; /* enum td_place_said bits */
    int64_t stood_since_ns; /* 0 rolling */
    size_t descent;         /* of the plan's, the farthest reached or headed for */
    int32_t ceiling;        /* last one called in it, in spoken units; 0 none */
    uint64_t runs_said, easings_said; /* bit of the hill's run or easing: called or gone by */
    int64_t no_go_ns, slow_ns, briefed_ns; /* when last decided, 0 never */
    int32_t break_ceiling;                 /* last one called on the level between two descents */
    struct td_over over;
    struct td_gain gain;
    struct td_hot hot;
    struct td_runaway runaway;
};

/* A prompt wished for; the serial comes from the queue. */
struct td_wish {
    struct td_prompt prompt;
    enum td_why why;
};

enum { TD_WISHES_MAX = 16 };

struct td_wishes {
    struct td_wish list[TD_WISHES_MAX];
    unsigned count;
};

enum td_fill {
    TD_FILL_READY = 0, /* true now, numbers are in */
    TD_FILL_HOLD,      /* cannot be judged now (position not sure): wait until it expires */
    TD_FILL_GONE,      /* no longer matters; *why says why */
};

void td_visit_begin(struct td_visit *visit, uint32_t handle, const struct td_moment *moment);
/* Watches stops and places going by; wishes for what this moment calls for on the hill. Latches
 * what it wished for in the visit. */
void td_cue_hill(const struct td_moment *moment, struct td_visit *visit, struct td_wishes *wishes);
/* Is it still true, and what are its numbers and its expiry now? */
enum td_fill td_cue_fill(const struct td_moment *moment, const struct td_visit *visit,
                         struct td_prompt *prompt, enum td_why *why);
/* The prompt goes to the voice now with the numbers in it. */
void td_cue_issued(const struct td_moment *moment, struct td_visit *visit,
                   const struct td_prompt *prompt);
/* It was spoken to its end. */
void td_cue_spoken(const struct td_moment *moment, struct td_visit *visit,
                   const struct td_prompt *prompt);
/* True when it should be cut off in mid-word: the driver is already doing what it asks for. */
bool td_cue_answered(const struct td_moment *moment, const struct td_visit *visit,
                     const struct td_prompt *prompt);
/* When a hold time of the cues runs out; INT64_MAX when none runs. */
int64_t td_cue_next_ns(const struct td_moment *moment, const struct td_visit *visit);

/* The parts, one file each. */
void td_cue_approach(const struct td_moment *moment, struct td_visit *visit,
                     struct td_wishes *wishes);
void td_cue_check(const struct td_moment *moment, struct td_visit *visit,
                  struct td_wishes *wishes);
void td_cue_grade(const struct td_moment *moment, struct td_visit *visit,
                  struct td_wishes *wishes);
void td_cue_ceiling(const struct td_moment *moment, struct td_visit *visit,
                    struct td_wishes *wishes);
void td_cue_road(const struct td_moment *moment, struct td_visit *visit,
                 struct td_wishes *wishes);
void td_cue_over(const struct td_moment *moment, struct td_visit *visit, struct td_wishes *wishes);
/* Speed building, engine over speed. */
void td_cue_speed(const struct td_moment *moment, struct td_visit *visit,
                  struct td_wishes *wishes);
/* Brakes heating, brakes hot, stop at. */
void td_cue_heat(const struct td_moment *moment, struct td_visit *visit, struct td_wishes *wishes);
/* Hot parking, brakes still hot. */
void td_cue_after(const struct td_moment *moment, struct td_visit *visit,
                  struct td_wishes *wishes);
void td_cue_over_issued(const struct td_moment *moment, struct td_over *over);
void td_cue_runaway(const struct td_moment *moment, struct td_visit *visit,
                    struct td_wishes *wishes);
void td_cue_runaway_issued(const struct td_moment *moment, struct td_runaway *runaway,
                           const struct td_prompt *prompt);
enum td_fill td_fill_approach(const struct td_moment *moment, const struct td_visit *visit,
                              struct td_prompt *prompt, enum td_why *why);
enum td_fill td_fill_check(const struct td_moment *moment, const struct td_visit *visit,
                           struct td_prompt *prompt, enum td_why *why);
enum td_fill td_fill_grade(const struct td_moment *moment, const struct td_visit *visit,
                           struct td_prompt *prompt, enum td_why *why);
enum td_fill td_fill_ceiling(const struct td_moment *moment, const struct td_visit *visit,
                             struct td_prompt *prompt, enum td_why *why);
enum td_fill td_fill_road(const struct td_moment *moment, struct td_prompt *prompt,
                          enum td_why *why);
enum td_fill td_fill_over(const struct td_moment *moment, const struct td_visit *visit,
                          struct td_prompt *prompt, enum td_why *why);
enum td_fill td_fill_speed(const struct td_moment *moment, const struct td_visit *visit,
                           struct td_prompt *prompt, enum td_why *why);
enum td_fill td_fill_heat(const struct td_moment *moment, const struct td_visit *visit,
                          struct td_prompt *prompt, enum td_why *why);
enum td_fill td_fill_after(const struct td_moment *moment, const struct td_visit *visit,
                           struct td_prompt *prompt, enum td_why *why);
enum td_fill td_fill_runaway(const struct td_moment *moment, const struct td_visit *visit,
                             struct td_prompt *prompt, enum td_why *why);
enum td_fill td_fill_notice(const struct td_moment *moment, struct td_prompt *prompt,
                            enum td_why *why);

/* A moment kept for later, where 0 means never. */
static inline int64_t td_cue_stamp(int64_t now_ns)
{
    return now_ns != 0 ? now_ns : 1;
}

/* Helpers the parts share (cue.c). */
double td_cue_say_s(const struct td_moment *moment, enum td_prompt_id id);
/* Metres from the place where the speech of `id`, begun now, ends to a place on the hill. */
double td_cue_left_m(const struct td_moment *moment, enum td_prompt_id id, double at_m);
/* Seconds left after that speech until the place at the present speed. */
double td_cue_left_s(const struct td_moment *moment, enum td_prompt_id id, double at_m);
/* Metres a truck needs from its speed to `to_mps` at a slowing rate; 0 when it is slower. */
double td_cue_slowing_m(double from_mps, double to_mps, double rate_mps2);
/* Sure enough of the position to speak about a place `away_m` from here. */
bool td_cue_sure(const struct td_moment *moment, double away_m);
/* A speed limit of the plan as it is spoken, in mph or km/h: the plan's own spoken figure where it
 * is the lowest, else rounded down to fives; below five to whole ones; 0 cannot be spoken. */
int32_t td_cue_say_speed(const struct td_moment *moment, double limit_mps);
double td_cue_mps_from_say(const struct td_moment *moment, int32_t say);
struct td_arg td_cue_speed_arg(const struct td_moment *moment, int32_t say);
/* Distance for speech from the end of the words to a place: true within a tenth there, and never
 * more than is left as the words begin. */
struct td_arg td_cue_distance_arg(const struct td_moment *moment, enum td_prompt_id id,
                                  double at_m);
struct td_arg td_cue_weight_arg(const struct td_moment *moment);
/* A plan that may be driven is in hand. */
bool td_cue_plan_drivable(const struct td_moment *moment);
/* The descent under the truck or ahead of it; NULL without a drivable plan. */
const struct td_plan_descent *td_cue_descent(const struct td_moment *moment);
/* Where that descent begins and ends; the hill's own crest and foot at its two ends and while there
 * is no plan. */
double td_cue_crest_m(const struct td_moment *moment);
double td_cue_foot_m(const struct td_moment *moment);
/* Between crest and foot. */
bool td_cue_on_grade(const struct td_moment *moment);
void td_cue_wish(struct td_wishes *wishes, const struct td_moment *moment, enum td_prompt_id id,
                 int32_t place, double about_m, enum td_why why);
/* Sets arguments; unit NONE with value 0 stays in its place, so that words keep their order. */
void td_cue_args(struct td_prompt *prompt, unsigned count, const struct td_arg *args);
/* Expires `lead_s` seconds before the place is reached, speech included; at most a minute. */
void td_cue_expire_before(const struct td_moment *moment, struct td_prompt *prompt, double at_m);
/* A mark (one mile, half a mile) before a place is reached: the speech would end there, one fix
 * interval early rather than late, and no later than `floor_m`. */
bool td_cue_mark_due(const struct td_moment *moment, enum td_prompt_id id, double at_m,
                     double mark_m, double floor_m);
double td_cue_far_m(const struct td_moment *moment);     /* one mile; two kilometres */
double td_cue_near_m(const struct td_moment *moment);    /* half a mile; one kilometre */
double td_cue_quarter_m(const struct td_moment *moment); /* quarter mile; 400 m */
bool td_cue_slowing(const struct td_moment *moment);     /* measured (R39 by GNSS alone) */
/* Expires a number of seconds after it was decided, time without sound not counted. */
void td_cue_expire_after(const struct td_moment *moment, struct td_prompt *prompt, double after_s);
/* Fills a prompt about a place ahead of the truck: distance and side, after PLACE itself when it is
 * `named`. Gone when the place can no longer be acted on or is none of the hill's. */
enum td_fill td_cue_fill_place(const struct td_moment *moment, struct td_prompt *prompt,
                               bool named, enum td_why *why);
/* On a downgrade of the plan: between its descents' crests and feet, not on a break. */
bool td_cue_on_descent(const struct td_moment *moment);
/* Engine brakes are banned at this place; a ban without a length on file is taken to hold to the
 * foot. */
bool td_cue_engine_brake_banned(const struct td_hill *hill, double at_m);
/* The target in force here; 0 none. On the level between two descents it rests, as before the
 * first. */
double td_cue_limit_mps(const struct td_moment *moment);
/* What comes after a foot, and where along this road (beyond its end for another hill's grade). */
enum td_next td_cue_next_after(const struct td_moment *moment, double foot_m, double *at_m);
/* The brake check area that comes first before the crest; -1 none. */
int32_t td_cue_first_check(const struct td_hill *hill);

#endif
