/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/cm.h"

#include <stdlib.h>
#include <string.h>

#include "io/hill_file.h"
#include "io/hill_write.h"

/* What is written reads back as it was, to the last digit written, whatever the name holds. */
static void reads_back_as_written(void **state)
{
    (void)state;
    static const char name[] = "Gull \"Pass\" \\ east\xc3\xa9";
    struct td_station stations[50];
    memset(stations, 0, sizeof stations);
    for (int i = 0; i < 50; i++)
        stations[i] = (struct td_station){.lat_deg = -47.123457 + i * 0.0002,
                                          .lon_deg = 179.996123 + i * 0.0001,
                                          .elevation_m = 3.25 - 1.01 * i};
    for (int i = 0; i < 50; i++)
        if (stations[i].lon_deg > 180)
            stations[i].lon_deg -= 360;
    struct td_hill hill = {.stations = stations, .station_count = 50,
                           .position_sigma_m = 1.26};
    char *bytes = NULL;
    size_t length = 0;
    struct td_problem problem;
    assert_int_equal(
        td_hill_write_text(&hill, "gull-pass", name, "a\tb\n", &bytes, &length, &problem), TD_OK);
    assert_non_null(strstr(bytes, "\"name\": \"Gull \\\"Pass\\\" \\\\ east\xc3\xa9\""));
    assert_non_null(strstr(bytes, "\\u0009b\\u000a"));
    assert_int_equal(strlen(bytes), length);
    struct td_hill_file *file = NULL;
    /* A source is one line of text; this one is refused, by name. */
    assert_int_equal(td_hill_file_parse("w", bytes, length, &file, &problem), TD_INVALID);
    assert_non_null(strstr(problem.text, "source holds a control character"));
    free(bytes);
    assert_int_equal(
        td_hill_write_text(&hill, "gull-pass", name, "a survey", &bytes, &length, &problem),
        TD_OK);
    if (td_hill_file_parse("w", bytes, length, &file, &problem) != TD_OK)
        fail_msg("%d: %s", problem.line, problem.text);
    const struct td_hill *back = td_hill_file_hill(file);
    assert_string_equal(back->name, name);
    assert_int_equal(back->station_count, 50);
    assert_near(back->position_sigma_m, 1.3, 1e-9);
    for (size_t i = 0; i < 50; i++) {
        assert_near(back->stations[i].lat_deg, stations[i].lat_deg, 0.51e-6);
        assert_near(back->stations[i].lon_deg, stations[i].lon_deg, 0.51e-6);
        assert_near(back->stations[i].elevation_m, stations[i].elevation_m, 0.0051);
    }
    free(bytes);
    td_hill_file_free(&file);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_back_as_written),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
