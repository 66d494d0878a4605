/* SPDX-License-Identifier: GPL-3.0-or-later */
/* talkdown tell: one request to the running daemon over its control socket, and its answer. */
#include <errno.h>
#include <jansson.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include "io/problem.h"
#include "io/request.h"
#include "io/settings.h"
#include "talkdown/text.h"
#include "tool/commands.h"
#include "tool/tool.h"

enum { ANSWER_WITHIN_MS = 30000 }; /* a reload of a large library reads every profile */

static const char usage[] =
    "tell [--settings FILE | --socket PATH] status|again|quiet|loud|road STATE|load NAME|"
    "engine-brake STAGE|rig FILE|reload";

/* The daemon runs in another folder. */
static enum td_result whole_path(const char *path, char *to, size_t size,
                                 struct td_problem *problem)
{
    struct td_text text;
    char folder[TD_REQUEST_WORD_MAX] = "";
    if (access(path, R_OK) != 0)
        return td_problem_set(problem, TD_NOT_FOUND, path, 0, "cannot read it: %s",
                              strerror(errno));
    bool relative = path[0] != '/';
    if (relative && getcwd(folder, sizeof folder) == NULL)
        return td_problem_set(problem, TD_IO, path, 0, "cannot tell the folder: %s",
                              strerror(errno));
    td_text_init(&text, to, size);
    td_text_add(&text, folder);
    td_text_add(&text, relative ? "/" : "");
    td_text_add(&text, path);
    if (text.cut)
        return td_problem_set(problem, TD_INVALID, path, 0, "the path is too long");
    return TD_OK;
}

static enum td_result read_words(const char *const *words, size_t count,
                                 struct td_request *request, struct td_problem *problem)
{
    int kind = 0;
    while (count > 0 && kind < TD_REQUEST_KINDS &&
           strcmp(words[0], td_request_command((enum td_request_kind)kind)) != 0)
        kind++;
    if (count == 0 || kind == TD_REQUEST_KINDS)
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "tell what? status, again, quiet, loud, road, load, engine-brake, "
                              "rig or reload");
    *request = (struct td_request){.kind = (enum td_request_kind)kind};
    const char *key = td_request_key(request->kind);
    if (count != (key != NULL ? 2u : 1u))
        return td_problem_set(problem, TD_INVALID, NULL, 0, "%s: needs %s%s", words[0],
                              key != NULL ? "one word, the " : "no more words",
                              key != NULL ? key : "");
    if (key == NULL)
        return TD_OK;
    if (request->kind == TD_REQUEST_RIG)
        return whole_path(words[1], request->word, sizeof request->word, problem);
    if (!td_text_copy(request->word, sizeof request->word, words[1]))
        return td_problem_set(problem, TD_INVALID, NULL, 0, "%s: the word is too long", words[0]);
    return TD_OK;
}

static enum td_result find_socket(const char *settings_path, const char *socket_path, char *path,
                                  struct td_problem *problem)
{
    struct td_settings settings;
    td_settings_default(&settings);
    if (settings_path != NULL) {
        enum td_result result = td_settings_read(settings_path, &settings, problem);
        if (result != TD_OK)
            return result;
    }
    const char *from = socket_path != NULL ? socket_path : settings.control;
    if (!td_text_copy(path, sizeof((struct sockaddr_un *)NULL)->sun_path, from))
        return td_problem_set(problem, TD_INVALID, from, 0, "is too long for a socket");
    return TD_OK;
}

static enum td_result ask(int fd, const struct sockaddr_un *at, const char *text, char *reply,
                          struct td_problem *problem)
{
    if (fd < 0 || connect(fd, (const struct sockaddr *)at, sizeof *at) != 0)
        return td_problem_set(problem, TD_NOT_FOUND, at->sun_path, 0,
                              "no talkdownd answers: %s; start it, or name its --settings",
                              strerror(errno));
    if (send(fd, text, strlen(text), MSG_NOSIGNAL) < 0)
        return td_problem_set(problem, TD_IO, at->sun_path, 0, "%s", strerror(errno));
    struct pollfd wait = {.fd = fd, .events = POLLIN};
    int ready = poll(&wait, 1, ANSWER_WITHIN_MS);
    ssize_t got = ready == 1 ? recv(fd, reply, TD_REPLY_BYTES_MAX, 0) : -1;
    if (got <= 0)
        return td_problem_set(problem, TD_IO, at->sun_path, 0, "talkdownd did not answer: %s",
                              ready == 0 ? "it is too busy" : "it hung up");
    reply[got] = '\0';
    return TD_OK;
}

/* What the daemon said, and whether it was a yes. */
static int show(const struct td_request *request, const char *reply)
{
    json_error_t error;
    json_t *object = json_loads(reply, JSON_REJECT_DUPLICATES, &error);
    bool yes = json_is_true(json_object_get(object, "ok"));
    const char *problem = json_string_value(json_object_get(object, "problem"));
    int code = yes ? TD_EXIT_DONE : TD_EXIT_NO;
    if (yes && request->kind == TD_REQUEST_STATUS)
        (void)puts(reply);
    if (!yes)
        (void)td_tool_fail_words("%s", problem != NULL ? problem : "talkdownd made no sense");
    json_decref(object);
    return code;
}

static enum td_result tell(const struct td_request *request, const char *path, int *code,
                           struct td_problem *problem)
{
    static char reply[TD_REPLY_BYTES_MAX + 1];
    struct sockaddr_un at = {.sun_family = AF_UNIX};
    (void)td_text_copy(at.sun_path, sizeof at.sun_path, path);
    char *text = td_request_text(request);
    if (text == NULL)
        return td_problem_set(problem, TD_INVALID, NULL, 0, "the word is not UTF-8");
    int fd = socket(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0);
    enum td_result result = ask(fd, &at, text, reply, problem);
    if (fd >= 0)
        (void)close(fd);
    free(text);
    if (result == TD_OK)
        *code = show(request, reply);
    return result;
}

int td_cmd_tell(int argc, char **argv)
{
    const char *settings = NULL, *socket_path = NULL, *words[2];
    const struct td_tool_option options[] = {{"settings", &settings, NULL},
                                             {"socket", &socket_path, NULL}};
    struct td_tool_line line = {.usage = usage, .options = options, .option_count = 2,
                                .words = words, .word_most = 2};
    struct td_problem problem = {0};
    struct td_request request;
    char path[sizeof((struct sockaddr_un *)NULL)->sun_path];
    int code = TD_EXIT_ERROR;
    enum td_result result = td_tool_options(argc, argv, &line, &problem);
    if (result == TD_OK && line.help)
        return TD_EXIT_DONE;
    if (result == TD_OK)
        result = read_words(words, line.word_count, &request, &problem);
    if (result == TD_OK)
        result = find_socket(settings, socket_path, path, &problem);
    if (result == TD_OK)
        result = tell(&request, path, &code, &problem);
    return result == TD_OK ? code : td_tool_fail(&problem);
}
