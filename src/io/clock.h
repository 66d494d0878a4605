/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The clocks of the machine, read in one place. The daemon reads td_clock_now_ns once a wake-up. */
#ifndef TD_IO_CLOCK_H
#define TD_IO_CLOCK_H

#include <stdint.h>

/* CLOCK_BOOTTIME: never set by anybody, and runs on through suspend. */
int64_t td_clock_now_ns(void);
/* UTC since 1970; data for the log, never arithmetic. */
int64_t td_clock_utc_ms(void);

enum { TD_BOOT_ID_SIZE = 40 };
/* The kernel's name for this boot, so that td_clock_now_ns of two runs can be told to be of one
 * clock; "" when it cannot be read. */
void td_clock_boot_id(char id[TD_BOOT_ID_SIZE]);

#endif
