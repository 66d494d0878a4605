/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Roads into GeoJSON text, by td_text, which knows no locale and cannot run out of memory half way
 * through a name. */
#include "io/hill_write.h"

#include <stdlib.h>
#include <string.h>

#include "io/problem.h"
#include "talkdown/text.h"

enum { HEAD_ROOM = 2048, VERTEX_ROOM = 64, DEGREE_DECIMALS = 6, METRE_DECIMALS = 2,
       SIGMA_DECIMALS = 1, ESCAPED_MOST = 6 };

/* RFC 8259, section 7. Bytes that are no UTF-8 go through, for the reader to refuse. */
static void add_string(struct td_text *text, const char *words)
{
    static const char hex[] = "0123456789abcdef";
    td_text_add_char(text, '"');
    for (; *words != '\0'; words++) {
        unsigned char c = (unsigned char)*words;
        if (c == '"' || c == '\\')
            td_text_add_char(text, '\\');
        if (c >= 0x20) {
            td_text_add_char(text, *words);
            continue;
        }
        td_text_add(text, "\\u00");
        td_text_add_char(text, hex[c >> 4]);
        td_text_add_char(text, hex[c & 15]);
    }
    td_text_add_char(text, '"');
}

static void add_property(struct td_text *text, const char *before, const char *key,
                         const char *value)
{
    td_text_add(text, before);
    add_string(text, key);
    td_text_add(text, ": ");
    add_string(text, value);
}

static void add_position_sigma(struct td_text *text, double sigma_m)
{
    if (sigma_m <= 0.0)
        return;
    td_text_add(text, ", \"position_sigma\": \"");
    td_text_add_fixed(text, sigma_m, SIGMA_DECIMALS);
    td_text_add(text, " m\"");
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

/* Properties that tell how good the road is (docs/formats.md). */
static void add_quality(struct td_text *text, const struct td_hill_words *words)
{
    if (words->surveyed != NULL && words->surveyed[0] != '\0')
        add_property(text, ", ", "surveyed", words->surveyed);
    if (words->passes > 0) {
        td_text_add(text, ", \"passes\": ");
        td_text_add_int(text, words->passes);
    }
    if (words->grade_sigma_ratio >= 0) {
        td_text_add(text, ", \"grade_sigma\": \"");
        td_text_add_fixed(text, words->grade_sigma_ratio * 100, 2);
        td_text_add(text, "%\"");
    }
    if (words->longest_gap_m >= 0) {
        td_text_add(text, ", \"longest_gap\": \"");
        td_text_add_fixed(text, words->longest_gap_m, 0);
        td_text_add(text, " m\"");
    }
}

enum td_result td_hill_write_words(const struct td_hill *hill, const struct td_hill_words *words,
                                   char **bytes, size_t *length, struct td_problem *problem)
{
    size_t letters = strlen(words->id) + strlen(words->name) + strlen(words->source);
    size_t size = HEAD_ROOM + ESCAPED_MOST * letters + VERTEX_ROOM * hill->station_count;
    char *made = malloc(size);
    if (made == NULL)
        return td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "no memory to write the profile");
    struct td_text text;
    td_text_init(&text, made, size);
    td_text_add(&text, "{\"type\": \"FeatureCollection\", \"features\": [\n"
                       "{\"type\": \"Feature\", \"properties\": ");
    add_property(&text, "{", "role", "road");
    add_property(&text, ", ", "id", words->id);
    add_property(&text, ", ", "name", words->name);
    add_property(&text, ", ", "source", words->source);
    add_position_sigma(&text, hill->position_sigma_m);
    add_quality(&text, words);
    td_text_add(&text, "}");
    td_text_add(&text, ",\n\"geometry\": {\"type\": \"LineString\", \"coordinates\": [\n");
    add_vertices(&text, hill);
    td_text_add(&text, "\n]}}\n]}\n");
    *bytes = made;
    *length = text.length;
    return TD_OK;
}

enum td_result td_hill_write_text(const struct td_hill *hill, const char *id, const char *name,
                                  const char *source, char **bytes, size_t *length,
                                  struct td_problem *problem)
{
    const struct td_hill_words words = {.id = id, .name = name, .source = source,
                                        .grade_sigma_ratio = -1, .longest_gap_m = -1};
    return td_hill_write_words(hill, &words, bytes, length, problem);
}
