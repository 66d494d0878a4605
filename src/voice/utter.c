/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One utterance in a process of its own: whatever it does, the caller gets sound or a reason in
 * bounded time. */
#include "voice/utter.h"

#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <stdbool.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <unistd.h>

#include "voice/tell.h"
#include "voice/wire.h"

enum collected { WHOLE, TOO_LONG, TOO_LATE };

static enum collected collect(int fd, int64_t deadline_ns, int16_t *samples, size_t room,
                              size_t *count)
{
    size_t have = 0, most = room * sizeof samples[0];
    while (have < most) {
        if (!td_wire_wait(fd, POLLIN, deadline_ns))
            return TOO_LATE;
        ssize_t got = read(fd, (char *)samples + have, most - have);
        if (got == 0) {
            *count = have / sizeof samples[0];
            return WHOLE;
        }
        if (got < 0 && errno != EINTR)
            return TOO_LATE;
        have += got > 0 ? (size_t)got : 0;
    }
    return TOO_LONG;
}

static bool ended_well(pid_t child)
{
    int status = 0;
    while (waitpid(child, &status, 0) < 0)
        if (errno != EINTR)
            return false;
    return WIFEXITED(status) && WEXITSTATUS(status) == 0;
}

static pid_t start(td_speak_fn *speak, const char *words, int *from)
{
    int ends[2];
    if (pipe(ends) != 0)
        return -1;
    pid_t parent = getpid(), child = fork();
    if (child == 0) {
        (void)prctl(PR_SET_PDEATHSIG, SIGKILL);
        (void)close(ends[0]);
        if (getppid() != parent)
            _exit(1);
        _exit(speak(ends[1], words) ? 0 : 1);
    }
    (void)close(ends[1]);
    if (child < 0)
        (void)close(ends[0]);
    else
        *from = ends[0];
    return child;
}

enum td_result td_utter(td_speak_fn *speak, const char *words, int64_t limit_ns, int16_t *samples,
                        size_t room, size_t *count, const char **why)
{
    int from = -1;
    pid_t child = start(speak, words, &from);
    *why = "the system refused a process for it";
    if (child < 0)
        return TD_IO;
    enum collected what = collect(from, td_voice_now_ns() + limit_ns, samples, room, count);
    if (what != WHOLE)
        (void)kill(child, SIGKILL);
    (void)close(from);
    bool well = ended_well(child);
    *why = what == TOO_LONG ? "it is longer than the 20 seconds a prompt may have; fewer words"
           : what == TOO_LATE ? "eSpeak NG hung on these words and was killed"
                              : "eSpeak NG failed on these words";
    if (what == TOO_LONG)
        return TD_FULL;
    return what == WHOLE && well ? TD_OK : TD_IO;
}
