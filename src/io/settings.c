/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Settings from YAML: defaults first, then what the file says. Paths that are not absolute count
 * from the folder of the settings file, so that a folder of settings can be carried about. */
#include "io/settings.h"

#include <stdlib.h>
#include <string.h>

#include "io/file.h"
#include "io/minisign.h"
#include "io/problem.h"
#include "io/yaml_load.h"
#include "talkdown/text.h"
#include "talkdown/units.h"

enum { LATENCY_LEAST_MS = 20, LATENCY_MOST_MS = 200, VOLUME_LEAST = 40, VOLUME_MOST = 100,
       VOLUME_STEPPED_LEAST = 80, 
       KEEP_DAYS_MOST = 36500, KEEP_MB_MOST = 100000000 };

enum units { UNITS_US = 0, UNITS_METRIC };
enum level { LEVEL_ERROR = 0, LEVEL_WARN, LEVEL_INFO, LEVEL_DEBUG };

/* The file as it stands; NULL is a key left out. */
struct settings_text {
    char *hills, *trusted_key, *rig, *phrases, *language, *logs, *keep_days, *keep_mb;
    char *control, *state;
    char *button, *button_key;
    char *gpsd_host, *gpsd_port, *device, *stream_latency, *ambient, *volume;
    char *louder_above;
    enum units *units;
    enum td_talk *talk;
    enum td_credit *engine_brake_credit;
    enum level *log_level;
};

static const cyaml_strval_t units_words[] = {{"us", UNITS_US}, {"metric", UNITS_METRIC}};
static const cyaml_strval_t talk_words[] = {
    {"normal", TD_TALK_NORMAL}, {"trainee", TD_TALK_TRAINEE}, {"sparse", TD_TALK_SPARSE}};
static const cyaml_strval_t credit_words[] = {
    {"none", TD_CREDIT_NONE}, {"cautious", TD_CREDIT_CAUTIOUS}, {"full", TD_CREDIT_FULL}};
static const cyaml_strval_t level_words[] = {{"error", LEVEL_ERROR},
                                             {"warn", LEVEL_WARN},
                                             {"info", LEVEL_INFO},
                                             {"debug", LEVEL_DEBUG}};

/* `room` is the size of the array the text goes to; `least` 0 where "" means something. */
#define TEXT(key, member, least, room)                                                             \
    CYAML_FIELD_STRING_PTR(key, CYAML_FLAG_POINTER | CYAML_FLAG_OPTIONAL, struct settings_text,    \
                           member, least, (room) - 1)
#define CHOICE(key, member, words)                                                                 \
    CYAML_FIELD_ENUM_PTR(key, CYAML_FLAG_POINTER | CYAML_FLAG_OPTIONAL | CYAML_FLAG_STRICT,        \
                         struct settings_text, member, words, sizeof words / sizeof words[0])

static const cyaml_schema_field_t fields[] = {
    TEXT("hills", hills, 1, TD_PATH_MAX),
    TEXT("trusted_key", trusted_key, 0, TD_PATH_MAX),
    TEXT("rig", rig, 0, TD_PATH_MAX),
    TEXT("phrases", phrases, 0, TD_PATH_MAX),
    TEXT("language", language, 1, sizeof ((struct td_settings *)0)->language),
    CHOICE("units", units, units_words),
    TEXT("logs", logs, 0, TD_PATH_MAX),
    TEXT("keep_days", keep_days, 1, 64),
    TEXT("keep_mb", keep_mb, 1, 64),
    TEXT("control", control, 1, TD_PATH_MAX),
    TEXT("state", state, 1, TD_PATH_MAX),
    TEXT("gpsd_host", gpsd_host, 1, sizeof ((struct td_settings *)0)->gpsd_host),
    TEXT("gpsd_port", gpsd_port, 1, sizeof ((struct td_settings *)0)->gpsd_port),
    TEXT("button", button, 0, TD_PATH_MAX),
    TEXT("button_key", button_key, 0, sizeof ((struct td_settings *)0)->button_key),
    TEXT("device", device, 0, sizeof ((struct td_settings *)0)->device),
    TEXT("stream_latency", stream_latency, 1, 64),
    CHOICE("talk", talk, talk_words),
    CHOICE("engine_brake_credit", engine_brake_credit, credit_words),
    TEXT("ambient", ambient, 1, 64),
    TEXT("volume", volume, 1, 64),
    TEXT("louder_above", louder_above, 0, 64),
    CHOICE("log_level", log_level, level_words),
    CYAML_FIELD_END};

