/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A phrasebook as a JSGF grammar: a template's optional part is one there too, a slot becomes a
 * rule. Rivals differ from what is said by a word or a number, so that mishearing has somewhere to
 * go. */
#include "support/recognise.h"

#include <ctype.h>
#include <string.h>

/* Never said; each close to something that is. */
static const char *const rivals[] = {
    "slow to <speed> after the grade",
    "slow to <speed>",
    "push to <speed>",
    "steeper ahead",
    "sharp left <speed>",
    "sharp right <speed>",
    "turn out <distance> <side>",
    "chain area <distance>",
    "work zone <distance>",
    "brake check area passed",
    "engine brake off",
    "take the <place> <side>",
    "more escape lanes",
    "grade begins <distance>",
    "not the bottom steep again",
    "load confirmed <weight>",
    "too late for this grade",
    "<grade> percent upgrade <length>",
    "<speed> or faster",
    "start in <gear>",
    "hill file missing here",
    "hill file changed go by the signs",
};

/* Adds text as grammar words: lower case, without punctuation, slots as rules. */
static void add_plain(struct td_text *text, const char *template)
{
    for (const char *c = template; *c != '\0'; c++) {
        if (*c == '{' || *c == '}')
            td_text_add(text, *c == '{' ? " <" : "> ");
        else if (*c == '[' || *c == ']')
            td_text_add(text, *c == '[' ? " [ " : " ] ");
        else if (isalnum((unsigned char)*c) || *c == ' ' || *c == '_' || *c == '\'')
            td_text_add_char(text, (char)tolower((unsigned char)*c));
        else
            td_text_add_char(text, ' ');
    }
}

static void begin_rule(struct td_text *text, const char *name)
{
    td_text_add(text, "<");
    td_text_add(text, name);
    td_text_add(text, "> = ");
}

/* Alternatives from a list; empty ones are passed over. */
static void add_list(struct td_text *text, const char *const *words, size_t count, bool *first)
{
    for (size_t i = 0; i < count; i++) {
        if (words[i][0] == '\0')
            continue;
        td_text_add(text, *first ? "" : " | ");
        add_plain(text, words[i]);
        *first = false;
    }
}

static void list_rule(struct td_text *text, const char *name, const char *const *words,
                      size_t count)
{
    bool first = true;
    begin_rule(text, name);
    add_list(text, words, count, &first);
    td_text_add(text, ";\n");
}

/* A unit after any number of a rule: `{n} miles` with <n99>. */
static void add_unit(struct td_text *text, const struct td_phrase_count *count, const char *rule)
{
    const char *mark = strstr(count->many, "{n}");
    td_text_add(text, " | <");
    td_text_add(text, rule);
    td_text_add(text, ">");
    add_plain(text, mark != NULL ? mark + 3 : count->many);
    td_text_add(text, " | ");
    add_plain(text, count->one);
}

static void add_speeds(struct td_text *text, const struct td_phrasebook *book)
{
    begin_rule(text, "speed");
    td_text_add(text, "<n99>");
    for (size_t i = 0; i < book->speed_count; i++) {
        td_text_add(text, " | ");
        add_plain(text, book->speeds[i].words);
    }
    td_text_add(text, ";\n");
}

/* Rules are copied wherever they are named, so numbers go by tens and ones, not by a list of 99. */
static void add_numbers(struct td_text *text, const struct td_phrasebook *book)
{
    const char *tens[8];
    for (size_t i = 0; i < 8; i++)
        tens[i] = book->numbers.to_99[(i + 2) * 10];
    list_rule(text, "ones", &book->numbers.to_99[1], 9);
    list_rule(text, "few", &book->numbers.to_99[1], 4);
    list_rule(text, "n19", &book->numbers.to_99[1], 19);
    list_rule(text, "tens", tens, 8);
    list_rule(text, "hundreds", book->numbers.hundreds, 9);
    td_text_add(text, "<n99> = <n19> | <tens> [ <ones> ];\n<thousands> = <n99> ");
    add_plain(text, strstr(book->numbers.thousands, "{n}") + 3);
    td_text_add(text, ";\n<grade> = <n19>;\n");
    add_speeds(text, book);
}

static void add_counts(struct td_text *text, const struct td_phrasebook *book)
{
    bool first = true;
    begin_rule(text, "distance");
    add_list(text, book->quarter_miles, 3, &first);
    add_unit(text, &book->mile, "n19");
    add_unit(text, &book->kilometre, "n19");
    add_unit(text, &book->metre, "hundreds");
    for (size_t i = 0; i < 3; i++)
        add_unit(text, &book->mile_quarters[i], "few");
    add_unit(text, &book->kilometre_half, "few");
    td_text_add(text, " | five hundred feet | one thousand feet;\n"
                      "<length> = <n99> miles | <n99> kilometers | <distance>;\n"
                      "<weight> = <thousands> [ <hundreds> ] <mass> | "
                      "one hundred [ <n99> ] thousand <mass>;\n"
                      "<mass> = pounds | kilograms;\n<about_weight> = <weight>;\n");
    begin_rule(text, "hills");
    add_plain(text, book->hill.none);
    add_unit(text, &book->hill, "n99");
    add_unit(text, &book->hill, "hundreds");
    add_unit(text, &book->hill, "thousands");
    td_text_add(text, " | one hundred thousand hills;\n");
}

static void add_words(struct td_text *text, const struct td_phrasebook *book)
{
    static const char *const gears[] = {"low",     "first", "second", "third", "fourth", "fifth",
                                        "sixth",   "seventh", "eighth", "ninth", "tenth",
                                        "eleventh", "high", "one", "two", "three", "four",
                                        "five", "six", "seven", "eight", "nine", "ten", "eleven"};
    static const char *const stages[] = {"low", "medium", "high", "full", "on",
                                         "one", "two",    "three", "four"};
    static const char *const loads[] = {"bobtail", "empty", "half", "full"};
    const char *const places[] = {book->escape_lane, book->turn_out, book->brake_check,
                                  book->chain_area, "runaway truck ramp",
                                  "truck escape ramp", "runaway lane"};
    list_rule(text, "gear", gears, sizeof gears / sizeof gears[0]);
    list_rule(text, "stage", stages, sizeof stages / sizeof stages[0]);
    list_rule(text, "load", loads, sizeof loads / sizeof loads[0]);
    list_rule(text, "place", places, sizeof places / sizeof places[0]);
    list_rule(text, "side", book->sides, TD_PHRASE_SIDES);
    list_rule(text, "next", book->nexts, TD_PHRASE_NEXTS);
    list_rule(text, "road", book->roads, TD_PHRASE_ROADS);
    list_rule(text, "gearbox", book->gearboxes, TD_PHRASE_GEARBOXES);
    list_rule(text, "holder", book->holders, TD_PHRASE_HOLDERS);
}

bool recognise_grammar(const struct td_phrasebook *book, char *grammar, size_t size)
{
    struct td_text text;
    bool first = true;
    td_text_init(&text, grammar, size);
    td_text_add(&text, "#JSGF V1.0;\ngrammar said;\npublic <said> = <prompt>;\n<prompt> = ");
    add_list(&text, book->prompts, TD_PROMPT_IDS, &first);
    add_list(&text, rivals, sizeof rivals / sizeof rivals[0], &first);
    td_text_add(&text, ";\n");
    add_numbers(&text, book);
    add_counts(&text, book);
    add_words(&text, book);
    return !text.cut;
}
