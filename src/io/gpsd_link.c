/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The connection to gpsd: connect, watch, split lines, notice silence, try again. */
#include <arpa/inet.h>
#include <errno.h>
#include <netinet/in.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "io/gpsd.h"
#include "io/problem.h"
#include "talkdown/units.h"

enum { READ_MOST = 64 * 1024, FIXES_MAX = 32, ADDRESSES_MAX = 2 };

static const int64_t silence_ns = 5 * TD_NS_PER_S;
static const int64_t backoff_least_ns = TD_NS_PER_S / 4;
static const int64_t backoff_most_ns = 5 * TD_NS_PER_S;
static const char watch[] = "?WATCH={\"enable\":true,\"json\":true};\r\n";

enum stage { IDLE = 0, CONNECTING, WATCHING };

struct address {
    struct sockaddr_storage at;
    socklen_t size;
};

struct td_gpsd {
    struct address addresses[ADDRESSES_MAX];
    unsigned address_count, next_address;
    int fd;
    enum stage stage;
    int64_t tick_ns; /* try again when idle, give up when not */
    int64_t backoff_ns;
    struct td_gpsd_reader *reader;
    size_t length; /* of the line gathered so far */
    bool overlong; /* its rest is thrown away */
    int64_t last_utc_ms;
    struct td_fix fixes[FIXES_MAX];
    unsigned fix_count;
    struct td_gpsd_state state;
    char line[TD_GPSD_LINE_MAX];
};

const char *td_gpsd_health_name(enum td_gpsd_health health)
{
    switch (health) {
    case TD_GPSD_DOWN:
        return "no gpsd";
    case TD_GPSD_NO_RECEIVER:
        return "no receiver";
    case TD_GPSD_SILENT:
        return "silent";
    case TD_GPSD_SEARCHING:
        return "searching";
    case TD_GPSD_FIXES:
        return "fixes";
    }
    return "unknown";
}

static bool add_address(struct td_gpsd *gpsd, const char *host, uint16_t port)
{
    struct address *address = &gpsd->addresses[gpsd->address_count];
    struct sockaddr_in v4 = {.sin_family = AF_INET, .sin_port = htons(port)};
    struct sockaddr_in6 v6 = {.sin6_family = AF_INET6, .sin6_port = htons(port)};
    if (inet_pton(AF_INET, host, &v4.sin_addr) == 1) {
        memcpy(&address->at, &v4, sizeof v4);
        address->size = sizeof v4;
    } else if (inet_pton(AF_INET6, host, &v6.sin6_addr) == 1) {
        memcpy(&address->at, &v6, sizeof v6);
        address->size = sizeof v6;
    } else {
        return false;
    }
    gpsd->address_count++;
    return true;
}

static bool add_host(struct td_gpsd *gpsd, const char *host, uint16_t port)
{
    if (strcmp(host, "localhost") == 0)
        return add_address(gpsd, "127.0.0.1", port) && add_address(gpsd, "::1", port);
    return add_address(gpsd, host, port);
}

enum td_result td_gpsd_open(const char *host, const char *port, int64_t now_ns,
                            struct td_gpsd **out, struct td_problem *problem)
{
    char *end = NULL;
    long number = strtol(port, &end, 10);
    if (end == port || *end != '\0' || number < 1 || number > 65535)
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "gpsd port \"%s\"; a number from 1 to 65535 is needed", port);
    struct td_gpsd *gpsd = calloc(1, sizeof *gpsd);
    if (gpsd == NULL || td_gpsd_reader_new(&gpsd->reader) != TD_OK) {
        free(gpsd);
        return td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "no memory for gpsd");
    }
    gpsd->fd = -1;
    gpsd->tick_ns = now_ns;
    gpsd->backoff_ns = backoff_least_ns;
    gpsd->last_utc_ms = INT64_MIN;
    if (!add_host(gpsd, host, (uint16_t)number)) {
        td_gpsd_close(&gpsd);
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "gpsd host \"%s\"; an address (192.0.2.7, ::1) or localhost is "
                              "needed: looking a name up could hang",
                              host);
    }
    *out = gpsd;
    return TD_OK;
}

