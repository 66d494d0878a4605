/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The three forms of an exported drive: GPX 1.1, GeoJSON (RFC 7946), CSV (RFC 4180). */
#include <math.h>
#include <stdlib.h>

#include <jansson.h>

#include "io/utc.h"
#include "talkdown/units.h"
#include "tool/cells.h"
#include "tool/desk/export_drive.h"
#include "tool/drive/prompt_lines.h"

static bool has(const struct td_export_point *point, enum td_fix_has what)
{
    return (point->fix.has & (unsigned)what) != 0;
}

static double if_has(const struct td_export_point *point, enum td_fix_has what, double value)
{
    return has(point, what) ? value : (double)NAN;
}

/* --- GPX --- */

/* XML text: the five marks, and a blank for what XML 1.0 forbids. */
static void put_xml(FILE *to, const char *text)
{
    for (; *text != '\0'; text++) {
        switch (*text) {
        case '&': (void)fputs("&amp;", to); break;
        case '<': (void)fputs("&lt;", to); break;
        case '>': (void)fputs("&gt;", to); break;
        case '"': (void)fputs("&quot;", to); break;
        default: (void)fputc((unsigned char)*text < 0x20 ? ' ' : *text, to); break;
        }
    }
}

static void put_place(FILE *to, const struct td_export_drive *drive, const char *tag,
                      const struct td_export_point *point, int64_t at_ns)
{
    char utc[TD_UTC_TEXT];
    (void)fprintf(to, "<%s lat=\"%.7f\" lon=\"%.7f\">", tag, point->fix.lat_deg,
                  point->fix.lon_deg);
    if (has(point, TD_FIX_ALTITUDE))
        (void)fprintf(to, "<ele>%.1f</ele>", point->fix.altitude_m);
    if (td_export_utc(drive, at_ns, utc)[0] != '\0')
        (void)fprintf(to, "<time>%s</time>", utc);
}

static void put_waypoint(FILE *to, const struct td_export_drive *drive,
                         const struct td_export_prompt *prompt)
{
    int64_t at_ns = drive->start_ns + (int64_t)(prompt->t_s * (double)TD_NS_PER_S);
    put_place(to, drive, "wpt", &drive->points[prompt->point], at_ns);
    (void)fputs("<name>", to);
    put_xml(to, prompt->words);
    (void)fprintf(to, "</name><desc>%s, %s</desc><type>%s</type></wpt>\n",
                  td_prompt_key(prompt->prompt.id), td_fate_word(prompt->fate),
                  td_category_name(prompt->prompt.category));
}

static void put_track_point(FILE *to, const struct td_export_drive *drive,
                            const struct td_export_point *point)
{
    put_place(to, drive, "trkpt", point, point->at_ns);
    bool place = point->thought && point->hill[0] != '\0';
    if (has(point, TD_FIX_SPEED) || place) {
        (void)fputs("<extensions>", to);
        if (has(point, TD_FIX_SPEED))
            (void)fprintf(to, "<d:speed_mps>%.2f</d:speed_mps>", point->fix.speed_mps);
        if (place)
            (void)fprintf(to, "<d:along_m>%.1f</d:along_m>", point->estimate.along_m);
        if (place && point->estimate.target_mps > 0)
            (void)fprintf(to, "<d:target_mps>%.2f</d:target_mps>", point->estimate.target_mps);
        (void)fputs("</extensions>", to);
    }
    (void)fputs("</trkpt>\n", to);
}

void td_export_gpx(FILE *to, const struct td_export_drive *drive)
{
    char utc[TD_UTC_TEXT];
    (void)fputs("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
                "<gpx version=\"1.1\" creator=\"talkdown\" "
                "xmlns=\"http://www.topografix.com/GPX/1/1\" "
                "xmlns:d=\"urn:talkdown:drive:1\">\n<metadata><name>", to);
    put_xml(to, drive->rig_name);
    (void)fputs("</name>", to);
    if (td_export_utc(drive, drive->start_ns, utc)[0] != '\0')
        (void)fprintf(to, "<time>%s</time>", utc);
    (void)fputs("</metadata>\n", to);
    for (size_t i = 0; i < drive->prompt_count; i++)
        put_waypoint(to, drive, &drive->prompts[i]);
    (void)fputs("<trk><name>", to);
    put_xml(to, drive->rig_name);
    (void)fputs("</name>\n", to);
    for (size_t i = 0; i < drive->point_count; i++) {
        if (drive->points[i].breaks)
            (void)fputs(i > 0 ? "</trkseg>\n<trkseg>\n" : "<trkseg>\n", to);
        put_track_point(to, drive, &drive->points[i]);
    }
    (void)fputs("</trkseg>\n</trk>\n</gpx>\n", to);
}

