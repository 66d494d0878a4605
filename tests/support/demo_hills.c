/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Draws the demo hills.
 *
 * A road is a list of pieces (length, downgrade, turn). Curvature and grade jump where pieces meet,
 * so both are averaged over a window: that makes transition curves on the ground and rounded crests
 * and sags. A little seeded wander on top keeps it from looking drawn with a ruler. The pen then
 * integrates heading and height in steps of 2 m, and every few steps a vertex is written. */
#include "support/demo_hills.h"

#include <math.h>
#include <stdlib.h>

#include "talkdown/rng.h"
#include "talkdown/units.h"

#define STEP_M           2.0
#define GRADE_WINDOW_M   160.0 /* rounding of crest and sag */
#define TURN_WINDOW_M    24.0  /* transition into a curve */
#define WANDER_GRADE     0.0012
#define WANDER_CURVE     (1.0 / 6000.0)
#define SIGN_ASIDE_M     6.0   /* signs stand beside the road */

enum { PIECES_MAX = 40, PLACES_MAX = 24, STEPS_MAX = 12000, WAVES = 3, VERTEX_EVERY = 6 };

struct piece {
    double length_m, downgrade_pct, turn_deg; /* turn: left positive, over the piece */
};

/* A sign or a place: where the pen is, and its properties as JSON. */
struct sign {
    double at_m;
    const char *properties; /* without at_m */
};

struct demo {
    const char *id, *name, *flashers;
    uint64_t seed;
    double lat_deg, lon_deg, elevation_m, heading_deg; /* of the first vertex; 0 east, 90 north */
    bool says_at; /* legs lie close together: every place says how far along it is */
    struct piece pieces[PIECES_MAX];
    struct sign signs[PLACES_MAX];
};

