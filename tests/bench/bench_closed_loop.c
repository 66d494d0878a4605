/* SPDX-License-Identifier: GPL-3.0-or-later */
/* bench_closed_loop [--drives N] [--from SEED] [--threads N] [--driver NAME] [--only SEED]:
 * N closed-loop drives (support/closed_loop.h), a table of what became of them, a line for each
 * that went wrong. Exits 1 when a driver who does what he is told passed the brake limit. */
#include <pthread.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>

#include "support/closed_loop.h"

enum { THREADS_MAX = 2, PRINTED_MAX = 200 };

/* Drives of one kind, summed. */
struct sum {
    unsigned drives, told_no_go, went_down, past_limit, called, lanes;
    unsigned judged, minute_most;
    double over_mph, over_5mph_s, peak_f, prompts, miles;
};

struct job {
    const struct loop_set *set;
    struct loop_choice choice;
    uint64_t from;
    size_t drives;
    atomic_size_t next;
    struct loop_outcome *outcomes;
};

static void *work(void *of)
{
    struct job *job = of;
    struct loop *loop = loop_new(job->set);
    for (size_t i = atomic_fetch_add(&job->next, 1); i < job->drives;
         i = atomic_fetch_add(&job->next, 1))
        job->outcomes[i] = loop_drive(loop, job->from + i, &job->choice);
    loop_free(loop);
    return NULL;
}

static void add(struct sum *sum, const struct loop_outcome *o)
{
    sum->drives++;
    sum->told_no_go += o->told_no_go;
    sum->went_down += o->went_down;
    sum->past_limit += o->past_limit;
    sum->called += o->dangers > 0;
    sum->lanes += o->end == TD_TRIP_IN_LANE;
    if (o->judged) {
        sum->over_mph = sum->judged++ == 0 ? o->over_mph : fmax(sum->over_mph, o->over_mph);
        sum->over_5mph_s = fmax(sum->over_5mph_s, o->over_5mph_s);
    }
    sum->peak_f = fmax(sum->peak_f, o->peak_f);
    sum->prompts += o->prompts;
    sum->miles += o->miles;
    sum->minute_most = o->minute_most > sum->minute_most ? o->minute_most : sum->minute_most;
}

static void print_row(const char *who, const char *rig, const struct sum *sum)
{
    if (sum->drives == 0)
        return;
    printf("| %-11s | %-22s | %6u | %5u | %9u | %+7.1f | %6.0f | %6.0f | %8.2f%% | %6u | %5u | "
           "%5.1f | %6u |\n",
           who, rig, sum->drives, sum->told_no_go, sum->went_down, sum->over_mph,
           sum->over_5mph_s, sum->peak_f, 100.0 * sum->past_limit / sum->drives, sum->called,
           sum->lanes, sum->prompts / sum->miles, sum->minute_most);
}

static void print_head(const char *second)
{
    printf("\n| driver      | %-22s | drives | no-go | went down | over    | s over | peak   | "
           "past      | called | per   | per    |\n"
           "|             |                        |        |       |           | mph     | +5    "
           " | F      | limit     |        |       | mile  "
           "| minute |\n"
           "|---|---|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|\n",
           second);
}

static void print_by_class(const struct job *job)
{
    print_head("load and engine brake");
    for (int driver = 0; driver < TD_DRIVER_KINDS; driver++)
        for (int class = 0; class < LOOP_CLASSES; class++) {
            struct sum sum = {0};
            for (size_t i = 0; i < job->drives; i++)
                if ((int)job->outcomes[i].driver == driver && (int)job->outcomes[i].class == class)
                    add(&sum, &job->outcomes[i]);
            print_row(td_driver_name((enum td_driver_kind)driver),
                      loop_class_name((enum loop_class)class), &sum);
        }
}

static void print_by_rig(const struct job *job)
{
    print_head("rig");
    for (size_t rig = 0; rig < job->set->rig_count; rig++) {
        struct sum sum = {0};
        for (size_t i = 0; i < job->drives; i++)
            if (job->outcomes[i].rig == rig && loop_obeys(job->outcomes[i].driver))
                add(&sum, &job->outcomes[i]);
        print_row("obeying", job->set->names[rig], &sum);
    }
}

/* What was said of heat and gain against what was true. "no brakes": whose service brakes did next
 * to nothing below the crest (under 10 degC of heat). Early: said of brakes under half their
 * limit. Of those truly past 75 (90) per cent of it: told before 90 (100). */
