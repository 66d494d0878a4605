/* SPDX-License-Identifier: GPL-3.0-or-later */
/* talkdown review: the trainer's desk. The page of one drive or several, the table over many, marks
 * on prompts, and drives for other programs. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/problem.h"
#include "tool/commands.h"
#include "tool/desk/review_export.h"
#include "tool/desk/review_mark.h"
#include "tool/desk/review_page.h"
#include "tool/desk/review_table.h"
#include "tool/tool.h"

enum { DRIVES_MAX = 64 };

static const char usage[] =
    "review DRIVE.db... --out PAGE.html, or DRIVE.db --export gpx|geojson|csv --out FILE, or "
    "--table FOLDER, or --mark DRIVE.db SERIAL MARK";
static const char more[] =
    "  --out PAGE.html  one page that opens, mails and prints by itself\n"
    "  --no-sound       without the sound of the prompts\n"
    "  --phrases FILE   whose rate of speech holds for the sound\n"
    TD_REVIEW_TABLE_HELP
    TD_REVIEW_MARK_HELP
    TD_REVIEW_EXPORT_HELP
    "  --out FILE       also for the table and the export; readable by owner and group only\n"
    "  --anonymous      without clock time and without anything off the hills\n"
    "  --force          replaces a file that is there\n"
    "Several drives on a page: descents of the same hill stand side by side, aligned by place.\n"
    "exit: 0 done, 1 no descent is on the page or not all logs could be read, 2 usage or input\n"
    "error\n";

struct asked {
    struct td_review_page_options page;
    const char *table, *mark, *note, *format;
    bool csv, json, trends, marks;
};

static int make_page(const struct td_review_page_options *options, const char *const *drives,
                     size_t count)
{
    size_t descents = 0;
    struct td_problem problem = {.line = 0};
    if (count == 0)
        return td_tool_fail_words("review needs a drive log; usage: talkdown %s", usage);
    if (options->page == NULL)
        return td_tool_fail_words("--out is missing; name the page to write, PAGE.html");
    if (td_review_page_write(drives, count, options, &descents, &problem) != TD_OK)
        return td_tool_fail(&problem);
    (void)printf("%s: %zu descent%s\n", options->page, descents, descents == 1 ? "" : "s");
    if (descents == 0)
        (void)printf("no descent: the truck was on no hill on file that needs coaching\n");
    return descents > 0 ? TD_EXIT_DONE : TD_EXIT_NO;
}

static int make_table(const struct asked *asked, size_t words)
{
    if (words > 0)
        return td_tool_fail_words("--table takes one folder and no logs beside it");
    const struct td_review_table_options options = {.folder = asked->table,
                                                    .out = asked->page.page,
                                                    .csv = asked->csv,
                                                    .json = asked->json,
                                                    .trends = asked->trends,
                                                    .marks = asked->marks,
                                                    .anonymous = asked->page.anonymous,
                                                    .replace = asked->page.replace};
    return td_review_table(&options);
}

static int make_export(const struct asked *asked, const char *const *words, size_t count)
{
    if (count != 1)
        return td_tool_fail_words("--export takes one drive log");
    const struct td_review_export_options options = {.format = asked->format,
                                                     .out = asked->page.page,
                                                     .anonymous = asked->page.anonymous,
                                                     .replace = asked->page.replace};
    return td_review_export(words[0], &options);
}

/* What makes no sense together is refused, so that a slip does not pass for an answer. */
static const char *misfit(const struct asked *asked)
{
    const struct td_review_page_options *page = &asked->page;
    int kinds = (asked->table != NULL) + (asked->mark != NULL) + (asked->format != NULL);
    if (kinds > 1)
        return "--table, --mark and --export are one each";
    if (asked->note != NULL && asked->mark == NULL)
        return "--note goes with --mark";
    if (asked->table == NULL && (asked->csv || asked->json || asked->trends || asked->marks))
        return "--csv, --json, --trends and --marks go with --table";
    if (asked->mark != NULL && (page->page != NULL || page->anonymous || page->replace))
        return "--mark goes with --note only: marks stand beside their log";
    if (kinds == 1 && (page->phrases != NULL || page->no_sound))
        return "--phrases and --no-sound are of the page";
    return NULL;
}

int td_cmd_review(int argc, char **argv)
{
    struct asked asked = {.page = {.with_marks = true}};
    const struct td_tool_option table[] = {
        {"out", &asked.page.page, NULL},
        {"phrases", &asked.page.phrases, NULL},
        {"anonymous", NULL, &asked.page.anonymous},
        {"no-sound", NULL, &asked.page.no_sound},
        {"force", NULL, &asked.page.replace},
        {"table", &asked.table, NULL},
        {"csv", NULL, &asked.csv},
        {"json", NULL, &asked.json},
        {"trends", NULL, &asked.trends},
        {"marks", NULL, &asked.marks},
        {"mark", &asked.mark, NULL},
        {"note", &asked.note, NULL},
        {"export", &asked.format, NULL},
    };
    const char *words[DRIVES_MAX];
    struct td_tool_line line = {.usage = usage, .more = more, .options = table,
                                .option_count = sizeof table / sizeof table[0], .words = words,
                                .word_most = DRIVES_MAX};
    struct td_problem problem = {.line = 0};
    if (td_tool_options(argc, argv, &line, &problem) != TD_OK)
        return td_tool_fail(&problem);
    if (line.help)
        return TD_EXIT_DONE;
    const char *wrong = misfit(&asked);
    if (wrong != NULL)
        return td_tool_fail_words("%s; usage: talkdown %s", wrong, usage);
    if (asked.table != NULL)
        return make_table(&asked, line.word_count);
    if (asked.mark != NULL)
        return td_review_mark(asked.mark, words, line.word_count, asked.note);
    if (asked.format != NULL)
        return make_export(&asked, words, line.word_count);
    return make_page(&asked.page, words, line.word_count);
}
