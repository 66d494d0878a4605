/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The survey from the command line: what is fed to it (every form of recording, a phone's from home
 * on, a tunnel) and what it tells, on the screen and for machines. */
#include "support/survey_tool.h"

static int degrees_minutes(char *to, size_t size, double value_deg, int width)
{
    double size_deg = fabs(value_deg);
    return snprintf(to, size, "%0*d%09.6f", width, (int)size_deg,
                    (size_deg - floor(size_deg)) * 60);
}

/* One second of the drive that `record` makes, without errors, as a receiver sends it and as gpsd
 * passes it on. NMEA 0183's sentences as gpsd's documentation has them, without checksums. */
static void write_second(FILE *nmea, FILE *json, int i, double along_m)
{
    char lat[24], lon[24];
    double lon_deg = LON_DEG + along_m / DEG_LON_M;
    (void)degrees_minutes(lat, sizeof lat, LAT_DEG, 2);
    (void)degrees_minutes(lon, sizeof lon, lon_deg, 3);
    (void)fprintf(nmea,
                  "$GPRMC,08%02d%02d.00,A,%s,S,%s,W,29.16,90.0,170531,,\r\n"
                  "$GPGGA,08%02d%02d.00,%s,S,%s,W,1,09,0.8,%.1f,M,0.0,M,,\r\n",
                  i / 60, i % 60, lat, lon, i / 60, i % 60, lat, lon, height_m(along_m));
    (void)fprintf(json,
                  "{\"class\":\"TPV\",\"mode\":3,\"time\":\"2031-05-18T08:%02d:%02d.000Z\","
                  "\"lat\":%.9f,\"lon\":%.9f,\"altMSL\":%.3f,\"speed\":15.0}\n",
                  i / 60, i % 60, LAT_DEG, lon_deg, height_m(along_m));
}

/* GPX of one day, gpsd's lines of another and a receiver's of a third are passes like any other. */
static void every_form_of_recording_is_a_pass(void **state)
{
    (void)state;
    char path[2][256];
    record_three(1);
    (void)snprintf(path[0], sizeof path[0], "%s/day.nmea", folder);
    (void)snprintf(path[1], sizeof path[1], "%s/day.json", folder);
    FILE *nmea = fopen(path[0], "w"), *json = fopen(path[1], "w");
    assert_true(nmea != NULL && json != NULL);
    for (int i = 0; i < 400; i++)
        write_second(nmea, json, i, 15.0 * i);
    assert_true(fclose(nmea) == 0 && fclose(json) == 0);
    if (system("gpsdecode -V >/dev/null 2>&1") != 0) {
        print_message("SKIPPED: gpsdecode not there\n");
        skip();
    }
    json_t *object = survey_json("@/a.gpx @/day.nmea @/day.json --out @/forms.geojson --json");
    const json_t *passes = json_object_get(object, "passes");
    assert_int_equal(json_array_size(passes), 3);
    for (size_t i = 0; i < 3; i++)
        assert_true(number(json_array_get(passes, i), "points_used") > 380);
    assert_near(number(object, "steepest_300_m_pct"), 7, 0.3);
    json_decref(object);
}

/* As a phone in a cab records: from home on, standing there first, every one to four seconds, whole
 * metres of height, in a GPX with more in it than a track. */
static void record_phone(const char *name, bool climbs, uint64_t seed)
{
    char path[256];
    (void)snprintf(path, sizeof path, "%s/%s.gpx", folder, name);
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    struct td_rng rng;
    td_rng_seed(&rng, seed, 6);
    (void)fprintf(file,
                  "<?xml version=\"1.0\"?><gpx version=\"1.1\" creator=\"a phone\"><metadata>"
                  "<time>2031-05-17T07:00:00Z</time></metadata><wpt lat=\"%.6f\" lon=\"%.6f\">"
                  "<name>home</name></wpt><trk><name>Monday</name><trkseg>\n",
                  LAT_DEG, LON_DEG - 6000 / DEG_LON_M);
    double north = 0, gone_m = 0;
    for (int s = 0; gone_m < 12600; s += 1 + (int)td_rng_below(&rng, 4)) {
        bool stands = s < 200;
        double along_m = climbs ? 6600 - gone_m : gone_m - 6000;
        north = 0.9 * north + td_rng_normal(&rng);
        (void)fprintf(file,
                      "<trkpt lat=\"%.7f\" lon=\"%.7f\"><ele>%.0f</ele>"
                      "<time>2031-05-17T%02d:%02d:%02dZ</time><hdop>0.9</hdop>"
                      "<extensions><course>90</course></extensions></trkpt>\n",
                      LAT_DEG + north / DEG_LAT_M, LON_DEG + along_m / DEG_LON_M,
                      height_m(along_m), 7 + s / 3600, s / 60 % 60, s % 60);
        gone_m = stands ? 0 : gone_m + 35;
    }
    (void)fprintf(file, "</trkseg></trk></gpx>\n");
    assert_int_equal(fclose(file), 0);
}