static void print_heat(const struct job *job)
{
    printf("\n| driver      | drives | building | engine | heating | early | hot   | early | "
           ">75%%  | told  | >90%%  | told  | no brakes | heating | building | hot | parking | "
           "still hot | likely over |\n"
           "|---|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|"
           "---:|---:|\n");
    for (int driver = 0; driver < TD_DRIVER_KINDS; driver++) {
        unsigned n[18] = {0};
        double over_c = 0;
        for (size_t i = 0; i < job->drives; i++) {
            const struct loop_heat *heat = &job->outcomes[i].heat;
            if ((int)job->outcomes[i].driver != driver)
                continue;
            bool idle = heat->service_c < 10;
            const bool is[] = {true, heat->building > 0, heat->engine > 0, heat->heating > 0,
                               heat->heating > 0 && heat->heating_share < 0.5, heat->hot > 0,
                               heat->hot > 0 && heat->hot_share < 0.5, heat->warm,
                               heat->warm && heat->told_warm, heat->near_limit,
                               heat->near_limit && heat->told_hot, idle,
                               idle && heat->heating > 0, idle && heat->building > 0,
                               idle && heat->hot > 0, heat->parking > 0, heat->still_hot > 0};
            for (size_t k = 0; k < sizeof is / sizeof *is; k++)
                n[k] += is[k];
            if (idle)
                over_c = fmax(over_c, heat->likely_over_c);
        }
        printf("| %-11s |", td_driver_name((enum td_driver_kind)driver));
        for (size_t k = 0; k < 17; k++)
            printf(" %5u |", n[k]);
        printf(" %3.0f degC |\n", over_c);
    }
}

/* A plan no driver would follow, unless a hairpin asks for it: it should have said no. */
static bool crawls(const struct loop_outcome *o)
{
    return o->safe && o->say_mph < 10 && o->curve_mph > 12;
}

/* Told of hot brakes that were not: he would stop believing it. */
static bool cries_hot(const struct loop_outcome *o)
{
    const struct loop_heat *heat = &o->heat;
    return (heat->heating > 0 && heat->heating_share < 0.5) ||
           (heat->hot > 0 && heat->hot_share < 0.5);
}

/* A drive that went wrong, and how badly: 2 is what the bench exists to find. */
static int fault_of(const struct loop_outcome *o)
{
    if (!loop_obeys(o->driver))
        return o->end == TD_TRIP_STANDS || o->end == TD_TRIP_CRAWLS;
    if (o->past_limit)
        return 2;
    return o->went_down || o->no_go_late || o->end == TD_TRIP_STANDS || o->end == TD_TRIP_CRAWLS ||
           o->over_5mph_s > 5 || !o->warned_before_crest || crawls(o) || cries_hot(o);
}

static int print_faults(const struct job *job)
{
    unsigned worst = 0, lesser = 0;
    for (int fault = 2; fault >= 1; fault--)
        for (size_t i = 0; i < job->drives; i++) {
            const struct loop_outcome *o = &job->outcomes[i];
            if (fault_of(o) != fault)
                continue;
            unsigned *count = fault == 2 ? &worst : &lesser;
            if ((*count)++ >= PRINTED_MAX)
                continue;
            printf("%s", fault == 2 ? "PAST THE LIMIT " : "odd ");
            loop_print(job->set, o, stdout);
        }
    unsigned rises = 0, crawling = 0, breaks = 0;
    for (size_t i = 0; i < job->drives; i++) {
        rises += job->outcomes[i].rises > 0;
        crawling += crawls(&job->outcomes[i]);
        breaks += loop_obeys(job->outcomes[i].driver) && job->outcomes[i].break_over_mph > 10;
    }
    printf("\n%u drives were told a higher ceiling on a downgrade, %u planned under 10 mph, %u who "
           "obey were 10 mph over a curve or sign on the level between two downgrades", rises,
           crawling, breaks);
    printf("\n%zu drives, seeds %llu to %llu: %u obeying drivers past the brake limit, %u odd\n",
           job->drives, (unsigned long long)job->from,
           (unsigned long long)(job->from + job->drives - 1), worst, lesser);
    return worst > 0 ? 1 : 0;
}

enum extreme { FASTEST = 0, HOTTEST, CHATTIEST, EXTREMES };

static double extreme_of(enum extreme kind, const struct loop_outcome *o)
{
    if (kind == FASTEST)
        return o->judged ? o->over_mph : -1e3;
    return kind == HOTTEST ? o->peak_f - o->limit_f : (double)o->minute_most;
}

/* The three worst obeying drives of each kind, to look at even when nothing is wrong. */
static void print_extremes(const struct job *job)
{
    static const char *const names[EXTREMES] = {"fastest", "hottest", "chattiest"};
    for (int kind = 0; kind < EXTREMES; kind++) {
        double below = 1e9;
        for (int rank = 0; rank < 3; rank++) {
            const struct loop_outcome *worst = NULL;
            for (size_t i = 0; i < job->drives; i++) {
                const struct loop_outcome *o = &job->outcomes[i];
                double value = extreme_of((enum extreme)kind, o);
                if (loop_obeys(o->driver) && value < below &&
                    (!worst || value > extreme_of((enum extreme)kind, worst)))
                    worst = o;
            }
            if (!worst)
                break;
            below = extreme_of((enum extreme)kind, worst);
            printf("%s ", names[kind]);
            loop_print(job->set, worst, stdout);
        }
    }
}

