/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Many drives: one row a descent, how hills and rigs go over time, and which prompts trainers
 * marked. Logs are read one after the other by each of a few threads and let go; what stays is a
 * row a descent and a count a hill and prompt, so memory does not grow with the length of drives.
 * The figures are those of review/drive_facts.h; SI, NAN is "not known". */
#ifndef TD_REVIEW_FLEET_H
#define TD_REVIEW_FLEET_H

#include "io/marks.h"
#include "review/drive_facts.h"

enum { TD_FLEET_LOG_MAX = 256 };

struct td_fleet_row {
    char log[TD_FLEET_LOG_MAX]; /* path below the folder; "drive N" when anonymous */
    int64_t start_utc_ms;       /* of the descent's first sample; 0 when anonymous */
    char hill[TD_HILL_NAME_MAX], hill_name[TD_HILL_NAME_MAX];
    char rig[TD_RIG_NAME_MAX], load[TD_RIG_WORD_MAX];
    double load_kg; /* 0 no rig set */
    bool went_down, reached_foot;
    double grade_s, fastest_mps;
    enum td_review_check check;
    double check_stood_s;
    bool judged;
    double over_most_mps, over_s, over_longest_s;
    bool heat_known;
    double least_c, likely_c, most_c, limit_c;
    unsigned snubs;
    double snub_drop_mps, snub_s;
    unsigned warnings, warnings_slowed, warnings_unknown;
    double answer_median_s, answer_longest_s;
    double lost_s, hole_s, silent_s;
    uint32_t lost_steps;
    unsigned prompts_said;
    unsigned marks[TD_MARK_KINDS];
    size_t order; /* of its log among all, then of the descent in it */
};

/* Figures of which a trend is told, in the units of a row. */
enum td_fleet_figure { TD_FLEET_OVER_MOST_MPS = 0, TD_FLEET_OVER_S, TD_FLEET_LIKELY_C,
                       TD_FLEET_SNUBS, TD_FLEET_ANSWER_S, TD_FLEET_GRADE_S, TD_FLEET_FIGURES };
/* NAN where the row does not know it. */
double td_fleet_figure(const struct td_fleet_row *row, enum td_fleet_figure figure);
const char *td_fleet_figure_name(enum td_fleet_figure figure);

/* One hill with one rig, over all descents that went down. First and latest go by time. */
struct td_fleet_trend {
    const char *hill, *rig;
    unsigned descents;      /* that went down */
    unsigned checks_made, checks_known;
    struct td_fleet_numbers {
        unsigned known;
        double median, first, latest; /* NAN when none is known */
    } figures[TD_FLEET_FIGURES];
};

/* One prompt on one hill, over all logs. */
struct td_fleet_prompt {
    char hill[TD_HILL_NAME_MAX]; /* "" on none */
    enum td_prompt_id id;
    unsigned said;
    unsigned marks[TD_MARK_KINDS];
};

/* A log, or its marks, that could not be read. */
struct td_fleet_refused {
    size_t order;
    struct td_problem problem;
};

struct td_fleet {
    struct td_fleet_row *rows; /* by time, then by order */
    size_t row_count;
    struct td_fleet_trend *trends; /* by hill, then rig */
    size_t trend_count;
    struct td_fleet_prompt *prompts; /* by hill, then prompt */
    size_t prompt_count;
    struct td_fleet_refused *refused; /* by order */
    size_t refused_count;
    size_t logs; /* read */
};

struct td_fleet_options {
    bool anonymous;   /* no clock time, no file names, nothing off the hills */
    unsigned threads; /* 1 to TD_FLEET_THREADS_MAX; more counts as that */
    void (*progress)(void *who, size_t done, size_t all); /* NULL for none */
    void *who;
};

enum { TD_FLEET_THREADS_MAX = 8 };

/* Reads the logs below the folder (every *.db, folders in it included, links not followed), sorted
 * by their path. What cannot be read is refused by itself and the rest goes on. TD_NOT_FOUND for no
 * such folder, TD_INVALID when no log lies in it, TD_NO_MEMORY. */
TD_CHECKED enum td_result td_fleet_read(const char *folder, const struct td_fleet_options *options,
                                        struct td_fleet **out, struct td_problem *problem);
void td_fleet_free(struct td_fleet **fleet);

/* The median of `count` numbers, which are put in order; the mean of the middle two where their
 * count is even; NAN of none. */
double td_fleet_median(double *numbers, size_t count);

#endif
