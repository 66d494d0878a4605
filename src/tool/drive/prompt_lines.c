/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Prompts as lines, in order, once their fate is known. jansson makes the JSON. */
#include "tool/drive/prompt_lines.h"

#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/utc.h"
#include "talkdown/text.h"
#include "talkdown/units.h"

const char *td_fate_word(enum td_event_kind fate)
{
    switch (fate) {
    case TD_EVENT_SPOKEN:
        return "spoken";
    case TD_EVENT_CUT:
        return "cut";
    case TD_EVENT_LOST:
        return "lost";
    case TD_EVENT_EXPIRED:
        return "expired";
    case TD_EVENT_DROPPED:
        return "dropped";
    default:
        return "open";
    }
}

static bool ends(enum td_event_kind kind)
{
    return kind == TD_EVENT_SPOKEN || kind == TD_EVENT_CUT || kind == TD_EVENT_LOST ||
           kind == TD_EVENT_EXPIRED || kind == TD_EVENT_DROPPED;
}

/* Tenths are what a person or a test can use; more would be noise of the simulation. */
static json_t *tenths(double value)
{
    return json_real(round(value * 10) / 10);
}

static void print_json(const struct td_prompt_lines *lines, const struct td_prompt_line *line)
{
    char utc[TD_UTC_TEXT];
    double t_s = td_s_from_ns(line->at_ns - lines->start_ns);
    (void)td_utc_format(lines->start_utc_ms + (line->at_ns - lines->start_ns) / TD_NS_PER_MS, utc);
    json_t *object = json_pack(
        "{s:o, s:s, s:i, s:s, s:s, s:s, s:o, s:o, s:o, s:s}", "t_s", tenths(t_s), "utc", utc,
        "serial", (int)line->prompt.serial, "id", td_prompt_key(line->prompt.id), "category",
        td_category_name(line->prompt.category), "words", line->words, "hill",
        line->hill_id[0] != '\0' ? json_string(line->hill_id) : json_null(), "along_m",
        line->on_hill ? tenths(line->along_m) : json_null(), "speed_mph",
        tenths(td_mph_from_mps(line->speed_mps)), "fate", td_fate_word(line->fate));
    char *text = object != NULL ? json_dumps(object, JSON_COMPACT | JSON_REAL_PRECISION(12)) : NULL;
    if (text != NULL)
        (void)fprintf(lines->print, "%s\n", text);
    free(text);
    json_decref(object);
}

static void print_text(FILE *to, const struct td_prompt_lines *lines,
                       const struct td_prompt_line *line)
{
    double t_s = td_s_from_ns(line->at_ns - lines->start_ns);
    (void)fprintf(to, "%8.1f s  %-8s %-8s %-20s %s\n", t_s,
                  td_category_name(line->prompt.category), td_fate_word(line->fate),
                  td_prompt_key(line->prompt.id), line->words);
}

static void print_line(struct td_prompt_lines *lines, const struct td_prompt_line *line)
{
    if (lines->print != NULL && lines->json)
        print_json(lines, line);
    else if (lines->print != NULL)
        print_text(lines->print, lines, line);
    if (lines->print != NULL)
        (void)fflush(lines->print);
    if (lines->file != NULL) {
        print_text(lines->file, lines, line);
        lines->write_failed |= ferror(lines->file) != 0;
    }
    if (lines->told != NULL)
        lines->told(lines->who, line);
    lines->printed++;
    if (line->fate == TD_EVENT_SPOKEN || line->fate == TD_EVENT_CUT)
        lines->by_category[line->prompt.category]++;
}

static struct td_prompt_line *find_open(struct td_prompt_lines *lines, uint32_t serial)
{
    for (unsigned i = 0; i < lines->open_count; i++)
        if (lines->open[i].prompt.serial == serial)
            return &lines->open[i];
    return NULL;
}

static void remove_at(struct td_prompt_lines *lines, unsigned at)
{
    memmove(&lines->open[at], &lines->open[at + 1],
            (lines->open_count - at - 1) * sizeof lines->open[0]);
    lines->open_count--;
}

/* Prints what is closed, unless something issued earlier is still being said. */
static void print_closed(struct td_prompt_lines *lines)
{
    for (;;) {
        unsigned best = lines->open_count;
        for (unsigned i = 0; i < lines->open_count; i++) {
            const struct td_prompt_line *line = &lines->open[i];
            if (!line->issued && !line->closed)
                continue;
            if (best == lines->open_count || line->at_ns < lines->open[best].at_ns)
                best = i;
        }
        if (best == lines->open_count || !lines->open[best].closed)
            return;
        print_line(lines, &lines->open[best]);
        remove_at(lines, best);
    }
}

static struct td_prompt_line *open_line(struct td_prompt_lines *lines,
                                        const struct td_prompt *prompt)
{
    struct td_prompt_line *line = find_open(lines, prompt->serial);
    if (line != NULL)
        return line;
    if (lines->open_count == TD_LINES_OPEN_MAX)
        remove_at(lines, 0); /* far more than the core's queue holds: it forgot to end one */
    line = &lines->open[lines->open_count++];
    *line = (struct td_prompt_line){.prompt = *prompt, .fate = TD_EVENT_DECIDED};
    return line;
}

static void stand_here(struct td_prompt_line *line, int64_t now_ns,
                       const struct td_estimate *estimate)
{
    line->at_ns = now_ns;
    line->along_m = estimate->along_m;
    line->speed_mps = estimate->speed_mps;
    line->on_hill = estimate->handle != 0;
}

void td_prompt_lines_event(struct td_prompt_lines *lines, int64_t now_ns,
                           const struct td_event *event, const struct td_estimate *estimate,
                           const char *words, const char *hill_id)
{
    bool about_prompt = event->kind == TD_EVENT_DECIDED || event->kind == TD_EVENT_ISSUED ||
                        event->kind == TD_EVENT_STARTED || ends(event->kind);
    if (!about_prompt || event->prompt.serial == 0)
        return;
    struct td_prompt_line *line = open_line(lines, &event->prompt);
    if (line->words[0] == '\0')
        (void)td_text_copy(line->words, sizeof line->words, words);
    if (line->hill_id[0] == '\0')
        (void)td_text_copy(line->hill_id, sizeof line->hill_id, hill_id);
    if (event->kind == TD_EVENT_ISSUED) {
        line->prompt = event->prompt;
        line->issued = true;
        (void)td_text_copy(line->words, sizeof line->words, words);
        stand_here(line, now_ns, estimate);
    }
    if (ends(event->kind)) {
        if (!line->issued)
            stand_here(line, now_ns, estimate);
        line->fate = event->kind;
        line->closed = true;
        print_closed(lines);
    }
}

void td_prompt_lines_words(struct td_prompt_lines *lines, uint32_t serial, const char *words)
{
    struct td_prompt_line *line = find_open(lines, serial);
    if (line != NULL)
        (void)td_text_copy(line->words, sizeof line->words, words);
}

void td_prompt_lines_end(struct td_prompt_lines *lines)
{
    for (unsigned i = 0; i < lines->open_count; i++) {
        lines->open[i].closed |= lines->open[i].issued;
    }
    print_closed(lines);
    lines->open_count = 0;
}
