/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Keys and signatures in minisign's format, made with libsodium: a writer apart from the reader of
 * the project, so that a test can sign what it likes. The secret keys come from a seed. */
#ifndef TD_TESTS_SIGN_H
#define TD_TESTS_SIGN_H

#include <stddef.h>

enum { SIGN_TEXT_MAX = 1024 };

/* The public key of that seed, as a file of two lines; returns `text`. */
const char *sign_public_key(unsigned char seed, char text[SIGN_TEXT_MAX]);
/* A signature of the message; of its BLAKE2b-512 where `prehashed`. Returns `text`. */
const char *sign_message(unsigned char seed, const char *message, size_t length, int prehashed,
                         const char *comment, char text[SIGN_TEXT_MAX]);

#endif
