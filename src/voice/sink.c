/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The file sink: clips on a timeline into a WAV, and one clip into Ogg/Opus in memory. libsndfile
 * stays inside this file. */
#include "voice/sink.h"

#include <limits.h>
#include <sndfile.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "talkdown/text.h"
#include "voice/opus_file.h"
#include "voice/tell.h"

/* A WAV's sizes are 32 bits: 2 GiB of samples, thirteen hours. */
static const int64_t samples_most = INT32_MAX / 2;

struct td_sink {
    SNDFILE *file;
    int64_t written; /* samples */
    char path[TD_PROBLEM_FILE_MAX];
};

enum td_result td_sink_create(const char *path, struct td_sink **out, struct td_problem *problem)
{
    SF_INFO info = {0};
    info.samplerate = TD_SOUND_RATE_HZ;
    info.channels = 1;
    info.format = SF_FORMAT_WAV | SF_FORMAT_PCM_16;
    struct td_sink *sink = calloc(1, sizeof *sink);
    if (!sink)
        return td_voice_tell(problem, TD_NO_MEMORY, path, "no memory for the sound file");
    (void)td_text_copy(sink->path, sizeof sink->path, path);
    sink->file = sf_open(path, SFM_WRITE, &info);
    if (!sink->file) {
        free(sink);
        return td_voice_tell(problem, TD_IO, path, "cannot write the sound file: %s",
                             sf_strerror(NULL));
    }
    *out = sink;
    return TD_OK;
}

static enum td_result put(struct td_sink *sink, const int16_t *samples, size_t count,
                          struct td_problem *problem)
{
    if ((int64_t)count > samples_most - sink->written)
        return td_voice_tell(problem, TD_FULL, sink->path, "the sound is longer than a WAV holds "
                             "(13 hours)");
    if (sf_write_short(sink->file, samples, (sf_count_t)count) != (sf_count_t)count)
        return td_voice_tell(problem, TD_IO, sink->path, "cannot write the sound file: %s",
                             sf_strerror(sink->file));
    sink->written += (int64_t)count;
    return TD_OK;
}

static enum td_result silence_up_to(struct td_sink *sink, int64_t at, struct td_problem *problem)
{
    static const int16_t silence[4096];
    enum td_result result = TD_OK;
    if (at > samples_most)
        return td_voice_tell(problem, TD_FULL, sink->path, "the sound is longer than a WAV holds "
                             "(13 hours)");
    while (result == TD_OK && sink->written < at) {
        int64_t some = at - sink->written;
        result = put(sink, silence, (size_t)(some < 4096 ? some : 4096), problem);
    }
    return result;
}

static int64_t sample_at(int64_t at_ms)
{
    int64_t most_ms = INT64_MAX / TD_SOUND_RATE_HZ;
    return (at_ms < most_ms ? at_ms : most_ms) * TD_SOUND_RATE_HZ / 1000;
}

enum td_result td_sink_put(struct td_sink *sink, int64_t at_ms, const struct td_sound_clip *clip,
                           size_t count, struct td_problem *problem)
{
    if (at_ms < 0 || count > clip->count)
        return td_voice_tell(problem, TD_INVALID, sink->path,
                             "a clip starts before 0 or is shorter than what was asked of it");
    if (sample_at(at_ms) < sink->written)
        return td_voice_tell(problem, TD_INVALID, sink->path,
                             "a clip at %lld ms begins before the last one ends at %lld ms",
                             (long long)at_ms,
                             (long long)(sink->written * 1000 / TD_SOUND_RATE_HZ));
    enum td_result result = silence_up_to(sink, sample_at(at_ms), problem);
    return result == TD_OK ? put(sink, clip->samples, count, problem) : result;
}

enum td_result td_sink_close(struct td_sink **sink, int64_t end_ms, struct td_problem *problem)
{
    if (!sink || !*sink)
        return TD_OK;
    enum td_result result = silence_up_to(*sink, sample_at(end_ms), problem);
    if (sf_close((*sink)->file) != 0 && result == TD_OK)
        result = td_voice_tell(problem, TD_IO, (*sink)->path,
                               "cannot finish the sound file; is the disk full?");
    free(*sink);
    *sink = NULL;
    return result;
}

/* --- Ogg/Opus in memory --- */

struct memory {
    uint8_t *bytes;
    sf_count_t length, room, at;
};

static sf_count_t memory_length(void *user)
{
    return ((struct memory *)user)->length;
}

static sf_count_t memory_seek(sf_count_t offset, int whence, void *user)
{
    struct memory *memory = user;
    sf_count_t from = whence == SEEK_SET ? 0 : whence == SEEK_CUR ? memory->at : memory->length;
    if (from + offset < 0 || from + offset > memory->length)
        return -1;
    return memory->at = from + offset;
}

static sf_count_t memory_read(void *to, sf_count_t count, void *user)
{
    struct memory *memory = user;
    sf_count_t left = memory->length - memory->at;
    count = count < left ? count : left;
    memcpy(to, memory->bytes + memory->at, (size_t)count);
    memory->at += count;
    return count;
}

static sf_count_t memory_write(const void *from, sf_count_t count, void *user)
{
    struct memory *memory = user;
    if (memory->at + count > memory->room) {
        sf_count_t room = 2 * (memory->at + count);
        uint8_t *bytes = realloc(memory->bytes, (size_t)room);
        if (bytes == NULL)
            return 0;
        memory->bytes = bytes;
        memory->room = room;
    }
    memcpy(memory->bytes + memory->at, from, (size_t)count);
    memory->at += count;
    memory->length = memory->at > memory->length ? memory->at : memory->length;
    return count;
}

static sf_count_t memory_tell(void *user)
{
    return ((struct memory *)user)->at;
}

enum td_result td_opus_write(const float *samples, size_t count, int rate_hz, uint8_t **bytes,
                             size_t *length, struct td_problem *problem)
{
    SF_VIRTUAL_IO calls = {memory_length, memory_seek, memory_read, memory_write, memory_tell};
    SF_INFO info = {.samplerate = rate_hz, .channels = 1,
                    .format = SF_FORMAT_OGG | SF_FORMAT_OPUS};
    struct memory memory = {.bytes = NULL};
    if (!sf_format_check(&info))
        return td_voice_tell(problem, TD_UNSUPPORTED, NULL,
                             "this libsndfile writes no Ogg/Opus; 1.0.29 or later does");
    SNDFILE *file = sf_open_virtual(&calls, SFM_WRITE, &info, &memory);
    bool done = file != NULL &&
                sf_write_float(file, samples, (sf_count_t)count) == (sf_count_t)count;
    if (file != NULL && sf_close(file) != 0)
        done = false;
    if (!done || memory.length == 0) {
        free(memory.bytes);
        return td_voice_tell(problem, TD_IO, NULL, "cannot make Ogg/Opus of a prompt");
    }
    *bytes = memory.bytes;
    *length = (size_t)memory.length;
    return TD_OK;
}
