/* SPDX-License-Identifier: GPL-3.0-or-later */
/* await SECONDS COMMAND...: runs the command again and again until it succeeds; exit 1 when it has
 * not within the time. await free-ports COUNT: that many ports of this machine, free for TCP and
 * UDP a moment ago, one a line. So shell tests need no sleeping and no fixed ports. */
#include <arpa/inet.h>
#include <netinet/in.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

enum { AGAIN_AFTER_MS = 100, PORTS_MOST = 16 };

static long seconds_now(void)
{
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (long)now.tv_sec;
}

static int succeeded(char **command)
{
    pid_t child = fork();
    if (child == 0) {
        (void)execvp(command[0], command);
        _exit(127);
    }
    int status = 0;
    return child > 0 && waitpid(child, &status, 0) == child && WIFEXITED(status) &&
           WEXITSTATUS(status) == 0;
}

/* The same number must be free for both; the sockets stay open until all have been found, so that
 * no port comes twice. */
static int free_port(void)
{
    struct sockaddr_in at = {.sin_family = AF_INET};
    at.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    socklen_t size = sizeof at;
    int tcp = socket(AF_INET, SOCK_STREAM, 0), udp = socket(AF_INET, SOCK_DGRAM, 0);
    if (bind(tcp, (struct sockaddr *)&at, sizeof at) != 0 ||
        getsockname(tcp, (struct sockaddr *)&at, &size) != 0 ||
        bind(udp, (struct sockaddr *)&at, sizeof at) != 0)
        return -1;
    return ntohs(at.sin_port);
}

static int print_free_ports(const char *count_text)
{
    long count = strtol(count_text, NULL, 10);
    for (long i = 0; i < count && i < PORTS_MOST; i++) {
        int port = free_port();
        for (int again = 0; port < 0 && again < 100; again++)
            port = free_port();
        if (port < 0)
            return 1;
        printf("%d\n", port);
    }
    return 0;
}

int main(int argc, char **argv)
{
    if (argc == 3 && strcmp(argv[1], "free-ports") == 0)
        return print_free_ports(argv[2]);
    if (argc < 3) {
        fputs("use: await SECONDS COMMAND... | await free-ports COUNT\n", stderr);
        return 2;
    }
    long until = seconds_now() + strtol(argv[1], NULL, 10);
    while (!succeeded(argv + 2)) {
        if (seconds_now() >= until) {
            fprintf(stderr, "await: %s: not within %s s\n", argv[2], argv[1]);
            return 1;
        }
        (void)poll(NULL, 0, AGAIN_AFTER_MS);
    }
    return 0;
}
