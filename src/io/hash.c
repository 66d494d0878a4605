/* SPDX-License-Identifier: GPL-3.0-or-later */
/* All that is asked of libsodium: the one hash of the project, and what checks a signature. */
#include "io/hash.h"

#include <assert.h>
#include <sodium.h>

static_assert((int)TD_SIGNATURE_BYTES == (int)crypto_sign_ed25519_BYTES &&
                  (int)TD_SIGNING_KEY_BYTES == (int)crypto_sign_ed25519_PUBLICKEYBYTES &&
                  (int)TD_HASH_LONG_BYTES == (int)crypto_generichash_BYTES_MAX,
              "sizes of RFC 8032 and RFC 7693");
static_assert(sizeof(struct td_hash) >= sizeof(crypto_generichash_state) &&
                  _Alignof(struct td_hash) >= _Alignof(crypto_generichash_state),
              "a hash under way must fit");

static crypto_generichash_state *state_of(struct td_hash *hash)
{
    return (crypto_generichash_state *)(void *)hash->state;
}

bool td_hash_begin(struct td_hash *hash)
{
    return sodium_init() >= 0 &&
           crypto_generichash_init(state_of(hash), NULL, 0, TD_HASH_BYTES) == 0;
}

void td_hash_add(struct td_hash *hash, const void *bytes, size_t length)
{
    (void)crypto_generichash_update(state_of(hash), bytes, length);
}

void td_hash_end(struct td_hash *hash, uint8_t out[TD_HASH_BYTES])
{
    (void)crypto_generichash_final(state_of(hash), out, TD_HASH_BYTES);
}

bool td_hash_of(const void *bytes, size_t length, uint8_t out[TD_HASH_BYTES])
{
    return sodium_init() >= 0 &&
           crypto_generichash(out, TD_HASH_BYTES, bytes, length, NULL, 0) == 0;
}

const char *td_hash_hex(const uint8_t hash[TD_HASH_BYTES], char hex[TD_HASH_HEX_SIZE])
{
    return sodium_bin2hex(hex, TD_HASH_HEX_SIZE, hash, TD_HASH_BYTES);
}

bool td_hash_long_of(const void *bytes, size_t length, uint8_t out[TD_HASH_LONG_BYTES])
{
    return sodium_init() >= 0 &&
           crypto_generichash(out, TD_HASH_LONG_BYTES, bytes, length, NULL, 0) == 0;
}

bool td_signature_holds(const uint8_t signature[TD_SIGNATURE_BYTES], const void *message,
                        size_t length, const uint8_t key[TD_SIGNING_KEY_BYTES])
{
    return sodium_init() >= 0 &&
           crypto_sign_ed25519_verify_detached(signature, message, length, key) == 0;
}

bool td_base64_exactly(const char *text, size_t length, uint8_t *out, size_t size)
{
    size_t got = 0;
    const char *end = NULL;
    /* The decoder takes some bytes past 127 for letters (found by altering every bit). */
    for (size_t i = 0; i < length; i++)
        if ((unsigned char)text[i] < 0x20 || (unsigned char)text[i] > 0x7e)
            return false;
    return sodium_base642bin(out, size, text, length, NULL, &got, &end,
                             sodium_base64_VARIANT_ORIGINAL) == 0 &&
           got == size && end == text + length;
}
