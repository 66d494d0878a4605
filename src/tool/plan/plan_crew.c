/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Threads take rig after rig; each has work space of its own and writes only the rig's block. */
#include "tool/plan/plan_crew.h"

#include <pthread.h>
#include <stdlib.h>
#include <unistd.h>

enum { THREADS_MAX = 16 };

struct worker {
    struct td_plan_crew *crew;
    struct td_plan_work *work;
};

struct td_plan_crew {
    pthread_mutex_t lock; /* over next */
    size_t next;
    const struct td_hill *hill;
    struct td_plan_rig *const *rigs;
    size_t count;
    struct td_plan_block blocks[TD_PLAN_CREW_BLOCKS];
    struct worker workers[THREADS_MAX];
    size_t worker_count;
};

static size_t workers_wanted(size_t rig_count)
{
    long processors = sysconf(_SC_NPROCESSORS_ONLN);
    size_t wanted = processors > 1 ? (size_t)processors : 1;
    if (wanted > THREADS_MAX)
        wanted = THREADS_MAX;
    return wanted < rig_count ? wanted : rig_count;
}

struct td_plan_crew *td_plan_crew_new(size_t rig_count)
{
    struct td_plan_crew *crew = calloc(1, sizeof *crew);
    if (crew == NULL)
        return NULL;
    if (pthread_mutex_init(&crew->lock, NULL) != 0) {
        free(crew);
        return NULL;
    }
    size_t wanted = workers_wanted(rig_count);
    while (crew->worker_count < wanted) {
        struct td_plan_work *work = malloc(sizeof *work);
        if (work == NULL)
            break;
        crew->workers[crew->worker_count++] = (struct worker){crew, work};
    }
    if (crew->worker_count == 0)
        td_plan_crew_free(&crew);
    return crew;
}

static void *plan_some(void *argument)
{
    const struct worker *worker = argument;
    struct td_plan_crew *crew = worker->crew;
    for (;;) {
        (void)pthread_mutex_lock(&crew->lock);
        size_t at = crew->next;
        crew->next += at < crew->count;
        (void)pthread_mutex_unlock(&crew->lock);
        if (at >= crew->count)
            return NULL;
        const struct td_plan_rig *rig = crew->rigs[at];
        td_plan_block_solve(crew->hill, &rig->rig, &rig->weights, worker->work,
                            &crew->blocks[at]);
    }
}

const struct td_plan_block *td_plan_crew_solve(struct td_plan_crew *crew,
                                               const struct td_hill *hill,
                                               struct td_plan_rig *const *rigs, size_t count)
{
    pthread_t threads[THREADS_MAX];
    size_t started = 1; /* this thread is the first */
    crew->hill = hill;
    crew->rigs = rigs;
    crew->count = count;
    crew->next = 0;
    while (started < crew->worker_count && started < count &&
           pthread_create(&threads[started], NULL, plan_some, &crew->workers[started]) == 0)
        started++;
    (void)plan_some(&crew->workers[0]);
    for (size_t i = 1; i < started; i++)
        (void)pthread_join(threads[i], NULL);
    return crew->blocks;
}

void td_plan_crew_free(struct td_plan_crew **crew)
{
    if (*crew == NULL)
        return;
    for (size_t i = 0; i < (*crew)->worker_count; i++)
        free((*crew)->workers[i].work);
    (void)pthread_mutex_destroy(&(*crew)->lock);
    free(*crew);
    *crew = NULL;
}
