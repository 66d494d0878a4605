/* SPDX-License-Identifier: GPL-3.0-or-later */
/* bench_library_verify LIBRARY...: what looking through a whole library costs (library_audit.h),
 * and what the I/O thread's answers wait for it. Each library of ocean hills (make_library packs
 * them) is looked through once without a pause. Then two I/O threads of the daemon have it open, of
 * which one has looked through it and the other is about it, and both are asked for the hills round
 * the same random places, in turn, 50 times a second: whatever else the machine does hits both.
 *
 * Times are printed, never judged. Judged is that all was found whole and every answer came. */
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>

#include "daemon/library.h"
#include "io/clock.h"
#include "io/library_audit.h"
#include "io/problem.h"
#include "support/cpu_clock.h"
#include "support/ocean_hills.h"
#include "talkdown/rng.h"

enum { WANTS = 200, APART_MS = 20, WAIT_MS = 600000 };

static const double radius_m = 6000; /* as the coach asks */

static void die(const char *what, const struct td_problem *problem)
{
    char line[1024] = "";
    if (problem != NULL)
        (void)td_problem_line(problem, line, sizeof line);
    (void)fprintf(stderr, "bench_library_verify: %s %s\n", what, line);
    exit(2);
}

static double us_since(int64_t from_ns)
{
    return (double)(td_clock_now_ns() - from_ns) / 1e3;
}

static int by_value(const void *a, const void *b)
{
    double left = *(const double *)a, right = *(const double *)b;
    return (left > right) - (left < right);
}

static void print_times(const char *what, double *took_us, size_t count)
{
    qsort(took_us, count, sizeof *took_us, by_value);
    (void)printf("  %-34s p50 %8.0f us, p99 %8.0f us, most %8.0f us\n", what, took_us[count / 2],
                 took_us[count * 99 / 100], took_us[count - 1]);
}

/* --- without a pause --- */

static void look_through(const char *path)
{
    struct td_library_file *library = NULL;
    struct td_library_audit *audit = NULL;
    struct td_problem problem;
    size_t room = 1024, steps = 0;
    double *took_us = malloc(room * sizeof *took_us);
    bool done = false;
    if (took_us == NULL || td_library_file_open(path, &library, &problem) != TD_OK ||
        td_library_audit_open(library, TD_AUDIT_ALL, &audit, &problem) != TD_OK)
        die("opening", &problem);
    int64_t cpu_ns = cpu_thread_ns();
    int64_t from_ns = td_clock_now_ns();
    while (!done) {
        int64_t step_ns = cpu_thread_ns();
        if (td_library_audit_step(audit, &done, &problem) != TD_OK)
            die("damaged", &problem);
        if (steps == room && (took_us = realloc(took_us, (room *= 2) * sizeof *took_us)) == NULL)
            die("no memory", NULL);
        took_us[steps++] = (double)(cpu_thread_ns() - step_ns) / 1e3;
    }
    (void)printf("%s: %zu hills, %zu steps, %.2f s, of which %.2f s of the processor\n", path,
                 td_library_file_count(library), steps, us_since(from_ns) / 1e6,
                 (double)(cpu_thread_ns() - cpu_ns) / 1e9);
    print_times("a step, of the processor", took_us, steps);
    td_library_audit_close(&audit);
    td_library_file_close(&library);
    free(took_us);
}

/* --- beside answers --- */

struct beside {
    struct td_library *library;
    uint32_t hills, serial;
    bool whole;
};

static bool take(struct beside *beside, struct td_answer *answer)
{
    if (!td_library_take(beside->library, answer))
        return false;
    if (answer->kind == TD_ANSWER_VERIFIED && answer->result != TD_OK)
        die("damaged", &answer->problem);
    beside->whole = beside->whole || answer->kind == TD_ANSWER_VERIFIED;
    return true;
}

static struct td_answer next(struct beside *beside)
{
    struct td_answer answer;
    struct pollfd wait = {.fd = td_library_fd(beside->library), .events = POLLIN};
    while (!take(beside, &answer))
        if (poll(&wait, 1, WAIT_MS) != 1)
            die("no answer came", NULL);
    return answer;
}

static double ask(struct beside *beside, struct td_want want)
{
    want.serial = ++beside->serial;
    int64_t from_ns = td_clock_now_ns();
    if (!td_library_want(beside->library, 1, &want))
        die("the I/O thread does not keep up", NULL);
    struct td_answer answer = {.kind = TD_ANSWER_OFFER, .offer = {.kind = TD_OFFER_HILL}};
    while (answer.kind != TD_ANSWER_OFFER || answer.offer.kind == TD_OFFER_HILL) {
        answer = next(beside);
        if (answer.kind == TD_ANSWER_OFFER && answer.offer.kind == TD_OFFER_HILL)
            (void)td_library_release(beside->library, 1, answer.offer.handle);
    }
    if (answer.offer.kind != TD_OFFER_END)
        die("a search failed", &answer.problem);
    return us_since(from_ns);
}

static void start(struct beside *beside, const char *path)
{
    static const struct td_trust nobody;
    struct td_library_source source = {path, "", nobody};
    struct td_library_begun begun;
    struct td_problem problem;
    if (td_library_start(&source, &beside->library, &begun, &problem) != TD_OK)
        die("starting", &problem);
    beside->hills = begun.on_board.hills;
}

static void answer_beside(const char *path)
{
    struct beside over = {.whole = false}, under_way = {.whole = false};
    double over_us[WANTS], under_way_us[WANTS];
    struct td_rng rng;
    int64_t from_ns = td_clock_now_ns();
    start(&over, path);
    while (!over.whole)
        (void)next(&over);
    (void)printf("  verified by the I/O thread after    %10.1f s\n", us_since(from_ns) / 1e6);
    start(&under_way, path);
    td_rng_seed(&rng, 7, 1);
    size_t count = 0;
    for (; count < WANTS && !under_way.whole; count++) {
        struct td_want want = {.radius_m = radius_m};
        ocean_hill_place(td_rng_below(&rng, over.hills), &want.lat_deg, &want.lon_deg);
        if (count % 2 == 0)
            over_us[count] = ask(&over, want);
        under_way_us[count] = ask(&under_way, want);
        if (count % 2 != 0)
            over_us[count] = ask(&over, want);
        struct td_answer answer;
        struct pollfd wait = {.fd = td_library_fd(under_way.library), .events = POLLIN};
        (void)poll(&wait, 1, APART_MS);
        (void)take(&under_way, &answer);
    }
    print_times("an answer while it looks through", under_way_us, count);
    print_times("an answer of one that has", over_us, count);
    td_library_stop(&under_way.library);
    td_library_stop(&over.library);
}

int main(int argc, char **argv)
{
    struct rusage use;
    if (argc < 2)
        die("use: bench_library_verify LIBRARY...", NULL);
    for (int i = 1; i < argc; i++) {
        look_through(argv[i]);
        answer_beside(argv[i]);
    }
    (void)getrusage(RUSAGE_SELF, &use);
    (void)printf("most memory %ld KiB\n", use.ru_maxrss);
    return 0;
}