int td_gpsd_fd(const struct td_gpsd *gpsd)
{
    return gpsd->fd;
}

short td_gpsd_poll_events(const struct td_gpsd *gpsd)
{
    return gpsd->stage == CONNECTING ? POLLOUT : POLLIN;
}

int64_t td_gpsd_next_tick_ns(const struct td_gpsd *gpsd)
{
    return gpsd->tick_ns;
}

/* Closes and waits before the next try, longer each time. */
static void hang_up(struct td_gpsd *gpsd, int64_t now_ns)
{
    if (gpsd->fd >= 0)
        (void)close(gpsd->fd);
    gpsd->fd = -1;
    gpsd->stage = IDLE;
    gpsd->length = 0;
    gpsd->overlong = false;
    gpsd->tick_ns = now_ns + gpsd->backoff_ns;
    gpsd->backoff_ns *= 2;
    if (gpsd->backoff_ns > backoff_most_ns)
        gpsd->backoff_ns = backoff_most_ns;
}

static void refused(struct td_gpsd *gpsd, int64_t now_ns)
{
    gpsd->state.health = TD_GPSD_DOWN;
    gpsd->next_address = (gpsd->next_address + 1) % gpsd->address_count;
    hang_up(gpsd, now_ns);
}

static void begin_watching(struct td_gpsd *gpsd, int64_t now_ns)
{
    /* A fresh socket's buffer takes these few bytes whole or the connection is no good. */
    ssize_t put = send(gpsd->fd, watch, sizeof watch - 1, MSG_NOSIGNAL);
    if (put != (ssize_t)(sizeof watch - 1)) {
        refused(gpsd, now_ns);
        return;
    }
    gpsd->stage = WATCHING;
    gpsd->state.connections++;
    gpsd->tick_ns = now_ns + silence_ns;
    if (gpsd->state.health == TD_GPSD_DOWN)
        gpsd->state.health = TD_GPSD_SILENT;
}

