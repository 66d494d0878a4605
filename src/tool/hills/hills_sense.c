/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What looks wrong about a road that can be read: which way it runs, how it is drawn, how steep it
 * is, and whether it comes back upon itself. */
#include <math.h>

#include "talkdown/geo.h"
#include "tool/hills/hills_found.h"

static const double approach_least_m = 2000; /* docs/formats.md: time to talk before the crest */
static const double beyond_least_m = 100;
static const double spacing_good_m = 100; /* curves and crests blur beyond it */
static const double spacing_most_m = 200; /* and are gone beyond it */
static const double climb_most_m = 20;
/* Over a hundred metres no main road is steeper than this: AASHTO's steepest maximum grade for a
 * local road in mountains is 17 % (A Policy on Geometric Design, 2018, table 5-2; from memory), so
 * 20 % is a slip in the heights. */
static const double steepest_ratio = 0.20, steep_over_m = 100;
/* Two legs of a hairpin lie a road's width and a verge apart; a road over itself lies on itself. */
static const double overlap_m = 8, overlap_apart_m = 150, overlap_run_m = 50;

static void check_spacing(struct td_findings *to, const char *name, const struct td_hill_file *file)
{
    const struct td_hill *hill = td_hill_file_hill(file);
    double widest_m = 0, at_m = 0;
    for (size_t i = 0; i + 1 < hill->station_count; i++) {
        double gap_m = hill->stations[i + 1].along_m - hill->stations[i].along_m;
        if (gap_m > widest_m) {
            widest_m = gap_m;
            at_m = hill->stations[i].along_m;
        }
    }
    if (widest_m <= spacing_good_m)
        return;
    struct td_found_at at = td_found_road(name, file, at_m);
    td_found(to, &at, widest_m > spacing_most_m, "gap",
             "put vertices between them, 10 to 25 m apart",
             "the next vertex is %.0f m further, the widest gap of the road; over %.0f m blurs "
             "curves and crests",
             widest_m, widest_m > spacing_most_m ? spacing_most_m : spacing_good_m);
}

static void check_steepness(struct td_findings *to, const char *name,
                            const struct td_hill_file *file)
{
    const struct td_hill *hill = td_hill_file_hill(file);
    double most = 0, at_m = 0;
    for (double from_m = 0; from_m + steep_over_m <= hill->length_m; from_m += steep_over_m / 4) {
        double grade = (td_hill_elevation_at(hill, from_m) -
                        td_hill_elevation_at(hill, from_m + steep_over_m)) /
                       steep_over_m;
        if (fabs(grade) > fabs(most)) {
            most = grade;
            at_m = from_m;
        }
    }
    if (fabs(most) <= steepest_ratio)
        return;
    struct td_found_at at = td_found_road(name, file, at_m);
    td_found(to, &at, true, "steep", "look at the heights there: metres, no spikes",
             "%s %.0f %% over %.0f m; over %.0f %% is no road for trucks",
             most > 0 ? "falls" : "climbs", fabs(most) * 100, steep_over_m, steepest_ratio * 100);
}

static void check_ends(struct td_findings *to, const char *name, const struct td_hill_file *file)
{
    const struct td_hill *hill = td_hill_file_hill(file);
    struct td_found_at at = td_found_profile(name, file);
    double climb_m = hill->stations[hill->station_count - 1].elevation_m -
                     hill->stations[0].elevation_m;
    if (!hill->coached && climb_m > climb_most_m) {
        td_found(to, &at, true, "direction",
                 "reverse the line: its vertices run the way trucks go down",
                 "the road ends %.0f m higher than it begins and no downgrade on it needs coaching",
                 climb_m);
        return;
    }
    if (!hill->coached) {
        td_found(to, &at, false, "silent", "leave it out, or look at its heights",
                 "no downgrade on it needs coaching: it will be silent");
        return;
    }
    if (hill->crest_m < approach_least_m)
        td_found(to, &at, false, "approach", "let the road begin earlier where it allows",
                 "the road begins %.0f m before the crest; 2 km gives time to talk", hill->crest_m);
    if (hill->length_m - hill->foot_m < beyond_least_m)
        td_found(to, &at, false, "beyond", "let it go on for 100 m and more",
                 "the road ends %.0f m past the foot", hill->length_m - hill->foot_m);
}

/* Whether the road at station i lies on an earlier part of itself; *on_m where. */
static bool lies_on_itself(const struct td_hill *hill, size_t i, double *on_m)
{
    const struct td_station *here = &hill->stations[i];
    for (size_t k = 0; k + 1 < i && here->along_m - hill->stations[k].along_m > overlap_apart_m;) {
        const struct td_station *other = &hill->stations[k];
        struct td_point a = {other[0].x_m, other[0].y_m}, b = {other[1].x_m, other[1].y_m};
        struct td_foot_point foot =
            td_geo_project(a, b, (struct td_point){here->x_m, here->y_m});
        if (foot.distance_m < overlap_m) {
            *on_m = other->along_m;
            return true;
        }
        /* However the road runs, it comes no nearer than by its own length. */
        double skip_m = foot.distance_m - overlap_m + other->along_m;
        do
            k++;
        while (k + 1 < i && hill->stations[k + 1].along_m < skip_m);
    }
    return false;
}

/* A road may cross itself by a bridge; it may not run along itself. */
static void check_overlap(struct td_findings *to, const char *name, const struct td_hill_file *file)
{
    const struct td_hill *hill = td_hill_file_hill(file);
    double from_m = -1, first_m = 0, on_m = 0;
    for (size_t i = 0; i < hill->station_count; i++) {
        double along_m = hill->stations[i].along_m;
        if (!lies_on_itself(hill, i, &on_m)) {
            from_m = -1;
            continue;
        }
        if (from_m < 0) {
            from_m = along_m;
            first_m = on_m;
        }
        if (along_m - from_m < overlap_run_m)
            continue;
        struct td_found_at at = td_found_road(name, file, from_m);
        td_found(to, &at, true, "overlap", "cut out the part that is there twice",
                 "runs over itself: the same ground as at %.0f m, for %.0f m and more", first_m,
                 overlap_run_m);
        return;
    }
}

/* Posts are set by the mile; where two are further off than this, one of them is named wrong or the
 * road was changed there, and the count should jump. Ours: no source. */
static const double posts_off_ratio = 0.1;

static void check_mileposts(struct td_findings *to, const char *name,
                            const struct td_hill_file *file)
{
    double at_m = 0;
    double off = td_mileposts_worst(td_hill_file_mileposts(file), &at_m);
    if (fabs(off) <= posts_off_ratio)
        return;
    struct td_found_at at = td_found_road(name, file, at_m);
    td_found(to, &at, false, "mileposts",
             "look at both posts; where the count jumps, name two posts at one place",
             "the road from the post there to the next is %.0f %% %s than they say",
             fabs(off) * 100, off > 0 ? "longer" : "shorter");
}

void td_hills_sense(struct td_findings *to, const char *name, const struct td_hill_file *file)
{
    check_spacing(to, name, file);
    check_steepness(to, name, file);
    check_ends(to, name, file);
    check_overlap(to, name, file);
    check_mileposts(to, name, file);
    td_hills_sense_places(to, name, file);
}
