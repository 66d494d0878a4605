/* SPDX-License-Identifier: GPL-3.0-or-later */
/* talkdown hills manifest, attach and verify: a library on its way to a signature, and what is
 * known of the one that it has. */
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/file.h"
#include "io/library_audit.h"
#include "io/library_sign.h"
#include "io/problem.h"
#include "tool/hills/hills.h"
#include "tool/progress.h"
#include "tool/tool.h"

static enum td_result read_trust(const char *key, struct td_trust *trust,
                                 struct td_problem *problem)
{
    *trust = (struct td_trust){.count = 0};
    return key != NULL ? td_trust_read(key, trust, problem) : TD_OK;
}

/* Exactly the bytes that are to be signed. */
int td_hills_manifest(const char *path)
{
    struct td_library_file *library = NULL;
    struct td_problem problem = {0};
    if (td_library_file_open(path, &library, &problem) != TD_OK)
        return td_tool_fail(&problem);
    const char *manifest = td_library_file_manifest(library);
    bool told = fwrite(manifest, 1, strlen(manifest), stdout) == strlen(manifest) &&
                fflush(stdout) == 0;
    td_library_file_close(&library);
    return told ? TD_EXIT_DONE
                : td_tool_fail_words("the manifest could not be written whole to standard output");
}

int td_hills_attach(const char *path, const char *signature, const char *key)
{
    struct td_trust trust;
    struct td_voucher voucher;
    struct td_problem problem = {0};
    char *bytes = NULL;
    size_t length = 0;
    enum td_result result = read_trust(key, &trust, &problem);
    if (result == TD_OK)
        result = td_file_read(signature, TD_SIGNATURE_FILE_BYTES_MAX, &bytes, &length, &problem);
    if (result == TD_OK)
        result = td_library_attach(path, signature, bytes, length, &trust, &voucher, &problem);
    free(bytes);
    if (result != TD_OK)
        return td_tool_fail(&problem);
    (void)printf("%s: signed by %s: %s\n", path, voucher.key_id, voucher.comment);
    return TD_EXIT_DONE;
}

/* --- verify --- */

struct verdict {
    const char *path;
    size_t hills, bad;
    unsigned revision;
    const char *key_id; /* that signed it, checked; NULL otherwise */
    const char *comment;
    bool carries_signature;
    struct td_problem problem; /* the first thing that is wrong; text "" when nothing is */
};

/* The ways from the index's root to its boxes, which no look at a single hill shows. */
static void verify_index(struct td_library_file *library, struct verdict *verdict)
{
    struct td_library_audit *audit = NULL;
    struct td_problem here = {0};
    bool done = false;
    enum td_result result = td_library_audit_open(library, TD_AUDIT_INDEX, &audit, &here);
    while (result == TD_OK && !done)
        result = td_library_audit_step(audit, &done, &here);
    td_library_audit_close(&audit);
    if (result != TD_OK && verdict->problem.text[0] == '\0')
        verdict->problem = here;
}

/* The first thing that is wrong is kept, and how many hills are. */
static void verify_hills(struct td_library_file *library, struct verdict *verdict)
{
    struct td_progress progress;
    td_progress_begin(&progress, "verifying");
    for (size_t i = 0; i < verdict->hills; i++) {
        struct td_problem here = {0};
        if (td_library_file_check(library, i, &here) != TD_OK && verdict->bad++ == 0 &&
            verdict->problem.text[0] == '\0')
            verdict->problem = here;
        td_progress_at(&progress, i + 1, verdict->hills);
    }
    td_progress_end(&progress);
}

static void tell_as_json(const struct verdict *verdict)
{
    json_t *row = json_pack("{s:s, s:b, s:I, s:I, s:i, s:b, s:s?, s:s?, s:s?}", "file",
                            verdict->path, "verified",
                            (int)(verdict->key_id != NULL && verdict->problem.text[0] == '\0'),
                            "hills", (json_int_t)verdict->hills, "bad_hills",
                            (json_int_t)verdict->bad, "revision", (int)verdict->revision,
                            "carries_signature", (int)verdict->carries_signature, "key",
                            verdict->key_id, "comment",
                            verdict->key_id != NULL ? verdict->comment : NULL, "problem",
                            verdict->problem.text[0] != '\0' ? verdict->problem.text : NULL);
    if (row != NULL && json_dumpf(row, stdout, JSON_PRESERVE_ORDER) == 0)
        (void)putchar('\n');
    json_decref(row);
}

static void tell_as_text(const struct verdict *verdict)
{
    char revision[32] = "";
    if (verdict->revision > 0)
        (void)snprintf(revision, sizeof revision, "revision %u, ", verdict->revision);
    if (verdict->problem.text[0] != '\0') {
        if (verdict->bad > 1)
            (void)fprintf(stderr,
                          "talkdown: %s: %zu of %zu hills are bad; what is wrong first:\n",
                          verdict->path, verdict->bad, verdict->hills);
        (void)td_tool_fail(&verdict->problem);
        return;
    }
    if (verdict->key_id != NULL) {
        (void)printf("%s: %ssigned by %s: %s. Verified: the signature, and its %zu hills, their "
                     "hashes, list and index\n",
                     verdict->path, revision, verdict->key_id, verdict->comment, verdict->hills);
        return;
    }
    (void)printf("%s: %s%s. Verified: its %zu hills, their hashes, list and index are what its own "
                 "manifest says, as after packing. Not verified: who packed it%s\n",
                 verdict->path, revision,
                 verdict->carries_signature ? "carries a signature that was not checked"
                                            : "unsigned: nobody vouches for it",
                 verdict->hills,
                 verdict->carries_signature ? "; name the key that you trust: --key FILE.pub" : "");
}

static int verify_one(const char *path, const struct td_trust *trust, bool as_json)
{
    struct td_library_file *library = NULL;
    struct td_voucher voucher = {.comment = ""};
    struct verdict verdict = {.path = path};
    if (td_library_file_open(path, &library, &verdict.problem) != TD_OK) {
        if (as_json)
            tell_as_json(&verdict);
        else
            (void)td_tool_fail(&verdict.problem);
        return TD_EXIT_ERROR;
    }
    verdict.hills = td_library_file_count(library);
    verdict.revision = td_library_file_revision(library);
    verdict.carries_signature = td_library_file_signature(library) != NULL;
    if (trust->count > 0 &&
        td_library_vouched(library, trust, &voucher, &verdict.problem) == TD_OK) {
        verdict.key_id = voucher.key_id;
        verdict.comment = voucher.comment;
    }
    verify_hills(library, &verdict);
    verify_index(library, &verdict);
    td_library_file_close(&library);
    if (as_json)
        tell_as_json(&verdict);
    else
        tell_as_text(&verdict);
    return verdict.key_id != NULL && verdict.problem.text[0] == '\0' ? TD_EXIT_DONE : TD_EXIT_NO;
}

int td_hills_verify(const char *const *paths, size_t count, const char *key, bool as_json)
{
    struct td_trust trust;
    struct td_problem problem = {0};
    int worst = TD_EXIT_DONE;
    if (read_trust(key, &trust, &problem) != TD_OK)
        return td_tool_fail(&problem);
    for (size_t i = 0; i < count; i++) {
        int code = verify_one(paths[i], &trust, as_json);
        worst = code > worst ? code : worst;
    }
    return worst;
}
