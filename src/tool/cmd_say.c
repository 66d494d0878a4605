/* SPDX-License-Identifier: GPL-3.0-or-later */
/* talkdown say: a sound check. The words go the way a prompt's go: synthesis, shaping, the tone of
 * the category, and then through a voice process like the daemon's to the configured device, or
 * into a file. */
#include <poll.h>
#include <stdio.h>
#include <string.h>

#include "io/clock.h"
#include "io/phrase_file.h"
#include "io/problem.h"
#include "io/settings.h"
#include "talkdown/text.h"
#include "tool/commands.h"
#include "tool/tool.h"
#include "voice/sink.h"
#include "voice/synth.h"
#include "voice/voice.h"

static const int64_t second_ns = 1000000000;
static const int64_t device_limit_s = 15; /* a hung sound server shows after 2 s, then again */

struct say {
    const char *words;
    enum td_category category;
    const char *out; /* NULL: to the device */
    struct td_settings settings;
    struct td_phrase_file *phrases;
};

static enum td_result read_category(const char *name, enum td_category *category,
                                    struct td_problem *problem)
{
    for (int c = 0; c < TD_CATEGORIES; c++) {
        if (strcmp(name, td_category_name((enum td_category)c)) == 0) {
            *category = (enum td_category)c;
            return TD_OK;
        }
    }
    return td_problem_set(problem, TD_INVALID, NULL, 0,
                          "--category: \"%s\" is none; notice, advice, caution, warning or "
                          "danger would be right",
                          name);
}

/* Voice and rate come from the language file, as they do in the daemon. */
static enum td_result read_phrases(struct say *say, struct td_problem *problem)
{
    char name[64], path[TD_PATH_MAX * 2];
    const char *folder = say->settings.phrases;
    enum td_result result = TD_OK;
    if (folder[0])
        (void)snprintf(path, sizeof path, "%s/%s.yaml", folder, say->settings.language);
    (void)snprintf(name, sizeof name, "sounds/phrases/%s.yaml", say->settings.language);
    if (!folder[0])
        result = td_tool_data(name, path, sizeof path, problem);
    return result == TD_OK ? td_phrase_file_read(path, &say->phrases, problem) : result;
}

static enum td_result into_file(const struct say *say, const struct td_sound_clip *clip,
                                struct td_problem *problem)
{
    struct td_sink *sink = NULL;
    enum td_result result = td_sink_create(say->out, &sink, problem);
    if (result != TD_OK)
        return result;
    result = td_sink_put(sink, 0, clip, clip->count, problem);
    enum td_result closed = td_sink_close(&sink, 0, result == TD_OK ? problem : NULL);
    return result == TD_OK ? closed : result;
}

/* Waits until the child says something or a tick is due. */
static void pump(struct td_voice *voice)
{
    struct pollfd wait = {td_voice_fd(voice), POLLIN, 0};
    int64_t left_ns = td_voice_next_tick_ns(voice) - td_clock_now_ns();
    int left_ms = left_ns < 0 ? 0 : left_ns > second_ns ? 1000 : (int)(left_ns / 1000000) + 1;
    (void)poll(&wait, 1, left_ms);
    td_voice_read(voice, td_clock_now_ns());
    td_voice_tick(voice, td_clock_now_ns());
}

static enum td_result wait_for_device(struct td_voice *voice, struct td_voice_state *state,
                                      struct td_problem *problem)
{
    int64_t deadline_ns = td_clock_now_ns() + device_limit_s * second_ns;
    while (td_clock_now_ns() < deadline_ns) {
        pump(voice);
        enum td_sound change = td_voice_sound_change(voice);
        td_voice_state(voice, state);
        if (change == TD_SOUND_UP)
            return TD_OK;
        if (change == TD_SOUND_DOWN)
            return td_problem_set(problem, TD_NOT_FOUND, NULL, 0, "no sound: %s", state->device);
    }
    return td_problem_set(problem, TD_IO, NULL, 0, "no sound: the device did not open within %d s",
                          (int)device_limit_s);
}

