/* SPDX-License-Identifier: GPL-3.0-or-later */
/* policy_table PROFILES: prints the table of hills and rigs that docs/physics.md holds. */
#include "support/policy_table.h"

int main(int argc, char **argv)
{
    if (argc != 2) {
        fputs("use: policy_table PROFILES\n", stderr);
        return 2;
    }
    return policy_table_write(argv[1], stdout) ? 0 : 1;
}
