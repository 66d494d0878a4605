/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A folder of drive logs of an hour each into one table: time and memory.
 *
 *   bench_fleet [--logs N] [--threads N] [--flat M] [--keep]
 *
 * Without options a short run for the suite: few logs of a short drive. The long one is
 * `bench_fleet --logs 1000 --flat 45000`: a thousand logs of an hour (6 drives, each copied; 2 GB
 * in the working folder, deleted afterwards). What is asserted is what cannot depend on the
 * machine: every descent is in the table, and memory does not grow with the number of logs. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "io/file.h"
#include "review/fleet.h"
#include "support/cm.h"
#include "support/hour_drive.h"

enum { BASES = 6 };

/* What the rows of some hundred logs and the allocator's own ways may take more than those of a
 * few. A log in memory would be a megabyte each. */
#define GROWS_MOST_KB 4096

#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
#define SANITIZED 1
#else
#define SANITIZED 0
#endif

static char folder[64];

static double seconds(clockid_t clock)
{
    struct timespec now;
    (void)clock_gettime(clock, &now);
    return (double)now.tv_sec + (double)now.tv_nsec * 1e-9;
}

/* Since peak_reset. Making the logs takes more memory than reading them, so the peak of the whole
 * process would hide what is asked for. */
static long peak_kb(void)
{
    char line[256];
    long kb = -1;
    FILE *status = fopen("/proc/self/status", "r");
    while (status != NULL && fgets(line, sizeof line, status) != NULL)
        if (sscanf(line, "VmHWM: %ld kB", &kb) == 1)
            break;
    if (status != NULL)
        (void)fclose(status);
    assert_true(kb > 0);
    return kb;
}

static void peak_reset(void)
{
    FILE *refs = fopen("/proc/self/clear_refs", "w");
    if (refs == NULL || fputs("5", refs) < 0 || fclose(refs) != 0) {
        printf("SKIPPED: the kernel does not let the peak of memory be reset\n");
        exit(77);
    }
}

static void copy(const char *from, const char *to)
{
    char *bytes = NULL;
    size_t length = 0;
    assert_int_equal(td_file_read(from, 64 << 20, &bytes, &length, NULL), TD_OK);
    FILE *file = fopen(to, "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(bytes, 1, length, file), length);
    assert_int_equal(fclose(file), 0);
    free(bytes);
}

/* FOLDER/bases/N/drive.db, then FOLDER/logs/drive-N.db as copies of them. */
static void make_logs(unsigned logs, double flat_m)
{
    char base[128], path[128];
    (void)snprintf(folder, sizeof folder, "fleet-bench.XXXXXX");
    assert_non_null(mkdtemp(folder));
    (void)snprintf(path, sizeof path, "%s/logs", folder);
    assert_int_equal(mkdir(path, 0700), 0);
    for (unsigned i = 0; i < BASES && i < logs; i++) {
        (void)snprintf(base, sizeof base, "%s/bases%u", folder, i);
        hour_drive(base, i, flat_m, 1893499200000LL + i * 86400000LL);
    }
    for (unsigned i = 0; i < logs; i++) {
        (void)snprintf(base, sizeof base, "%s/bases%u/drive.db", folder, i % BASES);
        (void)snprintf(path, sizeof path, "%s/logs/drive-%05u.db", folder, i);
        copy(base, path);
    }
}

static void sweep(void)
{
    char command[96];
    (void)snprintf(command, sizeof command, "rm -rf '%s'", folder);
    if (system(command) != 0)
        printf("%s stays behind\n", folder);
}

/* Returns the peak of memory, KB. */
static long read_them(const char *path, unsigned logs, unsigned threads)
{
    const struct td_fleet_options options = {.threads = threads};
    struct td_fleet *fleet = NULL;
    struct td_problem problem;
    peak_reset();
    double wall_s = seconds(CLOCK_MONOTONIC), cpu_s = seconds(CLOCK_PROCESS_CPUTIME_ID);
    if (td_fleet_read(path, &options, &fleet, &problem) != TD_OK)
        fail_msg("%s", problem.text);
    wall_s = seconds(CLOCK_MONOTONIC) - wall_s;
    cpu_s = seconds(CLOCK_PROCESS_CPUTIME_ID) - cpu_s;
    printf("%u logs, %u threads: %.2f s (%.2f s of processor, %.1f ms a log), %zu descents, "
           "peak memory %.1f MB\n", logs, threads, wall_s, cpu_s, cpu_s * 1e3 / logs,
           fleet->row_count, (double)peak_kb() / 1024);
    long kb = peak_kb();
    assert_int_equal(fleet->logs, logs);
    assert_int_equal(fleet->row_count, logs); /* each goes down the hill once */
    assert_int_equal(fleet->refused_count, 0);
    td_fleet_free(&fleet);
    return kb;
}

/* Sixteen of them first, to have seen what one needs; then all. */
static void run(unsigned logs, unsigned threads)
{
    char few[128], from[160], to[160];
    unsigned some = logs < 16 ? logs : 16;
    (void)snprintf(few, sizeof few, "%s/few", folder);
    assert_int_equal(mkdir(few, 0700), 0);
    for (unsigned i = 0; i < some; i++) {
        (void)snprintf(from, sizeof from, "%s/logs/drive-%05u.db", folder, i);
        (void)snprintf(to, sizeof to, "%s/drive-%05u.db", few, i);
        assert_int_equal(link(from, to), 0);
    }
    long few_kb = read_them(few, some, threads);
    (void)snprintf(few, sizeof few, "%s/logs", folder);
    long grown_kb = read_them(few, logs, threads) - few_kb;
    printf("memory grew by %ld KB from %u logs to %u\n", grown_kb, some, logs);
    if (!SANITIZED && grown_kb > GROWS_MOST_KB)
        fail_msg("memory grows with the number of logs");
}

int main(int argc, char **argv)
{
    unsigned logs = 48, threads = 2;
    double flat_m = 1200;
    bool keep = false;
    for (int i = 1; i < argc; i++) {
        if (strcmp(argv[i], "--logs") == 0 && i + 1 < argc)
            logs = (unsigned)strtoul(argv[++i], NULL, 10);
        else if (strcmp(argv[i], "--threads") == 0 && i + 1 < argc)
            threads = (unsigned)strtoul(argv[++i], NULL, 10);
        else if (strcmp(argv[i], "--flat") == 0 && i + 1 < argc)
            flat_m = (double)strtoul(argv[++i], NULL, 10);
        else if (strcmp(argv[i], "--keep") == 0)
            keep = true;
        else
            return 2;
    }
    if (!keep)
        (void)atexit(sweep);
    make_logs(logs, flat_m);
    run(logs, threads);
    return 0;
}
