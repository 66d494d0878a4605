/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Lines of gpsd, good, odd and malicious; and the connection against a server of the test's own, in
 * the test's own time: silence, hang-up, back-off, half lines, lines of any length. */
#include "support/cm.h"

#include <arpa/inet.h>
#include <netinet/in.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "io/gpsd.h"
#include "talkdown/units.h"

enum { DEADLINE_S = 60, WAIT_MS = 10000 };

static struct td_gpsd_reader *reader;

static int make_reader(void **state)
{
    (void)state;
    /* A parser that loops for ever fails here and not at the end of the whole suite. */
    (void)alarm(DEADLINE_S);
    return td_gpsd_reader_new(&reader) == TD_OK ? 0 : -1;
}

static int free_reader(void **state)
{
    (void)state;
    td_gpsd_reader_free(&reader);
    return 0;
}

static enum td_gpsd_line read_line(const char *line, struct td_fix *fix)
{
    unsigned receivers = 99;
    memset(fix, 0, sizeof *fix);
    return td_gpsd_read_line(reader, line, strlen(line), 7, fix, &receivers);
}

#define TPV "{\"class\":\"TPV\",\"device\":\"/dev/ttyACM0\","
#define TIME "\"time\":\"2024-01-28T10:11:12.250Z\","

static void test_whole_report(void **state)
{
    (void)state;
    struct td_fix fix;
    assert_int_equal(read_line(TPV "\"mode\":3," TIME
                                   "\"ept\":0.005,\"lat\":-47.125,\"lon\":-128.5,\"altHAE\":1,"
                                   "\"altMSL\":812.5,\"track\":91.5,\"speed\":12.25,\"eps\":224.0,"
                                   "\"eph\":9.5}",
                               &fix),
                     TD_GPSD_FIX);
    assert_int_equal(fix.has, TD_FIX_POSITION | TD_FIX_ALTITUDE | TD_FIX_SPEED | TD_FIX_TRACK |
                                  TD_FIX_SIGMA | TD_FIX_UTC);
    assert_near(fix.lat_deg, -47.125, 0.0);
    assert_near(fix.lon_deg, -128.5, 0.0);
    assert_near(fix.altitude_m, 812.5, 0.0);
    assert_near(fix.track_deg, 91.5, 0.0);
    assert_near(fix.speed_mps, 12.25, 0.0);
    /* A circle of this radius holds 95 % of a two-dimensional normal: 1 - exp(-r2 / 2 sigma2). */
    assert_near(1.0 - exp(-9.5 * 9.5 / (2.0 * fix.sigma_m * fix.sigma_m)), 0.95, 1e-4);
    assert_int_equal(fix.utc_ms, 1706436672250);
    assert_int_equal(fix.received_ns, 7);
}

/* A report says only what it says: nothing of the one before. */
static void test_nothing_is_left_over(void **state)
{
    (void)state;
    struct td_fix fix;
    test_whole_report(state);
    assert_int_equal(read_line(TPV "\"mode\":2," TIME "\"lat\":1,\"lon\":2}", &fix), TD_GPSD_FIX);
    assert_int_equal(fix.has, TD_FIX_POSITION | TD_FIX_UTC);
    assert_int_equal(read_line(TPV "\"mode\":1," TIME "\"eph\":1.0}", &fix), TD_GPSD_NO_FIX);
    assert_int_equal(read_line(TPV "\"mode\":1}", &fix), TD_GPSD_NO_FIX);
}

static void test_not_believed(void **state)
{
    (void)state;
    struct td_fix fix;
    static const char *const lines[] = {
        TPV "\"mode\":1," TIME "\"lat\":1,\"lon\":2}",
        TPV "\"mode\":3,\"lat\":1,\"lon\":2}",
        TPV "\"mode\":3," TIME "\"lat\":1}",
        TPV "\"mode\":3," TIME "\"lat\":91,\"lon\":2}",
        TPV "\"mode\":3," TIME "\"lat\":0,\"lon\":0}",
        TPV "\"mode\":3," TIME "\"lat\":1,\"lon\":2,\"speed\":71}",
        TPV "\"mode\":3," TIME "\"lat\":1,\"lon\":2,\"eph\":1898.0}",
    };
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++)
        if (read_line(lines[i], &fix) != TD_GPSD_NO_FIX)
            fail_msg("believed: %s", lines[i]);
}

