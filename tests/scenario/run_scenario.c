/* SPDX-License-Identifier: GPL-3.0-or-later */
/* run_scenario FILE.txt FILE.expect [--write]: a scenario (road, rig, drive, faults; one fact a
 * line) is driven by the simulated truck and driver, and what became of each prompt is compared
 * with the transcript on file: when it ended, where and how fast the truck then was, the prompt
 * with its numbers (unit:value as in prompt.h), its fate and why; no words. The cmake target
 * scenario_rebuild writes the transcripts anew. */
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/hill_file.h"
#include "io/rig_file.h"
#include "sim/driver.h"
#include "sim/gnss.h"
#include "sim/truck.h"
#include "talkdown/coach.h"
#include "talkdown/units.h"

enum { DEEDS_MAX = 32, LINE_MAX_BYTES = 200, TEXT_MAX = 64 * 1024, DO_MAX = 32 };

#define STEP_NS   (TD_NS_PER_S / 20)
#define SPEECH_MS 2400
#define DELAY_MS  120
#define HANDLE    1

/* Something that happens at a time or a place. */
struct deed {
    bool by_place, done;
    double at;
    char what[DO_MAX];
    int value;
};

struct scenario {
    char hill[64], rig[64], driver[32];
    double cruise_mph, from_m, to_m;
    int seed;
    bool as_filed, no_plan, damaged;
    struct td_setup setup;
    struct deed deeds[DEEDS_MAX];
    int deed_count;
};

struct run {
    struct scenario scenario;
    struct td_hill_file *hill_file;
    struct td_truck truck;
    struct td_driver driver;
    struct td_gnss gnss;
    struct td_coach *coach;
    struct td_plan_work work;
    struct td_plan plan;
    struct td_input input;
    struct td_output output;
    int64_t now_ns;

    uint32_t want_serial;
    bool offered;
    struct td_solve solve;

    bool fix_off, voice_dead, speaking, started;
    struct td_prompt prompt;
    int64_t start_ns, end_ns;

    char text[TEXT_MAX];
    size_t length;
};

static void die(const char *what, const char *where)
{
    fprintf(stderr, "run_scenario: %s: %s\n", what, where);
    exit(2);
}

static bool read_deed(struct scenario *scenario, const char *line)
{
    struct deed deed = {.done = false};
    char unit[4] = "";
    if (sscanf(line, "at %lf %3s %31[a-z-] %d", &deed.at, unit, deed.what, &deed.value) < 3 ||
        scenario->deed_count == DEEDS_MAX)
        return false;
    deed.by_place = strcmp(unit, "m") == 0;
    scenario->deeds[scenario->deed_count++] = deed;
    return deed.by_place || strcmp(unit, "s") == 0;
}

static bool read_flag(struct scenario *scenario, const char *word)
{
    struct td_setup *setup = &scenario->setup;
    if (strcmp(word, "metric") == 0)
        setup->metric = true;
    else if (strcmp(word, "trainee") == 0)
        setup->talk = TD_TALK_TRAINEE;
    else if (strcmp(word, "sparse") == 0)
        setup->talk = TD_TALK_SPARSE;
    else if (strcmp(word, "load-not-confirmed") == 0)
        setup->load_confirmed = false;
    else if (strcmp(word, "rig-not-set") == 0)
        setup->rig_is_set = false;
    else if (strcmp(word, "as-filed") == 0)
        scenario->as_filed = true;
    else if (strcmp(word, "no-plan") == 0)
        scenario->no_plan = true;
    else if (strcmp(word, "hill-damaged") == 0)
        scenario->damaged = true;
    else if (strcmp(word, "wet") == 0)
        setup->road = TD_ROAD_WET;
    else if (strcmp(word, "ice") == 0)
        setup->road = TD_ROAD_ICE;
    else
        return false;
    return true;
}

