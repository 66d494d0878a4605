/* SPDX-License-Identifier: GPL-3.0-or-later */
/* talkdown hills pack: profiles into one file. */
#include <stdio.h>

#include "io/library_file.h"
#include "io/library_pack.h"
#include "io/problem.h"
#include "tool/hills/hills.h"
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

int td_hills_pack(const char *const *paths, size_t count,
                  const struct td_hills_pack_options *options)
{
    struct packing packing = {.read = 0};
    struct td_problem problem = {0};
    struct td_library_made made;
    enum td_result result =
        td_library_pack_begin(options->out, options->force, &packing.pack, &problem);
    if (result == TD_OK) {
        td_library_pack_revision(packing.pack, options->revision);
        result = add_all(&packing, paths, count, &problem);
    }
    if (result == TD_OK) {
        td_progress_begin(&packing.progress, "writing");
        result = td_library_pack_finish(&packing.pack, tell, &packing.progress, &made, &problem);
        td_progress_end(&packing.progress);
    }
    td_library_pack_abandon(&packing.pack);
    if (result != TD_OK)
        return td_tool_fail(&problem);
    (void)printf("%s: %zu hills, %zu pieces of road, %lld bytes, ", options->out, made.hills,
                 made.pieces, made.bytes);
    if (options->revision > 0)
        (void)printf("revision %u, ", options->revision);
    (void)printf("unsigned, root %s\n", made.root);
    return TD_EXIT_DONE;
}
