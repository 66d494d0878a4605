/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A prompt with its numbers into the words of one language. Arguments outside their range give no
 * words at all: a prompt that is not said is logged and seen, one that is half right is obeyed. */
#include <string.h>

#include "phrase/phrasebook.h"

/* What filling a slot or a bracketed part came to. */
enum filled { SAID = 0, NOTHING, WRONG };

struct job {
    const struct td_phrasebook *book;
    const struct td_prompt *prompt;
    const struct td_hill *hill;
    const struct td_rig *rig;
    const enum td_slot *slots;
};

/* Ranges of what may be said. Beyond them something upstream is wrong. */
enum {
    GRADE_PERCENT_MOST = 30,
    MPH_LEAST = 5,
    MPH_MOST = 85,
    KMH_LEAST = 5,
    KMH_MOST = 100,
    MILES_MOST = 99,
    FEET_LEAST = 100,
    FEET_MOST = 5000,
    METRES_LEAST = 100,
    METRES_MOST = 900,
    MILES_COUNTED = 4, /* beyond, a countdown has whole ones only */
    LB_LEAST = 1000,
    LB_MOST = 400000,
    KG_LEAST = 500,
    KG_MOST = 200000,
    LOCAL_WORDS_MOST = 5,
};

static bool within(int32_t value, int32_t least, int32_t most)
{
    return value >= least && value <= most;
}

static enum filled said_if(bool said)
{
    return said ? SAID : WRONG;
}

/* Text from a hill or rig file: there, and one line. */
static enum filled add_own_text(const char *own, struct td_text *text)
{
    if (own == NULL || own[0] == '\0')
        return WRONG;
    for (const char *c = own; *c != '\0'; c++)
        if ((unsigned char)*c < 0x20 || *c == 0x7f)
            return WRONG;
    td_text_add(text, own);
    return SAID;
}

static bool is_capital(char c)
{
    return c >= 'A' && c <= 'Z';
}

/* Words of the local sign. What is written as on the sign, with one capital, is no name and loses
 * it: where it begins a sentence it is made one again. */
static enum filled add_sign_text(const char *own, struct td_text *text)
{
    size_t at = text->length;
    unsigned capitals = 0;
    enum filled filled = add_own_text(own, text);
    for (const char *c = own; *c != '\0'; c++)
        capitals += is_capital(*c);
    if (capitals == 1 && is_capital(own[0]) && at < text->length)
        text->data[at] = (char)(own[0] - 'A' + 'a');
    return filled;
}

static const char *word_for(const struct td_phrase_word *words, size_t count, const char *own)
{
    for (size_t i = 0; i < count; i++)
        if (strcmp(words[i].word, own) == 0)
            return words[i].say;
    return NULL;
}

/* A name of the rig file, in this language where the book has a word for it. */
static enum filled add_rig_text(const struct job *job, enum td_slot slot, const char *own,
                                struct td_text *text)
{
    const struct td_phrasebook *book = job->book;
    const char *say = NULL;
    if (slot == TD_SLOT_STAGE)
        say = word_for(book->stage_words, book->stage_word_count, own);
    if (slot == TD_SLOT_GEAR && job->prompt->id == TD_PROMPT_GEAR)
        say = word_for(book->gear_words, book->gear_word_count, own);
    if (say == NULL)
        say = word_for(book->rig_words, book->rig_word_count, own);
    return add_own_text(say != NULL ? say : own, text);
}

/* Down to what is said in two or three words. */
static int32_t round_hills(int32_t hills)
{
    int32_t step = 1;
    while (step < 100000 && hills >= step * 10)
        step *= 10;
    return hills < 100 ? hills : hills / step * step;
}

/* Up to whole steps, and to thousands from 100,000 on: never lighter than the truck is. */
static int32_t round_weight(int32_t weight, int32_t step)
{
    if (weight > 99900)
        step = 1000;
    return (weight + step - 1) / step * step;
}

static enum filled add_weight(const struct job *job, struct td_arg arg, int32_t step,
                              struct td_text *text)
{
    const struct td_phrasebook *book = job->book;
    const struct td_phrase_count *count = NULL;
    if (arg.unit == TD_UNIT_LB && within(arg.value, LB_LEAST, LB_MOST))
        count = &book->pound;
    if (arg.unit == TD_UNIT_KG && within(arg.value, KG_LEAST, KG_MOST))
        count = &book->kilogram;
    return said_if(count != NULL &&
                   td_count_words(&book->numbers, count, round_weight(arg.value, step), text));
}

