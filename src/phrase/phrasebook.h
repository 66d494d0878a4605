/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The words of one language: a template a prompt, and the words that fill its slots.
 *
 * A template is text with
 *   {slot}  the words of an argument; td_phrase_slots lists the slots of each prompt, and each must
 *           be used
 *   [ ... ] a part that is left out whole when a slot in it has nothing to say (no side on file, no
 *           distance left); parts may lie in one another
 * A slot with nothing to say outside brackets makes the whole prompt unsayable (TD_INVALID).
 * The first letter of each sentence is made a capital; words of the local sign lose theirs inside
 * a sentence, unless they are written as a name (two capitals).
 *
 * Ownership: every pointer belongs to whoever filled the book. No string is NULL; "" where allowed
 * is said at the member. td_phrasebook_check proves a book once; td_phrase_words relies on it. */
#ifndef TD_PHRASE_PHRASEBOOK_H
#define TD_PHRASE_PHRASEBOOK_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "talkdown/phrase.h"
#include "talkdown/plan.h"
#include "talkdown/prompt.h"
#include "talkdown/text.h"

enum {
    TD_PHRASE_SPEEDS_MAX = 24,
    TD_PHRASE_RIG_WORDS_MAX = 64,
    TD_PHRASE_STAGE_WORDS_MAX = 24,
    TD_PHRASE_GEAR_WORDS_MAX = 64,
    TD_PHRASE_SIDES = TD_SIDE_RIGHT + 1,
    TD_PHRASE_NEXTS = TD_NEXT_GRADE + 1,
    TD_PHRASE_ROADS = TD_ROAD_ICE + 1,
    TD_PHRASE_GEARBOXES = TD_GEARBOX_AUTOMATIC + 1,
    TD_PHRASE_HOLDERS = TD_HOLDER_RETARDER + 1,
    TD_PHRASE_SLOTS_MAX = 3,
    TD_NUMBER_MOST = 999999,
};

/* How whole numbers are said. Without words they are left as digits for the synthesiser. */
struct td_phrase_numbers {
    bool digits;
    const char *to_99[100];   /* "zero", "one" ... "ninety nine" */
    const char *hundreds[9];  /* "one hundred" ... "nine hundred" */
    const char *thousands;    /* "{n} thousand" */
};

/* A unit after its number. "{n}" stands for the number; `many` must have it. */
struct td_phrase_count {
    const char *none; /* for 0; "" where 0 is never said */
    const char *one;
    const char *few;  /* for 2 to 4, in languages that tell them from more; "": as many */
    const char *many;
};

/* A speed that is said in its own way: 15 as "one five", since fifteen sounds like fifty. */
struct td_phrase_speed {
    int32_t speed;
    const char *words;
};

/* A word of the rig file (name of a gear, stage or load) in this language. */
struct td_phrase_word {
    const char *word, *say;
};

struct td_phrasebook {
    const char *language; /* "en-us" */
    const char *prompts[TD_PROMPT_IDS];
    struct td_phrase_numbers numbers;
    struct td_phrase_speed speeds[TD_PHRASE_SPEEDS_MAX];
    size_t speed_count;
    struct td_phrase_word rig_words[TD_PHRASE_RIG_WORDS_MAX];
    size_t rig_word_count;
    /* Stages, where their words differ from those of a gear or load of the same name. */
    struct td_phrase_word stage_words[TD_PHRASE_STAGE_WORDS_MAX];
    size_t stage_word_count;
    /* Gears, where the call for one (TD_PROMPT_GEAR) has other words than the rest. */
    struct td_phrase_word gear_words[TD_PHRASE_GEAR_WORDS_MAX];
    size_t gear_word_count;
    const char *quarter_miles[3];
    struct td_phrase_count mile, foot, metre, kilometre, pound, kilogram, hill;
    struct td_phrase_count mile_quarters[3]; /* whole miles and a quarter, a half, three quarters */
    struct td_phrase_count kilometre_half;   /* whole kilometres and a half */
    const char *escape_lane;                    /* where the hill gives no words of its own */
    const char *turn_out;                       /* likewise */
    const char *brake_check, *chain_area;       /* as places to stop at */
    const char *sides[TD_PHRASE_SIDES];         /* [TD_SIDE_UNKNOWN] is "" */
    const char *nexts[TD_PHRASE_NEXTS];         /* [TD_NEXT_UNKNOWN] is "" */
    const char *roads[TD_PHRASE_ROADS];
    const char *gearboxes[TD_PHRASE_GEARBOXES]; /* how a gear is taken; "": nothing to say */
    const char *holders[TD_PHRASE_HOLDERS];     /* what a stage is of: "engine brake" */
};

/* What a slot takes. */
enum td_slot {
    TD_SLOT_NONE = 0,
    TD_SLOT_HILLS,
    TD_SLOT_WEIGHT,       /* up to whole hundreds */
    TD_SLOT_ABOUT_WEIGHT, /* up to whole thousands: shorter */
    TD_SLOT_GRADE,
    TD_SLOT_LENGTH,
    TD_SLOT_DISTANCE,
    TD_SLOT_SIDE,
    TD_SLOT_GEAR,
    TD_SLOT_SPEED,
    TD_SLOT_STAGE,
    TD_SLOT_PLACE,
    TD_SLOT_NEXT,
    TD_SLOT_ROAD,
    TD_SLOT_GEARBOX, /* no argument: from the rig */
    TD_SLOT_HOLDER,  /* the same: what the argument's stage is of */
    TD_SLOT_LOAD,
    TD_SLOTS
};

/* Name of a slot as templates have it. */
const char *td_slot_name(enum td_slot slot);
/* Slots of a prompt in the order of its arguments, TD_SLOT_NONE after the last. */
const enum td_slot *td_phrase_slots(enum td_prompt_id id);
/* A slot beside those that the rig fills: the gearbox, which a template may use, and what the stage
 * is of, which it must: a retarder's stage would be looked for on the engine brake's lever.
 * TD_SLOT_NONE where there is none. */
enum td_slot td_phrase_rig_slot(enum td_prompt_id id);

/* Proves a book: every template there, brackets closed, every slot known and used. TD_INVALID names
 * the key of the phrase file, what is wrong and what would be right. */
TD_CHECKED enum td_result td_phrasebook_check(const struct td_phrasebook *book,
                                              struct td_problem *problem);

/* Appends a number from 0 to TD_NUMBER_MOST. False, nothing appended, when outside. */
bool td_number_words(const struct td_phrase_numbers *numbers, int32_t number,
                     struct td_text *text);
/* Appends a number with its unit. */
bool td_count_words(const struct td_phrase_numbers *numbers, const struct td_phrase_count *count,
                    int32_t number, struct td_text *text);

#endif
