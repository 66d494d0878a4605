/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The road, the speeds and the brakes, all over one axis. */
#include <math.h>
#include <stdio.h>

#include "talkdown/units.h"
#include "tool/card/card_parts.h"

#define LEAD_M      400.0  /* of road shown before the crest and past the foot, at least */
#define LOOK_BACK_M 2500.0 /* places before the crest that a driver uses are shown from here */
#define LOOK_ON_M   1500.0

static bool ends_descent(const struct td_place *place)
{
    return place->kind == TD_PLACE_STOP || place->kind == TD_PLACE_SIGNAL ||
           place->kind == TD_PLACE_RAIL_CROSSING;
}

static bool is_room(const struct td_place *place)
{
    return place->kind == TD_PLACE_BRAKE_CHECK || place->kind == TD_PLACE_TURN_OUT ||
           place->kind == TD_PLACE_CHAIN_AREA;
}

void td_card_range(struct td_card *card)
{
    const struct td_hill *hill = card->answer->hill;
    card->from_m = 0;
    card->to_m = hill->length_m;
    if (!card->answer->plan.coached)
        return;
    double from_m = hill->crest_m - LEAD_M, to_m = hill->foot_m + LEAD_M;
    for (size_t i = 0; i < hill->place_count; i++) {
        const struct td_place *place = &hill->places[i];
        if (is_room(place) && place->at_m > hill->crest_m - LOOK_BACK_M)
            from_m = fmin(from_m, place->at_m - 100);
        if (ends_descent(place) && place->at_m < hill->foot_m + LOOK_ON_M)
            to_m = fmax(to_m, place->at_m + 100);
    }
    card->from_m = fmax(0, from_m);
    card->to_m = fmin(hill->length_m, to_m);
}

/* A line, and what it stands for, from *x on; moves *x. */
static void key(struct td_card *card, double *x, const char *look, const char *words)
{
    td_svg_line(card->svg, *x, card->y - 5, *x + 26, card->y - 5, look);
    *x += 31;
    td_svg_text(card->svg, *x, card->y, card_type(CARD_SMALL, false, TD_SVG_LEFT), words);
    *x += td_svg_width(words, CARD_SMALL, false) + 14;
}

/* Hatch of a downgrade, from none to crossed; signs say whole percents, so the bounds are odd. */
int td_card_steepness(double downgrade_ratio)
{
    return downgrade_ratio < 0.03 ? 0 : downgrade_ratio < 0.05 ? 1 : downgrade_ratio < 0.07 ? 2 : 3;
}

const char *td_card_hatch(int step)
{
    static const char *const looks[] = {
        "fill=\"#fff\" stroke=\"#000\" stroke-width=\"0.8\"",
        "fill=\"url(#s1)\" stroke=\"#000\" stroke-width=\"0.8\"",
        "fill=\"url(#s2)\" stroke=\"#000\" stroke-width=\"0.8\"",
        "fill=\"url(#s3)\" stroke=\"#000\" stroke-width=\"0.8\""};
    return looks[step];
}

static void hatch_key(struct td_card *card)
{
    static const char *const words[] = {"to 3 %", "to 5 %", "to 7 %", "steeper"};
    double x = CARD_LEFT + td_svg_width("Road", CARD_SMALL, true) + 16;
    card->y += CARD_LINE;
    td_svg_text(card->svg, CARD_LEFT, card->y, card_type(CARD_SMALL, true, TD_SVG_LEFT), "Road");
    for (int step = 0; step < 4; step++) {
        td_svg_rect(card->svg, x, card->y - 12, 22, 13, td_card_hatch(step));
        td_svg_text(card->svg, x + 27, card->y, card_type(CARD_SMALL, false, TD_SVG_LEFT),
                    words[step]);
        x += 27 + td_svg_width(words[step], CARD_SMALL, false) + 14;
    }
    card->y += 6;
}

/* Crest, foot, last stop and hottest place: a line through the road, its name above. */
struct mark {
    double at_m;
    int rank;
    char name[16];
};

