/* SPDX-License-Identifier: GPL-3.0-or-later */
/* talkdown hills list: what is on file. Of a library only its list is read, not its hills. */
#include <jansson.h>
#include <stdio.h>

#include "io/library_file.h"
#include "io/problem.h"
#include "talkdown/units.h"
#include "tool/hills/hills.h"
#include "tool/tool.h"

enum { HASH_SHOWN = 16 };

/* What only a coached descent has; null elsewhere, so that no reader takes 0 for a place. */
static json_t *when_coached(const struct td_hill_entry *hill, double value)
{
    return hill->coached ? json_real(value) : json_null();
}

static void list_as_json(const struct td_hill_entry *hill, const char *path)
{
    char hash[TD_HASH_HEX_SIZE];
    json_t *row = json_pack(
        "{s:s, s:s, s:s, s:f, s:b, s:o, s:o, s:o, s:f, s:i}", "id", hill->id, "name", hill->name,
        "file", path, "length_m", hill->length_m, "coached", (int)hill->coached, "crest_m",
        when_coached(hill, hill->crest_m), "foot_m", when_coached(hill, hill->foot_m),
        "mean_downgrade_pct", when_coached(hill, hill->mean_downgrade_ratio * 100),
        "steepest_downgrade_pct", hill->steepest_downgrade_ratio * 100, "places",
        (int)hill->places);
    json_t *revision = hill->revision > 0 ? json_integer(hill->revision) : json_null();
    json_t *more = json_pack(
        "{s:s, s:o, s:s, s:f, s:f, s:f, s:f}", "surveyed", hill->surveyed, "revision", revision,
        "hash", td_hash_hex(hill->hash, hash), "south_deg", hill->south_deg, "north_deg",
        hill->north_deg, "west_deg", hill->west_deg, "east_deg", hill->east_deg);
    if (row != NULL && more != NULL && json_object_update(row, more) == 0 &&
        json_dumpf(row, stdout, JSON_PRESERVE_ORDER | JSON_REAL_PRECISION(9)) == 0)
        (void)putchar('\n');
    json_decref(row);
    json_decref(more);
}

static void list_as_text(const struct td_hill_entry *hill)
{
    (void)printf("%s  \"%s\"  %.1f km (%.1f mi)", hill->id, hill->name, hill->length_m / 1000,
                 td_mi_from_m(hill->length_m));
    if (hill->coached)
        (void)printf("  %.1f %% for %.1f km (%.1f mi), steepest %.1f %%",
                     hill->mean_downgrade_ratio * 100, (hill->foot_m - hill->crest_m) / 1000,
                     td_mi_from_m(hill->foot_m - hill->crest_m),
                     hill->steepest_downgrade_ratio * 100);
    else
        (void)printf("  not coached");
    (void)printf("  %zu places", hill->places);
    if (hill->revision > 0)
        (void)printf("  revision %u", hill->revision);
    (void)printf("  %s%s", hill->surveyed[0] != '\0' ? "surveyed " : "no survey date",
                 hill->surveyed);
}

static enum td_result list_profile(void *context, const struct td_hill_visit *visit,
                                   struct td_problem *problem)
{
    const bool *as_json = context;
    struct td_hill_entry entry;
    if (visit->result != TD_OK) {
        *problem = *visit->problem;
        return visit->result;
    }
    if (!td_hill_entry_make(visit->file, &entry))
        return td_problem_set(problem, TD_NO_MEMORY, visit->name, 0, "no memory to list it");
    if (*as_json) {
        list_as_json(&entry, visit->name);
        return TD_OK;
    }
    list_as_text(&entry);
    (void)putchar('\n');
    return TD_OK;
}

static void list_packed(const struct td_hill_entry *hill)
{
    char hash[TD_HASH_HEX_SIZE];
    list_as_text(hill);
    (void)printf("  %.4f..%.4f, %.4f..%.4f  %.*s\n", hill->south_deg,
                 hill->north_deg, hill->west_deg, hill->east_deg,
                 (int)HASH_SHOWN, td_hash_hex(hill->hash, hash));
}

static enum td_result list_library(const char *path, bool as_json, struct td_problem *problem)
{
    struct td_library_file *library = NULL;
    enum td_result result = td_library_file_open(path, &library, problem);
    if (result != TD_OK)
        return result;
    for (size_t i = 0; result == TD_OK && i < td_library_file_count(library); i++) {
        struct td_hill_entry entry;
        result = td_library_file_entry(library, i, &entry, problem);
        if (result == TD_OK && as_json)
            list_as_json(&entry, path);
        else if (result == TD_OK)
            list_packed(&entry);
    }
    if (result == TD_OK && !as_json)
        (void)printf("%s: %s\n%s", path,
                     td_library_file_signature(library) == NULL
                         ? "unsigned"
                         : "carries a signature; \"hills verify --key\" checks it",
                     td_library_file_manifest(library));
    td_library_file_close(&library);
    return result;
}

int td_hills_list(const char *const *paths, size_t count, bool as_json)
{
    for (size_t i = 0; i < count; i++) {
        struct td_problem problem = {0};
        enum td_result result =
            td_library_file_is(paths[i])
                ? list_library(paths[i], as_json, &problem)
                : td_hills_visit(paths[i], list_profile, &as_json, &problem);
        if (result != TD_OK)
            return td_tool_fail(&problem);
    }
    return TD_EXIT_DONE;
}
