/* SPDX-License-Identifier: GPL-3.0-or-later */
/* make_library N OUT.hills: N invented hills through the packer, as by "hills pack". Replaces OUT.
 * Prints size and the most memory it took. */
#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <unistd.h>

#include "io/library_pack.h"
#include "io/problem.h"
#include "support/ocean_hills.h"

static int on_terminal;

static void tell(void *what, size_t done, size_t total)
{
    if (on_terminal)
        (void)fprintf(stderr, "\r%s %zu of %zu ", (const char *)what, done, total);
}

static enum td_result add(struct td_library_pack *pack, unsigned index, struct td_problem *problem)
{
    char name[32];
    size_t length = 0;
    struct td_hill_file *file = NULL;
    (void)snprintf(name, sizeof name, "ocean hill %u", index);
    char *text = ocean_hill_text(index, &length);
    if (text == NULL)
        return td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "no memory");
    enum td_result result = td_hill_file_parse(name, text, length, &file, problem);
    if (result == TD_OK)
        result = td_library_pack_add(pack, file, name, problem);
    td_hill_file_free(&file);
    free(text);
    return result;
}

int main(int argc, char **argv)
{
    static char making[] = "hills made", writing[] = "written";
    unsigned count = argc == 3 ? (unsigned)strtoul(argv[1], NULL, 10) : 0;
    if (count < 1 || count > OCEAN_HILLS_MAX) {
        (void)fprintf(stderr, "use: make_library N OUT.hills (1 to %d)\n", (int)OCEAN_HILLS_MAX);
        return 2;
    }
    on_terminal = isatty(STDERR_FILENO);
    struct td_library_pack *pack = NULL;
    struct td_library_made made;
    struct td_problem problem = {0};
    enum td_result result = td_library_pack_begin(argv[2], true, &pack, &problem);
    for (unsigned i = 0; result == TD_OK && i < count; i++) {
        result = add(pack, i, &problem);
        if (i % 256 == 0 || i + 1 == count)
            tell(making, i + 1, count);
    }
    if (result == TD_OK)
        result = td_library_pack_finish(&pack, tell, writing, &made, &problem);
    td_library_pack_abandon(&pack);
    if (on_terminal)
        (void)fputc('\n', stderr);
    if (result != TD_OK) {
        char line[1024];
        (void)fprintf(stderr, "%s\n", td_problem_line(&problem, line, sizeof line));
        return 2;
    }
    struct rusage use;
    (void)getrusage(RUSAGE_SELF, &use);
    (void)printf("%s: %zu hills, %zu pieces of road, %lld bytes; most memory %ld KiB\nroot %s\n",
                 argv[2], made.hills, made.pieces, made.bytes, use.ru_maxrss, made.root);
    return 0;
}
