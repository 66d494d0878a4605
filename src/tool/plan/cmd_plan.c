/* SPDX-License-Identifier: GPL-3.0-or-later */
/* talkdown plan: the descent plan of a hill on file, or of a plain grade; by a rig or by the
 * published reference model. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/hill_named.h"
#include "io/problem.h"
#include "io/rig_file.h"
#include "talkdown/gsrs.h"
#include "talkdown/plan_trace.h"
#include "talkdown/quantity.h"
#include "talkdown/units.h"
#include "tool/commands.h"
#include "tool/plan/plan_answer.h"
#include "tool/plan/plan_card.h"
#include "tool/plan/plan_conditions.h"
#include "tool/plan/plan_table.h"
#include "tool/tool.h"

static const char usage[] =
    "plan HILL --rig RIG [--load NAME] | plan --table HILLS... --rig RIGS | plan --grade 7% "
    "--length \"4 mi\" --weight \"78000 lb\" [--rig RIG] ...; plan --help tells all options";

static const char more[] =
    "  HILL is a profile, or one hill of a library: country.hills:gull-pass-east\n"
    "  --rig FILE       the truck; --load NAME picks one of its loads, --weight \"62000 lb\" is\n"
    "                   any weight of truck and load together\n"
    "  --road dry|wet|ice    state of the road; --ambient \"95 F\" the air\n"
    "  --brakes-from \"300 F\"    brakes at the crest, still hot from the hill before\n"
    "  --credit none|cautious|full    how far the engine brake is counted on\n"
    "  --grade, --length, --weight, --posted    a plain grade instead of a hill file\n"
    "  --constants 1982|1989    a plain grade by the published reference truck\n"
    "  --metric         km/h, km, m, kg and C\n"
    "  --json           one object for machines\n"
    "  --svg FILE       the plan as a card of one page, to print or to read on a phone;\n"
    "                   --force replaces a file that is there\n" TD_PLAN_TABLE_HELP;

enum { HILLS_MOST = 4096 };

struct asked {
    struct td_plan_conditions conditions;
    const char *hill, *rig, *load, *grade, *length, *weight, *posted, *constants, *svg, *out;
    bool json, force, table, csv, refused;
};

/* Everything read from the command line and its files. */
struct job {
    struct asked asked;
    struct td_rig rig;
    struct td_hill_file *file;
    struct td_hill plain;
    struct td_station stations[2];
    struct td_place sign;
    double posted_mps; /* 0 none */
    enum td_gsrs_set set; /* of the reference model */
    struct td_plan_answer answer;
    struct td_plan_point points[TD_PLAN_TRACE_MAX];
    size_t point_count;
};

static enum td_result refuse(struct td_problem *problem, const char *words)
{
    return td_problem_set(problem, TD_INVALID, NULL, 0, "%s; usage: %s", words, usage);
}

/* Which options go together. */
static enum td_result check_options(const struct asked *asked, struct td_problem *problem)
{
    bool any_plain = asked->grade != NULL || asked->length != NULL || asked->posted != NULL ||
                     asked->constants != NULL;
    if (asked->force && asked->svg == NULL)
        return refuse(problem, "--force replaces the file that --svg names; give --svg FILE");
    if (asked->constants != NULL && asked->rig != NULL)
        return refuse(problem, "--constants is the published reference truck and --rig a truck of "
                               "your own; give one of them");
    if (asked->hill != NULL && any_plain)
        return refuse(problem, "a hill file has its own grade and signs; leave out --grade, "
                               "--length, --posted and --constants");
    if (asked->hill != NULL && asked->rig == NULL)
        return refuse(problem, "a hill file needs --rig RIG");
    if (asked->load != NULL && asked->weight != NULL)
        return refuse(problem, "--load names a load of the rig; with --weight leave it out");
    if (asked->hill != NULL)
        return TD_OK;
    if (asked->grade == NULL || asked->length == NULL || asked->weight == NULL)
        return refuse(problem, "give a hill file, or all of --grade, --length and --weight");
    if (asked->rig == NULL && td_plan_conditions_any(&asked->conditions))
        return refuse(problem, "the reference truck knows no --road, --credit, --ambient or "
                               "--brakes-from; give --rig");
    return TD_OK;
}

