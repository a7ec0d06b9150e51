#include "hooks/door.h"

#include "base/text.h"
#include "hooks/door_feed.h"
#include "hooks/door_status.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include "base/banned.h"

#define COMMAND_SIZE 160
/* A client that takes nothing for this long is dropped. */
#define STUCK_NS (30 * NS_PER_S)

struct client {
    int fd;                 /* -1: free */
    bool attached, leaving; /* leaving: closed once its answer is sent */
    char in[COMMAND_SIZE];
    size_t in_len;
    bool spoke;
    int64_t heard_ns; /* of this machine: when it came, or last said a line */
    int64_t moved_ns; /* the same: when it last took something, or had taken all */
    struct door_feed *feed;
};

struct door {
    int fd;
    char path[sizeof((struct sockaddr_un *)0)->sun_path];
    uint64_t alerts_version;
    bool marked, tried;
    int64_t mark_ns;
    char mark_words[COMMAND_SIZE];
    struct client clients[DOOR_CLIENTS_MAX];
};

static bool fill_address(struct sockaddr_un *a, const char *path, struct err *e)
{
    *a = (struct sockaddr_un){.sun_family = AF_UNIX};
    if (strlen(path) >= sizeof a->sun_path)
        return err_set(e, "the name of the socket '%.200s' is too long", path);
    return text_copy(a->sun_path, sizeof a->sun_path, path);
}

int door_connect(const char *path, struct err *e)
{
    struct sockaddr_un a;
    if (!fill_address(&a, path, e))
        return -1;
    int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
    if (fd >= 0 && connect(fd, (struct sockaddr *)&a, sizeof a) == 0)
        return fd;
    if (errno == ENOENT || errno == ECONNREFUSED)
        err_set(e, "no stokehold tend is listening at '%s'", path);
    else
        err_set(e, "cannot reach '%s': %s", path, strerror(errno));
    if (fd >= 0)
        close(fd);
    return -1;
}

/* False where somebody answers there, or it is not a socket. */
static bool clear_place(const char *path, struct err *e)
{
    struct stat st;
    if (lstat(path, &st) < 0)
        return true;
    if (!S_ISSOCK(st.st_mode))
        return err_set(e, "'%s' is there and is not a socket", path);
    int fd = door_connect(path, NULL);
    if (fd >= 0) {
        close(fd);
        return err_set(e, "another `tend` is at '%s'", path);
    }
    unlink(path);
    return true;
}

struct door *door_open(const char *path, struct err *e)
{
    struct sockaddr_un a;
    if (!fill_address(&a, path, e) || !clear_place(path, e))
        return NULL;
    struct door *d = calloc(1, sizeof *d);
    if (!d) {
        err_set(e, "out of memory");
        return NULL;
    }
    for (int i = 0; i < DOOR_CLIENTS_MAX; i++)
        d->clients[i].fd = -1;
    text_copy(d->path, sizeof d->path, path);
    d->fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    mode_t before = umask(0117); /* owner and group alone, from the first moment */
    bool good = d->fd >= 0 && bind(d->fd, (struct sockaddr *)&a, sizeof a) == 0 &&
                listen(d->fd, DOOR_CLIENTS_MAX) == 0;
    umask(before);
    if (good)
        return d;
    err_set(e, "cannot open the socket '%s': %s", path, strerror(errno));
    if (d->fd >= 0)
        close(d->fd);
    free(d);
    return NULL;
}

static void drop(struct client *c)
{
    close(c->fd);
    free(c->feed);
    *c = (struct client){.fd = -1};
}

void door_close(struct door *d)
{
    if (!d)
        return;
    for (int i = 0; i < DOOR_CLIENTS_MAX; i++)
        if (d->clients[i].fd >= 0)
            drop(&d->clients[i]);
    close(d->fd);
    unlink(d->path);
    free(d);
}

int door_fds(const struct door *d, struct pollfd *p, int max)
{
    int n = 0;
    if (n < max)
        p[n++] = (struct pollfd){.fd = d->fd, .events = POLLIN};
    for (int i = 0; i < DOOR_CLIENTS_MAX && n < max; i++) {
        const struct client *c = &d->clients[i];
        if (c->fd < 0)
            continue;
        p[n++] =
            (struct pollfd){.fd = c->fd, .events = (short)(POLLIN | (c->feed->used ? POLLOUT : 0))};
    }
    return n;
}

void door_alerts_changed(struct door *d)
{
    d->alerts_version++;
}

bool door_marked(struct door *d, int64_t *wall_ns, const char **words)
{
    bool marked = d->marked;
    *wall_ns = d->mark_ns;
    *words = d->mark_words;
    d->marked = false;
    return marked;
}

bool door_tried(struct door *d)
{
    bool tried = d->tried;
    d->tried = false;
    return tried;
}

int door_attached(const struct door *d)
{
    int n = 0;
    for (int i = 0; i < DOOR_CLIENTS_MAX; i++)
        n += d->clients[i].fd >= 0 && d->clients[i].attached;
    return n;
}

/* One line, which a fresh connection's buffer has room for. */
static void turn_away(int fd)
{
    struct line l;
    char why[80];
    text_format(why, sizeof why, "%d are connected already: try again later", DOOR_CLIENTS_MAX);
    line_begin(&l, "no");
    line_text(&l, why);
    line_end(&l);
    (void)!send(fd, l.text, l.len, MSG_NOSIGNAL | MSG_DONTWAIT);
    close(fd);
}

