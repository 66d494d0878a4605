/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A coach with no rig and at most one hill on board, fed with fixes: where it says that a grade is
 * not on file. */
#ifndef TD_TESTS_UNFILED_DRIVE_H
#define TD_TESTS_UNFILED_DRIVE_H

#include <stdlib.h>
#include <string.h>

#include "talkdown/coach.h"
#include "talkdown/geo.h"
#include "talkdown/units.h"

enum { UNFILED_SAID_MAX = 16 };

struct unfiled_drive {
    struct td_coach *coach;
    struct td_input input;
    struct td_output output;
    const struct td_hill *hill; /* NULL: none is on file */
    uint32_t want;
    bool offered;
    int64_t now_ns;
    double last_lat_deg, last_lon_deg, driven_m;
    bool begun;
    unsigned said, on_hill; /* on_hill: fixes */
    double said_m[UNFILED_SAID_MAX];
};

static inline void unfiled_begin(struct unfiled_drive *drive, const struct td_hill *hill)
{
    struct td_setup setup = {.ambient_c = 20, .brakes_from_c = 20};
    memset(drive, 0, sizeof *drive);
    drive->hill = hill;
    drive->now_ns = TD_NS_PER_S;
    setup.hills_on_board = hill ? 1 : 0;
    drive->coach = td_coach_init(malloc(td_coach_size()), &setup, drive->now_ns);
    if (!drive->coach)
        abort();
}

static inline void unfiled_end(struct unfiled_drive *drive)
{
    free(drive->coach);
    drive->coach = NULL;
}

static inline void unfiled_step(struct unfiled_drive *drive)
{
    drive->input.now_ns = drive->now_ns;
    td_coach_step(drive->coach, &drive->input, &drive->output);
    memset(&drive->input, 0, sizeof drive->input);
    const struct td_output *output = &drive->output;
    if (output->want.serial != 0) {
        drive->want = output->want.serial;
        drive->offered = !drive->hill;
    }
    /* A voice that has said it at once. */
    if (output->has_speak)
        drive->input.reports[drive->input.report_count++] =
            (struct td_report){output->speak.serial, TD_REPORT_ENDED};
    if (output->has_speak && output->speak.id == TD_PROMPT_GRADE_NOT_ON_FILE) {
        if (drive->said < UNFILED_SAID_MAX)
            drive->said_m[drive->said] = drive->driven_m;
        drive->said++;
    }
    drive->on_hill += output->estimate.where == TD_WHERE_ON_HILL;
}

static inline void unfiled_answer(struct unfiled_drive *drive)
{
    if (drive->want == 0)
        return;
    drive->input.offer = (struct td_offer){.kind = drive->offered ? TD_OFFER_END : TD_OFFER_HILL,
                                           .want_serial = drive->want};
    if (!drive->offered) {
        drive->input.offer.handle = 5;
        drive->input.offer.hill = drive->hill;
    } else {
        drive->want = 0;
    }
    drive->offered = true;
}

/* The next fix, at its own time. */
static inline void unfiled_fix(struct unfiled_drive *drive, const struct td_fix *fix,
                               int64_t at_ns)
{
    if (at_ns <= drive->now_ns)
        at_ns = drive->now_ns + TD_NS_PER_MS;
    drive->now_ns = at_ns;
    if (drive->begun)
        drive->driven_m += td_geo_distance_m(drive->last_lat_deg, drive->last_lon_deg,
                                             fix->lat_deg, fix->lon_deg);
    drive->begun = true;
    drive->last_lat_deg = fix->lat_deg;
    drive->last_lon_deg = fix->lon_deg;
    unfiled_answer(drive);
    drive->input.has_fix = true;
    drive->input.fix = *fix;
    drive->input.fix.received_ns = at_ns;
    unfiled_step(drive);
    /* What waited for the voice to be free, and for its pause. */
    for (int i = 0; i < 2; i++) {
        unfiled_answer(drive);
        drive->now_ns += 20 * TD_NS_PER_MS;
        unfiled_step(drive);
    }
}

#endif