/* A plain grade as a hill of two stations. */
static enum td_result make_plain(struct job *job, struct td_problem *problem)
{
    double grade = 0, length_m = 0;
    enum td_result result =
        td_plan_read_quantity("--grade", job->asked.grade, TD_DIM_RATIO, 0.001, 0.4,
                              "a downgrade from 0.1% to 40% would be right", &grade, problem);
    if (result == TD_OK)
        result = td_plan_read_quantity("--length", job->asked.length, TD_DIM_LENGTH, 100, 200e3,
                                       "100 m to 200 km would be right", &length_m, problem);
    if (result == TD_OK)
        result = td_plan_read_weight(job->asked.weight, &job->answer.query.mass_kg, problem);
    if (result == TD_OK && job->asked.posted != NULL)
        result = td_plan_read_quantity("--posted", job->asked.posted, TD_DIM_SPEED,
                                       td_mps_from_mph(1), td_mps_from_mph(100),
                                       "1 to 100 mph would be right", &job->posted_mps, problem);
    if (result != TD_OK)
        return result;
    job->stations[0].downgrade_ratio = job->stations[1].downgrade_ratio = grade;
    job->stations[1].along_m = length_m;
    job->stations[1].elevation_m = -grade * length_m;
    job->sign = (struct td_place){.kind = TD_PLACE_TRUCK_SPEED, .has = TD_PLACE_SPEED,
                                  .speed_mps = job->posted_mps, .material = "", .say = "",
                                  .name = ""};
    job->plain = (struct td_hill){
        .id = "", .name = "", .stations = job->stations, .station_count = 2, .places = &job->sign,
        .place_count = job->posted_mps > 0 ? 1 : 0, .length_m = length_m, .coached = true,
        .foot_m = length_m, .mean_downgrade_ratio = grade, .steepest_downgrade_ratio = grade,
        .runs = {{0, length_m, grade}}, .run_count = 1};
    job->answer.hill = &job->plain;
    job->answer.is_plain = true;
    return TD_OK;
}

static enum td_result plan_by_rig(struct job *job, struct td_problem *problem)
{
    struct td_plan_answer *answer = &job->answer;
    size_t load = 0;
    enum td_result result = td_rig_file_read(job->asked.rig, &job->rig, problem);
    if (result == TD_OK)
        result = td_plan_find_load(&job->rig, job->asked.rig, job->asked.load, &load, problem);
    if (result != TD_OK)
        return result;
    job->rig.load_now = load;
    answer->model = "rig";
    answer->rig = &job->rig;
    answer->limit_c = job->rig.brakes.limit_c;
    answer->query = td_plan_query_default(&job->rig);
    result = td_plan_conditions_read(&job->asked.conditions, &answer->query, problem);
    if (result == TD_OK && job->asked.weight != NULL)
        result = td_plan_read_weight(job->asked.weight, &answer->query.mass_kg, problem);
    if (result != TD_OK)
        return result;
    if (job->asked.weight == NULL)
        answer->load = job->rig.loads[load].name;
    struct td_plan_work *work = malloc(sizeof *work);
    if (work == NULL)
        return td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "no memory for the plan");
    td_plan_solve(answer->hill, &job->rig, &answer->query, work, &answer->plan);
    job->point_count = td_plan_trace(answer->hill, &job->rig, &answer->query, &answer->plan, work,
                                     job->points, TD_PLAN_TRACE_MAX);
    free(work);
    return TD_OK;
}

/* A plain grade is one stretch and one descent. */
static void fill_road(const struct job *job, struct td_plan *plan)
{
    double foot_m = job->plain.length_m;
    plan->stretches[plan->stretch_count++] =
        (struct td_plan_stretch){0, foot_m, job->plain.mean_downgrade_ratio, plan->target_mps,
                                 plan->limited_by};
    plan->descents[plan->descent_count++] = (struct td_plan_descent){
        .to_m = foot_m, .target_mps = plan->target_mps, .target_mph = plan->target_mph,
        .say_mph = plan->say_mph, .say_kmh = plan->say_kmh, .limited_by = plan->limited_by,
        .gear = -1, .stage = -1, .peak_c = plan->peak_c, .peak_at_m = plan->peak_at_m,
        .final_c = plan->final_c};
}

/* The published equation along the grade: each point is a shorter grade of its own. */
static void trace_reference(struct job *job, double shown_mph)
{
    enum { POINTS = 60 };
    const struct td_plan *plan = &job->answer.plan;
    double weight_lb = td_lb_from_kg(job->answer.query.mass_kg);
    for (int i = 0; i < POINTS && plan->safe; i++) {
        double along_m = job->plain.length_m * i / (POINTS - 1), final_f = TD_GSRS_START_F;
        struct td_gsrs_segment part = {job->plain.mean_downgrade_ratio, td_mi_from_m(along_m)};
        if (i > 0)
            (void)td_gsrs_peak_f(job->set, weight_lb, &part, 1, shown_mph, &final_f);
        job->points[job->point_count++] = (struct td_plan_point){
            .along_m = along_m, .target_mps = plan->target_mps,
            .ceiling_mps = job->posted_mps > 0 ? job->posted_mps
                                               : td_mps_from_mph(TD_PLAN_MOST_MPH),
            .worst_c = td_c_from_f(final_f), .likely_c = td_c_from_f(final_f)};
    }
}