static const cyaml_schema_value_t schema = {
    CYAML_VALUE_MAPPING(CYAML_FLAG_POINTER, struct settings_text, fields)};

void td_settings_default(struct td_settings *settings)
{
    *settings = (struct td_settings){
        .hills = "/var/lib/talkdown/hills",
        .trusted_key = "",
        .rig = "/etc/talkdown/rig.yaml",
        .phrases = "",
        .language = "en-us",
        .metric = false,
        .logs = "/var/lib/talkdown/drives",
        .keep_days = 365,
        .keep_mb = 8000,
        .control = "/run/talkdown/control",
        .state = "/var/lib/talkdown/state",
        .gpsd_host = "localhost",
        .gpsd_port = "2947",
        .button = "",
        .button_key = "",
        .device = "",
        .stream_latency_ms = 60,
        .talk = TD_TALK_NORMAL,
        .credit = TD_CREDIT_CAUTIOUS,
        .ambient_c = td_c_from_f(90), /* as the reference model's */
        .volume_percent = 100,
        .log_level = "info",
    };
}

struct making {
    const struct td_yaml *yaml;
    const struct settings_text *text;
    struct td_settings *settings;
    const char *folder; /* with its slash; "" for none */
    struct td_problem *problem;
};

static enum td_result take_path(const struct making *making, const char *key, const char *text,
                                char *to)
{
    if (text == NULL)
        return TD_OK;
    bool relative = text[0] != '\0' && text[0] != '/' &&
                    !(strcmp(key, "trusted_key") == 0 && td_trust_is_key(text));
    struct td_text path;
    td_text_init(&path, to, TD_PATH_MAX);
    td_text_add(&path, relative ? making->folder : "");
    td_text_add(&path, text);
    if (path.cut)
        return td_yaml_problem(making->yaml, key, making->problem,
                               "is longer than %d bytes with its folder; shorten it",
                               TD_PATH_MAX - 1);
    return TD_OK;
}

static enum td_result take_paths(const struct making *making)
{
    const struct settings_text *text = making->text;
    struct td_settings *settings = making->settings;
    const struct {
        const char *key, *text;
        char *to;
    } paths[] = {
        {"hills", text->hills, settings->hills},
        {"trusted_key", text->trusted_key, settings->trusted_key},
        {"rig", text->rig, settings->rig},
        {"phrases", text->phrases, settings->phrases}, {"logs", text->logs, settings->logs},
        {"control", text->control, settings->control}, {"state", text->state, settings->state},
        {"button", text->button, settings->button},
    };
    for (size_t i = 0; i < sizeof paths / sizeof paths[0]; i++) {
        enum td_result result = take_path(making, paths[i].key, paths[i].text, paths[i].to);
        if (result != TD_OK)
            return result;
    }
    return TD_OK;
}

static void take_words(const struct making *making)
{
    const struct settings_text *text = making->text;
    struct td_settings *settings = making->settings;
    const struct {
        const char *text;
        char *to;
        size_t size;
    } words[] = {
        {text->language, settings->language, sizeof settings->language},
        {text->gpsd_host, settings->gpsd_host, sizeof settings->gpsd_host},
        {text->gpsd_port, settings->gpsd_port, sizeof settings->gpsd_port},
        {text->button_key, settings->button_key, sizeof settings->button_key},
        {text->device, settings->device, sizeof settings->device},
        {text->log_level != NULL ? level_words[*text->log_level].str : NULL, settings->log_level,
         sizeof settings->log_level},
    };
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        if (words[i].text != NULL)
            (void)td_text_copy(words[i].to, words[i].size, words[i].text);
    if (text->units != NULL)
        settings->metric = *text->units == UNITS_METRIC;
    if (text->talk != NULL)
        settings->talk = *text->talk;
    if (text->engine_brake_credit != NULL)
        settings->credit = *text->engine_brake_credit;
}

/* A quantity within a range; NULL keeps *value. */
static enum td_result take_quantity(const struct making *making, const char *key, const char *text,
                                    enum td_dimension dimension, double least, double most,
                                    const char *range, double *value)
{
    if (text == NULL)
        return TD_OK;
    double read = 0;
    enum td_result result =
        td_yaml_quantity(making->yaml, key, text, dimension, &read, making->problem);
    if (result != TD_OK)
        return result;
    if (read < least || read > most)
        return td_yaml_problem(making->yaml, key, making->problem,
                               "\"%s\" is out of range; %s is right", text, range);
    *value = read;
    return TD_OK;
}

