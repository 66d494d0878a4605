/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The whole coach on a road net: a shell that offers the hills on file near the truck, solves plans
 * and speaks for a fixed time, in virtual time. */
#ifndef TD_TESTS_NET_CAB_H
#define TD_TESTS_NET_CAB_H

#include "support/road_net.h"
#include "talkdown/coach.h"

struct net_cab {
    const struct net *net;
    struct td_setup setup;
    void *memory;
    struct td_coach *coach;
    struct td_plan_work *work;
    struct td_plan plan;
    struct td_input input;
    struct td_output output;
    int64_t now_ns;
    /* On their way to the coach. */
    struct td_want want;
    size_t offer_next; /* hill to look at next for the want in hand */
    struct td_solve solve;
    bool speaking, started;
    uint32_t serial;
    int64_t start_ns, end_ns;
    bool cut;
    /* Called right before and right after every step; NULL for none. */
    void (*stepping)(void *who, const struct net_cab *cab);
    void (*stepped)(void *who, const struct net_cab *cab);
    void *who;
};

/* A new drive on a net; memory is kept from drive to drive. */
void net_cab_begin(struct net_cab *cab, const struct net *net, int64_t now_ns);
/* What falls due until then, then a step with the fix. */
void net_cab_fix(struct net_cab *cab, const struct td_fix *fix, int64_t now_ns);
void net_cab_run_to(struct net_cab *cab, int64_t until_ns);
void net_cab_free(struct net_cab *cab);

#endif
