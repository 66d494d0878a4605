/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The one hash of the project. */
#include "io/hash.h"

#include <assert.h>
#include <sodium.h>

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
