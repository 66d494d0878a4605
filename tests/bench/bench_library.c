/* SPDX-License-Identifier: GPL-3.0-or-later */
/* bench_library [--keep FOLDER] [N...]: libraries of N ocean hills (10 and 1000 unless told), each
 * looked at by a process of its own: time to open, cost of a search with its reading, cost of a fix
 * with all that the coach asks for on the way, and the most memory taken, here and by talkdownd.
 * With --keep, libraries stay in the folder as oceanN.hills and are used again.
 *
 * Times are printed, never judged: they are the machine's. Judged is what the machine cannot
 * change: work of SQLite, pages asked for, and memory, against the first library of the run. */
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "bench/library_drive.h"
#include "io/clock.h"
#include "io/library_file.h"
#include "io/library_pack.h"
#include "io/problem.h"
#include "support/ocean_hills.h"
#include "talkdown/rng.h"

enum { SIZES_MAX = 8, OPENS = 15, WANTS = 400, DRIVES = 3, DAEMON_WAIT_MS = 60000 };

static const double radius_m = 6000; /* as the coach asks */
static const long memory_more_kib = 2048;

struct figures {
    size_t hills, road_pieces;
    long long bytes;
    double open_us, near_us, read_us;
    double hills_near, near_steps, near_pages, read_pages;
    struct drive_cost drive;
    long memory_kib, daemon_kib;
};

static void die(const char *what, const struct td_problem *problem)
{
    char line[1024] = "";
    if (problem != NULL)
        (void)td_problem_line(problem, line, sizeof line);
    (void)fprintf(stderr, "bench_library: %s %s\n", what, line);
    exit(2);
}

/* --- libraries --- */

static void make_library(const char *path, size_t hills)
{
    struct td_library_pack *pack = NULL;
    struct td_library_made made;
    struct td_problem problem;
    if (td_library_pack_begin(path, true, &pack, &problem) != TD_OK)
        die("packing", &problem);
    for (unsigned i = 0; i < hills; i++) {
        size_t length = 0;
        struct td_hill_file *file = NULL;
        char *text = ocean_hill_text(i, &length);
        if (text == NULL ||
            td_hill_file_parse("ocean hill", text, length, &file, &problem) != TD_OK ||
            td_library_pack_add(pack, file, "ocean hill", &problem) != TD_OK)
            die("packing", &problem);
        td_hill_file_free(&file);
        free(text);
    }
    if (td_library_pack_finish(&pack, NULL, NULL, &made, &problem) != TD_OK)
        die("packing", &problem);
}

/* In a child, whose memory does not count for what is measured after it. */
static void make_in_child(const char *path, size_t hills)
{
    int status = 0;
    pid_t child = fork();
    if (child == 0) {
        make_library(path, hills);
        _exit(0);
    }
    if (child < 0 || waitpid(child, &status, 0) != child || status != 0)
        die("packing failed", NULL);
}

static void from_root(const char *path, char *full, size_t size)
{
    char here[2048] = "";
    if (path[0] != '/' && getcwd(here, sizeof here) == NULL)
        die(path, NULL);
    (void)snprintf(full, size, "%s%s%s", here, here[0] != '\0' ? "/" : "", path);
}

/* --- what one process measures --- */

static int by_value(const void *a, const void *b)
{
    double left = *(const double *)a, right = *(const double *)b;
    return (left > right) - (left < right);
}

static double us_since(int64_t from_ns)
{
    return (double)(td_clock_now_ns() - from_ns) / 1e3;
}

static double open_us(const char *path)
{
    double took_us[OPENS];
    struct td_problem problem;
    for (int i = 0; i < OPENS; i++) {
        struct td_library_file *library = NULL;
        int64_t from_ns = td_clock_now_ns();
        if (td_library_file_open(path, &library, &problem) != TD_OK)
            die("opening", &problem);
        took_us[i] = us_since(from_ns);
        td_library_file_close(&library);
    }
    qsort(took_us, OPENS, sizeof took_us[0], by_value);
    return took_us[OPENS / 2];
}

static void search(struct td_library_file *library, struct figures *figures)
{
    struct td_rng rng;
    td_rng_seed(&rng, 99, 1);
    size_t read = 0;
    for (int i = 0; i < WANTS; i++) {
        double lat_deg, lon_deg;
        size_t indexes[TD_NEAR_MAX], found = 0;
        struct td_problem problem;
        ocean_hill_place(td_rng_below(&rng, (uint32_t)figures->hills), &lat_deg, &lon_deg);
        struct td_library_work before = td_library_file_work(library);
        int64_t from_ns = td_clock_now_ns();
        if (td_library_file_near(library, lat_deg, lon_deg, radius_m, indexes, TD_NEAR_MAX, &found,
                                 &problem) != TD_OK)
            die("searching", &problem);
        figures->near_us += us_since(from_ns) / WANTS;
        struct td_library_work after = td_library_file_work(library);
        figures->near_steps += (double)(after.steps - before.steps) / WANTS;
        figures->near_pages += (double)(after.pages - before.pages) / WANTS;
        figures->hills_near += (double)found / WANTS;
        struct td_hill_file *file = NULL;
        from_ns = td_clock_now_ns();
        if (found == 0 || td_library_file_read(library, indexes[0], &file, &problem) != TD_OK)
            die("reading", &problem);
        figures->read_us += us_since(from_ns);
        figures->read_pages += (double)(td_library_file_work(library).pages - after.pages);
        read++;
        td_hill_file_free(&file);
    }
    figures->read_us /= (double)read;
    figures->read_pages /= (double)read;
}

