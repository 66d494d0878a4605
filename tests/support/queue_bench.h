/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A queue with a truck on the bench's hill, for tests; one a program. */
#ifndef TD_TESTS_QUEUE_BENCH_H
#define TD_TESTS_QUEUE_BENCH_H

#include "core/queue.h"
#include "support/cue_bench.h"

static struct cue_bench bench;
static struct td_queue queue;
static struct td_output output;

static inline int fresh(void **state)
{
    (void)state;
    cue_bench_init(&bench);
    cue_bench_at(&bench, 4000.0, 7.0);
    td_queue_init(&queue);
    memset(&output, 0, sizeof output);
    return 0;
}

static inline void add(enum td_prompt_id id)
{
    struct td_prompt prompt = {.id = id, .category = td_prompt_category(id), .place = -1};
    if (prompt.category > TD_NOTICE && id != TD_PROMPT_POSITION_LOST)
        prompt.hill_handle = 7;
    td_queue_add(&queue, &bench.moment, &prompt, TD_WHY_STATE, &output);
}

static inline void step(double later_s)
{
    cue_bench_later(&bench, later_s);
    memset(&output, 0, sizeof output);
    td_queue_step(&queue, &bench.moment, &bench.visit, &output);
}

static inline void report(uint32_t serial, enum td_report_kind kind)
{
    struct td_report what = {serial, kind};
    memset(&output, 0, sizeof output);
    td_queue_report(&queue, &bench.moment, &bench.visit, &what, &output);
}

static inline const struct td_event *event_of(enum td_event_kind kind)
{
    for (unsigned i = 0; i < output.event_count; i++)
        if (output.events[i].kind == kind)
            return &output.events[i];
    return NULL;
}

static inline uint32_t speak_now(enum td_prompt_id id)
{
    add(id);
    step(5.0);
    assert_true(output.has_speak);
    assert_int_equal(output.speak.id, id);
    uint32_t serial = output.speak.serial;
    report(serial, TD_REPORT_STARTED);
    assert_non_null(event_of(TD_EVENT_STARTED));
    return serial;
}

static inline void over_the_limit(void)
{
    bench.visit.over = (struct td_over){.over = true, .warned = true,
                                        .since_ns = bench.moment.now_ns};
    bench.moment.speed_mps = 9.0;
}

#endif
