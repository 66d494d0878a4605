/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Pink noise, and raw speech from the synthesis process. */
#include "support/noise.h"

#include <math.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include "voice/wire.h"

static int raw_fd = -1;
static pid_t raw_pid;

/* Pink within 0.05 dB above 9 Hz: P. Kellet's sum of six first-order sections (coefficients from
 * memory; e2e.voice_noise measures the slope). */
void noise_pink(struct td_rng *rng, double *noise, size_t count)
{
    double b[7] = {0};
    for (size_t i = 0; i < count; i++) {
        double white = td_rng_normal(rng);
        b[0] = 0.99886 * b[0] + white * 0.0555179;
        b[1] = 0.99332 * b[1] + white * 0.0750759;
        b[2] = 0.96900 * b[2] + white * 0.1538520;
        b[3] = 0.86650 * b[3] + white * 0.3104856;
        b[4] = 0.55000 * b[4] + white * 0.5329522;
        b[5] = -0.7616 * b[5] - white * 0.0168980;
        noise[i] = b[0] + b[1] + b[2] + b[3] + b[4] + b[5] + b[6] + white * 0.5362;
        b[6] = white * 0.115926;
    }
}

void noise_set_level(double *samples, size_t count, double level)
{
    double energy = 0;
    for (size_t i = 0; i < count; i++)
        energy += samples[i] * samples[i];
    double gain = level / sqrt(energy / (double)count);
    for (size_t i = 0; i < count; i++)
        samples[i] *= gain;
}

bool raw_voice_open(const char *voice, int rate_wpm)
{
    int fds[2];
    struct td_synth_reply ready;
    if (!td_wire_pair(SOCK_STREAM, fds))
        return false;
    raw_pid = fork();
    if (raw_pid == 0) {
        (void)close(fds[0]);
        td_synth_serve(fds[1], voice, rate_wpm);
    }
    (void)close(fds[1]);
    raw_fd = fds[0];
    return td_wire_receive(raw_fd, &ready, sizeof ready, INT64_MAX) && ready.status == TD_OK;
}

size_t raw_voice_say(const char *words, double *speech)
{
    static int16_t samples[NOISE_SAMPLES_MAX];
    struct td_synth_request request = {(uint32_t)strlen(words)};
    struct td_synth_reply reply;
    if (!td_wire_send(raw_fd, &request, sizeof request, INT64_MAX) ||
        !td_wire_send(raw_fd, words, request.length, INT64_MAX) ||
        !td_wire_receive(raw_fd, &reply, sizeof reply, INT64_MAX) || reply.status != TD_OK ||
        reply.count > NOISE_SAMPLES_MAX ||
        !td_wire_receive(raw_fd, samples, reply.count * sizeof samples[0], INT64_MAX))
        return 0;
    for (size_t i = 0; i < reply.count; i++)
        speech[i] = samples[i] / 32768.0;
    return reply.count;
}

void raw_voice_close(void)
{
    (void)close(raw_fd);
    while (waitpid(raw_pid, NULL, 0) < 0)
        ;
    raw_fd = -1;
}
