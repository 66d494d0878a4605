/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A drive log gives back what was put in: setup, every input with its hill and plan, prompts with
 * words and fate; its file is private, never written over, whole after a cut, and damage in it is
 * told in words. */
#include "io/drive_log.h"

#include <sqlite3.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <signal.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "io/rig_file.h"
#include "io/setup_json.h"
#include "support/cm.h"
#include "support/random_input.h"
#include "talkdown/units.h"

enum { STEPS = 200 };

static char folder[64], path[96];
static struct td_hill_file *hill_file;
static struct td_setup setup;

static int make_folder(void **state)
{
    (void)state;
    (void)snprintf(folder, sizeof folder, "drive-log-test.XXXXXX");
    if (mkdtemp(folder) == NULL)
        return -1;
    (void)snprintf(path, sizeof path, "%s/drive.db", folder);
    memset(&setup, 0, sizeof setup);
    setup.rig_is_set = true;
    setup.brakes_from_c = (double)NAN;
    struct td_problem problem;
    if (td_rig_file_read(TD_SOURCE_DIR "/profiles/rigs/five-axle.yaml", &setup.rig, &problem) !=
            TD_OK ||
        td_hill_file_read(TD_SOURCE_DIR "/profiles/hills/ombral-pass.geojson", &hill_file,
                          &problem) != TD_OK) {
        print_error("%s: %s\n", problem.file, problem.text);
        return -1;
    }
    return 0;
}

static int remove_folder(void **state)
{
    (void)state;
    td_hill_file_free(&hill_file);
    static const char *const tails[] = {"", "-wal", "-shm", "-journal"};
    for (size_t i = 0; i < 4; i++) {
        char name[128];
        (void)snprintf(name, sizeof name, "%s%s", path, tails[i]);
        (void)unlink(name);
    }
    return rmdir(folder);
}

static struct td_drive_log *create(void)
{
    const struct td_drive_head head = {.program = "test 1", .rig_name = setup.rig.name,
                                       .language = "en-us", .start_utc_ms = 1706436672250,
                                       .start_ns = 5, .setup = &setup};
    struct td_drive_log *log = NULL;
    struct td_problem problem = {0};
    if (td_drive_log_create(path, &head, &log, &problem) != TD_OK)
        fail_msg("%s: %s", problem.file, problem.text);
    return log;
}

static struct td_drive_reader *open_log(void)
{
    struct td_drive_reader *reader = NULL;
    struct td_problem problem = {0};
    if (td_drive_open(path, &reader, &problem) != TD_OK)
        fail_msg("%s: %s", problem.file, problem.text);
    return reader;
}

/* The same inputs every time, for writing and for comparing. */
static void input_of(struct td_rng *rng, int step, struct td_plan *plan, struct td_input *input)
{
    random_input(rng, td_hill_file_hill(hill_file), plan, input);
    input->now_ns = 5 + step * TD_NS_PER_S / 4;
}

static void write_steps(struct td_drive_log *log, int from, int count, struct td_rng *rng)
{
    static struct td_output output;
    static struct td_plan plan;
    struct td_input input;
    for (int i = from; i < from + count; i++) {
        input_of(rng, i, &plan, &input);
        assert_int_equal(td_drive_log_step(log, &input, &output, NULL), TD_OK);
    }
}

static void read_steps(struct td_drive_reader *reader, int count, struct td_rng *rng)
{
    static struct td_plan plan;
    struct td_input wanted, got;
    struct td_problem problem = {0};
    for (int i = 0; i < count; i++) {
        input_of(rng, i, &plan, &wanted);
        if (td_drive_next(reader, &got, &problem) != TD_OK)
            fail_msg("step %d: %s", i, problem.text);
        if (wanted.plan != NULL) {
            assert_memory_equal(got.plan, wanted.plan, sizeof plan);
            got.plan = wanted.plan;
        }
        if (wanted.offer.hill != NULL) {
            assert_non_null(got.offer.hill);
            assert_memory_equal(got.offer.hill->hash, wanted.offer.hill->hash, TD_HASH_BYTES);
            assert_int_equal(got.offer.hill->station_count, wanted.offer.hill->station_count);
            assert_memory_equal(got.offer.hill->stations, wanted.offer.hill->stations,
                                wanted.offer.hill->station_count * sizeof(struct td_station));
            got.offer.hill = wanted.offer.hill;
        }
        assert_memory_equal(&got, &wanted, sizeof got);
    }
    assert_int_equal(td_drive_next(reader, &got, &problem), TD_NOT_FOUND);
}