static void let_in(struct door *d, int64_t now_ns)
{
    for (;;) {
        int fd = accept4(d->fd, NULL, NULL, SOCK_CLOEXEC | SOCK_NONBLOCK);
        if (fd < 0)
            return;
        struct client *c = d->clients;
        while (c < d->clients + DOOR_CLIENTS_MAX && c->fd >= 0)
            c++;
        struct door_feed *feed = c < d->clients + DOOR_CLIENTS_MAX ? calloc(1, sizeof *feed) : NULL;
        if (!feed) {
            turn_away(fd);
            continue;
        }
        *c = (struct client){.fd = fd, .feed = feed, .heard_ns = now_ns, .moved_ns = now_ns};
    }
}

static void answer(struct client *c, const char *word, const char *why)
{
    struct line l;
    line_begin(&l, word);
    if (why)
        line_text(&l, why);
    line_end(&l);
    door_feed_put(c->feed, &l);
}

static void attach(const struct door *d, struct client *c)
{
    struct line l;
    if (!c->attached && door_attached(d) == DOOR_BOARDS_MAX) {
        char why[60];
        text_format(why, sizeof why, "%d boards are attached already", DOOR_BOARDS_MAX);
        answer(c, "no", why);
        c->leaving = true;
        return;
    }
    line_begin(&l, "ok");
    line_integer(&l, DOOR_VERSION);
    line_end(&l);
    door_feed_put(c->feed, &l);
    c->attached = true;
}

static void obey(struct door *d, struct client *c, struct keeper *k, char *command,
                 const struct door_info *info)
{
    struct stamp now = info->now;
    struct alert_list *alerts = keeper_alerts(k);
    struct fields f;
    fields_begin(&f, command);
    const char *word = fields_text(&f);
    if (strcmp(word, "attach") == 0) {
        attach(d, c);
    } else if (strcmp(word, "acknowledge") == 0) {
        uint32_t id = (uint32_t)fields_integer(&f, 0, UINT32_MAX);
        if (f.bad || !alerts_by_id(alerts, id))
            answer(c, "no", "there is no alert of that number");
        else if (!alerts_acknowledge(alerts, id, now))
            answer(c, "no", "that alert needs no acknowledgement");
        else
            answer(c, "ok", NULL);
    } else if (strcmp(word, "silence") == 0) {
        alerts_silence(alerts, now);
        answer(c, "ok", NULL);
    } else if (strcmp(word, "mark") == 0) {
        int64_t at = fields_integer(&f, 0, INT64_MAX);
        text_copy(d->mark_words, sizeof d->mark_words, fields_text(&f));
        d->mark_ns = f.bad ? 0 : at; /* older boards say the word alone */
        d->marked = info->record && strcmp(info->record, "on") == 0;
        answer(c, d->marked ? "ok" : "no", d->marked ? NULL : "nothing is recorded");
    } else if (strcmp(word, "try") == 0) {
        d->tried = true;
        answer(c, "ok", NULL);
    } else if (strcmp(word, "status") == 0) {
        door_status(c->feed, k, info);
        answer(c, "ok", NULL);
    } else {
        answer(c, "no", "unknown command");
        c->leaving = true;
    }
}

/* False when the client has gone. */
static bool hear(struct door *d, struct client *c, struct keeper *k, const struct door_info *info)
{
    for (;;) {
        ssize_t n = recv(c->fd, c->in + c->in_len, sizeof c->in - c->in_len, 0);
        if (n < 0)
            return errno == EAGAIN || errno == EWOULDBLOCK || errno == EINTR;
        if (n == 0)
            return false;
        c->in_len += (size_t)n;
        char *end;
        while ((end = memchr(c->in, '\n', c->in_len)) != NULL) {
            size_t len = (size_t)(end - c->in);
            char command[COMMAND_SIZE];
            text_copy(command, len + 1, c->in);
            c->in_len -= len + 1;
            c->spoke = true;
            c->heard_ns = info->clock.mono_ns;
            memmove(c->in, end + 1, c->in_len);
            if (!c->leaving)
                obey(d, c, k, command, info);
        }
        if (c->in_len == sizeof c->in)
            return false; /* no command is that long */
    }
}

static bool deliver(struct client *c, int64_t now_ns)
{
    struct door_feed *f = c->feed;
    if (f->used == 0)
        c->moved_ns = now_ns;
    while (f->used > 0) {
        ssize_t n = send(c->fd, f->buf, f->used, MSG_NOSIGNAL | MSG_DONTWAIT);
        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0 && (errno == EAGAIN || errno == EWOULDBLOCK))
            return now_ns - c->moved_ns < STUCK_NS;
        if (n <= 0)
            return false;
        f->used -= (size_t)n;
        memmove(f->buf, f->buf + n, f->used);
        c->moved_ns = now_ns;
    }
    return !c->leaving;
}

static bool picture_is_due(const struct door *d, const struct door_info *info)
{
    for (int i = 0; i < DOOR_CLIENTS_MAX; i++) {
        const struct client *c = &d->clients[i];
        if (c->fd >= 0 && c->attached && door_feed_due(c->feed, info))
            return true;
    }
    return false;
}

void door_turn(struct door *d, struct keeper *k, const struct door_info *info)
{
    int64_t now_ns = info->clock.mono_ns;
    let_in(d, now_ns);
    if (picture_is_due(d, info))
        d->alerts_version += keeper_freshen(k);
    for (int i = 0; i < DOOR_CLIENTS_MAX; i++) {
        struct client *c = &d->clients[i];
        if (c->fd < 0)
            continue;
        bool here = hear(d, c, k, info);
        if (here && c->attached)
            door_feed_turn(c->feed, k, info, d->alerts_version);
        int64_t patience = c->spoke ? DOOR_IDLE_NS : DOOR_SPEAK_NS;
        if (!c->attached && now_ns - c->heard_ns >= patience)
            here = false;
        if (!here || !deliver(c, now_ns))
            drop(c);
    }
}