static const struct demo demos[] = {
    {
        .id = "vessarin-drop",
        .name = "Vessarin Drop, westbound",
        .flashers = "allowed",
        .seed = 11,
        .lat_deg = -48.62,
        .lon_deg = -124.31,
        .elevation_m = 412.0,
        .heading_deg = 168.0,
        .pieces = {{900, 0.3, 14}, {1100, -1.2, -22}, {1200, -0.4, 18}, {350, 0.2, 0},
                   {500, 9.0, 12}, {450, 9.2, -28}, {550, 9.0, 16}, {500, 0.6, 0},
                   {900, 0.2, -20}},
        .signs = {{1900, "\"role\": \"grade-sign\", \"grade\": \"9%\", \"length\": \"1 mi\""},
                  {3050, "\"role\": \"brake-check\", \"side\": \"right\", \"length\": \"120 m\""},
                  {3330, "\"role\": \"truck-speed\", \"speed\": \"25 mph\""},
                  {3380, "\"role\": \"grade-sign\", \"grade\": \"9%\", \"length\": \"1500 m\""},
                  {5520, "\"role\": \"stop\""}},
    },
    {
        .id = "ombral-pass",
        .name = "Ombral Pass, eastbound",
        .flashers = "required",
        .seed = 23,
        .lat_deg = -48.91,
        .lon_deg = -123.86,
        .elevation_m = 1236.0,
        .heading_deg = 21.0,
        .pieces = {{1000, -2.2, -18}, {1200, -2.0, 24}, {900, -0.6, -15}, {500, -0.2, 10},
                   {700, 7.4, -24}, {800, 7.8, 38}, {900, 8.0, -34}, {700, 7.6, 22},
                   {800, 8.2, -30}, {850, 0.8, 20},
                   {700, 7.9, 35}, {800, 8.1, -42}, {600, 7.7, 24}, {700, 0.7, -12},
                   {1100, 0.3, 16}},
        .signs = {{700, "\"role\": \"chain-area\", \"side\": \"right\", \"length\": \"180 m\""},
                  {1600, "\"role\": \"grade-sign\", \"grade\": \"8%\", \"length\": \"4 mi\""},
                  {3150, "\"role\": \"brake-check\", \"side\": \"right\", \"mandatory\": true, "
                         "\"length\": \"150 m\", \"name\": \"Ombral summit\""},
                  {3480, "\"role\": \"truck-speed\", \"speed\": \"25 mph\""},
                  {3500, "\"role\": \"truck-speed\", \"speed\": \"20 mph\", "
                         "\"over\": \"65000 lb\""},
                  {3540, "\"role\": \"grade-sign\", \"grade\": \"8%\", \"length\": \"4 mi\""},
                  {6050, "\"role\": \"escape-lane\", \"side\": \"right\", "
                         "\"length\": \"250 m\", \"grade\": \"5%\", "
                         "\"material\": \"pea gravel\", \"status\": \"open\", "
                         "\"checked\": \"2031-04-02\""},
                  {7900, "\"role\": \"turn-out\", \"side\": \"right\", \"length\": \"90 m\""},
                  {8380, "\"role\": \"grade-sign\", \"grade\": \"8%\", \"length\": \"1.3 mi\""},
                  {9550, "\"role\": \"escape-lane\", \"side\": \"right\", "
                         "\"length\": \"310 m\", \"grade\": \"6%\", "
                         "\"material\": \"pea gravel\", \"status\": \"open\", "
                         "\"checked\": \"2031-04-02\", \"say\": \"Runaway truck ramp\""},
                  {11250, "\"role\": \"signal\""}},
    },
    {
        .id = "tavinek-switchbacks",
        .name = "Tavinek Switchbacks, southbound",
        .flashers = "allowed",
        .seed = 37,
        .lat_deg = -49.17,
        .lon_deg = -124.72,
        .elevation_m = 868.0,
        .heading_deg = -82.0,
        .says_at = true,
        .pieces = {{1100, -1.4, 20}, {1300, -0.8, -26}, {900, -0.3, 12}, {250, 0.0, 0},
                   {500, 6.4, -18}, {88, 5.4, 162}, {520, 6.6, 14}, {90, 5.4, -164},
                   {560, 6.5, -16}, {88, 5.4, 160}, {500, 6.8, 15}, {90, 5.4, -165},
                   {540, 6.5, -14}, {86, 5.4, 158}, {620, 6.4, 18}, {240, 6.2, -46},
                   {500, 6.0, 20}, {500, 0.8, 0}, {900, 0.3, -14}},
        .signs = {{1500, "\"role\": \"grade-sign\", \"grade\": \"6%\", \"length\": \"2.5 mi\""},
                  {3160, "\"role\": \"brake-check\", \"side\": \"right\", \"length\": \"80 m\""},
                  {3470, "\"role\": \"truck-speed\", \"speed\": \"25 mph\""},
                  {3500, "\"role\": \"grade-sign\", \"grade\": \"6%\", \"length\": \"4 km\""},
                  {4045, "\"role\": \"curve-speed\", \"speed\": \"15 mph\", \"side\": \"left\", "
                         "\"length\": \"95 m\""},
                  {4653, "\"role\": \"curve-speed\", \"speed\": \"15 mph\", \"side\": \"right\", "
                         "\"length\": \"95 m\""},
                  {5303, "\"role\": \"curve-speed\", \"speed\": \"15 mph\", \"side\": \"left\", "
                         "\"length\": \"95 m\""},
                  {5890, "\"role\": \"curve-speed\", \"speed\": \"15 mph\", \"side\": \"right\", "
                         "\"length\": \"95 m\""},
                  {6350, "\"role\": \"escape-lane\", \"side\": \"left\", \"length\": \"140 m\", "
                         "\"material\": \"loose gravel\", \"status\": \"closed\", "
                         "\"checked\": \"2031-03-18\""},
                  {6520, "\"role\": \"curve-speed\", \"speed\": \"15 mph\", \"side\": \"left\", "
                         "\"length\": \"90 m\""},
                  {7030, "\"role\": \"escape-lane\", \"side\": \"right\", \"length\": \"200 m\", "
                         "\"grade\": \"8%\", \"material\": \"pea gravel\", "
                         "\"status\": \"open\", \"checked\": \"2031-03-18\""},
                  {7225, "\"role\": \"curve-speed\", \"speed\": \"25 mph\", "
                         "\"side\": \"right\", \"length\": \"240 m\""},
                  {8500, "\"role\": \"rail-crossing\""}},
    },
    {
        .id = "lunnet-slope",
        .name = "Lunnet Slope, northbound",
        .flashers = "forbidden",
        .seed = 53,
        .lat_deg = -48.33,
        .lon_deg = -123.22,
        .elevation_m = 241.0,
        .heading_deg = 74.0,
        .pieces = {{1200, 0.4, 16}, {1300, -0.5, -20}, {900, 2.9, 18}, {1100, 3.3, -24},
                   {700, 3.0, 12}, {1300, 0.5, -10}},
        .signs = {{2300, "\"role\": \"grade-sign\", \"grade\": \"3%\", \"length\": \"2.7 km\""},
                  {5600, "\"role\": \"note\", \"name\": \"Lunnet weigh house\""}},
    },
    {
        .id = "quorrin-steps",
        .name = "Quorrin Steps, southbound",
        .flashers = "allowed",
        .seed = 71,
        .lat_deg = -48.52,
        .lon_deg = -122.64,
        .elevation_m = 1408.0,
        .heading_deg = -104.0,
        .pieces = {{1100, -1.6, 18}, {1300, -1.0, -20}, {800, -0.3, 12},
                   {800, 5.8, -22}, {900, 6.1, 28}, {800, 6.2, -24}, {719, 5.9, 16},
                   {1200, 0.3, -26}, {1214, -0.4, 24},
                   {800, 7.4, -30}, {900, 7.6, 34}, {800, 7.7, -26}, {800, 7.4, 24},
                   {723, 7.5, -20}, {600, 0.8, 14}, {900, 0.2, -12}},
        .signs = {{900, "\"role\": \"chain-area\", \"side\": \"right\", \"length\": \"150 m\""},
                  {1500, "\"role\": \"grade-sign\", \"grade\": \"6%\", \"length\": \"2 mi\""},
                  {2700, "\"role\": \"brake-check\", \"side\": \"right\", \"length\": \"120 m\", "
                         "\"name\": \"Upper Quorrin\""},
                  {3120, "\"role\": \"truck-speed\", \"speed\": \"40 mph\""},
                  {3140, "\"role\": \"truck-speed\", \"speed\": \"30 mph\", "
                         "\"over\": \"60000 lb\""},
                  {3180, "\"role\": \"grade-sign\", \"grade\": \"6%\", \"length\": \"2 mi\""},
                  {5250, "\"role\": \"escape-lane\", \"side\": \"right\", "
                         "\"length\": \"280 m\", \"grade\": \"4%\", "
                         "\"material\": \"pea gravel\", \"status\": \"open\", "
                         "\"checked\": \"2031-05-11\""},
                  {6900, "\"role\": \"truck-speed\", \"speed\": \"50 mph\""},
                  {7400, "\"role\": \"grade-sign\", \"grade\": \"7.5%\", \"length\": \"2.5 mi\""},
                  {8150, "\"role\": \"brake-check\", \"side\": \"right\", \"mandatory\": true, "
                         "\"length\": \"160 m\", \"name\": \"Lower Quorrin\""},
                  {8760, "\"role\": \"truck-speed\", \"speed\": \"30 mph\""},
                  {8780, "\"role\": \"truck-speed\", \"speed\": \"20 mph\", "
                         "\"over\": \"65000 lb\""},
                  {8820, "\"role\": \"grade-sign\", \"grade\": \"7.5%\", \"length\": \"2.5 mi\""},
                  {10450, "\"role\": \"escape-lane\", \"side\": \"right\", "
                          "\"length\": \"300 m\", \"grade\": \"7%\", "
                          "\"material\": \"pea gravel\", \"status\": \"open\", "
                          "\"checked\": \"2031-05-11\""},
                  {11400, "\"role\": \"turn-out\", \"side\": \"right\", \"length\": \"80 m\""},
                  {12150, "\"role\": \"escape-lane\", \"side\": \"left\", "
                          "\"length\": \"260 m\", \"grade\": \"9%\", "
                          "\"material\": \"loose gravel\", \"status\": \"open\", "
                          "\"checked\": \"2031-05-12\""},
                  {14050, "\"role\": \"stop\""}},
    },
};