static void test_refused(void **state)
{
    (void)state;
    struct td_fix fix;
    /* The first three, and class not in front, make libgps 3.22 loop for ever; measured. */
    static const char *const lines[] = {
        "{x\"class\":\"TOFF\"",
        "{\"x\":[{}],\"class\":\"SKY\"}",
        "{\"class\":\"ERROR\":\"class\":\"DEVICE\"1",
        "",
        "{",
        "{\"class\":\"TPV\"",
        "{\"class\":\"TPV\",",
        "{\"class\":\"TPX\",\"lat\":1}",
        "{\"mode\":3,\"class\":\"TPV\"}",
        " {\"class\":\"TPV\",\"mode\":3}",
        TPV "\"mode\":3," TIME "\"lat\":1,\"lat\":2,\"lon\":2}",
        TPV "\"mode\":3," TIME "\"lat\":1e400,\"lon\":2}",
        TPV "\"mode\":3," TIME "\"lat\":\"1\",\"lon\":2}",
        TPV "\"mode\":3," TIME "\"lat\":NaN,\"lon\":2}",
        TPV "\"mode\":3," TIME "\"lat\":1,\"lon\":2}x",
        TPV "\"mode\":3,\"time\":\"2024-01-28T10:11:12.250Z2024-01-28T10:11:12.250Z\","
            "\"lat\":1,\"lon\":2}",
        "{\"class\":\"DEVICES\",\"devices\":3}",
    };
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++) {
        enum td_gpsd_line kind = read_line(lines[i], &fix);
        bool let_by = kind == TD_GPSD_ERROR || kind == TD_GPSD_OTHER;
        if (kind != TD_GPSD_REFUSED && !let_by)
            fail_msg("read as %d: %s", (int)kind, lines[i]);
    }
    assert_int_equal(read_line(lines[0], &fix), TD_GPSD_REFUSED);
    assert_int_equal(read_line(lines[1], &fix), TD_GPSD_REFUSED);
    static char longest[TD_GPSD_LINE_MAX + 256] =
        TPV "\"mode\":3," TIME "\"lat\":1,\"lon\":2,\"z\":\"";
    memset(longest + strlen(longest), 'a', TD_GPSD_LINE_MAX);
    assert_int_equal(td_gpsd_read_line(reader, longest, sizeof longest, 0, &fix, &(unsigned){0}),
                     TD_GPSD_REFUSED);
}

/* What a newer gpsd may put in a report must not cut it short. */
static void test_nested_member_is_passed_over(void **state)
{
    (void)state;
    struct td_fix fix;
    assert_int_equal(read_line(TPV "\"mode\":3,\"wind\":{\"speed\":99,\"lat\":5}," TIME
                                   "\"lat\":1,\"list\":[{}],\"lon\":2,\"speed\":3}",
                               &fix),
                     TD_GPSD_FIX);
    assert_near(fix.lat_deg, 1.0, 0.0);
    assert_near(fix.speed_mps, 3.0, 0.0);
}

static void test_other_lines(void **state)
{
    (void)state;
    struct td_fix fix;
    unsigned receivers = 99;
    static const char none[] = "{\"class\":\"DEVICES\",\"devices\":[]}";
    static const char two[] = "{\"class\":\"DEVICES\",\"devices\":[{\"path\":\"a\"},{}]}";
    assert_int_equal(td_gpsd_read_line(reader, none, strlen(none), 0, &fix, &receivers),
                     TD_GPSD_RECEIVERS);
    assert_int_equal(receivers, 0);
    assert_int_equal(td_gpsd_read_line(reader, two, strlen(two), 0, &fix, &receivers),
                     TD_GPSD_RECEIVERS);
    assert_int_equal(receivers, 2);
    assert_int_equal(read_line("{\"class\":\"SKY\",\"satellites\":[{}]}", &fix), TD_GPSD_OTHER);
    assert_int_equal(read_line("{\"class\":\"VERSION\",\"release\":\"3.22\"}", &fix),
                     TD_GPSD_OTHER);
    assert_int_equal(read_line("{\"class\":\"ERROR\",\"message\":\"x\"}", &fix), TD_GPSD_ERROR);
}

