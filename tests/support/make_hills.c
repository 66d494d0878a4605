/* SPDX-License-Identifier: GPL-3.0-or-later */
/* make_hills FOLDER: draws the demo hills (cmake target demo_hills; unit.demo_set compares). */
#include <stdio.h>

#include "support/demo_hills.h"

int main(int argc, char **argv)
{
    if (argc != 2) {
        fputs("use: make_hills FOLDER\n", stderr);
        return 2;
    }
    for (unsigned i = 0; demo_hill_id(i) != NULL; i++) {
        char path[1024];
        (void)snprintf(path, sizeof path, "%s/%s.geojson", argv[1], demo_hill_id(i));
        FILE *to = fopen(path, "w");
        if (to == NULL || !demo_hill_write(i, to) || fclose(to) != 0) {
            perror(path);
            return 1;
        }
        printf("%s\n", path);
    }
    return 0;
}
