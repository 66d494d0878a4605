/* SPDX-License-Identifier: GPL-3.0-or-later */
/* All that the coach remembers, and the parts a step is made of. */
#ifndef TD_CORE_COACH_STATE_H
#define TD_CORE_COACH_STATE_H

#include "core/coach_unfiled.h"
#include "core/cue.h"
#include "core/queue.h"
#include "talkdown/coach.h"
#include "talkdown/heat.h"

/* Speeds of the last seconds, for their rate. */
enum { TD_SPEEDS_MAX = 16 };

struct td_speeds {
    int64_t at_ns[TD_SPEEDS_MAX]; /* newest first */
    double mps[TD_SPEEDS_MAX];
    unsigned count;
};

/* Hills asked for and let go. */
enum { TD_RELEASES_MAX = 2 * TD_HILL_SLOTS };

struct td_asking {
    uint32_t last_serial;
    bool pending;           /* a want is out */
    bool due;               /* the hills on file changed */
    bool asked_once;
    int64_t asked_ns;
    int64_t not_before_ns;  /* back-off after a failure */
    unsigned failures;      /* one after the other */
    double lat_deg, lon_deg; /* of the last want */
    uint32_t releases[TD_RELEASES_MAX]; /* oldest first */
    unsigned release_count;
};

/* Damaged hills, by the number that the shell gave them. */
enum { TD_DAMAGED_MAX = 16 };

struct td_damaged_list {
    uint32_t handles[TD_DAMAGED_MAX]; /* oldest first */
    unsigned count;
};

struct td_damaged {
    struct td_damaged_list found; /* by the search that is out */
    struct td_damaged_list near;  /* by the last one, and by this */
    struct td_damaged_list told;
    bool library;     /* hills may not be found */
    bool library_due; /* and that is still to be told */
    bool unreadable;  /* as searches fail; over with the first that does not */
};

/* The plan of the hill in the same slot. */
struct td_slot_plan {
    bool have;
    unsigned epoch;       /* settings it was solved for */
    double brakes_from_c; /* temperature it was solved for */
    int64_t not_before_ns;
    struct td_plan plan;
};

struct td_solving {
    uint32_t last_serial;
    bool pending;
    uint32_t handle;
    unsigned epoch;
    double brakes_from_c;
    int64_t asked_ns;
};

struct td_coach {
    struct td_setup setup;
    int stage_most; /* strongest engine-brake stage that works, -1 none */
    unsigned epoch; /* counts changes of what a plan rests on */
    int64_t now_ns;
    bool stepped;

    struct td_locator locator;
    struct td_hill_slot slots[TD_HILL_SLOTS];
    struct td_slot_plan plans[TD_HILL_SLOTS];
    struct td_asking asking;
    struct td_damaged damaged;
    struct td_solving solving;

    struct td_speeds speeds;
    bool has_position; /* of the last sane fix, for asking only */
    double lat_deg, lon_deg;
    int64_t stood_since_ns; /* 0 rolling or not known */
    double fastest_mps[2];  /* of the five minutes under way and of those before */
    int64_t fastest_ns;     /* when the first of them began */
    struct td_located located; /* as of this step */
    enum td_where where;       /* as of the last event about it */
    uint32_t hill_on;          /* handle of the last HILL_ON without its HILL_OFF, 0 none */

    struct td_unfiled unfiled;
    bool unfiled_said;      /* once at least */
    double unfiled_said_m;  /* the locator's odometer then */
    struct td_visit visit;
    struct td_queue queue;
    bool lost_said;   /* and not yet that it was found again */
    bool found_waits; /* decided, and not yet handed to the voice */
    bool was_off;        /* with a position, on no hill */
    double found_at_m;   /* the locator's odometer when that began */
    int64_t set_ns;  /* when what it is set for was last decided, 0 never */
    int64_t sound_since_ns;

    struct td_heat_live heat;
    uint32_t heat_handle;  /* hill and descent that heat.bare_c counts from */
    size_t heat_descent;
    int64_t heat_ns;
    double heat_speed_mps;
};

/* coach_hills.c */
const struct td_hill *td_coach_hill(const struct td_coach *coach, uint32_t handle);
int td_coach_slot(const struct td_coach *coach, uint32_t handle); /* -1 none */
void td_coach_offer(struct td_coach *coach, const struct td_offer *offer,
                    struct td_output *output);
void td_coach_want(struct td_coach *coach, struct td_output *output);
int64_t td_coach_want_next_ns(const struct td_coach *coach);
double td_coach_next_grade_m(const struct td_coach *coach, const struct td_hill *hill);

/* coach_damaged.c */
void td_damaged_offered(struct td_damaged *damaged, uint32_t handle);
void td_damaged_answered(struct td_damaged *damaged); /* a search came to its end */
void td_damaged_failed(struct td_damaged *damaged, unsigned failures); /* so many in a row */
void td_damaged_told(struct td_damaged *damaged); /* by the shell, of the library */
void td_damaged_other_hills(struct td_damaged *damaged);
void td_damaged_issued(struct td_damaged *damaged, enum td_prompt_id id);
void td_coach_say_damaged(struct td_coach *coach, const struct td_moment *moment,
                          struct td_output *output);

/* coach_plan.c */
double td_coach_mass_kg(const struct td_coach *coach);
void td_coach_plan_input(struct td_coach *coach, uint32_t serial, const struct td_plan *plan,
                         struct td_output *output);
void td_coach_solve(struct td_coach *coach, struct td_output *output);
void td_coach_replan(struct td_coach *coach); /* load, road or engine brake changed */
int64_t td_coach_solve_next_ns(const struct td_coach *coach);
void td_coach_heat(struct td_coach *coach);

/* coach_move.c */
void td_coach_move(struct td_coach *coach, const struct td_input *input,
                   struct td_output *output);
void td_coach_moment(const struct td_coach *coach, struct td_moment *moment);
void td_coach_visit(struct td_coach *coach, const struct td_moment *moment,
                    struct td_output *output);
/* Notices that movement calls for: position lost and back, load not confirmed. */
void td_coach_notices(struct td_coach *coach, const struct td_moment *moment,
                      struct td_output *output);

/* coach_command.c */
void td_coach_command(struct td_coach *coach, const struct td_command *command,
                      const struct td_moment *moment, struct td_output *output);

/* coach.c */
void td_coach_say(struct td_coach *coach, const struct td_moment *moment, enum td_prompt_id id,
                  enum td_why why, struct td_output *output);

#endif
