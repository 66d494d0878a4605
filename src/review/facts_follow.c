/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What happened after each prompt, as the speed tells it. That one thing followed another is all
 * that is said: nobody knows whether the driver heard. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/problem.h"
#include "review/facts_parts.h"
#include "talkdown/units.h"

static int64_t follow_ns(void)
{
    return (int64_t)(TD_REVIEW_FOLLOW_S * 1e9);
}

size_t td_review_sample_before(const struct td_review_drive *drive, int64_t at_ns)
{
    size_t low = 0, high = drive->sample_count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (drive->samples[middle].at_ns <= at_ns)
            low = middle + 1;
        else
            high = middle;
    }
    return low > 0 ? low - 1 : drive->sample_count;
}

/* Samples first to before *end hold the words and the time after them, as far as they were seen:
 * none when not even the begin was. True when a hole or the end of the log does not cut them short.
 * A stand after the words is an end too. */
static bool window_of(const struct td_review_drive *drive, int64_t began_ns, int64_t ended_ns,
                      size_t *first, size_t *end)
{
    size_t i = td_review_sample_before(drive, began_ns);
    *first = *end = i;
    if (i == drive->sample_count || !drive->samples[i].seen ||
        td_s_from_ns(began_ns - drive->samples[i].at_ns) > TD_REVIEW_HOLE_S)
        return false;
    for (;; i++) {
        const struct td_review_sample *sample = &drive->samples[i];
        if (sample->at_ns > ended_ns + follow_ns())
            return true;
        *end = i + 1;
        if (sample->at_ns >= ended_ns && sample->speed_mps < TD_REVIEW_STANDS_MPS)
            return true;
        if (td_facts_step_s(drive, i) <= 0)
            return sample->at_ns == ended_ns + follow_ns();
    }
}

/* The moment slowing began, in seconds from the end of the words. */
static double slowing_s(const struct td_review_drive *drive, size_t first, size_t end,
                        int64_t ended_ns)
{
    double highest_mps = drive->samples[first].speed_mps;
    for (size_t i = first; i < end; i++) {
        double speed_mps = drive->samples[i].speed_mps;
        highest_mps = fmax(highest_mps, speed_mps);
        if (speed_mps > highest_mps - TD_REVIEW_SLOWED_MPS)
            continue;
        size_t begun = i;
        while (begun > first &&
               drive->samples[begun].speed_mps < highest_mps - TD_REVIEW_BEGUN_MPS)
            begun--;
        return fmax(0.0, td_s_from_ns(drive->samples[begun].at_ns - ended_ns));
    }
    return (double)NAN;
}

static void follow(const struct td_review_drive *drive, struct td_review_prompt *prompt)
{
    const struct td_spoken *spoken = &prompt->spoken;
    int64_t began_ns = spoken->started_ns, ended_ns = spoken->fate_ns;
    size_t first, end;
    prompt->slowing_s = prompt->stood_s = (double)NAN;
    if (!prompt->said)
        return;
    prompt->followed = window_of(drive, began_ns, ended_ns, &first, &end);
    if (first == end)
        return;
    prompt->slowing_s = slowing_s(drive, first, end, ended_ns);
    if (!prompt->followed)
        return;
    size_t then = td_review_sample_before(drive, ended_ns);
    prompt->then_mps = drive->samples[then].speed_mps;
    prompt->after_mps = drive->samples[end - 1].speed_mps;
    prompt->lowest_mps = prompt->then_mps;
    for (size_t i = then; i < end; i++) {
        prompt->lowest_mps = fmin(prompt->lowest_mps, drive->samples[i].speed_mps);
        if (isnan(prompt->stood_s) && drive->samples[i].speed_mps < TD_REVIEW_STANDS_MPS)
            prompt->stood_s = fmax(0.0, td_s_from_ns(drive->samples[i].at_ns - ended_ns));
    }
}

/* The moment by which a prompt is placed: it was issued, or given up without. */
static int64_t moment_of(const struct td_review_prompt *prompt)
{
    return prompt->spoken.issued_ns != 0 ? prompt->spoken.issued_ns : prompt->spoken.fate_ns;
}

/* During a visit, or about its hill before or after it: the nearest in time. */
static int descent_of(const struct td_review_drive *drive, const struct td_review_prompt *prompt)
{
    int64_t at_ns = moment_of(prompt), least_ns = INT64_MAX;
    int best = -1;
    for (size_t i = 0; i < drive->descent_count; i++) {
        const struct td_review_descent *descent = &drive->descents[i];
        bool its_hill = strcmp(prompt->spoken.hill_id, drive->hills[descent->hill].id) == 0;
        bool during = at_ns >= descent->from_ns && at_ns <= descent->to_ns;
        if (!its_hill && !(during && prompt->spoken.hill_id[0] == '\0'))
            continue;
        int64_t away_ns = during                       ? 0
                          : at_ns < descent->from_ns ? descent->from_ns - at_ns
                                                       : at_ns - descent->to_ns;
        if (away_ns < least_ns) {
            least_ns = away_ns;
            best = (int)i;
        }
    }
    return best;
}

static enum td_result figure_answers(const struct td_review_drive *drive, int index,
                                     struct td_problem *problem)
{
    struct td_review_descent *descent = &drive->descents[index];
    double *seconds = malloc((drive->prompt_count + 1) * sizeof *seconds);
    if (seconds == NULL)
        return td_problem_set(problem, TD_NO_MEMORY, drive->path, 0, "no memory for its prompts");
    descent->answer_longest_s = (double)NAN;
    for (size_t i = 0; i < drive->prompt_count; i++) {
        const struct td_review_prompt *prompt = &drive->prompts[i];
        if (prompt->descent != index || !prompt->said ||
            prompt->spoken.prompt.category < TD_WARNING)
            continue;
        descent->warnings++;
        if (!isnan(prompt->slowing_s))
            seconds[descent->warnings_slowed++] = prompt->slowing_s;
        else if (!prompt->followed)
            descent->warnings_unknown++;
    }
    descent->answer_median_s = td_facts_median(seconds, descent->warnings_slowed);
    if (descent->warnings_slowed > 0)
        descent->answer_longest_s = seconds[descent->warnings_slowed - 1]; /* sorted now */
    free(seconds);
    return TD_OK;
}

enum td_result td_facts_follow(struct td_review_drive *drive, struct td_problem *problem)
{
    enum td_result result = TD_OK;
    for (size_t i = 0; i < drive->prompt_count; i++) {
        struct td_review_prompt *prompt = &drive->prompts[i];
        prompt->said = prompt->spoken.started_ns != 0;
        prompt->descent = descent_of(drive, prompt);
        follow(drive, prompt);
    }
    for (size_t i = 0; i < drive->descent_count && result == TD_OK; i++)
        result = figure_answers(drive, (int)i, problem);
    return result;
}
