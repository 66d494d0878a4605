/* SPDX-License-Identifier: GPL-3.0-or-later */
/* replay CHANGES FILE|FOLDER...: every file through the fuzz target, whole, then CHANGES seeded
 * changes of each. Any compiler; so the targets run with the suite. The seed of a change is printed
 * when it breaks something, since the abort follows at once. */
#include <dirent.h>
#include <stdbool.h>
#include <sys/stat.h>

#include "fuzz/fuzz.h"
#include "io/file.h"
#include "talkdown/rng.h"

enum { FILES_MOST = 256, BYTES_MOST = 1 << 21, GROWTH_MOST = 4096 };

struct input {
    char path[512];
    char *bytes;
    size_t length;
};

static struct input inputs[FILES_MOST];
static size_t input_count;

static void add(const char *path)
{
    struct stat about;
    MUST(stat(path, &about) == 0);
    if (S_ISDIR(about.st_mode)) {
        struct dirent **names = NULL;
        int count = scandir(path, &names, NULL, NULL);
        MUST(count >= 0);
        for (int i = 0; i < count; i++) {
            char below[512];
            (void)snprintf(below, sizeof below, "%s/%s", path, names[i]->d_name);
            if (names[i]->d_name[0] != '.')
                add(below);
            free(names[i]);
        }
        free(names);
        return;
    }
    MUST(input_count < FILES_MOST);
    struct input *input = &inputs[input_count++];
    (void)snprintf(input->path, sizeof input->path, "%s", path);
    MUST(td_file_read(path, BYTES_MOST, &input->bytes, &input->length, NULL) == TD_OK);
}

static const char *const tokens[] = {
    "nan", "-inf", "1e999", "0", "-1", "99999999999999999999", "null", "true", "{}", "[]", "[", "]",
    "{", "}", "\"", ":", ",", "\n", "\\u0000", "\xff", "&a", "*a", "!!x", "- ", "? ", "---\n",
    "<", ">", "&lt;", "<!DOCTYPE a [<!ENTITY b 'c'>]>", "%", " mph", "lb", "rpm", "95.0", "180.0",
};

static size_t place_in(struct td_rng *rng, size_t length)
{
    return length == 0 ? 0 : td_rng_below(rng, (uint32_t)length);
}

/* One small change of `bytes` (room GROWTH_MOST above length); returns the new length. */
static size_t change_once(struct td_rng *rng, char *bytes, size_t length, size_t room)
{
    size_t at = place_in(rng, length), span = 1 + td_rng_below(rng, 64);
    if (span > length - at)
        span = length - at;
    const char *token = tokens[td_rng_below(rng, sizeof tokens / sizeof tokens[0])];
    size_t token_length = strlen(token);
    switch (td_rng_below(rng, 6)) {
    case 0: /* one bit */
        if (length > 0)
            bytes[at] = (char)(bytes[at] ^ (1 << td_rng_below(rng, 8)));
        return length;
    case 1: /* cut out */
        memmove(bytes + at, bytes + at + span, length - at - span);
        return length - span;
    case 2: /* twice */
        if (length + span > room)
            return length;
        memmove(bytes + at + span, bytes + at, length - at);
        return length + span;
    case 3: /* a token put in */
        if (length + token_length > room)
            return length;
        memmove(bytes + at + token_length, bytes + at, length - at);
        memcpy(bytes + at, token, token_length);
        return length + token_length;
    case 4: /* a token over what is there */
        if (token_length <= length - at)
            memcpy(bytes + at, token, token_length);
        return length;
    default: /* cut off, seldom: most of it is dull */
        return td_rng_below(rng, 8) == 0 ? at : length;
    }
}

static void try_changes(const struct input *input, uint64_t changes)
{
    size_t room = input->length + GROWTH_MOST;
    char *bytes = malloc(room);
    MUST(bytes != NULL);
    for (uint64_t seed = 1; seed <= changes; seed++) {
        struct td_rng rng;
        td_rng_seed(&rng, seed, 7);
        memcpy(bytes, input->bytes, input->length);
        size_t length = input->length;
        for (uint32_t i = 1 + td_rng_below(&rng, 6); i > 0; i--)
            length = change_once(&rng, bytes, length, room);
        (void)fprintf(stderr, "\r%s seed %llu ", input->path, (unsigned long long)seed);
        /* A copy of just its size, so that a sanitizer sees a read past its end. */
        char *exact = malloc(length > 0 ? length : 1);
        MUST(exact != NULL);
        memcpy(exact, bytes, length);
        (void)LLVMFuzzerTestOneInput((const uint8_t *)exact, length);
        free(exact);
    }
    free(bytes);
}

int main(int argc, char **argv)
{
    if (argc < 3) {
        (void)fputs("usage: replay CHANGES FILE|FOLDER...\n", stderr);
        return 2;
    }
    uint64_t changes = 0;
    for (const char *c = argv[1]; *c >= '0' && *c <= '9'; c++)
        changes = changes * 10 + (uint64_t)(*c - '0');
    for (int i = 2; i < argc; i++)
        add(argv[i]);
    for (size_t i = 0; i < input_count; i++) {
        (void)LLVMFuzzerTestOneInput((const uint8_t *)inputs[i].bytes, inputs[i].length);
        try_changes(&inputs[i], changes);
        free(inputs[i].bytes);
    }
    (void)fprintf(stderr, "\n");
    (void)printf("%zu files, %llu changes of each\n", input_count, (unsigned long long)changes);
    return input_count > 0 ? 0 : 1;
}
