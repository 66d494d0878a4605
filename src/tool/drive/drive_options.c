/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rig, load, road, hills and phrases of a virtual drive, from the command line. */
#include "tool/drive/drive_options.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "io/problem.h"
#include "io/rig_file.h"
#include "talkdown/text.h"
#include "tool/desk/review_page.h"

/* From asking to the first sample, as measured on a desk with a small sound buffer. Assumed. */
#define SOUND_DELAY_MS 120

void td_drive_option_table(struct td_drive_options *into,
                           struct td_tool_option table[TD_DRIVE_OPTIONS])
{
    const struct td_tool_option options[TD_DRIVE_OPTIONS] = {
        {"hills", &into->hills, NULL},     {"rig", &into->rig, NULL},
        {"load", &into->load, NULL},       {"road", &into->road, NULL},
        {"talk", &into->talk, NULL},       {"phrases", &into->phrases, NULL},
        {"out", &into->out, NULL},         {"json", NULL, &into->json},
        {"no-sound", NULL, &into->no_sound}, {"force", NULL, &into->force},
        {"metric", NULL, &into->metric},   {"speed", &into->speed, NULL},
    };
    memcpy(table, options, sizeof options);
}

/* Index of `word` in `words`; an error that lists them when it is none of them. */
static enum td_result choose(const char *option, const char *word, const char *const *words,
                             size_t count, size_t *index, struct td_problem *problem)
{
    char list[200];
    struct td_text text;
    td_text_init(&text, list, sizeof list);
    for (size_t i = 0; i < count; i++) {
        if (strcmp(word, words[i]) == 0) {
            *index = i;
            return TD_OK;
        }
        td_text_add(&text, i > 0 ? ", " : "");
        td_text_add(&text, words[i]);
    }
    return td_problem_set(problem, TD_INVALID, NULL, 0, "%s \"%s\" is none of: %s", option, word,
                          list);
}

static enum td_result choose_load(struct td_rig *rig, const char *load, struct td_problem *problem)
{
    const char *names[TD_RIG_LOADS_MAX];
    for (size_t i = 0; i < rig->load_count; i++)
        names[i] = rig->loads[i].name;
    return choose("--load", load, names, rig->load_count, &rig->load_now, problem);
}

enum td_result td_drive_change_setup(const struct td_drive_options *options,
                                     struct td_setup *setup, struct td_problem *problem)
{
    static const char *const roads[] = {"dry", "wet", "ice"};
    static const char *const talks[] = {"normal", "trainee", "sparse"};
    size_t road = setup->road, talk = setup->talk;
    enum td_result result = TD_OK;
    if (options->rig != NULL) {
        result = td_rig_file_read(options->rig, &setup->rig, problem);
        setup->rig_is_set = true;
        setup->brakes_from_c = (double)NAN; /* another truck's are no guide */
    }
    if (result == TD_OK && options->load != NULL && !setup->rig_is_set)
        result = td_problem_set(problem, TD_INVALID, NULL, 0,
                                "--load: no rig is set to have a load; name one with --rig");
    if (result == TD_OK && options->load != NULL)
        result = choose_load(&setup->rig, options->load, problem);
    if (result == TD_OK && options->road != NULL)
        result = choose("--road", options->road, roads, 3, &road, problem);
    if (result == TD_OK && options->talk != NULL)
        result = choose("--talk", options->talk, talks, 3, &talk, problem);
    if (result != TD_OK)
        return result;
    /* Whoever names a truck or its load has just said what the load is. */
    setup->load_confirmed |= options->rig != NULL || options->load != NULL;
    setup->road = (enum td_road)road;
    setup->talk = (enum td_talk)talk;
    setup->metric |= options->metric;
    return TD_OK;
}

static enum td_result make_setup(const struct td_drive_options *options, struct td_setup *setup,
                                 struct td_problem *problem)
{
    if (options->rig == NULL)
        return td_problem_set(problem, TD_INVALID, NULL, 0, "--rig is missing; name a rig file");
    *setup = (struct td_setup){.road = TD_ROAD_DRY,
                               .talk = TD_TALK_NORMAL,
                               .credit = TD_CREDIT_CAUTIOUS,
                               .brakes_from_c = (double)NAN,
                               .sound_delay_ms = SOUND_DELAY_MS};
    enum td_result result = td_drive_change_setup(options, setup, problem);
    if (result == TD_OK)
        setup->ambient_c = td_plan_query_default(&setup->rig).ambient_c;
    return result;
}

