/* SPDX-License-Identifier: GPL-3.0-or-later */
/* speech_lengths FILE.yaml [--write]: measures every prompt of a phrase file with its own voice and
 * prints what is long; with --write puts the table speech_ms into the file anew, a twentieth above
 * what was measured (cmake target speech_table; e2e.speech checks the table). */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/file.h"
#include "support/spoken.h"

static int fail(const struct td_problem *problem)
{
    fprintf(stderr, "%s:%d: %s\n", problem->file, problem->line, problem->text);
    return 1;
}

static void print(void *context, const struct td_prompt *prompt, const struct spoken *spoken)
{
    (void)context;
    printf("%-18s %-8s whole %.2f s, tone %.2f s, speech %.2f s: %s\n", td_prompt_key(prompt->id),
           td_category_name(prompt->category), spoken->whole_s, spoken->tone_s, spoken->speech_s,
           spoken->words);
}

/* Everything up to and with the line "speech_ms:", then the table: it ends the file. */
static int write_table(const char *path, const int32_t *longest_ms)
{
    char *bytes = NULL, *made = NULL;
    size_t length = 0, made_length = 0;
    struct td_problem problem = {.text = ""};
    if (td_file_read(path, 1 << 20, &bytes, &length, &problem) != TD_OK)
        return fail(&problem);
    const char *table = strstr(bytes, "\nspeech_ms:\n");
    FILE *to = open_memstream(&made, &made_length);
    int status = 1;
    if (table != NULL && to != NULL) {
        fprintf(to, "%.*s\nspeech_ms:\n", (int)(table - bytes), bytes);
        for (int id = 0; id < TD_PROMPT_IDS; id++)
            fprintf(to, "  %s: %d\n", td_prompt_key((enum td_prompt_id)id),
                    (int)((longest_ms[id] * 21 / 20 + 9) / 10 * 10));
        status = 0;
    }
    if (to != NULL && fclose(to) == 0 && status == 0 &&
        td_file_write(path, made, made_length, true, &problem) != TD_OK)
        status = fail(&problem);
    free(made);
    free(bytes);
    return status;
}

int main(int argc, char **argv)
{
    if (argc < 2 || argc > 3 || (argc == 3 && strcmp(argv[2], "--write") != 0)) {
        fputs("use: speech_lengths FILE.yaml [--write]\n", stderr);
        return 2;
    }
    struct td_phrase_file *file = NULL;
    struct td_synth *synth = NULL;
    struct td_problem problem = {.text = ""};
    if (td_phrase_file_read(argv[1], &file, &problem) != TD_OK)
        return fail(&problem);
    int status = 1;
    int32_t longest_ms[TD_PROMPT_IDS];
    if (td_synth_open(td_phrase_file_voice(file), td_phrase_file_rate_wpm(file), &synth,
                      &problem) != TD_OK) {
        status = fail(&problem);
    } else if (argc == 2) {
        status = spoken_each(synth, file, print, NULL) ? 0 : 1;
    } else if (spoken_longest(synth, file, longest_ms)) {
        status = write_table(argv[1], longest_ms);
    }
    td_synth_close(&synth);
    td_phrase_file_free(&file);
    return status;
}
