/* SPDX-License-Identifier: GPL-3.0-or-later */
/* talkdown review: the trainer's page of one drive or several. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/problem.h"
#include "tool/commands.h"
#include "tool/review_page.h"
#include "tool/tool.h"

enum { DRIVES_MAX = 64 };

static const char usage[] = "review DRIVE.db... --out PAGE.html [--anonymous] [--no-sound] ...";
static const char more[] =
    "  --out PAGE.html  one page that opens, mails and prints by itself\n"
    "  --anonymous      without clock time and without anything off the hills\n"
    "  --no-sound       without the sound of the prompts\n"
    "  --phrases FILE   whose rate of speech holds for the sound\n"
    "  --force          replaces a page that is there\n"
    "Several drives: descents of the same hill stand side by side, aligned by place.\n"
    "exit: 0 done, 1 a page was written but no descent is in it, 2 usage or input error\n";

int td_cmd_review(int argc, char **argv)
{
    struct td_review_page_options options = {.page = NULL};
    const struct td_tool_option table[] = {
        {"out", &options.page, NULL},
        {"phrases", &options.phrases, NULL},
        {"anonymous", NULL, &options.anonymous},
        {"no-sound", NULL, &options.no_sound},
        {"force", NULL, &options.replace},
    };
    const char *drives[DRIVES_MAX];
    struct td_tool_line line = {.usage = usage, .more = more, .options = table,
                                .option_count = sizeof table / sizeof table[0], .words = drives,
                                .word_most = DRIVES_MAX};
    struct td_problem problem = {.line = 0};
    if (td_tool_options(argc, argv, &line, &problem) != TD_OK)
        return td_tool_fail(&problem);
    if (line.help)
        return TD_EXIT_DONE;
    if (line.word_count == 0)
        return td_tool_fail_words("review needs a drive log; usage: talkdown %s", usage);
    if (options.page == NULL)
        return td_tool_fail_words("--out is missing; name the page to write, PAGE.html");
    size_t descents = 0;
    if (td_review_page_write(drives, line.word_count, &options, &descents, &problem) != TD_OK)
        return td_tool_fail(&problem);
    (void)printf("%s: %zu descent%s\n", options.page, descents, descents == 1 ? "" : "s");
    if (descents == 0)
        (void)printf("no descent: the truck was on no hill on file that needs coaching\n");
    return descents > 0 ? TD_EXIT_DONE : TD_EXIT_NO;
}
