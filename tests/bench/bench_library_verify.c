/* SPDX-License-Identifier: GPL-3.0-or-later */
/* bench_library_verify LIBRARY...: what looking through a whole library costs (library_audit.h),
 * and what the I/O thread's answers wait for it. Each library is looked through once without a
 * pause; then the I/O thread of the daemon is started on it and asked for the hills round random
 * places of ocean hills (make_library packs them), 50 times a second, while it looks through the
 * library and again once it has.
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
        int64_t step_ns = td_clock_now_ns();
        if (td_library_audit_step(audit, &done, &problem) != TD_OK)
            die("damaged", &problem);
        if (steps == room && (took_us = realloc(took_us, (room *= 2) * sizeof *took_us)) == NULL)
            die("no memory", NULL);
        took_us[steps++] = us_since(step_ns);
    }
    (void)printf("%s: %zu hills, %zu steps, %.2f s, of which %.2f s of the processor\n", path,
                 td_library_file_count(library), steps, us_since(from_ns) / 1e6,
                 (double)(cpu_thread_ns() - cpu_ns) / 1e9);
    print_times("a step", took_us, steps);
    td_library_audit_close(&audit);
    td_library_file_close(&library);
    free(took_us);
}

/* --- beside answers --- */

struct beside {
    struct td_library *library;
    struct td_rng rng;
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

static double ask(struct beside *beside)
{
    struct td_want want = {.serial = ++beside->serial, .radius_m = radius_m};
    ocean_hill_place(td_rng_below(&beside->rng, beside->hills), &want.lat_deg, &want.lon_deg);
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

static size_t ask_often(struct beside *beside, bool until_whole, double took_us[WANTS])
{
    size_t count = 0;
    while (count < WANTS && !(until_whole && beside->whole)) {
        took_us[count++] = ask(beside);
        struct pollfd wait = {.fd = td_library_fd(beside->library), .events = POLLIN};
        struct td_answer answer;
        (void)poll(&wait, 1, APART_MS);
        (void)take(beside, &answer);
    }
    return count;
}

static void answer_beside(const char *path)
{
    static const struct td_trust nobody;
    struct td_library_source source = {path, "", nobody};
    struct td_library_begun begun;
    struct td_problem problem;
    struct beside beside = {.whole = false};
    double during_us[WANTS], after_us[WANTS];
    int64_t from_ns = td_clock_now_ns();
    if (td_library_start(&source, &beside.library, &begun, &problem) != TD_OK)
        die("starting", &problem);
    beside.hills = begun.on_board.hills;
    td_rng_seed(&beside.rng, 7, 1);
    size_t during = ask_often(&beside, true, during_us);
    while (!beside.whole)
        (void)next(&beside);
    (void)printf("  verified by the I/O thread after     %.1f s\n", us_since(from_ns) / 1e6);
    size_t after = ask_often(&beside, false, after_us);
    print_times("an answer meanwhile", during_us, during);
    print_times("an answer afterwards", after_us, after);
    td_library_stop(&beside.library);
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
