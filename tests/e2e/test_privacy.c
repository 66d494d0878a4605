/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A drive is personal: whatever tells of one is readable by its owner and group only, whatever the
 * umask of whoever made it. */
#include <dirent.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "support/cm.h"
#include "support/tool_run.h"
#include "talkdown/text.h"

#define HILL TD_SOURCE_DIR "/profiles/hills/vessarin-drop.geojson"
#define RIG  TD_SOURCE_DIR "/profiles/rigs/five-axle.yaml"

/* Checks every file of the folder; returns how many there are. */
static unsigned check_folder(const char *folder)
{
    DIR *dir = opendir(folder);
    assert_non_null(dir);
    unsigned files = 0;
    for (struct dirent *entry = readdir(dir); entry != NULL; entry = readdir(dir)) {
        char path[512];
        struct stat about;
        (void)snprintf(path, sizeof path, "%s/%s", folder, entry->d_name);
        assert_int_equal(stat(path, &about), 0);
        if (!S_ISREG(about.st_mode))
            continue;
        if ((about.st_mode & 07777) != 0640)
            fail_msg("%s has mode %04o", path, (unsigned)(about.st_mode & 07777));
        files++;
    }
    (void)closedir(dir);
    return files;
}

static void outputs_of_a_rehearsal_are_private(void **state)
{
    (void)state;
    char folder[64], arguments[512];
    (void)snprintf(folder, sizeof folder, "%s", tool_folder());
    (void)snprintf(arguments, sizeof arguments, "rehearse " HILL " --rig " RIG " --out %s", folder);
    struct tool_run run = tool_run(arguments);
    assert_int_equal(run.exit_code, 0);
    assert_int_equal(check_folder(folder), 4); /* drive.db, prompts.txt, voice.wav, review.html */
    tool_run_free(&run);
}

/* Whatever is made of a drive tells of it too. An @ stands for the folder. */
static void what_is_made_of_a_drive_is_private(void **state)
{
    (void)state;
    static const char *const makes[] = {
        "rehearse " HILL " --rig " RIG " --no-sound --out @/run",
        "review @/run/drive.db --out @/page.html --no-sound",
        "review --table @ --out @/table.txt",
        "review --table @ --csv --out @/table.csv",
        "review @/run/drive.db --export gpx --out @/drive.gpx",
        "review @/run/drive.db --export geojson --out @/drive.geojson",
        "review @/run/drive.db --export csv --out @/drive.csv",
        "review --mark @/run/drive.db 1 right",
        "review --mark @/run/drive.db 1 late",
        "review @/run/drive.db --export csv --anonymous --force --out @/drive.csv",
        "rehearse " TD_SOURCE_DIR "/profiles/hills/ombral-pass.geojson --rig " RIG
        " --no-sound --drill late-brake-check --out @/drill",
    };
    char folder[64], inner[80];
    (void)snprintf(folder, sizeof folder, "%s", tool_folder());
    (void)snprintf(inner, sizeof inner, "%s/run", folder);
    for (size_t i = 0; i < sizeof makes / sizeof makes[0]; i++) {
        char arguments[512] = "";
        struct td_text text;
        td_text_init(&text, arguments, sizeof arguments);
        for (const char *at = makes[i]; *at != '\0'; at++)
            td_text_add_span(&text, *at == '@' ? folder : at, *at == '@' ? strlen(folder) : 1);
        struct tool_run run = tool_run(arguments);
        if (run.exit_code != 0)
            fail_msg("%s: %s", arguments, run.err);
        tool_run_free(&run);
    }
    assert_int_equal(check_folder(folder), 6);
    assert_int_equal(check_folder(inner), 4); /* the log, prompts, page and marks */
    (void)snprintf(inner, sizeof inner, "%s/drill", folder);
    assert_int_equal(check_folder(inner), 4); /* the log, prompts, page and sheet */
}

int main(void)
{
    (void)umask(0);
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(outputs_of_a_rehearsal_are_private),
        cmocka_unit_test(what_is_made_of_a_drive_is_private),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