static enum td_result speak_and_wait(const struct say *say, struct td_voice *voice,
                                     struct td_problem *problem)
{
    int64_t now_ns = td_clock_now_ns();
    int64_t deadline_ns = now_ns + (TD_SOUND_SECONDS_MAX + device_limit_s) * second_ns;
    td_voice_speak(voice, now_ns, 1, say->category, deadline_ns, say->words);
    while (td_clock_now_ns() < deadline_ns) {
        struct td_report report;
        while (td_voice_report(voice, &report)) {
            if (report.kind == TD_REPORT_ENDED)
                return TD_OK;
            if (report.kind != TD_REPORT_STARTED)
                return td_problem_set(problem, TD_IO, NULL, 0,
                                      "the sound was lost while it was being said");
        }
        pump(voice);
    }
    return td_problem_set(problem, TD_IO, NULL, 0, "the sound did not come to its end");
}

static enum td_result to_device(const struct say *say, struct td_voice_state *state,
                                struct td_problem *problem)
{
    struct td_voice *voice = NULL;
    struct td_voice_options options = {
        .program = "/proc/self/exe",
        .voice = td_phrase_file_voice(say->phrases),
        .rate_wpm = td_phrase_file_rate_wpm(say->phrases),
        .device = say->settings.device,
        .stream_latency_ms = say->settings.stream_latency_ms,
        .volume_percent = say->settings.volume_percent,
    };
    enum td_result result = td_voice_start(&options, td_clock_now_ns(), &voice, problem);
    if (result != TD_OK)
        return result;
    result = wait_for_device(voice, state, problem);
    if (result == TD_OK)
        result = speak_and_wait(say, voice, problem);
    td_voice_stop(&voice);
    return result;
}

/* The words are made into sound here first: what is wrong with them is then told in full. */
static int check_and_say(const struct say *say)
{
    struct td_synth *synth = NULL;
    struct td_sound_clip clip = {0};
    struct td_problem problem = {0};
    struct td_voice_state state = {0};
    enum td_result result = td_synth_open(td_phrase_file_voice(say->phrases),
                                          td_phrase_file_rate_wpm(say->phrases), &synth, &problem);
    if (result == TD_OK)
        result = td_synth_say(synth, say->category, say->words, &clip, &problem);
    double length_s = (double)clip.count / TD_SOUND_RATE_HZ;
    if (result == TD_OK && say->out)
        result = into_file(say, &clip, &problem);
    td_sound_clip_free(&clip);
    td_synth_close(&synth);
    if (result != TD_OK)
        return td_tool_fail(&problem);
    if (!say->out && to_device(say, &state, &problem) != TD_OK) {
        (void)td_tool_fail(&problem);
        return TD_EXIT_NO;
    }
    (void)printf("said in %.1f s %s %s\n", length_s, say->out ? "into" : "on",
                 say->out ? say->out : state.device);
    return TD_EXIT_DONE;
}

int td_cmd_say(int argc, char **argv)
{
    struct say say = {.category = TD_ADVICE};
    struct td_problem problem = {0};
    const char *category = NULL, *settings = NULL, *device = NULL;
    const struct td_tool_option options[] = {
        {"category", &category, NULL},
        {"settings", &settings, NULL},
        {"device", &device, NULL},
        {"out", &say.out, NULL},
    };
    struct td_tool_line line = {
        .usage = "say TEXT [--category NAME] [--settings FILE] [--device NAME] [--out FILE.wav]",
        .more = "  --category  notice, advice, caution, warning or danger: the tone in front\n"
                "  --settings  the daemon's settings file: device, latency, volume, language\n"
                "  --device    part of a sound device's name, in place of the settings'\n"
                "  --out       into a sound file in place of a device\n",
        .options = options,
        .option_count = sizeof options / sizeof options[0],
        .words = &say.words,
        .word_most = 1,
    };
    td_settings_default(&say.settings);
    enum td_result result = td_tool_options(argc, argv, &line, &problem);
    if (result == TD_OK && line.help)
        return TD_EXIT_DONE;
    if (result == TD_OK && line.word_count == 0)
        result = td_problem_set(&problem, TD_INVALID, NULL, 0,
                                "say what? One TEXT in quotes is wanted");
    if (result == TD_OK && category)
        result = read_category(category, &say.category, &problem);
    if (result == TD_OK && settings)
        result = td_settings_read(settings, &say.settings, &problem);
    if (result == TD_OK && device &&
        !td_text_copy(say.settings.device, sizeof say.settings.device, device))
        result = td_problem_set(&problem, TD_INVALID, NULL, 0, "--device: the name is too long");
    if (result == TD_OK)
        result = read_phrases(&say, &problem);
    int code = result == TD_OK ? check_and_say(&say) : td_tool_fail(&problem);
    td_phrase_file_free(&say.phrases);
    return code;
}
