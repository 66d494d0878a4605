/* SPDX-License-Identifier: GPL-3.0-or-later */
/* recognise WAV: prints the words of each stretch of speech in a recording.
 * recognise WAV --expect PROMPTS: compares the recording with a list of prompts (prompts.txt of
 * rehearse and replay: time, category, fate, key, words). The recording's first sound is taken as
 * the first spoken prompt; the others must lie where their times say. Exit 0 when at most a tenth
 * of the words is misheard and the control fails as it must: the same sound against the
 * neighbouring prompt's words. 1 when not, 77 when there is no recogniser. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <sndfile.h>

#include "io/phrase_file.h"
#include "support/recognise.h"

#define GAP_S   0.6  /* longer than the pause at a full stop */
#define EARLY_S 0.15 /* prompts.txt has tenths of a second */

enum { PROMPTS_MOST = 512, WORDS_WRONG_MOST_PCT = 10, CONTROL_WRONG_LEAST_PCT = 50 };

struct recording {
    int16_t *samples;
    size_t count;
};

struct expected {
    double at_s;
    char words[RECOGNISE_WORDS_MAX]; /* plain */
};

struct score {
    size_t words, errors, prompts, wrong, control_words, control_errors;
};

static bool read_recording(const char *path, struct recording *recording)
{
    SF_INFO info = {.format = 0};
    SNDFILE *file = sf_open(path, SFM_READ, &info);
    if (file == NULL) {
        fprintf(stderr, "%s: %s\n", path, sf_strerror(NULL));
        return false;
    }
    bool right = info.channels == 1 && info.samplerate == RECOGNISE_RATE_HZ && info.frames > 0;
    if (!right)
        fprintf(stderr, "%s: %d channels at %d Hz, %ld frames; mono at %d Hz would be right\n",
                path, info.channels, info.samplerate, (long)info.frames, RECOGNISE_RATE_HZ);
    recording->samples = right ? calloc((size_t)info.frames, sizeof *recording->samples) : NULL;
    if (recording->samples != NULL)
        recording->count = (size_t)sf_readf_short(file, recording->samples, info.frames);
    (void)sf_close(file);
    return recording->samples != NULL && recording->count > 0;
}

/* Spoken prompts of the list; their number, 0 with a message when there are none. */
static size_t read_expected(const char *path, struct expected *expected)
{
    FILE *file = fopen(path, "r");
    char line[1024];
    size_t count = 0;
    if (file == NULL) {
        perror(path);
        return 0;
    }
    while (count < PROMPTS_MOST && fgets(line, sizeof line, file) != NULL) {
        char fate[16], words[512];
        if (sscanf(line, " %lf s %*15s %15s %*31s %511[^\n]", &expected[count].at_s, fate,
                   words) != 3 || strcmp(fate, "spoken") != 0)
            continue;
        recognise_plain(words, expected[count].words);
        count++;
    }
    (void)fclose(file);
    if (count == 0)
        fprintf(stderr, "%s: no spoken prompt in it\n", path);
    return count;
}

static void print_stretches(struct recogniser *recogniser, const struct recording *recording)
{
    static struct stretch found[PROMPTS_MOST];
    size_t count = recognise_stretches(recording->samples, recording->count, GAP_S, found,
                                       PROMPTS_MOST);
    for (size_t i = 0; i < count && i < PROMPTS_MOST; i++) {
        char heard[RECOGNISE_WORDS_MAX];
        recogniser_words(recogniser, recording->samples + found[i].from,
                         found[i].to - found[i].from, heard);
        printf("%8.1f s  %s\n", (double)found[i].from / RECOGNISE_RATE_HZ, heard);
    }
}

static size_t sample_at(const struct recording *recording, double at_s)
{
    double sample = at_s * RECOGNISE_RATE_HZ;
    if (sample <= 0)
        return 0;
    return sample < (double)recording->count ? (size_t)sample : recording->count;
}

