/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which slots a prompt's template has, and the proof that a book uses them all. */
#include <string.h>

#include "phrase/phrasebook.h"

static const char *const slot_names[TD_SLOTS] = {
    [TD_SLOT_NONE] = "",
    [TD_SLOT_HILLS] = "hills",
    [TD_SLOT_WEIGHT] = "weight",
    [TD_SLOT_ABOUT_WEIGHT] = "about_weight",
    [TD_SLOT_GRADE] = "grade",
    [TD_SLOT_LENGTH] = "length",
    [TD_SLOT_DISTANCE] = "distance",
    [TD_SLOT_SIDE] = "side",
    [TD_SLOT_GEAR] = "gear",
    [TD_SLOT_SPEED] = "speed",
    [TD_SLOT_STAGE] = "stage",
    [TD_SLOT_PLACE] = "place",
    [TD_SLOT_NEXT] = "next",
    [TD_SLOT_ROAD] = "road",
    [TD_SLOT_GEARBOX] = "gearbox",
    [TD_SLOT_HOLDER] = "holder",
    [TD_SLOT_LOAD] = "load",
};

static const enum td_slot slots[TD_PROMPT_IDS][TD_PHRASE_SLOTS_MAX + 1] = {
    [TD_PROMPT_READY] = {TD_SLOT_HILLS},
    [TD_PROMPT_SET_FOR] = {TD_SLOT_WEIGHT},
    [TD_PROMPT_LOAD_NOT_CONFIRMED] = {TD_SLOT_ABOUT_WEIGHT},
    [TD_PROMPT_HILL_AHEAD] = {TD_SLOT_GRADE, TD_SLOT_LENGTH},
    [TD_PROMPT_BRAKE_CHECK_AHEAD] = {TD_SLOT_DISTANCE, TD_SLOT_SIDE},
    [TD_PROMPT_BRIEFING] = {TD_SLOT_GEAR, TD_SLOT_SPEED},
    [TD_PROMPT_SLOW_FOR_GRADE] = {TD_SLOT_SPEED},
    [TD_PROMPT_GEAR] = {TD_SLOT_GEAR},
    [TD_PROMPT_ENGINE_BRAKE] = {TD_SLOT_STAGE},
    [TD_PROMPT_CEILING] = {TD_SLOT_SPEED},
    [TD_PROMPT_OVER_SPEED] = {TD_SLOT_SPEED},
    [TD_PROMPT_ESCAPE_LANE] = {TD_SLOT_PLACE, TD_SLOT_DISTANCE, TD_SLOT_SIDE},
    [TD_PROMPT_BOTTOM_AHEAD] = {TD_SLOT_DISTANCE, TD_SLOT_NEXT},
    [TD_PROMPT_BOTTOM] = {TD_SLOT_NEXT, TD_SLOT_DISTANCE},
    [TD_PROMPT_ROAD_SET] = {TD_SLOT_ROAD},
    [TD_PROMPT_CURVE] = {TD_SLOT_SIDE, TD_SLOT_SPEED},
    [TD_PROMPT_LIMIT] = {TD_SLOT_SPEED},
    [TD_PROMPT_STEEPER] = {TD_SLOT_GRADE},
    [TD_PROMPT_CHAIN_AREA] = {TD_SLOT_DISTANCE, TD_SLOT_SIDE},
    [TD_PROMPT_ASK_LOAD] = {TD_SLOT_LOAD},
    [TD_PROMPT_ASK_ROAD] = {TD_SLOT_ROAD},
    [TD_PROMPT_ASK_ENGINE_BRAKE] = {TD_SLOT_STAGE},
    [TD_PROMPT_BRAKES_HEATING] = {TD_SLOT_PLACE, TD_SLOT_DISTANCE},
    [TD_PROMPT_STOP_AT] = {TD_SLOT_PLACE, TD_SLOT_DISTANCE},
    [TD_PROMPT_RUNAWAY_LANE] = {TD_SLOT_PLACE, TD_SLOT_DISTANCE, TD_SLOT_SIDE},
    [TD_PROMPT_TAKE_LANE] = {TD_SLOT_PLACE, TD_SLOT_SIDE},
};

const char *td_slot_name(enum td_slot slot)
{
    return slot_names[slot];
}

const enum td_slot *td_phrase_slots(enum td_prompt_id id)
{
    return slots[id];
}

