/* SPDX-License-Identifier: GPL-3.0-or-later */
/* `hills list --page`: what is on board, a picture and its facts for each hill, as one page that
 * loads nothing. */
#ifndef TD_TOOL_HILLS_PAGE_H
#define TD_TOOL_HILLS_PAGE_H

#include <stddef.h>

#include "io/hill_file.h"
#include "tool/card/svg.h"

struct td_hills_page_options {
    const char *const *paths;
    size_t count;
    const char *out;
    bool force, metric;
};

/* Hills are read, drawn and written one by one. A hill that cannot be read has a card that says
 * so, is told on standard error and makes the exit code 2; the page is written all the same. */
int td_hills_page(const struct td_hills_page_options *options);

/* Facts of one hill as a list of HTML (hills_tell.c); `name` of its file or library. */
void td_hill_facts(struct td_svg *html, const struct td_hill_file *file, const char *name,
                   bool metric);
/* "6.9 % for 4.3 miles, steepest 8.2 %, falls 1,560 ft" */
void td_hill_headline(struct td_svg *html, const struct td_hill *hill, bool metric);

/* The page's style, hills_page.css, as the build put it into the program. */
extern const char td_hills_page_css[];

#endif
