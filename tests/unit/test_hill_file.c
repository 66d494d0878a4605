/* SPDX-License-Identifier: GPL-3.0-or-later */
/* data/hill.geojson: an invented road due east in the open ocean, 500 m level, 3 km at 7 %, 500 m
 * level, a vertex every 50 m; one feature a line. */
#include "support/cm.h"

#include <stdlib.h>
#include <string.h>

#include "io/file.h"
#include "io/hill_file.h"

static char *base;
static size_t base_length;

static int read_base(void **state)
{
    (void)state;
    return td_file_read(TD_SOURCE_DIR "/tests/unit/data/hill.geojson", 1 << 20, &base,
                        &base_length, NULL) == TD_OK
               ? 0
               : -1;
}

static int free_base(void **state)
{
    (void)state;
    free(base);
    return 0;
}

static enum td_result parse_changed(const char *from, const char *to, struct td_hill_file **file,
                                    struct td_problem *problem)
{
    char *at = strstr(base, from);
    assert_non_null(at);
    size_t head = (size_t)(at - base), size = base_length + strlen(to) + 1;
    char *changed = malloc(size);
    assert_non_null(changed);
    int length = snprintf(changed, size, "%.*s%s%s", (int)head, base, to, at + strlen(from));
    enum td_result result =
        td_hill_file_parse("h.geojson", changed, (size_t)length, file, problem);
    free(changed);
    return result;
}

static void reads_road_and_places(void **state)
{
    (void)state;
    struct td_hill_file *file = NULL;
    struct td_problem problem;
    if (td_hill_file_parse("h.geojson", base, base_length, &file, &problem) != TD_OK)
        fail_msg("%d: %s", problem.line, problem.text);
    const struct td_hill *hill = td_hill_file_hill(file);
    assert_string_equal(hill->id, "gull-pass-east");
    assert_string_equal(hill->name, "Gull Pass, eastbound");
    assert_int_equal(hill->flashers, TD_FLASHERS_ALLOWED);
    assert_true(hill->position_sigma_m == 0);
    assert_int_equal(hill->station_count, 81);
    assert_near(hill->length_m, 4000, 0.5);
    assert_true(hill->coached);
    assert_near(hill->steepest_downgrade_ratio, 0.07, 0.003);
    assert_int_equal(hill->place_count, 8);
    static const struct {
        enum td_place_kind kind;
        double at_m;
    } order[] = {
        {TD_PLACE_BRAKE_CHECK, 200},  {TD_PLACE_GRADE_SIGN, 300},  {TD_PLACE_TRUCK_SPEED, 480},
        {TD_PLACE_ESCAPE_LANE, 1500}, {TD_PLACE_ESCAPE_LANE, 2500}, {TD_PLACE_CURVE_SPEED, 3000},
        {TD_PLACE_ENGINE_BRAKE_BAN, 3500}, {TD_PLACE_STOP, 4000},
    };
    const struct td_place *place = hill->places;
    for (size_t i = 0; i < hill->place_count; i++) {
        assert_int_equal(place[i].kind, order[i].kind);
        assert_near(place[i].at_m, order[i].at_m, 0.5);
    }
    assert_int_equal(place[0].has, TD_PLACE_MANDATORY);
    assert_near(place[1].grade_ratio, 0.07, 1e-12);
    assert_near(place[1].length_m, 3218.688, 1e-9);
    assert_int_equal(place[2].has, TD_PLACE_SPEED | TD_PLACE_OVER_MASS);
    assert_near(place[2].speed_mps, 8.9408, 1e-12);
    assert_near(place[2].over_kg, 29483.50405, 1e-6);
    assert_int_equal(place[3].has, TD_PLACE_CLOSED);
    assert_string_equal(place[3].say, "");
    assert_int_equal(place[4].side, TD_SIDE_RIGHT);
    assert_string_equal(place[4].say, "Runaway truck ramp");
    assert_string_equal(place[4].name, "Ramp 1");
    assert_string_equal(place[4].material, "gravel");
    assert_near(place[4].grade_ratio, 0.10, 1e-12);
    assert_near(place[6].length_m, 400, 0);
    size_t length = 0;
    assert_memory_equal(td_hill_file_bytes(file, &length), base, base_length);
    assert_int_equal(length, base_length);
    td_hill_file_free(&file);
    assert_null(file);
    td_hill_file_free(&file);
    td_hill_file_free(NULL);
}