/* Whole miles or kilometres and a part, as a countdown has them. */
static enum filled add_counted(const struct job *job, struct td_arg arg, struct td_text *text)
{
    const struct td_phrasebook *book = job->book;
    bool miles = arg.unit == TD_UNIT_QUARTER_MILE;
    int32_t whole = miles ? arg.value / 4 : arg.value / 1000;
    int32_t part = miles ? arg.value % 4 : arg.value % 1000;
    if (!within(whole, 1, MILES_COUNTED) || part == 0 || (!miles && part != 500))
        return WRONG;
    const struct td_phrase_count *count =
        miles ? &book->mile_quarters[part - 1] : &book->kilometre_half;
    return said_if(td_count_words(&book->numbers, count, whole, text));
}

static enum filled add_distance(const struct job *job, struct td_arg arg, struct td_text *text)
{
    const struct td_phrasebook *book = job->book;
    const struct td_phrase_count *count = NULL;
    switch (arg.unit) {
    case TD_UNIT_NONE:
        return NOTHING;
    case TD_UNIT_QUARTER_MILE:
        if (!within(arg.value, 1, 3))
            return add_counted(job, arg, text);
        td_text_add(text, book->quarter_miles[arg.value - 1]);
        return SAID;
    case TD_UNIT_MILE:
        count = within(arg.value, 1, MILES_MOST) ? &book->mile : NULL;
        break;
    case TD_UNIT_FOOT:
        count = within(arg.value, FEET_LEAST, FEET_MOST) ? &book->foot : NULL;
        break;
    case TD_UNIT_METRE:
        if (arg.value > METRES_MOST)
            return add_counted(job, arg, text);
        count = within(arg.value, METRES_LEAST, METRES_MOST) ? &book->metre : NULL;
        break;
    case TD_UNIT_KM:
        count = within(arg.value, 1, MILES_MOST) ? &book->kilometre : NULL;
        break;
    default:
        break;
    }
    return said_if(count != NULL && td_count_words(&book->numbers, count, arg.value, text));
}

static enum filled add_speed(const struct job *job, struct td_arg arg, struct td_text *text)
{
    bool right = (arg.unit == TD_UNIT_MPH && within(arg.value, MPH_LEAST, MPH_MOST)) ||
                 (arg.unit == TD_UNIT_KMH && within(arg.value, KMH_LEAST, KMH_MOST));
    if (!right)
        return WRONG;
    for (size_t i = 0; i < job->book->speed_count; i++) {
        if (job->book->speeds[i].speed == arg.value) {
            td_text_add(text, job->book->speeds[i].words);
            return SAID;
        }
    }
    return said_if(td_number_words(&job->book->numbers, arg.value, text));
}

/* Number of words in a text: runs of anything but spaces. */
static int count_words(const char *text)
{
    int words = 0;
    for (const char *c = text; *c != '\0'; c++)
        words += *c != ' ' && (c == text || c[-1] == ' ') ? 1 : 0;
    return words;
}

/* What a place is called without words of its own; NULL: not one for this prompt. */
static const char *common_words(const struct td_phrasebook *book, enum td_place_kind kind,
                                bool to_stop)
{
    switch (kind) {
    case TD_PLACE_ESCAPE_LANE:
        return to_stop ? NULL : book->escape_lane;
    case TD_PLACE_TURN_OUT:
        return to_stop ? book->turn_out : NULL;
    case TD_PLACE_BRAKE_CHECK:
        return to_stop ? book->brake_check : NULL;
    case TD_PLACE_CHAIN_AREA:
        return to_stop ? book->chain_area : NULL;
    default:
        return NULL;
    }
}

