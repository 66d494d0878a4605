/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One button and a spoken menu.
 *
 * Rolling, and at a standstill while the menu is closed: a short press says again, a long one
 * quiets what is being said. A long press at a standstill in silence opens the menu: load, then
 * road, then engine brake, each asked with its present value. A short press asks for the next
 * value, a long one takes the value asked and goes on to the next. The menu closes after the last,
 * when nobody pressed for TD_MENU_OPEN_S, and at once when the truck rolls; what was asked and not
 * taken then stays as it was.
 *
 * The menu turns presses into commands of the coach, so that a drive log holds what they did and
 * the coach has one way of being told. Pure; the caller owns everything. */
#ifndef TD_MENU_H
#define TD_MENU_H

#include <stdbool.h>
#include <stdint.h>

#include "talkdown/coach.h"

#define TD_MENU_OPEN_S 20.0

enum td_press { TD_PRESS_SHORT = 0, TD_PRESS_LONG };

enum td_menu_item { TD_MENU_CLOSED = 0, TD_MENU_LOAD, TD_MENU_ROAD, TD_MENU_ENGINE_BRAKE,
                    TD_MENU_END };

struct td_menu {
    enum td_menu_item item;
    int32_t value;    /* asked last: index of the load, enum td_road, stage or -1 */
    int64_t until_ns; /* closes then */
};

/* What holds around the button at the press. */
struct td_menu_around {
    const struct td_setup *setup; /* as it is now */
    int32_t stage_most;           /* engine brake counted on: index, -1 none */
    bool standing;                /* known to stand */
    bool speaking;                /* a prompt is in the voice's hands */
};

/* Most commands that one press or tick gives: what was taken, and what is asked next. */
enum { TD_MENU_COMMANDS_MAX = 2 };

/* The commands of a press at now_ns, in order; returns how many. A zeroed menu is a closed one. */
unsigned td_menu_press(struct td_menu *menu, const struct td_menu_around *around,
                       enum td_press press, int64_t now_ns,
                       struct td_command commands[TD_MENU_COMMANDS_MAX]);

/* Closes what motion or time closes; returns how many commands. */
unsigned td_menu_tick(struct td_menu *menu, const struct td_menu_around *around, int64_t now_ns,
                      struct td_command commands[TD_MENU_COMMANDS_MAX]);

/* When td_menu_tick would act by time alone; INT64_MAX while it is closed. */
int64_t td_menu_next_ns(const struct td_menu *menu);

#endif
