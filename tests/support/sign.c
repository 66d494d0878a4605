/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/sign.h"

#include <sodium.h>
#include <stdio.h>
#include <string.h>

#include "support/cm.h"

struct pair {
    unsigned char id[8], public_key[crypto_sign_PUBLICKEYBYTES], secret[crypto_sign_SECRETKEYBYTES];
};

static struct pair pair_of(unsigned char seed)
{
    struct pair pair;
    unsigned char seeds[crypto_sign_SEEDBYTES];
    memset(seeds, seed, sizeof seeds);
    memset(pair.id, seed, sizeof pair.id);
    assert_true(sodium_init() >= 0);
    assert_int_equal(crypto_sign_seed_keypair(pair.public_key, pair.secret, seeds), 0);
    return pair;
}

static const char *base64(const unsigned char *bytes, size_t length, char *text, size_t size)
{
    return sodium_bin2base64(text, size, bytes, length, sodium_base64_VARIANT_ORIGINAL);
}

const char *sign_public_key(unsigned char seed, char text[SIGN_TEXT_MAX])
{
    struct pair pair = pair_of(seed);
    unsigned char bytes[2 + sizeof pair.id + sizeof pair.public_key] = "Ed";
    char encoded[128];
    memcpy(bytes + 2, pair.id, sizeof pair.id);
    memcpy(bytes + 2 + sizeof pair.id, pair.public_key, sizeof pair.public_key);
    (void)snprintf(text, SIGN_TEXT_MAX, "untrusted comment: key %u\n%s\n", seed,
                   base64(bytes, sizeof bytes, encoded, sizeof encoded));
    return text;
}

const char *sign_message(unsigned char seed, const char *message, size_t length, int prehashed,
                         const char *comment, char text[SIGN_TEXT_MAX])
{
    struct pair pair = pair_of(seed);
    unsigned char hash[64], bytes[2 + 8 + crypto_sign_BYTES] = "Ed", global[crypto_sign_BYTES];
    unsigned char both[crypto_sign_BYTES + 512];
    char first[128], second[128];
    const unsigned char *what = (const unsigned char *)message;
    if (prehashed) {
        assert_int_equal(crypto_generichash(hash, sizeof hash, what, length, NULL, 0), 0);
        what = hash;
        length = sizeof hash;
        bytes[1] = 'D';
    }
    memcpy(bytes + 2, pair.id, sizeof pair.id);
    assert_int_equal(crypto_sign_detached(bytes + 10, NULL, what, length, pair.secret), 0);
    size_t words = strlen(comment);
    assert_true(words <= 512);
    memcpy(both, bytes + 10, crypto_sign_BYTES);
    memcpy(both + crypto_sign_BYTES, comment, words);
    assert_int_equal(
        crypto_sign_detached(global, NULL, both, crypto_sign_BYTES + words, pair.secret), 0);
    (void)snprintf(text, SIGN_TEXT_MAX, "untrusted comment: test\n%s\ntrusted comment: %s\n%s\n",
                   base64(bytes, sizeof bytes, first, sizeof first), comment,
                   base64(global, sizeof global, second, sizeof second));
    return text;
}
