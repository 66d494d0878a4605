/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Surveys of real recordings, where nobody knows the truth: different passes of one road must agree
 * with each other. The tracks' own README gives 7.2 % over 6.6 km and 6.8 % over 2.8 km for the
 * hairpin road's descent, and 2.15 km of 6 % for the repeated hill. */
#include "support/cm.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <unistd.h>

#include "io/hill_project.h"
#include "io/track.h"
#include "survey/survey.h"

struct pass {
    struct td_station *stations;
    struct td_hill hill;
};

static bool missing(const char *name)
{
    char path[512];
    (void)snprintf(path, sizeof path, "%s/data/%s", TD_SHARED_DIR, name);
    if (access(path, R_OK) == 0)
        return false;
    print_message("SKIPPED: %s not there\n", path);
    return true;
}

static void survey(const char *name, bool reverse, struct pass *pass)
{
    char path[512];
    (void)snprintf(path, sizeof path, "%s/data/%s", TD_SHARED_DIR, name);
    struct td_track track;
    struct td_survey_report report;
    struct td_problem problem = {0};
    if (td_track_read(path, false, &track, &problem) != TD_OK)
        fail_msg("%s: %s", path, problem.text);
    struct td_survey_point *points = calloc(track.count, sizeof *points);
    pass->stations = calloc(TD_HILL_STATIONS_MAX, sizeof *pass->stations);
    assert_true(points != NULL && pass->stations != NULL);
    if (td_survey_make(track.fixes, track.count, reverse, points, pass->stations, &pass->hill,
                       &report, &problem) != TD_OK)
        fail_msg("%s: %s", path, problem.text);
    assert_true(pass->hill.coached);
    free(points);
    td_track_free(&track);
}

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

struct agreement {
    double off_p50_m, off_p95_m;         /* between the two lines */
    double grade_off_p50, grade_off_p95; /* of the smoothed downgrade, at the same place */
    double crest_off_m, foot_off_m;      /* along the second */
};

/* From the first pass's crest to its foot. Following along keeps each leg of a hairpin its own. */
static struct agreement compare(const struct pass *a, const struct pass *b)
{
    static double off_m[TD_HILL_STATIONS_MAX], grade[TD_HILL_STATIONS_MAX];
    size_t count = 0;
    double shift_m = 0, first_m = 0, last_m = 0;
    bool following = false;
    for (size_t i = 0; i < a->hill.station_count; i++) {
        const struct td_station *station = &a->stations[i];
        if (station->along_m < a->hill.crest_m || station->along_m > a->hill.foot_m)
            continue;
        struct td_projection on =
            td_hill_project(&b->hill, station->lat_deg, station->lon_deg, following,
                            station->along_m + shift_m);
        if (on.off_m > 60)
            continue;
        following = true;
        shift_m = on.at_m - station->along_m;
        first_m = count == 0 ? on.at_m : first_m;
        last_m = on.at_m;
        off_m[count] = on.off_m;
        grade[count++] = fabs(station->downgrade_ratio - td_hill_downgrade_at(&b->hill, on.at_m));
    }
    assert_true(count > 100);
    qsort(off_m, count, sizeof *off_m, by_size);
    qsort(grade, count, sizeof *grade, by_size);
    struct agreement found = {
        off_m[count / 2], off_m[count * 95 / 100], grade[count / 2], grade[count * 95 / 100],
        fabs(first_m - b->hill.crest_m), fabs(last_m - b->hill.foot_m)};
    print_message("line p50 %.1f m p95 %.1f m; grade p50 %.2f %% p95 %.2f %%; crest %.0f m, foot "
                  "%.0f m apart; mean %.2f and %.2f %%\n",
                  found.off_p50_m, found.off_p95_m, found.grade_off_p50 * 100,
                  found.grade_off_p95 * 100, found.crest_off_m, found.foot_off_m,
                  a->hill.mean_downgrade_ratio * 100, b->hill.mean_downgrade_ratio * 100);
    return found;
}

static void the_way_up_makes_the_profile_of_the_way_down(void **state)
{
    (void)state;
    if (missing("hairpins/climb.gpx"))
        skip();
    struct pass climb, descent;
    survey("hairpins/climb.gpx", true, &climb);
    survey("hairpins/descent.gpx", false, &descent);
    struct agreement found = compare(&climb, &descent);
    assert_true(found.off_p50_m < 5 && found.off_p95_m < 15);
    assert_true(found.grade_off_p50 < 0.005 && found.grade_off_p95 < 0.02);
    assert_true(found.crest_off_m < 50);
    /* The recording of the descent ends before the grade does. */
    assert_near(descent.hill.foot_m, descent.hill.length_m, 1);
    assert_near(climb.hill.mean_downgrade_ratio, 0.069, 0.004);
    assert_true(climb.hill.curve_count >= 25); /* some 25 hairpins */
    free(climb.stations);
    free(descent.stations);
}

static void passes_of_different_days_agree(void **state)
{
    (void)state;
    static const struct {
        const char *name;
        bool reverse;
    } passes[] = {
        {"repeat-hill/down-2024-01-28.tpv.json", false},
        {"repeat-hill/down-2024-04-20.tpv.json", false},
        {"repeat-hill/down-2024-05-03.tpv.json", false},
        {"repeat-hill/down-2024-07-06.tpv.json", false},
        {"repeat-hill/down-2024-12-29.tpv.json", false},
        {"repeat-hill/up-2024-01-28.tpv.json", true},
        {"repeat-hill/up-2024-06-02.tpv.json", true},
        {"repeat-hill/up-2024-07-06.tpv.json", true},
    };
    if (missing(passes[0].name))
        skip();
    struct pass first;
    survey(passes[0].name, passes[0].reverse, &first);
    for (size_t i = 1; i < sizeof passes / sizeof passes[0]; i++) {
        struct pass other;
        survey(passes[i].name, passes[i].reverse, &other);
        struct agreement found = compare(&first, &other);
        /* Cross-track noise of these recordings is 5 to 12 m (their README). */
        assert_true(found.off_p50_m < 12 && found.off_p95_m < 30);
        assert_true(found.grade_off_p50 < 0.01);
        assert_near(other.hill.mean_downgrade_ratio, 0.056, 0.006);
        free(other.stations);
    }
    free(first.stations);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_way_up_makes_the_profile_of_the_way_down),
        cmocka_unit_test(passes_of_different_days_agree),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
