/* SPDX-License-Identifier: GPL-3.0-or-later */
/* talkdown places: its words and options; what each part does is in a file of its own. */
#include <string.h>

#include "io/problem.h"
#include "tool/commands.h"
#include "tool/places/places.h"
#include "tool/tool.h"

enum part { LIST, CHECK, ADD, MOVE, CHANGE, REMOVE, IMPORT, POSTS, PARTS };

static const char *const part_words[PARTS] = {"list",   "check",  "add",    "move",
                                              "change", "remove", "import", "posts"};

static const char usage[] = "places list|check|add|move|change|remove|import|posts HILL ...; "
                            "places --help tells all";

static const char more[] =
    "  list HILL [--csv|--json]        what stands along the road, numbered from its first vertex\n"
    "  check HILL [--json]             where each is, and what looks wrong about it\n"
    "  add HILL ROLE WHERE [WHAT]      a new place: escape-lane, brake-check, truck-speed ...\n"
    "  move HILL WHICH WHERE [WHAT]    puts one elsewhere\n"
    "  change HILL WHICH WHAT          changes what it says; \"\" takes a property out\n"
    "  remove HILL WHICH\n"
    "  import HILL TABLE.csv           a table of places, all of it or nothing; list --csv is its\n"
    "                                  form (docs/places.md)\n"
    "  posts HILL [\"mile 10 at 0.35 mi; mile 12 at 2.36 mi\"]\n"
    "                                  where its mileposts stand, by distance or LAT,LON\n"
    "WHICH is an id, a name, a role that is there once, or a number of the list.\n"
    "WHERE is one of\n"
    "  --at \"mile 12.4\"                by the posts beside the road\n"
    "  --along \"2.3 mi\"                from its first vertex; also \"0.5 mi before crest\",\n"
    "                                  \"300 m past foot\"\n"
    "  --coordinate LAT,LON            within 60 m of the road; where two legs are near, --along\n"
    "                                  beside it says which\n"
    "WHAT is any of --id --name --side --speed --over --length --grade --material --mandatory\n"
    "--status --checked --say --source, units as text: --speed \"20 mph\" --over \"65000 lb\".\n"
    "Changes are written into HILL; --out FILE [--force] leaves it alone, --dry-run writes none.\n"
    "exit 1: it was written, but \"hills check\" has an error at a place that was touched\n";

struct options {
    struct td_places_job job;
    const char *coordinate;
    bool as_csv, as_json;
    char lat[40];
};

enum { BIT_LIST = 1 << LIST, BIT_CHECK = 1 << CHECK, BIT_ADD = 1 << ADD, BIT_MOVE = 1 << MOVE,
       BIT_CHANGE = 1 << CHANGE, BIT_REMOVE = 1 << REMOVE, BIT_IMPORT = 1 << IMPORT,
       BIT_POSTS = 1 << POSTS,
       BITS_WRITE = BIT_ADD | BIT_MOVE | BIT_CHANGE | BIT_REMOVE | BIT_IMPORT | BIT_POSTS };

/* An option beside a part that does not know it is a slip in one of the two. */
static int check_options(enum part part, const struct options *options)
{
    const struct td_places_job *job = &options->job;
    const struct {
        const char *name;
        bool given;
        unsigned parts;
    } rules[] = {
        {"--csv", options->as_csv, BIT_LIST},
        {"--json", options->as_json, BIT_LIST | BIT_CHECK},
        {"--out", job->out != NULL, BITS_WRITE},
        {"--force", job->force, BITS_WRITE},
        {"--dry-run", job->dry_run, BITS_WRITE},
        {"--at", job->where.post != NULL, BIT_ADD | BIT_MOVE},
        {"--along", job->where.along != NULL, BIT_ADD | BIT_MOVE},
        {"--coordinate", options->coordinate != NULL, BIT_ADD | BIT_MOVE},
    };
    for (size_t i = 0; i < sizeof rules / sizeof rules[0]; i++)
        if (rules[i].given && (rules[i].parts & 1U << part) == 0)
            return td_tool_fail_words("places %s: %s does not belong here; places --help tells "
                                      "what does",
                                      part_words[part], rules[i].name);
    if (td_place_texts_given(&job->texts) && (1U << part & (BIT_ADD | BIT_MOVE | BIT_CHANGE)) == 0)
        return td_tool_fail_words("places %s: what a place has is given with add, move or change",
                                  part_words[part]);
    if (options->as_csv && options->as_json)
        return td_tool_fail_words("places list: --csv and --json are two forms; give one");
    if (job->force && job->out == NULL)
        return td_tool_fail_words("places %s: --force goes with --out", part_words[part]);
    return TD_EXIT_DONE;
}

