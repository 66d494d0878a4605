/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One button of an input device into short and long presses. */
#include "io/button.h"

#include <errno.h>
#include <fcntl.h>
#include <libevdev/libevdev.h>
#include <linux/input.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "io/problem.h"
#include "talkdown/text.h"
#include "talkdown/units.h"

enum { ANY_KEY = -1, PRESSES_MAX = 8, EVENTS_A_TICK = 256, PATH_MAX_BYTES = 512 };

struct td_button {
    char path[PATH_MAX_BYTES];
    int key; /* code, or ANY_KEY */
    int fd;
    struct libevdev *device; /* NULL while fd is a FIFO's */
    bool syncs;              /* libevdev is telling what was missed */
    bool down, told; /* told: long already */
    int down_key;
    int64_t down_ns, retry_ns;
    enum td_press presses[PRESSES_MAX];
    unsigned press_count;
};

static void drop_device(struct td_button *button, int64_t now_ns)
{
    libevdev_free(button->device);
    button->device = NULL;
    if (button->fd >= 0)
        (void)close(button->fd);
    button->fd = -1;
    button->down = button->syncs = false;
    button->retry_ns = now_ns + TD_BUTTON_RETRY_S * TD_NS_PER_S;
}

/* A FIFO is opened for both ways, so that it does not end with each writer. */
static void look_for_device(struct td_button *button, int64_t now_ns)
{
    struct stat about;
    bool there = stat(button->path, &about) == 0;
    bool fifo = there && S_ISFIFO(about.st_mode);
    if (there && (fifo || S_ISCHR(about.st_mode)))
        button->fd = open(button->path, (fifo ? O_RDWR : O_RDONLY) | O_NONBLOCK | O_CLOEXEC);
    if (button->fd >= 0 && !fifo && libevdev_new_from_fd(button->fd, &button->device) < 0) {
        button->device = NULL;
        (void)close(button->fd);
        button->fd = -1;
    }
    if (button->fd < 0)
        button->retry_ns = now_ns + TD_BUTTON_RETRY_S * TD_NS_PER_S;
}

enum td_result td_button_open(const char *path, const char *key, int64_t now_ns,
                              struct td_button **out, struct td_problem *problem)
{
    int code = ANY_KEY;
    if (key[0] != '\0')
        code = libevdev_event_code_from_name(EV_KEY, key);
    if (key[0] != '\0' && code < 0)
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "button_key: there is no key \"%.40s\"; a name as KEY_PLAYPAUSE or "
                              "BTN_0 is right, or \"\" for any",
                              key);
    struct td_button *button = calloc(1, sizeof *button);
    if (button == NULL)
        return td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "no memory for the button");
    button->key = code;
    button->fd = -1;
    button->retry_ns = INT64_MAX;
    (void)td_text_copy(button->path, sizeof button->path, path);
    if (path[0] != '\0')
        look_for_device(button, now_ns);
    *out = button;
    return TD_OK;
}

int td_button_fd(const struct td_button *button)
{
    return button->fd;
}

bool td_button_up(const struct td_button *button)
{
    return button->fd >= 0;
}

/* Who presses more often than anybody asks is not owed each press. */
static void add_press(struct td_button *button, enum td_press press)
{
    if (button->press_count < PRESSES_MAX)
        button->presses[button->press_count++] = press;
}

static void watch_hold(struct td_button *button, int64_t now_ns)
{
    if (!button->down || button->told ||
        now_ns - button->down_ns < TD_BUTTON_LONG_MS * TD_NS_PER_MS)
        return;
    button->told = true;
    add_press(button, TD_PRESS_LONG);
}

/* Time is that of the wake-up, not the kernel's stamp: a press lies between two wake-ups, and the
 * one that it causes comes at once. A second key while one is down is passed over. */
static void take_event(struct td_button *button, const struct input_event *event, int64_t now_ns)
{
    if (event->type != EV_KEY || (button->key != ANY_KEY && event->code != button->key))
        return;
    if (event->value == 1 && !button->down) {
        button->down = true;
        button->told = false;
        button->down_key = event->code;
        button->down_ns = now_ns;
    } else if (event->value == 0 && button->down && event->code == button->down_key) {
        watch_hold(button, now_ns);
        if (!button->told)
            add_press(button, TD_PRESS_SHORT);
        button->down = false;
    }
}

/* 1 an event, 0 none for now, below 0 the device is gone. */
static int next_event(struct td_button *button, struct input_event *event)
{
    if (button->device == NULL) {
        ssize_t got = read(button->fd, event, sizeof *event);
        if (got == (ssize_t)sizeof *event)
            return 1;
        return got < 0 && (errno == EAGAIN || errno == EINTR) ? 0 : -1;
    }
    /* When the kernel's buffer ran over, libevdev tells what changed meanwhile. */
    int got = libevdev_next_event(
        button->device, button->syncs ? LIBEVDEV_READ_FLAG_SYNC : LIBEVDEV_READ_FLAG_NORMAL, event);
    if (got == -EAGAIN && button->syncs)
        got = libevdev_next_event(button->device, LIBEVDEV_READ_FLAG_NORMAL, event);
    button->syncs = got == LIBEVDEV_READ_STATUS_SYNC;
    if (got == LIBEVDEV_READ_STATUS_SUCCESS || got == LIBEVDEV_READ_STATUS_SYNC)
        return 1;
    return got == -EAGAIN || got == -EINTR ? 0 : -1;
}

void td_button_tick(struct td_button *button, int64_t now_ns)
{
    if (button->fd < 0 && now_ns >= button->retry_ns) {
        button->retry_ns = INT64_MAX;
        look_for_device(button, now_ns);
    }
    watch_hold(button, now_ns);
    for (int i = 0; i < EVENTS_A_TICK && button->fd >= 0; i++) {
        struct input_event event;
        int got = next_event(button, &event);
        if (got == 0)
            break;
        if (got < 0)
            drop_device(button, now_ns);
        else
            take_event(button, &event, now_ns);
    }
}

bool td_button_take(struct td_button *button, enum td_press *press)
{
    if (button->press_count == 0)
        return false;
    *press = button->presses[0];
    button->press_count--;
    memmove(button->presses, button->presses + 1, button->press_count * sizeof *button->presses);
    return true;
}

int64_t td_button_next_ns(const struct td_button *button)
{
    if (button->fd < 0)
        return button->retry_ns;
    if (button->down && !button->told)
        return button->down_ns + TD_BUTTON_LONG_MS * TD_NS_PER_MS;
    return INT64_MAX;
}

void td_button_close(struct td_button **button)
{
    if (button == NULL || *button == NULL)
        return;
    drop_device(*button, 0);
    free(*button);
    *button = NULL;
}