/* --- what gpsd 3.22 made of real receivers --- */

struct tally {
    unsigned reports, fixes, no_fixes, refused;
};

/* False when the file is not there. */
static bool tally_capture(const char *name, struct tally *tally)
{
    char path[512];
    (void)snprintf(path, sizeof path, "%s/data/captures/%s", TD_SHARED_DIR, name);
    FILE *file = fopen(path, "r");
    if (file == NULL)
        return false;
    static char line[TD_GPSD_LINE_MAX];
    memset(tally, 0, sizeof *tally);
    while (fgets(line, sizeof line, file) != NULL) {
        size_t length = strcspn(line, "\r\n");
        struct td_fix fix = {0};
        unsigned receivers;
        enum td_gpsd_line kind = td_gpsd_read_line(reader, line, length, 1, &fix, &receivers);
        tally->reports += strncmp(line, "{\"class\":\"TPV\"", 14) == 0;
        tally->fixes += kind == TD_GPSD_FIX;
        tally->no_fixes += kind == TD_GPSD_NO_FIX;
        tally->refused += kind == TD_GPSD_REFUSED && line[0] == '{';
        if (kind == TD_GPSD_FIX)
            assert_true(td_fix_is_sane(&fix));
    }
    (void)fclose(file);
    return true;
}

static void test_captures(void **state)
{
    (void)state;
    struct tally tally;
    if (!tally_capture("bu303-moving.log.chk", &tally)) {
        print_message("SKIPPED: %s/data/captures not there\n", TD_SHARED_DIR);
        skip();
    }
    assert_int_equal(tally.reports, 12);
    assert_int_equal(tally.fixes, 12);
    static const char *const blind[] = {"bu303-nofix.log.chk", "bu303b-nofix.log.chk"};
    for (size_t i = 0; i < 2; i++) {
        assert_true(tally_capture(blind[i], &tally));
        assert_true(tally.reports > 5);
        assert_int_equal(tally.fixes, 0);
        assert_int_equal(tally.no_fixes, tally.reports);
    }
    static const char *const odd[] = {"nmea-fuzzy-cases.log.chk", "tcp-torture.log.chk",
                                      "quectelLC79D.log.chk", "ublox-neo-m9n-nmea.log.chk",
                                      "sirfstarv.log.chk", "garmin18x-bin.log.chk"};
    for (size_t i = 0; i < sizeof odd / sizeof odd[0]; i++) {
        assert_true(tally_capture(odd[i], &tally));
        assert_int_equal(tally.refused, 0);
        assert_int_equal(tally.fixes + tally.no_fixes, tally.reports);
    }
}

/* --- the connection --- */

static int listener, peer;
static struct td_gpsd *gpsd;
static int64_t now_ns;

static int listen_somewhere(void **state)
{
    (void)state;
    (void)alarm(DEADLINE_S);
    struct sockaddr_in at = {.sin_family = AF_INET};
    at.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    listener = socket(AF_INET, SOCK_STREAM, 0);
    socklen_t size = sizeof at;
    char port[8];
    if (bind(listener, (struct sockaddr *)&at, sizeof at) != 0 || listen(listener, 8) != 0 ||
        getsockname(listener, (struct sockaddr *)&at, &size) != 0)
        return -1;
    (void)snprintf(port, sizeof port, "%u", ntohs(at.sin_port));
    now_ns = TD_NS_PER_S;
    peer = -1;
    return td_gpsd_open("127.0.0.1", port, now_ns, &gpsd, NULL) == TD_OK ? 0 : -1;
}

static int close_all(void **state)
{
    (void)state;
    td_gpsd_close(&gpsd);
    (void)close(listener);
    if (peer >= 0)
        (void)close(peer);
    return 0;
}

static void ready(void)
{
    struct pollfd wait = {.fd = td_gpsd_fd(gpsd), .events = td_gpsd_poll_events(gpsd)};
    assert_int_equal(poll(&wait, 1, WAIT_MS), 1);
    td_gpsd_ready(gpsd, now_ns);
}

