/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Makes, guards and finishes the output files of a virtual drive. */
#include "tool/drive/cab_outputs.h"

#include <errno.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "io/file.h"
#include "io/marks.h"
#include "io/problem.h"

/* The database first: whoever sees prompts.txt may rely on it. */
static const char *const names[] = {"drive.db",    "drive.db-wal", "drive.db-shm",
                                    "prompts.txt", "voice.wav",    "review.html", "drill.txt"};

static enum td_result path_in(char *path, const char *dir, const char *name,
                              struct td_problem *problem)
{
    int length = snprintf(path, TD_PROBLEM_FILE_MAX, "%s/%s", dir, name);
    if (length < 0 || length >= TD_PROBLEM_FILE_MAX)
        return td_problem_set(problem, TD_INVALID, NULL, 0, "--out: the path is too long");
    return TD_OK;
}

static enum td_result make_dir(const char *dir, struct td_problem *problem)
{
    char path[TD_PROBLEM_FILE_MAX];
    enum td_result result = path_in(path, dir, "", problem);
    if (result != TD_OK)
        return result;
    for (char *at = path + 1; *at != '\0'; at++) {
        if (*at != '/')
            continue;
        *at = '\0';
        if (mkdir(path, 0777) != 0 && errno != EEXIST)
            return td_problem_set(problem, TD_IO, path, 0, "cannot make the folder: %s",
                                  strerror(errno));
        *at = '/';
    }
    struct stat status;
    if (stat(dir, &status) != 0 || !S_ISDIR(status.st_mode))
        return td_problem_set(problem, TD_INVALID, dir, 0, "--out names no folder");
    return TD_OK;
}

/* A trainer's marks name prompts of the drive that stands there by their serials: beside another
 * drive they would mark other words, and taken away they would be lost. */
static enum td_result spare_marks(const char *dir, struct td_problem *problem)
{
    char log[TD_PROBLEM_FILE_MAX], path[TD_PROBLEM_FILE_MAX];
    enum td_result result = path_in(log, dir, names[0], problem);
    if (result == TD_OK)
        result = td_marks_path(log, path, sizeof path, problem);
    if (result != TD_OK)
        return result;
    struct td_marks marks;
    result = td_marks_read(path, &marks, NULL);
    bool none = result == TD_NOT_FOUND || (result == TD_OK && marks.count == 0);
    td_marks_free(&marks);
    if (none)
        return TD_OK;
    return td_problem_set(problem, TD_INVALID, path, 0,
                          "marks the drive that is there; choose another --out, or move the marks "
                          "away first");
}

static enum td_result clear_way(const char *dir, bool replace, struct td_problem *problem)
{
    enum td_result spared = spare_marks(dir, problem);
    if (spared != TD_OK)
        return spared;
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        char path[TD_PROBLEM_FILE_MAX];
        enum td_result result = path_in(path, dir, names[i], problem);
        if (result != TD_OK)
            return result;
        if (access(path, F_OK) != 0)
            continue;
        if (!replace)
            return td_problem_set(problem, TD_INVALID, path, 0,
                                  "is there from an earlier run; choose another --out or give "
                                  "--force to replace it");
        if (unlink(path) != 0)
            return td_problem_set(problem, TD_IO, path, 0, "cannot replace it: %s",
                                  strerror(errno));
    }
    return TD_OK;
}

/* The sink writes over a file that is there and leaves its mode alone. */
static enum td_result open_sound(struct td_cab_outputs *outputs, const char *dir,
                                 struct td_problem *problem)
{
    char path[TD_PROBLEM_FILE_MAX];
    int fd = -1;
    enum td_result result = path_in(path, dir, "voice.wav", problem);
    if (result == TD_OK)
        result = td_file_create_private(path, &fd, problem);
    if (result != TD_OK)
        return result;
    (void)close(fd);
    return td_sink_create(path, &outputs->sink, problem);
}

static enum td_result open_files(struct td_cab_outputs *outputs, const char *dir, bool sound,
                                 const struct td_drive_head *head, struct td_problem *problem)
{
    char path[TD_PROBLEM_FILE_MAX];
    enum td_result result = path_in(path, dir, "drive.db", problem);
    if (result == TD_OK)
        result = td_drive_log_create(path, head, &outputs->log, problem);
    if (result == TD_OK)
        result = path_in(outputs->prompts_path, dir, "prompts.txt", problem);
    if (result != TD_OK)
        return result;
    int fd = -1;
    result = td_file_create_private(outputs->prompts_path, &fd, problem);
    if (result != TD_OK)
        return result;
    outputs->prompts = fdopen(fd, "w");
    if (outputs->prompts == NULL) {
        (void)close(fd);
        return td_problem_set(problem, TD_NO_MEMORY, outputs->prompts_path, 0,
                              "no memory to write it");
    }
    return sound ? open_sound(outputs, dir, problem) : TD_OK;
}

enum td_result td_cab_outputs_open(struct td_cab_outputs *outputs, const char *dir, bool replace,
                                   bool sound, const struct td_drive_head *head,
                                   struct td_problem *problem)
{
    *outputs = (struct td_cab_outputs){0};
    enum td_result result = make_dir(dir, problem);
    if (result == TD_OK)
        result = clear_way(dir, replace, problem);
    if (result == TD_OK)
        result = open_files(outputs, dir, sound, head, problem);
    if (result != TD_OK)
        (void)td_cab_outputs_close(outputs, NULL);
    return result;
}

enum td_result td_cab_outputs_close(struct td_cab_outputs *outputs, struct td_problem *problem)
{
    enum td_result result = TD_OK;
    if (outputs->log != NULL)
        result = td_drive_log_sync(outputs->log, problem);
    td_drive_log_close(&outputs->log);
    if (outputs->prompts != NULL) {
        bool failed = ferror(outputs->prompts) != 0;
        failed |= fclose(outputs->prompts) != 0;
        outputs->prompts = NULL;
        if (failed && result == TD_OK)
            result = td_problem_set(problem, TD_IO, outputs->prompts_path, 0,
                                    "cannot write it: the disk may be full");
    }
    if (outputs->sink != NULL) {
        enum td_result closed = td_sink_close(&outputs->sink, 0, result == TD_OK ? problem : NULL);
        result = result == TD_OK ? closed : result;
    }
    return result;
}
