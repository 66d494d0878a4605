/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The commands of `talkdown`, one line each. argv[0] is the command's name; returns td_exit. */
#ifndef TD_TOOL_COMMANDS_H
#define TD_TOOL_COMMANDS_H

int td_cmd_plan(int argc, char **argv);
int td_cmd_say(int argc, char **argv);
int td_cmd_rehearse(int argc, char **argv);
int td_cmd_review(int argc, char **argv);
int td_cmd_replay(int argc, char **argv);
int td_cmd_survey(int argc, char **argv);
int td_cmd_hills(int argc, char **argv);
int td_cmd_places(int argc, char **argv);
int td_cmd_tell(int argc, char **argv);

#endif
