/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Marks of a trainer, from YAML and back. */
#include "io/marks.h"

#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/file.h"
#include "io/problem.h"
#include "io/yaml_load.h"
#include "talkdown/text.h"

static const cyaml_strval_t kind_words[TD_MARK_KINDS] = {{"right", TD_MARK_RIGHT},
                                                         {"late", TD_MARK_LATE},
                                                         {"early", TD_MARK_EARLY},
                                                         {"wrong", TD_MARK_WRONG}};

/* The file as libcyaml fills it. */
struct mark_text {
    char *serial, *note;
    enum td_mark_kind mark;
};

struct marks_text {
    struct mark_text *marks;
    uint32_t marks_count;
};

static const cyaml_schema_field_t mark_fields[] = {
    CYAML_FIELD_STRING_PTR("serial", CYAML_FLAG_POINTER, struct mark_text, serial, 1, 15),
    CYAML_FIELD_ENUM("mark", CYAML_FLAG_STRICT, struct mark_text, mark, kind_words, TD_MARK_KINDS),
    CYAML_FIELD_STRING_PTR("note", CYAML_FLAG_POINTER | CYAML_FLAG_OPTIONAL, struct mark_text, note,
                           0, TD_MARK_NOTE_MAX - 1),
    CYAML_FIELD_END};
static const cyaml_schema_value_t mark_schema = {
    CYAML_VALUE_MAPPING(CYAML_FLAG_DEFAULT, struct mark_text, mark_fields)};
static const cyaml_schema_field_t fields[] = {
    CYAML_FIELD_SEQUENCE("marks", CYAML_FLAG_POINTER, struct marks_text, marks, &mark_schema, 0,
                         TD_MARKS_MAX),
    CYAML_FIELD_END};
static const cyaml_schema_value_t schema = {
    CYAML_VALUE_MAPPING(CYAML_FLAG_POINTER, struct marks_text, fields)};

const char *td_mark_name(enum td_mark_kind kind)
{
    return kind >= 0 && kind < TD_MARK_KINDS ? kind_words[kind].str : "?";
}

int td_mark_from_name(const char *name)
{
    for (int kind = 0; kind < TD_MARK_KINDS; kind++)
        if (strcmp(name, kind_words[kind].str) == 0)
            return kind;
    return -1;
}

enum td_result td_marks_path(const char *log_path, char *path, size_t size,
                             struct td_problem *problem)
{
    size_t length = strlen(log_path);
    if (length > 3 && strcmp(log_path + length - 3, ".db") == 0)
        length -= 3;
    int written = snprintf(path, size, "%.*s.marks.yaml", (int)length, log_path);
    if (written < 0 || (size_t)written >= size)
        return td_problem_set(problem, TD_INVALID, log_path, 0, "is too long a path; shorten it");
    return TD_OK;
}

/* Index of the first mark that is not before the serial. */
static size_t place_of(const struct td_marks *marks, uint32_t serial)
{
    size_t low = 0, high = marks->count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (marks->items[middle].serial < serial)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

const struct td_mark *td_marks_find(const struct td_marks *marks, uint32_t serial)
{
    size_t at = place_of(marks, serial);
    return at < marks->count && marks->items[at].serial == serial ? &marks->items[at] : NULL;
}

enum td_result td_marks_set(struct td_marks *marks, uint32_t serial, enum td_mark_kind kind,
                            const char *note, struct td_problem *problem)
{
    size_t at = place_of(marks, serial);
    if (at == marks->count || marks->items[at].serial != serial) {
        if (marks->count == TD_MARKS_MAX)
            return td_problem_set(problem, TD_FULL, NULL, 0, "more than %d marks on one drive",
                                  (int)TD_MARKS_MAX);
        struct td_mark *items = realloc(marks->items, (marks->count + 1) * sizeof *items);
        if (items == NULL)
            return td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "no memory for the marks");
        marks->items = items;
        memmove(&items[at + 1], &items[at], (marks->count - at) * sizeof *items);
        marks->count++;
    }
    marks->items[at] = (struct td_mark){.serial = serial, .kind = kind};
    (void)td_text_copy(marks->items[at].note, sizeof marks->items[at].note, note);
    return TD_OK;
}