static void test_inputs_come_back(void **state)
{
    (void)state;
    struct td_rng rng;
    struct td_drive_log *log = create();
    assert_int_equal(td_drive_log_hill(log, hill_file, NULL), TD_OK);
    assert_int_equal(td_drive_log_hill(log, hill_file, NULL), TD_OK);
    td_rng_seed(&rng, 11, 1);
    write_steps(log, 0, STEPS, &rng);
    td_drive_log_close(&log);
    struct stat about;
    assert_int_equal(stat(path, &about), 0);
    assert_int_equal(about.st_mode & 0777, 0640);
    struct td_drive_reader *reader = open_log();
    assert_int_equal(td_drive_start_ns(reader), 5);
    assert_int_equal(td_drive_start_utc_ms(reader), 1706436672250);
    const struct td_setup *back = td_drive_setup(reader);
    assert_true(isnan(back->brakes_from_c));
    struct td_setup here = {.rig = setup.rig}, there = {.rig = back->rig};
    char *text_here = td_setup_to_json(&here), *text_there = td_setup_to_json(&there);
    assert_non_null(text_here);
    assert_string_equal(text_there, text_here); /* every member; the structures have padding */
    free(text_here);
    free(text_there);
    td_rng_seed(&rng, 11, 1);
    read_steps(reader, STEPS, &rng);
    assert_int_equal(td_drive_lost(reader), 0);
    td_drive_close(&reader);
}

static void log_event(struct td_drive_log *log, int64_t now_ns, enum td_event_kind kind,
                      const struct td_prompt *prompt, double along_m)
{
    static struct td_output output;
    struct td_input input = {.now_ns = now_ns};
    memset(&output, 0, sizeof output);
    output.event_count = 1;
    output.events[0] = (struct td_event){.kind = kind, .why = TD_WHY_DISTANCE, .prompt = *prompt};
    output.estimate = (struct td_estimate){.where = TD_WHERE_ON_HILL, .handle = 3,
                                           .along_m = along_m, .speed_mps = 9.5};
    assert_int_equal(td_drive_log_step(log, &input, &output, NULL), TD_OK);
}

static void offer_hill(struct td_drive_log *log)
{
    static struct td_output output;
    struct td_input input = {.now_ns = 6};
    input.offer = (struct td_offer){.kind = TD_OFFER_HILL, .want_serial = 1, .handle = 3,
                                    .hill = td_hill_file_hill(hill_file)};
    assert_int_equal(td_drive_log_hill(log, hill_file, NULL), TD_OK);
    assert_int_equal(td_drive_log_step(log, &input, &output, NULL), TD_OK);
}

