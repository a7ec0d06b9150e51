#include "session/lines_out.h"

#include "base/text.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/banned.h"

/* O_NONBLOCK belongs to the open file, which others may share: a terminal or pipe is opened anew
 * for ourselves; on a socket each call can say so. */
void lines_out_init(struct lines_out *o, int fd)
{
    struct stat st;
    memset(o, 0, sizeof *o);
    o->fd = fd;
    if (fstat(fd, &st) < 0 || S_ISREG(st.st_mode))
        return;
    o->is_socket = S_ISSOCK(st.st_mode);
    if (o->is_socket)
        return;
    char path[32];
    text_format(path, sizeof path, "/proc/self/fd/%d", fd);
    int own = open(path, O_WRONLY | O_NONBLOCK | O_NOCTTY | O_CLOEXEC);
    if (own >= 0) {
        o->fd = own;
        o->own_fd = true;
    }
}

void lines_out_fini(struct lines_out *o)
{
    lines_out_flush(o);
    if (o->own_fd)
        close(o->fd);
    o->own_fd = false;
}

static bool add(struct lines_out *o, const char *line)
{
    size_t len = strlen(line);
    if (o->used + len > LINES_OUT_SIZE)
        return false;
    memcpy(o->buf + o->used, line, len);
    o->used += len;
    return true;
}

void lines_out_put(struct lines_out *o, const char *line)
{
    lines_out_flush(o);
    if (o->dropped > 0 && o->used < LINES_OUT_SIZE / 2) {
        char note[80];
        text_format(note, sizeof note, "<4>%llu lines before this could not be written\n",
                    (unsigned long long)o->dropped);
        if (add(o, note))
            o->dropped = 0;
    }
    if (o->broken || !add(o, line))
        o->dropped++;
    lines_out_flush(o);
}

void lines_out_flush(struct lines_out *o)
{
    while (o->used > 0 && !o->broken) {
        ssize_t n = o->is_socket ? send(o->fd, o->buf, o->used, MSG_DONTWAIT | MSG_NOSIGNAL)
                                 : write(o->fd, o->buf, o->used);
        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0 && (errno == EAGAIN || errno == EWOULDBLOCK))
            return;
        if (n <= 0) {
            o->broken = true; /* nobody reads any more: the watch goes on */
            o->used = 0;
            return;
        }
        o->used -= (size_t)n;
        memmove(o->buf, o->buf + n, o->used);
    }
}

int lines_out_fd(const struct lines_out *o)
{
    return o->used > 0 && !o->broken ? o->fd : -1;
}
