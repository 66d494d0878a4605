/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a file is, by its first hundred bytes and its size. */
#include "io/library_header.h"

#include <errno.h>
#include <fcntl.h>
#include <inttypes.h>
#include <stdbool.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "io/library_file.h"
#include "io/library_schema.h"
#include "io/problem.h"

enum { HEADER_BYTES = 100 };

static const char magic[16] = "SQLite format 3";

static enum td_result wrong(const char *path, struct td_problem *problem, const char *words)
{
    return td_problem_set(problem, TD_INVALID, path, 0, "%s", words);
}

static uint32_t big_endian(const uint8_t *bytes)
{
    return (uint32_t)bytes[0] << 24 | (uint32_t)bytes[1] << 16 | (uint32_t)bytes[2] << 8 | bytes[3];
}

static ssize_t read_header(const char *path, uint8_t header[HEADER_BYTES], struct stat *about)
{
    int fd = open(path, O_RDONLY | O_CLOEXEC | O_NOCTTY | O_NONBLOCK);
    if (fd < 0)
        return -1;
    ssize_t got = -1;
    if (fstat(fd, about) == 0) {
        do /* of a folder there is nothing to read */
            got = S_ISREG(about->st_mode) ? pread(fd, header, HEADER_BYTES, 0) : 0;
        while (got < 0 && errno == EINTR);
    }
    int why = errno;
    (void)close(fd);
    errno = why;
    return got;
}

bool td_library_file_is(const char *path)
{
    size_t length = strlen(path), tail = sizeof TD_LIBRARY_SUFFIX - 1;
    uint8_t header[HEADER_BYTES];
    struct stat about;
    if (stat(path, &about) != 0 || !S_ISREG(about.st_mode))
        return false;
    if (length > tail && strcmp(path + length - tail, TD_LIBRARY_SUFFIX) == 0)
        return true;
    ssize_t got = read_header(path, header, &about);
    return got >= (ssize_t)sizeof magic && memcmp(header, magic, sizeof magic) == 0;
}

enum td_result td_library_header_check(const char *path, struct td_problem *problem)
{
    uint8_t header[HEADER_BYTES];
    struct stat about;
    ssize_t got = read_header(path, header, &about);
    if (got < 0)
        return td_problem_set(problem, errno == ENOENT ? TD_NOT_FOUND : TD_IO, path, 0,
                              "cannot open the library: %s", strerror(errno));
    if (got < HEADER_BYTES || memcmp(header, magic, sizeof magic) != 0)
        return wrong(path, problem, "is no library; a file made by \"talkdown hills pack\" is "
                                    "needed");
    uint32_t id = big_endian(header + 68), version = big_endian(header + 60);
    if (id != TD_LIBRARY_APPLICATION_ID)
        return td_problem_set(problem, TD_INVALID, path, 0,
                              "is a database of another kind (application id 0x%08" PRIx32
                              "); a file made by \"talkdown hills pack\" is needed",
                              id);
    if (version > TD_LIBRARY_VERSION)
        return td_problem_set(problem, TD_UNSUPPORTED, path, 0,
                              "is a library of version %" PRIu32 ", newer than version %d that "
                              "this talkdown reads; update talkdown or pack it for this one",
                              version, (int)TD_LIBRARY_VERSION);
    if (version < TD_LIBRARY_VERSION)
        return td_problem_set(problem, TD_UNSUPPORTED, path, 0,
                              "is a library of version %" PRIu32 ", older than version %d that "
                              "this talkdown reads; pack it anew",
                              version, (int)TD_LIBRARY_VERSION);
    int64_t page = header[16] << 8 | header[17];
    int64_t whole = page * (int64_t)big_endian(header + 28);
    if (about.st_size != whole)
        return td_problem_set(problem, TD_INVALID, path, 0,
                              "the library is %s (%" PRId64 " bytes of %" PRId64 "); copy or pack "
                              "it again",
                              about.st_size < whole ? "cut short" : "too long",
                              (int64_t)about.st_size, whole);
    /* Change counter and the version that the size is valid for; journal modes 2 are in use. */
    if (page != TD_LIBRARY_PAGE || header[18] != 1 || header[19] != 1 ||
        memcmp(header + 24, header + 92, 4) != 0)
        return wrong(path, problem, "the library is damaged (its header contradicts itself); copy "
                                    "or pack it again");
    return TD_OK;
}