static size_t collect_marks(const struct td_card *card, struct mark *marks)
{
    const struct td_plan *plan = &card->answer->plan;
    const struct td_hill *hill = card->answer->hill;
    size_t count = 0;
    if (!plan->coached)
        return 0;
    size_t crests = plan->safe ? plan->descent_count : 0;
    if (crests < 2)
        marks[count++] = (struct mark){hill->crest_m, 0, "crest"};
    for (size_t i = 0; crests > 1 && i < crests; i++) {
        marks[count] = (struct mark){plan->descents[i].from_m, 1, ""};
        (void)snprintf(marks[count].name, sizeof marks[count].name, "crest %zu", i + 1);
        count++;
    }
    marks[count++] = (struct mark){hill->foot_m, 0, "foot"};
    if (plan->safe && card->answer->rig != NULL && plan->last_stop_m < hill->foot_m - 1)
        marks[count++] = (struct mark){plan->last_stop_m, 0, "last stop"};
    double peak_c, peak_at_m;
    td_plan_hottest(card->answer, &peak_c, &peak_at_m);
    bool is_apart = true; /* at a crest or the foot its name would only crowd the other's */
    for (size_t i = 0; i < count; i++)
        is_apart = is_apart && fabs(marks[i].at_m - peak_at_m) > 200;
    if (plan->safe && is_apart)
        marks[count++] = (struct mark){peak_at_m, 2, "hottest"};
    return count;
}

enum { MARKS_MAX = TD_PLAN_DESCENTS_MAX + 4, MARK_TIERS = 3 };

static void write_marks(struct td_card *card, struct mark *marks, size_t count, double bottom)
{
    struct td_card_label labels[MARKS_MAX];
    size_t dropped;
    for (size_t i = 1; i < count; i++) /* by place; few */
        for (size_t j = i; j > 0 && marks[j].at_m < marks[j - 1].at_m; j--) {
            struct mark other = marks[j];
            marks[j] = marks[j - 1];
            marks[j - 1] = other;
        }
    for (size_t i = 0; i < count; i++)
        labels[i] = (struct td_card_label){
            .at_x = card_x(card, marks[i].at_m), .rank = marks[i].rank,
            .text_width = td_svg_width(marks[i].name, CARD_SMALL, true)};
    int tiers = td_card_lay_labels(labels, count, CARD_PLOT, CARD_RIGHT, MARK_TIERS, &dropped);
    double base = card->y + CARD_LINE * tiers;
    for (size_t i = 0; i < count; i++) {
        const struct td_card_label *label = &labels[i];
        if (label->tier < 0)
            continue;
        double y = base - CARD_LINE * label->tier;
        td_svg_line(card->svg, label->x, y - 11, label->x, base + 2, CARD_THIN);
        td_svg_line(card->svg, label->x, base + 2, label->at_x, base + 10, CARD_THIN);
        td_svg_line(card->svg, label->at_x, base + 10, label->at_x, bottom + base - card->y,
                    "stroke=\"#000\" stroke-width=\"1\" stroke-dasharray=\"4 3\"");
        td_svg_text(card->svg, label->is_left ? label->x - 5 : label->x + 5, y,
                    card_type(CARD_SMALL, true, label->is_left ? TD_SVG_RIGHT : TD_SVG_LEFT),
                    marks[i].name);
    }
    card->y = base + 10;
}

