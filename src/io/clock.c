/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The clocks of the machine. */
#include "io/clock.h"

#include <fcntl.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "talkdown/units.h"

int64_t td_clock_now_ns(void)
{
    struct timespec now = {0};
    (void)clock_gettime(CLOCK_BOOTTIME, &now);
    return (int64_t)now.tv_sec * TD_NS_PER_S + now.tv_nsec;
}

int64_t td_clock_utc_ms(void)
{
    struct timespec now = {0};
    (void)clock_gettime(CLOCK_REALTIME, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / TD_NS_PER_MS;
}

void td_clock_boot_id(char id[TD_BOOT_ID_SIZE])
{
    memset(id, 0, TD_BOOT_ID_SIZE);
    int fd = open("/proc/sys/kernel/random/boot_id", O_RDONLY | O_CLOEXEC);
    if (fd < 0)
        return;
    ssize_t got = read(fd, id, TD_BOOT_ID_SIZE - 1);
    (void)close(fd);
    id[got > 0 ? got : 0] = '\0';
    id[strcspn(id, "\n")] = '\0';
}
