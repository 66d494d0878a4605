/* SPDX-License-Identifier: GPL-3.0-or-later */
/* bench_runaway [--failures N] [--drives N] [--from SEED] [--threads 1|2] [--only SEED]
 * [--failure air|fade|neutral]: closed-loop drives watched for runaways (support/runaway_drive.h).
 *
 * --failures: N drives on whose grade something fails, by every kind of driver in turn.
 * --drives: N drives on which nothing fails: every kind of driver in turn, and one more who hears
 * nothing below a warning and takes 7.5 s to act on it.
 * Exits 1 when a runaway was missed, when more than one drive in ten thousand was called one that
 * was none, or when a lane was called that is closed or lies behind. */
#include <pthread.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>

#include "support/runaway_drive.h"

enum { THREADS_MAX = 2, PRINTED_MAX = 40 };

struct drive {
    uint64_t seed;
    enum td_failure failure;
    struct loop_choice choice;
    struct runaway_seen seen;
    struct loop_outcome outcome;
};

struct job {
    const struct loop_set *set;
    struct drive *drives;
    size_t count;
    atomic_size_t next;
};

static const char *const failure_names[TD_FAILURES] = {"none", "air", "fade", "neutral"};

static void *work(void *of)
{
    struct job *job = of;
    struct loop *loop = loop_new(job->set);
    for (size_t i = atomic_fetch_add(&job->next, 1); i < job->count;
         i = atomic_fetch_add(&job->next, 1)) {
        struct drive *drive = &job->drives[i];
        drive->outcome = runaway_drive(loop, drive->seed, &drive->choice, &drive->seen);
    }
    loop_free(loop);
    return NULL;
}

static struct loop_choice choice_of(uint64_t seed, enum td_failure failure)
{
    struct loop_choice choice = {.driver = (int)(seed % TD_DRIVER_KINDS), .rig = -1,
                                 .failure = failure};
    /* Whose brakes fail anyway has none that work. */
    if (failure == TD_FAILURE_NONE && choice.driver == TD_DRIVER_NO_BRAKES) {
        choice.driver = TD_DRIVER_LATE;
        choice.warnings_only = true;
    }
    return choice;
}

static void plan_drives(struct job *job, size_t failures, size_t healthy, uint64_t from,
                        enum td_failure only)
{
    job->count = failures + healthy;
    job->drives = calloc(job->count, sizeof *job->drives);
    if (!job->drives)
        abort();
    for (size_t i = 0; i < job->count; i++) {
        struct drive *drive = &job->drives[i];
        bool fails = i < failures;
        drive->seed = from + (fails ? i : i - failures);
        enum td_failure kind = only != TD_FAILURE_NONE
                                   ? only
                                   : (enum td_failure)(1 + drive->seed / TD_DRIVER_KINDS % 3);
        drive->failure = fails ? kind : TD_FAILURE_NONE;
        drive->choice = choice_of(drive->seed, drive->failure);
    }
}

static void print_drive(const struct job *job, const char *what, const struct drive *drive)
{
    const struct runaway_seen *seen = &drive->seen;
    printf("%s: %s%s; ran away %d, from %.1f s at %.1f %%, told at %.1f s; called %d, at %.1f s, "
           "%.0f m, %.1f mph over%s\n  ",
           what, failure_names[drive->failure],
           drive->choice.warnings_only ? ", warnings only" : "",
           seen->ran_away, td_s_from_ns(seen->from_ns), 100 * seen->downgrade,
           td_s_from_ns(seen->told_ns), seen->called, td_s_from_ns(seen->called_ns),
           seen->called_m, seen->called_over_mph,
           seen->blind ? ", receiver silent" : "");
    loop_print(job->set, &drive->outcome, stdout);
}

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static void print_spread(const char *what, double *values, size_t count)
{
    if (count == 0) {
        printf("%s: none\n", what);
        return;
    }
    qsort(values, count, sizeof *values, by_size);
    printf("%s: least %.1f, p50 %.1f, p90 %.1f, p99 %.1f, most %.1f s (%zu)\n", what, values[0],
           values[count / 2], values[count * 9 / 10], values[count * 99 / 100],
           values[count - 1], count);
}

/* Seconds from the beginning in truth to the first word; below 0: earlier. */
static double after_s(const struct runaway_seen *seen)
{
    return td_s_from_ns(seen->called_ns - seen->from_ns);
}