/* A closed escape lane is never called, and the side must be that of the place on file. */
static enum filled add_place(const struct job *job, struct td_arg arg, struct td_text *text)
{
    const struct td_hill *hill = job->hill;
    if (arg.unit != TD_UNIT_PLACE || hill == NULL || arg.value < 0 ||
        (size_t)arg.value >= hill->place_count)
        return WRONG;
    const struct td_place *place = &hill->places[arg.value];
    bool to_stop = job->prompt->id == TD_PROMPT_BRAKES_HEATING ||
                   job->prompt->id == TD_PROMPT_STOP_AT;
    const char *common = common_words(job->book, place->kind, to_stop);
    if (common == NULL || (place->has & TD_PLACE_CLOSED) != 0)
        return WRONG;
    for (unsigned i = 0; i < job->prompt->arg_count; i++) {
        struct td_arg other = job->prompt->args[i];
        if (other.unit == TD_UNIT_SIDE && other.value != TD_SIDE_UNKNOWN &&
            other.value != (int32_t)place->side)
            return WRONG;
    }
    bool own = place->say != NULL && place->say[0] != '\0' &&
               count_words(place->say) <= LOCAL_WORDS_MOST;
    return own ? add_sign_text(place->say, text) : add_own_text(common, text);
}

/* Index 0 of a list may mean "unknown": "" there says nothing. */
static enum filled add_listed(const char *const *words, int32_t count, struct td_arg arg,
                              enum td_unit unit, struct td_text *text)
{
    if (arg.unit != unit || !within(arg.value, 0, count - 1))
        return WRONG;
    if (words[arg.value][0] == '\0')
        return NOTHING;
    td_text_add(text, words[arg.value]);
    return SAID;
}

static enum filled add_from_rig(const struct job *job, enum td_slot slot, struct td_arg arg,
                                struct td_text *text)
{
    const struct td_rig *rig = job->rig;
    if (rig == NULL)
        return WRONG;
    if (slot == TD_SLOT_GEARBOX) {
        if (!within((int32_t)rig->gearbox, 0, TD_PHRASE_GEARBOXES - 1))
            return WRONG;
        const char *words = job->book->gearboxes[rig->gearbox];
        td_text_add(text, words);
        return words[0] != '\0' ? SAID : NOTHING;
    }
    if (slot == TD_SLOT_LOAD)
        return arg.unit == TD_UNIT_LOAD && arg.value >= 0 && (size_t)arg.value < rig->load_count
                   ? add_rig_text(job, slot, rig->loads[arg.value].name, text)
                   : WRONG;
    if (slot == TD_SLOT_GEAR)
        return arg.unit == TD_UNIT_GEAR && arg.value >= 0 && (size_t)arg.value < rig->gear_count
                   ? add_rig_text(job, slot, rig->gears[arg.value].name, text)
                   : WRONG;
    /* Stage -1, the engine brake off, has no words: no prompt says to brake less. */
    if (arg.unit != TD_UNIT_STAGE || arg.value < 0 || (size_t)arg.value >= rig->stage_count)
        return WRONG;
    const struct td_engine_brake_stage *stage = &rig->stages[arg.value];
    if (slot == TD_SLOT_STAGE)
        return add_rig_text(job, slot, stage->name, text);
    if (!within((int32_t)stage->kind, 0, TD_PHRASE_HOLDERS - 1))
        return WRONG;
    td_text_add(text, job->book->holders[stage->kind]);
    return SAID;
}

/* What these advise depends on where the truck is: there may be no turn-out ahead. */
static bool may_be_left_out(enum td_prompt_id id)
{
    return id == TD_PROMPT_BRAKES_HEATING;
}

static enum filled fill(const struct job *job, enum td_slot slot, struct td_arg arg,
                        struct td_text *text)
{
    const struct td_phrasebook *book = job->book;
    if (arg.unit == TD_UNIT_NONE && may_be_left_out(job->prompt->id))
        return NOTHING;
    switch (slot) {
    case TD_SLOT_HILLS:
        return said_if(arg.unit == TD_UNIT_COUNT && arg.value >= 0 &&
                       td_count_words(&book->numbers, &book->hill, round_hills(arg.value), text));
    case TD_SLOT_WEIGHT:
        return add_weight(job, arg, 100, text);
    case TD_SLOT_ABOUT_WEIGHT:
        return add_weight(job, arg, 1000, text);
    case TD_SLOT_GRADE:
        return said_if(arg.unit == TD_UNIT_PERCENT && within(arg.value, 1, GRADE_PERCENT_MOST) &&
                       td_number_words(&book->numbers, arg.value, text));
    case TD_SLOT_LENGTH:
    case TD_SLOT_DISTANCE:
        return add_distance(job, arg, text);
    case TD_SLOT_SIDE:
        return add_listed(book->sides, TD_PHRASE_SIDES, arg, TD_UNIT_SIDE, text);
    case TD_SLOT_SPEED:
        return add_speed(job, arg, text);
    case TD_SLOT_PLACE:
        return add_place(job, arg, text);
    case TD_SLOT_NEXT:
        return add_listed(book->nexts, TD_PHRASE_NEXTS, arg, TD_UNIT_NEXT, text);
    case TD_SLOT_ROAD:
        return add_listed(book->roads, TD_PHRASE_ROADS, arg, TD_UNIT_ROAD, text);
    case TD_SLOT_GEAR:
    case TD_SLOT_STAGE:
    case TD_SLOT_GEARBOX:
    case TD_SLOT_HOLDER:
    case TD_SLOT_LOAD:
        return add_from_rig(job, slot, arg, text);
    default:
        return WRONG;
    }
}

