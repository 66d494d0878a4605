/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which place of a profile is meant by a word. Two that it could mean are both named, and none is
 * taken. */
#include <stdio.h>
#include <string.h>

#include "io/problem.h"
#include "talkdown/quantity.h"
#include "talkdown/text.h"
#include "talkdown/units.h"
#include "tool/places/places.h"

const char *td_place_called(const struct td_hill_file *file, size_t index,
                            char made[TD_PLACE_CALLED_SIZE])
{
    const struct td_place *place = &td_hill_file_hill(file)->places[index];
    const char *id = td_hill_file_place(file, index).id;
    const char *name = id[0] != '\0' ? id : place->name;
    (void)snprintf(made, TD_PLACE_CALLED_SIZE, "%s%s%s%s at %.3f mi (%.0f m)",
                   td_place_role(place->kind), name[0] != '\0' ? " \"" : "", name,
                   name[0] != '\0' ? "\"" : "", td_mi_from_m(place->at_m), place->at_m);
    return made;
}

enum by { BY_ID, BY_NAME, BY_ROLE, BYS };

static bool is_meant(const struct td_hill_file *file, size_t index, enum by by, const char *text)
{
    const struct td_place *place = &td_hill_file_hill(file)->places[index];
    const char *is = by == BY_ID     ? td_hill_file_place(file, index).id
                     : by == BY_NAME ? place->name
                                     : td_place_role(place->kind);
    return strcmp(is, text) == 0;
}

static enum td_result several(const struct td_hill_file *file, enum by by, const char *word,
                              struct td_problem *problem)
{
    char list[240];
    struct td_text text;
    td_text_init(&text, list, sizeof list);
    for (size_t i = 0; i < td_hill_file_hill(file)->place_count; i++) {
        char called[TD_PLACE_CALLED_SIZE], one[TD_PLACE_CALLED_SIZE + 16];
        if (!is_meant(file, i, by, word))
            continue;
        (void)snprintf(one, sizeof one, "%s%zu is the %s", text.length > 0 ? ", " : "", i + 1,
                       td_place_called(file, i, called));
        if (text.length + strlen(one) + 16 > sizeof list) {
            td_text_add(&text, ", and more");
            break;
        }
        td_text_add(&text, one);
    }
    return td_problem_set(problem, TD_INVALID, NULL, 0,
                          "several places are called \"%.40s\"; give the number (%s)", word, list);
}

enum td_result td_place_which(const struct td_hill_file *file, const char *text, size_t *index,
                              struct td_problem *problem)
{
    size_t count = td_hill_file_hill(file)->place_count;
    for (enum by by = BY_ID; text[0] != '\0' && by < BYS; by++) {
        size_t found = 0;
        for (size_t i = 0; i < count; i++)
            if (is_meant(file, i, by, text) && found++ == 0)
                *index = i;
        if (found > 1)
            return several(file, by, text, problem);
        if (found == 1)
            return TD_OK;
    }
    int number = 0;
    if (td_whole_parse(text, 1, TD_HILL_PLACES_MAX, &number, NULL) == TD_OK &&
        (size_t)number <= count) {
        *index = (size_t)number - 1;
        return TD_OK;
    }
    return td_problem_set(problem, TD_NOT_FOUND, NULL, 0,
                          "none of its %zu places is called \"%.40s\"; give an id, a name, a role "
                          "that is there once, or a number of \"places list\"",
                          count, text);
}
