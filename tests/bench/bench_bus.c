/* What `tend --record` costs on a live bus at 250 kbit/s that is full of 8-byte frames:
 *   bench_bus PROGRAM
 * Runs in the guest of tests/can/boot.sh, where a system call costs some twenty times what it does
 * outside: the figure is an upper bound. */
#include "can/guest.h"

#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "base/banned.h"

#define SECONDS    10
#define PER_SECOND 1909 /* 250000 bit/s over 131 bits a frame */

/* Processor time used so far, in seconds; below 0 where it cannot be read. */
static double processor_seconds(pid_t pid)
{
    char path[64], text[1000] = "";
    unsigned long user, system;
    snprintf(path, sizeof path, "/proc/%ld/stat", (long)pid);
    FILE *in = fopen(path, "re");
    size_t n = in ? fread(text, 1, sizeof text - 1, in) : 0;
    if (in)
        fclose(in);
    text[n] = '\0';
    const char *behind = strrchr(text, ')'); /* the name may hold anything */
    if (!behind || sscanf(behind + 1, " %*c %*d %*d %*d %*d %*d %*u %*u %*u %*u %*u %lu %lu", &user,
                          &system) != 2)
        return -1;
    return (double)(user + system) / (double)sysconf(_SC_CLK_TCK);
}

int main(int argc, char **argv)
{
    if (argc != 2) {
        fprintf(stderr, "usage: bench_bus PROGRAM\n");
        return 2;
    }
    char command[400];
    snprintf(command, sizeof command, "%s tend --record /run/bench vcan0", argv[1]);
    pid_t pid = guest_start(command, "/run/bench.said");
    guest_sleep_ms(2000);
    double before = processor_seconds(pid);
    int fd = guest_socket("vcan0");
    unsigned sent = guest_flood(fd, PER_SECOND, SECONDS);
    guest_sleep_ms(500);
    double used = processor_seconds(pid) - before;
    close(fd);
    guest_end(pid, SIGTERM);
    if (before < 0 || used < 0) {
        printf("tend on a full bus: could not be measured\n");
        return 1;
    }
    printf("tend --record on a full 250 kbit/s bus, in the guest: %.1f ms of processor time for "
           "1000 frames, %.1f %% of one processor\n",
           used * 1e6 / sent, 100 * used / (SECONDS + 0.5));
    return 0;
}
