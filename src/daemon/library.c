/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The I/O thread. It alone touches the shelf and the pinned hills; requests are done in order, so a
 * release that comes after a solve finds the solve done. */
#include "daemon/library.h"

#include <poll.h>
#include <pthread.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/journal.h"
#include "daemon/last_good.h"
#include "daemon/ring.h"
#include "io/library_audit.h"
#include "io/problem.h"
#include "io/rig_file.h"
#include "talkdown/text.h"

enum { REQUESTS_MAX = 64, ANSWERS_MAX = 64 };

enum request_kind { REQUEST_WANT, REQUEST_SOLVE, REQUEST_RELEASE, REQUEST_RELOAD, REQUEST_RIG,
                    REQUEST_RESTART, REQUEST_STOP };

struct request {
    enum request_kind kind;
    uint32_t epoch, client, handle;
    struct td_want want;
    struct td_solve solve;
    struct td_rig rig;
    char path[TD_PATH_MAX];
};

struct td_library {
    pthread_t thread;
    struct td_ring *requests, *answers;
    struct td_shelf *shelf;
    struct td_answers *hills;
    struct td_trust trust;
    struct td_last_good kept;
    bool may_fall_back; /* what is in use is no last good one itself */
    struct td_library_audit *audit; /* of what is in use; NULL once it is over */
    enum td_verified verified;
    atomic_bool stopping;
};

static struct td_on_board on_board(const struct td_library *library)
{
    const struct td_shelf *shelf = library->shelf;
    struct td_shelf_about about = td_shelf_about(shelf);
    struct td_on_board made = {.hills = (uint32_t)td_shelf_count(shelf),
                               .revision = about.revision,
                               .verified = library->verified};
    if (about.key_id != NULL)
        (void)td_text_copy(made.key_id, sizeof made.key_id, about.key_id);
    return made;
}

/* The poll loop takes answers at every wake-up, so room comes; until then the thread waits. */
static void answer(struct td_library *library, const struct td_answer *made)
{
    while (!td_ring_put(library->answers, made, true)) {
        if (atomic_load(&library->stopping)) {
            free(made->plan);
            free(made->rig);
            return;
        }
        (void)poll(NULL, 0, 10);
    }
}

static void do_want(struct td_library *library, const struct request *request)
{
    struct td_offer offers[TD_OFFERS_MAX];
    struct td_answer made = {.kind = TD_ANSWER_OFFER, .epoch = request->epoch};
    size_t count = td_answers_want(library->hills, &request->want, offers, &made.problem);
    for (size_t i = 0; i < count; i++) {
        made.offer = offers[i];
        made.file = offers[i].kind == TD_OFFER_HILL
                        ? td_answers_hill(library->hills, offers[i].handle)
                        : NULL;
        made.result = offers[i].kind == TD_OFFER_FAILED    ? TD_IO
                      : offers[i].kind == TD_OFFER_DAMAGED ? TD_INVALID
                                                           : TD_OK;
        answer(library, &made);
    }
}

static void do_solve(struct td_library *library, const struct request *request)
{
    struct td_answer made = {.kind = TD_ANSWER_PLAN,
                             .epoch = request->epoch,
                             .plan_serial = request->solve.serial};
    made.plan = calloc(1, sizeof *made.plan);
    if (made.plan == NULL)
        made.result = td_problem_set(&made.problem, TD_NO_MEMORY, NULL, 0, "no memory for a plan");
    else
        made.result = td_answers_solve(library->hills, &request->solve, &request->rig, made.plan,
                                       &made.problem);
    if (made.result != TD_OK) {
        free(made.plan);
        made.plan = NULL;
    }
    answer(library, &made);
}

/* An older library, signed once, would be a way to put back a speed that was corrected since. */
static enum td_result check_age(const struct td_shelf *shelf, const struct td_shelf *before,
                                const char *path, struct td_problem *problem)
{
    unsigned is = td_shelf_about(shelf).revision, was = td_shelf_about(before).revision;
    if (is >= was)
        return TD_OK;
    return td_problem_set(problem, TD_INVALID, path, 0,
                          "is revision %u, older than revision %u in use; pack it with a higher "
                          "--revision when it is meant",
                          is, was);
}

/* --- looking through the library in use --- */

/* Without memory for it the library is used unverified, as it was for all the time before. */
static void begin_audit(struct td_library *library)
{
    struct td_library_file *file = td_shelf_library(library->shelf);
    struct td_problem problem;
    library->verified = file != NULL ? TD_VERIFIED_NOT_YET : TD_VERIFIED_AT_OPENING;
    if (file != NULL &&
        td_library_audit_open(file, TD_AUDIT_ALL, &library->audit, &problem) != TD_OK)
        td_journal_problem(TD_LEVEL_ERROR, &problem);
}

