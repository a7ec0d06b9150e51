/* adapter IFACE BITRATE: a real CAN interface (the kernel's slcan driver on a pseudo terminal)
 * whose hardware is this program, so that tests can make a controller go bus-off or be unplugged.
 * It obeys lines on standard input, in the serial-line form the driver speaks:
 *   t1232AABB, T18FEF10081122334455667788   a frame arrives from the bus
 *   sa000000 sw096000 sp128000 sb000000     the controller's state: active, warning, passive,
 *                                           bus-off, with its error counters
 *   e1a e1b e1c e1f                         a bus error: acknowledge, bit, checksum, form
 *   wait MS, link down, link up             waits; sets the link
 *   quit, or end of file                    the adapter is unplugged
 * What the machine sends onto the bus is printed, one message a line, behind "sent ".
 * Needs the rights to set up a network interface. */
#include <errno.h>
#include <fcntl.h>
#include <linux/tty.h>
#include <net/if.h>
#include <pthread.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/wait.h>
#include <termios.h>
#include <unistd.h>

static void *print_sent(void *arg)
{
    int fd = *(int *)arg;
    char c, line[80];
    size_t n = 0;
    while (read(fd, &c, 1) == 1) {
        if (c != '\r' && n < sizeof line - 1) {
            line[n++] = c;
            continue;
        }
        line[n] = '\0';
        n = 0;
        if (line[0]) {
            printf("sent %s\n", line);
            fflush(stdout);
        }
    }
    return NULL;
}

/* ip link set WORDS..., NULL at the end. */
static int ip_link(const char *const words[])
{
    char *args[12] = {"ip", "link", "set"};
    for (int i = 0; i < 8 && words[i]; i++)
        args[3 + i] = (char *)(uintptr_t)words[i];
    pid_t pid = fork();
    if (pid == 0) {
        execvp("ip", args);
        _exit(127);
    }
    int status = 1;
    return pid > 0 && waitpid(pid, &status, 0) == pid && status == 0 ? 0 : -1;
}

/* A pseudo terminal with the driver on its far end; the interface's name in name. */
static int attach(int *far, char name[IFNAMSIZ])
{
    struct termios t;
    int discipline = N_SLCAN;
    int near = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
    if (near < 0 || grantpt(near) || unlockpt(near))
        return -1;
    *far = open(ptsname(near), O_RDWR | O_NOCTTY | O_CLOEXEC);
    if (*far < 0 || tcgetattr(*far, &t))
        return -1;
    cfmakeraw(&t);
    tcsetattr(*far, TCSANOW, &t);
    if (ioctl(*far, TIOCSETD, &discipline) || ioctl(*far, SIOCGIFNAME, name))
        return -1;
    return near;
}

static void obey(int near, const char *iface, char *line, size_t cap)
{
    if (strncmp(line, "wait ", 5) == 0) {
        usleep((useconds_t)strtoul(line + 5, NULL, 10) * 1000);
    } else if (strncmp(line, "link ", 5) == 0) {
        ip_link((const char *const[]){iface, line + 5, NULL});
    } else if (line[0] && strlen(line) + 1 < cap) {
        size_t n = strlen(line);
        line[n++] = '\r';
        if (write(near, line, n) != (ssize_t)n)
            perror("adapter: write");
    }
}

int main(int argc, char **argv)
{
    char name[IFNAMSIZ], line[256];
    int far;
    pthread_t thread;
    if (argc != 3)
        return 2;
    int near = attach(&far, name);
    if (near < 0) {
        perror("adapter: cannot attach the serial-line driver");
        return 1;
    }
    /* The driver waits for its commands to be taken, so reading begins before the link is up. */
    pthread_create(&thread, NULL, print_sent, &near);
    if (ip_link((const char *const[]){name, "name", argv[1], NULL}) ||
        ip_link((const char *const[]){argv[1], "type", "can", "bitrate", argv[2], NULL}) ||
        ip_link((const char *const[]){argv[1], "up", NULL})) {
        fprintf(stderr, "adapter: cannot set up %s\n", argv[1]);
        return 1;
    }
    printf("ready %s\n", argv[1]);
    fflush(stdout);
    while (fgets(line, sizeof line, stdin)) {
        line[strcspn(line, "\r\n")] = '\0';
        if (strcmp(line, "quit") == 0)
            break;
        obey(near, argv[1], line, sizeof line);
    }
    close(near);
    close(far);
    return 0;
}
