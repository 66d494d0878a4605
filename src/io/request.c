/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Requests and plain replies as JSON; used by the daemon and by `talkdown tell`. */
#include "io/request.h"

#include <jansson.h>
#include <string.h>

#include "io/problem.h"
#include "talkdown/text.h"

static const struct {
    const char *command, *key;
} shapes[TD_REQUEST_KINDS] = {
    [TD_REQUEST_STATUS] = {"status", NULL},
    [TD_REQUEST_AGAIN] = {"again", NULL},
    [TD_REQUEST_QUIET] = {"quiet", NULL},
    [TD_REQUEST_LOUD] = {"loud", NULL},
    [TD_REQUEST_ROAD] = {"road", "state"},
    [TD_REQUEST_LOAD] = {"load", "name"},
    [TD_REQUEST_ENGINE_BRAKE] = {"engine-brake", "stage"},
    [TD_REQUEST_RIG] = {"rig", "file"},
    [TD_REQUEST_RELOAD] = {"reload", NULL},
};

const char *td_request_command(enum td_request_kind kind)
{
    return shapes[kind].command;
}

const char *td_request_key(enum td_request_kind kind)
{
    return shapes[kind].key;
}

static enum td_result read_object(const json_t *object, struct td_request *request,
                                  struct td_problem *problem)
{
    const char *command = json_string_value(json_object_get(object, "command"));
    if (command == NULL)
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "a request is an object with a \"command\"");
    int kind = 0;
    while (kind < TD_REQUEST_KINDS && strcmp(shapes[kind].command, command) != 0)
        kind++;
    if (kind == TD_REQUEST_KINDS)
        return td_problem_set(problem, TD_INVALID, NULL, 0, "no such command: \"%.40s\"", command);
    struct td_request made = {.kind = (enum td_request_kind)kind};
    const char *key = shapes[kind].key;
    if (key != NULL) {
        const char *word = json_string_value(json_object_get(object, key));
        if (word == NULL || word[0] == '\0' || !td_text_copy(made.word, sizeof made.word, word))
            return td_problem_set(problem, TD_INVALID, NULL, 0, "%s: \"%s\" is needed, a text",
                                  command, key);
    }
    if (json_object_size(object) != (key != NULL ? 2 : 1))
        return td_problem_set(problem, TD_INVALID, NULL, 0, "%s: takes nothing but %s%s%s", command,
                              key != NULL ? "\"" : "its name", key != NULL ? key : "",
                              key != NULL ? "\"" : "");
    *request = made;
    return TD_OK;
}

enum td_result td_request_read(const char *bytes, size_t length, struct td_request *request,
                               struct td_problem *problem)
{
    json_error_t error;
    json_t *object = json_loadb(bytes, length, JSON_REJECT_DUPLICATES, &error);
    if (object == NULL)
        return td_problem_set(problem, TD_INVALID, NULL, 0, "a request is one JSON object: %s",
                              error.text);
    enum td_result result = read_object(object, request, problem);
    json_decref(object);
    return result;
}

static char *text_of(json_t *object)
{
    char *text = object != NULL ? json_dumps(object, JSON_COMPACT) : NULL;
    json_decref(object);
    return text;
}

char *td_request_text(const struct td_request *request)
{
    const char *key = shapes[request->kind].key;
    json_t *object = json_pack("{s:s}", "command", shapes[request->kind].command);
    if (object != NULL && key != NULL &&
        json_object_set_new(object, key, json_string(request->word)) != 0) {
        json_decref(object);
        return NULL;
    }
    return text_of(object);
}

char *td_reply_text(enum td_result result, const struct td_problem *problem)
{
    if (result == TD_OK)
        return text_of(json_pack("{s:b}", "ok", 1));
    char line[TD_PROBLEM_FILE_MAX + TD_PROBLEM_TEXT_MAX + 32];
    (void)td_problem_line(problem, line, sizeof line);
    return text_of(json_pack("{s:b, s:s, s:s}", "ok", 0, "result", td_result_name(result),
                             "problem", line));
}
