/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The daemon's cab in the test's own time, with the real I/O and log threads and a voice that is
 * not there: hills come and are let go of, a rig is changed, a long stop ends the drive, and every
 * log gives the same coach the same events again. */
#include "daemon/cab.h"

#include <dirent.h>
#include <poll.h>
#include <sched.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "daemon/cab_inner.h"
#include "daemon/journal.h"
#include "io/phrase_file.h"
#include "io/rig_file.h"
#include "support/cm.h"
#include "talkdown/units.h"

#define HILLS TD_SOURCE_DIR "/profiles/hills"
#define RIG   TD_SOURCE_DIR "/profiles/rigs/five-axle.yaml"

enum { LOGS_MOST = 8, WAIT_MS = 60000, NO_EPOCH = 999999, LOG_BEHIND_MOST = 256 };

struct bench {
    char folder[64];
    struct td_settings settings;
    struct td_phrase_file *phrases;
    struct td_library *library;
    struct td_logger *logger;
    struct td_voice *voice;
    struct td_cab *cab;
    struct td_hill_file *road;
    int64_t now_ns;
};

static struct bench bench;

static int set_up(void **state)
{
    (void)state;
    memset(&bench, 0, sizeof bench);
    td_journal_level(TD_LEVEL_ERROR);
    bench.now_ns = 100 * TD_NS_PER_S;
    (void)snprintf(bench.folder, sizeof bench.folder, "cab-test.XXXXXX");
    if (mkdtemp(bench.folder) == NULL)
        return -1;
    td_settings_default(&bench.settings);
    (void)snprintf(bench.settings.logs, sizeof bench.settings.logs, "%s", bench.folder);
    static struct td_setup setup;
    memset(&setup, 0, sizeof setup);
    setup.ambient_c = 30.0;
    setup.brakes_from_c = (double)NAN;
    setup.rig_is_set = true;
    /* No such program: the keeper of the voice answers LOST to all. */
    const struct td_voice_options voice = {.program = "no-such-program", .voice = "en-us",
                                           .rate_wpm = 160, .device = "",
                                           .stream_latency_ms = 60, .volume_percent = 100};
    const struct td_library_source source = {HILLS, "", {0}};
    struct td_library_begun begun = {.refused = false};
    bool made =
        td_phrase_file_read(TD_SOURCE_DIR "/sounds/phrases/en-us.yaml", &bench.phrases, NULL) ==
            TD_OK &&
        td_rig_file_read(RIG, &setup.rig, NULL) == TD_OK &&
        td_hill_file_read(HILLS "/ombral-pass.geojson", &bench.road, NULL) == TD_OK &&
        td_library_start(&source, &bench.library, &begun, NULL) == TD_OK &&
        td_logger_start(&bench.logger, NULL) == TD_OK &&
        td_voice_start(&voice, bench.now_ns, &bench.voice, NULL) == TD_OK;
    if (!made)
        return -1;
    setup.hills_on_board = begun.on_board.hills;
    const struct td_cab_parts parts = {"test 1",      &bench.settings,
                                       td_phrase_file_book(bench.phrases), bench.library,
                                       bench.logger,  bench.voice};
    return td_cab_start(&parts, &setup, bench.now_ns, &bench.cab, NULL) == TD_OK ? 0 : -1;
}

static void close_logs(void)
{
    struct td_cab_state state;
    td_cab_state(bench.cab, bench.now_ns, &state);
    td_logger_stop(&bench.logger, state.moved);
}

/* Paths of the logs in order of their names; returns how many. */
static size_t list_logs(char paths[LOGS_MOST][400])
{
    size_t count = 0;
    DIR *folder = opendir(bench.folder);
    assert_non_null(folder);
    for (const struct dirent *entry; (entry = readdir(folder)) != NULL;)
        if (strstr(entry->d_name, ".db") != NULL && count < LOGS_MOST)
            (void)snprintf(paths[count++], 400, "%s/%s", bench.folder, entry->d_name);
    (void)closedir(folder);
    return count;
}

