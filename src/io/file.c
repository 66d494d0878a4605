/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Whole files in and out. Writes go through a temporary file, fsync and rename (or link, where an
 * existing file must not be replaced: rename would race with whoever creates it meanwhile). */
#include "io/file.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "io/problem.h"

enum { MKSTEMP_MARKS = 6 };

static enum td_result refused(struct td_problem *problem, const char *path, const char *what)
{
    int why = errno;
    enum td_result result = why == ENOENT ? TD_NOT_FOUND : TD_IO;
    return td_problem_set(problem, result, path, 0, "cannot %s: %s", what, strerror(why));
}

static int open_retrying(const char *path, int flags)
{
    int fd;
    do
        fd = open(path, flags);
    while (fd < 0 && errno == EINTR);
    return fd;
}

/* Fills `data` (room for `room`) to the end of the file; returns bytes read or -1. */
static ssize_t read_to_end(int fd, char *data, size_t room)
{
    size_t length = 0;
    while (length < room) {
        ssize_t got = read(fd, data + length, room - length);
        if (got < 0 && errno == EINTR)
            continue;
        if (got < 0)
            return -1;
        if (got == 0)
            break;
        length += (size_t)got;
    }
    return (ssize_t)length;
}

static enum td_result read_open(int fd, const char *path, size_t most, char **bytes,
                                size_t *length, struct td_problem *problem)
{
    struct stat about;
    if (fstat(fd, &about) != 0)
        return refused(problem, path, "look at it");
    if (S_ISDIR(about.st_mode))
        return td_problem_set(problem, TD_INVALID, path, 0, "is a folder; a file is needed here");
    /* One more than the most is asked for, to tell "just fits" from "too large". */
    size_t room = most + 1;
    if (S_ISREG(about.st_mode) && about.st_size >= 0 && (size_t)about.st_size < most)
        room = (size_t)about.st_size + 1;
    char *data = malloc(room + 1);
    if (data == NULL)
        return td_problem_set(problem, TD_NO_MEMORY, path, 0, "no memory to read it");
    ssize_t got = read_to_end(fd, data, room);
    if (got < 0) {
        enum td_result result = refused(problem, path, "read it");
        free(data);
        return result;
    }
    if ((size_t)got > most) {
        free(data);
        return td_problem_set(problem, TD_INVALID, path, 0,
                              "is larger than %zu bytes, the most that is read", most);
    }
    data[got] = '\0';
    *bytes = data;
    *length = (size_t)got;
    return TD_OK;
}

enum td_result td_file_read(const char *path, size_t most, char **bytes, size_t *length,
                            struct td_problem *problem)
{
    int fd = open_retrying(path, O_RDONLY | O_CLOEXEC | O_NOCTTY);
    if (fd < 0)
        return refused(problem, path, "open it");
    enum td_result result = read_open(fd, path, most, bytes, length, problem);
    (void)close(fd);
    return result;
}

enum td_result td_file_regular(const char *path, struct td_problem *problem)
{
    struct stat about;
    if (stat(path, &about) != 0)
        return refused(problem, path, "open it");
    if (!S_ISREG(about.st_mode))
        return td_problem_set(problem, TD_INVALID, path, 0, "is no regular file");
    return TD_OK;
}

static bool write_all(int fd, const char *bytes, size_t length)
{
    while (length > 0) {
        ssize_t put = write(fd, bytes, length);
        if (put < 0 && errno == EINTR)
            continue;
        if (put < 0)
            return false;
        bytes += put;
        length -= (size_t)put;
    }
    return true;
}

/* The name only becomes durable with its folder. */
static void sync_folder_of(const char *path)
{
    const char *slash = strrchr(path, '/');
    size_t length = slash == NULL ? 0 : (size_t)(slash - path);
    char folder[4096] = ".";
    if (length >= sizeof folder)
        return;
    if (slash != NULL) {
        memcpy(folder, path, length > 0 ? length : 1);
        folder[length > 0 ? length : 1] = '\0';
    }
    int fd = open_retrying(folder, O_RDONLY | O_CLOEXEC | O_DIRECTORY);
    if (fd < 0)
        return;
    (void)fsync(fd);
    (void)close(fd);
}