enum td_slot td_phrase_rig_slot(enum td_prompt_id id)
{
    if (id == TD_PROMPT_GEAR)
        return TD_SLOT_GEARBOX;
    bool stage = id == TD_PROMPT_ENGINE_BRAKE || id == TD_PROMPT_ASK_ENGINE_BRAKE;
    return stage ? TD_SLOT_HOLDER : TD_SLOT_NONE;
}

/* Writes "KEY: WRONG; CURE" and returns TD_INVALID. */
static enum td_result wrong(struct td_problem *problem, const char *key, const char *what)
{
    if (problem == NULL)
        return TD_INVALID;
    struct td_text text;
    problem->file[0] = '\0';
    problem->line = 0;
    td_text_init(&text, problem->text, sizeof problem->text);
    td_text_add(&text, key);
    td_text_add(&text, ": ");
    td_text_add(&text, what);
    return TD_INVALID;
}

/* Index of the slot that `name` (of `length` bytes) is in the prompt; -1 when it has none such. */
static int slot_of(enum td_prompt_id id, const char *name, size_t length)
{
    for (int i = 0; i < TD_PHRASE_SLOTS_MAX && slots[id][i] != TD_SLOT_NONE; i++) {
        const char *known = slot_names[slots[id][i]];
        if (strlen(known) == length && memcmp(known, name, length) == 0)
            return i;
    }
    const char *from_rig = slot_names[td_phrase_rig_slot(id)];
    if (length > 0 && strlen(from_rig) == length && memcmp(from_rig, name, length) == 0)
        return TD_PHRASE_SLOTS_MAX;
    return -1;
}

static enum td_result wrong_slot(struct td_problem *problem, enum td_prompt_id id, bool lacks,
                                 const char *slot, size_t length)
{
    char data[TD_PROBLEM_TEXT_MAX];
    struct td_text text;
    td_text_init(&text, data, sizeof data);
    td_text_add(&text, lacks ? "its template lacks {" : "its template has {");
    td_text_add_span(&text, slot, length);
    td_text_add(&text, lacks ? "}; every slot must be used" : "}, which it cannot fill");
    if (!lacks) {
        td_text_add(&text, "; it has:");
        for (int i = 0; i < TD_PHRASE_SLOTS_MAX && slots[id][i] != TD_SLOT_NONE; i++) {
            td_text_add(&text, " {");
            td_text_add(&text, slot_names[slots[id][i]]);
            td_text_add(&text, "}");
        }
    }
    return wrong(problem, td_prompt_key(id), data);
}

static enum td_result check_template(const char *at, enum td_prompt_id id,
                                     struct td_problem *problem)
{
    const char *key = td_prompt_key(id);
    bool used[TD_PHRASE_SLOTS_MAX + 1] = {false};
    int depth = 0;
    if (at[0] == '\0')
        return wrong(problem, key, "its template is empty; give the words to say");
    for (; *at != '\0'; at++) {
        depth += *at == '[' ? 1 : *at == ']' ? -1 : 0;
        if (depth < 0 || *at == '}' || (unsigned char)*at < 0x20)
            return wrong(problem, key, "a bracket is closed that was not opened, or a control "
                                       "character; write [ ] and { } in pairs on one line");
        if (*at != '{')
            continue;
        const char *end = strchr(at, '}');
        if (end == NULL)
            return wrong(problem, key, "a { is not closed; write {slot}");
        int slot = slot_of(id, at + 1, (size_t)(end - at - 1));
        if (slot < 0)
            return wrong_slot(problem, id, false, at + 1, (size_t)(end - at - 1));
        used[slot] = true;
        at = end;
    }
    if (depth != 0)
        return wrong(problem, key, "a [ is not closed; write [ ] in pairs");
    for (int i = 0; i < TD_PHRASE_SLOTS_MAX && slots[id][i] != TD_SLOT_NONE; i++)
        if (!used[i])
            return wrong_slot(problem, id, true, slot_names[slots[id][i]],
                              strlen(slot_names[slots[id][i]]));
    if (td_phrase_rig_slot(id) == TD_SLOT_HOLDER && !used[TD_PHRASE_SLOTS_MAX])
        return wrong_slot(problem, id, true, slot_names[TD_SLOT_HOLDER],
                          strlen(slot_names[TD_SLOT_HOLDER]));
    return TD_OK;
}

