/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Any bytes as a signature and as a file of keys: refused in one clear line, or read; and no bytes
 * but those that minisign made are ever taken for a signature of the corpus's message. */
#include "fuzz/fuzz.h"

#include "io/file.h"
#include "io/minisign.h"

static const char message[] = "talkdown library, version 2\nrevision 12\nhills 5\n";
static const char other_message[] = "talkdown library, version 2\nrevision 13\nhills 5\n";

static const struct td_trust *trust(void)
{
    static struct td_trust keys;
    if (keys.count == 0)
        MUST(td_trust_read(TD_SOURCE_DIR "/tests/fuzz/corpus/minisign/fleet.pub", &keys, NULL) ==
             TD_OK);
    return &keys;
}

static void check(const struct td_signature *signature)
{
    struct td_problem problem = {0};
    enum td_result result = td_signature_check(signature, trust(), message, sizeof message - 1,
                                               "fuzz", &problem);
    if (result != TD_OK) {
        must_be_clear(result, &problem, "fuzz");
        return;
    }
    MUST(strcmp(signature->comment, "country, revision 12") == 0 ||
         strcmp(signature->comment, "country, legacy") == 0);
    MUST(td_signature_check(signature, trust(), other_message, sizeof other_message - 1, "fuzz",
                            &problem) == TD_INVALID);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct td_signature signature;
    struct td_trust keys = {.count = 0};
    struct td_problem problem = {0};
    enum td_result result =
        td_signature_parse("fuzz", (const char *)data, size, &signature, &problem);
    if (result == TD_OK)
        check(&signature);
    else
        must_be_clear(result, &problem, "fuzz");
    result = td_trust_parse("fuzz", (const char *)data, size, &keys, &problem);
    MUST((result == TD_OK) == (keys.count >= 1));
    MUST(keys.count <= TD_TRUST_KEYS_MAX);
    if (result != TD_OK)
        must_be_clear(result, &problem, "fuzz");
    return 0;
}
