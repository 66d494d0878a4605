/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Keys and signatures of the minisign tool, read line by line and strictly: what is not exactly in
 * the form is refused, since a signature is no place for guesses. */
#include "io/minisign.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/file.h"
#include "io/problem.h"
#include "talkdown/text.h"

enum {
    KEY_BYTES = 2 + TD_KEY_ID_BYTES + TD_SIGNING_KEY_BYTES,
    KEY_TEXT = (KEY_BYTES + 2) / 3 * 4,
    SIGNED_BYTES = 2 + TD_KEY_ID_BYTES + TD_SIGNATURE_BYTES,
    LINES_MOST = 2 * TD_TRUST_KEYS_MAX + 1,
    UNTRUSTED_MOST = 1024,
};

static const char untrusted[] = "untrusted comment:", trusted[] = "trusted comment: ";

struct line {
    const char *text;
    size_t length; /* without its end */
};

/* Lines of the text, one more than `most` at the most; an empty one at the end is none. */
static size_t split(const char *bytes, size_t length, struct line *lines, size_t most)
{
    size_t count = 0, from = 0;
    while (from < length && count <= most) {
        const char *end = memchr(bytes + from, '\n', length - from);
        size_t to = end != NULL ? (size_t)(end - bytes) : length;
        struct line line = {bytes + from, to - from};
        if (line.length > 0 && line.text[line.length - 1] == '\r')
            line.length--; /* carried by a machine that ends lines so; the tool does the same */
        lines[count++] = line;
        from = to + 1;
    }
    while (count > 0 && lines[count - 1].length == 0)
        count--;
    return count;
}

static bool begins(const struct line *line, const char *with)
{
    size_t length = strlen(with);
    return line->length >= length && memcmp(line->text, with, length) == 0;
}

static bool is_comment(const struct line *line)
{
    return begins(line, untrusted) && line->length <= UNTRUSTED_MOST;
}

const char *td_key_id(const uint8_t id[TD_KEY_ID_BYTES], char text[TD_KEY_ID_SIZE])
{
    static const char digits[] = "0123456789ABCDEF";
    for (int i = 0; i < TD_KEY_ID_BYTES; i++) {
        text[2 * i] = digits[id[TD_KEY_ID_BYTES - 1 - i] >> 4];
        text[2 * i + 1] = digits[id[TD_KEY_ID_BYTES - 1 - i] & 15];
    }
    text[TD_KEY_ID_SIZE - 1] = '\0';
    return text;
}

/* --- keys --- */

static bool read_key(const char *text, size_t length, struct td_public_key *key)
{
    uint8_t bytes[KEY_BYTES];
    if (!td_base64_exactly(text, length, bytes, sizeof bytes) || memcmp(bytes, "Ed", 2) != 0)
        return false;
    memcpy(key->id, bytes + 2, sizeof key->id);
    memcpy(key->key, bytes + 2 + sizeof key->id, sizeof key->key);
    return true;
}

bool td_trust_is_key(const char *text)
{
    struct td_public_key key;
    return strlen(text) == KEY_TEXT && read_key(text, KEY_TEXT, &key);
}

static enum td_result no_key(const char *name, int line, struct td_problem *problem)
{
    return td_problem_set(problem, TD_INVALID, name, line,
                          "is no public key of minisign; two lines are right: \"untrusted comment: "
                          "...\" and 56 characters that begin with RW");
}

enum td_result td_trust_parse(const char *name, const char *bytes, size_t length,
                              struct td_trust *trust, struct td_problem *problem)
{
    struct line lines[LINES_MOST + 1];
    struct td_trust made = {.count = 0};
    size_t count = split(bytes, length, lines, LINES_MOST);
    if (count == 1 && read_key(lines[0].text, lines[0].length, &made.keys[0])) {
        made.count = 1;
        *trust = made;
        return TD_OK;
    }
    if (count > (size_t)2 * TD_TRUST_KEYS_MAX)
        return td_problem_set(problem, TD_FULL, name, 0, "holds over %d keys; leave out old ones",
                              (int)TD_TRUST_KEYS_MAX);
    if (count < 2 || count % 2 != 0)
        return no_key(name, 0, problem);
    for (size_t i = 0; i < count; i += 2) {
        if (!is_comment(&lines[i]))
            return no_key(name, (int)i + 1, problem);
        if (!read_key(lines[i + 1].text, lines[i + 1].length, &made.keys[made.count]))
            return no_key(name, (int)i + 2, problem);
        made.count++;
    }
    *trust = made;
    return TD_OK;
}

enum td_result td_trust_read(const char *key, struct td_trust *trust, struct td_problem *problem)
{
    char *bytes = NULL;
    size_t length = 0;
    if (key[0] == '\0') {
        *trust = (struct td_trust){.count = 0};
        return TD_OK;
    }
    if (td_trust_is_key(key))
        return td_trust_parse("the key", key, strlen(key), trust, problem);
    enum td_result result = td_file_read(key, TD_KEY_FILE_BYTES_MAX, &bytes, &length, problem);
    if (result != TD_OK)
        return result;
    result = td_trust_parse(key, bytes, length, trust, problem);
    free(bytes);
    return result;
}

/* --- signatures --- */

