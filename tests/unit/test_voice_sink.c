/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The file sink: each clip at its own sample, silence elsewhere, no overlap. */
#include "support/cm.h"

#include <sndfile.h>
#include <string.h>

#include "voice/sink.h"

static const char *const path = "voice_sink.wav";
static int16_t ramp[1000];

static void places_clips_to_the_sample(void **state)
{
    (void)state;
    static int16_t back[3 * TD_SOUND_RATE_HZ];
    struct td_sound_clip clip = {ramp, 1000, 0};
    struct td_sink *sink = NULL;
    SF_INFO info = {0};
    for (int i = 0; i < 1000; i++)
        ramp[i] = (int16_t)(i + 1);
    assert_int_equal(td_sink_create(path, &sink, NULL), TD_OK);
    assert_int_equal(td_sink_put(sink, 100, &clip, 1000, NULL), TD_OK);
    assert_int_equal(td_sink_put(sink, 1500, &clip, 400, NULL), TD_OK); /* cut short */
    assert_int_equal(td_sink_close(&sink, 2000, NULL), TD_OK);
    assert_null(sink);

    SNDFILE *file = sf_open(path, SFM_READ, &info);
    assert_non_null(file);
    assert_int_equal(info.format, SF_FORMAT_WAV | SF_FORMAT_PCM_16);
    assert_int_equal(info.samplerate, 22050);
    assert_int_equal(info.channels, 1);
    assert_int_equal(info.frames, 44100);
    assert_int_equal(sf_read_short(file, back, 44100), 44100);
    assert_int_equal(sf_close(file), 0);
    for (int i = 0; i < 44100; i++) {
        int expected = i >= 2205 && i < 3205 ? i - 2204 : i >= 33075 && i < 33475 ? i - 33074 : 0;
        assert_int_equal(back[i], expected);
    }
    assert_int_equal(remove(path), 0);
}

static void refuses_overlap_and_nonsense(void **state)
{
    (void)state;
    struct td_sound_clip clip = {ramp, 1000, 0}; /* 45.35 ms */
    struct td_sink *sink = NULL;
    struct td_problem problem = {0};
    assert_int_equal(td_sink_create(path, &sink, NULL), TD_OK);
    assert_int_equal(td_sink_put(sink, 10, &clip, 1000, NULL), TD_OK);
    assert_int_equal(td_sink_put(sink, 50, &clip, 1000, &problem), TD_INVALID);
    assert_non_null(strstr(problem.text, "before the last one ends"));
    assert_int_equal(td_sink_put(sink, 56, &clip, 1001, NULL), TD_INVALID);
    assert_int_equal(td_sink_put(sink, -1, &clip, 1000, NULL), TD_INVALID);
    assert_int_equal(td_sink_put(sink, INT64_MAX, &clip, 1000, NULL), TD_FULL);
    assert_int_equal(td_sink_put(sink, 56, &clip, 1000, NULL), TD_OK);
    assert_int_equal(td_sink_close(&sink, 0, NULL), TD_OK);
    assert_int_equal(remove(path), 0);
}

static void tells_what_cannot_be_written(void **state)
{
    (void)state;
    struct td_sink *sink = NULL;
    struct td_problem problem = {0};
    assert_int_equal(td_sink_create("no/such/folder/a.wav", &sink, &problem), TD_IO);
    assert_string_equal(problem.file, "no/such/folder/a.wav");
    assert_null(sink);
    assert_int_equal(td_sink_close(&sink, 0, NULL), TD_OK);
}

static void a_full_disk_is_an_error(void **state)
{
    (void)state;
    struct td_sink *sink = NULL;
    struct td_problem problem = {0};
    struct td_sound_clip clip = {ramp, 1000, 0};
    if (td_sink_create("/dev/full", &sink, &problem) != TD_OK)
        return; /* libsndfile refused it at once: as good */
    enum td_result result = TD_OK;
    for (int64_t at_ms = 0; at_ms < 10000 && result == TD_OK; at_ms += 50)
        result = td_sink_put(sink, at_ms, &clip, 1000, &problem);
    enum td_result closed = td_sink_close(&sink, 0, &problem);
    assert_true(result == TD_IO || closed == TD_IO);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(places_clips_to_the_sample),
        cmocka_unit_test(refuses_overlap_and_nonsense),
        cmocka_unit_test(tells_what_cannot_be_written),
        cmocka_unit_test(a_full_disk_is_an_error),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
