/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Recordings with known errors over an invented road of which the truth is known (2 km level, 3 km
 * at 7 %, 1 km level, on the open ocean), and the survey command on them. For one test program. */
#ifndef TD_TESTS_SURVEY_TOOL_H
#define TD_TESTS_SURVEY_TOOL_H

#include <jansson.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/hill_file.h"
#include "support/cm.h"
#include "support/tool_run.h"
#include "talkdown/rng.h"

#define LAT_DEG   -47.1
#define LON_DEG   -128.95
#define DEG_LAT_M 111175.0 /* metres a degree at 47.1 south (WGS 84, computed) */
#define DEG_LON_M 75931.0

static const char *folder;

static inline double height_m(double along_m)
{
    return 900 - 0.07 * fmin(fmax(along_m - 2000, 0), 3000);
}

struct recording {
    const char *name;
    double height_sigma_m;
    double side_m; /* of the road, to the south */
    bool climbs, no_height;
    double hill_over_tunnel_m; /* over 300 m in the middle of the grade */
    uint64_t seed;
};

/* Terrain where the road is in a tunnel. */
static inline double over_m(const struct recording *is, double along_m)
{
    return fabs(along_m - 3500) < 150 ? is->hill_over_tunnel_m : 0;
}

/* GPX at 1 Hz and 15 m/s, satellite position of 3 m that wanders over a minute. */
static inline const char *record(const struct recording *is)
{
    static char path[256];
    (void)snprintf(path, sizeof path, "%s/%s.gpx", folder, is->name);
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    struct td_rng rng;
    td_rng_seed(&rng, is->seed, 5);
    double keep = exp(-1.0 / 60), fresh = sqrt(1 - keep * keep);
    double east = 3 * td_rng_normal(&rng), north = 3 * td_rng_normal(&rng);
    double up = is->height_sigma_m * td_rng_normal(&rng);
    (void)fprintf(file, "<gpx><trk><trkseg>\n");
    for (int i = 0; i < 400; i++) {
        double along_m = 15.0 * (is->climbs ? 399 - i : i);
        east = east * keep + 3 * fresh * td_rng_normal(&rng);
        north = north * keep + 3 * fresh * td_rng_normal(&rng);
        up = up * keep + is->height_sigma_m * fresh * td_rng_normal(&rng);
        (void)fprintf(file, "<trkpt lat=\"%.7f\" lon=\"%.7f\">",
                      LAT_DEG + (north - is->side_m) / DEG_LAT_M,
                      LON_DEG + (along_m + east) / DEG_LON_M);
        if (!is->no_height)
            (void)fprintf(file, "<ele>%.2f</ele>", height_m(along_m) + over_m(is, along_m) + up);
        (void)fprintf(file, "<time>2031-05-17T08:%02d:%02dZ</time></trkpt>\n", i / 60, i % 60);
    }
    (void)fprintf(file, "</trkseg></trk></gpx>\n");
    assert_int_equal(fclose(file), 0);
    return path;
}

/* Runs `survey` with %s for the folder; the answer's exit code must be `code`. */
static inline struct tool_run survey(const char *arguments, int code)
{
    char command[2048], filled[2048] = "";
    (void)snprintf(command, sizeof command, "survey %s", arguments);
    for (char *from = command, *at;; from = at + 1) {
        at = strchr(from, '@');
        size_t used = strlen(filled);
        (void)snprintf(filled + used, sizeof filled - used, "%.*s%s",
                       (int)(at == NULL ? (int)strlen(from) : (int)(at - from)), from,
                       at == NULL ? "" : folder);
        if (at == NULL)
            break;
    }
    struct tool_run run = tool_run(filled);
    if (run.exit_code != code)
        fail_msg("%s: exit %d: %s", filled, run.exit_code, run.err);
    return run;
}

static inline void survey_refused(const char *arguments, const char *words)
{
    struct tool_run run = survey(arguments, 2);
    if (strstr(run.err, words) == NULL)
        fail_msg("%s: \"%s\" not in: %s", arguments, words, run.err);
    assert_ptr_equal(strchr(run.err, '\n'), run.err + strlen(run.err) - 1); /* one line */
    tool_run_free(&run);
}

static inline struct td_hill_file *profile(const char *name)
{
    char path[256];
    (void)snprintf(path, sizeof path, "%s/%s.geojson", folder, name);
    struct td_hill_file *file = NULL;
    struct td_problem problem;
    if (td_hill_file_read(path, &file, &problem) != TD_OK)
        fail_msg("%s", problem.text);
    return file;
}

/* Along the invented road, from where it begins. */
static inline double truth_m(const struct td_hill *hill, double along_m)
{
    const struct td_station *a = &hill->stations[td_hill_station_at(hill, along_m)];
    return (a->lon_deg - LON_DEG) * DEG_LON_M + along_m - a->along_m;
}

static inline void record_three(double height_sigma_m)
{
    (void)record(&(struct recording){.name = "a", .height_sigma_m = height_sigma_m, .seed = 1});
    (void)record(&(struct recording){.name = "b", .height_sigma_m = height_sigma_m, .seed = 2,
                                     .climbs = true});
    (void)record(&(struct recording){.name = "c", .height_sigma_m = height_sigma_m, .seed = 3});
}

static inline double number(const json_t *object, const char *key)
{
    const json_t *value = json_object_get(object, key);
    if (!json_is_number(value))
        fail_msg("%s is no number", key);
    return json_number_value(value);
}

static inline json_t *survey_json(const char *arguments)
{
    struct tool_run run = survey(arguments, 0);
    json_t *object = json_loads(run.out, JSON_REJECT_DUPLICATES, NULL);
    if (object == NULL)
        fail_msg("no JSON: %s", run.out);
    tool_run_free(&run);
    return object;
}

static inline int begin(void **state)
{
    (void)state;
    folder = tool_folder();
    return 0;
}

#endif