static void test_prompts_and_their_fate(void **state)
{
    (void)state;
    struct td_rng rng;
    td_rng_seed(&rng, 3, 3);
    struct td_prompt said, dropped;
    random_prompt(&rng, &said);
    random_prompt(&rng, &dropped);
    said.serial = 1;
    dropped.serial = 2;
    said.hill_handle = 3;
    dropped.hill_handle = 0;
    struct td_drive_log *log = create();
    offer_hill(log);
    log_event(log, 10, TD_EVENT_DECIDED, &said, 100.0);
    log_event(log, 20, TD_EVENT_DECIDED, &dropped, 150.0);
    log_event(log, 30, TD_EVENT_ISSUED, &said, 200.0);
    assert_int_equal(td_drive_log_words(log, 30, 1, "Eight percent grade.", NULL), TD_OK);
    log_event(log, 40, TD_EVENT_STARTED, &said, 210.0);
    log_event(log, 50, TD_EVENT_EXPIRED, &dropped, 250.0);
    log_event(log, 60, TD_EVENT_SPOKEN, &said, 300.0);
    td_drive_log_close(&log);
    struct td_drive_reader *reader = open_log();
    struct td_spoken *prompts = NULL;
    size_t count = 0;
    assert_int_equal(td_drive_prompts(reader, &prompts, &count, NULL), TD_OK);
    assert_int_equal(count, 2);
    assert_memory_equal(&prompts[0].prompt, &said, sizeof said);
    assert_string_equal(prompts[0].words, "Eight percent grade.");
    assert_int_equal(prompts[0].issued_ns, 30);
    assert_int_equal(prompts[0].fate, TD_EVENT_SPOKEN);
    assert_int_equal(prompts[0].fate_ns, 60);
    assert_near(prompts[0].along_m, 200.0, 0.0);
    assert_near(prompts[0].speed_mps, 9.5, 0.0);
    assert_string_equal(prompts[0].hill_id, td_hill_file_hill(hill_file)->id);
    assert_int_equal(prompts[1].fate, TD_EVENT_EXPIRED);
    assert_int_equal(prompts[1].issued_ns, 0);
    assert_string_equal(prompts[1].words, "");
    assert_string_equal(prompts[1].hill_id, td_hill_file_hill(hill_file)->id);
    free(prompts);
    td_drive_close(&reader);
}

static void test_an_existing_file_is_left_alone(void **state)
{
    (void)state;
    struct td_drive_log *log = create();
    td_drive_log_close(&log);
    struct td_drive_log *again = NULL;
    const struct td_drive_head head = {"p", "r", "l", 0, 0, &setup};
    struct td_problem problem;
    assert_int_equal(td_drive_log_create(path, &head, &again, &problem), TD_INVALID);
    assert_null(again);
    struct td_drive_reader *reader = open_log();
    td_drive_close(&reader);
}

/* What was synced is there after the writer was killed; the file says that it did not end. */
static void test_cut_of_power(void **state)
{
    (void)state;
    struct td_rng rng;
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        struct td_drive_log *log = create();
        td_rng_seed(&rng, 12, 1);
        if (td_drive_log_hill(log, hill_file, NULL) != TD_OK)
            _exit(1);
        write_steps(log, 0, 40, &rng);
        if (td_drive_log_sync(log, NULL) != TD_OK)
            _exit(1);
        write_steps(log, 40, 40, &rng);
        (void)raise(SIGKILL);
    }
    int status;
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFSIGNALED(status) && WTERMSIG(status) == SIGKILL);
    struct td_drive_reader *reader = open_log();
    td_rng_seed(&rng, 12, 1);
    read_steps(reader, 40, &rng);
    td_drive_close(&reader);
}

static void cap_file_size(rlim_t bytes)
{
    struct rlimit limit;
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &limit), 0);
    limit.rlim_cur = bytes;
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &limit), 0);
}