/* The published equation's answer in the form of a plan: no gear, no engine brake of its own. */
static void plan_by_reference(struct job *job)
{
    enum td_gsrs_set set = job->set;
    struct td_plan_answer *answer = &job->answer;
    struct td_plan *plan = &answer->plan;
    double weight_lb = td_lb_from_kg(answer->query.mass_kg), final_f = 0;
    struct td_gsrs_segment grade = {job->plain.mean_downgrade_ratio,
                                    td_mi_from_m(job->plain.length_m)};
    double posted_mph = job->posted_mps > 0 ? td_mph_from_mps(job->posted_mps) : (double)INFINITY;
    double heat_mph = td_gsrs_safe_mph(set, weight_lb, &grade, 1, TD_PLAN_MOST_MPH);
    double target_mph = fmin(heat_mph, posted_mph), shown_mph = fmax(1, floor(target_mph + 1e-6));
    double peak_f = td_gsrs_peak_f(set, weight_lb, &grade, 1, shown_mph, &final_f);
    answer->model = set == TD_GSRS_1982 ? "reference-1982" : "reference-1989";
    answer->limit_c = td_c_from_f(TD_GSRS_LIMIT_F);
    answer->query.ambient_c = td_c_from_f(TD_GSRS_AMBIENT_F);
    answer->query.brakes_from_c = td_c_from_f(TD_GSRS_START_F);
    answer->query.speak_kmh = job->asked.conditions.metric;
    *plan = (struct td_plan){
        .safe = heat_mph > 0, .coached = true, .gear = -1, .stage = -1,
        .target_mps = td_mps_from_mph(target_mph), .target_mph = (int)floor(target_mph + 1e-6),
        .without_engine_brake_mph = (int)floor(target_mph + 1e-6),
        .peak_c = td_c_from_f(peak_f), .final_c = td_c_from_f(final_f),
        .margin_c = (TD_GSRS_LIMIT_F - peak_f - td_gsrs_stop_f(weight_lb, shown_mph)) / 1.8,
        .limited_by = posted_mph <= heat_mph            ? TD_LIMIT_POSTED
                      : heat_mph < TD_PLAN_MOST_MPH ? TD_LIMIT_HEAT
                                                        : TD_LIMIT_NONE};
    plan->peak_at_m = peak_f > TD_GSRS_START_F ? job->plain.length_m : 0;
    plan->say_mph = plan->target_mph < 5 ? plan->target_mph : plan->target_mph / 5 * 5;
    plan->say_kmh = (int)floor(td_kmh_from_mps(plan->target_mps) / 5 + 1e-6) * 5;
    if (plan->safe)
        fill_road(job, plan);
    else
        plan->reasons[plan->reason_count++] =
            (struct td_plan_reason){TD_REASON_NOTHING_ALLOWED, 0, 0};
    if (plan->limited_by == TD_LIMIT_POSTED)
        plan->reasons[plan->reason_count++] =
            (struct td_plan_reason){TD_REASON_POSTED, job->posted_mps, 0};
    plan->reasons[plan->reason_count++] =
        (struct td_plan_reason){TD_REASON_HEAT, plan->peak_c, plan->peak_at_m};
    trace_reference(job, shown_mph);
}

static enum td_result solve(struct job *job, struct td_problem *problem)
{
    static const char *const sets[] = {"1982", "1989"};
    enum td_result result = check_options(&job->asked, problem);
    if (result != TD_OK)
        return result;
    if (job->asked.hill != NULL) {
        result = td_hill_named_read(job->asked.hill, &job->file, problem);
        if (result == TD_OK)
            job->answer.hill = td_hill_file_hill(job->file);
    } else {
        result = make_plain(job, problem);
    }
    if (result != TD_OK)
        return result;
    if (job->asked.rig != NULL)
        return plan_by_rig(job, problem);
    int set = TD_GSRS_1989; /* the more cautious of the two */
    result = td_plan_pick("--constants", job->asked.constants, sets, 2, set, &set, problem);
    if (result == TD_OK) {
        job->set = (enum td_gsrs_set)set;
        plan_by_reference(job);
    }
    return result;
}

static const char *base_name(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash != NULL ? slash + 1 : path;
}

