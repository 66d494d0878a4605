/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/cm.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "io/track.h"

static enum td_result parse(const char *text, bool derive, struct td_track *track,
                            struct td_problem *problem)
{
    return td_track_parse("t", text, strlen(text), derive, track, problem);
}

static void reads_gpx(void **state)
{
    (void)state;
    struct td_track track;
    struct td_problem problem;
    assert_int_equal(
        parse("<?xml version='1.0'?>\n<gpx xmlns='http://www.topografix.com/GPX/1/1' "
              "xmlns:e='urn:e'><wpt lat='1' lon='1'/><trk><trkseg>"
              "<trkpt lon='-130.5' lat='-47.25'><ele> 812.5 </ele>"
              "<time>2031-05-17T08:00:00.500Z</time>"
              "<extensions><e:speed>8.5</e:speed><e:course>360</e:course></extensions></trkpt>"
              "</trkseg><trkseg><trkpt lat='-47.26' lon='-130.5'><ele/>"
              "<time>2031-05-17T08:00:01Z</time></trkpt></trkseg></trk></gpx>",
              false, &track, &problem),
        TD_OK);
    assert_int_equal(track.count, 2);
    assert_true(track.timed);
    const struct td_fix *fix = track.fixes;
    assert_int_equal(fix->has, TD_FIX_POSITION | TD_FIX_ALTITUDE | TD_FIX_UTC | TD_FIX_SPEED |
                                   TD_FIX_TRACK);
    assert_true(fix->lat_deg == -47.25 && fix->lon_deg == -130.5 && fix->altitude_m == 812.5);
    assert_true(fix->speed_mps == 8.5 && fix->track_deg == 0);
    assert_int_equal(fix[1].has, TD_FIX_POSITION | TD_FIX_UTC);
    assert_true(fix[0].received_ns == 0 && fix[1].received_ns == 500000000);
    td_track_free(&track);
    assert_null(track.fixes);
}

static void reads_gpsd_lines(void **state)
{
    (void)state;
    struct td_track track;
    struct td_problem problem;
    assert_int_equal(
        parse("{\"class\":\"VERSION\",\"release\":\"x\"}\r\n\n"
              "{\"class\":\"TPV\",\"mode\":1}\n"
              "{\"class\":\"TPV\",\"mode\":3,\"time\":\"2031-05-17T08:00:00.000Z\",\"lat\":-47.25,"
              "\"lon\":-130.5,\"altMSL\":812.5,\"alt\":1,\"speed\":8.5,\"track\":90.25,"
              "\"epx\":1.96,\"epy\":3.92}\n"
              "{\"class\":\"TPV\",\"mode\":2,\"lat\":-47.26,\"lon\":-130.5,"
              "\"eph\":2.4477,\"epx\":99,\"epy\":99}",
              false, &track, &problem),
        TD_OK);
    assert_int_equal(track.count, 2);
    assert_int_equal(track.refused, 1);
    assert_false(track.timed);
    const struct td_fix *fix = track.fixes;
    assert_true(fix->altitude_m == 812.5 && fix->speed_mps == 8.5 && fix->track_deg == 90.25);
    assert_near(fix->sigma_m, 2.0, 1e-12);
    assert_near(fix[1].sigma_m, 1.0, 1e-12);
    assert_int_equal(fix[1].has, TD_FIX_POSITION | TD_FIX_SIGMA);
    assert_true(fix[1].received_ns == 0);
    td_track_free(&track);
}

/* A tenth of a second of latitude is 3.086 m near 47 degrees (arc of the WGS 84 meridian there:
 * 111.2 km a degree, NIMA TR8350.2 figures from memory). */
static void derives_from_neighbours_only_when_asked(void **state)
{
    (void)state;
    static const char text[] =
        "{\"class\":\"TPV\",\"time\":\"2031-05-17T08:00:00Z\",\"lat\":47,\"lon\":-130}\n"
        "{\"class\":\"TPV\",\"time\":\"2031-05-17T08:00:01Z\",\"lat\":46.9999,\"lon\":-130}\n"
        "{\"class\":\"TPV\",\"time\":\"2031-05-17T08:00:02Z\",\"lat\":46.9998,\"lon\":-130,"
        "\"speed\":3}\n"
        "{\"class\":\"TPV\",\"time\":\"2031-05-17T09:00:02Z\",\"lat\":46.9,\"lon\":-130}\n";
    struct td_track track;
    struct td_problem problem;
    assert_int_equal(parse(text, false, &track, &problem), TD_OK);
    assert_int_equal(track.fixes[1].has & (TD_FIX_SPEED | TD_FIX_TRACK), 0);
    td_track_free(&track);
    assert_int_equal(parse(text, true, &track, &problem), TD_OK);
    for (size_t i = 0; i < 3; i++)
        assert_near(track.fixes[i].track_deg, 180, 1e-9);
    assert_near(track.fixes[0].speed_mps, 11.12, 0.01);
    assert_near(track.fixes[1].speed_mps, 11.12, 0.01);
    assert_true(track.fixes[2].speed_mps == 3);
    /* An hour later says nothing about the speed in between. */
    assert_int_equal(track.fixes[3].has & (TD_FIX_SPEED | TD_FIX_TRACK), 0);
    td_track_free(&track);
}