/* Lets it connect and takes the other end, having read what it asks for. */
static void accept_it(void)
{
    td_gpsd_tick(gpsd, now_ns);
    assert_true(td_gpsd_fd(gpsd) >= 0);
    if (td_gpsd_poll_events(gpsd) == POLLOUT)
        ready();
    peer = accept(listener, NULL, NULL);
    assert_true(peer >= 0);
    char asked[128] = "";
    assert_true(recv(peer, asked, sizeof asked - 1, 0) > 0);
    assert_non_null(strstr(asked, "?WATCH={\"enable\":true,\"json\":true}"));
}

static void say(const char *text)
{
    assert_int_equal(send(peer, text, strlen(text), MSG_NOSIGNAL), strlen(text));
    ready();
}

static enum td_gpsd_health health(void)
{
    struct td_gpsd_state state;
    td_gpsd_state(gpsd, &state);
    return state.health;
}

#define REPORT(time, lat)                                                                          \
    "{\"class\":\"TPV\",\"mode\":3,\"time\":\"" time "\",\"lat\":" lat ",\"lon\":2}\r\n"

static void test_reports_come_through(void **state)
{
    (void)state;
    struct td_fix fix;
    assert_int_equal(health(), TD_GPSD_DOWN);
    accept_it();
    assert_int_equal(health(), TD_GPSD_SILENT);
    say("{\"class\":\"VERSION\",\"release\":\"3.22\"}\r\n"
        "{\"class\":\"DEVICES\",\"devices\":[]}\r\n");
    assert_int_equal(health(), TD_GPSD_NO_RECEIVER);
    say("{\"class\":\"TPV\",\"mode\":1}\r\n");
    assert_int_equal(health(), TD_GPSD_SEARCHING);
    assert_false(td_gpsd_fix(gpsd, &fix));
    /* A report in two pieces, then the same moment again, then the next. */
    say("{\"class\":\"TPV\",\"mode\":3,\"time\":\"2024-01-28T10:00:00Z\",\"la");
    assert_false(td_gpsd_fix(gpsd, &fix));
    say("t\":1,\"lon\":2}\r\n" REPORT("2024-01-28T10:00:00Z", "5"));
    say("garbage\n" REPORT("2024-01-28T10:00:01Z", "3"));
    assert_int_equal(health(), TD_GPSD_FIXES);
    assert_true(td_gpsd_fix(gpsd, &fix));
    assert_near(fix.lat_deg, 1.0, 0.0);
    assert_true(td_gpsd_fix(gpsd, &fix));
    assert_near(fix.lat_deg, 3.0, 0.0);
    assert_false(td_gpsd_fix(gpsd, &fix));
    struct td_gpsd_state told;
    td_gpsd_state(gpsd, &told);
    assert_int_equal(told.refused_lines, 1);
    assert_int_equal(told.fixes, 2);
}

static void test_silence_opens_anew(void **state)
{
    (void)state;
    struct td_fix fix;
    accept_it();
    say(REPORT("2024-01-28T10:00:00Z", "1"));
    assert_true(td_gpsd_fix(gpsd, &fix));
    int64_t heard_ns = now_ns;
    assert_int_equal(td_gpsd_next_tick_ns(gpsd), heard_ns + 5 * TD_NS_PER_S);
    now_ns = heard_ns + 5 * TD_NS_PER_S - 1;
    td_gpsd_tick(gpsd, now_ns);
    assert_int_equal(health(), TD_GPSD_FIXES);
    now_ns++;
    td_gpsd_tick(gpsd, now_ns);
    assert_int_equal(health(), TD_GPSD_SILENT);
    assert_int_equal(td_gpsd_fd(gpsd), -1);
    assert_int_equal(td_gpsd_next_tick_ns(gpsd), now_ns + TD_NS_PER_S / 4);
    (void)close(peer);
    now_ns += TD_NS_PER_S / 4;
    accept_it();
    assert_int_equal(health(), TD_GPSD_SILENT);
    say(REPORT("2024-01-28T10:00:09Z", "4"));
    assert_int_equal(health(), TD_GPSD_FIXES);
    assert_true(td_gpsd_fix(gpsd, &fix));
}

