/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Writes the tones of src/voice/tones.c as WAV files, into a folder: for ears and for review (a
 * danger has the warning's). The voice makes them anew at run time; a test holds the two equal. */
#include <stdint.h>
#include <stdio.h>

#include "talkdown/prompt.h"
#include "voice/sink.h"
#include "voice/tones.h"

static const char *const names[TD_CATEGORIES] = {
    [TD_NOTICE] = "notice", [TD_ADVICE] = "advice", [TD_CAUTION] = "caution",
    [TD_WARNING] = "warning",
};

static enum td_result write_tone(const char *folder, enum td_category category,
                                 struct td_problem *problem)
{
    static double tone[TD_TONE_SAMPLES_MAX];
    static int16_t samples[TD_TONE_SAMPLES_MAX];
    char path[512];
    size_t count = td_tone_render(category, tone);
    for (size_t i = 0; i < count; i++)
        samples[i] = td_sound_sample(tone[i]);
    struct td_sound_clip clip = {samples, count, count};
    struct td_sink *sink = NULL;
    (void)snprintf(path, sizeof path, "%s/%s.wav", folder, names[category]);
    enum td_result result = td_sink_create(path, &sink, problem);
    if (result != TD_OK)
        return result;
    result = td_sink_put(sink, 0, &clip, count, problem);
    enum td_result closed = td_sink_close(&sink, 0, result == TD_OK ? problem : NULL);
    return result != TD_OK ? result : closed;
}

int main(int argc, char **argv)
{
    if (argc != 2) {
        (void)fprintf(stderr, "usage: make_tones FOLDER\n");
        return 2;
    }
    for (int category = 0; category < TD_CATEGORIES; category++) {
        struct td_problem problem;
        if (names[category] &&
            write_tone(argv[1], (enum td_category)category, &problem) != TD_OK) {
            (void)fprintf(stderr, "make_tones: %s: %s\n", problem.file, problem.text);
            return 1;
        }
    }
    return 0;
}
