/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Runs the tool through the shell with its outputs in files. */
#include "support/tool_run.h"

#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "support/cm.h"
#include "talkdown/text.h"

char *tool_file(const char *path, size_t *length)
{
    FILE *file = fopen(path, "rb");
    if (file == NULL)
        return NULL;
    size_t size = 1 << 26, had = 0;
    char *text = malloc(size + 1);
    assert_non_null(text);
    had = fread(text, 1, size, file);
    (void)fclose(file);
    text[had] = '\0';
    if (length != NULL)
        *length = had;
    return text;
}

bool tool_is_file(const char *path)
{
    struct stat status;
    return stat(path, &status) == 0;
}

static char parent[32];

static void sweep(void)
{
    char command[64];
    (void)snprintf(command, sizeof command, "rm -rf '%s'", parent);
    if (system(command) != 0)
        printf("%s stays behind\n", parent);
}

const char *tool_folder(void)
{
    static char name[64];
    static int count;
    if (parent[0] == '\0') {
        (void)snprintf(parent, sizeof parent, "tool.XXXXXX");
        assert_non_null(mkdtemp(parent));
        assert_int_equal(atexit(sweep), 0);
    }
    (void)snprintf(name, sizeof name, "%s/%d", parent, count++);
    assert_int_equal(mkdir(name, 0700), 0);
    return name;
}

static void word_of(const json_t *object, const char *key, char *to, size_t size)
{
    const char *word = json_string_value(json_object_get(object, key));
    (void)td_text_copy(to, size, word != NULL ? word : "");
}

static double number_of(const json_t *object, const char *key)
{
    return json_number_value(json_object_get(object, key));
}

static void take_line(struct tool_run *run, const char *line)
{
    json_t *object = json_loads(line, 0, NULL);
    if (object == NULL)
        fail_msg("not JSON: %s", line);
    assert_true(run->prompt_count < TOOL_PROMPTS_MAX);
    struct tool_prompt *prompt = &run->prompts[run->prompt_count++];
    *prompt = (struct tool_prompt){
        .t_s = number_of(object, "t_s"),
        .along_m = number_of(object, "along_m"),
        .speed_mph = number_of(object, "speed_mph"),
        .serial = (int)json_integer_value(json_object_get(object, "serial")),
    };
    word_of(object, "id", prompt->id, sizeof prompt->id);
    word_of(object, "category", prompt->category, sizeof prompt->category);
    word_of(object, "fate", prompt->fate, sizeof prompt->fate);
    word_of(object, "hill", prompt->hill, sizeof prompt->hill);
    word_of(object, "words", prompt->words, sizeof prompt->words);
    json_decref(object);
}

static void take_prompts(struct tool_run *run)
{
    run->prompts = calloc(TOOL_PROMPTS_MAX, sizeof *run->prompts);
    assert_non_null(run->prompts);
    char *copy = strdup(run->out);
    char *rest = NULL;
    for (char *line = strtok_r(copy, "\n", &rest); line != NULL; line = strtok_r(NULL, "\n", &rest))
        if (line[0] == '{' && strstr(line, "\"serial\"") != NULL)
            take_line(run, line);
    free(copy);
}

struct tool_run tool_run(const char *arguments)
{
    static int count;
    char out[64], err[64], command[2048];
    (void)snprintf(out, sizeof out, "tool.%ld.%d.out", (long)getpid(), count);
    (void)snprintf(err, sizeof err, "tool.%ld.%d.err", (long)getpid(), count++);
    int length = snprintf(command, sizeof command,
                          "TALKDOWN_DATA='" TD_SOURCE_DIR "' '" TD_TOOL "' %s >%s 2>%s",
                          arguments, out, err);
    assert_true(length > 0 && (size_t)length < sizeof command);
    int status = system(command);
    assert_true(WIFEXITED(status));
    struct tool_run run = {.exit_code = WEXITSTATUS(status)};
    run.out = tool_file(out, NULL);
    run.err = tool_file(err, NULL);
    assert_non_null(run.out);
    assert_non_null(run.err);
    (void)unlink(out);
    (void)unlink(err);
    if (run.exit_code > 1)
        printf("talkdown %s: exit %d: %s", arguments, run.exit_code, run.err);
    take_prompts(&run);
    return run;
}

void tool_run_free(struct tool_run *run)
{
    free(run->out);
    free(run->err);
    free(run->prompts);
    *run = (struct tool_run){0};
}

size_t tool_count(const struct tool_run *run, const char *id, const char *fate)
{
    size_t count = 0;
    for (size_t i = 0; i < run->prompt_count; i++)
        if (strcmp(run->prompts[i].id, id) == 0 &&
            (fate == NULL || strcmp(run->prompts[i].fate, fate) == 0))
            count++;
    return count;
}

size_t tool_heard(const struct tool_run *run, const char *category)
{
    size_t count = 0;
    for (size_t i = 0; i < run->prompt_count; i++) {
        const struct tool_prompt *prompt = &run->prompts[i];
        bool heard = strcmp(prompt->fate, "spoken") == 0 || strcmp(prompt->fate, "cut") == 0;
        if (heard && strcmp(prompt->category, category) == 0)
            count++;
    }
    return count;
}