static enum td_result no_signature(const char *name, int line, const char *what,
                                   struct td_problem *problem)
{
    return td_problem_set(problem, TD_INVALID, name, line,
                          "is no signature of minisign: %s; attach what \"minisign -S\" wrote",
                          what);
}

/* A comment is printed and logged: what could move a terminal's cursor is no comment. */
static bool take_comment(const struct line *line, char comment[TD_COMMENT_MAX + 1])
{
    size_t from = strlen(trusted), length = line->length - from;
    if (length > TD_COMMENT_MAX)
        return false;
    for (size_t i = from; i < line->length; i++)
        if (((unsigned char)line->text[i] < 0x20 && line->text[i] != '\t') || line->text[i] == 0x7f)
            return false;
    memcpy(comment, line->text + from, length);
    comment[length] = '\0';
    return true;
}

enum td_result td_signature_parse(const char *name, const char *bytes, size_t length,
                                  struct td_signature *signature, struct td_problem *problem)
{
    struct line lines[LINES_MOST + 1];
    struct td_signature made = {.prehashed = false};
    uint8_t raw[SIGNED_BYTES];
    size_t count = split(bytes, length, lines, LINES_MOST);
    if (length > TD_SIGNATURE_FILE_BYTES_MAX)
        return no_signature(name, 0, "it is too long", problem);
    if (count != 4)
        return no_signature(name, 0, count < 4 ? "it lacks lines" : "it has over four lines",
                            problem);
    if (!is_comment(&lines[0]))
        return no_signature(name, 1, "its first line is no untrusted comment", problem);
    if (!td_base64_exactly(lines[1].text, lines[1].length, raw, sizeof raw))
        return no_signature(name, 2, "its second line is not 74 bytes in base64", problem);
    if (memcmp(raw, "Ed", 2) != 0 && memcmp(raw, "ED", 2) != 0)
        return no_signature(name, 2, "it is made by an algorithm that nobody here knows", problem);
    if (!begins(&lines[2], trusted) || !take_comment(&lines[2], made.comment))
        return no_signature(name, 3, "its third line is no trusted comment", problem);
    if (!td_base64_exactly(lines[3].text, lines[3].length, made.global, sizeof made.global))
        return no_signature(name, 4, "its fourth line is not 64 bytes in base64", problem);
    made.prehashed = raw[1] == 'D';
    memcpy(made.key_id, raw + 2, sizeof made.key_id);
    memcpy(made.bytes, raw + 2 + sizeof made.key_id, sizeof made.bytes);
    *signature = made;
    return TD_OK;
}

static enum td_result foreign(const struct td_signature *signature, const struct td_trust *trust,
                              const char *name, struct td_problem *problem)
{
    char id[TD_KEY_ID_SIZE], list[TD_TRUST_KEYS_MAX * (TD_KEY_ID_SIZE + 1) + 1];
    struct td_text text;
    td_text_init(&text, list, sizeof list);
    for (size_t i = 0; i < trust->count; i++) {
        td_text_add(&text, i > 0 ? ", " : "");
        td_text_add(&text, td_key_id(trust->keys[i].id, id));
    }
    return td_problem_set(problem, TD_INVALID, name, 0,
                          "is signed with the key %s, which is not trusted; a signature by %s is "
                          "needed",
                          td_key_id(signature->key_id, id), list);
}

/* The comment's signature is over the signature's bytes and the comment. */
static bool comment_holds(const struct td_signature *signature, const struct td_public_key *key)
{
    uint8_t both[TD_SIGNATURE_BYTES + TD_COMMENT_MAX];
    size_t length = strlen(signature->comment);
    memcpy(both, signature->bytes, TD_SIGNATURE_BYTES);
    memcpy(both + TD_SIGNATURE_BYTES, signature->comment, length);
    return td_signature_holds(signature->global, both, TD_SIGNATURE_BYTES + length, key->key);
}

enum td_result td_signature_check(const struct td_signature *signature,
                                  const struct td_trust *trust, const char *message, size_t length,
                                  const char *name, struct td_problem *problem)
{
    const struct td_public_key *key = NULL;
    uint8_t hash[TD_HASH_LONG_BYTES];
    const void *what = message;
    for (size_t i = 0; i < trust->count && key == NULL; i++)
        if (memcmp(trust->keys[i].id, signature->key_id, TD_KEY_ID_BYTES) == 0)
            key = &trust->keys[i];
    if (key == NULL)
        return foreign(signature, trust, name, problem);
    if (signature->prehashed) {
        if (!td_hash_long_of(message, length, hash))
            return td_problem_set(problem, TD_NO_MEMORY, name, 0, "cannot check its signature");
        what = hash;
        length = sizeof hash;
    }
    if (!td_signature_holds(signature->bytes, what, length, key->key))
        return td_problem_set(problem, TD_INVALID, name, 0,
                              "has a signature that does not fit: it was altered since, or the "
                              "signature is another library's; sign this one's manifest");
    if (!comment_holds(signature, key))
        return td_problem_set(problem, TD_INVALID, name, 0,
                              "has a signature whose trusted comment was altered; attach the "
                              "signature as \"minisign -S\" wrote it");
    return TD_OK;
}
