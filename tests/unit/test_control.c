/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Requests as JSON both ways, and the control socket: modes, bad packets, clients that come, go and
 * never read, a socket left behind and one that is taken. */
#include "daemon/control.h"

#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include "support/cm.h"

enum { WAIT_MS = 10000 };

static char folder[64], path[96];
static struct td_control *control;

static int open_control(void **state)
{
    (void)state;
    (void)snprintf(folder, sizeof folder, "control-test.XXXXXX");
    if (mkdtemp(folder) == NULL)
        return -1;
    (void)snprintf(path, sizeof path, "%s/control", folder);
    return td_control_open(path, &control, NULL) == TD_OK ? 0 : -1;
}

static int close_control(void **state)
{
    (void)state;
    td_control_close(&control);
    return rmdir(folder); /* fails when the socket was left behind */
}

static void turn(void)
{
    struct pollfd polls[TD_CONTROL_POLLS_MAX];
    size_t count = td_control_polls(control, polls);
    assert_true(poll(polls, (nfds_t)count, WAIT_MS) > 0);
    td_control_ready(control, polls, count);
}

static int connect_to(void)
{
    struct sockaddr_un at = {.sun_family = AF_UNIX};
    (void)snprintf(at.sun_path, sizeof at.sun_path, "%s", path);
    int fd = socket(AF_UNIX, SOCK_SEQPACKET, 0);
    assert_int_equal(connect(fd, (struct sockaddr *)&at, sizeof at), 0);
    turn();
    return fd;
}

static void send_text(int fd, const char *text)
{
    assert_int_equal(send(fd, text, strlen(text), MSG_NOSIGNAL), strlen(text));
    turn();
}

static const char *receive(int fd)
{
    static char bytes[TD_REPLY_BYTES_MAX];
    struct pollfd wait = {.fd = fd, .events = POLLIN};
    assert_int_equal(poll(&wait, 1, WAIT_MS), 1);
    ssize_t got = recv(fd, bytes, sizeof bytes - 1, 0);
    assert_true(got >= 0);
    bytes[got] = '\0';
    return bytes;
}

static void test_requests_both_ways(void **state)
{
    (void)state;
    for (int kind = 0; kind < TD_REQUEST_KINDS; kind++) {
        struct td_request request = {.kind = (enum td_request_kind)kind}, back;
        if (td_request_key(request.kind) != NULL)
            (void)snprintf(request.word, sizeof request.word, "a \"word\" {%d}", kind);
        char *text = td_request_text(&request);
        assert_non_null(text);
        assert_int_equal(td_request_read(text, strlen(text), &back, NULL), TD_OK);
        assert_int_equal(back.kind, request.kind);
        assert_string_equal(back.word, request.word);
        free(text);
    }
}

static void test_requests_refused(void **state)
{
    (void)state;
    static const char *const texts[] = {
        "",
        "again",
        "[]",
        "{}",
        "{\"command\":3}",
        "{\"command\":\"fly\"}",
        "{\"command\":\"again\",\"x\":1}",
        "{\"command\":\"load\"}",
        "{\"command\":\"load\",\"name\":\"\"}",
        "{\"command\":\"load\",\"name\":7}",
        "{\"command\":\"load\",\"name\":\"full\",\"state\":\"wet\"}",
        "{\"command\":\"again\",\"command\":\"quiet\"}",
        "{\"command\":\"again\"} {\"command\":\"again\"}",
    };
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        struct td_request request;
        struct td_problem problem = {0};
        if (td_request_read(texts[i], strlen(texts[i]), &request, &problem) != TD_INVALID)
            fail_msg("taken: %s", texts[i]);
        assert_string_not_equal(problem.text, "");
    }
}

static void test_a_request_and_its_reply(void **state)
{
    (void)state;
    struct stat about;
    assert_int_equal(stat(path, &about), 0);
    assert_int_equal(about.st_mode & 0777, 0660);
    int fd = connect_to();
    send_text(fd, "{\"command\":\"road\",\"state\":\"wet\"}");
    struct td_request request;
    uint32_t client = 0;
    assert_true(td_control_request(control, &request, &client));
    assert_int_equal(request.kind, TD_REQUEST_ROAD);
    assert_string_equal(request.word, "wet");
    assert_false(td_control_request(control, &request, &client));
    td_control_result(control, client, TD_OK, NULL);
    assert_string_equal(receive(fd), "{\"ok\":true}");
    /* A second reply to the same request goes nowhere. */
    td_control_reply(control, client, "no");
    send_text(fd, "{\"command\":\"status\"}");
    assert_true(td_control_request(control, &request, &client));
    td_control_reply(control, client, "yes");
    assert_string_equal(receive(fd), "yes");
    (void)close(fd);
    turn();
}

