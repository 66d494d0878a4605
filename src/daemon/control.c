/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Control socket: a listener and a few clients. */
#include "daemon/control.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include "io/problem.h"
#include "talkdown/text.h"

struct client {
    int fd;      /* -1 free */
    uint32_t id; /* never used twice */
    bool asked;  /* `request` waits to be taken */
    bool waits;  /* a reply is owed */
    struct td_request request;
};

struct td_control {
    int listener;
    struct sockaddr_un at;
    uint32_t last_id;
    struct client clients[TD_CONTROL_CLIENTS_MAX];
};

static bool answers(const struct sockaddr_un *at)
{
    int fd = socket(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0);
    bool answered = fd >= 0 && connect(fd, (const struct sockaddr *)at, sizeof *at) == 0;
    if (fd >= 0)
        (void)close(fd);
    return answered;
}

/* Removes what a daemon that is gone left behind. */
static enum td_result clear_the_way(const struct sockaddr_un *at, struct td_problem *problem)
{
    struct stat about;
    if (lstat(at->sun_path, &about) != 0)
        return TD_OK;
    if (!S_ISSOCK(about.st_mode))
        return td_problem_set(problem, TD_INVALID, at->sun_path, 0,
                              "is there already and is no socket; name another control socket");
    if (answers(at))
        return td_problem_set(problem, TD_INVALID, at->sun_path, 0,
                              "another talkdownd answers on it; stop that one first");
    (void)unlink(at->sun_path);
    return TD_OK;
}

static enum td_result listen_on(struct td_control *control, struct td_problem *problem)
{
    enum td_result result = clear_the_way(&control->at, problem);
    if (result != TD_OK)
        return result;
    control->listener = socket(AF_UNIX, SOCK_SEQPACKET | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    /* The mode counts from the first moment on: nobody else may connect in between. */
    mode_t mask = umask(0117);
    bool bound = control->listener >= 0 &&
                 bind(control->listener, (const struct sockaddr *)&control->at,
                      sizeof control->at) == 0;
    int why = errno;
    (void)umask(mask);
    if (bound && listen(control->listener, TD_CONTROL_CLIENTS_MAX) == 0)
        return TD_OK;
    if (bound)
        why = errno;
    return td_problem_set(problem, TD_IO, control->at.sun_path, 0,
                          "cannot open the control socket: %s", strerror(why));
}

enum td_result td_control_open(const char *path, struct td_control **out,
                               struct td_problem *problem)
{
    struct td_control *control = calloc(1, sizeof *control);
    if (control == NULL)
        return td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "no memory for the control socket");
    control->at.sun_family = AF_UNIX;
    control->listener = -1;
    for (size_t i = 0; i < TD_CONTROL_CLIENTS_MAX; i++)
        control->clients[i].fd = -1;
    enum td_result result;
    if (!td_text_copy(control->at.sun_path, sizeof control->at.sun_path, path))
        result = td_problem_set(problem, TD_INVALID, path, 0,
                                "is too long for a socket; at most %zu bytes",
                                sizeof control->at.sun_path - 1);
    else
        result = listen_on(control, problem);
    if (result != TD_OK) {
        if (control->listener >= 0)
            (void)close(control->listener);
        free(control);
        return result;
    }
    *out = control;
    return TD_OK;
}

size_t td_control_polls(const struct td_control *control, struct pollfd polls[TD_CONTROL_POLLS_MAX])
{
    size_t count = 0;
    polls[count++] = (struct pollfd){.fd = control->listener, .events = POLLIN};
    for (size_t i = 0; i < TD_CONTROL_CLIENTS_MAX; i++)
        if (control->clients[i].fd >= 0)
            polls[count++] = (struct pollfd){.fd = control->clients[i].fd, .events = POLLIN};
    return count;
}

static void hang_up(struct client *client)
{
    (void)close(client->fd);
    *client = (struct client){.fd = -1};
}

static void take_client(struct td_control *control)
{
    int fd = accept(control->listener, NULL, NULL);
    if (fd < 0)
        return;
    bool set = fcntl(fd, F_SETFL, O_NONBLOCK) == 0 && fcntl(fd, F_SETFD, FD_CLOEXEC) == 0;
    for (size_t i = 0; set && i < TD_CONTROL_CLIENTS_MAX; i++) {
        if (control->clients[i].fd >= 0)
            continue;
        control->last_id++;
        control->clients[i] = (struct client){.fd = fd, .id = control->last_id};
        return;
    }
    (void)close(fd);
}

static void take_packet(struct td_control *control, struct client *client)
{
    char bytes[TD_REQUEST_BYTES_MAX + 1];
    ssize_t got = recv(client->fd, bytes, sizeof bytes, 0);
    if (got < 0 && (errno == EAGAIN || errno == EINTR))
        return;
    if (got <= 0 || client->waits) {
        hang_up(client);
        return;
    }
    client->waits = true;
    struct td_problem problem = {0};
    enum td_result result = TD_INVALID;
    if (got > TD_REQUEST_BYTES_MAX)
        (void)td_problem_set(&problem, TD_INVALID, NULL, 0,
                             "a request is at most %d bytes", (int)TD_REQUEST_BYTES_MAX);
    else
        result = td_request_read(bytes, (size_t)got, &client->request, &problem);
    client->asked = result == TD_OK;
    if (!client->asked)
        td_control_result(control, client->id, result, &problem);
}

void td_control_ready(struct td_control *control, const struct pollfd *polls, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        if (polls[i].revents == 0)
            continue;
        if (polls[i].fd == control->listener) {
            take_client(control);
            continue;
        }
        for (size_t c = 0; c < TD_CONTROL_CLIENTS_MAX; c++)
            if (control->clients[c].fd == polls[i].fd)
                take_packet(control, &control->clients[c]);
    }
}

bool td_control_request(struct td_control *control, struct td_request *request, uint32_t *client)
{
    for (size_t i = 0; i < TD_CONTROL_CLIENTS_MAX; i++) {
        struct client *from = &control->clients[i];
        if (from->fd < 0 || !from->asked)
            continue;
        from->asked = false;
        *request = from->request;
        *client = from->id;
        return true;
    }
    return false;
}

void td_control_reply(struct td_control *control, uint32_t client, const char *text)
{
    for (size_t i = 0; i < TD_CONTROL_CLIENTS_MAX; i++) {
        struct client *to = &control->clients[i];
        if (to->fd < 0 || to->id != client || !to->waits)
            continue;
        to->waits = false;
        if (text == NULL || send(to->fd, text, strlen(text), MSG_NOSIGNAL) < 0)
            hang_up(to);
        return;
    }
}

void td_control_result(struct td_control *control, uint32_t client, enum td_result result,
                       const struct td_problem *problem)
{
    char *text = td_reply_text(result, problem);
    td_control_reply(control, client, text);
    free(text);
}

void td_control_close(struct td_control **control)
{
    if (control == NULL || *control == NULL)
        return;
    for (size_t i = 0; i < TD_CONTROL_CLIENTS_MAX; i++)
        if ((*control)->clients[i].fd >= 0)
            (void)close((*control)->clients[i].fd);
    (void)close((*control)->listener);
    (void)unlink((*control)->at.sun_path);
    free(*control);
    *control = NULL;
}
