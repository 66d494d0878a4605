/* SPDX-License-Identifier: GPL-3.0-or-later */
/* GPX (topografix 1.0 and 1.1) by expat: track points, else route points, in file order. Segments
 * and tracks follow each other as one. Entities of a document's own are refused: none are needed,
 * and nested ones can swell without end. */
#include "io/track_parts.h"

#include <expat.h>
#include <limits.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "io/problem.h"
#include "io/utc.h"
#include "talkdown/quantity.h"
#include "talkdown/text.h"

enum { VALUE_MOST = 64, PIECE_BYTES = 1 << 20 };

struct reader {
    XML_Parser parser;
    struct td_track_made *made;
    struct td_problem *problem;
    enum td_result result;
    struct td_fix fix;
    bool in_point;
    bool collecting; /* character data of ele, time, speed or course */
    char value[VALUE_MOST];
    size_t value_length;
    bool value_long;
};

static int line_now(const struct reader *reader)
{
    XML_Size line = XML_GetCurrentLineNumber(reader->parser);
    return line > INT_MAX ? 0 : (int)line;
}

static void fail(struct reader *reader, const char *what, const char *found, const char *right)
{
    reader->result = td_problem_set(reader->problem, TD_INVALID, reader->made->name,
                                    line_now(reader), "%s \"%.40s\"; %s", what, found, right);
    (void)XML_StopParser(reader->parser, XML_FALSE);
}

/* The name without its namespace prefix. */
static const char *local_name(const char *name)
{
    const char *colon = strrchr(name, ':');
    return colon == NULL ? name : colon + 1;
}

static bool is_point(const char *name)
{
    return strcmp(name, "trkpt") == 0 || strcmp(name, "rtept") == 0;
}

static bool is_value(const char *name)
{
    return strcmp(name, "ele") == 0 || strcmp(name, "time") == 0 || strcmp(name, "speed") == 0 ||
           strcmp(name, "course") == 0;
}

static void begin_point(struct reader *reader, const XML_Char **attributes)
{
    reader->fix = (struct td_fix){0};
    reader->in_point = true;
    bool has_lat = false, has_lon = false;
    for (; attributes[0] != NULL; attributes += 2) {
        bool lat = strcmp(attributes[0], "lat") == 0, lon = strcmp(attributes[0], "lon") == 0;
        if (!lat && !lon)
            continue;
        if (!td_decimal_parse(attributes[1], lat ? &reader->fix.lat_deg : &reader->fix.lon_deg)) {
            fail(reader, lat ? "lat is" : "lon is", attributes[1],
                 "degrees with a decimal point are needed");
            return;
        }
        has_lat = has_lat || lat;
        has_lon = has_lon || lon;
    }
    if (!has_lat || !has_lon) {
        fail(reader, "point without", has_lat ? "lon" : "lat", "each point needs lat and lon");
        return;
    }
    reader->fix.has = TD_FIX_POSITION;
}

static void XMLCALL on_start(void *data, const XML_Char *full_name, const XML_Char **attributes)
{
    struct reader *reader = data;
    const char *name = local_name(full_name);
    if (reader->result != TD_OK) /* expat may call on after a stop */
        return;
    if (is_point(name)) {
        begin_point(reader, attributes);
    } else if (reader->in_point && is_value(name)) {
        reader->collecting = true;
        reader->value_length = 0;
        reader->value_long = false;
    }
}

static void XMLCALL on_text(void *data, const XML_Char *text, int length)
{
    struct reader *reader = data;
    if (!reader->collecting)
        return;
    for (int i = 0; i < length; i++) {
        if (text[i] == ' ' || text[i] == '\n' || text[i] == '\r' || text[i] == '\t')
            continue; /* pretty printers indent values */
        if (reader->value_length + 1 >= VALUE_MOST)
            reader->value_long = true;
        else
            reader->value[reader->value_length++] = text[i];
    }
}