/* Below the road's line, each run in its hatch. */
static void profile(struct td_card *card, double top, double bottom)
{
    const struct td_hill *hill = card->answer->hill;
    enum { STEPS = 266 };
    double lowest = (double)INFINITY, highest = -(double)INFINITY;
    double step_m = (card->to_m - card->from_m) / STEPS;
    double elevation[STEPS + 1];
    for (int i = 0; i <= STEPS; i++) {
        elevation[i] = td_hill_elevation_at(hill, card->from_m + step_m * i);
        lowest = fmin(lowest, elevation[i]);
        highest = fmax(highest, elevation[i]);
    }
    double scale = (bottom - top - 8) / fmax(10, highest - lowest);
    int step_now = -1;
    for (int i = 0; i < STEPS; i++) {
        double at_m = card->from_m + step_m * (i + 0.5);
        double x = card_x(card, card->from_m + step_m * i);
        double next_x = card_x(card, card->from_m + step_m * (i + 1));
        int step = td_card_steepness(td_hill_downgrade_at(hill, at_m));
        double y = bottom - 8 - (elevation[i] - lowest) * scale;
        double next_y = bottom - 8 - (elevation[i + 1] - lowest) * scale;
        if (step != step_now) {
            if (step_now >= 0) {
                td_svg_path_to(card->svg, x, y, false);
                td_svg_path_to(card->svg, x, bottom, false);
                td_svg_path_end(card->svg, true, td_card_hatch(step_now));
            }
            td_svg_path_start(card->svg);
            td_svg_path_to(card->svg, x, bottom, true);
            td_svg_path_to(card->svg, x, y, false);
            step_now = step;
        }
        td_svg_path_to(card->svg, next_x, next_y, false);
    }
    td_svg_path_to(card->svg, CARD_RIGHT, bottom, false);
    td_svg_path_end(card->svg, true, td_card_hatch(step_now));
    td_svg_path_start(card->svg);
    for (int i = 0; i <= STEPS; i++)
        td_svg_path_to(card->svg, card_x(card, card->from_m + step_m * i),
                       bottom - 8 - (elevation[i] - lowest) * scale, i == 0);
    td_svg_path_end(card->svg, false, "fill=\"none\" stroke=\"#000\" stroke-width=\"2.5\"");
}

/* Percent of each run where it has room, in the strip below the profile. */
static void percents(struct td_card *card)
{
    const struct td_hill *hill = card->answer->hill;
    char words[32];
    td_svg_rect(card->svg, CARD_PLOT, card->y, CARD_RIGHT - CARD_PLOT, 20, CARD_THIN);
    for (size_t i = 0; i < hill->run_count; i++) {
        const struct td_run *run = &hill->runs[i];
        if (run->to_m <= card->from_m || run->from_m >= card->to_m)
            continue;
        double left = card_x(card, run->from_m), right = card_x(card, run->to_m);
        double percent = run->downgrade_ratio * 100;
        int decimals = fabs(percent) < 2 || fabs(percent - round(percent)) < 0.3 ? 0 : 1;
        (void)snprintf(words, sizeof words, "%s%.*f %%", percent > -0.5 ? "" : "up ", decimals,
                       fabs(percent));
        if (left > CARD_PLOT)
            td_svg_line(card->svg, left, card->y, left, card->y + 20, CARD_THIN);
        if (td_svg_width(words, CARD_SMALL, true) + 6 <= right - left)
            td_svg_text(card->svg, (left + right) / 2, card->y + 15,
                        card_type(CARD_SMALL, true, TD_SVG_MIDDLE), words);
    }
    card->y += 20;
}

/* Bends: a bump to the side the road turns to, the sharper the taller. */
static void bends(struct td_card *card)
{
    const struct td_hill *hill = card->answer->hill;
    bool any = false;
    double middle = card->y + 10;
    for (size_t i = 0; i < hill->curve_count; i++) {
        const struct td_curve *curve = &hill->curves[i];
        if (curve->to_m <= card->from_m || curve->from_m >= card->to_m || curve->radius_m > 400)
            continue;
        double height = (curve->radius_m < 60 ? 9 : curve->radius_m < 150 ? 6 : 4) *
                        (curve->turn == TD_SIDE_RIGHT ? 1 : -1);
        double from = card_x(card, curve->from_m), to = fmax(card_x(card, curve->to_m), from + 2);
        td_svg_path_start(card->svg);
        td_svg_path_to(card->svg, from, middle, true);
        td_svg_path_to(card->svg, (from + to) / 2, middle + height, false);
        td_svg_path_to(card->svg, to, middle, false);
        td_svg_path_end(card->svg, true, "fill=\"#000\" stroke=\"#000\"");
        any = true;
    }
    if (!any)
        return;
    td_svg_line(card->svg, CARD_PLOT, middle, CARD_RIGHT, middle, CARD_FAINT);
    td_svg_text(card->svg, CARD_PLOT - 4, middle + 5, card_type(CARD_SMALL, false, TD_SVG_RIGHT),
                "bends");
    card->y += 22;
}