/* Fills the slot named; the book was checked, so it is one of the prompt's. */
static enum filled fill_named(const struct job *job, const char *name, size_t length,
                              struct td_text *text)
{
    for (unsigned i = 0; i < job->prompt->arg_count; i++) {
        const char *known = td_slot_name(job->slots[i]);
        if (strlen(known) == length && memcmp(known, name, length) == 0)
            return fill(job, job->slots[i], job->prompt->args[i], text);
    }
    return fill(job, td_phrase_rig_slot(job->prompt->id), job->prompt->args[0], text);
}

/* Writes a template up to its end or to the ] that closes the part; *at is left behind that.
 * NOTHING when a slot of this part had nothing to say; the rest of it is still looked at, since a
 * wrong argument there is wrong all the same. */
static enum filled write_part(const struct job *job, const char **at, struct td_text *text)
{
    enum filled result = SAID;
    while (**at != '\0' && **at != ']') {
        const char *from = *at;
        enum filled piece = SAID;
        if (*from == '[') {
            size_t length = text->length;
            (*at)++;
            piece = write_part(job, at, text);
            if (piece == NOTHING) { /* the part goes, what is around it stays */
                text->length = length;
                text->data[length] = '\0';
                piece = SAID;
            }
        } else if (*from == '{') {
            const char *end = strchr(from, '}');
            piece = fill_named(job, from + 1, (size_t)(end - from - 1), text);
            *at = end + 1;
        } else {
            td_text_add_char(text, *from);
            (*at)++;
        }
        if (piece == WRONG)
            return WRONG;
        if (piece == NOTHING)
            result = NOTHING;
    }
    if (**at == ']')
        (*at)++;
    return result;
}

/* Letters of ISO 8859-1 in UTF-8: 0xC3 and 0xA0 to 0xBE, but the division sign; their capitals are
 * 0x20 below. */
static void make_capital(char *c)
{
    unsigned char next = (unsigned char)c[1];
    if (*c >= 'a' && *c <= 'z')
        *c = (char)(*c - 'a' + 'A');
    else if ((unsigned char)*c == 0xC3 && next >= 0xA0 && next <= 0xBE && next != 0xB7)
        c[1] = (char)(next - 0x20);
}

/* 0xC2: the marks that open a question or a call in Spanish. */
static void capitalise(char *words)
{
    bool start = true;
    for (char *c = words; *c != '\0'; c++) {
        bool opens = (unsigned char)*c == 0xC2 && c[1] != '\0';
        if (*c == '.' || *c == '?' || *c == '!') {
            start = true;
        } else if (opens) {
            c++;
        } else if (*c != ' ') {
            if (start)
                make_capital(c);
            start = false;
        }
    }
}

enum td_result td_phrase_words(const struct td_phrasebook *book, const struct td_prompt *prompt,
                               const struct td_hill *hill, const struct td_rig *rig, char *words)
{
    if ((unsigned)prompt->id >= TD_PROMPT_IDS)
        return TD_INVALID;
    struct job job = {book, prompt, hill, rig, td_phrase_slots(prompt->id)};
    unsigned slots = 0;
    while (job.slots[slots] != TD_SLOT_NONE)
        slots++;
    if (prompt->arg_count != slots)
        return TD_INVALID;
    char data[TD_WORDS_MAX];
    struct td_text text;
    td_text_init(&text, data, sizeof data);
    const char *at = book->prompts[prompt->id];
    if (write_part(&job, &at, &text) != SAID || text.cut || text.length == 0)
        return TD_INVALID;
    capitalise(data);
    memcpy(words, data, text.length + 1);
    return TD_OK;
}
