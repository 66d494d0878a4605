/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Pictures of random hills: whole XML, everything inside, no text on another, nothing too small to
 * read, and what has no room is counted. Half have their drawn places, half far too many. */
#include <stdlib.h>
#include <string.h>

#include "support/card_page.h"
#include "support/cm.h"
#include "support/random_places.h"
#include "support/seed.h"
#include "tool/hills/hills_picture.h"

enum { ROUNDS = 80 };

static struct random_hill made;
static struct td_place crowd[TD_HILL_PLACES_MAX];
static struct card_page page;

/* Escape lanes and brake checks in heaps, some before the crest, some past the foot. */
static void crowd_hill(struct td_rng *rng, struct td_hill *hill)
{
    size_t count = 1 + td_rng_below(rng, TD_HILL_PLACES_MAX);
    double at_m = 0;
    for (size_t i = 0; i < count; i++) {
        double step_m = 2 * hill->length_m / (double)count;
        at_m += td_rng_below(rng, 3) == 0 ? 0 : td_rng_between(rng, 0, step_m);
        if (at_m > hill->length_m)
            at_m = hill->length_m;
        crowd[i] = (struct td_place){
            .kind = td_rng_below(rng, 2) == 0 ? TD_PLACE_ESCAPE_LANE : TD_PLACE_BRAKE_CHECK,
            .has = td_rng_below(rng, 64), .at_m = at_m, .material = "", .say = "", .name = ""};
    }
    hill->places = crowd;
    hill->place_count = count;
}

static void check(const char *svg, size_t length, uint64_t seed)
{
    const char *why = NULL;
    size_t a = 0, b = 0;
    if (!card_page_read(svg, length, &page, &why))
        fail_msg("seed %llu: %s in\n%s", (unsigned long long)seed, why, svg);
    if (card_page_overlap(&page, &a, &b))
        fail_msg("seed %llu: \"%s\" lies on \"%s\"", (unsigned long long)seed,
                 page.texts[a].words, page.texts[b].words);
    assert_true(page.width == TD_PICTURE_WIDTH);
    if (page.left < 0 || page.top < 0 || page.right > page.width || page.bottom > page.height)
        fail_msg("seed %llu: drawn beyond: %.1f to %.1f of %.1f, %.1f to %.1f of %.1f",
                 (unsigned long long)seed, page.left, page.right, page.width, page.top,
                 page.bottom, page.height);
    for (size_t i = 0; i < page.text_count; i++) {
        const struct card_text *text = &page.texts[i];
        if (text->left < 0 || text->right > page.width || text->top < 0 ||
            text->bottom > page.height || text->size < TD_PICTURE_TYPE)
            fail_msg("seed %llu: \"%s\" sticks out or is too small", (unsigned long long)seed,
                     text->words);
    }
}

/* TD_CARD_DIR names a folder that keeps the pictures, for people to look at. */
static void keep(const char *svg, size_t length, int round)
{
    const char *folder = getenv("TD_CARD_DIR");
    char path[1024];
    if (folder == NULL)
        return;
    (void)snprintf(path, sizeof path, "%s/hill-%03d.svg", folder, round);
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(svg, 1, length, file), length);
    assert_int_equal(fclose(file), 0);
}

/* The first path of a map is its road. */
static void assert_clear_of_road(const char *svg, const struct td_picture_box *box)
{
    const char *at = strstr(svg, "<path d=\"M");
    assert_non_null(at);
    at += strlen("<path d=\"");
    while (*at == 'M' || *at == 'L') {
        char *end = NULL;
        double x = strtod(at + 1, &end), y = strtod(end, &end);
        if (x > box->left && x < box->right && y > box->top && y < box->bottom)
            fail_msg("the road runs through a mark at %.1f %.1f", x, y);
        at = end;
    }
}

/* Marks of a map touch neither one another nor the road, and all are on it. */
static void check_marks(const struct td_hill *hill)
{
    struct td_svg svg = {NULL, 0, 0, false};
    static struct td_hill_picture picture;
    picture = (struct td_hill_picture){.svg = &svg, .hill = hill, .unit = {.hill = hill}};
    td_hill_map(&picture);
    assert_true(picture.box_count > 0);
    for (size_t i = 0; i < picture.box_count; i++) {
        const struct td_picture_box *a = &picture.boxes[i];
        assert_true(a->left >= 0 && a->right <= TD_PICTURE_WIDTH);
        assert_true(a->top >= 0 && a->bottom <= picture.y);
        for (size_t k = 0; k < i; k++) {
            const struct td_picture_box *b = &picture.boxes[k];
            assert_false(a->left < b->right && b->left < a->right && a->top < b->bottom &&
                         b->top < a->bottom);
        }
        if (i > 0) /* the first is the arrow's corner */
            assert_clear_of_road(svg.bytes + (strstr(svg.bytes, "</text>") - svg.bytes), a);
    }
    free(svg.bytes);
}

/* Crest and foot stand twice, on the map and over the strip, or are counted as left out. */
static void check_names(const struct td_hill *hill, size_t left_out)
{
    size_t crests = 0, feet = 0;
    for (size_t i = 0; i < page.text_count; i++) {
        crests += strcmp(page.texts[i].words, "crest") == 0;
        feet += strcmp(page.texts[i].words, "foot") == 0;
    }
    assert_true(hill->coached ? crests + feet + left_out >= 4 : crests + feet == 0);
    assert_true(crests <= 2 && feet <= 2);
    assert_non_null(card_page_find(&page, "N"));
    assert_non_null(card_page_find(&page, hill->coached ? "from the crest" : "from the start"));
}

static void pictures_are_sound(void **state)
{
    (void)state;
    static const char *const names[] = {"Low", "Ulmek <Upper> & \"Lower\" Grade", "\xff\xfe\x80",
                                        "\xe5\xb1\xb1\xe9\x81\x93", "tab\tand\1control", "]]>"};
    struct td_rng rng;
    test_seed(&rng, "hill pictures", 17);
    size_t crowded_out = 0, all_shown = 0;
    for (int round = 0; round < ROUNDS; round++) {
        uint64_t seed = td_rng_below(&rng, 1000000);
        random_hill_draw(&made, seed);
        struct td_hill *hill = &made.road.hill;
        hill->name = names[td_rng_below(&rng, sizeof names / sizeof names[0])];
        if (round % 2 == 0)
            crowd_hill(&rng, hill);
        struct td_svg svg = {NULL, 0, 0, false};
        size_t left_out = td_hill_picture_draw(hill, round % 3 == 0, &svg);
        assert_false(svg.failed);
        keep(svg.bytes, svg.length, round);
        check(svg.bytes, svg.length, seed);
        check_names(hill, left_out);
        check_marks(hill);
        crowded_out += left_out > 0;
        all_shown += left_out == 0 && hill->place_count > 0;
        free(svg.bytes);
    }
    /* Both happen, or the counting is not tried. */
    assert_true(crowded_out > 5 && all_shown > 20);
}

/* The same hill, the same bytes. */
static void a_picture_is_the_same_each_time(void **state)
{
    (void)state;
    char *first = NULL;
    for (int i = 0; i < 2; i++) {
        struct td_svg svg = {NULL, 0, 0, false};
        random_hill_draw(&made, 5);
        (void)td_hill_picture_draw(&made.road.hill, false, &svg);
        assert_non_null(svg.bytes);
        if (first == NULL) {
            first = svg.bytes;
            continue;
        }
        assert_string_equal(first, svg.bytes);
        free(svg.bytes);
    }
    free(first);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(pictures_are_sound),
        cmocka_unit_test(a_picture_is_the_same_each_time),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