void td_marks_remove(struct td_marks *marks, uint32_t serial)
{
    size_t at = place_of(marks, serial);
    if (at == marks->count || marks->items[at].serial != serial)
        return;
    marks->count--;
    memmove(&marks->items[at], &marks->items[at + 1],
            (marks->count - at) * sizeof marks->items[0]);
}

void td_marks_free(struct td_marks *marks)
{
    free(marks->items);
    *marks = (struct td_marks){0};
}

static enum td_result take(const struct td_yaml *yaml, struct td_marks *marks,
                           struct td_problem *problem)
{
    const struct marks_text *text = td_yaml_data(yaml);
    for (uint32_t i = 0; i < text->marks_count; i++) {
        char path[TD_YAML_PATH_MAX];
        int serial = 0;
        (void)snprintf(path, sizeof path, "marks[%u].serial", i);
        enum td_result result = td_yaml_whole(yaml, path, text->marks[i].serial, 1, INT_MAX,
                                              &serial, problem);
        if (result == TD_OK && td_marks_find(marks, (uint32_t)serial) != NULL)
            result = td_yaml_problem(yaml, path, problem,
                                     "prompt %d is marked twice; one mark a prompt", serial);
        if (result == TD_OK)
            result = td_marks_set(marks, (uint32_t)serial, text->marks[i].mark,
                                  text->marks[i].note != NULL ? text->marks[i].note : "", problem);
        if (result != TD_OK)
            return result;
    }
    return TD_OK;
}

enum td_result td_marks_parse(const char *name, const char *bytes, size_t length,
                              struct td_marks *marks, struct td_problem *problem)
{
    struct td_yaml *yaml = NULL;
    *marks = (struct td_marks){0};
    enum td_result result = td_yaml_load(name, bytes, length, &schema,
                                         "a file of marks begins with marks:", &yaml, problem);
    if (result != TD_OK)
        return result;
    result = take(yaml, marks, problem);
    td_yaml_free(&yaml);
    if (result != TD_OK)
        td_marks_free(marks);
    return result;
}

enum td_result td_marks_read(const char *path, struct td_marks *marks, struct td_problem *problem)
{
    char *bytes = NULL;
    size_t length = 0;
    *marks = (struct td_marks){0};
    enum td_result result = td_file_read(path, TD_YAML_BYTES_MAX, &bytes, &length, problem);
    if (result != TD_OK)
        return result;
    result = td_marks_parse(path, bytes, length, marks, problem);
    free(bytes);
    return result;
}

/* A note between double quotes; the caller has refused control characters. */
static void put_quoted(FILE *to, const char *text)
{
    (void)fputc('"', to);
    for (; *text != '\0'; text++) {
        if (*text == '"' || *text == '\\')
            (void)fputc('\\', to);
        (void)fputc(*text, to);
    }
    (void)fputc('"', to);
}

static void put_all(FILE *to, const struct td_marks *marks,
                    const char *(*tells)(void *who, uint32_t serial), void *who)
{
    (void)fputs("# Marks on the prompts of one drive: right, late, early or wrong. Edit by hand, "
                "or with\n# talkdown review --mark, which writes all of it anew.\nmarks:", to);
    (void)fputs(marks->count == 0 ? " []\n" : "\n", to);
    for (size_t i = 0; i < marks->count; i++) {
        const struct td_mark *mark = &marks->items[i];
        const char *comment = tells != NULL ? tells(who, mark->serial) : "";
        (void)fprintf(to, "  - serial: %u%s%s\n    mark: %s\n", mark->serial,
                      comment[0] != '\0' ? "  # " : "", comment, td_mark_name(mark->kind));
        if (mark->note[0] == '\0')
            continue;
        (void)fputs("    note: ", to);
        put_quoted(to, mark->note);
        (void)fputc('\n', to);
    }
}

enum td_result td_marks_write(const char *path, const struct td_marks *marks,
                              const char *(*tells)(void *who, uint32_t serial), void *who,
                              struct td_problem *problem)
{
    char *text = NULL;
    size_t length = 0;
    FILE *to = open_memstream(&text, &length);
    if (to != NULL)
        put_all(to, marks, tells, who);
    if (to == NULL || fclose(to) != 0) {
        free(text);
        return td_problem_set(problem, TD_NO_MEMORY, path, 0, "no memory to write the marks");
    }
    enum td_result result = td_file_write_private(path, text, length, true, problem);
    free(text);
    return result;
}
