/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Positions from gpsd. A connection of our own that never blocks, lines split and guarded here, and
 * only lines that passed the guard unpacked by libgps: its own read call spins on partial lines and
 * its parser can loop for ever on some that are not as gpsd writes them.
 *
 * gpsd says nothing when a receiver goes mute or is unplugged. So after 5 s of silence the
 * connection is closed and opened anew (which is also what makes gpsd try a receiver again), with
 * back-off 0.25, 0.5, 1 ... 5 s. Nothing is lost by that: silence has no fixes in it.
 *
 * Thread: one, the poll loop's. Time is the caller's: every call is given now_ns. */
#ifndef TD_IO_GPSD_H
#define TD_IO_GPSD_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "talkdown/fix.h"
#include "talkdown/result.h"

/* --- one line, also of a recording --- */

enum td_gpsd_line {
    TD_GPSD_REFUSED = 0, /* not as gpsd writes: not JSON, or no class in front */
    TD_GPSD_OTHER,       /* SKY, VERSION and whatever else; nothing in it for us */
    TD_GPSD_FIX,         /* a position, sane */
    TD_GPSD_NO_FIX,      /* the receiver reports, but knows no position, or not well enough */
    TD_GPSD_RECEIVERS,   /* list of receivers: `receivers` of them */
    TD_GPSD_ERROR,       /* gpsd complains */
};

enum { TD_GPSD_LINE_MAX = 32 * 1024 }; /* gpsd's own limit on a response is some 10 KiB */

struct td_gpsd_reader; /* scratch for unpacking */
TD_CHECKED enum td_result td_gpsd_reader_new(struct td_gpsd_reader **out);
void td_gpsd_reader_free(struct td_gpsd_reader **reader);

/* Reads one line of `length` bytes without its end. `fix` is filled for TD_GPSD_FIX: UTC always;
 * sigma_m from gpsd's eph, the radius that holds 95 % of positions, over 2.4477 (two equal normal
 * axes: sqrt(-2 ln 0.05)); gpsd's eps and epd are useless and not read. An eph over 1000 m is no
 * fix: receivers give that at the end of an outage. */
enum td_gpsd_line td_gpsd_read_line(struct td_gpsd_reader *reader, const char *line, size_t length,
                                    int64_t now_ns, struct td_fix *fix, unsigned *receivers);

/* --- the connection --- */

/* What is known of the way from receiver to here; worst first. */
enum td_gpsd_health {
    TD_GPSD_DOWN = 0,    /* no gpsd answers */
    TD_GPSD_NO_RECEIVER, /* gpsd has none */
    TD_GPSD_SILENT,      /* gpsd has one, and nothing comes from it */
    TD_GPSD_SEARCHING,   /* the receiver reports, without a position */
    TD_GPSD_FIXES,       /* positions come */
};

const char *td_gpsd_health_name(enum td_gpsd_health health);

struct td_gpsd;

/* `host` is an address or "localhost": a name would have to be looked up, and that can hang.
 * Connecting begins at the first td_gpsd_tick. TD_INVALID for a bad address or port. */
TD_CHECKED enum td_result td_gpsd_open(const char *host, const char *port, int64_t now_ns,
                                       struct td_gpsd **out, struct td_problem *problem);
int td_gpsd_fd(const struct td_gpsd *gpsd);             /* -1: none at the moment */
short td_gpsd_poll_events(const struct td_gpsd *gpsd);  /* what to poll it for */
int64_t td_gpsd_next_tick_ns(const struct td_gpsd *gpsd);
/* After poll found the descriptor ready. Reads at most 64 KiB. */
void td_gpsd_ready(struct td_gpsd *gpsd, int64_t now_ns);
void td_gpsd_tick(struct td_gpsd *gpsd, int64_t now_ns);
/* The next fix that came in; false when there is none. Several reports of one moment, which gpsd
 * sends until it has learnt where a receiver's cycle ends, are one fix. The queue holds 32; older
 * ones go first, and are counted. */
bool td_gpsd_fix(struct td_gpsd *gpsd, struct td_fix *fix);

struct td_gpsd_state {
    enum td_gpsd_health health;
    uint64_t fixes, refused_lines, dropped_fixes;
    unsigned connections;
};
void td_gpsd_state(const struct td_gpsd *gpsd, struct td_gpsd_state *state);
void td_gpsd_close(struct td_gpsd **gpsd);

#endif
