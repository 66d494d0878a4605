/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A drive as other programs want it: positions in order, each with what the coach thought then, and
 * the prompts that were begun, each at the position of its moment. */
#ifndef TD_TOOL_EXPORT_DRIVE_H
#define TD_TOOL_EXPORT_DRIVE_H

#include <stdio.h>

#include "talkdown/coach.h"
#include "talkdown/hill.h"
#include "talkdown/phrase.h"

/* Positions further apart than this are not joined by a line (ours). */
#define TD_EXPORT_HOLE_S 10.0

struct td_export_point {
    int64_t at_ns; /* the drive's clock */
    double t_s;    /* from the start; of the first point when anonymous */
    struct td_fix fix;
    bool thought;  /* `estimate` is of within the last second and a half */
    struct td_estimate estimate;
    char hill[TD_HILL_NAME_MAX]; /* "" on none */
    bool breaks;   /* a new part of the track begins here */
};

struct td_export_prompt {
    struct td_prompt prompt;
    char words[TD_WORDS_MAX], hill[TD_HILL_NAME_MAX];
    enum td_event_kind fate;
    double t_s, along_m, speed_mps;
    size_t point; /* index of the last position before it was begun */
};

struct td_export_drive {
    bool anonymous;
    int64_t start_ns, start_utc_ms;
    char rig_name[TD_RIG_NAME_MAX], program[64];
    struct td_export_point *points;
    size_t point_count;
    struct td_export_prompt *prompts;
    size_t prompt_count;
};

/* Reads the log. Anonymous: only positions and prompts on a hill, no clock time. TD_INVALID when
 * there is no position left to tell. Free with td_export_free, whatever is returned. */
TD_CHECKED enum td_result td_export_read(const char *path, bool anonymous,
                                         struct td_export_drive *drive,
                                         struct td_problem *problem);
void td_export_free(struct td_export_drive *drive);

/* UTC of a moment as text; "" when anonymous. */
const char *td_export_utc(const struct td_export_drive *drive, int64_t at_ns, char *text);

void td_export_gpx(FILE *to, const struct td_export_drive *drive);
void td_export_geojson(FILE *to, const struct td_export_drive *drive);
void td_export_csv(FILE *to, const struct td_export_drive *drive);

#endif
