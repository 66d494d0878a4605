/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Public keys and signatures in the format of the minisign tool, as its documentation describes it
 * (jedisct1.github.io/minisign, "Signature format" and "Public key format"); our own reader.
 * A key is two lines, a signature four; both may be made and checked with the ordinary tool.
 * Plain values, no heap kept. Thread: any. */
#ifndef TD_IO_MINISIGN_H
#define TD_IO_MINISIGN_H

#include <stdbool.h>
#include <stddef.h>

#include "io/hash.h"
#include "talkdown/result.h"

enum {
    TD_TRUST_KEYS_MAX = 4, /* an old and a new one, and then some */
    TD_KEY_ID_BYTES = 8,
    TD_KEY_ID_SIZE = 2 * TD_KEY_ID_BYTES + 1,
    TD_KEY_FILE_BYTES_MAX = 4096,
    TD_SIGNATURE_FILE_BYTES_MAX = 4096,
    TD_COMMENT_MAX = 1024,
};

struct td_public_key {
    uint8_t id[TD_KEY_ID_BYTES];
    uint8_t key[TD_SIGNING_KEY_BYTES];
};

/* The keys whose signature is good enough; with none of them nobody asks for signatures. */
struct td_trust {
    size_t count;
    struct td_public_key keys[TD_TRUST_KEYS_MAX];
};

struct td_signature {
    bool prehashed; /* "ED": of the message's BLAKE2b-512; "Ed", the older form, of the message */
    uint8_t key_id[TD_KEY_ID_BYTES];
    uint8_t bytes[TD_SIGNATURE_BYTES];
    char comment[TD_COMMENT_MAX + 1]; /* the trusted comment: signed too */
    uint8_t global[TD_SIGNATURE_BYTES];
};

/* True when the text can only be meant as a key itself, and not as the path of a file of keys. */
bool td_trust_is_key(const char *text);
/* A file of one to four public keys, or the base64 text of one. `name` stands for it in messages.
 * TD_INVALID when it is neither. */
TD_CHECKED enum td_result td_trust_parse(const char *name, const char *bytes, size_t length,
                                         struct td_trust *trust, struct td_problem *problem);
/* `key` is such a text or the path of such a file; "" is no key at all. */
TD_CHECKED enum td_result td_trust_read(const char *key, struct td_trust *trust,
                                        struct td_problem *problem);

TD_CHECKED enum td_result td_signature_parse(const char *name, const char *bytes, size_t length,
                                             struct td_signature *signature,
                                             struct td_problem *problem);
/* TD_INVALID, with words about `name`, unless one of the keys made the signature of this message
 * and of its trusted comment. */
TD_CHECKED enum td_result td_signature_check(const struct td_signature *signature,
                                             const struct td_trust *trust, const char *message,
                                             size_t length, const char *name,
                                             struct td_problem *problem);
/* As the tool prints it: sixteen digits, the last byte first. Returns `text`. */
const char *td_key_id(const uint8_t id[TD_KEY_ID_BYTES], char text[TD_KEY_ID_SIZE]);

#endif
