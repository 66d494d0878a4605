/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Who vouches for a library. The ordinary minisign tool signs its manifest; the signature is then
 * attached to it, so that one file is copied and one rename swaps it: there is no moment at which a
 * library lies beside the signature of another. Thread: one at a time. */
#ifndef TD_IO_LIBRARY_SIGN_H
#define TD_IO_LIBRARY_SIGN_H

#include "io/library_file.h"
#include "io/minisign.h"

struct td_voucher {
    char key_id[TD_KEY_ID_SIZE];
    char comment[TD_COMMENT_MAX + 1]; /* the signer's trusted comment */
};

/* TD_OK when one of the keys signed this manifest; TD_INVALID, with the reason, when the library is
 * unsigned, altered, signed for another library or by another key. What the manifest covers is told
 * in docs/formats.md: the hills, each of them checked when it is read. */
TD_CHECKED enum td_result td_library_vouched(const struct td_library_file *library,
                                             const struct td_trust *trust,
                                             struct td_voucher *voucher,
                                             struct td_problem *problem);

/* Puts the text of a signature, verified against the keys first, into the library at `path` in
 * place of the one that it may have. The library is copied, altered there and swapped by rename:
 * who has the old one open keeps it, and a failure leaves all as it was. */
TD_CHECKED enum td_result td_library_attach(const char *path, const char *name, const char *bytes,
                                            size_t length, const struct td_trust *trust,
                                            struct td_voucher *voucher,
                                            struct td_problem *problem);

#endif