void td_card_road(struct td_card *card)
{
    struct mark marks[MARKS_MAX];
    size_t count = collect_marks(card, marks);
    hatch_key(card);
    write_marks(card, marks, count, card->y + 10 + 70);
    profile(card, card->y, card->y + 70);
    card->y += 70;
    percents(card);
    bends(card);
}

#define TARGET_LOOK  "fill=\"none\" stroke=\"#000\" stroke-width=\"3.5\""
#define CEILING_LOOK "fill=\"none\" stroke=\"#000\" stroke-width=\"1.4\" stroke-dasharray=\"7 4\""

/* As it is spoken: fives down, whole figures below five. */
static double figure(const struct td_card *card, double mps, bool spoken)
{
    double whole = floor((card->answer->query.speak_kmh ? td_kmh_from_mps(mps)
                                                        : td_mph_from_mps(mps)) + 1e-6);
    return spoken && whole >= 5 ? floor(whole / 5) * 5 : whole;
}

struct scale {
    double top, bottom, low, high;
};

static double scaled(const struct scale *scale, double value)
{
    double share = (value - scale->low) / (scale->high - scale->low);
    return scale->bottom - (scale->bottom - scale->top) * fmax(0, fmin(1, share));
}

static void grid(struct td_card *card, const struct scale *scale, double value)
{
    char words[16];
    double y = scaled(scale, value);
    (void)snprintf(words, sizeof words, "%.0f", value);
    td_svg_line(card->svg, CARD_PLOT, y, CARD_RIGHT, y, CARD_FAINT);
    td_svg_text(card->svg, CARD_PLOT - 4, y + 5, card_type(CARD_SMALL, false, TD_SVG_RIGHT), words);
}

static double value_at(const struct td_card *card, size_t point, bool target)
{
    return target ? figure(card, card->points[point].target_mps, true)
                  : figure(card, card->points[point].ceiling_mps, false);
}

/* One stepped line of figures with its numbers; nothing where no sign and no bend holds. Returns
 * how far it reaches down. */
static double steps(struct td_card *card, const struct scale *scale, bool target)
{
    double lowest = scale->bottom;
    double lift = target ? 0 : 3; /* both show where they are the same */
    double none = figure(card, td_mps_from_mph(TD_PLAN_MOST_MPH), false);
    const char *look = target ? TARGET_LOOK : CEILING_LOOK;
    struct td_svg_type type = {CARD_SMALL, target, false, TD_SVG_MIDDLE, true};
    for (size_t i = 1, next; i < card->point_count; i = next) {
        double value = value_at(card, i, target);
        for (next = i + 1; next < card->point_count && value_at(card, next, target) == value;)
            next++;
        if (!target && value >= none)
            continue;
        double left = card_x(card, card->points[i - 1].along_m);
        double right = card_x(card, card->points[next - 1].along_m);
        double y = scaled(scale, value) - lift;
        char words[16];
        td_svg_line(card->svg, left, y, right, y, look);
        if (next < card->point_count)
            td_svg_line(card->svg, right, y, right,
                        scaled(scale, value_at(card, next, target)) - lift, look);
        (void)snprintf(words, sizeof words, "%.0f", value);
        if (td_svg_width(words, CARD_SMALL, target) + 4 > right - left)
            continue;
        td_svg_text(card->svg, (left + right) / 2, target ? y + 17 : y - 4, type, words);
        lowest = fmax(lowest, y + (target ? 17 : 0));
    }
    return lowest;
}