static bool read_fact(struct scenario *scenario, const char *line)
{
    char word[32] = "";
    if (sscanf(line, "%31s", word) < 1 || read_flag(scenario, word))
        return true;
    if (sscanf(line, "hill %63s", scenario->hill) == 1 ||
        sscanf(line, "rig %63s", scenario->rig) == 1 ||
        sscanf(line, "driver %31s", scenario->driver) == 1 ||
        sscanf(line, "seed %d", &scenario->seed) == 1 ||
        sscanf(line, "cruise %lf mph", &scenario->cruise_mph) == 1 ||
        sscanf(line, "from %lf m", &scenario->from_m) == 1 ||
        sscanf(line, "to %lf m", &scenario->to_m) == 1)
        return true;
    if (strncmp(line, "at ", 3) == 0)
        return read_deed(scenario, line);
    return false;
}

static void read_scenario(struct scenario *scenario, const char *path)
{
    char line[LINE_MAX_BYTES];
    FILE *file = fopen(path, "r");
    if (!file)
        die("cannot open", path);
    *scenario = (struct scenario){.driver = "careful", .cruise_mph = 55.0, .from_m = -1200.0,
                                  .to_m = 1e9, .seed = 1};
    scenario->setup.load_confirmed = scenario->setup.rig_is_set = true;
    while (fgets(line, sizeof line, file))
        if (line[0] != '#' && !read_fact(scenario, line))
            die("this line means nothing", line);
    fclose(file);
}

static void set_up(struct run *run)
{
    struct scenario *scenario = &run->scenario;
    struct td_setup *setup = &scenario->setup;
    struct td_problem problem;
    char path[512];
    snprintf(path, sizeof path, "%s/profiles/hills/%s.geojson", TD_SOURCE_DIR, scenario->hill);
    if (td_hill_file_read(path, &run->hill_file, &problem) != TD_OK)
        die(path, problem.text);
    snprintf(path, sizeof path, "%s/profiles/rigs/%s.yaml", TD_SOURCE_DIR, scenario->rig);
    if (td_rig_file_read(path, &setup->rig, &problem) != TD_OK)
        die(path, problem.text);
    setup->credit = TD_CREDIT_CAUTIOUS;
    setup->ambient_c = 32.2;
    setup->brakes_from_c = (double)NAN;
    setup->hills_on_board = 1;
    setup->sound_delay_ms = DELAY_MS;
    for (int i = 0; i < TD_PROMPT_IDS; i++)
        setup->speech_ms[i] = SPEECH_MS;
    run->coach = td_coach_init(malloc(td_coach_size()), setup, 0);
    if (!run->coach)
        die("no coach", scenario->rig);
}

static void set_out(struct run *run)
{
    const struct scenario *scenario = &run->scenario;
    const struct td_hill *hill = td_hill_file_hill(run->hill_file);
    const struct td_rig *rig = &scenario->setup.rig;
    uint64_t seed = (uint64_t)scenario->seed;
    struct td_truth truth = scenario->as_filed ? td_truth_as_filed()
                                               : td_truth_draw(seed);
    int kind = td_driver_from_name(scenario->driver);
    if (kind < 0)
        die("no such driver", scenario->driver);
    double cruise_mps = td_mps_from_mph(scenario->cruise_mph);
    td_truck_init(&run->truck, hill, rig, rig->loads[rig->load_now].mass_kg, &truth);
    run->truck.ambient_c = 32.2;
    run->truck.along_m = scenario->from_m;
    run->truck.speed_mps = cruise_mps;
    td_driver_init(&run->driver, (enum td_driver_kind)kind, hill, cruise_mps, seed);
    struct td_gnss_options receiver = td_gnss_options_default();
    td_gnss_init(&run->gnss, &receiver, seed, TD_NS_PER_S, 0);
}

static void write_line(struct run *run, const struct td_event *event, int64_t issued_ns)
{
    char args[64] = "";
    for (unsigned i = 0; i < event->prompt.arg_count; i++)
        snprintf(args + strlen(args), sizeof args - strlen(args), " %d:%d",
                 (int)event->prompt.args[i].unit, (int)event->prompt.args[i].value);
    int wrote = snprintf(run->text + run->length, TEXT_MAX - run->length,
                         "%7.1f s %6.0f m %5.1f mph  %-18s%-14s %s %s\n",
                         (double)issued_ns * 1e-9, run->truck.along_m,
                         td_mph_from_mps(run->truck.speed_mps), td_prompt_key(event->prompt.id),
                         args, td_event_name(event->kind), td_why_word(event->why));
    run->length += (size_t)wrote;
    if (run->length > TEXT_MAX - 200)
        die("transcript too long", run->scenario.hill);
}