/* --- GeoJSON --- */

static json_t *rounded(double value, double steps)
{
    return isfinite(value) ? json_real(round(value * steps) / steps) : json_null();
}

static json_t *position(double lon_deg, double lat_deg, bool has_height, double height_m)
{
    json_t *at = json_array();
    (void)json_array_append_new(at, rounded(lon_deg, 1e7));
    (void)json_array_append_new(at, rounded(lat_deg, 1e7));
    if (has_height)
        (void)json_array_append_new(at, rounded(height_m, 10));
    return at;
}

static json_t *position_of(const struct td_export_point *point)
{
    return position(point->fix.lon_deg, point->fix.lat_deg, has(point, TD_FIX_ALTITUDE),
                    point->fix.altitude_m);
}

/* A line needs two positions (RFC 7946, 3.1.4). */
static void end_part(json_t *parts, json_t *part)
{
    if (json_array_size(part) >= 2)
        (void)json_array_append(parts, part);
    json_decref(part);
}

/* Where the track crosses the antimeridian it is cut in two there (RFC 7946, 3.1.9). */
static json_t *cut_part(json_t *parts, json_t *part, const struct td_export_point *from,
                        const struct td_export_point *to)
{
    double east_deg = from->fix.lon_deg > 0 ? 180 : -180;
    double to_lon_deg = to->fix.lon_deg + 2 * east_deg;
    double way_deg = to_lon_deg - from->fix.lon_deg;
    double share = way_deg != 0 ? (east_deg - from->fix.lon_deg) / way_deg : 0;
    double lat_deg = from->fix.lat_deg + share * (to->fix.lat_deg - from->fix.lat_deg);
    double height_m = from->fix.altitude_m + share * (to->fix.altitude_m - from->fix.altitude_m);
    bool heights = has(from, TD_FIX_ALTITUDE) && has(to, TD_FIX_ALTITUDE);
    (void)json_array_append_new(part, position(east_deg, lat_deg, heights, height_m));
    end_part(parts, part);
    json_t *next = json_array();
    (void)json_array_append_new(next, position(-east_deg, lat_deg, heights, height_m));
    return next;
}

static json_t *track(const struct td_export_drive *drive)
{
    json_t *parts = json_array(), *part = json_array();
    for (size_t i = 0; i < drive->point_count; i++) {
        const struct td_export_point *point = &drive->points[i];
        const struct td_export_point *before = i > 0 ? point - 1 : NULL;
        if (point->breaks) {
            end_part(parts, part);
            part = json_array();
        } else if (before != NULL && fabs(point->fix.lon_deg - before->fix.lon_deg) > 180) {
            part = cut_part(parts, part, before, point);
        }
        (void)json_array_append_new(part, position_of(point));
    }
    end_part(parts, part);
    return parts;
}

static json_t *utc_json(const struct td_export_drive *drive, int64_t at_ns)
{
    char utc[TD_UTC_TEXT];
    return td_export_utc(drive, at_ns, utc)[0] != '\0' ? json_string(utc) : json_null();
}

static json_t *prompt_feature(const struct td_export_drive *drive,
                              const struct td_export_prompt *prompt)
{
    int64_t at_ns = drive->start_ns + (int64_t)(prompt->t_s * (double)TD_NS_PER_S);
    bool hill = prompt->hill[0] != '\0';
    return json_pack(
        "{s:s, s:{s:s, s:o, s:o, s:i, s:s, s:s, s:s, s:s, s:o, s:o, s:o}, s:{s:s, s:o}}", "type",
        "Feature", "properties", "role", "prompt", "t_s", rounded(prompt->t_s, 10), "utc",
        utc_json(drive, at_ns), "serial", (int)prompt->prompt.serial, "id",
        td_prompt_key(prompt->prompt.id), "category", td_category_name(prompt->prompt.category),
        "words", prompt->words, "fate", td_fate_word(prompt->fate), "hill",
        hill ? json_string(prompt->hill) : json_null(), "along_m",
        hill ? rounded(prompt->along_m, 10) : json_null(), "speed_mph",
        rounded(td_mph_from_mps(prompt->speed_mps), 10), "geometry", "type", "Point",
        "coordinates", position_of(&drive->points[prompt->point]));
}

