/* SPDX-License-Identifier: GPL-3.0-or-later */
/* talkdown hills pack and verify: profiles into one file, and whether such a file is sound. */
#include <stdio.h>

#include "io/library_file.h"
#include "io/library_pack.h"
#include "io/problem.h"
#include "tool/hills.h"
#include "tool/progress.h"
#include "tool/tool.h"

struct packing {
    struct td_library_pack *pack;
    struct td_progress progress;
    size_t read;
};

static enum td_result pack_one(void *context, const struct td_hill_visit *visit,
                               struct td_problem *problem)
{
    struct packing *packing = context;
    if (visit->result != TD_OK) {
        *problem = *visit->problem;
        return visit->result;
    }
    td_progress_at(&packing->progress, ++packing->read, 0);
    return td_library_pack_add(packing->pack, visit->file, visit->name, problem);
}

static void tell(void *whom, size_t done, size_t total)
{
    td_progress_at(whom, done, total);
}

static enum td_result add_all(struct packing *packing, const char *const *paths, size_t count,
                              struct td_problem *problem)
{
    enum td_result result = TD_OK;
    td_progress_begin(&packing->progress, "hills read:");
    for (size_t i = 0; result == TD_OK && i < count; i++)
        result = td_hills_visit(paths[i], pack_one, packing, problem);
    td_progress_end(&packing->progress);
    return result;
}

int td_hills_pack(const char *const *paths, size_t count, const char *out, bool force)
{
    struct packing packing = {.read = 0};
    struct td_problem problem = {0};
    struct td_library_made made;
    enum td_result result = td_library_pack_begin(out, force, &packing.pack, &problem);
    if (result == TD_OK)
        result = add_all(&packing, paths, count, &problem);
    if (result == TD_OK) {
        td_progress_begin(&packing.progress, "writing");
        result = td_library_pack_finish(&packing.pack, tell, &packing.progress, &made, &problem);
        td_progress_end(&packing.progress);
    }
    td_library_pack_abandon(&packing.pack);
    if (result != TD_OK)
        return td_tool_fail(&problem);
    (void)printf("%s: %zu hills, %zu pieces of road, %lld bytes, root %s\n", out, made.hills,
                 made.pieces, made.bytes, made.root);
    return TD_EXIT_DONE;
}

/* The first thing that is wrong is told, and how many hills are. */
static enum td_result verify_hills(struct td_library_file *library, size_t *bad,
                                   struct td_problem *problem)
{
    struct td_progress progress;
    enum td_result worst = TD_OK;
    size_t count = td_library_file_count(library);
    td_progress_begin(&progress, "verifying");
    for (size_t i = 0; i < count; i++) {
        struct td_problem here = {0};
        enum td_result result = td_library_file_check(library, i, &here);
        if (result != TD_OK && (*bad)++ == 0) {
            worst = result;
            *problem = here;
        }
        td_progress_at(&progress, i + 1, count);
    }
    td_progress_end(&progress);
    return worst;
}

static int verify_one(const char *path)
{
    struct td_library_file *library = NULL;
    struct td_problem problem = {0};
    size_t bad = 0;
    if (td_library_file_open(path, &library, &problem) != TD_OK)
        return td_tool_fail(&problem);
    size_t count = td_library_file_count(library);
    enum td_result result = verify_hills(library, &bad, &problem);
    if (result == TD_OK)
        (void)printf("%s: unsigned: nobody vouches for it. Verified: its %zu hills, their hashes, "
                     "list and index are what its own manifest says, as after packing. Not "
                     "verified: who packed it (this version reads no signatures)\n",
                     path, count);
    td_library_file_close(&library);
    if (result == TD_OK)
        return TD_EXIT_NO;
    if (bad > 1)
        (void)fprintf(stderr, "talkdown: %s: %zu of %zu hills are bad; the first:\n", path, bad,
                      count);
    return td_tool_fail(&problem);
}

int td_hills_verify(const char *const *paths, size_t count)
{
    int worst = TD_EXIT_DONE;
    for (size_t i = 0; i < count; i++) {
        int code = verify_one(paths[i]);
        worst = code > worst ? code : worst;
    }
    return worst;
}