static enum td_result check_count(const struct td_phrase_count *count, const char *key,
                                  struct td_problem *problem)
{
    if (count->one[0] == '\0' || strstr(count->many, "{n}") == NULL)
        return wrong(problem, key, "needs words for `one`, and `many` with {n} for the number");
    return TD_OK;
}

static enum td_result check_units(const struct td_phrasebook *book, struct td_problem *problem)
{
    const struct {
        const char *key;
        const struct td_phrase_count *count;
    } rows[] = {
        {"units.mile", &book->mile},           {"units.foot", &book->foot},
        {"units.metre", &book->metre},         {"units.kilometre", &book->kilometre},
        {"units.pound", &book->pound},         {"units.kilogram", &book->kilogram},
        {"units.hill", &book->hill},
        {"units.mile_and_a_quarter", &book->mile_quarters[0]},
        {"units.mile_and_a_half", &book->mile_quarters[1]},
        {"units.mile_and_three_quarters", &book->mile_quarters[2]},
        {"units.kilometre_and_a_half", &book->kilometre_half},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        enum td_result result = check_count(rows[i].count, rows[i].key, problem);
        if (result != TD_OK)
            return result;
    }
    if (book->hill.none[0] == '\0')
        return wrong(problem, "units.hill", "needs words for `none`: no hill on board");
    if (!book->numbers.digits && strstr(book->numbers.thousands, "{n}") == NULL)
        return wrong(problem, "numbers.thousands", "needs {n} for the number of thousands");
    return TD_OK;
}

/* Every word of the list from index `from` on must be there. */
static enum td_result check_list(const char *const *words, size_t from, size_t count,
                                 const char *key, struct td_problem *problem)
{
    for (size_t i = from; i < count; i++)
        if (words[i][0] == '\0')
            return wrong(problem, key, "a word is empty; give every one of the list");
    return TD_OK;
}

static bool has_empty(const struct td_phrase_word *words, size_t count)
{
    for (size_t i = 0; i < count; i++)
        if (words[i].word[0] == '\0' || words[i].say[0] == '\0')
            return true;
    return false;
}

static enum td_result check_words(const struct td_phrasebook *book, struct td_problem *problem)
{
    const struct {
        const char *key;
        const char *const *words;
        size_t from, count;
    } rows[] = {
        {"quarter_miles", book->quarter_miles, 0, 3},
        {"sides", book->sides, TD_SIDE_LEFT, TD_PHRASE_SIDES},
        {"next", book->nexts, TD_NEXT_STOP, TD_PHRASE_NEXTS},
        {"roads", book->roads, 0, TD_PHRASE_ROADS},
        {"holders", book->holders, 0, TD_PHRASE_HOLDERS},
        {"turn_out", &book->turn_out, 0, 1},
        {"brake_check", &book->brake_check, 0, 1},
        {"chain_area", &book->chain_area, 0, 1},
        {"escape_lane", &book->escape_lane, 0, 1},
        {"numbers.to_99", book->numbers.to_99, 0, book->numbers.digits ? 0 : 100},
        {"numbers.hundreds", book->numbers.hundreds, 0, book->numbers.digits ? 0 : 9},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        enum td_result result =
            check_list(rows[i].words, rows[i].from, rows[i].count, rows[i].key, problem);
        if (result != TD_OK)
            return result;
    }
    for (size_t i = 0; i < book->speed_count; i++)
        if (book->speeds[i].words[0] == '\0')
            return wrong(problem, "speeds", "a speed has no words");
    if (has_empty(book->rig_words, book->rig_word_count))
        return wrong(problem, "rig_words", "a word is empty; give `word` and `say`");
    if (has_empty(book->stage_words, book->stage_word_count))
        return wrong(problem, "stage_words", "a word is empty; give `word` and `say`");
    if (has_empty(book->gear_words, book->gear_word_count))
        return wrong(problem, "gear_words", "a word is empty; give `word` and `say`");
    return TD_OK;
}

enum td_result td_phrasebook_check(const struct td_phrasebook *book, struct td_problem *problem)
{
    for (int id = 0; id < TD_PROMPT_IDS; id++) {
        enum td_result result = check_template(book->prompts[id], (enum td_prompt_id)id, problem);
        if (result != TD_OK)
            return result;
    }
    enum td_result result = check_units(book, problem);
    return result != TD_OK ? result : check_words(book, problem);
}
