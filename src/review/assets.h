/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Style and script of the page, page.css and page.js, as text that the build put into the
 * program. */
#ifndef TD_REVIEW_ASSETS_H
#define TD_REVIEW_ASSETS_H

extern const char td_page_css[];
extern const char td_page_js[];

#endif
