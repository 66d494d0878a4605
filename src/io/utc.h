/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Universal time as text (ISO 8601, RFC 3339) and as milliseconds since 1970. Data only: nothing
 * is timed by it. */
#ifndef TD_IO_UTC_H
#define TD_IO_UTC_H

#include <stdbool.h>
#include <stdint.h>

enum { TD_UTC_TEXT = 64, TD_DATE_SIZE = 11 }; /* a date: "2031-05-17" with its NUL */

/* "2031-05-17T08:00:00Z", with any fraction (cut to milliseconds), or an offset "+02:00" in place
 * of Z. False (and *utc_ms alone) for anything else. A leap second counts as the next second. */
bool td_utc_parse(const char *text, int64_t *utc_ms);
/* "2031-05-17T08:00:00.000Z"; years 1970 to 9999, else "?". Returns `text`. */
const char *td_utc_format(int64_t utc_ms, char text[TD_UTC_TEXT]);
/* "2031-05-17" is a day of the calendar. */
bool td_utc_is_date(const char *text);

#endif