static void take_value(struct reader *reader, const char *name)
{
    reader->collecting = false;
    reader->value[reader->value_length] = '\0';
    struct td_fix *fix = &reader->fix;
    bool fits = !reader->value_long;
    if (reader->value_length == 0)
        return; /* an empty element tells nothing */
    if (strcmp(name, "time") == 0) {
        fits = fits && td_utc_parse(reader->value, &fix->utc_ms);
        fix->has |= TD_FIX_UTC;
        if (!fits)
            fail(reader, "time is", reader->value, "2031-05-17T08:00:00Z is the form");
        return;
    }
    bool elevation = strcmp(name, "ele") == 0, speed = strcmp(name, "speed") == 0;
    double *value = elevation ? &fix->altitude_m : speed ? &fix->speed_mps : &fix->track_deg;
    if (!fits || !td_decimal_parse(reader->value, value)) {
        fail(reader, elevation ? "ele is" : speed ? "speed is" : "course is", reader->value,
             "a number with a decimal point is needed");
        return;
    }
    if (!elevation && !speed && *value == 360.0)
        *value = 0;
    fix->has |= elevation ? TD_FIX_ALTITUDE : speed ? TD_FIX_SPEED : TD_FIX_TRACK;
}

static void XMLCALL on_end(void *data, const XML_Char *full_name)
{
    struct reader *reader = data;
    const char *name = local_name(full_name);
    if (reader->result != TD_OK)
        return;
    if (reader->collecting && is_value(name)) {
        take_value(reader, name);
    } else if (reader->in_point && is_point(name)) {
        reader->in_point = false;
        reader->result = td_track_add(reader->made, &reader->fix, reader->problem);
        if (reader->result != TD_OK)
            (void)XML_StopParser(reader->parser, XML_FALSE);
    }
}

static void XMLCALL on_entity(void *data, const XML_Char *name, int is_parameter,
                              const XML_Char *value, int length, const XML_Char *base,
                              const XML_Char *system_id, const XML_Char *public_id,
                              const XML_Char *notation)
{
    (void)is_parameter, (void)value, (void)length, (void)base;
    (void)system_id, (void)public_id, (void)notation;
    fail(data, "defines the entity", name, "GPX needs none");
}

/* In pieces, so that a length beyond INT_MAX is no trouble and a stop comes early. */
static bool feed(struct reader *reader, const char *bytes, size_t length)
{
    for (;;) {
        size_t piece = length < PIECE_BYTES ? length : PIECE_BYTES;
        int last = piece == length;
        if (XML_Parse(reader->parser, bytes, (int)piece, last) != XML_STATUS_OK)
            return false;
        if (last)
            return true;
        bytes += piece;
        length -= piece;
    }
}

enum td_result td_track_gpx(struct td_track_made *made, const char *bytes, size_t length,
                            struct td_problem *problem)
{
    struct reader reader = {.made = made, .problem = problem, .result = TD_OK};
    reader.parser = XML_ParserCreate(NULL);
    if (reader.parser == NULL)
        return td_problem_set(problem, TD_NO_MEMORY, made->name, 0, "no memory to read it");
    XML_SetUserData(reader.parser, &reader);
    XML_SetElementHandler(reader.parser, on_start, on_end);
    XML_SetCharacterDataHandler(reader.parser, on_text);
    XML_SetEntityDeclHandler(reader.parser, on_entity);
    if (!feed(&reader, bytes, length) && reader.result == TD_OK) {
        enum XML_Error why = XML_GetErrorCode(reader.parser);
        reader.result =
            why == XML_ERROR_NO_MEMORY
                ? td_problem_set(problem, TD_NO_MEMORY, made->name, 0, "no memory to read it")
                : td_problem_set(problem, TD_INVALID, made->name, line_now(&reader),
                                 "is not whole GPX (%s); record or export it anew",
                                 XML_ErrorString(why));
    }
    XML_ParserFree(reader.parser);
    return reader.result;
}
