/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a function came to, and the one clear line told to a person when it did not come well.
 *
 * Ownership: plain values, no heap. Thread: any. A function that returns td_result leaves its
 * out-parameters untouched unless it returns TD_OK; it writes the problem when the pointer is
 * not NULL and the result is not TD_OK. */
#ifndef TD_RESULT_H
#define TD_RESULT_H

enum td_result {
    TD_OK = 0,
    TD_INVALID,     /* data from outside is wrong: a value, a unit, an order, a missing part */
    TD_FULL,        /* a fixed capacity is used up; the header names the capacity */
    TD_NOT_FOUND,   /* no such file, hill, rig, load, device */
    TD_IO,          /* the operating system refused: the problem carries its words */
    TD_NO_MEMORY,   /* heap or caller's work area too small */
    TD_UNSUPPORTED, /* well formed, but this version cannot do it; the problem says so */
};

/* Marks a result that must be looked at. */
#if defined(__GNUC__)
#define TD_CHECKED __attribute__((warn_unused_result))
#define TD_PRINTF(fmt_at, args_at) __attribute__((format(printf, fmt_at, args_at)))
#else
#define TD_CHECKED
#define TD_PRINTF(fmt_at, args_at)
#endif

enum { TD_PROBLEM_FILE_MAX = 256, TD_PROBLEM_TEXT_MAX = 384 };

/* One line for a person: "FILE:LINE: what is wrong; what would be right". */
struct td_problem {
    char file[TD_PROBLEM_FILE_MAX]; /* empty when no file is involved */
    int line;                       /* 1 and up; 0 when unknown */
    char text[TD_PROBLEM_TEXT_MAX]; /* place in the file (key, feature), what is wrong, the cure */
};

/* A short lower-case word for a result ("invalid"), for logs; never NULL. */
const char *td_result_name(enum td_result result);

#endif
