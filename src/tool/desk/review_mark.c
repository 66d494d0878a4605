/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Marks prompts of a drive. The log is opened first, so that only a prompt that was said can be
 * marked, and so that the file tells people what stands under each serial. */
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/drive_log.h"
#include "io/marks.h"
#include "io/problem.h"
#include "talkdown/units.h"
#include "tool/desk/review_mark.h"
#include "tool/tool.h"

struct marking {
    const char *drive;
    char path[TD_PROBLEM_FILE_MAX]; /* of the marks */
    struct td_spoken *prompts;
    size_t prompt_count;
    int64_t start_ns;
    struct td_marks marks;
    char comment[400];
};

static bool was_said(const struct td_spoken *spoken)
{
    return spoken->issued_ns != 0 &&
           (spoken->fate == TD_EVENT_STARTED || spoken->fate == TD_EVENT_SPOKEN ||
            spoken->fate == TD_EVENT_CUT || spoken->fate == TD_EVENT_LOST);
}

static const struct td_spoken *find(const struct marking *marking, uint32_t serial)
{
    for (size_t i = 0; i < marking->prompt_count; i++)
        if (marking->prompts[i].prompt.serial == serial && was_said(&marking->prompts[i]))
            return &marking->prompts[i];
    return NULL;
}

static double at_s(const struct marking *marking, const struct td_spoken *spoken)
{
    return td_s_from_ns(spoken->issued_ns - marking->start_ns);
}

/* A log may come from anywhere: a line end in its words must not end the comment. */
static const char *tells(void *who, uint32_t serial)
{
    struct marking *marking = who;
    const struct td_spoken *spoken = find(marking, serial);
    if (spoken == NULL)
        return "";
    (void)snprintf(marking->comment, sizeof marking->comment, "at %.1f s: %s",
                   at_s(marking, spoken), spoken->words);
    for (char *c = marking->comment; *c != '\0'; c++)
        if ((unsigned char)*c < 0x20 || *c == 0x7f)
            *c = ' ';
    return marking->comment;
}

static enum td_result open_drive(struct marking *marking, struct td_problem *problem)
{
    struct td_drive_reader *reader = NULL;
    enum td_result result = td_drive_open(marking->drive, &reader, problem);
    if (result == TD_OK) {
        marking->start_ns = td_drive_start_ns(reader);
        result = td_drive_prompts(reader, &marking->prompts, &marking->prompt_count, problem);
        /* Hill ids are the reader's and go with it. */
        for (size_t i = 0; result == TD_OK && i < marking->prompt_count; i++)
            marking->prompts[i].hill_id = "";
    }
    td_drive_close(&reader);
    if (result == TD_OK)
        result = td_marks_path(marking->drive, marking->path, sizeof marking->path, problem);
    if (result == TD_OK) {
        result = td_marks_read(marking->path, &marking->marks, problem);
        result = result == TD_NOT_FOUND ? TD_OK : result;
    }
    return result;
}

static void list(const struct marking *marking)
{
    (void)printf("%6s %10s  %-8s %-20s %-6s %s\n", "serial", "at", "category", "prompt", "mark",
                 "words");
    for (size_t i = 0; i < marking->prompt_count; i++) {
        const struct td_spoken *spoken = &marking->prompts[i];
        const struct td_mark *mark = td_marks_find(&marking->marks, spoken->prompt.serial);
        if (!was_said(spoken))
            continue;
        (void)printf("%6u %8.1f s  %-8s %-20s %-6s %s", spoken->prompt.serial,
                     at_s(marking, spoken), td_category_name(spoken->prompt.category),
                     td_prompt_key(spoken->prompt.id),
                     mark != NULL ? td_mark_name(mark->kind) : "", spoken->words);
        if (mark != NULL && mark->note[0] != '\0')
            (void)printf("  (%s)", mark->note);
        (void)printf("\n");
    }
}

static enum td_result check_note(const char *note, struct td_problem *problem)
{
    if (strlen(note) >= TD_MARK_NOTE_MAX)
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "--note: at most %d bytes are kept; shorten it",
                              (int)TD_MARK_NOTE_MAX - 1);
    for (const char *c = note; *c != '\0'; c++)
        if ((unsigned char)*c < 0x20 || *c == 0x7f)
            return td_problem_set(problem, TD_INVALID, NULL, 0,
                                  "--note: one line without control characters is needed");
    return TD_OK;
}

static enum td_result set(struct marking *marking, const char *serial_text, const char *word,
                          const char *note, struct td_problem *problem)
{
    long long serial = 0;
    int kind = td_mark_from_name(word);
    bool none = strcmp(word, "none") == 0;
    enum td_result result = td_tool_whole("SERIAL", serial_text, 1, INT_MAX, &serial, problem);
    if (result == TD_OK && kind < 0 && !none)
        result = td_problem_set(problem, TD_INVALID, NULL, 0,
                                "\"%s\" is none of: right, late, early, wrong, none", word);
    if (result == TD_OK && none && note != NULL)
        result = td_problem_set(problem, TD_INVALID, NULL, 0,
                                "--note goes with a mark; none takes the mark off");
    if (result == TD_OK && note != NULL)
        result = check_note(note, problem);
    if (result == TD_OK && !none && find(marking, (uint32_t)serial) == NULL)
        result = td_problem_set(problem, TD_INVALID, marking->drive, 0,
                                "no prompt of serial %lld was said in it; --mark %s alone lists "
                                "them", serial, marking->drive);
    if (result != TD_OK)
        return result;
    if (none)
        td_marks_remove(&marking->marks, (uint32_t)serial);
    else
        result = td_marks_set(&marking->marks, (uint32_t)serial, (enum td_mark_kind)kind,
                              note != NULL ? note : "", problem);
    return result == TD_OK
               ? td_marks_write(marking->path, &marking->marks, tells, marking, problem)
               : result;
}

int td_review_mark(const char *drive, const char *const *words, size_t count, const char *note)
{
    struct marking marking = {.drive = drive};
    struct td_problem problem;
    if (count != 0 && count != 2)
        return td_tool_fail_words("--mark takes DRIVE.db, a serial and right, late, early, wrong "
                                  "or none; DRIVE.db alone lists the prompts");
    enum td_result result = open_drive(&marking, &problem);
    if (result == TD_OK && count == 2)
        result = set(&marking, words[0], words[1], note, &problem);
    if (result == TD_OK && count == 0)
        list(&marking);
    else if (result == TD_OK)
        (void)printf("%s: %zu mark%s\n", marking.path, marking.marks.count,
                     marking.marks.count == 1 ? "" : "s");
    free(marking.prompts);
    td_marks_free(&marking.marks);
    return result == TD_OK ? TD_EXIT_DONE : td_tool_fail(&problem);
}