/* A full disk is told, costs nothing but what was not written, and leaves a gap on file. */
static void test_full_disk(void **state)
{
    (void)state;
    struct td_rng rng;
    static struct td_output output;
    static struct td_plan plan;
    struct td_input input;
    struct td_problem problem = {0};
    (void)signal(SIGXFSZ, SIG_IGN);
    struct rlimit before;
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &before), 0);
    struct td_drive_log *log = create();
    td_rng_seed(&rng, 13, 1);
    assert_int_equal(td_drive_log_hill(log, hill_file, NULL), TD_OK);
    assert_int_equal(td_drive_log_sync(log, NULL), TD_OK);
    cap_file_size(1);
    input_of(&rng, 0, &plan, &input);
    enum td_result result = td_drive_log_step(log, &input, &output, &problem);
    if (result == TD_OK)
        result = td_drive_log_sync(log, &problem);
    cap_file_size(before.rlim_cur);
    assert_int_equal(result, TD_IO);
    assert_non_null(strstr(problem.text, "cannot write the drive log"));
    input_of(&rng, 1, &plan, &input);
    assert_int_equal(td_drive_log_step(log, &input, &output, &problem), TD_OK);
    assert_int_equal(td_drive_log_sync(log, &problem), TD_OK);
    td_drive_log_close(&log);
    struct td_drive_reader *reader = open_log();
    struct td_input got;
    assert_int_equal(td_drive_next(reader, &got, NULL), TD_OK);
    assert_int_equal(got.now_ns, input.now_ns);
    assert_int_equal(td_drive_lost(reader), 1);
    td_drive_close(&reader);
}

static void spoil(const char *sql)
{
    sqlite3 *db = NULL;
    assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
    if (sqlite3_exec(db, sql, NULL, NULL, NULL) != SQLITE_OK)
        fail_msg("%s: %s", sql, sqlite3_errmsg(db));
    (void)sqlite3_close(db);
}

static void refuse_open(enum td_result wanted, const char *names)
{
    struct td_drive_reader *reader = NULL;
    struct td_problem problem = {0};
    assert_int_equal(td_drive_open(path, &reader, &problem), wanted);
    assert_null(reader);
    assert_string_equal(problem.file, path);
    if (strstr(problem.text, names) == NULL)
        fail_msg("\"%s\" does not name %s", problem.text, names);
}

static void test_damage_is_told(void **state)
{
    (void)state;
    refuse_open(TD_NOT_FOUND, "open");
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    (void)fputs("this is no database at all, whatever its name may be", file);
    (void)fclose(file);
    refuse_open(TD_INVALID, "drive log");
    (void)unlink(path);
    struct td_drive_log *log = create();
    offer_hill(log);
    td_drive_log_close(&log);
    spoil("UPDATE hill SET bytes=CAST('{}' AS BLOB)");
    struct td_drive_reader *reader = open_log();
    struct td_input input;
    struct td_problem problem = {0};
    assert_int_equal(td_drive_next(reader, &input, &problem), TD_INVALID);
    assert_non_null(strstr(problem.text, td_hill_file_hill(hill_file)->id));
    td_drive_close(&reader);
    spoil("DELETE FROM handle; DELETE FROM hill");
    reader = open_log();
    assert_int_equal(td_drive_next(reader, &input, &problem), TD_INVALID);
    assert_non_null(strstr(problem.text, "step 1"));
    td_drive_close(&reader);
    spoil("UPDATE step SET input='{\"now_ns\":1,\"fix\":7}'");
    reader = open_log();
    assert_int_equal(td_drive_next(reader, &input, &problem), TD_INVALID);
    assert_non_null(strstr(problem.text, "step 1"));
    td_drive_close(&reader);
    spoil("UPDATE meta SET value=replace(value,'\"axle_ratio\":','\"axle_ratio\":-')"
          " WHERE key='setup'");
    refuse_open(TD_INVALID, "setup");
    spoil("DELETE FROM meta WHERE key='setup'");
    refuse_open(TD_INVALID, "setup");
    spoil("PRAGMA user_version=7");
    refuse_open(TD_UNSUPPORTED, "version");
    spoil("PRAGMA application_id=7");
    refuse_open(TD_INVALID, "drive log");
}

#define LOG_TEST(f) cmocka_unit_test_setup_teardown(f, make_folder, remove_folder)

int main(void)
{
    const struct CMUnitTest tests[] = {
        LOG_TEST(test_inputs_come_back),  LOG_TEST(test_prompts_and_their_fate),
        LOG_TEST(test_an_existing_file_is_left_alone),
        LOG_TEST(test_cut_of_power),      LOG_TEST(test_full_disk),
        LOG_TEST(test_damage_is_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
