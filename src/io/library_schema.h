/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The tables of a library, shared by packer and reader; docs/formats.md specifies them. */
#ifndef TD_IO_LIBRARY_SCHEMA_H
#define TD_IO_LIBRARY_SCHEMA_H

enum {
    TD_LIBRARY_APPLICATION_ID = 0x74646c62, /* "tdlb" */
    TD_LIBRARY_VERSION = 2,
    TD_LIBRARY_PAGE = 4096,
    TD_LIBRARY_REVISION_MAX = 999999999,
    TD_LIBRARY_BLOCK = 64,  /* hills whose leaves one hash of the manifest covers */
    TD_LIBRARY_PIECE_BITS = 13, /* a hill has at most 8191 pieces of road */
};

/* Hills are numbered from 1 in the order of their ids. What a list tells stands apart from the
 * bytes, and both apart from the index, so that each is read without the others. */
#define TD_LIBRARY_HILL                                                                            \
    "CREATE TABLE hill(number INTEGER PRIMARY KEY, id TEXT NOT NULL UNIQUE, name TEXT NOT NULL,"   \
    " surveyed TEXT NOT NULL, revision INTEGER NOT NULL, hash BLOB NOT NULL,"             \
    " leaf BLOB NOT NULL, south_deg REAL NOT NULL, north_deg REAL NOT NULL,"                       \
    " west_deg REAL NOT NULL, east_deg REAL NOT NULL,"                                             \
    " length_m REAL NOT NULL, crest_m REAL, foot_m REAL, mean_downgrade REAL,"                     \
    " steepest_downgrade REAL NOT NULL, pieces INTEGER NOT NULL, places INTEGER NOT NULL)"
#define TD_LIBRARY_PROFILE                                                                         \
    "CREATE TABLE profile(number INTEGER PRIMARY KEY, bytes BLOB NOT NULL)"
#define TD_LIBRARY_ROAD                                                                            \
    "CREATE VIRTUAL TABLE road USING rtree(piece, south_deg, north_deg, west_deg, east_deg)"
#define TD_LIBRARY_BLOCKS                                                                          \
    "CREATE TABLE block(number INTEGER PRIMARY KEY, hash BLOB NOT NULL)"
#define TD_LIBRARY_META                                                                            \
    "CREATE TABLE meta(key TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID"

/* The manifest, in full; what the signature signs. The revision is the library's; the root is the
 * hash of all block hashes, one after the other. */
#define TD_LIBRARY_MANIFEST                                                                        \
    "talkdown library, version 2\nrevision %u\nhills %zu\npieces %zu\nroot %s\n"

#endif
