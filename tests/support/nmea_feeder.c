/* SPDX-License-Identifier: GPL-3.0-or-later */
/* nmea_feeder FILE PORT FROM_S FOR_S: sends a recorded drive to gpsd over UDP on this machine, in
 * real time. Sentences of one moment go in one datagram; the moments are paced by their own time of
 * day, so that gaps of the recording stay gaps. FROM_S and FOR_S choose an excerpt by seconds from
 * its first moment; FOR_S 0 is to the end. Sentences without their checksum get it. */
#include <arpa/inet.h>
#include <netinet/in.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/timerfd.h>
#include <time.h>
#include <unistd.h>

enum { DAY_MS = 24 * 3600 * 1000 };

struct moment {
    char text[2048];
    size_t length;
    int64_t at_ms; /* from the first moment of the recording */
};

struct feeder {
    int socket_fd, timer_fd;
    struct sockaddr_in gpsd;
    int64_t from_ms, until_ms;
    int64_t first_ms; /* time of day; -1 before the first moment */
    bool started;
    int64_t started_ns, started_at_ms;
    unsigned sent;
};

static int digits(const char *text, int count)
{
    int value = 0;
    for (int i = 0; i < count; i++) {
        if (text[i] < '0' || text[i] > '9')
            return -1;
        value = value * 10 + (text[i] - '0');
    }
    return value;
}

/* Time of day of a GGA or RMC sentence, hhmmss.sss in its first field; -1 in others. */
static int64_t time_of(const char *sentence)
{
    if (strlen(sentence) < 17 || (strncmp(sentence + 3, "GGA,", 4) != 0 &&
                                  strncmp(sentence + 3, "RMC,", 4) != 0))
        return -1;
    const char *text = sentence + 7;
    int hours = digits(text, 2), minutes = digits(text + 2, 2), seconds = digits(text + 4, 2);
    int millis = text[6] == '.' ? digits(text + 7, 3) : 0;
    if (hours < 0 || minutes < 0 || seconds < 0)
        return -1;
    return (((int64_t)hours * 60 + minutes) * 60 + seconds) * 1000 + (millis > 0 ? millis : 0);
}

static void wait_for(struct feeder *feeder, int64_t at_ms)
{
    if (!feeder->started) {
        struct timespec now;
        (void)clock_gettime(CLOCK_MONOTONIC, &now);
        feeder->started = true;
        feeder->started_ns = (int64_t)now.tv_sec * 1000000000 + now.tv_nsec;
        feeder->started_at_ms = at_ms;
    }
    int64_t due_ns = feeder->started_ns + (at_ms - feeder->started_at_ms) * 1000000 + 1;
    struct itimerspec when = {0};
    when.it_value.tv_sec = due_ns / 1000000000;
    when.it_value.tv_nsec = due_ns % 1000000000;
    uint64_t times;
    (void)timerfd_settime(feeder->timer_fd, TFD_TIMER_ABSTIME, &when, NULL);
    ssize_t got = read(feeder->timer_fd, &times, sizeof times);
    (void)got;
}

/* False once the excerpt is over. */
static bool send_moment(struct feeder *feeder, const struct moment *moment)
{
    if (moment->length == 0 || moment->at_ms < feeder->from_ms)
        return true;
    if (moment->at_ms >= feeder->until_ms)
        return false;
    wait_for(feeder, moment->at_ms);
    if (sendto(feeder->socket_fd, moment->text, moment->length, 0,
               (const struct sockaddr *)&feeder->gpsd, sizeof feeder->gpsd) < 0)
        perror("nmea_feeder: sendto");
    feeder->sent++;
    return true;
}

static unsigned checksum(const char *sentence)
{
    unsigned sum = 0;
    for (const char *c = sentence + 1; *c != '\0'; c++)
        sum ^= (unsigned char)*c;
    return sum;
}

static void add_sentence(struct moment *moment, const char *sentence)
{
    char tail[8] = "";
    if (sentence[0] == '$' && strchr(sentence, '*') == NULL)
        (void)snprintf(tail, sizeof tail, "*%02X", checksum(sentence));
    size_t room = sizeof moment->text - moment->length;
    int put = snprintf(moment->text + moment->length, room, "%s%s\r\n", sentence, tail);
    if (put > 0 && (size_t)put < room)
        moment->length += (size_t)put;
}

static void feed(struct feeder *feeder, FILE *file)
{
    static struct moment moment;
    char line[512];
    int64_t of_day_ms = -1;
    bool more = true;
    while (more && fgets(line, sizeof line, file) != NULL) {
        int64_t time_ms = time_of(line);
        if (time_ms >= 0 && time_ms != of_day_ms) {
            more = send_moment(feeder, &moment);
            of_day_ms = time_ms;
            if (feeder->first_ms < 0)
                feeder->first_ms = time_ms;
            moment.length = 0;
            moment.at_ms = (time_ms - feeder->first_ms + DAY_MS) % DAY_MS;
        }
        line[strcspn(line, "\r\n")] = '\0';
        add_sentence(&moment, line);
    }
    if (more)
        (void)send_moment(feeder, &moment);
}

int main(int argc, char **argv)
{
    if (argc != 5) {
        fputs("use: nmea_feeder FILE PORT FROM_S FOR_S\n", stderr);
        return 2;
    }
    struct feeder feeder = {.first_ms = -1};
    long port = strtol(argv[2], NULL, 10), from_s = strtol(argv[3], NULL, 10),
         for_s = strtol(argv[4], NULL, 10);
    feeder.from_ms = from_s * 1000;
    feeder.until_ms = for_s > 0 ? (from_s + for_s) * 1000 : INT64_MAX;
    feeder.gpsd.sin_family = AF_INET;
    feeder.gpsd.sin_port = htons((uint16_t)port);
    feeder.gpsd.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    feeder.socket_fd = socket(AF_INET, SOCK_DGRAM, 0);
    feeder.timer_fd = timerfd_create(CLOCK_MONOTONIC, 0);
    FILE *file = fopen(argv[1], "r");
    if (file == NULL || feeder.socket_fd < 0 || feeder.timer_fd < 0) {
        perror(argv[1]);
        return 2;
    }
    feed(&feeder, file);
    (void)fclose(file);
    printf("nmea_feeder: %u moments sent\n", feeder.sent);
    return feeder.sent > 0 ? 0 : 1;
}
