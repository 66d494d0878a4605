/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What "talkdown hills check" finds, one line a finding, as text or as JSON. The rules are told in
 * docs/formats.md, "Checks"; each has a short name that stays. */
#ifndef TD_TOOL_HILLS_FOUND_H
#define TD_TOOL_HILLS_FOUND_H

#include <math.h>
#include <stdbool.h>
#include <stddef.h>

#include "io/hill_file.h"
#include "tool/progress.h"

struct td_found_at;
/* Takes a finding in place of its being printed; texts are good for the call. */
typedef void td_found_taker(void *context, const struct td_found_at *at, bool is_error,
                            const char *rule, const char *what, const char *cure);

struct td_findings {
    bool as_json;
    td_found_taker *take; /* NULL: printed */
    void *context;        /* of the taker */
    size_t profiles, errors, warnings;
    bool unreadable; /* something could not be looked at: that is no answer */
    struct td_progress *progress; /* shown between findings; NULL none */
};

/* Where a finding is. */
struct td_found_at {
    const char *file;
    int line;          /* 0 unknown */
    const char *place; /* its role; NULL: the road */
    double at_m;       /* along it; NAN: the profile as a whole */
    size_t index;      /* of the place in the hill; 0 with the road */
};

/* A whole profile; a stretch of its road; one of its places (by index). */
struct td_found_at td_found_profile(const char *name, const struct td_hill_file *file);
struct td_found_at td_found_road(const char *name, const struct td_hill_file *file, double at_m);
struct td_found_at td_found_place(const char *name, const struct td_hill_file *file, size_t index);

/* An error (the profile must not go on board) or a warning (it may be right, but look). `what` is
 * formatted; `cure` is what would be right. */
void td_found(struct td_findings *to, const struct td_found_at *at, bool is_error,
              const char *rule, const char *cure, const char *what, ...) TD_PRINTF(6, 7);
/* A refusal of the reader: rule "format". */
void td_found_problem(struct td_findings *to, enum td_result result,
                      const struct td_problem *problem);

/* The rules about one hill (hills_sense.c for its road, hills_places.c for what stands there). */
void td_hills_sense(struct td_findings *to, const char *name, const struct td_hill_file *file);
void td_hills_sense_places(struct td_findings *to, const char *name,
                           const struct td_hill_file *file);

/* The rules about several: two with one id, two of one road (hills_pairs.c). */
struct td_hills_pairs;
struct td_hills_pairs *td_hills_pairs_new(void); /* NULL without memory */
/* False without memory. */
bool td_hills_pairs_add(struct td_hills_pairs *pairs, const char *name,
                        const struct td_hill_file *file);
/* False without memory. */
TD_CHECKED bool td_hills_pairs_tell(struct td_hills_pairs *pairs, struct td_findings *to);
void td_hills_pairs_free(struct td_hills_pairs **pairs);

#endif
