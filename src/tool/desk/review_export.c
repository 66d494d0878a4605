/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Writes a drive for other programs. */
#include "tool/desk/review_export.h"

#include <stdlib.h>
#include <string.h>

#include "io/file.h"
#include "io/problem.h"
#include "tool/desk/export_drive.h"
#include "tool/tool.h"

static const struct {
    const char *name;
    void (*put)(FILE *to, const struct td_export_drive *drive);
} formats[] = {{"gpx", td_export_gpx}, {"geojson", td_export_geojson}, {"csv", td_export_csv}};

static enum td_result write_out(const struct td_export_drive *drive,
                                const struct td_review_export_options *options, size_t format,
                                struct td_problem *problem)
{
    char *text = NULL;
    size_t length = 0;
    FILE *to = open_memstream(&text, &length);
    if (to != NULL)
        formats[format].put(to, drive);
    if (to == NULL || fclose(to) != 0) {
        free(text);
        return td_problem_set(problem, TD_NO_MEMORY, options->out, 0, "no memory to write it");
    }
    enum td_result result =
        td_file_write_private(options->out, text, length, options->replace, problem);
    free(text);
    return result;
}

int td_review_export(const char *path, const struct td_review_export_options *options)
{
    struct td_export_drive drive;
    struct td_problem problem;
    size_t format = 0, count = sizeof formats / sizeof formats[0];
    while (format < count && strcmp(options->format, formats[format].name) != 0)
        format++;
    if (format == count)
        return td_tool_fail_words("--export \"%s\" is none of: gpx, geojson, csv",
                                  options->format);
    if (options->out == NULL)
        return td_tool_fail_words("--out is missing; name the file to write");
    enum td_result result = td_file_may_write(options->out, options->replace, &problem);
    if (result != TD_OK)
        return td_tool_fail(&problem);
    result = td_export_read(path, options->anonymous, &drive, &problem);
    if (result == TD_OK)
        result = write_out(&drive, options, format, &problem);
    if (result == TD_OK)
        (void)printf("%s: %zu positions, %zu prompts\n", options->out, drive.point_count,
                     drive.prompt_count);
    td_export_free(&drive);
    return result == TD_OK ? TD_EXIT_DONE : td_tool_fail(&problem);
}
