/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Recording with parec from the monitor of the null sink. */
#include "support/capture.h"

#include "support/cm.h"

#include <errno.h>
#include <poll.h>
#include <pthread.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdlib.h>
#include <sys/wait.h>
#include <unistd.h>

enum { RATE = 22050, SAMPLES_MAX = 240 * RATE, BLOCK = RATE / 10, LATE_MAX = RATE / 5 };

struct capture {
    pid_t recorder;
    int fd;
    pthread_t thread;
    _Atomic size_t bytes;
    int16_t samples[SAMPLES_MAX];
};

static void *record(void *data)
{
    struct capture *capture = data;
    size_t have = 0;
    while (have < sizeof capture->samples) {
        ssize_t got = read(capture->fd, (char *)capture->samples + have,
                           sizeof capture->samples - have);
        if (got == 0 || (got < 0 && errno != EINTR))
            break;
        have += got > 0 ? (size_t)got : 0;
        atomic_store(&capture->bytes, have);
    }
    return NULL;
}

struct capture *capture_start(void)
{
    int ends[2];
    struct capture *capture = calloc(1, sizeof *capture);
    assert_non_null(capture);
    assert_int_equal(pipe(ends), 0);
    capture->recorder = fork();
    assert_true(capture->recorder >= 0);
    if (capture->recorder == 0) {
        (void)dup2(ends[1], STDOUT_FILENO);
        (void)close(ends[0]);
        (void)close(ends[1]);
        (void)execlp("parec", "parec", "-d", "cab.monitor", "--rate=22050", "--channels=1",
                     "--format=s16le", "--latency-msec=20", "--raw", (char *)NULL);
        _exit(127);
    }
    (void)close(ends[1]);
    capture->fd = ends[0];
    struct pollfd first = {capture->fd, POLLIN, 0};
    assert_int_equal(poll(&first, 1, 20000), 1);
    assert_int_equal(pthread_create(&capture->thread, NULL, record, capture), 0);
    return capture;
}

size_t capture_count(const struct capture *capture)
{
    return atomic_load(&capture->bytes) / sizeof capture->samples[0];
}

const int16_t *capture_samples(const struct capture *capture)
{
    return capture->samples;
}

void capture_stop(struct capture **capture)
{
    (void)kill((*capture)->recorder, SIGTERM);
    (void)waitpid((*capture)->recorder, NULL, 0);
    (void)pthread_join((*capture)->thread, NULL);
    (void)close((*capture)->fd);
    free(*capture);
    *capture = NULL;
}

size_t capture_onset(const int16_t *samples, size_t count, size_t from)
{
    while (from < count && samples[from] == 0)
        from++;
    return from;
}

/* Silence is like silence; otherwise the cosine of the two. */
static bool alike(const int16_t *a, const int16_t *b, size_t count)
{
    double ab = 0, aa = 0, bb = 0;
    for (size_t i = 0; i < count; i++) {
        ab += (double)a[i] * b[i];
        aa += (double)a[i] * a[i];
        bb += (double)b[i] * b[i];
    }
    if (aa < 1 || bb < 1)
        return aa < 1 && bb < 1;
    return ab / sqrt(aa * bb) > 0.99;
}

size_t capture_find(const int16_t *samples, size_t count, size_t from, const int16_t *clip)
{
    for (size_t at = from; at + BLOCK <= count; at++)
        if (alike(samples + at, clip, BLOCK))
            return at;
    return count;
}

double capture_likeness(const int16_t *heard, size_t heard_count, size_t at, const int16_t *clip,
                        size_t clip_count)
{
    size_t found = 0, blocks = clip_count / BLOCK, late = 0;
    for (size_t b = 0; b < blocks; b++) {
        for (size_t more = 0; more <= LATE_MAX; more++) {
            size_t from = at + b * BLOCK + late + more;
            if (from + BLOCK > heard_count)
                break;
            if (alike(heard + from, clip + b * BLOCK, BLOCK)) {
                found++;
                late += more;
                break;
            }
        }
    }
    return blocks > 0 ? (double)found / (double)blocks : 0;
}
