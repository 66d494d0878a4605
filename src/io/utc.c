/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Universal time as text, without the C library's time zones and locales. Calendar arithmetic as
 * in the proleptic Gregorian calendar: 146097 days in 400 years, years begun in March so that the
 * leap day comes last. */
#include "io/utc.h"

#include <stdio.h>
#include <string.h>

static const int64_t ms_per_day = 86400000;

static bool leap_year(int year)
{
    return (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
}

static int days_in_month(int year, int month)
{
    static const int days[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    return month == 2 && leap_year(year) ? 29 : days[month - 1];
}

static int64_t days_from_civil(int year, int month, int day)
{
    if (month <= 2)
        year--;
    int era = year / 400;
    int year_of_era = year - era * 400;
    int month_from_march = (month + 9) % 12;
    int day_of_year = (153 * month_from_march + 2) / 5 + day - 1;
    int day_of_era = year_of_era * 365 + year_of_era / 4 - year_of_era / 100 + day_of_year;
    return (int64_t)era * 146097 + day_of_era - 719468;
}

/* Exactly `count` digits at *at. */
static bool digits(const char **at, int count, int *value)
{
    *value = 0;
    for (int i = 0; i < count; i++) {
        char c = (*at)[i];
        if (c < '0' || c > '9')
            return false;
        *value = *value * 10 + (c - '0');
    }
    *at += count;
    return true;
}

static bool mark(const char **at, char wanted)
{
    if (**at != wanted)
        return false;
    (*at)++;
    return true;
}

static bool read_date(const char **at, int64_t *days)
{
    int year = 0, month = 0, day = 0;
    if (!digits(at, 4, &year) || !mark(at, '-') || !digits(at, 2, &month) || !mark(at, '-') ||
        !digits(at, 2, &day))
        return false;
    if (year < 1 || month < 1 || month > 12 || day < 1 || day > days_in_month(year, month))
        return false;
    *days = days_from_civil(year, month, day);
    return true;
}

static bool read_zone(const char **at, int *minutes)
{
    if (mark(at, 'Z') || mark(at, 'z'))
        return true;
    int sign = **at == '-' ? -1 : 1;
    int hour = 0, minute = 0;
    if (!mark(at, '+') && !mark(at, '-'))
        return false;
    if (!digits(at, 2, &hour) || !mark(at, ':') || !digits(at, 2, &minute) || hour > 23 ||
        minute > 59)
        return false;
    *minutes = sign * (hour * 60 + minute);
    return true;
}

bool td_utc_parse(const char *text, int64_t *utc_ms)
{
    const char *at = text;
    int64_t days = 0;
    int hour = 0, minute = 0, second = 0, offset = 0, ms = 0;
    if (!read_date(&at, &days) || !(mark(&at, 'T') || mark(&at, 't') || mark(&at, ' ')))
        return false;
    if (!digits(&at, 2, &hour) || !mark(&at, ':') || !digits(&at, 2, &minute) ||
        !mark(&at, ':') || !digits(&at, 2, &second))
        return false;
    if (hour > 23 || minute > 59 || second > 60)
        return false;
    if (mark(&at, '.')) {
        if (*at < '0' || *at > '9')
            return false;
        for (int scale = 100; *at >= '0' && *at <= '9'; at++, scale /= 10)
            ms += (*at - '0') * scale;
    }
    if (!read_zone(&at, &offset) || *at != '\0')
        return false;
    int64_t seconds = ((int64_t)hour * 60 + minute - offset) * 60 + second;
    *utc_ms = days * ms_per_day + seconds * 1000 + ms;
    return true;
}

const char *td_utc_format(int64_t utc_ms, char text[TD_UTC_TEXT])
{
    if (utc_ms < 0 || utc_ms >= days_from_civil(10000, 1, 1) * ms_per_day) {
        memcpy(text, "?", 2);
        return text;
    }
    int64_t days = utc_ms / ms_per_day;
    int ms = (int)(utc_ms % ms_per_day);
    int year = 1970 + (int)(days / 366); /* at or before the right one */
    while (days >= days_from_civil(year + 1, 1, 1))
        year++;
    int month = 1;
    while (month < 12 && days >= days_from_civil(year, month + 1, 1))
        month++;
    int day = (int)(days - days_from_civil(year, month, 1)) + 1;
    (void)snprintf(text, TD_UTC_TEXT, "%04d-%02d-%02dT%02d:%02d:%02d.%03dZ", year, month, day,
                   ms / 3600000, ms / 60000 % 60, ms / 1000 % 60, ms % 1000);
    return text;
}

bool td_utc_is_date(const char *text)
{
    int64_t days = 0;
    return read_date(&text, &days) && *text == '\0';
}
