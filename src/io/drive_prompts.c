/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Prompts of a drive log with what became of them: every event of a prompt in order, folded into
 * one record a prompt. */
#include <stdlib.h>
#include <string.h>

#include "io/drive_reader_parts.h"
#include "io/problem.h"
#include "talkdown/text.h"

struct prompt_list {
    struct td_spoken *items;
    size_t count, room;
};

static int event_kind(const char *name)
{
    for (int kind = 0; name != NULL && kind < TD_EVENT_KINDS; kind++)
        if (strcmp(td_event_name((enum td_event_kind)kind), name) == 0)
            return kind;
    return -1;
}

/* The prompt of that serial, made when it is new; NULL without memory. */
static struct td_spoken *item_of(struct prompt_list *list, uint32_t serial)
{
    for (size_t i = list->count; i > 0; i--)
        if (list->items[i - 1].prompt.serial == serial)
            return &list->items[i - 1];
    if (list->count == list->room) {
        size_t room = list->room == 0 ? 64 : 2 * list->room;
        struct td_spoken *items = realloc(list->items, room * sizeof *items);
        if (items == NULL)
            return NULL;
        list->items = items;
        list->room = room;
    }
    struct td_spoken *item = &list->items[list->count++];
    memset(item, 0, sizeof *item);
    item->hill_id = "";
    return item;
}

static const char *hill_id_of(struct td_drive_reader *reader, sqlite3_stmt *s, int column)
{
    const void *hash = sqlite3_column_blob(s, column);
    if (hash == NULL || sqlite3_column_bytes(s, column) != TD_HASH_BYTES)
        return "";
    const struct td_drive_hill_row *hill = td_drive_find_hill(reader, hash);
    return hill != NULL ? hill->id : "";
}

static enum td_result take_event(struct td_drive_reader *reader, sqlite3_stmt *s,
                                 struct prompt_list *list, struct td_problem *problem)
{
    const char *json = (const char *)sqlite3_column_text(s, 2);
    int kind = event_kind((const char *)sqlite3_column_text(s, 1));
    struct td_prompt prompt;
    struct td_problem why = {.text = "unknown kind of event"};
    if (json == NULL || kind < 0 ||
        td_prompt_from_json(json, strlen(json), &prompt, &why) != TD_OK)
        return td_problem_set(problem, TD_INVALID, reader->path, 0, "event: %s", why.text);
    struct td_spoken *item = item_of(list, prompt.serial);
    if (item == NULL)
        return td_problem_set(problem, TD_NO_MEMORY, reader->path, 0, "no memory for its prompts");
    bool is_new = item->prompt.serial == 0;
    if (is_new || kind == TD_EVENT_ISSUED) {
        item->prompt = prompt;
        item->along_m = sqlite3_column_double(s, 3);
        item->speed_mps = sqlite3_column_double(s, 4);
        item->hill_id = hill_id_of(reader, s, 5);
    }
    item->fate = (enum td_event_kind)kind;
    item->fate_ns = sqlite3_column_int64(s, 0);
    if (kind == TD_EVENT_ISSUED)
        item->issued_ns = item->fate_ns;
    if (kind == TD_EVENT_STARTED)
        item->started_ns = item->fate_ns;
    const char *words = (const char *)sqlite3_column_text(s, 6);
    (void)td_text_copy(item->words, sizeof item->words, words != NULL ? words : "");
    return TD_OK;
}

enum td_result td_drive_prompts(struct td_drive_reader *reader, struct td_spoken **prompts,
                                size_t *count, struct td_problem *problem)
{
    /* A handle is the name of the hill last offered under it. */
    static const char query[] =
        "SELECT event.now_ns, kind, json, along_m, speed_mps, (SELECT hash FROM handle"
        " WHERE handle.handle=event.handle AND handle.seq<=event.seq ORDER BY handle.seq DESC"
        " LIMIT 1), words FROM event LEFT JOIN words USING(serial)"
        " WHERE json IS NOT NULL ORDER BY event.seq, event.place";
    sqlite3_stmt *s = NULL;
    if (!td_drive_prepare(reader, query, &s))
        return td_drive_bad(reader, problem, "event");
    struct prompt_list list = {0};
    enum td_result result = TD_OK;
    int step = SQLITE_DONE;
    while (result == TD_OK && (step = sqlite3_step(s)) == SQLITE_ROW)
        result = take_event(reader, s, &list, problem);
    if (result == TD_OK && step != SQLITE_DONE)
        result = td_drive_bad(reader, problem, "event");
    (void)sqlite3_finalize(s);
    if (result != TD_OK) {
        free(list.items);
        return result;
    }
    *prompts = list.items;
    *count = list.count;
    return TD_OK;
}
