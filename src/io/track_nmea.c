/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a receiver sent, as it sent it, through gpsd's own decoder: gpsdecode reads the file and
 * writes what gpsd would have told its clients. A child process with one pipe. */
#include <errno.h>
#include <fcntl.h>
#include <spawn.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "io/problem.h"
#include "io/track_parts.h"

extern char **environ;

enum { LOOK_BYTES = 4096, PIECE_BYTES = 1 << 16, NOT_FOUND_STATUS = 127 };

/* A sentence begins a line: "$GPGGA,", "$GNRMC,", "!AIVDM,". */
static bool is_sentence(const char *line, size_t length)
{
    if (length < 7 || (line[0] != '$' && line[0] != '!'))
        return false;
    for (size_t i = 1; i < 6; i++)
        if ((line[i] < 'A' || line[i] > 'Z') && (line[i] < '0' || line[i] > '9'))
            return false;
    return line[6] == ',';
}

bool td_track_is_nmea(const char *bytes, size_t length)
{
    const char *end = bytes + (length < LOOK_BYTES ? length : LOOK_BYTES);
    while (bytes < end) {
        if (is_sentence(bytes, (size_t)(end - bytes)))
            return true;
        const char *next = memchr(bytes, '\n', (size_t)(end - bytes));
        bytes = next == NULL ? end : next + 1;
    }
    return false;
}

static enum td_result no_decoder(const char *path, struct td_problem *problem)
{
    return td_problem_set(problem, TD_NOT_FOUND, path, 0,
                          "is what a receiver sent, and \"gpsdecode\", which reads that, is not "
                          "installed; it comes with gpsd's clients (Debian: gpsd-clients)");
}

/* Starts the decoder with the file as its input; *out_fd is the end to read from. */
static enum td_result start(const char *path, pid_t *pid, int *out_fd, struct td_problem *problem)
{
    int ends[2];
    if (pipe(ends) != 0)
        return td_problem_set(problem, TD_IO, path, 0, "no pipe to read it through: %s",
                              strerror(errno));
    (void)fcntl(ends[0], F_SETFD, FD_CLOEXEC);
    (void)fcntl(ends[1], F_SETFD, FD_CLOEXEC);
    posix_spawn_file_actions_t actions;
    char program[] = "gpsdecode", json[] = "-j";
    char *arguments[] = {program, json, NULL};
    int failed = posix_spawn_file_actions_init(&actions);
    if (failed == 0) {
        failed = posix_spawn_file_actions_addopen(&actions, STDIN_FILENO, path, O_RDONLY, 0);
        if (failed == 0)
            failed = posix_spawn_file_actions_adddup2(&actions, ends[1], STDOUT_FILENO);
        if (failed == 0)
            failed = posix_spawn_file_actions_addopen(&actions, STDERR_FILENO, "/dev/null",
                                                      O_WRONLY, 0);
        if (failed == 0)
            failed = posix_spawnp(pid, program, &actions, NULL, arguments, environ);
        (void)posix_spawn_file_actions_destroy(&actions);
    }
    (void)close(ends[1]);
    if (failed == 0) {
        *out_fd = ends[0];
        return TD_OK;
    }
    (void)close(ends[0]);
    if (failed == ENOENT)
        return no_decoder(path, problem);
    return td_problem_set(problem, TD_IO, path, 0, "gpsdecode did not start: %s",
                          strerror(failed));
}

/* Everything up to the end of the pipe, NUL-ended. */
static enum td_result drain(const char *path, int fd, char **bytes, size_t *length,
                            struct td_problem *problem)
{
    size_t room = 0;
    for (;;) {
        if (*length + PIECE_BYTES + 1 > room) {
            room = room == 0 ? 4 * PIECE_BYTES : 2 * room;
            char *more = room > TD_TRACK_BYTES_MAX ? NULL : realloc(*bytes, room);
            if (more == NULL)
                return td_problem_set(problem, TD_NO_MEMORY, path, 0, "no memory to decode it");
            *bytes = more;
        }
        ssize_t got = read(fd, *bytes + *length, PIECE_BYTES);
        if (got < 0 && errno == EINTR)
            continue;
        if (got < 0)
            return td_problem_set(problem, TD_IO, path, 0, "gpsdecode's answer is unreadable: %s",
                                  strerror(errno));
        if (got == 0)
            break;
        *length += (size_t)got;
    }
    (*bytes)[*length] = '\0';
    return TD_OK;
}

enum td_result td_track_decode_nmea(const char *path, char **bytes, size_t *length,
                                    struct td_problem *problem)
{
    pid_t pid = 0;
    int fd = -1, status = 0;
    *bytes = NULL;
    *length = 0;
    enum td_result result = start(path, &pid, &fd, problem);
    if (result != TD_OK)
        return result;
    result = drain(path, fd, bytes, length, problem);
    (void)close(fd);
    while (waitpid(pid, &status, 0) < 0 && errno == EINTR)
        ;
    if (result == TD_OK && WIFEXITED(status) && WEXITSTATUS(status) == NOT_FOUND_STATUS)
        result = no_decoder(path, problem);
    else if (result == TD_OK && !(WIFEXITED(status) && WEXITSTATUS(status) == 0))
        result = td_problem_set(problem, TD_INVALID, path, 0,
                                "gpsdecode gave up on it; a whole recording of what a receiver "
                                "sent is needed");
    if (result != TD_OK) {
        free(*bytes);
        *bytes = NULL;
    }
    return result;
}