/* Hills in hand stay pinned, so the truck keeps what it is on and what it comes to. */
static void use_shelf(struct td_library *library, struct td_shelf *shelf, bool may_fall_back)
{
    td_library_audit_close(&library->audit);
    if (library->hills != NULL)
        td_answers_reshelve(library->hills, shelf);
    td_shelf_close(&library->shelf);
    library->shelf = shelf;
    library->may_fall_back = may_fall_back;
    begin_audit(library);
}

static bool fall_back(struct td_library *library)
{
    struct td_shelf *other =
        library->may_fall_back ? td_last_good_other(&library->kept) : NULL;
    if (other == NULL)
        return false;
    use_shelf(library, other, false);
    return true;
}

static void audit_some(struct td_library *library)
{
    struct td_answer made = {.kind = TD_ANSWER_VERIFIED};
    bool done = false;
    made.result = td_library_audit_step(library->audit, &done, &made.problem);
    if (made.result == TD_NO_MEMORY || (made.result == TD_OK && !done))
        return;
    td_library_audit_close(&library->audit);
    if (made.result == TD_OK) {
        library->verified = TD_VERIFIED_WHOLE;
        td_last_good_is_whole(&library->kept);
    } else {
        library->verified = TD_VERIFIED_DAMAGED;
        made.fell_back = fall_back(library);
        td_last_good_is_damaged(&library->kept);
    }
    made.on_board = on_board(library);
    answer(library, &made);
}

static void do_reload(struct td_library *library, const struct request *request)
{
    struct td_answer made = {.kind = TD_ANSWER_SHELF, .client = request->client};
    struct td_shelf *shelf = NULL;
    made.result = td_shelf_open_trusted(request->path, &library->trust, &shelf, &made.problem);
    if (made.result == TD_OK && library->trust.count > 0)
        made.result = check_age(shelf, library->shelf, request->path, &made.problem);
    if (made.result != TD_OK)
        td_shelf_close(&shelf);
    if (made.result == TD_OK) {
        td_last_good_taken(&library->kept, request->path);
        use_shelf(library, shelf, true);
        made.on_board = on_board(library);
    }
    answer(library, &made);
}

static void do_rig(struct td_library *library, const struct request *request)
{
    struct td_answer made = {.kind = TD_ANSWER_RIG, .client = request->client};
    made.rig = calloc(1, sizeof *made.rig);
    if (made.rig == NULL)
        made.result = td_problem_set(&made.problem, TD_NO_MEMORY, NULL, 0, "no memory for a rig");
    else
        made.result = td_rig_file_read(request->path, made.rig, &made.problem);
    if (made.result != TD_OK) {
        free(made.rig);
        made.rig = NULL;
    }
    answer(library, &made);
}

/* Every pinned hill goes with the old td_answers. */
static void do_restart(struct td_library *library)
{
    struct td_answers *hills = NULL;
    while (td_answers_open(library->shelf, &hills, NULL) != TD_OK)
        (void)poll(NULL, 0, 100);
    td_answers_close(&library->hills);
    library->hills = hills;
}

static bool do_one(struct td_library *library, const struct request *request)
{
    switch (request->kind) {
    case REQUEST_WANT:
        do_want(library, request);
        return true;
    case REQUEST_SOLVE:
        do_solve(library, request);
        return true;
    case REQUEST_RELEASE:
        td_answers_release(library->hills, request->handle);
        return true;
    case REQUEST_RELOAD:
        do_reload(library, request);
        return true;
    case REQUEST_RIG:
        do_rig(library, request);
        return true;
    case REQUEST_RESTART:
        do_restart(library);
        return true;
    case REQUEST_STOP:
        return false;
    }
    return false;
}

static void *run(void *argument)
{
    struct td_library *library = argument;
    static const int forever_ms = -1, pause_ms = 1;
    struct request request;
    for (;;) {
        struct pollfd wait = {.fd = td_ring_fd(library->requests), .events = POLLIN};
        (void)poll(&wait, 1, library->audit != NULL ? pause_ms : forever_ms);
        td_ring_drain(library->requests);
        while (td_ring_take(library->requests, &request))
            if (!do_one(library, &request))
                return NULL;
        if (library->audit != NULL && wait.revents == 0)
            audit_some(library);
    }
}

static void free_library(struct td_library *library)
{
    struct td_answer left;
    while (library->answers != NULL && td_ring_take(library->answers, &left)) {
        free(left.plan);
        free(left.rig);
    }
    td_answers_close(&library->hills);
    td_library_audit_close(&library->audit);
    td_shelf_close(&library->shelf);
    td_ring_free(&library->requests);
    td_ring_free(&library->answers);
    free(library);
}

