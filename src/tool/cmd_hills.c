/* SPDX-License-Identifier: GPL-3.0-or-later */
/* talkdown hills: its words and options; each part has a file of its own. */
#include <string.h>

#include "tool/commands.h"
#include "tool/hills.h"
#include "tool/tool.h"

enum { PATHS_MOST = 4096 };

struct options {
    const char *out;
    bool as_json, force;
};

static int run(const char *what, const struct options *options, const char *const *paths,
               size_t count)
{
    bool packs = strcmp(what, "pack") == 0, lists = strcmp(what, "list") == 0;
    bool checks = strcmp(what, "check") == 0, verifies = strcmp(what, "verify") == 0;
    if (!packs && !lists && !checks && !verifies)
        return td_tool_fail_words("hills: \"%s\" is nothing it does; hills check, list, pack or "
                                  "verify is right",
                                  what);
    if (count == 0)
        return td_tool_fail_words("hills %s: no %s", what,
                                  verifies ? "library; name one"
                                           : "profile; name files or folders");
    if (options->as_json && !lists)
        return td_tool_fail_words("hills %s: --json belongs to hills list", what);
    if (!packs && (options->out != NULL || options->force))
        return td_tool_fail_words("hills %s: --out and --force belong to hills pack", what);
    if (packs && options->out == NULL)
        return td_tool_fail_words("hills pack: no --out; name the library to write, for example "
                                  "--out country.hills");
    if (packs)
        return td_hills_pack(paths, count, options->out, options->force);
    if (lists)
        return td_hills_list(paths, count, options->as_json);
    return checks ? td_hills_check(paths, count) : td_hills_verify(paths, count);
}

int td_cmd_hills(int argc, char **argv)
{
    struct options options = {NULL, false, false};
    const struct td_tool_option table[] = {{"json", NULL, &options.as_json},
                                           {"out", &options.out, NULL},
                                           {"force", NULL, &options.force}};
    static const char *words[PATHS_MOST];
    struct td_tool_line line = {
        .usage = "hills check|list PATH... [--json], hills pack PATH... --out LIBRARY.hills "
                 "[--force], or hills verify LIBRARY.hills...",
        .more = "A PATH is a profile (.geojson), a folder of them, or a library (.hills).\n",
        .options = table,
        .option_count = sizeof table / sizeof table[0],
        .words = words,
        .word_most = PATHS_MOST};
    struct td_problem problem;
    if (td_tool_options(argc, argv, &line, &problem) != TD_OK)
        return td_tool_fail(&problem);
    if (line.help)
        return TD_EXIT_DONE;
    if (line.word_count == 0)
        return run("", &options, words, 0);
    return run(words[0], &options, words + 1, line.word_count - 1);
}
