/* SPDX-License-Identifier: GPL-3.0-or-later */
/* BLAKE2b-256 (RFC 7693; libsodium's generic hash, without a key): names the bytes of a hill, and
 * ties a library together. libsodium stays inside hash.c. Thread: any. */
#ifndef TD_IO_HASH_H
#define TD_IO_HASH_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "talkdown/hill.h"

enum { TD_HASH_HEX_SIZE = 2 * TD_HASH_BYTES + 1 };

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

#endif