/* The same from when it was held by nothing. */
static double after_free_s(const struct runaway_seen *seen)
{
    return td_s_from_ns(seen->called_ns - runaway_free_ns(seen));
}

/* Who keeps to the ceiling while he can. */
static bool heeds_voice(const struct drive *drive)
{
    enum td_driver_kind kind = drive->outcome.driver;
    return kind != TD_DRIVER_DEAF && kind != TD_DRIVER_TEN_OVER && !drive->outcome.told_no_go;
}

struct sums {
    size_t failed, ran_away, missed, late, late_blind, late_heeding, called_only, in_lane;
    size_t late_free, late_free_blind;
    size_t fails_false;
    size_t healthy, healthy_ran_away, healthy_called, healthy_false;
    size_t closed, behind, lesser;
    double pause_most_s;
    uint64_t pause_seed;
};

static void add(struct sums *sums, const struct drive *drive)
{
    const struct runaway_seen *seen = &drive->seen;
    bool fails = drive->failure != TD_FAILURE_NONE;
    bool late = seen->ran_away && (!seen->called || after_s(seen) > RUNAWAY_LASTS_S);
    sums->closed += seen->closed;
    sums->behind += seen->behind;
    sums->lesser += seen->lesser;
    if (seen->pause_most_s > sums->pause_most_s)
        sums->pause_seed = drive->seed;
    sums->pause_most_s = fmax(sums->pause_most_s, seen->pause_most_s);
    sums->missed += seen->ran_away && !seen->called;
    sums->late += late;
    sums->late_blind += late && seen->blind;
    bool late_free = late && (!seen->called || after_free_s(seen) > RUNAWAY_LASTS_S);
    sums->late_free += late_free;
    sums->late_free_blind += late_free && seen->blind;
    sums->late_heeding += late && !seen->blind && heeds_voice(drive);
    if (fails) {
        sums->failed++;
        sums->ran_away += seen->ran_away;
        sums->called_only += seen->called && !seen->ran_away;
        sums->fails_false += seen->called && seen->false_call;
        sums->in_lane += seen->called && drive->outcome.end == TD_TRIP_IN_LANE;
    } else {
        sums->healthy++;
        sums->healthy_ran_away += seen->ran_away;
        sums->healthy_called += seen->called;
        sums->healthy_false += seen->called && seen->false_call;
    }
}

static void print_times(const struct job *job)
{
    double *after = calloc(job->count, sizeof *after);
    double *lead = calloc(job->count * RUNAWAY_CALLS_MAX, sizeof *lead);
    if (!after || !lead)
        abort();
    for (int failure = 0; failure < TD_FAILURES; failure++)
        for (int heeds = 0; heeds < 2; heeds++) {
            size_t count = 0;
            for (size_t i = 0; i < job->count; i++)
                if ((int)job->drives[i].failure == failure && job->drives[i].seen.ran_away &&
                    job->drives[i].seen.called && heeds_voice(&job->drives[i]) == heeds)
                    after[count++] = after_s(&job->drives[i].seen);
            char what[96];
            (void)snprintf(what, sizeof what, "to the first word, %s, driver %s the ceiling",
                           failure_names[failure], heeds ? "kept to" : "never kept to");
            print_spread(what, after, count);
        }
    size_t leads = 0;
    for (size_t i = 0; i < job->count; i++)
        for (unsigned c = 0; c < job->drives[i].seen.call_count; c++)
            if (job->drives[i].seen.calls[c].lead_s >= 0)
                lead[leads++] = job->drives[i].seen.calls[c].lead_s;
    print_spread("from the end of the last call to the gore", lead, leads);
    free(after);
    free(lead);
}

static void print_odd(const struct job *job)
{
    unsigned printed = 0;
    for (size_t i = 0; i < job->count && printed < PRINTED_MAX; i++) {
        const struct drive *drive = &job->drives[i];
        const struct runaway_seen *seen = &drive->seen;
        const char *what = NULL;
        if (seen->ran_away && !seen->called)
            what = "MISSED";
        else if (drive->failure == TD_FAILURE_NONE && seen->called && seen->false_call)
            what = "FALSE";
        else if (seen->closed || seen->behind)
            what = "WRONG LANE";
        else if (seen->ran_away && after_s(seen) > RUNAWAY_LASTS_S)
            what = "late";
        else if (drive->failure != TD_FAILURE_NONE && seen->called && seen->false_call)
            what = "early";
        else if (seen->lesser > 0)
            what = "chatter";
        if (!what)
            continue;
        print_drive(job, what, drive);
        printed++;
    }
}

