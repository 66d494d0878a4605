/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which hill the truck is on, going down it, and how far along: several hypotheses side by side,
 * each a small filter on (hill, distance along, speed), and one for "road not on file".
 *
 * Pure, fixed memory. Hills are directional: a truck going up, across, beside or on the other leg
 * of a hairpin is not on the hill. A hill is named only after the evidence is clear, and kept
 * through gaps by dead reckoning until 30 m of uncertainty or 20 s, whichever is first.
 * sigma is one standard deviation along the road (or per horizontal axis for a fix), in metres. */
#ifndef TD_LOCATE_H
#define TD_LOCATE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "talkdown/fix.h"
#include "talkdown/hill.h"

enum { TD_HILL_SLOTS = 8, TD_HYPOTHESES_MAX = 16 };

enum td_where {
    TD_WHERE_NO_FIX = 0, /* no position yet */
    TD_WHERE_OFF_FILE,   /* a position, on no hill on file */
    TD_WHERE_WEIGHING,   /* near hills, evidence not clear */
    TD_WHERE_ON_HILL,
    TD_WHERE_COASTING,   /* on a hill by dead reckoning */
    TD_WHERE_LOST,       /* was on or near a hill, past the limit of dead reckoning */
};

/* A hill in hand; handle 0 marks an empty slot. The coach owns the slots. */
struct td_hill_slot {
    uint32_t handle;
    const struct td_hill *hill;
};

/* The receiver's height against the profile's along one hypothesis. Its changes count, never its
 * value: profiles and receivers differ by 50 m. */
struct td_climb {
    unsigned count;       /* of marks */
    double age_m[3];      /* when they were made; oldest first */
    double gap_m[3];      /* height told above the profile's, then */
    double profile_m[3];  /* the profile's height, then */
    double gap_now_m;     /* smoothed over 30 m */
    double slip_m;        /* change of the gap since the oldest mark */
    double rise_m;        /* of the profile since then */
    double over_m;        /* distance since the oldest mark; 0: nothing known */
};

/* One idea of where the truck is. Going up a road on file is an idea too: it is never told, but
 * holds back what cannot be told from it, such as the next leg of a hairpin. */
struct td_hypothesis {
    uint32_t handle;      /* 0: free */
    int direction;        /* 1 down the hill, -1 up */
    double along_m;
    double speed_mps;     /* along the road, downhill positive */
    double variance[3];   /* of along, along-speed, speed: m2, m2/s, m2/s2 */
    double log_likelihood; /* against "not on file"; bounded both ways, so that it forgets */
    double age_m;         /* distance travelled since it was thought of */
    double agreed_m;      /* distance travelled in agreement */
    double opposed_m;     /* distance travelled against the road's direction, without a break */
    double missed_m;      /* distance travelled since a fix last fell where it should */
    bool in_lot;          /* beside a place where trucks pull off: the fix says nothing */
    double course_off_deg; /* between the last known course and the road */
    double lateral_m;     /* of the last fix, left positive */
    double offset_m;      /* distance to the road, smoothed over the last 100 m */
    struct td_climb climb;
};

/* A believed place, kept to tell the course where the receiver tells none. */
struct td_anchor {
    bool set;
    double lat_deg, lon_deg;
    double odometer_m;
    int64_t at_ns;
};

/* Course and speed over ground as far as known at this fix. */
struct td_motion {
    bool has_heading;
    double heading_deg;
    double chord_m;    /* distance travelled the heading is taken over; 0: of this moment */
    double speed_mps;   /* below 0: not known yet */
    bool speed_told;    /* by the receiver; else from places passed */
    double travelled_m; /* since the last believed fix; below walking pace only in steps that are
                           longer than the receiver's error */
    bool has_height;    /* told, and not by a step that no road has */
    double height_m;
};

/* Time stamps of the receiver: which fix was overtaken by a later one, which came late. Only their
 * differences count, never the date. */
struct td_stamps {
    bool known;
    int64_t newest_ms;     /* UTC of the newest fix taken */
    int64_t older_ms;      /* of the last of a run of older ones */
    unsigned older_run;
    int64_t usual_ms;      /* time received less UTC, of fixes that come as they should */
    int64_t late_since_ns; /* 0: the last came in time */
};

/* Whether the place moves as the speed told says. */
struct td_pace {
    double claimed_m, moved_m;
    bool creeps; /* the place hardly moves while the speed says that the truck drives */
};

/* Velocity over ground from places passed: no receiver that hears satellites keeps it to 5 cm/s for
 * seconds (none did in 11,000 recorded fixes). */
struct td_smooth {
    bool set;
    double lat_deg, lon_deg; /* of the last mark */
    int64_t at_ns;
    double east_mps, north_mps;
    int64_t from_ns; /* since when it was kept */
    unsigned kept;   /* marks in a row */
};

/* The last places, about a second apart: whether they were passed dead straight at one speed. */
enum { TD_STRAIGHT_MARKS = 11 };

struct td_straight {
    unsigned count;
    double lat_deg[TD_STRAIGHT_MARKS], lon_deg[TD_STRAIGHT_MARKS]; /* oldest first */
    int64_t at_ns[TD_STRAIGHT_MARKS];
};

/* Places told against the way that the speeds told make, over a minute: whether the error of the
 * receiver changes by more than it claims to have. */
enum { TD_CLAIM_MARKS = 4 };