struct wander {
    double amplitude, phase_rad[WAVES], per_m[WAVES];
};

/* The road as drawn; one at a time. */
struct drawing {
    double curvature[STEPS_MAX], downgrade[STEPS_MAX];
    double x_m[STEPS_MAX + 1], y_m[STEPS_MAX + 1], z_m[STEPS_MAX + 1], heading_rad[STEPS_MAX + 1];
    size_t steps;
};

static struct wander make_wander(struct td_rng *rng, double amplitude)
{
    struct wander wander = {.amplitude = amplitude};
    for (int i = 0; i < WAVES; i++) {
        wander.phase_rad[i] = td_rng_between(rng, 0.0, 2.0 * TD_PI);
        wander.per_m[i] = 2.0 * TD_PI / td_rng_between(rng, 350.0, 1100.0);
    }
    return wander;
}

static double wander_at(const struct wander *wander, double along_m)
{
    double sum = 0.0;
    for (int i = 0; i < WAVES; i++)
        sum += sin(wander->phase_rad[i] + along_m * wander->per_m[i]);
    return wander->amplitude * sum / WAVES;
}

/* Mean of the pieces' values over a window around a place; beyond the ends the end pieces go on. */
static double averaged(const struct demo *demo, double along_m, double window_m, bool turn)
{
    double low = along_m - window_m / 2.0, high = along_m + window_m / 2.0;
    double from = 0.0, sum = 0.0, covered = 0.0;
    for (int i = 0; i < PIECES_MAX && demo->pieces[i].length_m > 0.0; i++) {
        const struct piece *piece = &demo->pieces[i];
        double to = from + piece->length_m;
        double overlap = fmin(to, high) - fmax(from, low);
        if (overlap > 0.0) {
            double value = turn ? td_rad_from_deg(piece->turn_deg) / piece->length_m
                                : piece->downgrade_pct / 100.0;
            sum += overlap * value;
            covered += overlap;
        }
        from = to;
    }
    return sum / covered;
}

