/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The spoken menu of one button: which command a press is. */
#include "talkdown/menu.h"

#include "talkdown/units.h"

static void give(struct td_command *commands, unsigned *count, enum td_command_kind kind,
                 int32_t value)
{
    commands[(*count)++] = (struct td_command){kind, value};
}

static bool has_values(const struct td_menu_around *around, enum td_menu_item item)
{
    const struct td_setup *setup = around->setup;
    if (item == TD_MENU_LOAD)
        return setup->rig_is_set && setup->rig.load_count > 0;
    if (item == TD_MENU_ENGINE_BRAKE)
        return setup->rig_is_set && setup->rig.stage_count > 0;
    return item == TD_MENU_ROAD;
}

static int32_t value_now(const struct td_menu_around *around, enum td_menu_item item)
{
    if (item == TD_MENU_LOAD)
        return (int32_t)around->setup->rig.load_now;
    return item == TD_MENU_ROAD ? (int32_t)around->setup->road : around->stage_most;
}

/* Round and round; the engine brake's goes from none to the strongest stage. */
static int32_t value_after(const struct td_menu_around *around, enum td_menu_item item,
                           int32_t value)
{
    if (item == TD_MENU_LOAD)
        return (value + 1) % (int32_t)around->setup->rig.load_count;
    if (item == TD_MENU_ROAD)
        return value >= TD_ROAD_ICE ? TD_ROAD_DRY : value + 1;
    return value + 1 >= (int32_t)around->setup->rig.stage_count ? -1 : value + 1;
}

static void ask(const struct td_menu *menu, struct td_command *commands, unsigned *count)
{
    static const enum td_command_kind kinds[TD_MENU_END] = {
        [TD_MENU_LOAD] = TD_COMMAND_ASK_LOAD,
        [TD_MENU_ROAD] = TD_COMMAND_ASK_ROAD,
        [TD_MENU_ENGINE_BRAKE] = TD_COMMAND_ASK_ENGINE_BRAKE,
    };
    give(commands, count, kinds[menu->item], menu->value);
}

static void close_menu(struct td_menu *menu, struct td_command *commands, unsigned *count)
{
    *menu = (struct td_menu){.item = TD_MENU_CLOSED};
    give(commands, count, TD_COMMAND_MENU_CLOSED, 0);
}

/* To the next item that this rig has, asked with its present value; closes after the last. */
static void go_on(struct td_menu *menu, const struct td_menu_around *around,
                  struct td_command *commands, unsigned *count)
{
    do
        menu->item = (enum td_menu_item)(menu->item + 1);
    while (menu->item < TD_MENU_END && !has_values(around, menu->item));
    if (menu->item == TD_MENU_END) {
        close_menu(menu, commands, count);
        return;
    }
    menu->value = value_now(around, menu->item);
    ask(menu, commands, count);
}

static void take(const struct td_menu *menu, struct td_command *commands, unsigned *count)
{
    static const enum td_command_kind kinds[TD_MENU_END] = {
        [TD_MENU_LOAD] = TD_COMMAND_LOAD,
        [TD_MENU_ROAD] = TD_COMMAND_ROAD,
        [TD_MENU_ENGINE_BRAKE] = TD_COMMAND_ENGINE_BRAKE,
    };
    give(commands, count, kinds[menu->item], menu->value);
}

unsigned td_menu_press(struct td_menu *menu, const struct td_menu_around *around,
                       enum td_press press, int64_t now_ns,
                       struct td_command commands[TD_MENU_COMMANDS_MAX])
{
    unsigned count = td_menu_tick(menu, around, now_ns, commands);
    bool open = menu->item != TD_MENU_CLOSED;
    menu->until_ns = now_ns + (int64_t)(TD_MENU_OPEN_S * 1e9);
    if (open && has_values(around, menu->item) && press == TD_PRESS_SHORT) {
        menu->value = value_after(around, menu->item, menu->value);
        ask(menu, commands, &count);
    } else if (open) {
        if (has_values(around, menu->item))
            take(menu, commands, &count);
        go_on(menu, around, commands, &count);
    } else if (press == TD_PRESS_SHORT) {
        give(commands, &count, TD_COMMAND_AGAIN, 0);
    } else if (around->speaking || !around->standing) {
        give(commands, &count, TD_COMMAND_QUIET, 0);
    } else {
        go_on(menu, around, commands, &count);
    }
    return count;
}

unsigned td_menu_tick(struct td_menu *menu, const struct td_menu_around *around, int64_t now_ns,
                      struct td_command commands[TD_MENU_COMMANDS_MAX])
{
    unsigned count = 0;
    if (menu->item != TD_MENU_CLOSED && (!around->standing || now_ns >= menu->until_ns))
        close_menu(menu, commands, &count);
    return count;
}

int64_t td_menu_next_ns(const struct td_menu *menu)
{
    return menu->item == TD_MENU_CLOSED ? INT64_MAX : menu->until_ns;
}
