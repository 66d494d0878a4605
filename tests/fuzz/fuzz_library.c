/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Any bytes as a library: refused in one clear line, at opening or at reading, or its hills are
 * what their hashes say. SQLite reads by name, so the bytes go through a file. */
#include "fuzz/fuzz.h"

#include <unistd.h>

#include "io/library_audit.h"

enum { HILLS_MOST = 6, STEPS_MOST = 1000000 };

static char path[] = "fuzz-library-XXXXXX";
static int fd = -1;

static void remove_it(void)
{
    (void)unlink(path);
}

static void write_it(const uint8_t *data, size_t size)
{
    if (fd < 0) {
        fd = mkstemp(path);
        MUST(fd >= 0 && atexit(remove_it) == 0);
    }
    MUST(ftruncate(fd, 0) == 0);
    for (size_t done = 0; done < size;) {
        ssize_t put = pwrite(fd, data + done, size - done, (off_t)done);
        MUST(put > 0);
        done += (size_t)put;
    }
}

static void must_be_refused_well(enum td_result result, const struct td_problem *problem)
{
    if (result == TD_UNSUPPORTED || result == TD_IO)
        result = TD_INVALID;
    must_be_clear(result, problem, path);
}

static void search(struct td_library_file *library)
{
    static const double places[][3] = {
        {-61.5, -174, 6000}, {-60, -170, 500000}, {0, 180, 9000000}, {90, 0, 100}};
    for (size_t i = 0; i < sizeof places / sizeof places[0]; i++) {
        size_t indexes[4], found = 0;
        struct td_problem problem = {0};
        enum td_result result = td_library_file_near(library, places[i][0], places[i][1],
                                                     places[i][2], indexes, 4, &found, &problem);
        if (result != TD_OK)
            must_be_refused_well(result, &problem);
        for (size_t k = 0; result == TD_OK && k < found && k < 4; k++)
            MUST(indexes[k] < td_library_file_count(library));
    }
}

static void read_hills(struct td_library_file *library)
{
    size_t count = td_library_file_count(library);
    for (size_t i = 0; i < count && i < HILLS_MOST; i++) {
        struct td_hill_file *file = NULL;
        struct td_hill_entry entry;
        struct td_problem problem = {0};
        enum td_result result = td_library_file_read(library, i, &file, &problem);
        MUST((result == TD_OK) == (file != NULL));
        if (result != TD_OK)
            must_be_refused_well(result, &problem);
        td_hill_file_free(&file);
        result = td_library_file_entry(library, i, &entry, &problem);
        if (result != TD_OK)
            must_be_refused_well(result, &problem);
        result = td_library_file_check(library, i, &problem);
        if (result != TD_OK)
            must_be_refused_well(result, &problem);
    }
}

/* Whatever the nodes of its index say, this comes to its end. */
static void look_through(struct td_library_file *library)
{
    struct td_library_audit *audit = NULL;
    struct td_problem problem = {0};
    bool done = false;
    enum td_result result = td_library_audit_open(library, TD_AUDIT_ALL, &audit, &problem);
    MUST((result == TD_OK) == (audit != NULL));
    for (size_t steps = 0; result == TD_OK && !done; steps++) {
        MUST(steps < STEPS_MOST);
        result = td_library_audit_step(audit, &done, &problem);
    }
    if (result != TD_OK)
        must_be_refused_well(result, &problem);
    td_library_audit_close(&audit);
}

/* The header as the packer writes it, with the size that the file has now: what is wrong lies
 * deeper then. */
static void mend_header(size_t size)
{
    static const uint8_t page_size[] = {0x10, 0x00, 1, 1, 0, 64, 32, 32};
    size_t pages = size / 4096;
    const uint8_t count[] = {(uint8_t)(pages >> 24), (uint8_t)(pages >> 16), (uint8_t)(pages >> 8),
                             (uint8_t)pages};
    MUST(ftruncate(fd, (off_t)(pages * 4096)) == 0);
    MUST(pwrite(fd, "SQLite format 3", 16, 0) == 16);
    MUST(pwrite(fd, page_size, sizeof page_size, 16) == sizeof page_size);
    MUST(pwrite(fd, count, sizeof count, 28) == sizeof count);
    MUST(pwrite(fd, "\0\0\0\1", 4, 24) == 4 && pwrite(fd, "\0\0\0\1", 4, 92) == 4);
    MUST(pwrite(fd, "\0\0\0\2", 4, 60) == 4 && pwrite(fd, "tdlb", 4, 68) == 4);
}

static void try_file(void)
{
    struct td_library_file *library = NULL;
    struct td_problem problem = {0};
    enum td_result result = td_library_file_open(path, &library, &problem);
    MUST((result == TD_OK) == (library != NULL));
    if (result != TD_OK) {
        must_be_refused_well(result, &problem);
        return;
    }
    search(library);
    read_hills(library);
    look_through(library);
    td_library_file_close(&library);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    write_it(data, size);
    try_file();
    if (size >= 4096) {
        mend_header(size);
        try_file();
    }
    return 0;
}