static void time_running_backwards_is_no_time(void **state)
{
    (void)state;
    struct td_track track;
    assert_int_equal(
        parse("{\"class\":\"TPV\",\"time\":\"2031-05-17T08:00:01Z\",\"lat\":47,\"lon\":-130}\n"
              "{\"class\":\"TPV\",\"time\":\"2031-05-17T08:00:00Z\",\"lat\":47,\"lon\":-130}\n",
              true, &track, NULL),
        TD_OK);
    assert_false(track.timed);
    assert_int_equal(track.fixes[0].has & TD_FIX_SPEED, 0);
    td_track_free(&track);
}

static void says_what_is_wrong_and_where(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        int line;
        const char *says;
    } rows[] = {
        {"", 0, "is empty"},
        {" \n\t", 0, "is empty"},
        {"$GPGGA,1", 1, "is no track"},
        {"<gpx><trk>\n<trkpt lat='1' lon='2'>", 2, "is not whole GPX"},
        {"<gpx>\n\n<trkpt lat='nan' lon='2'/></gpx>", 3, "lat is \"nan\""},
        {"<gpx>\n<trkpt lat='1'/></gpx>", 2, "point without \"lon\""},
        {"<gpx><trkpt lat='1' lon='2'><ele>high</ele></trkpt></gpx>", 1, "ele is \"high\""},
        {"<gpx><trkpt lat='1' lon='2'><time>noon</time></trkpt></gpx>", 1, "time is \"noon\""},
        {"<!DOCTYPE g [<!ENTITY a 'b'>]>\n<gpx/>", 1, "defines the entity \"a\""},
        {"<gpx><trkpt lat='95' lon='2'/></gpx>", 0, "no usable position (1 refused)"},
        {"<html></html>", 0, "no usable position"},
        {"{\"class\":\"TPV\"}\n{\"class\":\"TPV\",", 2, "is no JSON object"},
        {"{\"class\":\"TPV\",\"lat\":NaN}", 1, "is no JSON object"},
        {"{\"class\":\"TPV\",\"lat\":\"1\",\"lon\":2}", 1, "lat or lon is no number"},
        {"{\"class\":\"TPV\",\"lat\":1,\"lat\":2}", 1, "duplicate"},
        {"{\"lat\":1}", 1, "without \"class\""},
        {"{\"class\":\"TPV\",\"lat\":1,\"lon\":2,\"speed\":true}", 1, "no number"},
        {"{\"class\":\"TPV\",\"time\":5,\"lat\":1,\"lon\":2}", 1, "time is unreadable"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct td_track track = {.count = 77};
        struct td_problem problem = {0};
        assert_int_equal(parse(rows[i].text, true, &track, &problem), TD_INVALID);
        assert_int_equal(track.count, 77);
        assert_string_equal(problem.file, "t");
        if (strstr(problem.text, rows[i].says) == NULL || problem.line != rows[i].line)
            fail_msg("%s: line %d: %s", rows[i].text, problem.line, problem.text);
    }
}

static void one_endless_line_is_refused(void **state)
{
    (void)state;
    enum { MUCH = 10 * 1000 * 1000 };
    char *text = malloc(MUCH);
    assert_non_null(text);
    memset(text, 'a', MUCH);
    memcpy(text, "{\"class\":\"", 10);
    struct td_track track;
    struct td_problem problem;
    assert_int_equal(td_track_parse("t", text, MUCH, false, &track, &problem), TD_INVALID);
    assert_non_null(strstr(problem.text, "longer than"));
    free(text);
}

/* Counts: grep -c -E '<trkpt|TPV' of each file. */
static void reads_real_recordings(void **state)
{
    (void)state;
    static const struct {
        const char *path;
        size_t count;
    } rows[] = {
        {TD_SHARED_DIR "/data/hairpins/climb.gpx", 3142},
        {TD_SHARED_DIR "/data/motorway/trip-1-phone.tpv.json", 2099},
        {TD_SHARED_DIR "/data/both-ways/down.tpv.json", 500},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        if (access(rows[i].path, R_OK) != 0) {
            print_message("SKIPPED: %s not there\n", rows[i].path);
            skip();
        }
        struct td_track track;
        struct td_problem problem;
        if (td_track_read(rows[i].path, true, &track, &problem) != TD_OK)
            fail_msg("%s:%d: %s", problem.file, problem.line, problem.text);
        assert_true(track.timed);
        assert_int_equal(track.refused, 0);
        size_t with_speed = 0;
        for (size_t k = 0; k < track.count; k++) {
            assert_true(td_fix_is_sane(&track.fixes[k]));
            with_speed += (track.fixes[k].has & TD_FIX_SPEED) != 0;
        }
        assert_int_equal(track.count, rows[i].count);
        assert_true(with_speed * 100 >= track.count * 99);
        td_track_free(&track);
    }
}

