/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Phrase files: YAML into a td_phrasebook, then the book's own proof. The prompts' keys come from
 * the core's table, so that a file can neither lack one nor have one too many. */
#include "io/phrase_file.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/file.h"
#include "io/problem.h"
#include "io/yaml_load.h"
#include "phrase/phrasebook.h"

enum {
    RATE_LEAST = 80,
    RATE_MOST = 300,
    SPEECH_MS_LEAST = 100,
    SPEECH_MS_MOST = 10000,
};

struct raw_count {
    char *none, *one, *few, *many;
};

struct raw_numbers {
    char *to_99[100], *hundreds[9], *thousands;
};

struct raw_units {
    struct raw_count mile, foot, metre, kilometre, pound, kilogram, hill;
    struct raw_count mile_quarters[3], kilometre_half;
};

struct raw_speed {
    char *speed, *words;
};

struct raw_word {
    char *word, *say;
};

struct raw_sides {
    char *left, *right;
};

struct raw_next {
    char *stop, *signal, *rail_crossing, *grade;
};

struct raw_roads {
    char *dry, *wet, *ice;
};

struct raw_holders {
    char *engine_brake, *exhaust_brake, *retarder;
};

struct raw_gearboxes {
    char *manual, *automated, *automatic;
};

/* The file as libcyaml fills it. */
struct raw {
    char *language, *voice, *rate_wpm;
    char *prompts[TD_PROMPT_IDS];
    char *escape_lane;
    char *turn_out, *brake_check, *chain_area;
    struct raw_sides sides;
    struct raw_next next;
    struct raw_roads roads;
    struct raw_gearboxes gearboxes;
    struct raw_holders holders;
    struct raw_speed *speeds;
    uint32_t speeds_count;
    struct raw_word *rig_words;
    uint32_t rig_words_count;
    struct raw_word *stage_words;
    uint32_t stage_words_count;
    struct raw_word *gear_words;
    uint32_t gear_words_count;
    char *quarter_miles[3];
    struct raw_units units;
    struct raw_numbers *numbers; /* NULL: digits */
    char *speech_ms[TD_PROMPT_IDS];
};

#define TEXT(key, type, member)                                                                    \
    CYAML_FIELD_STRING_PTR(key, CYAML_FLAG_POINTER, type, member, 0, CYAML_UNLIMITED)
#define TEXT_MAYBE(key, type, member)                                                              \
    CYAML_FIELD_STRING_PTR(key, CYAML_FLAG_POINTER | CYAML_FLAG_OPTIONAL, type, member, 0,         \
                           CYAML_UNLIMITED)
#define COUNT(key, member)                                                                         \
    CYAML_FIELD_MAPPING(key, CYAML_FLAG_DEFAULT, struct raw_units, member, count_fields)

static const cyaml_schema_value_t text_value = {
    CYAML_VALUE_STRING(CYAML_FLAG_POINTER, char, 0, CYAML_UNLIMITED)};

static const cyaml_schema_field_t count_fields[] = {
    TEXT_MAYBE("none", struct raw_count, none), TEXT("one", struct raw_count, one),
    TEXT_MAYBE("few", struct raw_count, few), TEXT("many", struct raw_count, many),
    CYAML_FIELD_END};

static const cyaml_schema_field_t units_fields[] = {
    COUNT("mile", mile), COUNT("foot", foot), COUNT("metre", metre),
    COUNT("kilometre", kilometre), COUNT("pound", pound), COUNT("kilogram", kilogram),
    COUNT("hill", hill), COUNT("mile_and_a_quarter", mile_quarters[0]),
    COUNT("mile_and_a_half", mile_quarters[1]),
    COUNT("mile_and_three_quarters", mile_quarters[2]),
    COUNT("kilometre_and_a_half", kilometre_half), CYAML_FIELD_END};