static void note_events(struct run *run)
{
    for (unsigned i = 0; i < run->output.event_count; i++) {
        const struct td_event *event = &run->output.events[i];
        bool fate = event->kind == TD_EVENT_SPOKEN || event->kind == TD_EVENT_CUT ||
                    event->kind == TD_EVENT_LOST || event->kind == TD_EVENT_EXPIRED ||
                    event->kind == TD_EVENT_DROPPED;
        if (fate)
            write_line(run, event, run->now_ns);
    }
}

static void report(struct run *run, enum td_report_kind kind)
{
    run->input.reports[run->input.report_count++] = (struct td_report){run->prompt.serial, kind};
    if (kind != TD_REPORT_STARTED)
        run->speaking = false;
    if (kind == TD_REPORT_ENDED)
        td_driver_hear(&run->driver, &run->prompt, run->now_ns);
}

static void answer(struct run *run)
{
    if (run->want_serial != 0) {
        run->input.offer.want_serial = run->want_serial;
        bool damaged = run->scenario.damaged;
        enum td_offer_kind kind = damaged ? TD_OFFER_DAMAGED : TD_OFFER_HILL;
        run->input.offer.kind = run->offered ? TD_OFFER_END : kind;
        run->input.offer.handle = HANDLE;
        run->input.offer.hill = damaged ? NULL : td_hill_file_hill(run->hill_file);
        if (run->offered)
            run->want_serial = 0;
        run->offered = !run->offered;
    }
    if (run->solve.serial != 0 && !run->scenario.no_plan) {
        td_plan_solve(td_hill_file_hill(run->hill_file), &run->scenario.setup.rig,
                      &run->solve.query, &run->work, &run->plan);
        run->input.plan_serial = run->solve.serial;
        run->input.plan = &run->plan;
        run->solve.serial = 0;
    }
    if (!run->speaking || run->voice_dead)
        return;
    if (!run->started && run->now_ns >= run->start_ns) {
        run->started = true;
        report(run, TD_REPORT_STARTED);
    } else if (run->started && run->now_ns >= run->end_ns) {
        report(run, TD_REPORT_ENDED);
    }
}

static void step(struct run *run)
{
    answer(run);
    run->input.now_ns = run->now_ns;
    td_coach_step(run->coach, &run->input, &run->output);
    run->input = (struct td_input){0};
    note_events(run);
    if (run->output.want.serial != 0)
        run->want_serial = run->output.want.serial;
    if (run->output.solve.serial != 0)
        run->solve = run->output.solve;
    if (run->output.cut_serial != 0 && run->speaking && !run->voice_dead &&
        run->prompt.serial == run->output.cut_serial)
        report(run, TD_REPORT_CUT);
    if (run->output.has_speak) {
        run->speaking = true;
        run->started = false;
        run->prompt = run->output.speak;
        run->start_ns = run->now_ns + DELAY_MS * TD_NS_PER_MS;
        run->end_ns = run->start_ns + (SPEECH_MS - 100) * TD_NS_PER_MS;
    }
}

