/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A library's signature: checked against the manifest that opening has compared with the hills, and
 * attached by way of a copy. */
#include "io/library_sign.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "io/file.h"
#include "io/library_parts.h"
#include "io/problem.h"
#include "talkdown/text.h"

enum { COPY_BYTES = 1 << 18 };

static enum td_result check(const struct td_library_file *library,
                            const struct td_signature *signature, const struct td_trust *trust,
                            const char *name, struct td_voucher *voucher,
                            struct td_problem *problem)
{
    enum td_result result =
        td_signature_check(signature, trust, library->manifest, strlen(library->manifest), name,
                           problem);
    if (result != TD_OK)
        return result;
    (void)td_key_id(signature->key_id, voucher->key_id);
    (void)td_text_copy(voucher->comment, sizeof voucher->comment, signature->comment);
    return TD_OK;
}

enum td_result td_library_vouched(const struct td_library_file *library,
                                  const struct td_trust *trust, struct td_voucher *voucher,
                                  struct td_problem *problem)
{
    struct td_signature signature;
    if (library->signature == NULL)
        return td_problem_set(problem, TD_INVALID, library->path, 0,
                              "is unsigned, and a key is trusted: nobody vouches for it; sign it "
                              "(minisign, then \"talkdown hills attach\")");
    enum td_result result = td_signature_parse(library->path, library->signature,
                                               strlen(library->signature), &signature, problem);
    if (result == TD_OK)
        result = check(library, &signature, trust, library->path, voucher, problem);
    return result;
}

/* --- attach --- */

static enum td_result cannot(const char *path, const char *what, struct td_problem *problem)
{
    return td_problem_set(problem, TD_IO, path, 0, "cannot attach the signature: %s", what);
}

static bool write_all(int fd, const char *bytes, size_t length)
{
    for (size_t done = 0; done < length;) {
        ssize_t put = write(fd, bytes + done, length - done);
        if (put < 0 && errno == EINTR)
            continue;
        if (put <= 0)
            return false;
        done += (size_t)put;
    }
    return true;
}

static bool copy(int from, int to, char *room)
{
    for (;;) {
        ssize_t got = read(from, room, COPY_BYTES);
        if (got < 0 && errno == EINTR)
            continue;
        if (got <= 0)
            return got == 0;
        if (!write_all(to, room, (size_t)got))
            return false;
    }
}

static enum td_result copy_into(const char *path, int to, struct td_problem *problem)
{
    char *room = malloc(COPY_BYTES);
    int from = open(path, O_RDONLY | O_CLOEXEC);
    bool done = room != NULL && from >= 0 && copy(from, to, room);
    enum td_result result = TD_OK;
    if (room == NULL)
        result = td_problem_set(problem, TD_NO_MEMORY, path, 0, "no memory to copy it");
    else if (!done)
        result = cannot(path, strerror(errno), problem);
    if (from >= 0)
        (void)close(from);
    free(room);
    return result;
}

static bool put_text(sqlite3 *db, const char *text, size_t length)
{
    sqlite3_stmt *s = NULL;
    bool done = sqlite3_exec(db,
                             "PRAGMA journal_mode=OFF; PRAGMA synchronous=OFF;"
                             "PRAGMA secure_delete=ON",
                             NULL, NULL, NULL) == SQLITE_OK &&
                sqlite3_prepare_v2(db, "INSERT OR REPLACE INTO meta VALUES('signature', ?1)", -1,
                                   &s, NULL) == SQLITE_OK &&
                sqlite3_bind_text(s, 1, text, (int)length, SQLITE_STATIC) == SQLITE_OK &&
                sqlite3_step(s) == SQLITE_DONE;
    return sqlite3_finalize(s) == SQLITE_OK && done;
}

static enum td_result put_into(const char *temporary, const char *path, const char *text,
                               size_t length, struct td_problem *problem)
{
    sqlite3 *db = NULL;
    int flags = SQLITE_OPEN_READWRITE | SQLITE_OPEN_NOMUTEX;
    enum td_result result = TD_OK;
    if (sqlite3_open_v2(temporary, &db, flags, NULL) != SQLITE_OK || !put_text(db, text, length))
        result = cannot(path, db != NULL ? sqlite3_errmsg(db) : "no memory", problem);
    if (sqlite3_close(db) != SQLITE_OK && result == TD_OK)
        result = cannot(path, "it could not be closed", problem);
    return result;
}

/* What was written must say the same again when it is opened. */
static enum td_result vouched_again(const char *temporary, const char *path,
                                    const struct td_trust *trust, struct td_problem *problem)
{
    struct td_library_file *library = NULL;
    struct td_voucher voucher;
    struct td_problem inside = {0};
    enum td_result result = td_library_file_open(temporary, &library, &inside);
    if (result == TD_OK)
        result = td_library_vouched(library, trust, &voucher, &inside);
    td_library_file_close(&library);
    if (result != TD_OK)
        return td_problem_set(problem, result, path, 0, "as written: %s", inside.text);
    return TD_OK;
}

static enum td_result replace(const char *path, const char *text, size_t length,
                              const struct td_trust *trust, struct td_problem *problem)
{
    char *temporary = NULL;
    int fd = -1;
    enum td_result result = td_file_temporary(path, &temporary, &fd, problem);
    if (result != TD_OK)
        return result;
    result = copy_into(path, fd, problem);
    if (result == TD_OK)
        result = put_into(temporary, path, text, length, problem);
    if (result == TD_OK)
        result = vouched_again(temporary, path, trust, problem);
    if (result == TD_OK)
        result = td_file_put_in_place(fd, temporary, path, true, problem);
    else
        (void)unlink(temporary);
    (void)close(fd);
    free(temporary);
    return result;
}

enum td_result td_library_attach(const char *path, const char *name, const char *bytes,
                                 size_t length, const struct td_trust *trust,
                                 struct td_voucher *voucher, struct td_problem *problem)
{
    struct td_library_file *library = NULL;
    struct td_signature signature;
    enum td_result result = td_signature_parse(name, bytes, length, &signature, problem);
    if (result == TD_OK)
        result = td_library_file_open(path, &library, problem);
    if (result == TD_OK)
        result = check(library, &signature, trust, name, voucher, problem);
    td_library_file_close(&library);
    return result == TD_OK ? replace(path, bytes, length, trust, problem) : result;
}