static void print_road(const struct td_hill *hill)
{
    printf("hill: %.0f m, crest %.0f m, foot %.0f m, mean %.1f %%, steepest %.1f %% at %.0f m\n",
           hill->length_m, hill->crest_m, hill->foot_m, 100 * hill->mean_downgrade_ratio,
           100 * hill->steepest_downgrade_ratio, hill->steepest_at_m);
    for (size_t i = 0; i < hill->run_count; i++)
        printf("  %5.0f to %5.0f m %+5.1f %%\n", hill->runs[i].from_m, hill->runs[i].to_m,
               100 * hill->runs[i].downgrade_ratio);
    for (size_t i = 0; i < hill->place_count; i++)
        printf("  place %zu: kind %d at %.0f m, %.0f mph\n", i, (int)hill->places[i].kind,
               hill->places[i].at_m, td_mph_from_mps(hill->places[i].speed_mps));
}

static void print_plan(const struct td_plan *plan)
{
    for (size_t i = 0; i < plan->descent_count; i++)
        printf("descent %zu: %.0f to %.0f m, %d mph say %d, gear %d stage %d, peak %.0f F at "
               "%.0f m\n",
               i, plan->descents[i].from_m, plan->descents[i].to_m, plan->descents[i].target_mph,
               plan->descents[i].say_mph, plan->descents[i].gear, plan->descents[i].stage,
               td_f_from_c(plan->descents[i].peak_c), plan->descents[i].peak_at_m);
    for (size_t i = 0; i < plan->stretch_count; i++)
        printf("stretch %.0f to %.0f m: %.1f mph by %d\n", plan->stretches[i].from_m,
               plan->stretches[i].to_m, td_mph_from_mps(plan->stretches[i].target_mps),
               (int)plan->stretches[i].limited_by);
    for (size_t i = 0; i < plan->reason_count; i++)
        printf("reason %d: %.2f at %.0f m\n", (int)plan->reasons[i].kind, plan->reasons[i].value,
               plan->reasons[i].at_m);
}

static int drive_one(const struct job *job)
{
    struct loop *loop = loop_new(job->set);
    loop->transcript = stdout;
    struct loop_outcome outcome = loop_drive(loop, job->from, &job->choice);
    print_road(&loop->hill.road.hill);
    print_plan(&loop->ride.plan);
    const struct td_truth *truth = &loop->ride.trip.truck.truth;
    printf("truth: mass x%.3f, grade %+.2f %%, cooling x%.2f, capacity x%.2f, engine brake x%.2f, "
           "dead %.2f\n",
           truth->mass_scale, 100 * truth->grade_offset_ratio, truth->cooling_scale,
           truth->capacity_scale, truth->engine_brake_scale, truth->dead_share);
    loop_print(job->set, &outcome, stdout);
    loop_free(loop);
    return fault_of(&outcome) == 2 ? 1 : 0;
}

static int usage(void)
{
    fputs("use: bench_closed_loop [--drives N] [--from SEED] [--threads 1|2] [--driver NAME]\n"
          "                         [--rig NAME] [--only SEED]\n", stderr);
    return 2;
}

static int rig_of(const struct loop_set *set, const char *name)
{
    for (size_t i = 0; i < set->rig_count; i++)
        if (strcmp(set->names[i], name) == 0)
            return (int)i;
    return -1;
}

static bool read_word(struct job *job, unsigned *threads, bool *only, const char *word,
                      const char *value)
{
    unsigned long long number = strtoull(value, NULL, 10);
    if (strcmp(word, "--drives") == 0)
        job->drives = (size_t)number;
    else if (strcmp(word, "--from") == 0 || strcmp(word, "--only") == 0)
        job->from = number;
    else if (strcmp(word, "--threads") == 0)
        *threads = number >= THREADS_MAX ? THREADS_MAX : 1;
    else if (strcmp(word, "--driver") == 0)
        return (job->choice.driver = td_driver_from_name(value)) >= 0;
    else if (strcmp(word, "--rig") == 0)
        return (job->choice.rig = rig_of(job->set, value)) >= 0;
    else
        return false;
    *only |= strcmp(word, "--only") == 0;
    return number > 0;
}

int main(int argc, char **argv)
{
    static struct loop_set set;
    struct job job = {.set = &set, .choice = {.driver = -1, .rig = -1}, .from = 1, .drives = 100};
    unsigned threads = 1;
    bool only = false;
    if (!loop_set_read(&set))
        return 2;
    for (int i = 1; i < argc; i += 2)
        if (i + 1 >= argc || !read_word(&job, &threads, &only, argv[i], argv[i + 1]))
            return usage();
    if (only)
        return drive_one(&job);
    job.outcomes = calloc(job.drives, sizeof *job.outcomes);
    if (!job.outcomes)
        return usage();
    pthread_t others[THREADS_MAX];
    for (unsigned i = 1; i < threads; i++)
        if (pthread_create(&others[i], NULL, work, &job) != 0)
            return 2;
    (void)work(&job);
    for (unsigned i = 1; i < threads; i++)
        (void)pthread_join(others[i], NULL);
    print_by_class(&job);
    print_by_rig(&job);
    print_heat(&job);
    puts("");
    print_extremes(&job);
    int status = print_faults(&job);
    free(job.outcomes);
    return status;
}
