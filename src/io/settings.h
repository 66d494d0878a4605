/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The daemon's settings file: YAML; every key has a default; an unknown key is an error with its
 * own line. */
#ifndef TD_IO_SETTINGS_H
#define TD_IO_SETTINGS_H

#include <stdbool.h>

#include "talkdown/coach.h"

enum { TD_PATH_MAX = 512 };

struct td_settings {
    char hills[TD_PATH_MAX];      /* hills: file or folder */
    char trusted_key[TD_PATH_MAX]; /* trusted_key: file of keys or a key itself; "" asks nobody */
    char rig[TD_PATH_MAX];        /* rig: file */
    char phrases[TD_PATH_MAX];    /* phrases: folder of language files */
    char language[16];            /* language: en-us */
    bool metric;                  /* units: us | metric */
    char logs[TD_PATH_MAX];       /* logs: folder for drive logs, "" keeps none */
    int keep_days;                /* drive logs older than so many days go; 0 no limit */
    int keep_mb;                  /* so many 10^6 bytes of them at most; 0 no limit */
    char control[TD_PATH_MAX];    /* control: path of the control socket */
    char state[TD_PATH_MAX];      /* state: file that carries heat and load across power cycles */
    char gpsd_host[64], gpsd_port[8];
    char button[TD_PATH_MAX];     /* input device of the driver's one button, "" none */
    char button_key[32];          /* name of its key, "" any */
    char device[128];             /* sound device by name, "" the default one */
    int stream_latency_ms;        /* 20 to 200 */
    enum td_talk talk;
    enum td_credit credit;
    double ambient_c;
    int volume_percent;           /* 40 to 100: never inaudible */
    double louder_above_mps;      /* below it half the volume; 0: always the whole */
    char log_level[8];            /* error, warn, info, debug */
};

void td_settings_default(struct td_settings *settings);
TD_CHECKED enum td_result td_settings_read(const char *path, struct td_settings *settings,
                                           struct td_problem *problem);
TD_CHECKED enum td_result td_settings_parse(const char *name, const char *bytes, size_t length,
                                            struct td_settings *settings,
                                            struct td_problem *problem);

#endif
