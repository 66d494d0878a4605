/* SPDX-License-Identifier: GPL-3.0-or-later */
/* talkdown: the tool. One table of commands; each lives in its own cmd_NAME.c. */
#include <stdio.h>
#include <string.h>

#include "tool/commands.h"
#include "tool/tool.h"
#include "voice/voice.h"

/* One line a command, in the order in which a newcomer meets them. */
static const struct td_tool_command commands[] = {
    {"plan", "HILL --rig RIG | --grade 7% --length \"4 mi\" --weight \"78000 lb\" [--json] ...",
     "the descent plan: speed, gear, engine brake, brake heat, and whether at all", td_cmd_plan},
    {"say", "TEXT [--category NAME] [--settings FILE] [--device NAME] [--out FILE.wav]",
     "sound check: says the text through the configured device", td_cmd_say},
    {"rehearse", "HILL --rig RIG --out DIR [--driver NAME] [--seed N]",
     "a simulated descent with the voice beside it", td_cmd_rehearse},
    {"replay", "TRACK... --hills PATH --rig RIG --out DIR, or DRIVE.db --exact|--what-if",
     "a recorded track through the coach; or a drive log: does it say the same, and what if",
     td_cmd_replay},
    {"review", "DRIVE.db... --out PAGE.html, or --table FOLDER, --mark DRIVE.db, --export FORMAT",
     "the trainer's page: what was said, and what the truck did next; many drives in a table",
     td_cmd_review},
    {"survey", "TRACK --out HILL.geojson [--reverse] [--name NAME] [--id ID] [--force]",
     "a hill profile from one recorded pass", td_cmd_survey},
    {"hills", "check|list PATH... [--json], or pack PATH... --out LIBRARY.hills [--force]",
     "what is wrong with profiles, what is on file; many profiles into one library", td_cmd_hills},
    {"places", "list|check|add|move|change|remove|import|posts HILL ...",
     "signs, brake checks, escape lanes of a profile, by milepost, distance or coordinate; CSV",
     td_cmd_places},
    {"tell", "status|again|quiet|loud|road STATE|load NAME|engine-brake STAGE|rig FILE|reload",
     "talks to the running daemon", td_cmd_tell},
    {NULL, NULL, NULL, NULL},
};

static void help(FILE *to)
{
    (void)fputs("talkdown: talks the driver of a heavy truck down a mountain grade.\n"
                "The voice advises; posted signs, the law, the road and your own judgement come "
                "first.\n\nusage: talkdown COMMAND ...\n\n",
                to);
    for (const struct td_tool_command *command = commands; command->name != NULL; command++)
        (void)fprintf(to, "  %s %s\n      %s\n", command->name, command->usage, command->does);
    (void)fputs("\ntalkdown COMMAND --help tells a command's options.\n"
                "exit: 0 done, 1 the answer is no, 2 usage or input error\n",
                to);
}

int main(int argc, char **argv)
{
    struct td_voice_options voice;
    int voice_fd = -1;
    if (td_voice_child_args(argc, argv, &voice, &voice_fd))
        return td_voice_child(voice_fd, &voice);
    if (argc < 2) {
        help(stderr);
        return TD_EXIT_ERROR;
    }
    if (strcmp(argv[1], "--help") == 0 || strcmp(argv[1], "help") == 0) {
        help(stdout);
        return TD_EXIT_DONE;
    }
    if (strcmp(argv[1], "--version") == 0) {
        (void)puts("talkdown " TD_VERSION);
        return TD_EXIT_DONE;
    }
    for (const struct td_tool_command *command = commands; command->name != NULL; command++)
        if (strcmp(argv[1], command->name) == 0)
            return command->run(argc - 1, argv + 1);
    return td_tool_fail_words("\"%s\" is no command of this version; talkdown --help lists them",
                              argv[1]);
}