/* Below that speed prompts have half the volume, and never less than the floor. */
static enum td_result take_louder_above(const struct making *making)
{
    const char *text = making->text->louder_above;
    struct td_settings *settings = making->settings;
    if (text == NULL || text[0] == '\0')
        return TD_OK;
    enum td_result result =
        take_quantity(making, "louder_above", text, TD_DIM_SPEED, 1.0, 40.0, "3 mph to 89 mph",
                      &settings->louder_above_mps);
    if (result == TD_OK && settings->volume_percent < VOLUME_STEPPED_LEAST)
        return td_yaml_problem(making->yaml, "louder_above", making->problem,
                               "needs a volume of 80%% to 100%%, since below that speed it is half "
                               "of it; the volume is %d%%",
                               settings->volume_percent);
    return result;
}

static enum td_result take_numbers(const struct making *making)
{
    const struct settings_text *text = making->text;
    struct td_settings *settings = making->settings;
    int port = 0;
    double latency_s = settings->stream_latency_ms / 1000.0;
    double volume_ratio = settings->volume_percent / 100.0;
    enum td_result result = TD_OK;
    if (text->gpsd_port != NULL)
        result = td_yaml_whole(making->yaml, "gpsd_port", text->gpsd_port, 1, 65535, &port,
                               making->problem);
    if (result == TD_OK && text->keep_days != NULL)
        result = td_yaml_whole(making->yaml, "keep_days", text->keep_days, 0, KEEP_DAYS_MOST,
                               &settings->keep_days, making->problem);
    if (result == TD_OK && text->keep_mb != NULL)
        result = td_yaml_whole(making->yaml, "keep_mb", text->keep_mb, 0, KEEP_MB_MOST,
                               &settings->keep_mb, making->problem);
    if (result == TD_OK)
        result = take_quantity(making, "stream_latency", text->stream_latency, TD_DIM_TIME,
                               LATENCY_LEAST_MS / 1000.0, LATENCY_MOST_MS / 1000.0,
                               "20 ms to 200 ms", &latency_s);
    if (result == TD_OK)
        result = take_quantity(making, "volume", text->volume, TD_DIM_RATIO, VOLUME_LEAST / 100.0,
                               VOLUME_MOST / 100.0, "40% to 100%", &volume_ratio);
    if (result == TD_OK)
        result = take_quantity(making, "ambient", text->ambient, TD_DIM_TEMPERATURE, -60, 60,
                               "-60 C to 60 C (-76 F to 140 F)", &settings->ambient_c);
    settings->stream_latency_ms = (int)(latency_s * 1000.0 + 0.5);
    settings->volume_percent = (int)(volume_ratio * 100.0 + 0.5);
    return result == TD_OK ? take_louder_above(making) : result;
}

static enum td_result parse_in_folder(const char *name, const char *folder, const char *bytes,
                                      size_t length, struct td_settings *settings,
                                      struct td_problem *problem)
{
    struct td_yaml *yaml = NULL;
    enum td_result result =
        td_yaml_load(name, bytes, length, &schema,
                     "leave the file out for the defaults, or write a key as hills:", &yaml,
                     problem);
    if (result != TD_OK)
        return result;
    struct td_settings made;
    td_settings_default(&made);
    const struct making making = {yaml, td_yaml_data(yaml), &made, folder, problem};
    take_words(&making);
    result = take_paths(&making);
    if (result == TD_OK)
        result = take_numbers(&making);
    if (result == TD_OK)
        *settings = made;
    td_yaml_free(&yaml);
    return result;
}

enum td_result td_settings_parse(const char *name, const char *bytes, size_t length,
                                 struct td_settings *settings, struct td_problem *problem)
{
    return parse_in_folder(name, "", bytes, length, settings, problem);
}

enum td_result td_settings_read(const char *path, struct td_settings *settings,
                                struct td_problem *problem)
{
    char folder[TD_PATH_MAX] = "";
    const char *slash = strrchr(path, '/');
    if (slash != NULL && (size_t)(slash - path) + 2 > sizeof folder)
        return td_problem_set(problem, TD_INVALID, path, 0, "is too long a path; shorten it");
    if (slash != NULL)
        memcpy(folder, path, (size_t)(slash - path) + 1);
    char *bytes = NULL;
    size_t length = 0;
    enum td_result result = td_file_read(path, TD_YAML_BYTES_MAX, &bytes, &length, problem);
    if (result != TD_OK)
        return result;
    result = parse_in_folder(path, folder, bytes, length, settings, problem);
    free(bytes);
    return result;
}