void td_export_geojson(FILE *to, const struct td_export_drive *drive)
{
    const struct td_export_point *last = &drive->points[drive->point_count - 1];
    json_t *features = json_array();
    (void)json_array_append_new(
        features, json_pack("{s:s, s:{s:s, s:s, s:o, s:o, s:o}, s:{s:s, s:o}}", "type", "Feature",
                            "properties", "role", "drive", "rig", drive->rig_name, "start_utc",
                            utc_json(drive, drive->start_ns), "from_s",
                            rounded(drive->points[0].t_s, 10), "to_s", rounded(last->t_s, 10),
                            "geometry", "type", "MultiLineString", "coordinates", track(drive)));
    for (size_t i = 0; i < drive->prompt_count; i++)
        (void)json_array_append_new(features, prompt_feature(drive, &drive->prompts[i]));
    json_t *collection =
        json_pack("{s:s, s:o}", "type", "FeatureCollection", "features", features);
    (void)json_dumpf(collection, to, JSON_COMPACT | JSON_REAL_PRECISION(12));
    (void)fputc('\n', to);
    json_decref(collection);
}

/* --- CSV --- */

static void row_cells(const struct td_export_drive *drive, const struct td_export_point *point,
                      const struct td_export_prompt *prompt, char utc[TD_UTC_TEXT],
                      struct td_cells *cells)
{
    const struct td_estimate *estimate = &point->estimate;
    bool hill = point->thought && point->hill[0] != '\0';
    double unknown = (double)NAN;
    cells->count = 0;
    (void)td_export_utc(drive, point->at_ns, utc);
    td_cells_number(cells, "t_s", point->t_s, 3);
    td_cells_text(cells, "utc", utc[0] != '\0' ? utc : NULL);
    td_cells_number(cells, "lat_deg", point->fix.lat_deg, 7);
    td_cells_number(cells, "lon_deg", point->fix.lon_deg, 7);
    td_cells_number(cells, "altitude_m", if_has(point, TD_FIX_ALTITUDE, point->fix.altitude_m), 1);
    td_cells_number(cells, "speed_mps", if_has(point, TD_FIX_SPEED, point->fix.speed_mps), 2);
    td_cells_number(cells, "track_deg", if_has(point, TD_FIX_TRACK, point->fix.track_deg), 1);
    td_cells_number(cells, "sigma_m", if_has(point, TD_FIX_SIGMA, point->fix.sigma_m), 1);
    td_cells_text(cells, "where", point->thought ? td_where_name(estimate->where) : NULL);
    td_cells_text(cells, "hill", hill ? point->hill : NULL);
    td_cells_number(cells, "along_m", hill ? estimate->along_m : unknown, 1);
    td_cells_number(cells, "target_mps", hill && estimate->target_mps > 0 ? estimate->target_mps
                                                                          : unknown, 2);
    td_cells_number(cells, "heat_least_c", point->thought ? estimate->heat_least_c : unknown, 1);
    td_cells_number(cells, "heat_likely_c", point->thought ? estimate->heat_likely_c : unknown, 1);
    td_cells_number(cells, "heat_most_c", point->thought ? estimate->heat_most_c : unknown, 1);
    td_cells_text(cells, "prompt", prompt != NULL ? td_prompt_key(prompt->prompt.id) : NULL);
    td_cells_text(cells, "category",
                  prompt != NULL ? td_category_name(prompt->prompt.category) : NULL);
    td_cells_text(cells, "words", prompt != NULL ? prompt->words : NULL);
    td_cells_text(cells, "fate", prompt != NULL ? td_fate_word(prompt->fate) : NULL);
}

/* Of several prompts at one position the row stands once for each. */
void td_export_csv(FILE *to, const struct td_export_drive *drive)
{
    struct td_cells cells;
    char utc[TD_UTC_TEXT];
    row_cells(drive, &drive->points[0], NULL, utc, &cells);
    td_cells_csv_head(to, &cells);
    size_t next = 0;
    for (size_t i = 0; i < drive->point_count; i++) {
        bool told = false;
        for (; next < drive->prompt_count && drive->prompts[next].point <= i; next++) {
            row_cells(drive, &drive->points[i], &drive->prompts[next], utc, &cells);
            td_cells_csv(to, &cells);
            told = true;
        }
        if (told)
            continue;
        row_cells(drive, &drive->points[i], NULL, utc, &cells);
        td_cells_csv(to, &cells);
    }
}