static void the_hash_tells_files_apart(void **state)
{
    (void)state;
    struct td_hill_file *a = NULL, *b = NULL, *c = NULL;
    struct td_problem problem;
    assert_int_equal(td_hill_file_parse("a", base, base_length, &a, &problem), TD_OK);
    assert_int_equal(td_hill_file_parse("b", base, base_length, &b, &problem), TD_OK);
    assert_int_equal(parse_changed("20 mph", "25 mph", &c, &problem), TD_OK);
    assert_memory_equal(td_hill_file_hill(a)->hash, td_hill_file_hill(b)->hash, TD_HASH_BYTES);
    assert_memory_not_equal(td_hill_file_hill(a)->hash, td_hill_file_hill(c)->hash,
                            TD_HASH_BYTES);
    td_hill_file_free(&a);
    td_hill_file_free(&b);
    td_hill_file_free(&c);
}

static void names_feature_line_and_cure(void **state)
{
    (void)state;
    static const struct {
        const char *from, *to;
        int line;
        const char *says;
    } rows[] = {
        {"\"20 mph\"", "20", 4, "feature 3 (truck-speed): speed is no text; write number and"},
        {"\"20 mph\"", "\"20\"", 4, "speed: \"20\" has no unit"},
        {"\"20 mph\"", "\"20 lb\"", 4, "a speed in mph, km/h or m/s"},
        {"\"20 mph\"", "\"nan mph\"", 4, "does not begin with a number"},
        {"\"20 mph\"", "\"200 mph\"", 4, "is out of range; 5 to 150 km/h"},
        {"\"20 mph\"", "null", 4, "lacks \"speed\"; a truck-speed needs it"},
        {"\"20 mph\"", "NaN", 4, "is not whole JSON"},
        {"\"speed\": \"20 mph\"", "\"sped\": \"20 mph\"", 4,
         "property \"sped\" does not belong here; a truck-speed may have: role, name"},
        {"\"20 mph\"", "\"20 mph\", \"speed\": \"20 mph\"", 4, "duplicate"},
        {"\"truck-speed\"", "\"truckspeed\"", 4, "feature 3: unknown role \"truckspeed\"; known: "},
        {"\"role\": \"truck-speed\", ", "", 4, "feature 3: has no role"},
        {"\"65000 lb\"", "\"65 lb\"", 4, "over: \"65 lb\" is out of range"},
        {"\"right\", \"length\"", "\"rite\", \"length\"", 3, "side must be left or right"},
        {"\"2031-05-17\"", "\"2031-02-30\"", 3, "checked is no date"},
        {"\"open\"", "\"shut\"", 3, "status must be open or closed"},
        {"\"mandatory\": true", "\"mandatory\": 2", 5, "mandatory must be true or false"},
        {"\"role\": \"stop\"", "\"role\": \"stop\", \"speed\": \"5 mph\"", 10, "does not belong"},
        {"\"role\": \"stop\"", "\"role\": \"stop\", \"at_m\": \"far\"", 10, "at_m must be metres"},
        {"\"role\": \"stop\"", "\"role\": \"stop\", \"at_m\": 4100", 10, "the road is 4000 m long"},
        {"\"role\": \"stop\"", "\"role\": \"stop\", \"at_m\": 100", 10, "from the road near its"},
        {"\"role\": \"stop\"", "\"role\": \"stop\", \"say\": 5", 10, "say is no text"},
        {"\"role\": \"stop\"", "\"role\": \"road\", \"id\": \"b\", \"name\": \"b\"", 10,
         "is a second road"},
        {"\"gull-pass-east\"", "\"gull pass\"", 2, "a character other than letters"},
        {"\"id\": \"gull-pass-east\", ", "", 2, "lacks \"id\""},
        {"\"allowed\"", "\"on\"", 2, "flashers must be"},
        {"\"allowed\"", "\"allowed\", \"position_sigma\": \"0 m\"", 2,
         "position_sigma: \"0 m\" is out of range; 0.1 to 50 m"},
        {"\"allowed\"", "\"allowed\", \"position_sigma\": 2", 2, "position_sigma is no text"},
        {"\"role\": \"stop\"", "\"role\": \"stop\", \"position_sigma\": \"2 m\"", 10,
         "property \"position_sigma\" does not belong here"},
        {"LineString", "Point", 2, "its geometry is \"Point\"; one LineString is needed"},
        {"LineString", "MultiLineString", 2, "one LineString is needed"},
        {"-47.1, 900.0]", "-95.0, 900.0]", 2, "vertex 1 lies off the globe"},
        {"-47.1, 900.0]", "-47.1]", 2, "vertex 1 has no elevation"},
        {"-47.1, 900.0]", "-47.1, null]", 2, "vertex 1 holds what is no number"},
        {"-47.1, 900.0]", "-47.1, 90000]", 2, "vertex 1 has a height"},
        {"[-128.9, -47.1, 900.0], ", "[-128.9, -47.1, 900.0], [-128.9, -47.1, 900.0], ", 2,
         "vertex 2 repeats"},
        {"\"type\": \"Feature\", \"properties\": {\"role\": \"stop\"}",
         "\"type\": \"Thing\", \"properties\": {\"role\": \"stop\"}", 0, "is no Feature"},
        {"\"role\": \"road\"", "\"role\": \"note\"", 2, "does not belong here"},
        {"\"FeatureCollection\"", "\"Feature\"", 0, "is no FeatureCollection"},
        {"\"FeatureCollection\",", "\"FeatureCollection\", \"crs\": {\"type\": \"name\", "
         "\"properties\": {\"name\": \"EPSG:3857\"}},", 0, "save it as WGS 84"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct td_hill_file *file = NULL;
        struct td_problem problem = {0};
        if (parse_changed(rows[i].from, rows[i].to, &file, &problem) != TD_INVALID)
            fail_msg("%s was accepted", rows[i].to);
        assert_null(file);
        assert_string_equal(problem.file, "h.geojson");
        if (strstr(problem.text, rows[i].says) == NULL || problem.line != rows[i].line)
            fail_msg("%s: line %d: %s", rows[i].to, problem.line, problem.text);
    }
}

/* A place 70 m beside the road is refused; one 50 m beside it is taken (one degree of latitude is
 * 111.15 km there). */
static void places_belong_to_the_road(void **state)
{
    (void)state;
    struct td_hill_file *file = NULL;
    struct td_problem problem = {0};
    static const char at[] = "{\"role\": \"stop\"}, \"geometry\": {\"type\": \"Point\", "
                             "\"coordinates\": [-128.8473088, -47.1";
    char to[200];
    (void)snprintf(to, sizeof to, "%s006298", at);
    assert_int_equal(parse_changed(at, to, &file, &problem), TD_INVALID);
    assert_non_null(strstr(problem.text, "feature 9 (stop): lies over 60 m from the road; move"));
    (void)snprintf(to, sizeof to, "%s004498", at);
    assert_int_equal(parse_changed(at, to, &file, &problem), TD_OK);
    td_hill_file_free(&file);
}

/* Two legs 40 m apart, the road going east and coming back west. */
static enum td_result parse_hairpin(const char *more, double north_m, struct td_hill_file **file,
                                    struct td_problem *problem)
{
    char text[8192];
    size_t used = 0;
    used += (size_t)snprintf(text, sizeof text,
                             "{\"type\":\"FeatureCollection\",\"features\":[{\"type\":\"Feature\","
                             "\"properties\":{\"role\":\"road\",\"id\":\"h\",\"name\":\"H\"},"
                             "\"geometry\":{\"type\":\"LineString\",\"coordinates\":[");
    for (int i = 0; i < 42; i++) {
        int east = i < 21 ? i : 41 - i;
        used += (size_t)snprintf(text + used, sizeof text - used, "%s[%.6f,%.6f,%d]",
                                 i > 0 ? "," : "", -128.9 + east * 0.0005,
                                 i < 21 ? -47.1 : -47.1 - 40 / 111150.0, 500 - 2 * i);
    }
    (void)snprintf(text + used, sizeof text - used,
                   "]}},{\"type\":\"Feature\",\"properties\":{\"role\":\"turn-out\"%s},"
                   "\"geometry\":{\"type\":\"Point\",\"coordinates\":[%.6f,%.6f]}}]}",
                   more, -128.9 + 10 * 0.0005, -47.1 + north_m / 111150.0);
    return td_hill_file_parse("h", text, strlen(text), file, problem);
}

static void a_place_between_two_legs_must_say_which(void **state)
{
    (void)state;
    struct td_hill_file *file = NULL;
    struct td_problem problem = {0};
    assert_int_equal(parse_hairpin("", -15, &file, &problem), TD_INVALID);
    assert_non_null(strstr(problem.text, "lies near two legs of the road (15 m off at 380 m"));
    assert_non_null(strstr(problem.text, "say which with at_m"));
    assert_int_equal(parse_hairpin(",\"at_m\":1100", -15, &file, &problem), TD_OK);
    assert_near(td_hill_file_hill(file)->places[0].at_m, 1178, 2);
    td_hill_file_free(&file);
    /* Clear of the other leg by more than 25 m. */
    assert_int_equal(parse_hairpin("", 5, &file, &problem), TD_OK);
    assert_near(td_hill_file_hill(file)->places[0].at_m, 380, 2);
    td_hill_file_free(&file);
}

/* Two short legs lie within reach of one at_m: it means the nearer one along the road. */
static void of_two_short_legs_at_m_means_the_nearer(void **state)
{
    (void)state;
    static const char form[] =
        "{\"type\":\"FeatureCollection\",\"features\":[{\"type\":\"Feature\",\"properties\":{"
        "\"role\":\"road\",\"id\":\"r\",\"name\":\"R\"},\"geometry\":{\"type\":\"LineString\","
        "\"coordinates\":[[-128.9,-47.1,100],[-128.9,-47.1015,99],[-128.8996,-47.1015,98],"
        "[-128.8996,-47.1,97]]}},{\"type\":\"Feature\",\"properties\":{\"role\":\"stop\","
        "\"at_m\":%s},\"geometry\":{\"type\":\"Point\",\"coordinates\":[-128.89985,-47.1007]}}]}";
    static const char *const said[] = {"78", "285"};
    const double along_m[] = {77.8, 286.5}; /* 0.0007 degrees down, and 167 + 30 + 89 m */
    for (int i = 0; i < 2; i++) {
        char text[1024];
        struct td_hill_file *file = NULL;
        struct td_problem problem = {0};
        int length = snprintf(text, sizeof text, form, said[i]);
        if (td_hill_file_parse("r", text, (size_t)length, &file, &problem) != TD_OK)
            fail_msg("%s", problem.text);
        assert_near(td_hill_file_hill(file)->places[0].at_m, along_m[i], 1);
        td_hill_file_free(&file);
    }
}

/* What a GIS program makes of a profile when it saves it: other types, collections of one. */
static void reads_what_other_programs_give_back(void **state)
{
    (void)state;
    static const char text[] =
        "{\"type\":\"FeatureCollection\",\"features\":[{\"type\":\"Feature\",\"properties\":{"
        "\"role\":\"road\",\"id\":\"r\",\"name\":\"R\",\"surveyed\":\"2031/05/17\",\"revision\":"
        "\"3\",\"passes\":\"4.0\",\"gml_id\":\"t.0\",\"mandatory\":null},\"geometry\":{\"type\":"
        "\"MultiLineString\",\"coordinates\":[[[-128.9,-47.1,100],[-128.9,-47.11,40]]]}},"
        "{\"type\":\"Feature\",\"properties\":{\"role\":\"brake-check\",\"mandatory\":%s,"
        "\"at_m\":\"214.5\",\"id\":\"top\",\"name\":\"\"},\"geometry\":{\"type\":\"MultiPoint\","
        "\"coordinates\":[[-128.9,-47.102,0.0]]}},{\"type\":\"Feature\",\"properties\":{"
        "\"role\":\"escape-lane\",\"checked\":\"2031-04-02T00:00:00\"},\"geometry\":{\"type\":"
        "\"Point\",\"coordinates\":[-128.9,-47.105]}}]}";
    static const struct {
        const char *word;
        bool yes, right;
    } flags[] = {{"true", true, true},       {"1", true, true},     {"\"1\"", true, true},
                 {"\"true\"", true, true},   {"0", false, true},    {"\"0\"", false, true},
                 {"\"false\"", false, true}, {"2", false, false},   {"\"yes\"", false, false},
                 {"[]", false, false},       {"1.5", false, false}};
    for (size_t i = 0; i < sizeof flags / sizeof flags[0]; i++) {
        char made[2048];
        struct td_hill_file *file = NULL;
        struct td_problem problem = {0};
        int length = snprintf(made, sizeof made, text, flags[i].word);
        enum td_result result =
            td_hill_file_parse("g", made, (size_t)length, &file, &problem);
        if ((result == TD_OK) != flags[i].right)
            fail_msg("%s: %s", flags[i].word, problem.text);
        if (!flags[i].right)
            continue;
        const struct td_hill *hill = td_hill_file_hill(file);
        assert_string_equal(td_hill_file_surveyed(file), "2031-05-17");
        assert_int_equal(td_hill_file_revision(file), 3);
        assert_int_equal(td_hill_file_passes(file), 4);
        assert_int_equal(hill->place_count, 2);
        assert_int_equal((hill->places[0].has & TD_PLACE_MANDATORY) != 0, flags[i].yes);
        assert_string_equal(td_hill_file_place(file, 0).id, "top");
        assert_true(td_hill_file_place(file, 0).has_at);
        assert_near(hill->places[0].at_m, 222.3, 0.2);
        td_hill_file_free(&file);
    }
}

static void refuses_what_is_no_profile(void **state)
{
    (void)state;
    struct td_hill_file *file = NULL;
    struct td_problem problem = {0};
    assert_int_equal(td_hill_file_parse("h", "", 0, &file, &problem), TD_INVALID);
    assert_non_null(strstr(problem.text, "is empty"));
    /* Cut anywhere, it is no whole profile; every hundredth place is tried. */
    for (size_t cut = 1; cut + 3 < base_length; cut += 101) {
        assert_int_equal(td_hill_file_parse("h", base, cut, &file, &problem), TD_INVALID);
        assert_non_null(strstr(problem.text, "is not whole JSON"));
        assert_true(problem.line > 0);
    }
    enum { MUCH = 10 * 1000 * 1000 };
    char *much = malloc(MUCH);
    assert_non_null(much);
    memset(much, '[', MUCH);
    assert_int_equal(td_hill_file_parse("h", much, MUCH, &file, &problem), TD_INVALID);
    assert_non_null(strstr(problem.text, "is larger than 8388608 bytes"));
    assert_int_equal(td_hill_file_parse("h", much, TD_HILL_FILE_BYTES_MAX, &file, &problem),
                     TD_INVALID);
    assert_non_null(strstr(problem.text, "is not whole JSON"));
    free(much);
    assert_int_equal(td_hill_file_read("no-such.geojson", &file, &problem), TD_NOT_FOUND);
    assert_null(file);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_road_and_places),
        cmocka_unit_test(the_hash_tells_files_apart),
        cmocka_unit_test(names_feature_line_and_cure),
        cmocka_unit_test(places_belong_to_the_road),
        cmocka_unit_test(a_place_between_two_legs_must_say_which),
        cmocka_unit_test(of_two_short_legs_at_m_means_the_nearer),
        cmocka_unit_test(reads_what_other_programs_give_back),
        cmocka_unit_test(refuses_what_is_no_profile),
    };
    return cmocka_run_group_tests(tests, read_base, free_base);
}
