#include "session/lines_out.h"

#include "base/text.h"
#include "base/when.h"
#include "bus/clock.h"
#include "bus/timeline.h"

#include <errno.h>
#include <poll.h>
#include <pthread.h>
#include <signal.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "base/banned.h"

struct lines_out {
    pthread_mutex_t mutex;
    pthread_cond_t changed;
    pthread_t thread;
    int fd;
    bool stopping, broken, ended, torn; /* torn: the thread's own */
    size_t used;
    uint64_t dropped, written;
    char buf[LINES_OUT_SIZE];
    char going[4096]; /* the thread's own: what is being written */
};

/* Returns how much was written: less where the disk is full, or nobody reads. */
static size_t write_whole(int fd, const char *data, size_t len)
{
    size_t done = 0;
    while (done < len) {
        ssize_t n = write(fd, data + done, len - done);
        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0 && errno == EAGAIN) { /* another has made it so: it belongs to the open file */
            struct pollfd p = {.fd = fd, .events = POLLOUT};
            poll(&p, 1, -1);
            continue;
        }
        if (n <= 0)
            break;
        done += (size_t)n;
    }
    return done;
}

static uint64_t count_lines(const char *data, size_t len)
{
    uint64_t n = 0;
    for (size_t i = 0; i < len; i++)
        n += data[i] == '\n';
    return n;
}

/* A line that was torn is ended before the next one begins. */
static size_t write_chunk(struct lines_out *o, size_t n)
{
    if (o->torn && write_whole(o->fd, "\n", 1) != 1)
        return 0;
    size_t done = write_whole(o->fd, o->going, n);
    o->torn = done > 0 ? o->going[done - 1] != '\n' : o->torn;
    return done;
}

static void *write_lines(void *arg)
{
    struct lines_out *o = arg;
    pthread_mutex_lock(&o->mutex);
    for (;;) {
        while (o->used == 0 && !o->stopping)
            pthread_cond_wait(&o->changed, &o->mutex);
        if (o->used == 0)
            break;
        size_t n = o->used < sizeof o->going ? o->used : sizeof o->going;
        memcpy(o->going, o->buf, n);
        o->used -= n;
        memmove(o->buf, o->buf + n, o->used);
        pthread_mutex_unlock(&o->mutex);
        size_t done = write_chunk(o, n);
        int why = errno;
        pthread_mutex_lock(&o->mutex);
        o->written += n;
        o->dropped += count_lines(o->going + done, n - done);
        if (done < n && why == EPIPE) { /* nobody reads any more: the watch goes on */
            o->broken = true;
            o->used = 0;
        }
        pthread_cond_broadcast(&o->changed);
    }
    o->ended = true;
    pthread_cond_broadcast(&o->changed);
    pthread_mutex_unlock(&o->mutex);
    return NULL;
}

static void free_all(struct lines_out *o)
{
    pthread_cond_destroy(&o->changed);
    pthread_mutex_destroy(&o->mutex);
    free(o);
}

struct lines_out *lines_out_new(int fd)
{
    struct lines_out *o = calloc(1, sizeof *o);
    sigset_t all, before;
    if (!o)
        return NULL;
    pthread_condattr_t attr;
    pthread_condattr_init(&attr);
    pthread_condattr_setclock(&attr, CLOCK_MONOTONIC);
    pthread_mutex_init(&o->mutex, NULL);
    pthread_cond_init(&o->changed, &attr);
    pthread_condattr_destroy(&attr);
    o->fd = fd;
    sigfillset(&all);
    pthread_sigmask(SIG_SETMASK, &all, &before);
    bool good = pthread_create(&o->thread, NULL, write_lines, o) == 0;
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    if (good)
        return o;
    free_all(o);
    return NULL;
}

void lines_out_free(struct lines_out *o, int patience_ms)
{
    if (!o)
        return;
    pthread_mutex_lock(&o->mutex);
    o->stopping = true;
    pthread_cond_broadcast(&o->changed);
    bool moves = true;
    while (!o->ended && moves) {
        uint64_t before = o->written;
        int64_t ns = clock_now().mono_ns - TIMELINE_START + patience_ms * NS_PER_MS;
        struct timespec until = {ns / NS_PER_S, ns % NS_PER_S};
        while (!o->ended && o->written == before &&
               pthread_cond_timedwait(&o->changed, &o->mutex, &until) == 0)
            ;
        moves = o->written != before;
    }
    bool ended = o->ended;
    pthread_mutex_unlock(&o->mutex);
    if (!ended) {
        pthread_detach(o->thread); /* it may yet come back, and needs all this */
        return;
    }
    pthread_join(o->thread, NULL);
    free_all(o);
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
    pthread_mutex_lock(&o->mutex);
    if (o->dropped > 0 && o->used < LINES_OUT_SIZE / 2) {
        char note[80];
        text_format(note, sizeof note, "<4>%llu lines before this could not be written\n",
                    (unsigned long long)o->dropped);
        if (add(o, note))
            o->dropped = 0;
    }
    if (o->broken || !add(o, line))
        o->dropped++;
    pthread_cond_broadcast(&o->changed);
    pthread_mutex_unlock(&o->mutex);
}