static void do_deed(struct run *run, const struct deed *deed)
{
    static const struct {
        const char *what;
        enum td_command_kind command;
    } commands[] = {{"again", TD_COMMAND_AGAIN}, {"quiet", TD_COMMAND_QUIET},
                    {"loud", TD_COMMAND_LOUD},   {"load", TD_COMMAND_LOAD},
                    {"road", TD_COMMAND_ROAD},   {"engine-brake", TD_COMMAND_ENGINE_BRAKE}};
    for (size_t i = 0; i < sizeof commands / sizeof *commands; i++)
        if (strcmp(deed->what, commands[i].what) == 0)
            run->input.command = (struct td_command){commands[i].command, deed->value};
    if (strcmp(deed->what, "fixes-stop") == 0)
        run->fix_off = true;
    else if (strcmp(deed->what, "fixes-return") == 0)
        run->fix_off = false;
    else if (strcmp(deed->what, "sound-goes") == 0)
        run->input.sound = TD_SOUND_DOWN;
    else if (strcmp(deed->what, "sound-returns") == 0)
        run->input.sound = TD_SOUND_UP;
    else if (strcmp(deed->what, "voice-dies") == 0)
        run->voice_dead = true;
    else if (strcmp(deed->what, "voice-lives") == 0)
        run->voice_dead = run->speaking = false;
    else if (strcmp(deed->what, "voice-killed") == 0 && run->speaking)
        report(run, TD_REPORT_LOST);
    else if (run->input.command.kind == TD_COMMAND_NOTHING)
        die("nothing done by", deed->what);
}

static void do_deeds(struct run *run)
{
    for (int i = 0; i < run->scenario.deed_count; i++) {
        struct deed *deed = &run->scenario.deeds[i];
        double here = deed->by_place ? run->truck.along_m : (double)run->now_ns * 1e-9;
        bool waits = strcmp(deed->what, "voice-killed") == 0 && !(run->speaking && run->started);
        if (deed->done || here < deed->at || waits)
            continue;
        deed->done = true;
        do_deed(run, deed);
        step(run);
    }
}

static void drive(struct run *run)
{
    const struct td_hill *hill = td_hill_file_hill(run->hill_file);
    double to_m = fmin(run->scenario.to_m, hill->length_m - 5.0);
    step(run);
    while (run->truck.along_m < to_m && run->now_ns < 7200 * TD_NS_PER_S) {
        run->now_ns += STEP_NS;
        struct td_pedals pedals = td_driver_act(&run->driver, &run->truck, run->now_ns, 0.05);
        td_truck_step(&run->truck, &pedals, 0.05);
        struct td_fix fix;
        bool has_fix = td_gnss_fix(&run->gnss, &run->truck, run->now_ns, &fix) && !run->fix_off;
        do_deeds(run);
        run->input.has_fix = has_fix;
        if (has_fix)
            run->input.fix = fix;
        bool voice_due = run->speaking && !run->voice_dead &&
                         run->now_ns >= (run->started ? run->end_ns : run->start_ns);
        if (has_fix || voice_due || run->input.report_count > 0 || run->want_serial != 0 ||
            run->solve.serial != 0 || run->now_ns >= run->output.next_wake_ns)
            step(run);
    }
}

static int compare(const struct run *run, const char *path)
{
    static char expected[TEXT_MAX];
    FILE *file = fopen(path, "r");
    if (!file)
        die("no transcript on file (target scenario_rebuild writes it)", path);
    size_t length = fread(expected, 1, TEXT_MAX - 1, file);
    fclose(file);
    expected[length] = '\0';
    if (strcmp(expected, run->text) == 0)
        return 0;
    printf("The coach says something else than %s\n--- on file\n%s--- now\n%s", path, expected,
           run->text);
    return 1;
}

static int write_transcript(const struct run *run, const char *path)
{
    FILE *file = fopen(path, "w");
    if (!file || fputs(run->text, file) < 0 || fclose(file) != 0)
        die("cannot write", path);
    return 0;
}

int main(int argc, char **argv)
{
    if (argc < 3)
        die("usage", "run_scenario FILE.txt FILE.expect [--write]");
    struct run *run = calloc(1, sizeof *run);
    if (!run)
        die("no memory", argv[1]);
    read_scenario(&run->scenario, argv[1]);
    set_up(run);
    set_out(run);
    drive(run);
    bool write = argc > 3 && strcmp(argv[3], "--write") == 0;
    int result = write ? write_transcript(run, argv[2]) : compare(run, argv[2]);
    td_hill_file_free(&run->hill_file);
    free(run->coach);
    free(run);
    return result;
}