static const cyaml_schema_field_t numbers_fields[] = {
    CYAML_FIELD_SEQUENCE_FIXED("to_99", CYAML_FLAG_DEFAULT, struct raw_numbers, to_99, &text_value,
                               100),
    CYAML_FIELD_SEQUENCE_FIXED("hundreds", CYAML_FLAG_DEFAULT, struct raw_numbers, hundreds,
                               &text_value, 9),
    TEXT("thousands", struct raw_numbers, thousands), CYAML_FIELD_END};

static const cyaml_schema_field_t speed_fields[] = {
    TEXT("speed", struct raw_speed, speed), TEXT("words", struct raw_speed, words),
    CYAML_FIELD_END};

static const cyaml_schema_value_t speed_value = {
    CYAML_VALUE_MAPPING(CYAML_FLAG_DEFAULT, struct raw_speed, speed_fields)};

static const cyaml_schema_field_t word_fields[] = {
    TEXT("word", struct raw_word, word), TEXT("say", struct raw_word, say), CYAML_FIELD_END};

static const cyaml_schema_value_t word_value = {
    CYAML_VALUE_MAPPING(CYAML_FLAG_DEFAULT, struct raw_word, word_fields)};

static const cyaml_schema_field_t sides_fields[] = {TEXT("left", struct raw_sides, left),
                                                    TEXT("right", struct raw_sides, right),
                                                    CYAML_FIELD_END};

static const cyaml_schema_field_t next_fields[] = {
    TEXT("stop", struct raw_next, stop), TEXT("signal", struct raw_next, signal),
    TEXT("rail_crossing", struct raw_next, rail_crossing), TEXT("grade", struct raw_next, grade),
    CYAML_FIELD_END};

static const cyaml_schema_field_t roads_fields[] = {
    TEXT("dry", struct raw_roads, dry), TEXT("wet", struct raw_roads, wet),
    TEXT("ice", struct raw_roads, ice), CYAML_FIELD_END};

static const cyaml_schema_field_t gearboxes_fields[] = {
    TEXT("manual", struct raw_gearboxes, manual),
    TEXT("automated", struct raw_gearboxes, automated),
    TEXT("automatic", struct raw_gearboxes, automatic), CYAML_FIELD_END};

static const cyaml_schema_field_t holders_fields[] = {
    TEXT("engine_brake", struct raw_holders, engine_brake),
    TEXT("exhaust_brake", struct raw_holders, exhaust_brake),
    TEXT("retarder", struct raw_holders, retarder), CYAML_FIELD_END};

enum { TOP_FIELDS = 21 };

/* libcyaml wants its tables by pointer; those that follow the core's prompt table are made here. */
struct schema {
    cyaml_schema_field_t prompts[TD_PROMPT_IDS + 1], speech_ms[TD_PROMPT_IDS + 1];
    cyaml_schema_field_t top[TOP_FIELDS + 1];
    cyaml_schema_value_t root;
};

struct td_phrase_file {
    struct schema schema; /* the loaded data is freed along it */
    struct td_yaml *yaml;
    const struct raw *raw;
    struct td_phrasebook book;
    int rate_wpm;
    int32_t speech_ms[TD_PROMPT_IDS];
};

static void make_prompt_fields(cyaml_schema_field_t *fields)
{
    const cyaml_schema_field_t text = TEXT("", struct raw, language);
    const cyaml_schema_field_t end = CYAML_FIELD_END;
    for (uint32_t id = 0; id < TD_PROMPT_IDS; id++) {
        fields[id] = text;
        fields[id].data_offset = id * (uint32_t)sizeof(char *);
        fields[id].key = td_prompt_key((enum td_prompt_id)id);
    }
    fields[TD_PROMPT_IDS] = end;
}

