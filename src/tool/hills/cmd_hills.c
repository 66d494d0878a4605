/* SPDX-License-Identifier: GPL-3.0-or-later */
/* talkdown hills: its words and options; each part has a file of its own. */
#include <string.h>

#include "io/library_schema.h"
#include "tool/commands.h"
#include "tool/hills/hills.h"
#include "tool/hills/hills_page.h"
#include "tool/tool.h"

enum { PATHS_MOST = 4096 };

enum part { CHECK, LIST, PACK, MANIFEST, ATTACH, VERIFY, PARTS };

static const char *const part_words[PARTS] = {"check",    "list",   "pack",
                                              "manifest", "attach", "verify"};

static const char usage[] = "hills check|list PATH... [--json], hills pack PATH... --out "
                            "LIBRARY.hills, or hills verify LIBRARY.hills...; hills --help tells "
                            "all";

static const char more[] =
    "  check PATH... [--json]     what is wrong and what looks wrong, a finding a line\n"
    "  list PATH... [--json]      what is on file\n"
    "  list PATH... --page FILE.html [--metric] [--force]\n"
    "                             the same as a page: a map and the heights of each hill\n"
    "  pack PATH... --out LIBRARY.hills [--revision N] [--force]\n"
    "                             many hills into one file\n"
    "  manifest LIBRARY.hills     the lines that stand for all of it, to be signed\n"
    "  attach LIBRARY.hills SIGNATURE --key KEY\n"
    "                             puts a signature by minisign into the library\n"
    "  verify LIBRARY.hills... [--key KEY] [--json]\n"
    "                             that it is as packed, and signed by a key\n"
    "A PATH is a profile (.geojson), a folder of them, a library (.hills), or one hill of it\n"
    "(country.hills:gull-pass-east). A KEY is a file of public keys (.pub) or the text of one.\n"
    "Signed in four steps:\n"
    "  talkdown hills pack lanes --out country.hills --revision 12\n"
    "  talkdown hills manifest country.hills > country.manifest\n"
    "  minisign -S -s fleet.key -m country.manifest -x country.minisig -t \"country 12\"\n"
    "  talkdown hills attach country.hills country.minisig --key fleet.pub\n";

struct options {
    const char *out, *key, *revision, *page;
    bool as_json, force, metric;
};

/* An option beside a part that does not know it is a slip in one of the two. */
static int check_options(enum part part, const struct options *options)
{
    const struct {
        const char *name;
        bool given;
        unsigned parts; /* bits of those that know it */
    } rules[] = {
        {"--json", options->as_json, 1U << CHECK | 1U << LIST | 1U << VERIFY},
        {"--out", options->out != NULL, 1U << PACK},
        {"--force", options->force, 1U << PACK | 1U << LIST},
        {"--page", options->page != NULL, 1U << LIST},
        {"--metric", options->metric, 1U << LIST},
        {"--revision", options->revision != NULL, 1U << PACK},
        {"--key", options->key != NULL, 1U << ATTACH | 1U << VERIFY},
    };
    for (size_t i = 0; i < sizeof rules / sizeof rules[0]; i++)
        if (rules[i].given && (rules[i].parts & 1U << part) == 0)
            return td_tool_fail_words("hills %s: %s does not belong here; hills --help tells what "
                                      "does",
                                      part_words[part], rules[i].name);
    if (part == LIST && options->page == NULL && (options->force || options->metric))
        return td_tool_fail_words("hills list: --force and --metric are of a page; add --page "
                                  "FILE.html");
    if (part == LIST && options->page != NULL && options->as_json)
        return td_tool_fail_words("hills list: --page or --json, not both");
    if (part == PACK && options->out == NULL)
        return td_tool_fail_words("hills pack: no --out; name the library to write, for example "
                                  "--out country.hills");
    if (part == ATTACH && options->key == NULL)
        return td_tool_fail_words("hills attach: no --key; name the public key that the signature "
                                  "is to be checked with, for example --key fleet.pub");
    return TD_EXIT_DONE;
}

static int check_words(enum part part, size_t count)
{
    bool right = part == MANIFEST ? count == 1 : part == ATTACH ? count == 2 : count > 0;
    if (right)
        return TD_EXIT_DONE;
    return td_tool_fail_words("hills %s: %s", part_words[part],
                              part == MANIFEST ? "one library is needed"
                              : part == ATTACH ? "a library and a signature are needed"
                              : part == VERIFY ? "no library; name one"
                                               : "no profile; name files or folders");
}

static int pack(const char *const *paths, size_t count, const struct options *options)
{
    struct td_problem problem;
    long long revision = 0;
    if (options->revision != NULL &&
        td_tool_whole("--revision", options->revision, 1, TD_LIBRARY_REVISION_MAX, &revision,
                      &problem) != TD_OK)
        return td_tool_fail(&problem);
    const struct td_hills_pack_options packing = {options->out, options->force,
                                                  (unsigned)revision};
    return td_hills_pack(paths, count, &packing);
}

static int list(const char *const *paths, size_t count, const struct options *options)
{
    const struct td_hills_page_options page = {.paths = paths, .count = count,
                                               .out = options->page, .force = options->force,
                                               .metric = options->metric};
    return options->page != NULL ? td_hills_page(&page)
                                 : td_hills_list(paths, count, options->as_json);
}

static int run(const char *what, const struct options *options, const char *const *paths,
               size_t count)
{
    enum part part = CHECK;
    while (part < PARTS && strcmp(what, part_words[part]) != 0)
        part++;
    if (part == PARTS)
        return td_tool_fail_words("hills: \"%s\" is nothing it does; hills check, list, pack, "
                                  "manifest, attach or verify is right",
                                  what);
    int code = check_words(part, count);
    if (code == TD_EXIT_DONE)
        code = check_options(part, options);
    if (code != TD_EXIT_DONE)
        return code;
    switch (part) {
    case CHECK:
        return td_hills_check(paths, count, options->as_json);
    case LIST:
        return list(paths, count, options);
    case PACK:
        return pack(paths, count, options);
    case MANIFEST:
        return td_hills_manifest(paths[0]);
    case ATTACH:
        return td_hills_attach(paths[0], paths[1], options->key);
    case VERIFY:
    case PARTS:
        break;
    }
    return td_hills_verify(paths, count, options->key, options->as_json);
}

int td_cmd_hills(int argc, char **argv)
{
    struct options options = {.out = NULL};
    const struct td_tool_option table[] = {{"json", NULL, &options.as_json},
                                           {"out", &options.out, NULL},
                                           {"key", &options.key, NULL},
                                           {"revision", &options.revision, NULL},
                                           {"page", &options.page, NULL},
                                           {"metric", NULL, &options.metric},
                                           {"force", NULL, &options.force}};
    static const char *words[PATHS_MOST];
    struct td_tool_line line = {.usage = usage,
                                .more = more,
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
