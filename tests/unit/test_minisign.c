/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Keys and signatures against files that minisign 0.11 itself made (tests/fuzz/corpus/minisign):
 * both forms are taken, and every altered byte of what is signed is noticed. */
#include "io/minisign.h"

#include <stdlib.h>
#include <string.h>

#include "io/file.h"
#include "support/cm.h"
#include "support/sign.h"

#define FILES TD_SOURCE_DIR "/tests/fuzz/corpus/minisign/"

static char *bytes_of(const char *name, size_t *length)
{
    char path[512], *bytes = NULL;
    (void)snprintf(path, sizeof path, FILES "%s", name);
    assert_int_equal(td_file_read(path, 1 << 16, &bytes, length, NULL), TD_OK);
    return bytes;
}

static struct td_trust trust_of(const char *name)
{
    struct td_trust trust;
    char path[512];
    (void)snprintf(path, sizeof path, FILES "%s", name);
    assert_int_equal(td_trust_read(path, &trust, NULL), TD_OK);
    assert_int_equal(trust.count, 1);
    return trust;
}

static struct td_signature signature_of(const char *name)
{
    struct td_signature signature;
    size_t length = 0;
    char *bytes = bytes_of(name, &length);
    assert_int_equal(td_signature_parse(name, bytes, length, &signature, NULL), TD_OK);
    free(bytes);
    return signature;
}

static void what_minisign_signed_holds(void **state)
{
    (void)state;
    size_t length = 0;
    char *message = bytes_of("message", &length);
    struct td_trust fleet = trust_of("fleet.pub"), other = trust_of("other.pub");
    struct td_signature now = signature_of("message.minisig"), old = signature_of("legacy.minisig");
    assert_true(now.prehashed && !old.prehashed);
    assert_string_equal(now.comment, "country, revision 12");
    struct td_problem problem = {0};
    assert_int_equal(td_signature_check(&now, &fleet, message, length, "f", &problem), TD_OK);
    assert_int_equal(td_signature_check(&old, &fleet, message, length, "f", &problem), TD_OK);
    struct td_signature foreign = signature_of("other.minisig");
    assert_int_equal(td_signature_check(&foreign, &other, message, length, "f", &problem), TD_OK);
    assert_int_equal(td_signature_check(&foreign, &fleet, message, length, "f", &problem),
                     TD_INVALID);
    assert_non_null(strstr(problem.text, "is signed with the key "));
    assert_non_null(strstr(problem.text, "which is not trusted"));
    /* Either of two keys will do. */
    other.keys[other.count++] = fleet.keys[0];
    assert_int_equal(td_signature_check(&now, &other, message, length, "f", &problem), TD_OK);
    free(message);
}

static void every_byte_of_the_message_counts(void **state)
{
    (void)state;
    size_t length = 0;
    char *message = bytes_of("message", &length);
    struct td_trust fleet = trust_of("fleet.pub");
    const struct td_signature both[] = {signature_of("message.minisig"),
                                        signature_of("legacy.minisig")};
    struct td_problem problem = {0};
    for (size_t i = 0; i < length * 2; i++) {
        message[i / 2] ^= 1;
        assert_int_equal(td_signature_check(&both[i % 2], &fleet, message, length, "f", &problem),
                         TD_INVALID);
        assert_non_null(strstr(problem.text, "does not fit"));
        message[i / 2] ^= 1;
    }
    assert_int_equal(td_signature_check(&both[0], &fleet, message, length - 1, "f", &problem),
                     TD_INVALID);
    free(message);
}

/* Any single bit of the signature file but those of the untrusted comment. */
static void every_bit_of_the_signature_counts(void **state)
{
    (void)state;
    size_t length = 0, message_length = 0;
    char *message = bytes_of("message", &message_length);
    char *bytes = bytes_of("message.minisig", &length);
    struct td_trust fleet = trust_of("fleet.pub");
    size_t from = (size_t)(strchr(bytes, '\n') - bytes) + 1;
    for (size_t bit = from * 8; bit < (length - 1) * 8; bit++) {
        struct td_signature signature;
        struct td_problem problem = {0};
        bytes[bit / 8] = (char)(bytes[bit / 8] ^ (1 << bit % 8));
        enum td_result result = td_signature_parse("f", bytes, length, &signature, &problem);
        if (result == TD_OK)
            result = td_signature_check(&signature, &fleet, message, message_length, "f", &problem);
        if (result == TD_OK)
            fail_msg("bit %zu of the signature was altered and it still holds", bit);
        assert_string_equal(problem.file, "f");
        bytes[bit / 8] = (char)(bytes[bit / 8] ^ (1 << bit % 8));
    }
    free(bytes);
    free(message);
}

static void refuse(const char *text, const char *words)
{
    struct td_signature signature;
    struct td_problem problem = {0};
    enum td_result result =
        td_signature_parse("s.minisig", text, strlen(text), &signature, &problem);
    if (result != TD_INVALID || strstr(problem.text, words) == NULL)
        fail_msg("result %d: \"%s\" lacks \"%s\"", (int)result, problem.text, words);
}

