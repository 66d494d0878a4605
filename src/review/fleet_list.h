/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The drive logs below a folder, by name. */
#ifndef TD_REVIEW_FLEET_LIST_H
#define TD_REVIEW_FLEET_LIST_H

#include <stddef.h>

#include "talkdown/result.h"

struct td_fleet_list {
    char **paths; /* the folder's name is the first `skip` bytes of each */
    size_t count, room, skip;
};

/* As td_fleet_read has it. Free with td_fleet_list_free, whatever is returned. */
TD_CHECKED enum td_result td_fleet_list(const char *folder, struct td_fleet_list *list,
                                        struct td_problem *problem);
void td_fleet_list_free(struct td_fleet_list *list);

#endif