static void measure(const char *path, struct figures *figures)
{
    struct td_library_file *library = NULL;
    struct td_problem problem;
    struct stat about;
    struct rusage use;
    figures->open_us = open_us(path);
    if (td_library_file_open(path, &library, &problem) != TD_OK || stat(path, &about) != 0)
        die("opening", &problem);
    figures->bytes = about.st_size;
    figures->hills = td_library_file_count(library);
    search(library, figures);
    td_library_file_close(&library);
    for (int i = 0; i < DRIVES; i++) {
        struct drive_cost drive;
        if (!drive_library(path, &drive, &problem))
            die("driving", &problem);
        if (i == 0 || drive.fix_us < figures->drive.fix_us)
            figures->drive = drive;
    }
    (void)getrusage(RUSAGE_SELF, &use);
    figures->memory_kib = use.ru_maxrss;
}

/* A child's memory is its own: what this process or another child took does not count. */
static void in_child(const char *path, struct figures *figures)
{
    int ends[2];
    if (pipe(ends) != 0)
        die("pipe", NULL);
    pid_t child = fork();
    if (child == 0) {
        (void)close(ends[0]);
        measure(path, figures);
        _exit(write(ends[1], figures, sizeof *figures) == (ssize_t)sizeof *figures ? 0 : 2);
    }
    (void)close(ends[1]);
    bool whole = child > 0 && read(ends[0], figures, sizeof *figures) == (ssize_t)sizeof *figures;
    int status = 0;
    (void)close(ends[0]);
    if (child < 0 || waitpid(child, &status, 0) != child || status != 0 || !whole)
        die("the measuring process failed", NULL);
}

/* --- talkdownd --- */

static void write_settings(const char *folder, const char *hills)
{
    char path[512];
    (void)snprintf(path, sizeof path, "%s/settings.yaml", folder);
    FILE *to = fopen(path, "w");
    if (to == NULL)
        die(path, NULL);
    /* Nobody listens on port 1: it waits for gpsd, as it does in a truck that has just started. */
    (void)fprintf(to,
                  "hills: %s\nrig: \"%s\"\nphrases: %s\nlogs: \"\"\ncontrol: control\n"
                  "state: state\ngpsd_host: 127.0.0.1\ngpsd_port: 1\n",
                  hills, TD_SOURCE_DIR "/profiles/rigs/five-axle.yaml",
                  TD_SOURCE_DIR "/sounds/phrases");
    if (fclose(to) != 0)
        die(path, NULL);
}

static pid_t start_daemon(const char *folder, int *errors)
{
    int ends[2];
    char settings[512];
    (void)snprintf(settings, sizeof settings, "%s/settings.yaml", folder);
    if (pipe(ends) != 0)
        die("pipe", NULL);
    pid_t child = fork();
    if (child == 0) {
        (void)dup2(ends[1], STDERR_FILENO);
        (void)close(ends[0]);
        (void)execl(TD_TALKDOWND, "talkdownd", "--settings", settings, (char *)NULL);
        _exit(127);
    }
    (void)close(ends[1]);
    *errors = ends[0];
    return child;
}

static bool wait_for_words(int fd, const char *words)
{
    static char text[65536];
    size_t length = 0;
    int64_t until_ns = td_clock_now_ns() + DAEMON_WAIT_MS * INT64_C(1000000);
    while (td_clock_now_ns() < until_ns && length + 1 < sizeof text) {
        struct pollfd wait = {.fd = fd, .events = POLLIN};
        if (poll(&wait, 1, 1000) < 0)
            return false;
        ssize_t got = wait.revents != 0 ? read(fd, text + length, sizeof text - 1 - length) : 0;
        if (got < 0 || (got == 0 && wait.revents != 0))
            return false;
        length += (size_t)got;
        text[length] = '\0';
        if (strstr(text, words) != NULL)
            return true;
    }
    return false;
}

