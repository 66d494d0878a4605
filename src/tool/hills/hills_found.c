/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Findings, told as they are found. */
#include "tool/hills/hills_found.h"

#include <jansson.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

struct td_found_at td_found_profile(const char *name, const struct td_hill_file *file)
{
    size_t road = td_hill_file_hill(file)->place_count;
    return (struct td_found_at){name, td_hill_file_line(file, road), NULL, (double)NAN, 0};
}

struct td_found_at td_found_road(const char *name, const struct td_hill_file *file, double at_m)
{
    struct td_found_at at = td_found_profile(name, file);
    at.at_m = at_m;
    return at;
}

struct td_found_at td_found_place(const char *name, const struct td_hill_file *file, size_t index)
{
    const struct td_place *place = &td_hill_file_hill(file)->places[index];
    return (struct td_found_at){name, td_hill_file_line(file, index), td_place_role(place->kind),
                                place->at_m, index};
}

static void tell_as_json(const struct td_found_at *at, bool is_error, const char *rule,
                         const char *what, const char *cure)
{
    json_t *row = json_pack("{s:s, s:o, s:s, s:s, s:o, s:o, s:s, s:s}", "file", at->file, "line",
                            at->line > 0 ? json_integer(at->line) : json_null(), "severity",
                            is_error ? "error" : "warning", "rule", rule, "place",
                            at->place != NULL ? json_string(at->place) : json_null(), "at_m",
                            isfinite(at->at_m) ? json_real(at->at_m) : json_null(), "what", what,
                            "cure", cure);
    if (row != NULL && json_dumpf(row, stdout, JSON_PRESERVE_ORDER | JSON_REAL_PRECISION(7)) == 0)
        (void)putchar('\n');
    json_decref(row);
}

static void tell_as_text(const struct td_found_at *at, bool is_error, const char *rule,
                         const char *what, const char *cure)
{
    (void)printf("%s:", at->file);
    if (at->line > 0)
        (void)printf("%d:", at->line);
    (void)printf(" %s: ", is_error ? "error" : "warning");
    if (at->place != NULL || isfinite(at->at_m))
        (void)printf("%s at %.0f m: ", at->place != NULL ? at->place : "road", at->at_m);
    bool said = strstr(what, cure) != NULL;
    (void)printf("%s%s%s [%s]\n", what, said ? "" : "; ", said ? "" : cure, rule);
}

static void tell(struct td_findings *to, const struct td_found_at *at, bool is_error,
                 const char *rule, const char *what, const char *cure)
{
    if (to->progress != NULL)
        td_progress_end(to->progress);
    to->errors += is_error;
    to->warnings += !is_error;
    if (to->take != NULL)
        to->take(to->context, at, is_error, rule, what, cure);
    else if (to->as_json)
        tell_as_json(at, is_error, rule, what, cure);
    else
        tell_as_text(at, is_error, rule, what, cure);
}

void td_found(struct td_findings *to, const struct td_found_at *at, bool is_error,
              const char *rule, const char *cure, const char *what, ...)
{
    char words[TD_PROBLEM_TEXT_MAX];
    va_list args;
    va_start(args, what);
    (void)vsnprintf(words, sizeof words, what, args);
    va_end(args);
    tell(to, at, is_error, rule, words, cure);
}

/* A problem is "what is wrong; what would be right". */
void td_found_problem(struct td_findings *to, enum td_result result,
                      const struct td_problem *problem)
{
    char words[TD_PROBLEM_TEXT_MAX];
    const struct td_found_at at = {problem->file, problem->line, NULL, (double)NAN, 0};
    (void)snprintf(words, sizeof words, "%s", problem->text);
    /* "X must be Y" says both at once. */
    char *cure = strstr(words, "; "), *must = strstr(words, " must ");
    if (cure != NULL) {
        *cure = '\0';
        cure += 2;
    } else if (must != NULL) {
        cure = must + 1;
    }
    to->unreadable = to->unreadable || (result != TD_INVALID && result != TD_FULL);
    tell(to, &at, true, "format", words, cure != NULL ? cure : "");
}
