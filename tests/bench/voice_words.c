/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Wordings of numbers and gears against one another: each set is a grammar of its own members only,
 * said one by one in noise; what is mistaken for what. Wordings of one set say the same things, so
 * chance is the same for each. */
#include <stdio.h>
#include <string.h>

#include "support/recognise.h"
#include "talkdown/text.h"
#include "voice_bench.h"

enum { MEMBERS_MAX = 16, SAID_MAX = 80 };

struct wording {
    const char *name;
    const char *template; /* % is the member; punctuation makes pauses and is no word */
    const char *members[MEMBERS_MAX];
};

#define ORDINALS {"first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth",     \
                  "ninth", "tenth", NULL}
#define DIGITS {"one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", NULL}
#define SPEEDS {"five", "ten", "one five", "twenty", "twenty five", "thirty", "thirty five",       \
                "forty", "forty five", "fifty", "fifty five", "sixty", "sixty five", NULL}
#define SPELLED {"five", "one zero", "one five", "two zero", "two five", "three zero",             \
                 "three five", "four zero", "four five", "five zero", "five five", "six zero",     \
                 "six five", NULL}
#define DISTANCES {"quarter mile", "half mile", "three quarter mile", "one mile", "two miles",     \
                   "one thousand feet", "five hundred feet", NULL}

static const struct wording wordings[] = {
    {"gear: third gear now", "% gear now.", ORDINALS},
    {"gear: third gear, now", "% gear, now.", ORDINALS},
    {"gear: third, gear now", "%, gear now.", ORDINALS},
    {"gear: gear three now", "gear % now.", DIGITS},
    {"gear: gear, three now", "gear, % now.", DIGITS},
    {"gear: third gear, third gear", "% gear, % gear.", ORDINALS},
    {"gear: start in third", "start in %.", ORDINALS},
    {"gear: start in third gear", "start in % gear.", ORDINALS},
    {"speed: brake to twenty five", "brake to %.", SPEEDS},
    {"speed: brake to, twenty five", "brake to, %.", SPEEDS},
    {"speed: brake to two five", "brake to %.", SPELLED},
    {"speed: brake to, two five", "brake to, %.", SPELLED},
    {"speed: twenty five or slower", "% or slower.", SPEEDS},
    {"speed: two five or slower", "% or slower.", SPELLED},
    {"distance: lane half mile right", "escape lane, %, right.", DISTANCES},
    {"distance: lane half mile", "escape lane %.", DISTANCES},
};

static void fill(const char *template, const char *member, char *text)
{
    struct td_text out;
    td_text_init(&out, text, SAID_MAX);
    for (const char *c = template; *c != '\0'; c++) {
        if (*c == '%')
            td_text_add(&out, member);
        else
            td_text_add_char(&out, *c);
    }
}

static struct recogniser *open_set(const struct wording *wording)
{
    char grammar[4096], text[SAID_MAX], plain[RECOGNISE_WORDS_MAX];
    struct td_text out;
    td_text_init(&out, grammar, sizeof grammar);
    td_text_add(&out, "#JSGF V1.0;\ngrammar said;\npublic <said> = ");
    for (int m = 0; wording->members[m] != NULL; m++) {
        fill(wording->template, wording->members[m], text);
        recognise_plain(text, plain);
        td_text_add(&out, m > 0 ? " | " : "");
        td_text_add(&out, plain);
    }
    td_text_add(&out, ";\n");
    return recogniser_open_grammar(grammar);
}

struct mistake {
    char said[SAID_MAX], heard[SAID_MAX];
    unsigned times;
};

static void note(struct mistake *mistakes, const char *said, const char *heard)
{
    for (int i = 0; i < MEMBERS_MAX * MEMBERS_MAX; i++) {
        if (mistakes[i].times > 0 && (strcmp(mistakes[i].said, said) != 0 ||
                                      strcmp(mistakes[i].heard, heard) != 0))
            continue;
        (void)td_text_copy(mistakes[i].said, SAID_MAX, said);
        (void)td_text_copy(mistakes[i].heard, SAID_MAX, heard);
        mistakes[i].times++;
        return;
    }
}

static void tell_worst(const struct mistake *mistakes)
{
    const struct mistake *worst = mistakes;
    for (int i = 1; i < MEMBERS_MAX * MEMBERS_MAX; i++)
        if (mistakes[i].times > worst->times)
            worst = &mistakes[i];
    if (worst->times > 0)
        printf(" %s for %s, %u times |\n", worst->heard, worst->said, worst->times);
    else
        puts(" - |");
}

static void compare(const struct wording *wording, unsigned realisations)
{
    static const struct voice_setting used = {"as used", "en-us", 160, 300, 6, 4, 0};
    static const double ratios_db[] = {3, 0, -3};
    static double speech[NOISE_SAMPLES_MAX];
    static int16_t mixed[NOISE_SAMPLES_MAX];
    static struct mistake mistakes[MEMBERS_MAX * MEMBERS_MAX];
    struct recogniser *recogniser = open_set(wording);
    unsigned right[3][2] = {{0}}, all = 0;
    double seconds = 0;
    int members = 0;
    if (recogniser == NULL)
        return;
    memset(mistakes, 0, sizeof mistakes);
    for (; wording->members[members] != NULL; members++) {
        char text[SAID_MAX], said[RECOGNISE_WORDS_MAX], raw[RECOGNISE_WORDS_MAX];
        char heard[RECOGNISE_WORDS_MAX];
        fill(wording->template, wording->members[members], text);
        recognise_plain(text, said);
        size_t count = bench_speech(&used, text, speech);
        seconds += (double)count / 22050;
        for (unsigned i = 0; i < realisations * 6; i++) {
            unsigned ratio = i % 3, notched = i / 3 % 2;
            size_t whole = bench_mix(speech, count, ratios_db[ratio], i / 6, notched == 1, mixed);
            recogniser_words(recogniser, mixed, whole, raw);
            recognise_plain(raw, heard);
            right[ratio][notched] += strcmp(said, heard) == 0;
            if (ratio < 2 && strcmp(said, heard) != 0 && heard[0] != '\0')
                note(mistakes, said, heard);
        }
        all += realisations;
    }
    printf("| %-31s |", wording->name);
    for (int i = 0; i < 6; i++)
        printf(" %3.0f |", 100.0 * right[i % 3][i / 3] / all);
    printf(" %.2f |", seconds / members);
    tell_worst(mistakes);
    (void)fflush(stdout);
    recogniser_close(recogniser);
}

int bench_words(unsigned realisations)
{
    if (!raw_voice_open("en-us", 160))
        return 1;
    printf("Right (%%) at +3, 0 and -3 dB(A), then without 3 to 6 kHz; seconds; most frequent "
           "mistake at +3 and 0\n");
    for (size_t w = 0; w < sizeof wordings / sizeof wordings[0]; w++)
        compare(&wordings[w], realisations);
    raw_voice_close();
    return 0;
}
