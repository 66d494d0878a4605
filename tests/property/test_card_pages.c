/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Cards of random hills, rigs and plans: whole XML, everything on the page, no text on another,
 * nothing too small to read. Half of the plans are solved, half are any plan at all. */
#include "support/card_page.h"

#include <stdlib.h>
#include <string.h>

#include "support/cm.h"
#include "support/hills.h"
#include "support/rigs.h"
#include "support/seed.h"
#include "talkdown/units.h"
#include "tool/plan/plan_card.h"

enum { ROUNDS = 400, RUNS = 14 };
#define SMALLEST 14.0 /* 9 pixels on a phone 390 wide */
#define BIG      38.0 /* 24 of them */

static struct test_hill road;
static struct td_place places[TD_HILL_PLACES_MAX];
static struct td_plan_work work;
static struct td_plan_point points[TD_PLAN_TRACE_MAX];
static struct card_page page;

static const char *const names[] = {
    "", "Low", "Ulmek <Upper> & \"Lower\" Grade", "\xc3\x89tage du Val d'Orm\xc3\xa9",
    "\xff\xfe\x80 broken",
    "A Grade with a Name That Goes On and On, as Names by Committees Do, and Then Some More of It",
    "Wordwithoutanyblankthatislongerthanthepageiswidesothatitmustbebrokeninsideofitselfsomewhere",
    "\xe5\xb1\xb1\xe9\x81\x93\xe4\xb8\x8b\xe3\x82\x8a\xe5\x9d\x82", "tab\tand\1control",
    "]]>"};

static const char *any_name(struct td_rng *rng)
{
    return names[td_rng_below(rng, sizeof names / sizeof names[0])];
}

static void make_places(struct td_rng *rng, struct td_hill *hill)
{
    size_t count = td_rng_below(rng, 3) == 0 ? td_rng_below(rng, TD_HILL_PLACES_MAX + 1)
                                             : td_rng_below(rng, 20);
    double at_m = 0, step_m = 2 * hill->length_m / (double)(count + 1);
    hill->places = places;
    hill->place_count = 0;
    for (size_t i = 0; i < count; i++) {
        at_m += td_rng_below(rng, 4) == 0 ? 0 : td_rng_between(rng, 0, step_m);
        if (at_m > hill->length_m)
            break;
        places[hill->place_count++] = (struct td_place){
            .kind = (enum td_place_kind)td_rng_below(rng, TD_PLACE_KINDS),
            .has = td_rng_below(rng, 64),
            .at_m = at_m,
            .side = (enum td_side)td_rng_below(rng, 3),
            .speed_mps = td_rng_between(rng, 2, 33),
            .over_kg = td_rng_between(rng, 5000, 60000),
            .length_m = td_rng_between(rng, 20, 9000),
            .grade_ratio = td_rng_between(rng, -0.1, 0.2),
            .material = "pea gravel",
            .say = "",
            .name = any_name(rng)};
    }
}

static void make_hill(struct td_rng *rng)
{
    struct test_run runs[RUNS];
    size_t count = 1 + td_rng_below(rng, RUNS);
    for (size_t i = 0; i < count; i++)
        runs[i] = (struct test_run){td_rng_between(rng, 200, 30000.0 / (double)count),
                                    td_rng_between(rng, -0.03, 0.13)};
    test_hill_make(&road, runs, count);
    struct td_hill *hill = &road.hill;
    double along_m = 0;
    for (hill->run_count = 0; hill->run_count < count; hill->run_count++) {
        const struct test_run *run = &runs[hill->run_count];
        hill->runs[hill->run_count] =
            (struct td_run){along_m, along_m + run->length_m, run->downgrade_ratio};
        along_m += run->length_m;
    }
    for (hill->curve_count = 0; hill->curve_count < td_rng_below(rng, 200); hill->curve_count++) {
        double from_m = td_rng_between(rng, 0, hill->length_m);
        hill->curves[hill->curve_count] =
            (struct td_curve){from_m, from_m + td_rng_between(rng, 5, 300),
                              td_rng_between(rng, 12, 600), TD_SIDE_LEFT};
    }
    hill->id = "any-hill";
    hill->name = any_name(rng);
    hill->coached = td_rng_below(rng, 12) != 0;
    hill->crest_m = td_rng_between(rng, 0, 0.4) * hill->length_m;
    hill->foot_m = hill->crest_m + td_rng_between(rng, 0.3, 0.6) * hill->length_m;
    make_places(rng, hill);
}

static struct td_rig make_rig(struct td_rng *rng)
{
    struct td_rig rig = test_rig();
    rig.gearbox = (enum td_gearbox)td_rng_below(rng, 3);
    rig.stage_count = td_rng_below(rng, 3);
    for (size_t i = 0; i < sizeof rig.name - 1 && td_rng_below(rng, 3) == 0; i++)
        rig.name[i] = 'W';
    if (td_rng_below(rng, 4) == 0)
        memcpy(rig.gears[2].name, "WWWWWW WWWW & <third>", 22);
    if (td_rng_below(rng, 3) == 0)
        rig.stages[1].kind = TD_HOLDER_EXHAUST_BRAKE; /* of two kinds, as with a retarder */
    if (td_rng_below(rng, 4) == 0)
        memcpy(rig.stages[0].name, "second from the left", 21);
    return rig;
}

