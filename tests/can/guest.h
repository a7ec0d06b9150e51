/* Helpers for tests that run beside a real SocketCAN stack, as root in a guest that may be broken:
 * interfaces made and unmade, frames put on them by another socket, and an adapter whose
 * controller does what it is told. */
#ifndef STOKEHOLD_TESTS_CAN_GUEST_H
#define STOKEHOLD_TESTS_CAN_GUEST_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <sys/types.h>

/* For what must come: only a failure takes so long, however busy the machine. */
#define GUEST_PATIENCE_MS 60000

/* Runs a program with words split at blanks ("ip link set vcan0 down"); its exit status, or -1. */
int guest_run(const char *command);
/* The same without waiting; output into the file where one is named. The process's id; aborts when
 * it cannot be started. */
pid_t guest_start(const char *command, const char *output);
/* Ends it with the signal (0: it ends by itself); its wait status, -1 if it did not end within
 * GUEST_PATIENCE_MS (then killed). */
int guest_end(pid_t pid, int sig);

/* All of a file, "" where there is none, until the next call. */
const char *guest_file(const char *path);
/* Fails unless, in time, the file has a line behind its first `from` bytes that holds both words
 * (or the one, where `also` is NULL). */
void guest_await_line(const char *path, size_t from, const char *words, const char *also);
/* The same for n lines. */
void guest_await_lines(const char *path, int n);

/* Sockets of any process that hear every frame of iface, by the kernel's own list. */
int guest_listeners(const char *iface);
void guest_await_listeners(const char *iface, int n); /* n at least; fails when they do not come */

/* A raw socket bound to iface, for sending and for hearing what others send; aborts on failure. */
int guest_socket(const char *iface);
/* id with the kernel's flag bits (linux/can.h). */
bool guest_send(int fd, uint32_t id, const void *data, size_t len);
/* Frames per second for seconds on fd, paced by the clock; how many were sent. */
unsigned guest_flood(int fd, double per_second, double seconds);

int64_t guest_ms(void); /* a monotonic clock */
void guest_sleep_ms(int ms);

/* A real CAN interface by the kernel's slcan driver on a terminal whose far end is a thread here:
 * `name` is up at 250 kbit/s when this returns. What is told with adapter_say is the serial-line
 * form of the driver (Documentation of the slcan protocol in drivers/net/can/slcan of the kernel):
 * "T18FEF10081122334455667788" a frame, "sa000000" error-active, "sw100100", "sp130000" passive
 * with its counters, "sb000000" bus-off. */
struct adapter;
struct adapter *adapter_start(const char *name);
void adapter_say(struct adapter *a, const char *words);
unsigned adapter_heard(const struct adapter *a); /* frames that the host sent to the bus */
void adapter_unplug(struct adapter *a);

#endif
