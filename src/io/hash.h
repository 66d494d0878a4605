/* SPDX-License-Identifier: GPL-3.0-or-later */
/* BLAKE2b-256 (RFC 7693; libsodium's generic hash, without a key): names the bytes of a hill, and
 * ties a library together. And what signatures need: BLAKE2b-512, Ed25519 (RFC 8032), base64
 * (RFC 4648). libsodium stays inside hash.c. Thread: any. */
#ifndef TD_IO_HASH_H
#define TD_IO_HASH_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "talkdown/hill.h"

enum {
    TD_HASH_HEX_SIZE = 2 * TD_HASH_BYTES + 1,
    TD_HASH_LONG_BYTES = 64,
    TD_SIGNATURE_BYTES = 64,
    TD_SIGNING_KEY_BYTES = 32,
};

/* A hash under way; the size is libsodium's, checked in hash.c. */
struct td_hash {
    _Alignas(64) unsigned char state[384];
};

/* False when libsodium cannot be started. */
bool td_hash_begin(struct td_hash *hash);
void td_hash_add(struct td_hash *hash, const void *bytes, size_t length);
void td_hash_end(struct td_hash *hash, uint8_t out[TD_HASH_BYTES]);

/* The same in one go. */
bool td_hash_of(const void *bytes, size_t length, uint8_t out[TD_HASH_BYTES]);
/* Lower-case hexadecimal digits; returns `hex`. */
const char *td_hash_hex(const uint8_t hash[TD_HASH_BYTES], char hex[TD_HASH_HEX_SIZE]);

/* BLAKE2b-512; false when libsodium cannot be started. */
bool td_hash_long_of(const void *bytes, size_t length, uint8_t out[TD_HASH_LONG_BYTES]);
/* Whether the Ed25519 signature of the message was made with the secret half of this key. */
bool td_signature_holds(const uint8_t signature[TD_SIGNATURE_BYTES], const void *message,
                        size_t length, const uint8_t key[TD_SIGNING_KEY_BYTES]);
/* Whole base64 text, padded, of exactly `size` bytes; false for anything else. */
bool td_base64_exactly(const char *text, size_t length, uint8_t *out, size_t size);

#endif