static void test_nonsense_is_answered(void **state)
{
    (void)state;
    struct td_request request;
    uint32_t client;
    int fd = connect_to();
    send_text(fd, "{\"command\":\"fly\"}");
    assert_false(td_control_request(control, &request, &client));
    assert_non_null(strstr(receive(fd), "no such command"));
    char large[TD_REQUEST_BYTES_MAX + 100];
    memset(large, 'x', sizeof large);
    large[sizeof large - 1] = '\0';
    send_text(fd, large);
    assert_false(td_control_request(control, &request, &client));
    assert_non_null(strstr(receive(fd), "at most"));
    (void)close(fd);
    turn();
}

static void test_impatient_client_is_hung_up_on(void **state)
{
    (void)state;
    struct td_request request;
    uint32_t client;
    int fd = connect_to();
    send_text(fd, "{\"command\":\"again\"}");
    send_text(fd, "{\"command\":\"again\"}");
    assert_string_equal(receive(fd), "");
    assert_false(td_control_request(control, &request, &client));
    (void)close(fd);
}

/* The answer to a client that is gone, and to another in its place. */
static void test_late_answer(void **state)
{
    (void)state;
    struct td_request request;
    uint32_t gone, here;
    int fd = connect_to();
    send_text(fd, "{\"command\":\"reload\"}");
    assert_true(td_control_request(control, &request, &gone));
    (void)close(fd);
    turn();
    fd = connect_to();
    send_text(fd, "{\"command\":\"status\"}");
    assert_true(td_control_request(control, &request, &here));
    assert_int_not_equal(gone, here);
    td_control_reply(control, gone, "wrong");
    td_control_reply(control, here, "right");
    assert_string_equal(receive(fd), "right");
    (void)close(fd);
}

static void test_too_many_clients(void **state)
{
    (void)state;
    int fds[TD_CONTROL_CLIENTS_MAX];
    for (size_t i = 0; i < TD_CONTROL_CLIENTS_MAX; i++)
        fds[i] = connect_to();
    int more = connect_to();
    assert_string_equal(receive(more), "");
    (void)close(more);
    for (size_t i = 0; i < TD_CONTROL_CLIENTS_MAX; i++)
        (void)close(fds[i]);
}

static void test_whose_socket(void **state)
{
    (void)state;
    struct td_control *second = NULL;
    struct td_problem problem = {0};
    assert_int_equal(td_control_open(path, &second, &problem), TD_INVALID);
    assert_non_null(strstr(problem.text, "another talkdownd"));
    turn();
    /* A crash leaves its socket behind; the next daemon takes it over. */
    char left[96];
    (void)snprintf(left, sizeof left, "%.80s/left", folder);
    struct sockaddr_un at = {.sun_family = AF_UNIX};
    (void)snprintf(at.sun_path, sizeof at.sun_path, "%s", left);
    int fd = socket(AF_UNIX, SOCK_SEQPACKET, 0);
    assert_int_equal(bind(fd, (struct sockaddr *)&at, sizeof at), 0);
    (void)close(fd);
    assert_int_equal(td_control_open(left, &second, &problem), TD_OK);
    td_control_close(&second);
    FILE *file = fopen(left, "w");
    assert_non_null(file);
    (void)fclose(file);
    assert_int_equal(td_control_open(left, &second, &problem), TD_INVALID);
    assert_non_null(strstr(problem.text, "no socket"));
    assert_int_equal(unlink(left), 0);
    char longest[200];
    memset(longest, 'x', sizeof longest);
    longest[sizeof longest - 1] = '\0';
    assert_int_equal(td_control_open(longest, &second, &problem), TD_INVALID);
    assert_non_null(strstr(problem.text, "too long"));
    assert_int_equal(td_control_open("no/such/folder/control", &second, &problem), TD_IO);
}

#define SOCKET_TEST(f) cmocka_unit_test_setup_teardown(f, open_control, close_control)

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_requests_both_ways),
        cmocka_unit_test(test_requests_refused),
        SOCKET_TEST(test_a_request_and_its_reply),
        SOCKET_TEST(test_nonsense_is_answered),
        SOCKET_TEST(test_impatient_client_is_hung_up_on),
        SOCKET_TEST(test_late_answer),
        SOCKET_TEST(test_too_many_clients),
        SOCKET_TEST(test_whose_socket),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