static int tear_down(void **state)
{
    (void)state;
    static char paths[LOGS_MOST][400];
    td_voice_stop(&bench.voice);
    td_logger_stop(&bench.logger, true);
    td_library_stop(&bench.library);
    td_cab_free(&bench.cab);
    td_phrase_file_free(&bench.phrases);
    td_hill_file_free(&bench.road);
    size_t count = list_logs(paths);
    for (size_t i = 0; i < count; i++)
        (void)unlink(paths[i]);
    return rmdir(bench.folder);
}

static struct td_cab_state now(void)
{
    struct td_cab_state state;
    td_cab_state(bench.cab, bench.now_ns, &state);
    return state;
}

/* Gives the cab what the I/O thread answers to all that was asked so far: a question that it cannot
 * answer is put behind the others, and everything before its answer taken. */
static void take_answers(void)
{
    static const struct td_rig no_rig;
    const struct td_solve last = {.serial = 1, .handle = UINT32_MAX};
    assert_true(td_library_solve(bench.library, NO_EPOCH, &last, &no_rig));
    struct td_answer answer = {0};
    struct pollfd wait = {.fd = td_library_fd(bench.library), .events = POLLIN};
    while (answer.epoch != NO_EPOCH) {
        if (!td_library_take(bench.library, &answer))
            assert_int_equal(poll(&wait, 1, WAIT_MS), 1);
        else if (answer.epoch != NO_EPOCH)
            td_cab_answer(bench.cab, &answer);
    }
}

/* Seconds of the drive pass in microseconds here: on a busy machine the log thread fell behind,
 * lost steps as it should, and the log was no proof any more. */
static void let_the_log_catch_up(void)
{
    struct td_logger_state log = {.queued = SIZE_MAX};
    while (log.queued > LOG_BEHIND_MOST) {
        td_logger_state(bench.logger, &log);
        (void)sched_yield();
    }
}

/* One second on, with a fix, and what is answered to it: a hill, then a plan on it. */
static void second(const struct td_fix *fix)
{
    bench.now_ns += TD_NS_PER_S;
    td_cab_fix(bench.cab, fix);
    for (int i = 0; i < 3; i++) {
        td_cab_run(bench.cab, bench.now_ns);
        take_answers();
    }
    td_cab_run(bench.cab, bench.now_ns);
    let_the_log_catch_up();
}

static struct td_fix fix_at(double along_m, double speed_mps)
{
    const struct td_hill *hill = td_hill_file_hill(bench.road);
    size_t at = td_hill_station_at(hill, along_m);
    const struct td_station *from = &hill->stations[at];
    const struct td_station *to = &hill->stations[at + 1 < hill->station_count ? at + 1 : at];
    double piece_m = to->along_m - from->along_m;
    double share = piece_m > 0.0 ? (along_m - from->along_m) / piece_m : 0.0;
    double track = td_deg_from_rad(atan2(to->x_m - from->x_m, to->y_m - from->y_m));
    return (struct td_fix){
        .received_ns = bench.now_ns + TD_NS_PER_S,
        .has = TD_FIX_POSITION | TD_FIX_SPEED | TD_FIX_TRACK | TD_FIX_SIGMA | TD_FIX_UTC,
        .utc_ms = 2000000000000 + bench.now_ns / TD_NS_PER_MS,
        .lat_deg = from->lat_deg + share * (to->lat_deg - from->lat_deg),
        .lon_deg = from->lon_deg + share * (to->lon_deg - from->lon_deg),
        .speed_mps = speed_mps,
        .track_deg = track < 0.0 ? track + 360.0 : track,
        .sigma_m = 4.0,
    };
}

static void drive(double from_m, double to_m, double speed_mps)
{
    for (double along_m = from_m; along_m < to_m; along_m += speed_mps) {
        struct td_fix fix = fix_at(along_m, speed_mps);
        second(&fix);
    }
}

