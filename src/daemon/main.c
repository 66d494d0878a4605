/* SPDX-License-Identifier: GPL-3.0-or-later */
/* talkdownd: options, settings, then the daemon; or the voice process, when it was executed as
 * that. Exit codes: 0 stopped as asked, 2 usage, settings or anything else that keeps it from
 * starting. */
#include <stdio.h>
#include <string.h>

#include "daemon/daemon.h"
#include "daemon/journal.h"
#include "io/problem.h"
#include "talkdown/text.h"
#include "voice/voice.h"

enum { EXIT_DONE = 0, EXIT_ERROR = 2 };

static const char usage[] =
    "usage: talkdownd [--settings FILE] [--check] [--log-level error|warn|info|debug]\n"
    "                 [--foreground] [--version] [--help]\n"
    "\n"
    "Talks the driver of a heavy truck down mountain grades: positions from gpsd, hills and rig\n"
    "as the settings say, speech on the sound device. Runs in the foreground until SIGTERM;\n"
    "SIGHUP looks at the hills anew. --check only looks at the settings and all they name.\n";

struct line {
    const char *settings, *log_level;
    bool check, help, version;
};

static bool take_word(int argc, char **argv, int *at, const char *name, const char **word)
{
    size_t length = strlen(name);
    const char *arg = argv[*at];
    if (strncmp(arg, name, length) != 0)
        return false;
    if (arg[length] == '=') {
        *word = arg + length + 1;
        return true;
    }
    if (arg[length] != '\0' || *at + 1 >= argc)
        return false;
    (*at)++;
    *word = argv[*at];
    return true;
}

static bool read_line(int argc, char **argv, struct line *line)
{
    for (int i = 1; i < argc; i++) {
        if (take_word(argc, argv, &i, "--settings", &line->settings) ||
            take_word(argc, argv, &i, "--log-level", &line->log_level))
            continue;
        if (strcmp(argv[i], "--check") == 0)
            line->check = true;
        else if (strcmp(argv[i], "--help") == 0)
            line->help = true;
        else if (strcmp(argv[i], "--version") == 0)
            line->version = true;
        /* It always runs in the foreground; the option is for those who want to say so. */
        else if (strcmp(argv[i], "--foreground") != 0)
            return false;
    }
    return true;
}

static int fail(const struct td_problem *problem)
{
    char words[TD_PROBLEM_FILE_MAX + TD_PROBLEM_TEXT_MAX + 32];
    (void)fprintf(stderr, "talkdownd: %s\n", td_problem_line(problem, words, sizeof words));
    return EXIT_ERROR;
}

static enum td_result prepare(const struct line *line, struct td_daemon_options *options,
                              struct td_problem *problem)
{
    td_settings_default(&options->settings);
    enum td_level level = TD_LEVEL_INFO;
    if (line->settings != NULL) {
        enum td_result result = td_settings_read(line->settings, &options->settings, problem);
        if (result != TD_OK)
            return result;
    }
    const char *word = line->log_level != NULL ? line->log_level : options->settings.log_level;
    if (!td_level_from_word(word, &level))
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "log level \"%s\"; error, warn, info or debug", word);
    td_journal_level(level);
    return TD_OK;
}

int main(int argc, char **argv)
{
    struct td_voice_options voice;
    int fd;
    if (td_voice_child_args(argc, argv, &voice, &fd))
        return td_voice_child(fd, &voice);
    struct line line = {0};
    if (!read_line(argc, argv, &line)) {
        (void)fputs(usage, stderr);
        return EXIT_ERROR;
    }
    if (line.help || line.version) {
        (void)fputs(line.help ? usage : "talkdownd " TD_VERSION "\n", stdout);
        return EXIT_DONE;
    }
    static struct td_daemon_options options;
    options.version = TD_VERSION;
    options.program = "/proc/self/exe";
    struct td_problem problem = {0};
    if (prepare(&line, &options, &problem) != TD_OK)
        return fail(&problem);
    enum td_result result = line.check ? td_daemon_check(&options, &problem)
                                       : td_daemon_run(&options, &problem);
    if (result != TD_OK)
        return fail(&problem);
    return EXIT_DONE;
}
