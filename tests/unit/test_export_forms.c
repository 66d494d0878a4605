/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The forms of an exported drive where they are easy to get wrong: the antimeridian, a lone
 * position, words with marks that XML and CSV use themselves. */
#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "support/cm.h"
#include "talkdown/text.h"
#include "talkdown/units.h"
#include "tool/desk/export_drive.h"

static struct td_export_point points[5];
static struct td_export_prompt prompt;

static struct td_export_point at(double t_s, double lat_deg, double lon_deg, bool breaks)
{
    return (struct td_export_point){
        .at_ns = (int64_t)(t_s * 1e9),
        .t_s = t_s,
        .breaks = breaks,
        .fix = {.has = TD_FIX_POSITION | TD_FIX_ALTITUDE, .lat_deg = lat_deg, .lon_deg = lon_deg,
                .altitude_m = 100 + t_s}};
}

/* Eastward over the antimeridian, then one position alone after a hole, then two more. */
static struct td_export_drive drive_over_the_line(void)
{
    points[0] = at(0, -40.0, 179.9990, true);
    points[1] = at(1, -40.0001, 179.9997, false);
    points[2] = at(2, -40.0003, -179.9995, false);
    points[3] = at(60, -40.1, -179.9, true);
    points[4] = at(120, -40.2, -179.8, true);
    prompt = (struct td_export_prompt){.fate = TD_EVENT_SPOKEN, .t_s = 1.5, .point = 1};
    prompt.prompt.id = TD_PROMPT_GEAR;
    (void)td_text_copy(prompt.words, sizeof prompt.words, "\"A & B\" <left>, now.");
    struct td_export_drive drive = {.points = points, .point_count = 5, .prompts = &prompt,
                                    .prompt_count = 1, .start_utc_ms = 1893499200000LL};
    (void)td_text_copy(drive.rig_name, sizeof drive.rig_name, "R&D");
    return drive;
}

static char *text_of(void (*put)(FILE *to, const struct td_export_drive *drive),
                     const struct td_export_drive *drive)
{
    char *text = NULL;
    size_t length = 0;
    FILE *to = open_memstream(&text, &length);
    assert_non_null(to);
    put(to, drive);
    assert_int_equal(fclose(to), 0);
    return text;
}

static double coordinate(const json_t *line, size_t index, size_t axis)
{
    return json_number_value(json_array_get(json_array_get(line, index), axis));
}

/* RFC 7946, 3.1.9: cut in two, both ending on the line, at the same height and latitude. */
static void a_track_is_cut_at_the_antimeridian(void **state)
{
    (void)state;
    struct td_export_drive drive = drive_over_the_line();
    char *text = text_of(td_export_geojson, &drive);
    json_t *root = json_loads(text, 0, NULL);
    assert_non_null(root);
    const json_t *parts = json_object_get(
        json_object_get(json_array_get(json_object_get(root, "features"), 0), "geometry"),
        "coordinates");
    assert_int_equal(json_array_size(parts), 2); /* the lone positions make no line */
    const json_t *west = json_array_get(parts, 0), *east = json_array_get(parts, 1);
    assert_int_equal(json_array_size(west), 3);
    assert_int_equal(json_array_size(east), 2);
    assert_near(coordinate(west, 2, 0), 180, 0);
    assert_near(coordinate(east, 0, 0), -180, 0);
    /* 0.0003 of 0.0008 degrees of the way: by hand. */
    assert_near(coordinate(west, 2, 1), -40.0001 - 0.0002 * 3 / 8, 1e-7);
    assert_near(coordinate(east, 0, 1), coordinate(west, 2, 1), 0);
    assert_near(coordinate(west, 2, 2), 101.4, 0.05);
    assert_near(coordinate(east, 1, 0), -179.9995, 1e-9);
    json_decref(root);
    free(text);
}

static void words_do_not_break_their_form(void **state)
{
    (void)state;
    struct td_export_drive drive = drive_over_the_line();
    char *text = text_of(td_export_gpx, &drive);
    assert_non_null(strstr(text, "<name>&quot;A &amp; B&quot; &lt;left&gt;, now.</name>"));
    assert_non_null(strstr(text, "<name>R&amp;D</name>"));
    free(text);
    text = text_of(td_export_csv, &drive);
    assert_non_null(strstr(text, ",\"\"\"A & B\"\" <left>, now.\",spoken\r\n"));
    free(text);
}

static void what_is_not_known_is_left_out(void **state)
{
    (void)state;
    struct td_export_drive drive = drive_over_the_line();
    points[0].fix.has = TD_FIX_POSITION;
    drive.anonymous = true;
    char *text = text_of(td_export_csv, &drive);
    assert_non_null(strstr(text, "\r\n0.000,,-40.0000000,179.9990000,,,,,,,,,,,,,,,\r\n"));
    free(text);
    text = text_of(td_export_gpx, &drive);
    assert_non_null(strstr(text, "<trkpt lat=\"-40.0000000\" lon=\"179.9990000\"></trkpt>"));
    assert_null(strstr(text, "<time>"));
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_track_is_cut_at_the_antimeridian),
        cmocka_unit_test(words_do_not_break_their_form),
        cmocka_unit_test(what_is_not_known_is_left_out),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
