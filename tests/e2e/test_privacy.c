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

#define HILL TD_SOURCE_DIR "/profiles/hills/lunnet-slope.geojson"
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

int main(void)
{
    (void)umask(0);
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(outputs_of_a_rehearsal_are_private),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