static void add_to_score(struct score *score, const struct expected *expected, size_t index,
                         size_t count, const char *heard)
{
    size_t words = 0, errors = recognise_errors(expected[index].words, heard, &words);
    score->words += words;
    score->errors += errors;
    score->prompts++;
    score->wrong += errors > 0 ? 1 : 0;
    const char *other = expected[(index + 1) % count].words;
    if (strcmp(other, expected[index].words) != 0) {
        score->control_errors += recognise_errors(other, heard, &words);
        score->control_words += words;
    }
    printf("%-5s %8.1f s  %s%s%s\n", errors == 0 ? "ok" : "WRONG", expected[index].at_s,
           expected[index].words, errors == 0 ? "" : "  | heard: ", errors == 0 ? "" : heard);
}

/* Cuts the recording where the prompts begin and listens to each piece. */
static bool compare(struct recogniser *recogniser, const struct recording *recording,
                    const struct expected *expected, size_t count, struct score *score)
{
    struct stretch sound;
    if (recognise_stretches(recording->samples, recording->count, 1e9, &sound, 1) != 1) {
        fputs("the recording is silent\n", stderr);
        return false;
    }
    double offset_s = (double)sound.from / RECOGNISE_RATE_HZ - expected[0].at_s;
    for (size_t i = 0; i < count; i++) {
        size_t from = sample_at(recording, expected[i].at_s + offset_s - EARLY_S);
        size_t to = i + 1 < count
                        ? sample_at(recording, expected[i + 1].at_s + offset_s - EARLY_S)
                        : recording->count;
        char raw[RECOGNISE_WORDS_MAX] = "", heard[RECOGNISE_WORDS_MAX] = "";
        if (to > from && recognise_stretches(recording->samples + from, to - from, 1e9, &sound,
                                             1) == 1)
            recogniser_words(recogniser, recording->samples + from + sound.from,
                             sound.to - sound.from, raw);
        recognise_plain(raw, heard);
        add_to_score(score, expected, i, count, heard);
    }
    return true;
}

static int judge(const struct score *score)
{
    printf("%zu of %zu words misheard, %zu of %zu prompts not word for word; control: %zu of %zu "
           "words misheard\n", score->errors, score->words, score->wrong, score->prompts,
           score->control_errors, score->control_words);
    bool good = score->errors * 100 <= score->words * WORDS_WRONG_MOST_PCT;
    bool control = score->control_words == 0 || score->control_errors * 100 >=
                                                    score->control_words * CONTROL_WRONG_LEAST_PCT;
    if (!control)
        puts("the control agrees as well: the recogniser tells nothing here");
    return good && control ? 0 : 1;
}

static int listen(struct recogniser *recogniser, const char *wav, const char *prompts)
{
    static struct expected expected[PROMPTS_MOST];
    struct recording recording = {.samples = NULL};
    int status = 2;
    if (read_recording(wav, &recording)) {
        size_t count = prompts != NULL ? read_expected(prompts, expected) : 0;
        struct score score = {0};
        if (prompts == NULL) {
            print_stretches(recogniser, &recording);
            status = 0;
        } else if (count > 0) {
            status = compare(recogniser, &recording, expected, count, &score) ? judge(&score) : 1;
        }
    }
    free(recording.samples);
    return status;
}

int main(int argc, char **argv)
{
    if (argc != 2 && !(argc == 4 && strcmp(argv[2], "--expect") == 0)) {
        fputs("use: recognise WAV [--expect PROMPTS]\n", stderr);
        return 2;
    }
    if (!recogniser_is_there()) {
        puts("SKIPPED: the recogniser's model is not there");
        return 77;
    }
    struct td_phrase_file *english = NULL;
    struct td_problem problem = {.text = ""};
    if (td_phrase_file_read(TD_PHRASES, &english, &problem) != TD_OK) {
        fprintf(stderr, "%s:%d: %s\n", problem.file, problem.line, problem.text);
        return 2;
    }
    struct recogniser *recogniser = recogniser_open(td_phrase_file_book(english));
    int status = recogniser != NULL ? listen(recogniser, argv[1], argc == 4 ? argv[3] : NULL) : 2;
    recogniser_close(recogniser);
    td_phrase_file_free(&english);
    return status;
}
