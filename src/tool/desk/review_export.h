/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A drive for other programs: `review --export gpx|geojson|csv`. */
#ifndef TD_TOOL_REVIEW_EXPORT_H
#define TD_TOOL_REVIEW_EXPORT_H

#include <stdbool.h>

/* What --help tells of it. */
#define TD_REVIEW_EXPORT_HELP                                                                      \
    "  --export gpx|geojson|csv\n"                                                                 \
    "                   one drive for other programs: positions, and what was said where\n"

struct td_review_export_options {
    const char *format;
    const char *out;
    bool anonymous, replace;
};

/* Returns an exit code. */
int td_review_export(const char *drive, const struct td_review_export_options *options);

#endif