enum td_result td_drive_phrases_open(const char *path, const char *language,
                                     struct td_phrase_file **phrases, struct td_problem *problem)
{
    char name[64], found[1024];
    enum td_result result = TD_OK;
    if (path == NULL) {
        (void)snprintf(name, sizeof name, "sounds/phrases/%.40s.yaml", language);
        result = td_tool_data(name, found, sizeof found, problem);
        path = found;
    }
    return result == TD_OK ? td_phrase_file_read(path, phrases, problem) : result;
}

static enum td_result read_speed(const struct td_drive_options *options, int *speed,
                                 struct td_problem *problem)
{
    long long read = 1;
    if (options->speed == NULL) {
        *speed = 1;
        return TD_OK;
    }
    if (options->no_sound)
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "--speed is of voice.wav, which --no-sound leaves out; give one of "
                              "them");
    enum td_result result =
        td_tool_whole("--speed", options->speed, 1, TD_DRIVE_SPEED_MOST, &read, problem);
    *speed = (int)read;
    return result;
}

enum td_result td_drive_parts_open(const struct td_drive_options *options, const char *hills,
                                   struct td_drive_parts *parts, struct td_problem *problem)
{
    *parts = (struct td_drive_parts){.shelf = NULL};
    if (options->out == NULL)
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "--out is missing; name the folder for drive.db, prompts.txt, "
                              "voice.wav and review.html");
    enum td_result result = read_speed(options, &parts->speed, problem);
    if (result == TD_OK)
        result = make_setup(options, &parts->setup, problem);
    if (result == TD_OK)
        result = td_shelf_open(hills, &parts->shelf, problem);
    if (result == TD_OK)
        result = td_drive_phrases_open(options->phrases, "en-us", &parts->phrases, problem);
    if (result != TD_OK) {
        td_drive_parts_close(parts);
        return result;
    }
    parts->setup.hills_on_board = (uint32_t)td_shelf_count(parts->shelf);
    memcpy(parts->setup.speech_ms, td_phrase_file_speech_ms(parts->phrases),
           sizeof parts->setup.speech_ms);
    return TD_OK;
}

void td_drive_parts_close(struct td_drive_parts *parts)
{
    td_phrase_file_free(&parts->phrases);
    td_shelf_close(&parts->shelf);
}

struct td_cab_options td_drive_cab_options(const struct td_drive_options *options,
                                           const struct td_drive_parts *parts)
{
    return (struct td_cab_options){
        .setup = &parts->setup,
        .shelf = parts->shelf,
        .phrases = parts->phrases,
        .out_dir = options->out,
        .replace = options->force,
        .sound = !options->no_sound,
        .speed = parts->speed,
        .json = options->json,
        .print = stdout,
    };
}

enum td_result td_drive_review(const struct td_drive_options *options, struct td_problem *problem)
{
    char log[TD_PROBLEM_FILE_MAX], page[TD_PROBLEM_FILE_MAX];
    const char *const logs[] = {log};
    size_t descents = 0;
    int room = (int)sizeof log;
    if (snprintf(log, sizeof log, "%s/drive.db", options->out) >= room ||
        snprintf(page, sizeof page, "%s/review.html", options->out) >= room)
        return td_problem_set(problem, TD_INVALID, NULL, 0, "--out: the path is too long");
    const struct td_review_page_options how = {.page = page, .phrases = options->phrases,
                                               .no_sound = options->no_sound};
    return td_review_page_write(logs, 1, &how, &descents, problem);
}

FILE *td_drive_summary_to(const struct td_drive_options *options)
{
    return options->json ? stderr : stdout;
}

void td_drive_summary_print(const struct td_drive_options *options,
                            const struct td_cab_summary *summary)
{
    FILE *to = td_drive_summary_to(options);
    (void)fprintf(to, "prompts said: %u (", summary->prompts);
    for (int i = TD_CATEGORIES - 1; i >= 0; i--)
        (void)fprintf(to, "%s %u%s", td_category_name((enum td_category)i),
                      summary->by_category[i], i > 0 ? ", " : ")\n");
    if (summary->failed_answers > 0)
        (void)fprintf(to, "hill files that could not be read: %u times\n",
                      summary->failed_answers);
    (void)fprintf(to, "outputs: %s/drive.db, prompts.txt%s, review.html", options->out,
                  options->no_sound ? "" : ", voice.wav");
    if (options->speed != NULL && summary->sound_s > 0)
        (void)fprintf(to, " (a quick listen of %.0f s)", summary->sound_s);
    (void)fprintf(to, "\n");
}
