/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Processor time, for benches: what a thread has used, whatever else the machine does. */
#ifndef TD_TESTS_CPU_CLOCK_H
#define TD_TESTS_CPU_CLOCK_H

#include <stdint.h>
#include <sys/resource.h>
#include <time.h>

/* Of this thread, ns. Reading it costs some 0.2 to 0.5 us. */
static inline int64_t cpu_thread_ns(void)
{
    struct timespec now;
    (void)clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
    return now.tv_sec * INT64_C(1000000000) + now.tv_nsec;
}

/* Of all children that have ended, s: user and system. */
static inline double cpu_children_s(void)
{
    struct rusage usage;
    (void)getrusage(RUSAGE_CHILDREN, &usage);
    return (double)(usage.ru_utime.tv_sec + usage.ru_stime.tv_sec) +
           1e-6 * (double)(usage.ru_utime.tv_usec + usage.ru_stime.tv_usec);
}

#endif
