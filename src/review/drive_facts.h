/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a drive log tells of a drive: its descents with the figures a trainer asks for, the truck
 * second by second along each hill, and every prompt with what happened next. docs/review.md
 * explains each figure; the numbers below are its definitions.
 *
 * One pass over a log, one log at a time in memory (a second of it is about 100 bytes), and hills
 * are read only when the truck was on them. Nothing is claimed that a receiver cannot know: heat is
 * a band, a slowing is a slowing whether brakes or engine did it, and a time without samples counts
 * for nothing and is told as such. Units: SI; NAN is "not known" where a member says so. */
#ifndef TD_REVIEW_DRIVE_FACTS_H
#define TD_REVIEW_DRIVE_FACTS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "io/drive_log.h"

/* Samples come about once a second; a longer step is a hole, over which nothing is reckoned. */
#define TD_REVIEW_HOLE_S 3.0
/* Slower than this the truck stands: receivers tell a little speed at rest (ours). */
#define TD_REVIEW_STANDS_MPS 0.5
/* Standing this long is a stop: the coach's own limit (src/core/cue_check.c). */
#define TD_REVIEW_STOP_S 2.0
/* Trucks queue before a brake check area and stand past its sign: so far either side still is the
 * stop, the coach's own limit. */
#define TD_REVIEW_CHECK_M 150.0
/* Over the target by less than a mile an hour is noise of the receiver (ours). */
#define TD_REVIEW_OVER_MPS 0.44704
/* A slowing that could be a snub: from sample to sample the speed falls by 0.2 m/s2 or more, at
 * least 3 mph (1.34112 m/s) in all and not to a stand; a single step that falls by less ends it
 * only when the next does too (driver's manual: 5 mph in about three seconds; limits ours). Where
 * it ends, brake or engine has let go: the release point. */
#define TD_REVIEW_SNUB_MPS 1.34112
#define TD_REVIEW_SNUB_MPS2 0.2
/* After the end of its words a prompt is followed for so long (ours). */
#define TD_REVIEW_FOLLOW_S 30.0
/* It was answered by slowing where the speed fell a mile an hour below its highest since the words
 * began; slowing began at the last moment it was within half a mile an hour of that (ours). */
#define TD_REVIEW_SLOWED_MPS 0.44704
#define TD_REVIEW_BEGUN_MPS  0.22352
/* Down a hill is who was seen this far below the crest (ours). */
#define TD_REVIEW_DOWN_M 300.0
/* The same hill again: away from it for this long, or back by this much (ours). A shorter way on a
 * hill than the last is no visit. */
#define TD_REVIEW_AGAIN_S 1800.0
#define TD_REVIEW_BACK_M  1000.0
#define TD_REVIEW_LEAST_M 200.0

/* How a log is to be read. */
struct td_review_options {
    bool anonymous; /* no clock time; prompts and samples off the hills are left out or blank */
};

/* The truck at an estimate on file. Without a fix (where: no fix, coasting, lost) place and speed
 * are guesses: such a sample is not "seen", and figures leave it out. */
struct td_review_sample {
    int64_t at_ns;  /* the drive's own clock, as in the log */
    enum td_where where;
    int hill;       /* index into hills; -1 on none */
    double along_m, sigma_m; /* 0 unless on a hill */
    double speed_mps;
    double target_mps;       /* 0 none in force */
    double least_c, likely_c, most_c;
    bool seen;
    bool after_hole; /* the one before is not seen or more than TD_REVIEW_HOLE_S away, or steps
                        were lost since */
};

/* Lost records, and times without sound. */
struct td_review_loss {
    int64_t at_ns;
    uint32_t count;
    char what[32]; /* "queue full", "write failed", "events" */
};

struct td_review_silence {
    int64_t from_ns, to_ns; /* to_ns: the end of the log where the sound never came back */
};

/* A prompt, in the order in which they were decided. */
struct td_review_prompt {
    struct td_spoken spoken; /* words, fate, place and speed as on file */
    int descent;             /* during which it came, or whose hill it speaks of; -1 none */
    bool said;               /* spoken or cut: begun at all */
    /* What happened next, from the end of the words (or from their cut). */
    bool followed;        /* samples without a hole from the words' begin to the end of the
                             follow time, or to a stand */
    double slowing_s;     /* to the begin of slowing; 0: it slowed already while the words were
                             said; NAN: no mile an hour was lost as far as it was seen, which is
                             no answer unless followed */
    /* Unset unless followed. */
    double then_mps;      /* as the words ended */
    double after_mps;     /* at the end of the follow time */
    double lowest_mps;    /* meanwhile */
    double stood_s;       /* until it stood; NAN: it did not */
};

enum td_review_check {
    TD_CHECK_NONE = 0, /* no brake check area on file */
    TD_CHECK_MADE,
    TD_CHECK_PASSED,   /* went by without a stop */
    TD_CHECK_UNKNOWN,  /* the truck was not seen all the way past it: lost, a hole in the log, or
                          the drive begins or ends before */
};