/* Home is 8 km before the crest: whoever looks into the file does not find it, nor when it was. */
static void a_phone_from_home_leaves_no_home_in_the_file(void **state)
{
    (void)state;
    record_phone("p", false, 1);
    record_phone("q", true, 2);
    record_phone("r", false, 3);
    struct tool_run run = survey("@/p.gpx @/q.gpx @/r.gpx --out @/phone.geojson", 0);
    assert_non_null(strstr(run.out, "  q.gpx: up, "));
    tool_run_free(&run);
    struct td_hill_file *file = profile("phone");
    const struct td_hill *hill = td_hill_file_hill(file);
    assert_near(truth_m(hill, hill->crest_m), 2000, 100); /* whole metres, 35 m apart */
    assert_near(hill->steepest_downgrade_ratio, 0.07, 0.004);
    assert_near(hill->crest_m, 2500, 20);                  /* what is kept before the crest */
    assert_near(hill->length_m - hill->foot_m, 1000, 20);  /* and past the foot */
    for (size_t i = 0; i < hill->station_count; i++)
        assert_true((hill->stations[i].lon_deg - LON_DEG) * DEG_LON_M > -700);
    size_t length = 0;
    const char *bytes = td_hill_file_bytes(file, &length);
    assert_null(strstr(bytes, "home"));
    assert_null(strstr(bytes, "2031"));
    assert_null(strstr(bytes, "Monday"));
    td_hill_file_free(&file);
}

/* The same figures as on the screen, read back from its words. */
static void json_tells_what_the_screen_tells(void **state)
{
    (void)state;
    record_three(1);
    struct tool_run run = survey("@/a.gpx @/b.gpx @/c.gpx --out @/said.geojson", 0);
    json_t *object = survey_json("@/a.gpx @/b.gpx @/c.gpx --out @/said.geojson --force --json");
    double grade_200, grade_1000, line_m, mean, steepest, before_m, after_m;
    assert_int_equal(sscanf(strstr(run.out, "3 passes: "),
                            "3 passes: grade within %lf %% over 200 m and %lf %% over 1 km (one "
                            "sigma, as they differ); line within %lf m",
                            &grade_200, &grade_1000, &line_m),
                     3);
    assert_int_equal(sscanf(strstr(run.out, " % mean") - 5, "%lf %% mean, steepest 300 m %lf %%",
                            &mean, &steepest),
                     2);
    assert_int_equal(sscanf(strstr(run.out, "trimmed: before"), "trimmed: before %lf km (%*f mi), "
                            "after %lf km", &before_m, &after_m), 2);
    assert_near(number(object, "grade_sigma_200_m_pct"), grade_200, 0.0051);
    assert_near(number(object, "grade_sigma_1000_m_pct"), grade_1000, 0.0051);
    assert_near(number(object, "position_sigma_m"), line_m, 0.051);
    assert_near(number(object, "mean_downgrade_pct"), mean, 0.051);
    assert_near(number(object, "steepest_300_m_pct"), steepest, 0.051);
    assert_near(number(object, "trimmed_after_m"), after_m * 1000, 5.1);
    assert_near(number(object, "passes_in_all"), 3, 0);
    assert_near(number(object, "crest_m"), 2000 - number(object, "trimmed_before_m"), 60);
    const json_t *passes = json_object_get(object, "passes");
    assert_int_equal(json_array_size(passes), 3);
    const json_t *up = json_array_get(passes, 1);
    assert_string_equal(json_string_value(json_object_get(up, "way")), "up");
    assert_string_equal(json_string_value(json_object_get(up, "file")), "b.gpx");
    assert_near(number(up, "points"), 400, 0);
    assert_int_equal(json_array_size(json_object_get(object, "warnings")), 0);
    json_decref(object);
    tool_run_free(&run);
    object = survey_json("@/a.gpx --out @/one.geojson --json");
    assert_true(json_is_null(json_object_get(object, "position_sigma_m")));
    assert_true(number(object, "grade_sigma_200_m_pct") > 0);
    json_decref(object);
}

/* The terrain above a tunnel is drawn straight, and pointed at. */
static void a_tunnel_is_bridged_with_a_warning(void **state)
{
    (void)state;
    for (int i = 0; i < 3; i++)
        (void)record(&(struct recording){.name = (const char *[]){"a", "b", "c"}[i],
                                         .height_sigma_m = 1, .climbs = i == 1,
                                         .hill_over_tunnel_m = 60, .seed = 40 + (uint64_t)i});
    struct tool_run run = survey("@/a.gpx @/b.gpx @/c.gpx --out @/tunnel.geojson", 0);
    assert_non_null(strstr(run.out, "drawn straight instead (a tunnel, a viaduct, a spike)"));
    tool_run_free(&run);
    struct td_hill_file *file = profile("tunnel");
    const struct td_hill *hill = td_hill_file_hill(file);
    assert_near(hill->steepest_downgrade_ratio, 0.07, 0.006);
    for (double at_m = 0; at_m + 200 <= hill->length_m; at_m += 50)
        assert_true(fabs(td_hill_elevation_at(hill, at_m) -
                         td_hill_elevation_at(hill, at_m + 200)) < 20);
    json_t *object =
        survey_json("@/a.gpx @/b.gpx @/c.gpx --out @/tunnel.geojson --force --json");
    const json_t *warning = json_array_get(json_object_get(object, "warnings"), 0);
    assert_string_equal(json_string_value(json_object_get(warning, "kind")), "drawn_straight");
    double from_m = truth_m(hill, number(warning, "from_m")),
           to_m = truth_m(hill, number(warning, "to_m"));
    assert_true(from_m < 3380 && from_m > 2800 && to_m > 3620 && to_m < 4200);
    json_decref(object);
    td_hill_file_free(&file);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_form_of_recording_is_a_pass),
        cmocka_unit_test(a_phone_from_home_leaves_no_home_in_the_file),
        cmocka_unit_test(json_tells_what_the_screen_tells),
        cmocka_unit_test(a_tunnel_is_bridged_with_a_warning),
    };
    return cmocka_run_group_tests(tests, begin, NULL);
}
