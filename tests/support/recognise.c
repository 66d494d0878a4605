/* SPDX-License-Identifier: GPL-3.0-or-later */
/* pocketsphinx on 16 kHz sound, with the settings that measured best on this voice: wide beams,
 * dither (digital silence confuses it otherwise), its own noise removal left on. */
#include "support/recognise.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <pocketsphinx.h>
#include <sphinxbase/err.h>
#include <sphinxbase/jsgf.h>

#include "talkdown/units.h"

#define HEARD_RATIO 0.01 /* -40 dB */

enum { GRAMMAR_BYTES = 64 * 1024, UP = 320, DOWN = 441, TAPS = 24, WORDS_MOST = 256,
       PADDING = 8000 /* half a second of silence on both sides */ };

struct recogniser {
    cmd_ln_t *config;
    ps_decoder_t *decoder;
};

bool recogniser_is_there(void)
{
    FILE *file = fopen(TD_SPHINX_MODELS "/en-us/cmudict-en-us.dict", "r");
    if (file != NULL)
        (void)fclose(file);
    return file != NULL;
}

/* Words that the dictionary lacks. */
static bool add_missing_words(ps_decoder_t *decoder)
{
    return ps_add_word(decoder, "bobtail", "B AA B T EY L", TRUE) >= 0 &&
           ps_add_word(decoder, "chocks", "CH AA K S", TRUE) >= 0 &&
           ps_add_word(decoder, "retarder", "R IH T AA R D ER", TRUE) >= 0;
}

/* What ps_set_jsgf_string does, which forgets to free the grammar. */
static bool set_grammar(ps_decoder_t *decoder, const char *grammar)
{
    jsgf_t *jsgf = jsgf_parse_string(grammar, NULL);
    jsgf_rule_t *rule = jsgf != NULL ? jsgf_get_public_rule(jsgf) : NULL;
    double weight = cmd_ln_float_r(ps_get_config(decoder), "-lw");
    fsg_model_t *words = rule != NULL ? jsgf_build_fsg(jsgf, rule, ps_get_logmath(decoder),
                                                       (float32)weight)
                                      : NULL;
    bool set = words != NULL && ps_set_fsg(decoder, "said", words) == 0 &&
               ps_set_search(decoder, "said") == 0;
    if (words != NULL)
        fsg_model_free(words);
    if (jsgf != NULL)
        jsgf_grammar_free(jsgf);
    return set;
}

struct recogniser *recogniser_open(const struct td_phrasebook *book)
{
    struct recogniser *made = NULL;
    char *grammar = calloc(1, GRAMMAR_BYTES);
    if (grammar != NULL && recognise_grammar(book, grammar, GRAMMAR_BYTES))
        made = recogniser_open_grammar(grammar);
    else
        fputs("recogniser: the grammar could not be made\n", stderr);
    free(grammar);
    return made;
}

struct recogniser *recogniser_open_grammar(const char *grammar)
{
    struct recogniser *made = calloc(1, sizeof *made);
    if (made == NULL)
        return NULL;
    err_set_logfp(NULL);
    made->config = cmd_ln_init(NULL, ps_args(), TRUE, "-hmm", TD_SPHINX_MODELS "/en-us/en-us",
                               "-dict", TD_SPHINX_MODELS "/en-us/cmudict-en-us.dict", "-beam",
                               "1e-120", "-wbeam", "1e-100", "-pbeam", "1e-120", "-dither", "yes",
                               "-seed", "1", NULL);
    made->decoder = made->config != NULL ? ps_init(made->config) : NULL;
    if (made->decoder == NULL || !add_missing_words(made->decoder) ||
        !set_grammar(made->decoder, grammar)) {
        fputs("recogniser: a word of the prompts is not in its dictionary\n", stderr);
        recogniser_close(made);
        made = NULL;
    }
    return made;
}

void recogniser_close(struct recogniser *recogniser)
{
    if (recogniser == NULL)
        return;
    if (recogniser->decoder != NULL)
        ps_free(recogniser->decoder);
    if (recogniser->config != NULL)
        cmd_ln_free_r(recogniser->config);
    free(recogniser);
}

/* One sample at 16 kHz: a windowed sinc (Hann) over the samples around its place, cut off a little
 * below 8 kHz. */
static double resampled(const int16_t *samples, size_t count, size_t index)
{
    const double cutoff = 0.94 * UP / DOWN;
    double place = (double)index * DOWN / UP, sum = 0.0;
    long middle = (long)place;
    for (long i = middle - TAPS + 1; i <= middle + TAPS; i++) {
        if (i < 0 || (size_t)i >= count)
            continue;
        double t = (double)i - place;
        double x = TD_PI * cutoff * t;
        double sinc = fabs(x) < 1e-9 ? 1.0 : sin(x) / x;
        sum += samples[i] * cutoff * sinc * (0.5 + 0.5 * cos(TD_PI * t / (TAPS + 1)));
    }
    return sum;
}