void td_card_speeds(struct td_card *card)
{
    double most = 10, x = CARD_LEFT;
    for (size_t i = 1; i < card->point_count; i++) {
        double ceiling_mps = card->points[i].ceiling_mps;
        most = fmax(most, figure(card, card->points[i].target_mps, true));
        if (ceiling_mps < td_mps_from_mph(TD_PLAN_MOST_MPH) - 0.01)
            most = fmax(most, figure(card, ceiling_mps, false));
    }
    card->y += CARD_LINE + 2;
    char words[TD_PLAN_LINE_MAX];
    (void)snprintf(words, sizeof words, "Speed, %s", td_plan_speed_unit(card->answer));
    td_svg_text(card->svg, x, card->y, card_type(CARD_SMALL, true, TD_SVG_LEFT), words);
    x += td_svg_width(words, CARD_SMALL, true) + 16;
    key(card, &x, TARGET_LOOK, "hold, or slower");
    key(card, &x, CEILING_LOOK, "signs and bends");
    struct scale scale = {card->y + 23, card->y + 83, 0, ceil(most / 10) * 10};
    double step = most > 60 ? 40 : most > 30 ? 20 : 10;
    for (double value = 0; value <= scale.high; value += step)
        grid(card, &scale, value);
    (void)steps(card, &scale, false);
    card->y = steps(card, &scale, true) + 4;
}

#define WORST_LOOK  "fill=\"none\" stroke=\"#000\" stroke-width=\"2.5\""
#define LIKELY_LOOK "fill=\"none\" stroke=\"#000\" stroke-width=\"1.8\" stroke-dasharray=\"2 3\""
#define LIMIT_LOOK                                                                                 \
    "fill=\"none\" stroke=\"#000\" stroke-width=\"2.5\" stroke-dasharray=\"12 4 3 4\""

static double warmth(const struct td_card *card, double c)
{
    return card->answer->query.speak_kmh ? c : td_f_from_c(c);
}

static void curve(struct td_card *card, const struct scale *scale, bool worst, const char *look)
{
    td_svg_path_start(card->svg);
    for (size_t i = 0; i < card->point_count; i++) {
        const struct td_plan_point *point = &card->points[i];
        td_svg_path_to(card->svg, card_x(card, point->along_m),
                       scaled(scale, warmth(card, worst ? point->worst_c : point->likely_c)),
                       i == 0);
    }
    td_svg_path_end(card->svg, false, look);
}

void td_card_heat(struct td_card *card)
{
    const struct td_plan_answer *answer = card->answer;
    double limit = warmth(card, answer->limit_c), x = CARD_LEFT;
    char words[TD_PLAN_LINE_MAX];
    card->y += CARD_LINE + 2;
    (void)snprintf(words, sizeof words, "Brakes, %s", answer->query.speak_kmh ? "C" : "F");
    td_svg_text(card->svg, x, card->y, card_type(CARD_SMALL, true, TD_SVG_LEFT), words);
    x += td_svg_width(words, CARD_SMALL, true) + 16;
    key(card, &x, WORST_LOOK, answer->rig != NULL ? "at worst" : "reckoned");
    if (answer->rig != NULL)
        key(card, &x, LIKELY_LOOK, "likely");
    key(card, &x, LIMIT_LOOK, "limit");
    struct scale scale = {card->y + 10, card->y + 76, 0, limit * 1.08};
    for (size_t i = 0; i < card->point_count; i++)
        scale.low = fmin(scale.low, warmth(card, card->points[i].likely_c));
    double step = answer->query.speak_kmh ? 100 : 200;
    for (double value = 0; scaled(&scale, value) > scaled(&scale, limit) + 16; value += step)
        grid(card, &scale, value);
    grid(card, &scale, limit);
    td_svg_line(card->svg, CARD_PLOT, scaled(&scale, limit), CARD_RIGHT, scaled(&scale, limit),
                LIMIT_LOOK);
    if (answer->rig != NULL)
        curve(card, &scale, false, LIKELY_LOOK);
    curve(card, &scale, true, WORST_LOOK);
    card->y = scale.bottom + 6;
}
