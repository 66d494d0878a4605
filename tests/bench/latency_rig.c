/* SPDX-License-Identifier: GPL-3.0-or-later */
/* latency_rig PORT SECONDS SENDS ONSETS: a truck down the hill of tests/support/lane_hill.sh,
 * five reports a second as NMEA over UDP to gpsd, and listens to the sound server's null sink
 * meanwhile. SENDS gets a line for each report, time of day in ms and when its last byte was sent;
 * ONSETS a line for each sound after silence: when its first sample was heard (ns of one clock).
 * What is recorded comes at most 20 ms late, which counts against the result. */
#include <arpa/inet.h>
#include <math.h>
#include <netinet/in.h>
#include <poll.h>
#include <signal.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

enum { RATE = 22050, SILENCE = RATE / 5, PERIOD_MS = 200, DAY_START_MS = 36000000 };

static const double degree_m = 111200; /* of latitude; near enough for a bench */

static int64_t now_ns(void)
{
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000000000 + now.tv_nsec;
}

/* It sways as a driver's does: motion without any is taken for a receiver's own invention. */
static double speed_at(double t_s)
{
    return 23 + 0.6 * sin(t_s);
}

static int add_sentence(char *text, size_t room, const char *body)
{
    unsigned sum = 0;
    for (const char *c = body; *c != '\0'; c++)
        sum ^= (unsigned char)*c;
    return snprintf(text, room, "$%s*%02X\r\n", body, sum);
}

static void send_report(int fd, const struct sockaddr_in *gpsd, int tick, double along_m,
                        double speed_mps, FILE *sends)
{
    char body[128], text[512], clock[32];
    long of_day_ms = DAY_START_MS + (long)tick * PERIOD_MS;
    double minutes = along_m / degree_m * 60;
    double height_m = fmax(0, 900 - fmax(0, along_m - 1500) * 0.04);
    int degrees = 47 + (int)(minutes / 60);
    (void)snprintf(clock, sizeof clock, "%02ld%02ld%02ld.%03ld", of_day_ms / 3600000,
                   of_day_ms / 60000 % 60, of_day_ms / 1000 % 60, of_day_ms % 1000);
    (void)snprintf(body, sizeof body, "GPRMC,%s,A,%02d%09.6f,S,12800.0000,W,%.2f,180.0,010630,,",
                   clock, degrees, fmod(minutes, 60), speed_mps / 0.514444);
    int length = add_sentence(text, sizeof text, body);
    (void)snprintf(body, sizeof body, "GPGGA,%s,%02d%09.6f,S,12800.0000,W,1,09,0.8,%.1f,M,0.0,M,,",
                   clock, degrees, fmod(minutes, 60), height_m);
    length += add_sentence(text + length, sizeof text - (size_t)length, body);
    (void)sendto(fd, text, (size_t)length, 0, (const struct sockaddr *)gpsd, sizeof *gpsd);
    (void)fprintf(sends, "%ld %lld\n", of_day_ms, (long long)now_ns());
}

static pid_t start_recorder(int *fd)
{
    int ends[2];
    if (pipe(ends) != 0)
        return -1;
    pid_t recorder = fork();
    if (recorder == 0) {
        (void)dup2(ends[1], STDOUT_FILENO);
        (void)close(ends[0]);
        (void)close(ends[1]);
        (void)execlp("parec", "parec", "-d", "cab.monitor", "--rate=22050", "--channels=1",
                     "--format=s16le", "--latency-msec=20", "--raw", (char *)NULL);
        _exit(127);
    }
    (void)close(ends[1]);
    *fd = ends[0];
    return recorder;
}

/* A sample is heard as much before the end of its piece as samples follow it there. */
static void listen_on(int fd, FILE *onsets)
{
    static size_t silent = SILENCE;
    int16_t piece[RATE / 4];
    ssize_t got = read(fd, piece, sizeof piece);
    int64_t heard_ns = now_ns();
    size_t count = got > 0 ? (size_t)got / sizeof piece[0] : 0;
    for (size_t i = 0; i < count; i++) {
        if (piece[i] != 0 && silent >= SILENCE)
            (void)fprintf(onsets, "%lld\n",
                          (long long)(heard_ns - (int64_t)(count - i) * 1000000000 / RATE));
        silent = piece[i] != 0 ? 0 : silent + 1;
    }
}

static void drive(int recorder_fd, const struct sockaddr_in *gpsd, int ticks, FILE *sends,
                  FILE *onsets)
{
    int fd = socket(AF_INET, SOCK_DGRAM, 0);
    double along_m = 1600;
    int64_t begun_ns = now_ns();
    for (int tick = 0; tick < ticks; tick++) {
        int64_t due_ns = begun_ns + (int64_t)tick * PERIOD_MS * 1000000;
        for (int64_t left_ns; (left_ns = due_ns - now_ns()) > 0;) {
            struct pollfd wait = {recorder_fd, POLLIN, 0};
            if (poll(&wait, 1, (int)(left_ns / 1000000) + 1) > 0)
                listen_on(recorder_fd, onsets);
        }
        double speed_mps = speed_at(tick * PERIOD_MS / 1000.0);
        along_m += speed_mps * PERIOD_MS / 1000;
        send_report(fd, gpsd, tick, along_m, speed_mps, sends);
    }
    (void)close(fd);
}

int main(int argc, char **argv)
{
    struct sockaddr_in gpsd = {.sin_family = AF_INET};
    if (argc != 5) {
        fputs("use: latency_rig PORT SECONDS SENDS ONSETS\n", stderr);
        return 2;
    }
    gpsd.sin_port = htons((uint16_t)strtol(argv[1], NULL, 10));
    gpsd.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    int recorder_fd = -1, ticks = (int)strtol(argv[2], NULL, 10) * 1000 / PERIOD_MS;
    FILE *sends = fopen(argv[3], "w"), *onsets = fopen(argv[4], "w");
    pid_t recorder = start_recorder(&recorder_fd);
    if (sends == NULL || onsets == NULL || recorder < 0)
        return 1;
    drive(recorder_fd, &gpsd, ticks, sends, onsets);
    (void)kill(recorder, SIGTERM);
    (void)waitpid(recorder, NULL, 0);
    return fclose(sends) == 0 && fclose(onsets) == 0 ? 0 : 1;
}