static void begin_connecting(struct td_gpsd *gpsd, int64_t now_ns)
{
    const struct address *address = &gpsd->addresses[gpsd->next_address];
    gpsd->fd = socket(address->at.ss_family, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    if (gpsd->fd < 0) {
        refused(gpsd, now_ns);
        return;
    }
    gpsd->stage = CONNECTING;
    gpsd->tick_ns = now_ns + silence_ns;
    if (connect(gpsd->fd, (const struct sockaddr *)&address->at, address->size) == 0)
        begin_watching(gpsd, now_ns);
    else if (errno != EINPROGRESS && errno != EINTR)
        refused(gpsd, now_ns);
}

void td_gpsd_tick(struct td_gpsd *gpsd, int64_t now_ns)
{
    if (now_ns < gpsd->tick_ns)
        return;
    switch (gpsd->stage) {
    case IDLE:
        begin_connecting(gpsd, now_ns);
        break;
    case CONNECTING:
        refused(gpsd, now_ns);
        break;
    case WATCHING:
        if (gpsd->state.health > TD_GPSD_SILENT)
            gpsd->state.health = TD_GPSD_SILENT;
        hang_up(gpsd, now_ns);
        break;
    }
}

static void keep_fix(struct td_gpsd *gpsd, const struct td_fix *fix)
{
    if (fix->utc_ms == gpsd->last_utc_ms)
        return;
    gpsd->last_utc_ms = fix->utc_ms;
    gpsd->state.fixes++;
    if (gpsd->fix_count == FIXES_MAX) {
        memmove(gpsd->fixes, gpsd->fixes + 1, sizeof gpsd->fixes - sizeof gpsd->fixes[0]);
        gpsd->fix_count--;
        gpsd->state.dropped_fixes++;
    }
    gpsd->fixes[gpsd->fix_count++] = *fix;
}

static void take_line(struct td_gpsd *gpsd, int64_t now_ns)
{
    struct td_fix fix;
    unsigned receivers = 0;
    size_t length = gpsd->length;
    if (length > 0 && gpsd->line[length - 1] == '\r')
        length--;
    enum td_gpsd_line kind =
        td_gpsd_read_line(gpsd->reader, gpsd->line, length, now_ns, &fix, &receivers);
    switch (kind) {
    case TD_GPSD_REFUSED:
        gpsd->state.refused_lines++;
        return;
    case TD_GPSD_OTHER:
    case TD_GPSD_ERROR:
        return;
    case TD_GPSD_RECEIVERS:
        if (receivers == 0)
            gpsd->state.health = TD_GPSD_NO_RECEIVER;
        else if (gpsd->state.health == TD_GPSD_NO_RECEIVER)
            gpsd->state.health = TD_GPSD_SILENT;
        return;
    case TD_GPSD_FIX:
        gpsd->state.health = TD_GPSD_FIXES;
        keep_fix(gpsd, &fix);
        break;
    case TD_GPSD_NO_FIX:
        gpsd->state.health = TD_GPSD_SEARCHING;
        break;
    }
    /* The receiver lives: only its reports count against silence, not what gpsd says of itself. */
    gpsd->backoff_ns = backoff_least_ns;
    gpsd->tick_ns = now_ns + silence_ns;
}

static void take_bytes(struct td_gpsd *gpsd, const char *bytes, size_t count, int64_t now_ns)
{
    for (size_t i = 0; i < count; i++) {
        if (bytes[i] == '\n') {
            if (gpsd->overlong)
                gpsd->state.refused_lines++;
            else
                take_line(gpsd, now_ns);
            gpsd->length = 0;
            gpsd->overlong = false;
        } else if (gpsd->length < TD_GPSD_LINE_MAX) {
            gpsd->line[gpsd->length++] = bytes[i];
        } else {
            gpsd->overlong = true;
        }
    }
}

static void finish_connecting(struct td_gpsd *gpsd, int64_t now_ns)
{
    int error = 0;
    socklen_t size = sizeof error;
    if (getsockopt(gpsd->fd, SOL_SOCKET, SO_ERROR, &error, &size) != 0 || error != 0)
        refused(gpsd, now_ns);
    else
        begin_watching(gpsd, now_ns);
}

void td_gpsd_ready(struct td_gpsd *gpsd, int64_t now_ns)
{
    if (gpsd->stage == CONNECTING) {
        finish_connecting(gpsd, now_ns);
        return;
    }
    char bytes[4096];
    for (size_t total = 0; gpsd->stage == WATCHING && total < READ_MOST;) {
        ssize_t got = recv(gpsd->fd, bytes, sizeof bytes, 0);
        if (got > 0) {
            take_bytes(gpsd, bytes, (size_t)got, now_ns);
            total += (size_t)got;
        } else if (got < 0 && errno == EINTR) {
            continue;
        } else if (got < 0 && (errno == EAGAIN || errno == EWOULDBLOCK)) {
            break;
        } else {
            refused(gpsd, now_ns);
        }
    }
}

bool td_gpsd_fix(struct td_gpsd *gpsd, struct td_fix *fix)
{
    if (gpsd->fix_count == 0)
        return false;
    *fix = gpsd->fixes[0];
    gpsd->fix_count--;
    memmove(gpsd->fixes, gpsd->fixes + 1, gpsd->fix_count * sizeof gpsd->fixes[0]);
    return true;
}

void td_gpsd_state(const struct td_gpsd *gpsd, struct td_gpsd_state *state)
{
    *state = gpsd->state;
}

void td_gpsd_close(struct td_gpsd **gpsd)
{
    if (gpsd == NULL || *gpsd == NULL)
        return;
    if ((*gpsd)->fd >= 0)
        (void)close((*gpsd)->fd);
    td_gpsd_reader_free(&(*gpsd)->reader);
    free(*gpsd);
    *gpsd = NULL;
}