static int print_sums(const struct job *job)
{
    struct sums sums = {0};
    for (size_t i = 0; i < job->count; i++)
        add(&sums, &job->drives[i]);
    printf("%zu drives with a failure: %zu ran away (%zu more were called: under 6 %% or briefly), "
           "%zu went into a lane; %zu called while what was left of the brakes still slowed it\n",
           sums.failed, sums.ran_away, sums.called_only, sums.in_lane, sums.fails_false);
    printf("%zu drives without: %zu ran away, %zu called, %zu of them false\n", sums.healthy,
           sums.healthy_ran_away, sums.healthy_called, sums.healthy_false);
    printf("missed %zu; later than 8 s %zu: receiver silent in %zu, else the driver had kept "
           "to the ceiling in %zu\n",
           sums.missed, sums.late, sums.late_blind, sums.late_heeding);
    printf("later than 8 s after it was held by nothing %zu of %zu, receiver silent in %zu\n",
           sums.late_free, sums.ran_away + sums.healthy_ran_away, sums.late_free_blind);
    printf("closed lanes called %zu, lanes behind called %zu, lesser prompts begun meanwhile %zu, "
           "longest pause %.1f s (seed %llu)\n",
           sums.closed, sums.behind, sums.lesser, sums.pause_most_s,
           (unsigned long long)sums.pause_seed);
    bool too_many_false = sums.healthy_false > 0 && sums.healthy_false * 10000 > sums.healthy;
    return sums.missed > 0 || too_many_false || sums.closed > 0 || sums.behind > 0;
}

static int usage(void)
{
    fputs("use: bench_runaway [--failures N] [--drives N] [--from SEED] [--threads 1|2]\n"
          "                     [--failure air|fade|neutral] [--only SEED]\n", stderr);
    return 2;
}

static int failure_of(const char *name)
{
    for (int i = 1; i < TD_FAILURES; i++)
        if (strcmp(name, failure_names[i]) == 0)
            return i;
    return -1;
}

/* One drive with everything that was said: with --failures 0 nothing fails. */
static int drive_one(const struct loop_set *set, uint64_t seed, bool healthy, enum td_failure only)
{
    struct job job = {.set = set};
    struct loop *loop = loop_new(set);
    plan_drives(&job, healthy ? 0 : 1, healthy ? 1 : 0, seed, only);
    loop->transcript = stdout;
    struct drive *drive = job.drives;
    drive->outcome = runaway_drive(loop, seed, &drive->choice, &drive->seen);
    print_drive(&job, "drive", drive);
    free(job.drives);
    loop_free(loop);
    return 0;
}

int main(int argc, char **argv)
{
    static struct loop_set set;
    struct job job = {.set = &set};
    unsigned long long failures = 100, healthy = 100, from = 1, threads = 1, only = 0;
    int failure = 0;
    for (int i = 1; i + 1 < argc; i += 2) {
        unsigned long long number = strtoull(argv[i + 1], NULL, 10);
        if (strcmp(argv[i], "--failures") == 0)
            failures = number;
        else if (strcmp(argv[i], "--drives") == 0)
            healthy = number;
        else if (strcmp(argv[i], "--from") == 0)
            from = number;
        else if (strcmp(argv[i], "--threads") == 0)
            threads = number >= THREADS_MAX ? THREADS_MAX : 1;
        else if (strcmp(argv[i], "--only") == 0)
            only = number;
        else if (strcmp(argv[i], "--failure") != 0 || (failure = failure_of(argv[i + 1])) < 0)
            return usage();
    }
    if (argc % 2 == 0 || failures + healthy == 0)
        return usage();
    if (!loop_set_read(&set))
        return 2;
    if (only > 0)
        return drive_one(&set, only, failures == 0, (enum td_failure)failure);
    plan_drives(&job, failures, healthy, from, (enum td_failure)failure);
    pthread_t others[THREADS_MAX];
    for (unsigned long long i = 1; i < threads; i++)
        if (pthread_create(&others[i], NULL, work, &job) != 0)
            return 2;
    (void)work(&job);
    for (unsigned long long i = 1; i < threads; i++)
        (void)pthread_join(others[i], NULL);
    print_odd(&job);
    print_times(&job);
    int status = print_sums(&job);
    free(job.drives);
    return status;
}