static double whole_length(const struct demo *demo)
{
    double length = 0.0;
    for (int i = 0; i < PIECES_MAX; i++)
        length += demo->pieces[i].length_m;
    return length;
}

static void draw(const struct demo *demo, struct drawing *drawing)
{
    struct td_rng rng;
    td_rng_seed(&rng, demo->seed, 1);
    struct wander grade = make_wander(&rng, WANDER_GRADE);
    struct wander curve = make_wander(&rng, WANDER_CURVE);
    drawing->steps = (size_t)(whole_length(demo) / STEP_M);
    drawing->x_m[0] = drawing->y_m[0] = 0.0;
    drawing->z_m[0] = demo->elevation_m;
    drawing->heading_rad[0] = td_rad_from_deg(demo->heading_deg);
    for (size_t i = 0; i < drawing->steps; i++) {
        double middle = ((double)i + 0.5) * STEP_M;
        double turn = STEP_M * (averaged(demo, middle, TURN_WINDOW_M, true) +
                                wander_at(&curve, middle));
        double heading = drawing->heading_rad[i] + turn / 2.0;
        drawing->x_m[i + 1] = drawing->x_m[i] + STEP_M * cos(heading);
        drawing->y_m[i + 1] = drawing->y_m[i] + STEP_M * sin(heading);
        drawing->heading_rad[i + 1] = drawing->heading_rad[i] + turn;
        drawing->z_m[i + 1] =
            drawing->z_m[i] - STEP_M * (averaged(demo, middle, GRADE_WINDOW_M, false) +
                                        wander_at(&grade, middle));
    }
}