/* A plan that no solver made: as many of everything as there may be. */
static void any_plan(struct td_rng *rng, const struct td_rig *rig, struct td_plan *plan)
{
    const struct td_hill *hill = &road.hill;
    double at_m = hill->crest_m;
    plan->coached = plan->safe = true;
    plan->gear = 2;
    plan->stage = (int)td_rng_below(rng, (uint32_t)rig->stage_count + 1) - 1;
    plan->descent_count = 1 + td_rng_below(rng, TD_PLAN_DESCENTS_MAX);
    for (size_t i = 0; i < plan->descent_count; i++) {
        double to_m = at_m + (hill->foot_m - at_m) / (double)(plan->descent_count - i);
        int say = 5 * (int)td_rng_below(rng, 16);
        plan->descents[i] = (struct td_plan_descent){
            .from_m = at_m, .to_m = to_m - 100, .target_mps = td_mps_from_mph(say + 2),
            .target_mph = say + 2, .say_mph = say, .say_kmh = 2 * say,
            .gear = (int)td_rng_below(rng, (uint32_t)rig->gear_count),
            .stage = (int)td_rng_below(rng, (uint32_t)rig->stage_count + 1) - 1};
        plan->stretches[plan->stretch_count++] =
            (struct td_plan_stretch){at_m, to_m, 0.06, td_mps_from_mph(say + 2), TD_LIMIT_HEAT};
        at_m = to_m;
    }
    plan->escape_count = td_rng_below(rng, TD_PLAN_ESCAPES_MAX + 1);
    for (size_t i = 0; i < plan->escape_count; i++)
        plan->escapes[i] = (struct td_plan_escape){
            td_rng_between(rng, 0, hill->length_m), td_rng_between(rng, 10, 60),
            td_rng_between(rng, 0, 500), td_rng_between(rng, 0, 40), td_rng_between(rng, 0, 900)};
    plan->reason_count = td_rng_below(rng, TD_PLAN_REASONS_MAX + 1);
    for (size_t i = 0; i < plan->reason_count; i++)
        plan->reasons[i] =
            (struct td_plan_reason){(enum td_plan_reason_kind)td_rng_below(rng, TD_REASON_KINDS),
                                    td_rng_between(rng, 0, 900), hill->crest_m};
    plan->peak_c = plan->likely_peak_c = td_rng_between(rng, 0, 400);
    plan->peak_at_m = td_rng_between(rng, hill->crest_m, hill->foot_m);
    plan->last_stop_m = td_rng_between(rng, hill->crest_m, hill->foot_m);
    plan->stop_m = td_rng_between(rng, 10, 900);
    plan->spare_kg = td_rng_between(rng, 0, 40000);
    plan->spare_mps = td_rng_between(rng, 0, 30);
}

/* TD_CARD_DIR names a folder that keeps the pages, for people to look at. */
static void keep(const char *svg, size_t length, int round)
{
    const char *folder = getenv("TD_CARD_DIR");
    char path[1024];
    if (folder == NULL)
        return;
    (void)snprintf(path, sizeof path, "%s/card-%03d.svg", folder, round);
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(svg, 1, length, file), length);
    assert_int_equal(fclose(file), 0);
}

static void check(const char *svg, size_t length, int round, const struct td_plan_answer *answer)
{
    const char *why = NULL;
    size_t a = 0, b = 0;
    if (!card_page_read(svg, length, &page, &why))
        fail_msg("round %d: %s in\n%s", round, why, svg);
    if (card_page_overlap(&page, &a, &b))
        fail_msg("round %d: \"%s\" lies on \"%s\"", round, page.texts[a].words,
                 page.texts[b].words);
    if (page.left < 0 || page.top < 0 || page.right > page.width || page.bottom > page.height)
        fail_msg("round %d: drawn beyond the page: %.1f to %.1f of %.1f, %.1f to %.1f of %.1f",
                 round, page.left, page.right, page.width, page.top, page.bottom, page.height);
    for (size_t i = 0; i < page.text_count; i++) {
        const struct card_text *text = &page.texts[i];
        if (text->left < 0 || text->right > page.width || text->top < 0 ||
            text->bottom > page.height)
            fail_msg("round %d: \"%s\" reaches over the page's edge", round, text->words);
        if (text->size < SMALLEST)
            fail_msg("round %d: \"%s\" is too small to read", round, text->words);
    }
    bool no = answer->plan.coached && !answer->plan.safe;
    const struct card_text *banner = card_page_find(&page, "DO NOT GO DOWN");
    assert_true(no == (banner != NULL));
    assert_true(banner == NULL || banner->size >= BIG);
    assert_non_null(card_page_find(&page, "Advice only: posted signs"));
}

static void pages_are_sound(void **state)
{
    (void)state;
    struct td_rng rng;
    test_seed(&rng, "card pages", 31);
    for (int round = 0; round < ROUNDS; round++) {
        make_hill(&rng);
        struct td_rig rig = make_rig(&rng);
        struct td_plan_answer answer = {.model = "rig", .hill = &road.hill, .rig = &rig,
                                        .load = td_rng_below(&rng, 2) != 0 ? "full" : NULL,
                                        .limit_c = rig.brakes.limit_c,
                                        .query = td_plan_query_default(&rig)};
        answer.query.speak_kmh = td_rng_below(&rng, 2) != 0;
        answer.query.mass_kg = td_rng_between(&rng, 8000, 70000);
        answer.query.road = (enum td_road)td_rng_below(&rng, 3);
        if (round % 2 == 0 && road.hill.coached)
            any_plan(&rng, &rig, &answer.plan);
        else
            td_plan_solve(&road.hill, &rig, &answer.query, &work, &answer.plan);
        size_t count = td_plan_trace(&road.hill, &rig, &answer.query, &answer.plan, &work, points,
                                     TD_PLAN_TRACE_MAX);
        struct td_svg svg = {NULL, 0, 0, false};
        td_plan_card_draw(&answer, points, count, any_name(&rng), &svg);
        assert_false(svg.failed);
        keep(svg.bytes, svg.length, round);
        check(svg.bytes, svg.length, round, &answer);
        free(svg.bytes);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(pages_are_sound)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