static void make_schema(struct schema *schema)
{
    make_prompt_fields(schema->prompts);
    make_prompt_fields(schema->speech_ms);
    const cyaml_schema_field_t top[TOP_FIELDS + 1] = {
        TEXT("language", struct raw, language),
        TEXT("voice", struct raw, voice),
        TEXT("rate_wpm", struct raw, rate_wpm),
        CYAML_FIELD_MAPPING("prompts", CYAML_FLAG_DEFAULT, struct raw, prompts, schema->prompts),
        TEXT("escape_lane", struct raw, escape_lane),
        TEXT("turn_out", struct raw, turn_out),
        TEXT("brake_check", struct raw, brake_check),
        TEXT("chain_area", struct raw, chain_area),
        CYAML_FIELD_MAPPING("sides", CYAML_FLAG_DEFAULT, struct raw, sides, sides_fields),
        CYAML_FIELD_MAPPING("next", CYAML_FLAG_DEFAULT, struct raw, next, next_fields),
        CYAML_FIELD_MAPPING("roads", CYAML_FLAG_DEFAULT, struct raw, roads, roads_fields),
        CYAML_FIELD_MAPPING("gearboxes", CYAML_FLAG_DEFAULT, struct raw, gearboxes,
                            gearboxes_fields),
        CYAML_FIELD_MAPPING("holders", CYAML_FLAG_DEFAULT, struct raw, holders, holders_fields),
        CYAML_FIELD_SEQUENCE("speeds", CYAML_FLAG_POINTER | CYAML_FLAG_OPTIONAL, struct raw,
                             speeds, &speed_value, 0, TD_PHRASE_SPEEDS_MAX),
        CYAML_FIELD_SEQUENCE("rig_words", CYAML_FLAG_POINTER | CYAML_FLAG_OPTIONAL, struct raw,
                             rig_words, &word_value, 0, TD_PHRASE_RIG_WORDS_MAX),
        CYAML_FIELD_SEQUENCE("stage_words", CYAML_FLAG_POINTER | CYAML_FLAG_OPTIONAL, struct raw,
                             stage_words, &word_value, 0, TD_PHRASE_STAGE_WORDS_MAX),
        CYAML_FIELD_SEQUENCE("gear_words", CYAML_FLAG_POINTER | CYAML_FLAG_OPTIONAL, struct raw,
                             gear_words, &word_value, 0, TD_PHRASE_GEAR_WORDS_MAX),
        CYAML_FIELD_SEQUENCE_FIXED("quarter_miles", CYAML_FLAG_DEFAULT, struct raw, quarter_miles,
                                   &text_value, 3),
        CYAML_FIELD_MAPPING("units", CYAML_FLAG_DEFAULT, struct raw, units, units_fields),
        CYAML_FIELD_MAPPING_PTR("numbers", CYAML_FLAG_POINTER | CYAML_FLAG_OPTIONAL, struct raw,
                                numbers, numbers_fields),
        CYAML_FIELD_MAPPING("speech_ms", CYAML_FLAG_DEFAULT, struct raw, speech_ms,
                            schema->speech_ms),
        CYAML_FIELD_END};
    memcpy(schema->top, top, sizeof top);
    const cyaml_schema_value_t root = {
        CYAML_VALUE_MAPPING(CYAML_FLAG_POINTER, struct raw, schema->top)};
    schema->root = root;
}

static const char *or_empty(const char *text)
{
    return text != NULL ? text : "";
}

static struct td_phrase_count count_of(const struct raw_count *raw)
{
    return (struct td_phrase_count){or_empty(raw->none), raw->one, or_empty(raw->few), raw->many};
}

static void fill_numbers(const struct raw_numbers *raw, struct td_phrase_numbers *numbers)
{
    numbers->digits = raw == NULL;
    for (size_t i = 0; i < 100; i++)
        numbers->to_99[i] = raw != NULL ? raw->to_99[i] : "";
    for (size_t i = 0; i < 9; i++)
        numbers->hundreds[i] = raw != NULL ? raw->hundreds[i] : "";
    numbers->thousands = raw != NULL ? raw->thousands : "";
}

