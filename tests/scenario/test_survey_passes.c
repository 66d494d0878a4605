/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Surveys of real recordings, where nobody knows the truth: different passes of one road must agree
 * with each other. The tracks' own README gives 7.2 % over 6.6 km and 6.8 % over 2.8 km for the
 * hairpin road's descent, and 2.15 km of 6 % for the repeated hill. */
#include "support/cm.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "io/hill_project.h"
#include "io/track.h"
#include "support/surveyed.h"

struct pass {
    struct td_station *stations;
    struct td_hill hill;
    struct td_survey_report report;
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

/* Of any number of recordings, the way down told by the survey itself. */
static void survey(const char *const *names, size_t count, struct pass *pass)
{
    struct surveyed *made = surveyed_new();
    for (size_t i = 0; i < count; i++)
        surveyed_read(made, names[i]);
    if (surveyed_make(made) != TD_OK)
        fail_msg("%s: %s", names[0], made->problem.text);
    pass->stations = calloc(TD_HILL_STATIONS_MAX, sizeof *pass->stations);
    assert_non_null(pass->stations);
    memcpy(pass->stations, made->stations, TD_HILL_STATIONS_MAX * sizeof *pass->stations);
    pass->hill = made->hill;
    pass->hill.stations = pass->stations;
    pass->report = made->report;
    assert_true(pass->hill.coached);
    surveyed_free(&made);
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
    survey(&(const char *){"hairpins/climb.gpx"}, 1, &climb);
    survey(&(const char *){"hairpins/descent.gpx"}, 1, &descent);
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

/* One hill up and then down on one day, whose descents the tracks' README gives as 5.9 % over 3.8
 * km; never more than two passes, so nothing is averaged here. */
static void up_and_down_of_one_day_agree(void **state)
{
    (void)state;
    if (missing("both-ways/up.tpv.json"))
        skip();
    struct pass up, down;
    survey(&(const char *){"both-ways/up.tpv.json"}, 1, &up);
    survey(&(const char *){"both-ways/down.tpv.json"}, 1, &down);
    struct agreement found = compare(&down, &up);
    /* Far apart at the ends only, where each took another street. */
    assert_true(found.off_p50_m < 8 && found.off_p95_m < 40);
    assert_true(found.grade_off_p50 < 0.005 && found.grade_off_p95 < 0.025);
    free(up.stations);
    free(down.stations);
}

static const char *const repeats[] = {
    "repeat-hill/down-2024-01-28.tpv.json", "repeat-hill/down-2024-04-20.tpv.json",
    "repeat-hill/down-2024-05-03.tpv.json", "repeat-hill/down-2024-07-06.tpv.json",
    "repeat-hill/down-2024-12-29.tpv.json", "repeat-hill/up-2024-01-28.tpv.json",
    "repeat-hill/up-2024-06-02.tpv.json",   "repeat-hill/up-2024-07-06.tpv.json",
};

static void passes_of_different_days_agree(void **state)
{
    (void)state;
    if (missing(repeats[0]))
        skip();
    struct pass first;
    survey(&repeats[0], 1, &first);
    for (size_t i = 1; i < sizeof repeats / sizeof repeats[0]; i++) {
        struct pass other;
        survey(&repeats[i], 1, &other);
        struct agreement found = compare(&first, &other);
        /* Cross-track noise of these recordings is 5 to 12 m (their README). */
        assert_true(found.off_p50_m < 12 && found.off_p95_m < 30);
        assert_true(found.grade_off_p50 < 0.01);
        assert_near(other.hill.mean_downgrade_ratio, 0.056, 0.006);
        free(other.stations);
    }
    free(first.stations);
}

/* Two profiles of the same hill that share no recording: four passes each. */
static void profiles_of_different_passes_agree_better(void **state)
{
    (void)state;
    if (missing(repeats[0]))
        skip();
    const char *const odd[] = {repeats[0], repeats[2], repeats[4], repeats[6]};
    const char *const even[] = {repeats[1], repeats[3], repeats[5], repeats[7]};
    struct pass a, b;
    survey(odd, 4, &a);
    survey(even, 4, &b);
    struct agreement found = compare(&a, &b);
    assert_true(found.off_p50_m < 6 && found.off_p95_m < 15);
    assert_true(found.grade_off_p50 < 0.0025 && found.grade_off_p95 < 0.008);
    assert_true(found.crest_off_m < 30 && found.foot_off_m < 60);
    /* What each says of its own error holds for the other. */
    double told = hypot(a.report.grade_sigma_200, b.report.grade_sigma_200);
    print_message("told: grade within %.2f %% of each other over 200 m (one sigma)\n", told * 100);
    assert_true(found.grade_off_p50 < 2 * told);
    free(a.stations);
    free(b.stations);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_way_up_makes_the_profile_of_the_way_down),
        cmocka_unit_test(up_and_down_of_one_day_agree),
        cmocka_unit_test(passes_of_different_days_agree),
        cmocka_unit_test(profiles_of_different_passes_agree_better),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