struct td_claim_mark {
    int64_t at_ns;
    double lat_deg, lon_deg;
    double east_m, north_m; /* way made by the speeds told */
    double told_m;          /* sigma claimed */
};

struct td_claim {
    unsigned count;
    struct td_claim_mark marks[TD_CLAIM_MARKS]; /* oldest first */
    int64_t at_ns;
    double east_m, north_m, east_mps, north_mps;
    double looks;  /* compared so far */
    double excess; /* of the square of error over claim, over 1 */
};

/* Fixes come, but were shown to be wrong: by a jump, or by going straight on where the road bends.
 * Lost is told until a hill is recognised, or until they have made sense for a while at a place
 * that the truck can have driven to since. */
struct td_mistrust {
    bool set;
    bool straight;     /* else a jump */
    double course_deg; /* of the straight line */
    int64_t since_ns;
    double lat_deg, lon_deg; /* believed last before */
    double odometer_m;
};

struct td_locator {
    struct td_hypothesis hypotheses[TD_HYPOTHESES_MAX];
    int in_force;        /* index of the hypothesis told, -1 none */
    struct td_fix last;  /* last fix believed; has == 0 none */
    struct td_fix seen;  /* last fix that came in order */
    int64_t seen_ns;
    bool frozen;         /* its place repeats that of the one before, and should not */
    bool stopped_hard;   /* its speed fell to nothing harder than trucks brake */
    struct td_stamps stamps;
    struct td_pace claims;
    struct td_smooth smooth;
    struct td_straight straight;
    struct td_claim claim;
    struct td_mistrust mistrust;
    struct td_fix suspect; /* last of a run of fixes that do not follow from the one believed */
    int64_t at_ns;       /* time the hypotheses stand at */
    int64_t believed_ns; /* time of the last fix believed: of its place, not of its arrival */
    int64_t suspect_ns, suspect_from_ns; /* last and first of the run */
    int64_t given_up_ns; /* when a hill was last given up against evidence, 0 never */
    int64_t lost_ns;     /* when a hill was last lost */
    unsigned refused_run; /* fixes refused one after the other */
    enum td_where where;
    double interval_s;   /* usual time between believed fixes */
    double sigma_m;      /* of the last believed fix, per axis: as claimed, or more (td_claim) */
    double odometer_m;
    double seeded_m;     /* odometer when hypotheses were last sought */
    bool seeding;        /* at this fix */
    struct td_anchor anchors[2]; /* older, newer: for the course */
    struct td_anchor pace;       /* a second or more ago: for the speed */
    struct td_anchor crawl;      /* for the way made below walking pace */
    struct td_motion motion;
    uint32_t recent_handle; /* hill last in force: it is recognised again sooner */
    double recent_along_m;
    int64_t recent_ns;
};

struct td_located {
    enum td_where where;
    uint32_t handle; /* 0 unless ON_HILL or COASTING */
    double along_m, sigma_m;
    double speed_mps; /* along the road; over ground when on no hill */
    double astray_m;  /* what braking or gaining at 1 m/s2 ever since the last fix would add to its
                         error; few drivers brake harder for long */
};

/* Limits, by name for tests and documents. */
#define TD_LOCATE_SIGMA_M         8.0  /* of a fix that does not tell its own */
#define TD_LOCATE_SIGMA_LEAST_M   3.0  /* receivers flatter themselves */
#define TD_LOCATE_LINE_SIGMA_M    5.0  /* of a hill's line that does not tell its own */
#define TD_LOCATE_LINE_MOST_M     15.0 /* of one that tells more: it would fit everywhere */
#define TD_LOCATE_LOST_SIGMA_M    30.0
#define TD_LOCATE_LOST_S          20.0
#define TD_LOCATE_RECOGNISE_M     250.0 /* distance in agreement before a hill is told */
#define TD_LOCATE_DOUBTFUL_M      500.0 /* the same on a grade that the heights hardly bear out */
#define TD_LOCATE_AGAIN_M         80.0  /* the same for the hill last in force */
#define TD_LOCATE_ASTRAY_M        30.0  /* beyond it a place is not told to the driver */
#define TD_LOCATE_LATE_S          5.0   /* a fix later than this says nothing */
#define TD_LOCATE_MISTRUST_S      20.0  /* fixes must make sense for so long */
#define TD_LOCATE_APART_SIGMAS    4.0   /* another road must lie so much farther off */

void td_locator_init(struct td_locator *locator);
/* Weighs a fix that td_fix_is_sane has passed. Its place is where the truck was at received_ns, or
 * earlier by as much as its UTC says that it came later than usual. */
void td_locate_fix(struct td_locator *locator, const struct td_hill_slot slots[TD_HILL_SLOTS],
                   const struct td_fix *fix, int64_t now_ns);
/* Runs the hypotheses on to now_ns without a fix; call at every step, before td_locate_fix. */
void td_locate_tick(struct td_locator *locator, const struct td_hill_slot slots[TD_HILL_SLOTS],
                    int64_t now_ns);
/* A hill left the slots: forget what was thought about it. */
void td_locate_forget(struct td_locator *locator, uint32_t handle);
/* Where the truck is at the locator's time. */
struct td_located td_located_now(const struct td_locator *locator);
/* When the state would change by time alone (a limit of dead reckoning); INT64_MAX when never. */
int64_t td_locate_next_ns(const struct td_locator *locator);

const char *td_where_name(enum td_where where);

#endif