static void fill_units(const struct raw *raw, struct td_phrasebook *book)
{
    book->mile = count_of(&raw->units.mile);
    book->foot = count_of(&raw->units.foot);
    book->metre = count_of(&raw->units.metre);
    book->kilometre = count_of(&raw->units.kilometre);
    book->pound = count_of(&raw->units.pound);
    book->kilogram = count_of(&raw->units.kilogram);
    book->hill = count_of(&raw->units.hill);
    book->kilometre_half = count_of(&raw->units.kilometre_half);
    for (size_t i = 0; i < 3; i++) {
        book->quarter_miles[i] = raw->quarter_miles[i];
        book->mile_quarters[i] = count_of(&raw->units.mile_quarters[i]);
    }
}

static void fill_words(const struct raw_word *raw, uint32_t count, struct td_phrase_word *words)
{
    for (uint32_t i = 0; i < count; i++)
        words[i] = (struct td_phrase_word){raw[i].word, raw[i].say};
}

static void fill_book(const struct raw *raw, struct td_phrasebook *book)
{
    *book = (struct td_phrasebook){
        .language = raw->language,
        .turn_out = raw->turn_out,
        .brake_check = raw->brake_check,
        .chain_area = raw->chain_area,
        .escape_lane = raw->escape_lane,
        .sides = {[TD_SIDE_UNKNOWN] = "", [TD_SIDE_LEFT] = raw->sides.left,
                  [TD_SIDE_RIGHT] = raw->sides.right},
        .nexts = {[TD_NEXT_UNKNOWN] = "", [TD_NEXT_STOP] = raw->next.stop,
                  [TD_NEXT_SIGNAL] = raw->next.signal,
                  [TD_NEXT_RAIL_CROSSING] = raw->next.rail_crossing,
                  [TD_NEXT_GRADE] = raw->next.grade},
        .roads = {[TD_ROAD_DRY] = raw->roads.dry, [TD_ROAD_WET] = raw->roads.wet,
                  [TD_ROAD_ICE] = raw->roads.ice},
        .gearboxes = {[TD_GEARBOX_MANUAL] = raw->gearboxes.manual,
                      [TD_GEARBOX_AUTOMATED] = raw->gearboxes.automated,
                      [TD_GEARBOX_AUTOMATIC] = raw->gearboxes.automatic},
        .holders = {[TD_HOLDER_ENGINE_BRAKE] = raw->holders.engine_brake,
                    [TD_HOLDER_EXHAUST_BRAKE] = raw->holders.exhaust_brake,
                    [TD_HOLDER_RETARDER] = raw->holders.retarder},
    };
    for (size_t id = 0; id < TD_PROMPT_IDS; id++)
        book->prompts[id] = raw->prompts[id];
    book->rig_word_count = raw->rig_words_count;
    fill_words(raw->rig_words, raw->rig_words_count, book->rig_words);
    book->stage_word_count = raw->stage_words_count;
    fill_words(raw->stage_words, raw->stage_words_count, book->stage_words);
    book->gear_word_count = raw->gear_words_count;
    fill_words(raw->gear_words, raw->gear_words_count, book->gear_words);
    fill_numbers(raw->numbers, &book->numbers);
    fill_units(raw, book);
}

static enum td_result read_speeds(struct td_phrase_file *file, struct td_problem *problem)
{
    const struct raw *raw = file->raw;
    file->book.speed_count = raw->speeds_count;
    for (uint32_t i = 0; i < raw->speeds_count; i++) {
        char path[TD_YAML_PATH_MAX];
        int speed = 0;
        (void)snprintf(path, sizeof path, "speeds[%u].speed", (unsigned)i);
        enum td_result result = td_yaml_whole(file->yaml, path, raw->speeds[i].speed, 1, 200,
                                              &speed, problem);
        if (result != TD_OK)
            return result;
        file->book.speeds[i] = (struct td_phrase_speed){speed, raw->speeds[i].words};
    }
    return TD_OK;
}