/* What gpsd says of itself does not count as a receiver that lives. */
static void test_talk_without_reports_is_silence(void **state)
{
    (void)state;
    accept_it();
    int64_t connected_ns = now_ns;
    now_ns += 3 * TD_NS_PER_S;
    say("{\"class\":\"SKY\",\"satellites\":[]}\r\n");
    assert_int_equal(td_gpsd_next_tick_ns(gpsd), connected_ns + 5 * TD_NS_PER_S);
}

static void test_hang_up_and_back_off(void **state)
{
    (void)state;
    accept_it();
    say(REPORT("2024-01-28T10:00:00Z", "1"));
    (void)close(peer);
    (void)close(listener);
    ready();
    assert_int_equal(health(), TD_GPSD_DOWN);
    static const int64_t wait_ms[] = {250, 500, 1000, 2000, 4000, 5000, 5000};
    for (size_t i = 0; i < sizeof wait_ms / sizeof wait_ms[0]; i++) {
        assert_int_equal(td_gpsd_fd(gpsd), -1);
        assert_int_equal(td_gpsd_next_tick_ns(gpsd) - now_ns, wait_ms[i] * TD_NS_PER_MS);
        now_ns = td_gpsd_next_tick_ns(gpsd);
        td_gpsd_tick(gpsd, now_ns);
        if (td_gpsd_fd(gpsd) >= 0)
            ready(); /* refused only now */
        assert_int_equal(health(), TD_GPSD_DOWN);
    }
}

static void test_line_without_end(void **state)
{
    (void)state;
    accept_it();
    static char block[4097];
    memset(block, 'x', sizeof block - 1);
    for (int i = 0; i < 30; i++)
        say(block);
    say("\n" REPORT("2024-01-28T10:00:00Z", "1"));
    struct td_fix fix;
    assert_true(td_gpsd_fix(gpsd, &fix));
    struct td_gpsd_state told;
    td_gpsd_state(gpsd, &told);
    assert_int_equal(told.refused_lines, 1);
}

static void test_queue_drops_the_oldest(void **state)
{
    (void)state;
    accept_it();
    char line[256];
    for (int i = 0; i < 40; i++) {
        (void)snprintf(line, sizeof line, REPORT("2024-01-28T10:00:%02dZ", "%d"), i, 1 + i);
        say(line);
    }
    struct td_fix fix;
    struct td_gpsd_state told;
    td_gpsd_state(gpsd, &told);
    assert_int_equal(told.dropped_fixes, 8);
    assert_true(td_gpsd_fix(gpsd, &fix));
    assert_near(fix.lat_deg, 9.0, 0.0);
}

static void test_bad_settings(void **state)
{
    (void)state;
    struct td_gpsd *none = NULL;
    struct td_problem problem;
    static const char *const ports[] = {"", "x", "0", "65536", "29 47", "2947x"};
    for (size_t i = 0; i < sizeof ports / sizeof ports[0]; i++)
        assert_int_equal(td_gpsd_open("::1", ports[i], 0, &none, &problem), TD_INVALID);
    assert_int_equal(td_gpsd_open("truck.example", "2947", 0, &none, &problem), TD_INVALID);
    assert_non_null(strstr(problem.text, "localhost"));
    assert_int_equal(td_gpsd_open("localhost", "2947", 0, &none, &problem), TD_OK);
    td_gpsd_close(&none);
}

#define LINE_TEST(f) cmocka_unit_test_setup_teardown(f, make_reader, free_reader)
#define LINK_TEST(f) cmocka_unit_test_setup_teardown(f, listen_somewhere, close_all)

int main(void)
{
    const struct CMUnitTest tests[] = {
        LINE_TEST(test_whole_report),
        LINE_TEST(test_nothing_is_left_over),
        LINE_TEST(test_not_believed),
        LINE_TEST(test_refused),
        LINE_TEST(test_nested_member_is_passed_over),
        LINE_TEST(test_other_lines),
        LINE_TEST(test_captures),
        LINK_TEST(test_reports_come_through),
        LINK_TEST(test_silence_opens_anew),
        LINK_TEST(test_talk_without_reports_is_silence),
        LINK_TEST(test_hang_up_and_back_off),
        LINK_TEST(test_line_without_end),
        LINK_TEST(test_queue_drops_the_oldest),
        cmocka_unit_test(test_bad_settings),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
