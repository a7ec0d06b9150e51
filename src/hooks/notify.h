/* Telling the service manager how we are: the datagram protocol of sd_notify(3), spoken plainly
 * (lines of KEY=VALUE to the AF_UNIX datagram socket named by NOTIFY_SOCKET; a leading '@' stands
 * for the abstract name space). Never waits; without a manager it does nothing. */
#ifndef STOKEHOLD_HOOKS_NOTIFY_H
#define STOKEHOLD_HOOKS_NOTIFY_H

#include <stdbool.h>
#include <stdint.h>

struct notify {
    int fd; /* -1: nobody to tell */
};

/* address: the value of NOTIFY_SOCKET; NULL or "": nobody. False where it cannot be used. */
bool notify_init(struct notify *n, const char *address);
void notify_fini(struct notify *n);
/* "READY=1", "WATCHDOG=1", "STATUS=...". False when it could not be sent. */
bool notify_send(struct notify *n, const char *text);
/* Half of the watchdog's time in ns, from WATCHDOG_USEC and WATCHDOG_PID (NULL where not set);
 * 0: no watchdog for the process `pid`. */
int64_t notify_watchdog_ns(const char *usec, const char *watchdog_pid, long pid);

#endif
