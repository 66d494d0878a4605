/* SPDX-License-Identifier: GPL-3.0-or-later */
/* PROGRAM --voice FD RATE LATENCY VOLUME VOICE DEVICE */
#include "voice/child_args.h"

#include <stdlib.h>
#include <string.h>

#include "talkdown/text.h"

void td_child_args_write(const struct td_voice_options *options, int fd,
                         struct td_child_args *args)
{
    const int numbers[TD_CHILD_NUMBERS] = {fd, options->rate_wpm, options->stream_latency_ms,
                                           options->volume_percent};
    const char *words[TD_CHILD_ARGS + 1] = {
        options->program, "--voice",        args->numbers[0], args->numbers[1],
        args->numbers[2], args->numbers[3], options->voice,   options->device,
    };
    for (int i = 0; i < TD_CHILD_NUMBERS; i++) {
        struct td_text text;
        td_text_init(&text, args->numbers[i], sizeof args->numbers[i]);
        td_text_add_int(&text, numbers[i]);
    }
    memcpy(args->argv, words, sizeof words); /* execv's parameter predates const */
}

static bool read_number(const char *text, int *number)
{
    char *end = NULL;
    long value = strtol(text, &end, 10);
    if (end == text || *end || value < 0 || value > 1000000)
        return false;
    *number = (int)value;
    return true;
}

bool td_voice_child_args(int argc, char **argv, struct td_voice_options *options, int *fd)
{
    if (argc != TD_CHILD_ARGS || strcmp(argv[1], "--voice") != 0)
        return false;
    options->program = argv[0];
    options->voice = argv[6];
    options->device = argv[7];
    return read_number(argv[2], fd) && read_number(argv[3], &options->rate_wpm) &&
           read_number(argv[4], &options->stream_latency_ms) &&
           read_number(argv[5], &options->volume_percent);
}