static enum td_result write_card(const struct job *job, struct td_problem *problem)
{
    const struct asked *asked = &job->asked;
    char source[400];
    if (job->asked.svg == NULL)
        return TD_OK;
    if (asked->hill != NULL)
        (void)snprintf(source, sizeof source, "%.120s and %.120s", base_name(asked->hill),
                       base_name(asked->rig));
    else
        (void)snprintf(source, sizeof source, "a grade of %.30s for %.30s, %.30s%s%.120s",
                       asked->grade, asked->length, asked->weight,
                       asked->rig != NULL ? ", and " : "",
                       asked->rig != NULL ? base_name(asked->rig) : "");
    return td_plan_card_write(&job->answer, job->points, job->point_count, source, asked->svg,
                              asked->force, problem);
}

static int run_one(struct job *job)
{
    struct td_problem problem;
    enum td_result result = solve(job, &problem);
    if (result == TD_OK)
        result = write_card(job, &problem);
    if (result != TD_OK) {
        td_hill_file_free(&job->file);
        return td_tool_fail(&problem);
    }
    bool told = job->asked.json ? td_plan_print_json(&job->answer)
                                : td_plan_print_text(&job->answer);
    bool safe = job->answer.plan.safe;
    td_hill_file_free(&job->file);
    if (!told)
        return td_tool_fail_words("the plan could not be written whole to standard output");
    return safe ? TD_EXIT_DONE : TD_EXIT_NO;
}

static enum td_result check_table(const struct asked *asked, size_t hills,
                                  struct td_problem *problem)
{
    if (!asked->table && (asked->csv || asked->refused || asked->out != NULL))
        return refuse(problem, "--csv, --refused and --out are of a table; add --table");
    if (!asked->table && hills > 1)
        return refuse(problem, "one hill is one plan; --table takes several");
    if (!asked->table)
        return TD_OK;
    if (asked->grade != NULL || asked->length != NULL || asked->posted != NULL ||
        asked->constants != NULL || asked->svg != NULL)
        return refuse(problem, "--grade, --length, --posted, --constants and --svg are of one "
                               "plan; leave them out or leave out --table");
    if (hills == 0 || asked->rig == NULL)
        return refuse(problem, "a table needs hills (files, folders, libraries) and --rig");
    if (asked->load != NULL && asked->weight != NULL)
        return refuse(problem, "--load names a load of the rigs; with --weight leave it out");
    if (asked->csv && asked->json)
        return refuse(problem, "give --csv or --json");
    if (asked->force && asked->out == NULL)
        return refuse(problem, "--force replaces the file that --out names; give --out FILE");
    return TD_OK;
}

static int run_table(const struct asked *asked, const char *const *hills, size_t count)
{
    const struct td_plan_table_options options = {
        .hills = hills, .hill_count = count, .rigs = asked->rig, .load = asked->load,
        .weights = asked->weight, .out = asked->out, .conditions = asked->conditions,
        .csv = asked->csv, .json = asked->json, .refused = asked->refused, .force = asked->force};
    return td_plan_table(&options);
}

int td_cmd_plan(int argc, char **argv)
{
    static struct job job; /* too large for a small stack; a command runs once */
    static const char *words[HILLS_MOST];
    struct asked *asked = &job.asked;
    struct td_plan_conditions *conditions = &asked->conditions;
    const struct td_tool_option options[] = {
        {"rig", &asked->rig, NULL},             {"load", &asked->load, NULL},
        {"road", &conditions->road, NULL},      {"credit", &conditions->credit, NULL},
        {"ambient", &conditions->ambient, NULL}, {"brakes-from", &conditions->brakes_from, NULL},
        {"grade", &asked->grade, NULL},         {"length", &asked->length, NULL},
        {"weight", &asked->weight, NULL},       {"posted", &asked->posted, NULL},
        {"constants", &asked->constants, NULL}, {"svg", &asked->svg, NULL},
        {"out", &asked->out, NULL},             {"force", NULL, &asked->force},
        {"json", NULL, &asked->json},           {"metric", NULL, &conditions->metric},
        {"table", NULL, &asked->table},         {"csv", NULL, &asked->csv},
        {"refused", NULL, &asked->refused},
    };
    struct td_tool_line line = {.usage = usage, .more = more, .options = options,
                                .option_count = sizeof options / sizeof options[0],
                                .words = words, .word_most = HILLS_MOST};
    struct td_problem problem;
    enum td_result result = td_tool_options(argc, argv, &line, &problem);
    if (result == TD_OK && line.help)
        return TD_EXIT_DONE;
    if (result == TD_OK)
        result = check_table(asked, line.word_count, &problem);
    if (result != TD_OK)
        return td_tool_fail(&problem);
    if (asked->table)
        return run_table(asked, words, line.word_count);
    asked->hill = words[0];
    return run_one(&job);
}