static int check_words(enum part part, size_t count)
{
    static const struct {
        size_t least, most;
        const char *wanted;
    } rules[PARTS] = {
        [LIST] = {1, 1, "one profile is needed"},
        [CHECK] = {1, 1, "one profile is needed"},
        [ADD] = {2, 2, "a profile and a role are needed, for example hill.geojson escape-lane"},
        [MOVE] = {2, 2, "a profile and a place are needed: its id, name, role or number"},
        [CHANGE] = {2, 2, "a profile and a place are needed: its id, name, role or number"},
        [REMOVE] = {2, 2, "a profile and a place are needed: its id, name, role or number"},
        [IMPORT] = {2, 2, "a profile and a table (.csv) are needed"},
        [POSTS] = {1, 2, "a profile is needed, and the posts in one text"},
    };
    if (count >= rules[part].least && count <= rules[part].most)
        return TD_EXIT_DONE;
    return td_tool_fail_words("places %s: %s", part_words[part], rules[part].wanted);
}

/* "LAT,LON" into its halves; what is wrong with them is told where they are read. */
static void cut_coordinate(struct options *options)
{
    struct td_where_texts *where = &options->job.where;
    if (options->coordinate == NULL)
        return;
    const char *comma = strchr(options->coordinate, ',');
    size_t length = comma != NULL ? (size_t)(comma - options->coordinate) : 0;
    where->lat = where->lon = options->coordinate; /* no comma: neither half is a number */
    if (comma == NULL || length >= sizeof options->lat) {
        where->lat = "none";
        return;
    }
    memcpy(options->lat, options->coordinate, length);
    options->lat[length] = '\0';
    where->lat = options->lat;
    where->lon = comma + 1;
}

static int run(enum part part, struct options *options, const char *const *words, size_t count)
{
    struct td_places_job *job = &options->job;
    const char *second = count > 1 ? words[1] : NULL;
    job->path = words[0];
    cut_coordinate(options);
    switch (part) {
    case LIST:
        return td_places_list(job->path, options->as_csv    ? TD_PLACES_CSV
                                         : options->as_json ? TD_PLACES_JSON
                                                            : TD_PLACES_TEXT);
    case CHECK:
        return td_places_check(job->path, options->as_json);
    case ADD:
        return td_places_add(job, second);
    case MOVE:
        return td_places_move(job, second);
    case CHANGE:
        return td_places_change(job, second);
    case REMOVE:
        return td_places_remove(job, second);
    case IMPORT:
        return td_places_import(job, second);
    case POSTS:
    case PARTS:
        break;
    }
    return td_places_posts(job, second);
}

static int run_words(struct options *options, const char *const *words, size_t count)
{
    enum part part = LIST;
    const char *what = count > 0 ? words[0] : "";
    while (part < PARTS && strcmp(what, part_words[part]) != 0)
        part++;
    if (part == PARTS)
        return td_tool_fail_words("places: \"%.40s\" is nothing it does; places list, check, add, "
                                  "move, change, remove, import or posts is right",
                                  what);
    int code = check_words(part, count - 1);
    if (code == TD_EXIT_DONE)
        code = check_options(part, options);
    return code == TD_EXIT_DONE ? run(part, options, words + 1, count - 1) : code;
}

int td_cmd_places(int argc, char **argv)
{
    enum { OPTIONS = 8 };
    static struct options options;
    options = (struct options){.job.where = {.post_name = "--at", .along_name = "--along",
                                             .coordinate_name = "--coordinate"}};
    struct td_tool_option table[OPTIONS + TD_PLACE_KEYS] = {
        {"csv", NULL, &options.as_csv},           {"json", NULL, &options.as_json},
        {"out", &options.job.out, NULL},          {"force", NULL, &options.job.force},
        {"dry-run", NULL, &options.job.dry_run},  {"at", &options.job.where.post, NULL},
        {"along", &options.job.where.along, NULL}, {"coordinate", &options.coordinate, NULL}};
    for (size_t i = 0; i < TD_PLACE_KEYS; i++)
        table[OPTIONS + i] =
            (struct td_tool_option){td_place_keys[i], &options.job.texts.texts[i], NULL};
    const char *words[3];
    struct td_tool_line line = {.usage = usage,
                                .more = more,
                                .options = table,
                                .option_count = sizeof table / sizeof table[0],
                                .words = words,
                                .word_most = sizeof words / sizeof words[0]};
    struct td_problem problem;
    if (td_tool_options(argc, argv, &line, &problem) != TD_OK)
        return td_tool_fail(&problem);
    if (line.help)
        return TD_EXIT_DONE;
    return run_words(&options, words, line.word_count);
}
