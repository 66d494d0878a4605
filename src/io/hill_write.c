/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Roads into GeoJSON text. Numbers are written by td_text, which knows no locale; strings by
 * jansson, which knows how to escape them. */
#include "io/hill_write.h"

#include <jansson.h>
#include <stdlib.h>
#include <string.h>

#include "io/problem.h"
#include "talkdown/text.h"

enum { HEAD_ROOM = 2048, VERTEX_ROOM = 64, DEGREE_DECIMALS = 6, METRE_DECIMALS = 2 };

static char *properties_text(const char *id, const char *name, const char *source)
{
    json_t *properties = json_pack("{s:s, s:s, s:s, s:s}", "role", "road", "id", id, "name", name,
                                   "source", source);
    if (properties == NULL)
        return NULL;
    char *text = json_dumps(properties, JSON_PRESERVE_ORDER);
    json_decref(properties);
    return text;
}

static void add_vertices(struct td_text *text, const struct td_hill *hill)
{
    for (size_t i = 0; i < hill->station_count; i++) {
        const struct td_station *station = &hill->stations[i];
        td_text_add(text, i > 0 ? ",\n[" : "[");
        td_text_add_fixed(text, station->lon_deg, DEGREE_DECIMALS);
        td_text_add_char(text, ',');
        td_text_add_fixed(text, station->lat_deg, DEGREE_DECIMALS);
        td_text_add_char(text, ',');
        td_text_add_fixed(text, station->elevation_m, METRE_DECIMALS);
        td_text_add_char(text, ']');
    }
}

enum td_result td_hill_write_text(const struct td_hill *hill, const char *id, const char *name,
                                  const char *source, char **bytes, size_t *length,
                                  struct td_problem *problem)
{
    char *properties = properties_text(id, name, source);
    size_t size = HEAD_ROOM + VERTEX_ROOM * hill->station_count;
    if (properties != NULL)
        size += strlen(properties);
    char *made = properties != NULL ? malloc(size) : NULL;
    if (made == NULL) {
        free(properties);
        return td_problem_set(problem, TD_NO_MEMORY, NULL, 0,
                              "cannot write the profile: no memory, or a name that is not UTF-8");
    }
    struct td_text text;
    td_text_init(&text, made, size);
    td_text_add(&text, "{\"type\": \"FeatureCollection\", \"features\": [\n"
                       "{\"type\": \"Feature\", \"properties\": ");
    td_text_add(&text, properties);
    td_text_add(&text, ",\n\"geometry\": {\"type\": \"LineString\", \"coordinates\": [\n");
    add_vertices(&text, hill);
    td_text_add(&text, "\n]}}\n]}\n");
    free(properties);
    *bytes = made;
    *length = text.length;
    return TD_OK;
}
