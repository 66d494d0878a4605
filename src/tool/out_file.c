/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A stream into a temporary file beside the one that is meant. */
#include "tool/out_file.h"

#include <stdlib.h>
#include <unistd.h>

#include "io/file.h"
#include "io/problem.h"

enum td_result td_out_file_open(struct td_out_file *out, const char *path, bool replace,
                                struct td_problem *problem)
{
    *out = (struct td_out_file){.to = stdout, .path = path, .replace = replace};
    if (path == NULL)
        return TD_OK;
    int fd = -1;
    out->to = NULL;
    enum td_result result = td_file_may_write(path, replace, problem);
    if (result == TD_OK)
        result = td_file_temporary(path, &out->temporary, &fd, problem);
    if (result != TD_OK)
        return result;
    out->to = fdopen(fd, "w");
    if (out->to != NULL)
        return TD_OK;
    (void)close(fd);
    return td_problem_set(problem, TD_NO_MEMORY, path, 0, "no memory to write it");
}

enum td_result td_out_file_close(struct td_out_file *out, enum td_result made,
                                 struct td_problem *problem)
{
    enum td_result result = made;
    bool in_place = false;
    if (result == TD_OK && (fflush(out->to) != 0 || ferror(out->to) != 0))
        result = td_problem_set(problem, TD_IO, out->path, 0, "could not be written whole%s",
                                out->path == NULL ? " to standard output" : "");
    if (result == TD_OK && out->temporary != NULL) {
        result = td_file_put_in_place(fileno(out->to), out->temporary, out->path, out->replace,
                                      problem);
        in_place = true; /* or removed */
    }
    if (out->temporary != NULL && !in_place)
        (void)unlink(out->temporary);
    if (out->to != NULL && out->to != stdout)
        (void)fclose(out->to);
    free(out->temporary);
    *out = (struct td_out_file){.to = NULL};
    return result;
}
