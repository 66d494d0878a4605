/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The tables of a drive log, shared by writer and reader; docs/formats.md specifies them. */
#ifndef TD_IO_DRIVE_SCHEMA_H
#define TD_IO_DRIVE_SCHEMA_H

enum {
    TD_DRIVE_APPLICATION_ID = 0x7464644c, /* "tddL" */
    TD_DRIVE_VERSION = 2, /* 2: rigs with retarders, kinds of brakes, driving power */
};

#define TD_DRIVE_SCHEMA                                                                            \
    "CREATE TABLE meta(key TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;"                  \
    "CREATE TABLE hill(hash BLOB PRIMARY KEY, id TEXT NOT NULL, name TEXT NOT NULL,"               \
    " bytes BLOB NOT NULL);"                                                                       \
    "CREATE TABLE handle(seq INTEGER NOT NULL, handle INTEGER NOT NULL, hash BLOB NOT NULL"        \
    " REFERENCES hill(hash));"                                                                     \
    "CREATE TABLE step(seq INTEGER PRIMARY KEY, now_ns INTEGER NOT NULL, input TEXT NOT NULL);"    \
    "CREATE TABLE event(seq INTEGER NOT NULL, place INTEGER NOT NULL, now_ns INTEGER NOT NULL,"    \
    " kind TEXT NOT NULL, why TEXT NOT NULL, value INTEGER NOT NULL, serial INTEGER,"              \
    " prompt TEXT, category TEXT, handle INTEGER NOT NULL, along_m REAL, speed_mps REAL,"          \
    " json TEXT, PRIMARY KEY(seq, place)) WITHOUT ROWID;"                                          \
    "CREATE TABLE words(serial INTEGER PRIMARY KEY, now_ns INTEGER NOT NULL,"                      \
    " words TEXT NOT NULL);"                                                                       \
    "CREATE TABLE estimate(seq INTEGER PRIMARY KEY, now_ns INTEGER NOT NULL, place TEXT NOT NULL," \
    " handle INTEGER NOT NULL, along_m REAL, sigma_m REAL, speed_mps REAL, target_mps REAL,"       \
    " heat_least_c REAL, heat_likely_c REAL, heat_most_c REAL);"                                   \
    "CREATE TABLE gap(seq INTEGER NOT NULL, now_ns INTEGER NOT NULL, count INTEGER NOT NULL,"      \
    " what TEXT NOT NULL);"

#endif