/* The hills of the settings, or what there is in their place. */
static enum td_result open_first(struct td_library *library, const struct td_library_source *source,
                                 struct td_library_begun *begun, struct td_problem *problem)
{
    struct td_shelf *shelf = NULL, *kept = NULL;
    bool kept_is_whole = false;
    enum td_result result = td_shelf_open_trusted(source->hills, &source->trust, &shelf, problem);
    if (source->trust.count > 0)
        kept = td_last_good_newest(&library->kept, &kept_is_whole);
    if (result == TD_OK && kept != NULL)
        result = check_age(shelf, kept, source->hills, problem);
    if (result == TD_OK) {
        td_shelf_close(&kept);
        td_last_good_taken(&library->kept, source->hills);
        use_shelf(library, shelf, true);
        return TD_OK;
    }
    td_shelf_close(&shelf);
    if (source->trust.count == 0)
        return result;
    begun->refused = true;
    begun->why = *problem;
    if (kept == NULL && (result == TD_INVALID || result == TD_UNSUPPORTED))
        result = td_shelf_of_files(NULL, 0, &kept, problem);
    if (kept == NULL)
        return result;
    use_shelf(library, kept, !kept_is_whole);
    return TD_OK;
}

enum td_result td_library_start(const struct td_library_source *source, struct td_library **out,
                                struct td_library_begun *begun, struct td_problem *problem)
{
    struct td_library_begun made = {.refused = false};
    struct td_library *library = calloc(1, sizeof *library);
    if (library == NULL)
        return td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "no memory for the hills");
    library->trust = source->trust;
    td_last_good_init(&library->kept, source->last_good, &source->trust);
    enum td_result result = open_first(library, source, &made, problem);
    if (result == TD_OK)
        made.on_board = on_board(library);
    if (result == TD_OK)
        result = td_answers_open(library->shelf, &library->hills, problem);
    if (result == TD_OK &&
        (td_ring_new(sizeof(struct request), REQUESTS_MAX, 4, &library->requests) != TD_OK ||
         td_ring_new(sizeof(struct td_answer), ANSWERS_MAX, 0, &library->answers) != TD_OK ||
         pthread_create(&library->thread, NULL, run, library) != 0))
        result = td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "cannot start the I/O thread");
    if (result != TD_OK) {
        free_library(library);
        return result;
    }
    *begun = made;
    *out = library;
    return TD_OK;
}

int td_library_fd(const struct td_library *library)
{
    return td_ring_fd(library->answers);
}

bool td_library_take(struct td_library *library, struct td_answer *taken)
{
    if (td_ring_take(library->answers, taken))
        return true;
    /* Drained only once it is empty, then looked at again: nothing put in between is missed. */
    td_ring_drain(library->answers);
    return td_ring_take(library->answers, taken);
}

static bool ask(struct td_library *library, const struct request *request)
{
    return td_ring_put(library->requests, request,
                       request->kind == REQUEST_STOP || request->kind == REQUEST_RESTART);
}

bool td_library_want(struct td_library *library, uint32_t epoch, const struct td_want *want)
{
    return ask(library, &(struct request){.kind = REQUEST_WANT, .epoch = epoch, .want = *want});
}

bool td_library_solve(struct td_library *library, uint32_t epoch, const struct td_solve *solve,
                      const struct td_rig *rig)
{
    return ask(library, &(struct request){.kind = REQUEST_SOLVE,
                                          .epoch = epoch,
                                          .solve = *solve,
                                          .rig = *rig});
}

bool td_library_release(struct td_library *library, uint32_t epoch, uint32_t handle)
{
    return ask(library,
               &(struct request){.kind = REQUEST_RELEASE, .epoch = epoch, .handle = handle});
}

static bool ask_path(struct td_library *library, enum request_kind kind, const char *path,
                     uint32_t client)
{
    struct request request = {.kind = kind, .client = client};
    return td_text_copy(request.path, sizeof request.path, path) && ask(library, &request);
}

bool td_library_reload(struct td_library *library, const char *hills, uint32_t client)
{
    return ask_path(library, REQUEST_RELOAD, hills, client);
}

bool td_library_rig(struct td_library *library, const char *path, uint32_t client)
{
    return ask_path(library, REQUEST_RIG, path, client);
}

bool td_library_restart(struct td_library *library, uint32_t epoch)
{
    return ask(library, &(struct request){.kind = REQUEST_RESTART, .epoch = epoch});
}

void td_library_stop(struct td_library **library)
{
    if (library == NULL || *library == NULL)
        return;
    atomic_store(&(*library)->stopping, true);
    while (!ask(*library, &(struct request){.kind = REQUEST_STOP}))
        (void)poll(NULL, 0, 10);
    (void)pthread_join((*library)->thread, NULL);
    free_library(*library);
    *library = NULL;
}
