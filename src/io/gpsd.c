/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Lines of gpsd into fixes: guard, then libgps, which only this file knows. */
#include "io/gpsd.h"

#include <gps.h>
#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "talkdown/units.h"

static const double eph_most_m = 1000.0;
static const double sigma_per_eph = 1.0 / 2.4477;

struct td_gpsd_reader {
    struct gps_data_t data; /* 24 KiB: never on the stack */
    char line[TD_GPSD_LINE_MAX + 1];
};

enum td_result td_gpsd_reader_new(struct td_gpsd_reader **out)
{
    struct td_gpsd_reader *reader = calloc(1, sizeof *reader);
    if (reader == NULL)
        return TD_NO_MEMORY;
    *out = reader;
    return TD_OK;
}

void td_gpsd_reader_free(struct td_gpsd_reader **reader)
{
    if (reader == NULL)
        return;
    free(*reader);
    *reader = NULL;
}

static bool class_is(const char *line, size_t length, const char *name)
{
    static const char head[] = "{\"class\":\"";
    size_t head_length = sizeof head - 1, name_length = strlen(name);
    return length > head_length + name_length && memcmp(line, head, head_length) == 0 &&
           memcmp(line + head_length, name, name_length) == 0 &&
           line[head_length + name_length] == '"';
}

/* gpsd's classes, so that a class of nobody's is refused. */
static bool class_is_other(const char *line, size_t length)
{
    static const char *const known[] = {"SKY", "VERSION",  "DEVICE", "WATCH", "POLL", "GST", "ATT",
                                        "IMU", "RTCM2",    "RTCM3",  "AIS",   "PPS",  "TOFF",
                                        "OSC", "SUBFRAME", "RAW"};
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++)
        if (class_is(line, length, known[i]))
            return true;
    return false;
}

/* The report once more with nothing in it but the members that are read here, class first: what a
 * newer gpsd may nest in a report stops libgps where it stands. NULL when one of them is of the
 * wrong kind or there is no memory. */
static json_t *bare_report(const json_t *report)
{
    static const char *const numbers[] = {"mode",   "lat",   "lon",   "altMSL",
                                          "eph",    "speed", "track"};
    json_t *bare = json_object();
    bool whole = json_object_set_new(bare, "class", json_string("TPV")) == 0;
    json_t *time = json_object_get(report, "time");
    if (time != NULL)
        whole = whole && json_is_string(time) && json_string_length(time) < 40 &&
                json_object_set(bare, "time", time) == 0;
    for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++) {
        json_t *number = json_object_get(report, numbers[i]);
        if (number != NULL)
            whole = whole && json_is_number(number) &&
                    json_object_set(bare, numbers[i], number) == 0;
    }
    if (whole)
        return bare;
    json_decref(bare);
    return NULL;
}

static void take_value(struct td_fix *fix, enum td_fix_has bit, double *member, double value)
{
    if (!isfinite(value))
        return;
    *member = value;
    fix->has |= (unsigned)bit;
}

/* True and *fix filled when the report is a position to be believed. */
static bool fix_of(const struct gps_data_t *data, int64_t now_ns, struct td_fix *fix)
{
    const gps_mask_t needed = MODE_SET | LATLON_SET | TIME_SET;
    const struct gps_fix_t *from = &data->fix;
    if ((data->set & needed) != needed || from->mode < MODE_2D)
        return false;
    if (isfinite(from->eph) && from->eph > eph_most_m)
        return false;
    struct td_fix made = {.received_ns = now_ns, .has = TD_FIX_UTC};
    made.utc_ms = (int64_t)from->time.tv_sec * 1000 + from->time.tv_nsec / TD_NS_PER_MS;
    if (isfinite(from->latitude) && isfinite(from->longitude)) {
        made.lat_deg = from->latitude;
        made.lon_deg = from->longitude;
        made.has |= TD_FIX_POSITION;
    }
    if (from->mode >= MODE_3D)
        take_value(&made, TD_FIX_ALTITUDE, &made.altitude_m, from->altMSL);
    take_value(&made, TD_FIX_SPEED, &made.speed_mps, from->speed);
    take_value(&made, TD_FIX_TRACK, &made.track_deg,
               from->track == 360.0 ? 0.0 : from->track);
    if (from->eph > 0.0)
        take_value(&made, TD_FIX_SIGMA, &made.sigma_m, from->eph * sigma_per_eph);
    if (!td_fix_is_sane(&made))
        return false;
    *fix = made;
    return true;
}

static enum td_gpsd_line read_report(struct td_gpsd_reader *reader, const json_t *report,
                                     int64_t now_ns, struct td_fix *fix)
{
    json_t *bare = bare_report(report);
    size_t length = json_dumpb(bare, reader->line, TD_GPSD_LINE_MAX,
                               JSON_COMPACT | JSON_REAL_PRECISION(17));
    json_decref(bare);
    if (length == 0 || length > TD_GPSD_LINE_MAX)
        return TD_GPSD_REFUSED;
    reader->line[length] = '\0';
    /* The set bits of an earlier report would otherwise stand for this one. */
    reader->data.set = 0;
    if (gps_unpack(reader->line, &reader->data) != 0)
        return TD_GPSD_REFUSED;
    return fix_of(&reader->data, now_ns, fix) ? TD_GPSD_FIX : TD_GPSD_NO_FIX;
}

enum td_gpsd_line td_gpsd_read_line(struct td_gpsd_reader *reader, const char *line, size_t length,
                                    int64_t now_ns, struct td_fix *fix, unsigned *receivers)
{
    bool report = class_is(line, length, "TPV"), list = class_is(line, length, "DEVICES");
    if (length > TD_GPSD_LINE_MAX)
        return TD_GPSD_REFUSED;
    if (!report && !list)
        return class_is(line, length, "ERROR")   ? TD_GPSD_ERROR
               : class_is_other(line, length) ? TD_GPSD_OTHER
                                              : TD_GPSD_REFUSED;
    json_error_t error;
    json_t *object = json_loadb(line, length, JSON_REJECT_DUPLICATES, &error);
    enum td_gpsd_line kind = TD_GPSD_REFUSED;
    if (object != NULL && report) {
        kind = read_report(reader, object, now_ns, fix);
    } else if (object != NULL && json_is_array(json_object_get(object, "devices"))) {
        *receivers = (unsigned)json_array_size(json_object_get(object, "devices"));
        kind = TD_GPSD_RECEIVERS;
    }
    json_decref(object);
    return kind;
}