/* East and north of the first vertex to degrees: radii of curvature of WGS 84 at its latitude, good
 * to a few parts in ten thousand over a hill; lengths are measured from what is written. */
static void write_position(const struct demo *demo, double x_m, double y_m, FILE *to)
{
    const double a = 6378137.0, e2 = 0.00669437999014;
    double sine = sin(td_rad_from_deg(demo->lat_deg));
    double w2 = 1.0 - e2 * sine * sine;
    double north_m = a * (1.0 - e2) / (w2 * sqrt(w2));
    double lat = demo->lat_deg + td_deg_from_rad(y_m / north_m);
    double lat_middle = td_rad_from_deg((lat + demo->lat_deg) / 2.0);
    double lon = demo->lon_deg + td_deg_from_rad(x_m / (a / sqrt(w2) * cos(lat_middle)));
    fprintf(to, "%.7f, %.7f", lon, lat);
}

static void write_road(const struct demo *demo, const struct drawing *drawing, FILE *to)
{
    fprintf(to,
            "    {\n      \"type\": \"Feature\",\n      \"properties\": {\"role\": \"road\", "
            "\"id\": \"%s\", \"name\": \"%s\", \"flashers\": \"%s\", "
            "\"source\": \"invented: a road of Pelmarra, which is no country\"},\n"
            "      \"geometry\": {\"type\": \"LineString\", \"coordinates\": [",
            demo->id, demo->name, demo->flashers);
    size_t written = 0;
    for (size_t i = 0; i <= drawing->steps; i += VERTEX_EVERY, written++) {
        fputs(written == 0 ? "\n        [" : written % 3 == 0 ? ",\n        [" : ", [", to);
        write_position(demo, drawing->x_m[i], drawing->y_m[i], to);
        fprintf(to, ", %.2f]", drawing->z_m[i]);
    }
    fputs("\n      ]}\n    }", to);
}

static void write_sign(const struct demo *demo, const struct drawing *drawing,
                       const struct sign *sign, FILE *to)
{
    size_t step = (size_t)(sign->at_m / STEP_M);
    double right = drawing->heading_rad[step] - TD_PI / 2.0;
    fprintf(to, ",\n    {\n      \"type\": \"Feature\",\n      \"properties\": {%s",
            sign->properties);
    if (demo->says_at)
        fprintf(to, ", \"at_m\": %.0f", sign->at_m);
    fputs("},\n      \"geometry\": {\"type\": \"Point\", \"coordinates\": [", to);
    write_position(demo, drawing->x_m[step] + SIGN_ASIDE_M * cos(right),
                   drawing->y_m[step] + SIGN_ASIDE_M * sin(right), to);
    fputs("]}\n    }", to);
}

const char *demo_hill_id(unsigned index)
{
    return index < sizeof demos / sizeof demos[0] ? demos[index].id : NULL;
}

bool demo_hill_write(unsigned index, FILE *to)
{
    const struct demo *demo = &demos[index];
    struct drawing *drawing = calloc(1, sizeof *drawing);
    if (drawing == NULL || whole_length(demo) / STEP_M > STEPS_MAX) {
        free(drawing);
        return false;
    }
    draw(demo, drawing);
    fputs("{\n  \"type\": \"FeatureCollection\",\n  \"features\": [\n", to);
    write_road(demo, drawing, to);
    for (int i = 0; i < PLACES_MAX && demo->signs[i].properties != NULL; i++)
        write_sign(demo, drawing, &demo->signs[i], to);
    fputs("\n  ]\n}\n", to);
    free(drawing);
    return ferror(to) == 0;
}
