#include "hooks/notify.h"

#include "base/text.h"
#include "base/when.h"

#include <stddef.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include "base/banned.h"

bool notify_init(struct notify *n, const char *address)
{
    n->fd = -1;
    if (!address || !address[0])
        return true;
    struct sockaddr_un to = {.sun_family = AF_UNIX};
    size_t len = strlen(address);
    if ((address[0] != '/' && address[0] != '@') || len >= sizeof to.sun_path)
        return false;
    memcpy(to.sun_path, address, len);
    if (address[0] == '@')
        to.sun_path[0] = '\0';
    socklen_t size = (socklen_t)(offsetof(struct sockaddr_un, sun_path) + len);
    int fd = socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    if (fd < 0)
        return false;
    if (connect(fd, (struct sockaddr *)&to, size) < 0) {
        close(fd);
        return false;
    }
    n->fd = fd;
    return true;
}

void notify_fini(struct notify *n)
{
    if (n->fd >= 0)
        close(n->fd);
    n->fd = -1;
}

bool notify_send(struct notify *n, const char *text)
{
    if (n->fd < 0)
        return true;
    size_t len = strlen(text);
    return send(n->fd, text, len, MSG_NOSIGNAL) == (ssize_t)len;
}

int64_t notify_watchdog_ns(const char *usec, const char *watchdog_pid, long pid)
{
    long us, of;
    if (!usec || !text_to_long(usec, 1, 3600L * 1000000, &us))
        return 0;
    if (watchdog_pid && (!text_to_long(watchdog_pid, 1, INT32_MAX, &of) || of != pid))
        return 0;
    return us * NS_PER_US / 2;
}
