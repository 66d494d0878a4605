/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Labels that never touch. Leaders come down from the axis in the order of the road, spread so that
 * symbols have room; a label's text goes to the right of its leader, from some leader on to the
 * left (there is no room to the right at the end of the axis). A label that lies across another's
 * leader must hang deeper than that one: tiers are raised until all of that holds, for every way
 * to part right from left; the shallowest wins. Where none holds, the least important label
 * goes. */
#include <math.h>

#include "tool/card/card_parts.h"

enum { TIERS_MAX = 12 };

/* Kept labels by their index, in order. */
struct kept {
    size_t at[CARD_LABELS_MAX], count;
};

static void keep(const struct td_card_label *labels, size_t count, struct kept *kept)
{
    kept->count = 0;
    for (size_t i = 0; i < count && kept->count < CARD_LABELS_MAX; i++)
        if (labels[i].tier >= 0)
            kept->at[kept->count++] = i;
}

/* Mean of pushing right and pushing left: apart, in order, and near where they belong. */
static void spread(struct td_card_label *labels, const struct kept *kept, double left, double right)
{
    double pushed[CARD_LABELS_MAX], before = left - CARD_LABEL_APART;
    for (size_t i = 0; i < kept->count; i++) {
        before = fmax(labels[kept->at[i]].at_x, before + CARD_LABEL_APART);
        pushed[i] = fmin(before, right - (double)(kept->count - 1 - i) * CARD_LABEL_APART);
    }
    double after = right + CARD_LABEL_APART;
    for (size_t i = kept->count; i-- > 0;) {
        after = fmin(labels[kept->at[i]].at_x, after - CARD_LABEL_APART);
        double pulled = fmax(after, left + (double)i * CARD_LABEL_APART);
        labels[kept->at[i]].x = (pushed[i] + pulled) / 2;
    }
}

static double low(const struct td_card_label *label)
{
    return label->is_left && label->text_width > 0
               ? label->x - CARD_LABEL_TEXT - label->text_width - 3
               : label->x - CARD_LABEL_REACH;
}

static double high(const struct td_card_label *label)
{
    return label->is_left || label->text_width <= 0
               ? label->x + CARD_LABEL_REACH
               : label->x + CARD_LABEL_TEXT + label->text_width + 3;
}

static bool covers(const struct td_card_label *a, const struct td_card_label *b)
{
    return b->x > low(a) - 2 && b->x < high(a) + 2;
}

/* Tiers for one way of parting; TIERS_MAX + 1 when it does not work. */
static int tiers_for(struct td_card_label *labels, const struct kept *kept, size_t first_left,
                     double left, double right)
{
    int deepest = 0;
    for (size_t i = 0; i < kept->count; i++) {
        struct td_card_label *label = &labels[kept->at[i]];
        label->is_left = i >= first_left;
        label->tier = 0;
        if (low(label) < left - CARD_LABEL_REACH || high(label) > right + CARD_LABEL_REACH)
            return TIERS_MAX + 1;
    }
    for (bool moved = true; moved && deepest <= TIERS_MAX;) {
        moved = false;
        for (size_t i = 0; i < kept->count; i++)
            for (size_t j = 0; j < kept->count; j++) {
                struct td_card_label *a = &labels[kept->at[i]], *b = &labels[kept->at[j]];
                bool touches = i < j && a->tier == b->tier && low(a) < high(b) && low(b) < high(a);
                if (i == j || !(touches || (covers(a, b) && a->tier <= b->tier)))
                    continue;
                a->tier = b->tier + 1;
                deepest = a->tier > deepest ? a->tier : deepest;
                moved = true;
            }
    }
    return deepest + 1;
}

/* Takes out one label of the highest rank, of these the last. */
static void drop_one(struct td_card_label *labels, const struct kept *kept)
{
    size_t worst = kept->at[0];
    for (size_t i = 1; i < kept->count; i++)
        if (labels[kept->at[i]].rank >= labels[worst].rank)
            worst = kept->at[i];
    labels[worst].tier = -1;
}

int td_card_lay_labels(struct td_card_label *labels, size_t count, double left, double right,
                       int tiers, size_t *dropped)
{
    struct kept kept;
    size_t room = (size_t)((right - left) / CARD_LABEL_APART) + 1;
    for (size_t i = 0; i < count; i++)
        labels[i].tier = i < CARD_LABELS_MAX ? 0 : -1;
    for (keep(labels, count, &kept); kept.count > 0; keep(labels, count, &kept)) {
        int best = TIERS_MAX + 1;
        size_t best_first = 0;
        if (kept.count <= room) {
            spread(labels, &kept, left, right);
            for (size_t first = kept.count + 1; first-- > 0;) {
                int needed = tiers_for(labels, &kept, first, left, right);
                if (needed < best) {
                    best = needed;
                    best_first = first;
                }
            }
        }
        *dropped = count - kept.count;
        if (best <= tiers)
            return tiers_for(labels, &kept, best_first, left, right);
        for (size_t i = 0; i < kept.count; i++)
            labels[kept.at[i]].tier = 0;
        drop_one(labels, &kept);
    }
    *dropped = count;
    return 0;
}