static bool put_in_place(const char *temporary, const char *path, bool replace)
{
    if (replace)
        return rename(temporary, path) == 0;
    if (link(temporary, path) == 0) {
        (void)unlink(temporary);
        return true;
    }
    /* FAT on a stick knows no links; the name was free a moment ago. */
    if (errno == EPERM || errno == EOPNOTSUPP)
        return access(path, F_OK) != 0 && rename(temporary, path) == 0;
    return false;
}

/* What a file about somebody's drive may be read by: owner and group. */
static const mode_t private_mode = 0640;

/* A file as open() would make it: mkstemp makes 0600, too tight for a file to be shared. */
static mode_t shared_mode(void)
{
    mode_t mask = umask(0);
    (void)umask(mask);
    return 0666 & ~mask;
}

enum td_result td_file_temporary(const char *path, char **temporary, int *fd,
                                 struct td_problem *problem)
{
    size_t stem = strlen(path) + 1;
    size_t size = stem + MKSTEMP_MARKS + 1;
    char *name = malloc(size);
    if (name == NULL)
        return td_problem_set(problem, TD_NO_MEMORY, path, 0, "no memory to write it");
    (void)snprintf(name, size, "%s.", path);
    memset(name + stem, 'X', MKSTEMP_MARKS);
    name[size - 1] = '\0';
    int made = mkstemp(name);
    if (made < 0) {
        enum td_result result = refused(problem, path, "create it");
        free(name);
        return result;
    }
    (void)fcntl(made, F_SETFD, FD_CLOEXEC);
    *temporary = name;
    *fd = made;
    return TD_OK;
}

static enum td_result settle(int fd, const char *temporary, const char *path, bool replace,
                             mode_t mode, struct td_problem *problem)
{
    if (fchmod(fd, mode) != 0 || fsync(fd) != 0 || !put_in_place(temporary, path, replace)) {
        enum td_result result = refused(problem, path, "write it");
        (void)unlink(temporary);
        return result;
    }
    sync_folder_of(path);
    return TD_OK;
}

enum td_result td_file_put_in_place(int fd, const char *temporary, const char *path, bool replace,
                                    struct td_problem *problem)
{
    return settle(fd, temporary, path, replace, shared_mode(), problem);
}

enum td_result td_file_may_write(const char *path, bool replace, struct td_problem *problem)
{
    if (!replace && access(path, F_OK) == 0)
        return td_problem_set(problem, TD_INVALID, path, 0,
                              "is there already and is left alone; choose another name or force");
    return TD_OK;
}

static enum td_result write_whole(const char *path, const char *bytes, size_t length,
                                  bool replace, mode_t mode, struct td_problem *problem)
{
    char *temporary = NULL;
    int fd = -1;
    enum td_result result = td_file_may_write(path, replace, problem);
    if (result == TD_OK)
        result = td_file_temporary(path, &temporary, &fd, problem);
    if (result != TD_OK)
        return result;
    if (write_all(fd, bytes, length)) {
        result = settle(fd, temporary, path, replace, mode, problem);
    } else {
        result = refused(problem, path, "write it");
        (void)unlink(temporary);
    }
    (void)close(fd);
    free(temporary);
    return result;
}

enum td_result td_file_write(const char *path, const char *bytes, size_t length, bool replace,
                             struct td_problem *problem)
{
    return write_whole(path, bytes, length, replace, shared_mode(), problem);
}

enum td_result td_file_write_private(const char *path, const char *bytes, size_t length,
                                     bool replace, struct td_problem *problem)
{
    return write_whole(path, bytes, length, replace, private_mode, problem);
}

enum td_result td_file_create_private(const char *path, int *fd, struct td_problem *problem)
{
    int made = open(path, O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, private_mode);
    if (made < 0 && errno == EEXIST)
        return td_problem_set(problem, TD_INVALID, path, 0,
                              "is there already and is left alone; choose another name");
    if (made < 0)
        return refused(problem, path, "create it");
    (void)fchmod(made, private_mode);
    *fd = made;
    return TD_OK;
}