/* What gpsd 3.22 made of a raw capture is beside it; our reading of the capture through gpsdecode
 * holds no others. */
static void reads_what_a_receiver_sent(void **state)
{
    (void)state;
    static const char *const names[] = {"ublox-neo-m9n-nmea.log", "garmin25lp.log",
                                        "sirfstarv-nmea.log"};
    for (size_t k = 0; k < sizeof names / sizeof names[0]; k++) {
        char path[512], chk[520];
        (void)snprintf(path, sizeof path, "%s/data/captures/%s", TD_SHARED_DIR, names[k]);
        (void)snprintf(chk, sizeof chk, "%s.chk", path);
        if (access(path, R_OK) != 0) {
            print_message("SKIPPED: %s not there\n", path);
            skip();
        }
        struct td_track raw = {0}, told = {0};
        struct td_problem problem = {0};
        enum td_result result = td_track_read(path, false, &raw, &problem);
        if (result == TD_NOT_FOUND) {
            print_message("SKIPPED: gpsdecode not there\n");
            skip();
        }
        if (result != TD_OK || td_track_read(chk, false, &told, &problem) != TD_OK)
            fail_msg("%s", problem.text);
        /* gpsd reports while an epoch is still coming in, its decoder once an epoch. */
        assert_true(raw.count >= 9 && raw.count <= told.count);
        for (size_t i = 0; i < raw.count; i++) {
            size_t at = 0;
            while (at < told.count && (told.fixes[at].utc_ms != raw.fixes[i].utc_ms ||
                                       fabs(told.fixes[at].lat_deg - raw.fixes[i].lat_deg) > 1e-9 ||
                                       fabs(told.fixes[at].lon_deg - raw.fixes[i].lon_deg) > 1e-9))
                at++;
            assert_true(at < told.count);
        }
        td_track_free(&raw);
        td_track_free(&told);
    }
}

static void says_that_the_decoder_is_missing(void **state)
{
    (void)state;
    char path[] = "nmea-XXXXXX";
    int fd = mkstemp(path);
    static const char sentence[] =
        "$GPGGA,080000,4706.00,S,12854.00,W,1,08,1.0,800.0,M,0.0,M,,*5A\r\n";
    assert_true(fd >= 0 && write(fd, sentence, sizeof sentence - 1) == sizeof sentence - 1);
    (void)close(fd);
    char *before = strdup(getenv("PATH"));
    assert_int_equal(setenv("PATH", "/nowhere", 1), 0);
    struct td_track track = {0};
    struct td_problem problem = {0};
    assert_int_equal(td_track_read(path, false, &track, &problem), TD_NOT_FOUND);
    assert_non_null(strstr(problem.text, "\"gpsdecode\", which reads that, is not installed"));
    assert_int_equal(setenv("PATH", before, 1), 0);
    free(before);
    (void)unlink(path);
}

static void reads_the_first_line_of_geojson(void **state)
{
    (void)state;
    static const char text[] =
        "{\"type\":\"FeatureCollection\",\"features\":[{\"type\":\"Feature\",\"properties\":{},"
        "\"geometry\":{\"type\":\"Point\",\"coordinates\":[1,2]}},{\"type\":\"Feature\","
        "\"properties\":null,\"geometry\":{\"type\":\"LineString\",\"coordinates\":"
        "[[-128.9,-47.1,812.5],[-128.8,-47.2]]}}]}";
    struct td_track track = {0};
    struct td_problem problem = {0};
    assert_int_equal(td_track_parse("l", text, strlen(text), false, &track, &problem), TD_OK);
    assert_int_equal(track.count, 2);
    assert_false(track.timed);
    assert_near(track.fixes[0].altitude_m, 812.5, 1e-9);
    assert_int_equal(track.fixes[1].has, TD_FIX_POSITION);
    td_track_free(&track);
    static const char *const wrong[][2] = {
        {"{\"type\":\"FeatureCollection\",\"features\":[]}", "has no LineString"},
        {"{\"type\":\"LineString\",\"coordinates\":[[1,\"x\"]]}", "vertex 1 of the line is no"},
        {"{\"type\":\"LineString\",", "is not whole GeoJSON"},
    };
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        assert_int_equal(td_track_parse("l", wrong[i][0], strlen(wrong[i][0]), false, &track,
                                        &problem),
                         TD_INVALID);
        assert_non_null(strstr(problem.text, wrong[i][1]));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_gpx),
        cmocka_unit_test(reads_gpsd_lines),
        cmocka_unit_test(derives_from_neighbours_only_when_asked),
        cmocka_unit_test(time_running_backwards_is_no_time),
        cmocka_unit_test(says_what_is_wrong_and_where),
        cmocka_unit_test(one_endless_line_is_refused),
        cmocka_unit_test(reads_real_recordings),
        cmocka_unit_test(reads_what_a_receiver_sent),
        cmocka_unit_test(says_that_the_decoder_is_missing),
        cmocka_unit_test(reads_the_first_line_of_geojson),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