static int16_t *to_16_khz(const int16_t *samples, size_t count, size_t *made)
{
    size_t length = (size_t)((double)count * UP / DOWN);
    int16_t *out = calloc(length + 2 * PADDING, sizeof *out);
    if (out == NULL)
        return NULL;
    for (size_t i = 0; i < length; i++) {
        double value = resampled(samples, count, i);
        out[PADDING + i] = (int16_t)lrint(fmax(-32768.0, fmin(32767.0, value)));
    }
    *made = length + 2 * PADDING;
    return out;
}

void recogniser_words(struct recogniser *recogniser, const int16_t *samples, size_t count,
                      char words[RECOGNISE_WORDS_MAX])
{
    size_t made = 0;
    int16_t *pcm = to_16_khz(samples, count, &made);
    words[0] = '\0';
    if (pcm == NULL)
        return;
    (void)ps_start_utt(recogniser->decoder);
    (void)ps_process_raw(recogniser->decoder, pcm, made, FALSE, TRUE);
    (void)ps_end_utt(recogniser->decoder);
    const char *heard = ps_get_hyp(recogniser->decoder, NULL);
    if (heard != NULL)
        (void)snprintf(words, RECOGNISE_WORDS_MAX, "%s", heard);
    free(pcm);
}

size_t recognise_stretches(const int16_t *samples, size_t count, double gap_s,
                           struct stretch *stretches, size_t most)
{
    int peak = 0;
    for (size_t i = 0; i < count; i++)
        peak = abs(samples[i]) > peak ? abs(samples[i]) : peak;
    size_t found = 0, last = 0, gap = (size_t)(gap_s * RECOGNISE_RATE_HZ);
    for (size_t i = 0; i < count && peak > 0; i++) {
        if (abs(samples[i]) <= HEARD_RATIO * peak)
            continue;
        if (found == 0 || i - last > gap) {
            found++;
            if (found <= most)
                stretches[found - 1].from = i;
        }
        last = i;
        if (found <= most)
            stretches[found - 1].to = i + 1;
    }
    return found;
}

void recognise_plain(const char *text, char *plain)
{
    size_t length = 0;
    for (const char *c = text; *c != '\0' && length + 2 < RECOGNISE_WORDS_MAX;) {
        char word[64];
        size_t letters = 0;
        for (; *c != '\0' && !isalnum((unsigned char)*c); c++)
            continue;
        for (; isalnum((unsigned char)*c) || *c == '\''; c++)
            if (letters + 1 < sizeof word)
                word[letters++] = (char)tolower((unsigned char)*c);
        word[letters] = '\0';
        if (strcmp(word, "miles") == 0)
            word[4] = '\0';
        if (word[0] == '\0')
            continue;
        int written = snprintf(plain + length, RECOGNISE_WORDS_MAX - length, "%s%s",
                               length > 0 ? " " : "", word);
        length += (size_t)written < RECOGNISE_WORDS_MAX - length
                      ? (size_t)written
                      : RECOGNISE_WORDS_MAX - length - 1;
    }
    plain[length] = '\0';
}

struct split {
    const char *word[WORDS_MOST];
    size_t length[WORDS_MOST], count;
};

static void split_words(const char *text, struct split *split)
{
    split->count = 0;
    while (split->count < WORDS_MOST) {
        text += strspn(text, " ");
        size_t length = strcspn(text, " ");
        if (length == 0)
            return;
        split->word[split->count] = text;
        split->length[split->count++] = length;
        text += length;
    }
}

static bool same_word(const struct split *a, size_t i, const struct split *b, size_t j)
{
    return a->length[i] == b->length[j] && memcmp(a->word[i], b->word[j], a->length[i]) == 0;
}

/* Edit distance over words (Levenshtein 1966). */
size_t recognise_errors(const char *said, const char *heard, size_t *said_words)
{
    struct split a, b;
    size_t row[WORDS_MOST + 1];
    split_words(said, &a);
    split_words(heard, &b);
    for (size_t j = 0; j <= b.count; j++)
        row[j] = j;
    for (size_t i = 1; i <= a.count; i++) {
        size_t corner = row[0];
        row[0] = i;
        for (size_t j = 1; j <= b.count; j++) {
            size_t changed = corner + (same_word(&a, i - 1, &b, j - 1) ? 0 : 1);
            size_t least = row[j] + 1 < row[j - 1] + 1 ? row[j] + 1 : row[j - 1] + 1;
            corner = row[j];
            row[j] = changed < least ? changed : least;
        }
    }
    if (said_words != NULL)
        *said_words = a.count;
    return row[b.count];
}