/* A stand of at least TD_REVIEW_STOP_S. */
struct td_review_stand {
    int64_t from_ns;
    double at_m;
    double seconds;
    int place; /* brake check, turn-out, stop or the like where it stood; -1 none */
};

/* One slowing of the speed trace. */
struct td_review_snub {
    int64_t from_ns;
    double from_m, to_m;     /* to_m: the release point */
    double from_mps, to_mps;
    double seconds;
};

struct td_review_descent {
    int hill; /* index into hills */
    /* When the truck was on this hill: samples first to last. */
    int64_t from_ns, to_ns;
    size_t first, last;
    double from_m, to_m;  /* first and farthest place seen */
    bool went_down;       /* seen TD_REVIEW_DOWN_M below the crest; else the rest is of the
                             approach alone */
    bool reached_foot;
    double grade_s;       /* from crest to foot (or as far as it was seen), stands included */
    double fastest_mps;   /* between them */
    double load_kg;       /* gross, as set when it passed the crest (or at to_ns before that);
                             0 no rig set */
    const char *load_name; /* of the rig's; "" no rig set */
    bool load_confirmed;  /* else the heaviest was planned for */

    /* 1. Brake check, at any area on file that the truck came past. */
    enum td_review_check check;
    double check_stood_s; /* all stands there together; 0 unless made */

    /* 2. Against the target, from crest to foot. */
    bool judged;            /* a target was in force and samples are there */
    double over_most_mps;   /* may be below 0: never over */
    double over_most_at_m;
    double over_s;          /* all time more than TD_REVIEW_OVER_MPS over, together */
    double over_longest_s;  /* in one piece */

    /* 3. Heat: the highest each of the three came to, crest to the last sample. Each bounds the
     * truth at every moment, so the highest of each bounds the highest truth. */
    bool heat_known;
    double least_c, likely_c, most_c;
    double first_c;         /* likely, at the crest */
    double hottest_at_m;    /* where `likely` was highest */
    double limit_c;         /* of the rig's brakes */

    /* 4. Slowings, crest to foot. */
    struct td_review_snub *snubs;
    size_t snub_count;
    double snub_drop_mps, snub_seconds; /* medians; NAN when there is none */

    /* 5. From the end of a warning's or danger's words to slowing. */
    unsigned warnings;         /* said */
    unsigned warnings_slowed;  /* answered by slowing within TD_REVIEW_FOLLOW_S */
    unsigned warnings_unknown; /* a hole hides the answer */
    double answer_median_s, answer_longest_s; /* of those slowed; NAN when there is none */

    struct td_review_stand *stands;
    size_t stand_count;
    double lost_s;         /* position lost or unknown between first and last sample */
    double hole_s;         /* without samples */
    uint32_t lost_steps;   /* lost by the log meanwhile */
    double silent_s;       /* without sound */
};

struct td_review_hill {
    const struct td_hill *hill; /* NULL: the truck was never on it */
    char id[TD_HILL_NAME_MAX];
};

/* A drive; the arrays are its own and go with it. */
struct td_review_drive {
    char *path;
    char program[64], rig_name[TD_RIG_NAME_MAX], language[32];
    const struct td_setup *setup;
    int64_t start_ns, end_ns;
    int64_t start_utc_ms;
    bool anonymous; /* start_utc_ms is 0 and must not be shown */
    struct td_review_hill *hills;
    size_t hill_count;
    struct td_review_sample *samples;
    size_t sample_count;
    struct td_review_prompt *prompts;
    size_t prompt_count;
    struct td_review_descent *descents;
    size_t descent_count;
    struct td_review_loss *losses;
    size_t loss_count;
    struct td_review_silence *silences;
    size_t silence_count;
};

/* Samples of a log at most: two days and a half. A longer one is TD_FULL. */
enum { TD_REVIEW_SAMPLES_MAX = 216000 };

/* Reads a log and reckons everything above. TD_NOT_FOUND, TD_INVALID, TD_UNSUPPORTED as
 * td_drive_open; a damaged row is TD_INVALID with its line. A log without a descent is TD_OK with
 * descent_count 0. */
TD_CHECKED enum td_result td_review_drive_read(const char *path,
                                               const struct td_review_options *options,
                                               struct td_review_drive **out,
                                               struct td_problem *problem);
void td_review_drive_free(struct td_review_drive **drive); /* accepts NULL and *drive NULL */

/* Index of the last sample at or before the moment; sample_count when there is none. */
size_t td_review_sample_before(const struct td_review_drive *drive, int64_t at_ns);

/* UTC of a moment of the drive, ms since 1970; 0 when anonymous. */
int64_t td_review_utc_ms(const struct td_review_drive *drive, int64_t at_ns);

#endif