static long most_memory_kib(pid_t pid)
{
    char path[64], line[256];
    long kib = -1;
    (void)snprintf(path, sizeof path, "/proc/%ld/status", (long)pid);
    FILE *from = fopen(path, "r");
    while (from != NULL && fgets(line, sizeof line, from) != NULL)
        if (strncmp(line, "VmHWM:", 6) == 0)
            kib = strtol(line + 6, NULL, 10);
    if (from != NULL)
        (void)fclose(from);
    return kib;
}

static long daemon_kib(const char *folder, const char *hills, size_t count)
{
    char ready[64];
    int errors = -1;
    (void)snprintf(ready, sizeof ready, "ready, %zu hills on board", count);
    write_settings(folder, hills);
    pid_t child = start_daemon(folder, &errors);
    if (child < 0 || !wait_for_words(errors, ready)) {
        (void)kill(child, SIGKILL);
        die("talkdownd did not come up", NULL);
    }
    long kib = most_memory_kib(child);
    (void)kill(child, SIGTERM);
    int status = 0;
    (void)waitpid(child, &status, 0);
    (void)close(errors);
    if (status != 0)
        die("talkdownd did not end well", NULL);
    return kib;
}

/* --- the run --- */

static void print_table(const struct figures *all, size_t count)
{
    (void)printf("| hills | size, MB | open, ms | search, us | read, us | near | steps | pages | "
                 "fix, us | ratio | most memory, KiB | talkdownd, KiB |\n"
                 "|--:|--:|--:|--:|--:|--:|--:|--:|--:|--:|--:|--:|\n");
    for (size_t i = 0; i < count; i++) {
        const struct figures *f = &all[i];
        (void)printf("| %zu | %.1f | %.2f | %.0f | %.0f | %.1f | %.0f | %.1f + %.1f | %.2f | %.2f "
                     "| %ld | %ld |\n",
                     f->hills, (double)f->bytes / 1e6, f->open_us / 1e3, f->near_us, f->read_us,
                     f->hills_near, f->near_steps, f->near_pages, f->read_pages, f->drive.fix_us,
                     f->drive.fix_us / all[0].drive.fix_us, f->memory_kib, f->daemon_kib);
    }
    for (size_t i = 0; i < count; i++)
        (void)printf("%zu hills: %zu fixes driven, %zu searches, %zu hills handed out, %zu "
                     "recognised\n",
                     all[i].hills, all[i].drive.fixes, all[i].drive.wants, all[i].drive.offers,
                     all[i].drive.recognised);
}

static int judge(const struct figures *all, size_t count)
{
    int bad = 0;
    for (size_t i = 0; i < count; i++) {
        const struct figures *f = &all[i], *first = &all[0];
        /* A tree that is deeper by two levels, and one row more for each piece that is near. */
        bool flat = f->near_steps <= 2 * first->near_steps + 200 &&
                    f->near_pages <= first->near_pages + 30 &&
                    f->read_pages <= first->read_pages + 10;
        bool small = f->memory_kib <= first->memory_kib + memory_more_kib &&
                     f->daemon_kib <= first->daemon_kib + memory_more_kib && f->daemon_kib > 0;
        bool drove = f->drive.recognised > 0 && f->drive.wants > 0;
        if (!flat || !small || !drove) {
            (void)printf("WRONG: %zu hills: %s\n", f->hills,
                         !flat    ? "a search does more work than it may"
                         : !small ? "memory grows with the library"
                                  : "nothing was recognised on the way");
            bad = 1;
        }
    }
    return bad;
}

static void remove_folder(const char *folder)
{
    static const char *const names[] = {"settings.yaml", "state", "control"};
    char path[512];
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        (void)snprintf(path, sizeof path, "%s/%s", folder, names[i]);
        (void)unlink(path);
    }
    (void)rmdir(folder);
}

int main(int argc, char **argv)
{
    size_t sizes[SIZES_MAX] = {10, 1000}, count = 0;
    const char *keep = NULL;
    for (int i = 1; i < argc; i++) {
        if (strcmp(argv[i], "--keep") == 0 && i + 1 < argc)
            keep = argv[++i];
        else if (count < SIZES_MAX)
            sizes[count++] = strtoul(argv[i], NULL, 10);
    }
    count = count == 0 ? 2 : count;
    char scratch[] = "bench-library.XXXXXX", path[256];
    static struct figures all[SIZES_MAX];
    if (mkdtemp(scratch) == NULL)
        die("mkdtemp", NULL);
    for (size_t i = 0; i < count; i++) {
        char full[4096];
        (void)snprintf(path, sizeof path, "%s/ocean%zu.hills", keep != NULL ? keep : scratch,
                       sizes[i]);
        if (access(path, R_OK) != 0)
            make_in_child(path, sizes[i]);
        from_root(path, full, sizeof full);
        in_child(path, &all[i]);
        all[i].daemon_kib = daemon_kib(scratch, full, sizes[i]);
        if (keep == NULL)
            (void)unlink(path);
    }
    remove_folder(scratch);
    print_table(all, count);
    return judge(all, count);
}
