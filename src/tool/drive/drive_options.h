/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What rehearse and replay have in common on the command line, and what they open for it. */
#ifndef TD_TOOL_DRIVE_OPTIONS_H
#define TD_TOOL_DRIVE_OPTIONS_H

#include "io/phrase_file.h"
#include "io/shelf.h"
#include "tool/drive/cab.h"
#include "tool/tool.h"

/* What --help tells of them. */
#define TD_DRIVE_HELP                                                                              \
    "  --rig FILE       the truck; --load NAME picks one of its loads\n"                           \
    "  --hills PATH     hill file or folder of them on board\n"                                    \
    "  --road dry|wet|ice    --talk normal|trainee|sparse    --metric\n"                           \
    "  --phrases FILE   words of another language\n"                                               \
    "  --json           one object a prompt on standard output\n"                                  \
    "  --no-sound       no voice.wav; lengths of speech are modelled\n"                            \
    "  --speed N        voice.wav for a quick listen: silences shrink to an Nth, words stay\n"     \
    "                   whole and at their own pace\n"                                            \
    "  --force          replaces outputs of an earlier run\n"

enum { TD_DRIVE_OPTIONS = 12, TD_DRIVE_SPEED_MOST = 60 };

struct td_drive_options {
    const char *hills, *rig, *load, *road, *talk, *phrases, *out, *speed;
    bool json, no_sound, force, metric;
};

/* Opened parts, and the setup they make. */
struct td_drive_parts {
    struct td_setup setup;
    struct td_shelf *shelf;
    struct td_phrase_file *phrases;
    int speed; /* of voice.wav; 1 the drive's own time */
};

/* The options above as a table for td_tool_options; `into` outlives it. */
void td_drive_option_table(struct td_drive_options *into,
                           struct td_tool_option table[TD_DRIVE_OPTIONS]);
/* Reads and checks everything named before anything is written. `hills` is the shelf's path. */
TD_CHECKED enum td_result td_drive_parts_open(const struct td_drive_options *options,
                                              const char *hills, struct td_drive_parts *parts,
                                              struct td_problem *problem);
/* What of the options stands changes the setup: --rig, --load, --road, --talk, --metric. */
TD_CHECKED enum td_result td_drive_change_setup(const struct td_drive_options *options,
                                                struct td_setup *setup,
                                                struct td_problem *problem);
/* The phrase file at `path`; NULL: that of the language among the files of the program. */
TD_CHECKED enum td_result td_drive_phrases_open(const char *path, const char *language,
                                                struct td_phrase_file **phrases,
                                                struct td_problem *problem);
void td_drive_parts_close(struct td_drive_parts *parts);

/* Cab options from the parts; the caller sets the time and who hears. */
struct td_cab_options td_drive_cab_options(const struct td_drive_options *options,
                                           const struct td_drive_parts *parts);
/* Writes review.html beside the closed drive.db. */
TD_CHECKED enum td_result td_drive_review(const struct td_drive_options *options,
                                          struct td_problem *problem);
/* Where the summary of a drive goes: standard output, or standard error when that is JSON. */
FILE *td_drive_summary_to(const struct td_drive_options *options);
void td_drive_summary_print(const struct td_drive_options *options,
                            const struct td_cab_summary *summary);

#endif