/* The core, fed with the log's inputs, must decide the log's prompts, one for one. */
static size_t replay(const char *path)
{
    struct td_drive_reader *reader = NULL;
    struct td_problem problem = {0};
    if (td_drive_open(path, &reader, &problem) != TD_OK)
        fail_msg("%s: %s", problem.file, problem.text);
    struct td_spoken *prompts = NULL;
    size_t count = 0, decided = 0, steps = 0;
    assert_int_equal(td_drive_prompts(reader, &prompts, &count, NULL), TD_OK);
    void *memory = calloc(1, td_coach_size());
    struct td_coach *coach =
        td_coach_init(memory, td_drive_setup(reader), td_drive_start_ns(reader));
    assert_non_null(coach);
    struct td_input input;
    static struct td_output output;
    enum td_result result;
    while ((result = td_drive_next(reader, &input, &problem)) == TD_OK) {
        td_coach_step(coach, &input, &output);
        steps++;
        for (unsigned i = 0; i < output.event_count; i++) {
            if (output.events[i].kind != TD_EVENT_DECIDED)
                continue;
            assert_true(decided < count);
            assert_int_equal(output.events[i].prompt.serial, prompts[decided].prompt.serial);
            assert_int_equal(output.events[i].prompt.id, prompts[decided].prompt.id);
            decided++;
        }
    }
    if (result != TD_NOT_FOUND)
        fail_msg("%s: %s", problem.file, problem.text);
    assert_int_equal(decided, count);
    assert_int_equal(td_drive_lost(reader), 0);
    free(prompts);
    free(memory);
    td_drive_close(&reader);
    return steps;
}

static void test_hill_comes_and_goes(void **state)
{
    (void)state;
    const struct td_hill *hill = td_hill_file_hill(bench.road);
    drive(0.0, 2500.0, 20.0);
    assert_int_equal(now().estimate.where, TD_WHERE_ON_HILL);
    assert_non_null(now().hill);
    assert_string_equal(now().hill->id, hill->id);
    assert_true(now().moved && now().moving && now().logging);
    uint64_t steps = now().steps;
    close_logs();
    static char paths[LOGS_MOST][400];
    assert_int_equal(list_logs(paths), 1);
    assert_int_equal(replay(paths[0]), steps);
}

/* The truck is far away after a gap; its hills are let go of, and all that follows still works. */
static void test_far_away_and_back(void **state)
{
    (void)state;
    drive(0.0, 1500.0, 20.0);
    assert_non_null(now().hill);
    for (int i = 0; i < 600; i++) {
        struct td_fix far = fix_at(0.0, 25.0);
        far.lat_deg += 2.0 + i * 25.0 / 111000.0;
        far.track_deg = 0.0;
        second(&far);
    }
    assert_null(now().hill);
    drive(0.0, 2500.0, 20.0);
    assert_non_null(now().hill);
    close_logs();
    static char paths[LOGS_MOST][400];
    assert_int_equal(list_logs(paths), 1);
    (void)replay(paths[0]);
}

static void test_another_rig(void **state)
{
    (void)state;
    static struct td_rig other;
    assert_int_equal(td_rig_file_read(TD_SOURCE_DIR "/profiles/rigs/box-truck.yaml", &other, NULL),
                     TD_OK);
    drive(0.0, 1500.0, 20.0);
    assert_non_null(now().hill);
    struct td_rig wrong = other;
    wrong.gears[0].ratio = 0.0;
    struct td_problem problem = {0};
    assert_int_equal(td_cab_set_rig(bench.cab, &wrong, bench.now_ns, &problem), TD_INVALID);
    assert_string_not_equal(problem.text, "");
    assert_non_null(now().hill);
    assert_int_equal(td_cab_set_rig(bench.cab, &other, bench.now_ns, &problem), TD_OK);
    assert_null(now().hill);
    assert_false(now().setup->load_confirmed);
    drive(1500.0, 3500.0, 20.0);
    assert_non_null(now().hill);
    assert_string_equal(now().setup->rig.name, other.name);
    close_logs();
    static char paths[LOGS_MOST][400];
    assert_int_equal(list_logs(paths), 2);
    assert_true(replay(paths[0]) > 50 && replay(paths[1]) > 50);
}

