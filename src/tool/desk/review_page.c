/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Drive logs in, one page out. */
#include "tool/desk/review_page.h"

#include <stdio.h>
#include <stdlib.h>

#include "io/file.h"
#include "io/phrase_file.h"
#include "io/problem.h"
#include "review/page.h"
#include "tool/drive/drive_options.h"

/* One rate of speech for all: that of the phrase file of the first drive's language. */
static enum td_result make_clips(struct td_review_drive *const *drives, size_t count,
                                 const char *phrases, struct td_clips **clips,
                                 struct td_problem *problem)
{
    struct td_phrase_file *file = NULL;
    enum td_result result = td_drive_phrases_open(phrases, drives[0]->language, &file, problem);
    if (result == TD_OK)
        result = td_clips_make(drives, count, td_phrase_file_rate_wpm(file), clips, problem);
    td_phrase_file_free(&file);
    return result;
}

/* One a log, those of a log without marks empty; free each and the array. */
static enum td_result read_marks(const char *const *logs, size_t count, struct td_marks *marks,
                                 struct td_problem *problem)
{
    char path[4096];
    for (size_t i = 0; i < count; i++) {
        enum td_result result = td_marks_path(logs[i], path, sizeof path, problem);
        if (result == TD_OK)
            result = td_marks_read(path, &marks[i], problem);
        if (result != TD_OK && result != TD_NOT_FOUND)
            return result;
    }
    return TD_OK;
}

static enum td_result write_page(struct td_review_drive *const *drives, size_t count,
                                 const struct td_marks *marks,
                                 const struct td_review_page_options *options, size_t *descents,
                                 struct td_problem *problem)
{
    struct td_clips *clips = NULL;
    struct td_html html = {.bytes = NULL};
    struct td_problem silent = {.line = 0};
    if (!options->no_sound &&
        make_clips(drives, count, options->phrases, &clips, &silent) != TD_OK) {
        char line[TD_PROBLEM_FILE_MAX + TD_PROBLEM_TEXT_MAX + 16];
        (void)fprintf(stderr, "talkdown: the page has no sound: %s\n",
                      td_problem_line(&silent, line, sizeof line));
    }
    *descents = td_review_page(drives, count, marks, clips, &html);
    td_clips_free(&clips);
    enum td_result result =
        html.failed ? td_problem_set(problem, TD_NO_MEMORY, options->page, 0,
                                     "no memory for the page")
                    : td_file_write_private(options->page, html.bytes, html.length,
                                            options->replace, problem);
    free(html.bytes);
    return result;
}

enum td_result td_review_page_write(const char *const *drives, size_t count,
                                    const struct td_review_page_options *options,
                                    size_t *descents, struct td_problem *problem)
{
    const struct td_review_options how = {.anonymous = options->anonymous};
    struct td_review_drive **read = calloc(count + 1, sizeof(struct td_review_drive *));
    struct td_marks *marks = calloc(count + 1, sizeof *marks);
    if (read == NULL || marks == NULL) {
        free(read);
        free(marks);
        return td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "no memory for the drives");
    }
    enum td_result result = td_file_may_write(options->page, options->replace, problem);
    for (size_t i = 0; i < count && result == TD_OK; i++)
        result = td_review_drive_read(drives[i], &how, &read[i], problem);
    if (result == TD_OK && options->with_marks)
        result = read_marks(drives, count, marks, problem);
    if (result == TD_OK)
        result = write_page(read, count, marks, options, descents, problem);
    for (size_t i = 0; i < count; i++) {
        td_review_drive_free(&read[i]);
        td_marks_free(&marks[i]);
    }
    free(read);
    free(marks);
    return result;
}