static enum td_result read_numbers(struct td_phrase_file *file, struct td_problem *problem)
{
    enum td_result result = td_yaml_whole(file->yaml, "rate_wpm", file->raw->rate_wpm, RATE_LEAST,
                                          RATE_MOST, &file->rate_wpm, problem);
    for (int id = 0; id < TD_PROMPT_IDS && result == TD_OK; id++) {
        char path[TD_YAML_PATH_MAX];
        int speech_ms = 0;
        (void)snprintf(path, sizeof path, "speech_ms.%s", td_prompt_key((enum td_prompt_id)id));
        result = td_yaml_whole(file->yaml, path, file->raw->speech_ms[id], SPEECH_MS_LEAST,
                               SPEECH_MS_MOST, &speech_ms, problem);
        file->speech_ms[id] = speech_ms;
    }
    return result != TD_OK ? result : read_speeds(file, problem);
}

/* The book's proof, led back to the line of what it complains of ("no_go: ..."). */
static enum td_result check_book(const struct td_phrase_file *file, const char *name,
                                 struct td_problem *problem)
{
    struct td_problem found;
    enum td_result result = td_phrasebook_check(&file->book, &found);
    if (result == TD_OK)
        return TD_OK;
    char path[TD_YAML_PATH_MAX];
    int length = (int)strcspn(found.text, ":");
    (void)snprintf(path, sizeof path, "%.*s", length, found.text);
    bool prompt = td_prompt_from_key(path) >= 0;
    (void)snprintf(path, sizeof path, "%s%.*s", prompt ? "prompts." : "", length, found.text);
    return td_problem_set(problem, result, name, td_yaml_line(file->yaml, path), "%s%s",
                          prompt ? "prompts." : "", found.text);
}

static enum td_result take(struct td_phrase_file *file, const char *name,
                           struct td_problem *problem)
{
    file->raw = td_yaml_data(file->yaml);
    if (file->raw->language[0] == '\0')
        return td_yaml_problem(file->yaml, "language", problem,
                               "it is empty; name it, en-us for one");
    if (file->raw->voice[0] == '\0')
        return td_yaml_problem(file->yaml, "voice", problem, "it is empty; name the synthesiser's "
                               "voice, en-us for one");
    fill_book(file->raw, &file->book);
    enum td_result result = read_numbers(file, problem);
    return result != TD_OK ? result : check_book(file, name, problem);
}

enum td_result td_phrase_file_parse(const char *name, const char *bytes, size_t length,
                                    struct td_phrase_file **out, struct td_problem *problem)
{
    struct td_phrase_file *file = calloc(1, sizeof *file);
    if (file == NULL)
        return td_problem_set(problem, TD_NO_MEMORY, name, 0, "no memory for the phrase file");
    make_schema(&file->schema);
    enum td_result result = td_yaml_load(name, bytes, length, &file->schema.root,
                                         "a phrase file begins with language:", &file->yaml,
                                         problem);
    if (result == TD_OK)
        result = take(file, name, problem);
    if (result != TD_OK) {
        td_phrase_file_free(&file);
        return result;
    }
    *out = file;
    return TD_OK;
}

enum td_result td_phrase_file_read(const char *path, struct td_phrase_file **out,
                                   struct td_problem *problem)
{
    char *bytes = NULL;
    size_t length = 0;
    enum td_result result = td_file_read(path, TD_YAML_BYTES_MAX, &bytes, &length, problem);
    if (result != TD_OK)
        return result;
    result = td_phrase_file_parse(path, bytes, length, out, problem);
    free(bytes);
    return result;
}

const struct td_phrasebook *td_phrase_file_book(const struct td_phrase_file *file)
{
    return &file->book;
}

const char *td_phrase_file_voice(const struct td_phrase_file *file)
{
    return file->raw->voice;
}

int td_phrase_file_rate_wpm(const struct td_phrase_file *file)
{
    return file->rate_wpm;
}

const int32_t *td_phrase_file_speech_ms(const struct td_phrase_file *file)
{
    return file->speech_ms;
}

void td_phrase_file_free(struct td_phrase_file **file)
{
    if (file == NULL || *file == NULL)
        return;
    td_yaml_free(&(*file)->yaml);
    free(*file);
    *file = NULL;
}