static void test_three_hours_standing(void **state)
{
    (void)state;
    static char paths[LOGS_MOST][400];
    drive(0.0, 500.0, 20.0);
    struct td_fix parked = fix_at(500.0, 0.0);
    for (int minute = 0; minute < 179; minute++) {
        bench.now_ns += 59 * TD_NS_PER_S;
        parked.utc_ms += 60000;
        second(&parked);
    }
    assert_true(now().logging);
    bench.now_ns += 120 * TD_NS_PER_S;
    second(&parked);
    assert_false(now().logging);
    uint64_t steps = now().steps;
    second(&parked);
    assert_true(now().steps > steps); /* it coaches on */
    drive(500.0, 900.0, 20.0);
    assert_true(now().logging && now().moved);
    close_logs();
    assert_int_equal(list_logs(paths), 2);
    /* Logs of one second of the calendar have no order by name. */
    size_t one = replay(paths[0]), other = replay(paths[1]);
    assert_true(one > 10 && other > 10 && one + other > 150);
}

static void test_never_moved_is_not_kept(void **state)
{
    (void)state;
    struct td_fix parked = fix_at(500.0, 0.2);
    for (int i = 0; i < 30; i++) {
        parked.utc_ms += 1000;
        second(&parked);
    }
    assert_false(now().moved);
    close_logs();
    static char paths[LOGS_MOST][400];
    assert_int_equal(list_logs(paths), 0);
}

/* While the I/O thread hangs with a question open, the next one finds no room. Its refusal must not
 * count as the end of the open one: hills let go of would be freed under the answer to come. */
static void test_refused_question_leaves_the_open_one(void **state)
{
    (void)state;
    struct td_fix fix = fix_at(0.0, 20.0);
    bench.now_ns += TD_NS_PER_S;
    td_cab_fix(bench.cab, &fix);
    td_cab_run(bench.cab, bench.now_ns);
    assert_int_equal(bench.cab->wants_open, 1);
    /* Nobody takes the answers, so the thread comes to a stand and its queue fills for good: it has
     * when nothing moved for three seconds (a third of one was too short on a loaded machine). */
    const struct td_want want = {.serial = 1, .lat_deg = fix.lat_deg, .lon_deg = fix.lon_deg,
                                 .radius_m = 6000.0};
    for (int quiet = 0; quiet < 300; quiet++) {
        while (td_library_want(bench.library, NO_EPOCH, &want))
            quiet = 0;
        (void)poll(NULL, 0, 10);
    }
    bench.now_ns += 40 * TD_NS_PER_S;
    fix = fix_at(400.0, 20.0);
    td_cab_fix(bench.cab, &fix);
    td_cab_run(bench.cab, bench.now_ns);
    /* The coach gives the first up, waits its two seconds, and asks again. */
    bench.now_ns += 3 * TD_NS_PER_S;
    td_cab_run(bench.cab, bench.now_ns);
    td_cab_run(bench.cab, bench.now_ns);
    assert_false(td_cab_has_input(bench.cab));
    assert_int_equal(bench.cab->wants_open, 1);
}

/* After a long hang many answers come at once. */
static void test_no_end_of_a_question_is_lost(void **state)
{
    (void)state;
    enum { QUESTIONS = 50 };
    bench.cab->wants_open = QUESTIONS;
    for (int given = 0, turns = 0; given < QUESTIONS; turns++) {
        assert_true(turns < QUESTIONS);
        for (; given < QUESTIONS && td_cab_has_room(bench.cab); given++) {
            struct td_answer end = {.kind = TD_ANSWER_OFFER, .offer = {.kind = TD_OFFER_END}};
            td_cab_answer(bench.cab, &end);
        }
        td_cab_run(bench.cab, bench.now_ns);
    }
    assert_int_equal(bench.cab->wants_open, 0);
}

#define CAB_TEST(f) cmocka_unit_test_setup_teardown(f, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        CAB_TEST(test_hill_comes_and_goes),  CAB_TEST(test_far_away_and_back),
        CAB_TEST(test_another_rig),          CAB_TEST(test_three_hours_standing),
        CAB_TEST(test_never_moved_is_not_kept),
        CAB_TEST(test_refused_question_leaves_the_open_one),
        CAB_TEST(test_no_end_of_a_question_is_lost),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