static void what_is_no_signature_is_refused(void **state)
{
    (void)state;
    char right[SIGN_TEXT_MAX], text[2 * SIGN_TEXT_MAX];
    (void)sign_message(3, "m", 1, 1, "c", right);
    refuse("", "it lacks lines");
    refuse("untrusted comment: a\n", "it lacks lines");
    (void)snprintf(text, sizeof text, "%sone more\n", right);
    refuse(text, "over four lines");
    (void)snprintf(text, sizeof text, "%s", right);
    text[0] = 'U';
    refuse(text, "first line is no untrusted comment");
    (void)snprintf(text, sizeof text, "%s", right);
    *strchr(text, '=') = 'A'; /* one byte longer */
    refuse(text, "second line is not 74 bytes");
    (void)snprintf(text, sizeof text, "%s", right);
    memcpy(strchr(text, '\n') + 1, "RWX", 3);
    refuse(text, "an algorithm that nobody here knows");
    refuse(right + 1, "first line");
    (void)sign_message(3, "m", 1, 1, "a\tb\033[2J", text);
    refuse(text, "third line is no trusted comment");
}

/* A file carried over a machine that ends lines with CR LF is still the file. */
static void line_ends_of_another_machine_do_no_harm(void **state)
{
    (void)state;
    char right[SIGN_TEXT_MAX], text[2 * SIGN_TEXT_MAX], key[SIGN_TEXT_MAX], *to = text;
    (void)sign_message(3, "m", 1, 0, "hills of the north, \xc3\xbc", right);
    for (const char *c = right; *c != '\0'; c++) {
        if (*c == '\n')
            *to++ = '\r';
        *to++ = *c;
    }
    struct td_signature signature;
    struct td_trust trust;
    (void)sign_public_key(3, key);
    assert_int_equal(td_trust_parse("k", key, strlen(key), &trust, NULL), TD_OK);
    assert_int_equal(td_signature_parse("s", text, (size_t)(to - text), &signature, NULL), TD_OK);
    assert_int_equal(td_signature_check(&signature, &trust, "m", 1, "s", NULL), TD_OK);
}

static void refuse_key(const char *text, enum td_result right, const char *words)
{
    struct td_trust trust;
    struct td_problem problem = {0};
    enum td_result result = td_trust_parse("k.pub", text, strlen(text), &trust, &problem);
    if (result != right || strstr(problem.text, words) == NULL)
        fail_msg("result %d: \"%s\" lacks \"%s\"", (int)result, problem.text, words);
}

static void keys_are_read_strictly(void **state)
{
    (void)state;
    char one[SIGN_TEXT_MAX], many[8 * SIGN_TEXT_MAX] = "", id[TD_KEY_ID_SIZE];
    struct td_trust trust;
    (void)sign_public_key(1, one);
    for (size_t i = 1; i <= TD_TRUST_KEYS_MAX; i++) {
        char next[SIGN_TEXT_MAX];
        size_t used = strlen(many);
        (void)snprintf(many + used, sizeof many - used, "%s",
                       sign_public_key((unsigned char)i, next));
    }
    assert_int_equal(td_trust_parse("k", many, strlen(many), &trust, NULL), TD_OK);
    assert_int_equal(trust.count, TD_TRUST_KEYS_MAX);
    assert_string_equal(td_key_id(trust.keys[2].id, id), "0303030303030303");
    (void)snprintf(many + strlen(many), SIGN_TEXT_MAX, "%s", one);
    refuse_key(many, TD_FULL, "holds over 4 keys");
    refuse_key("", TD_INVALID, "is no public key of minisign");
    refuse_key("untrusted comment: x\n", TD_INVALID, "is no public key");
    refuse_key("untrusted comment: x\nRWRubbish\n", TD_INVALID, "is no public key");
    const char *text = strchr(one, '\n') + 1;
    *strchr(text, '\n') = '\0';
    assert_true(td_trust_is_key(text));
    assert_int_equal(td_trust_read(text, &trust, NULL), TD_OK);
    assert_false(td_trust_is_key("keys/fleet.pub"));
    assert_int_equal(td_trust_read("", &trust, NULL), TD_OK);
    assert_int_equal(trust.count, 0);
    struct td_problem problem = {0};
    assert_int_equal(td_trust_read("none.pub", &trust, &problem), TD_NOT_FOUND);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_minisign_signed_holds),
        cmocka_unit_test(every_byte_of_the_message_counts),
        cmocka_unit_test(every_bit_of_the_signature_counts),
        cmocka_unit_test(what_is_no_signature_is_refused),
        cmocka_unit_test(line_ends_of_another_machine_do_no_harm),
        cmocka_unit_test(keys_are_read_strictly),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
