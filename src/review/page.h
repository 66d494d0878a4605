/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The trainer's page: one HTML file that opens, mails and prints by itself. Nothing in it is loaded
 * from anywhere, its own policy forbids it. docs/review.md explains what it shows. */
#ifndef TD_REVIEW_PAGE_H
#define TD_REVIEW_PAGE_H

#include "io/marks.h"
#include "review/clips.h"
#include "review/drive_facts.h"
#include "review/html.h"

/* One drive or several: descents of one hill stand side by side, aligned by place; a section a
 * hill. `marks`: the trainer's on each drive, NULL for none at all. `clips` may be NULL: the page
 * then says that it has no sound. The bytes are the caller's to free, also when html->failed says
 * that memory ran out. Returns the descents shown. */
size_t td_review_page(struct td_review_drive *const *drives, size_t count,
                      const struct td_marks *marks, const struct td_clips *clips,
                      struct td_html *html);

#endif
