#include "hooks/desk.h"

#include "bus/clock.h"
#include "bus/timeline.h"
#include "hooks/replace.h"

#include <pthread.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <sys/eventfd.h>
#include <time.h>
#include <unistd.h>

#include "base/banned.h"

struct file {
    const char *path;
    mode_t mode;
    bool sync;
    char *text; /* that waits; NULL for none */
    size_t len;
    bool told, good; /* the result is to be asked for */
    struct err error;
};

enum work_state { WORK_NONE, WORK_WAITS, WORK_RUNS, WORK_DONE };

struct desk {
    pthread_mutex_t mutex;
    pthread_cond_t changed;
    pthread_t thread;
    int event_fd;
    bool stopping;
    struct file files[DESK_FILES];
    enum work_state work_state;
    desk_work *work;
    void *work_ctx;
    _Atomic int64_t since_ns;
};

static void wake_watch(const struct desk *d)
{
    uint64_t one = 1;
    (void)!write(d->event_fd, &one, sizeof one);
}

/* With the mutex held, which is let go for the work itself. */
static void write_one(struct desk *d, struct file *f)
{
    struct file now = *f;
    f->text = NULL;
    pthread_mutex_unlock(&d->mutex);
    struct err e = {""};
    bool good = replace_file(now.path, now.text, now.len, now.mode, now.sync, &e);
    free(now.text);
    pthread_mutex_lock(&d->mutex);
    f->told = true;
    f->good = good;
    f->error = e;
}

static void work(struct desk *d)
{
    d->work_state = WORK_RUNS;
    pthread_mutex_unlock(&d->mutex);
    d->work(d->work_ctx);
    pthread_mutex_lock(&d->mutex);
    d->work_state = WORK_DONE;
}

/* Something was done. */
static bool step(struct desk *d)
{
    struct file *f = d->files;
    while (f < d->files + DESK_FILES && !f->text)
        f++;
    bool files = f < d->files + DESK_FILES;
    if (!files && d->work_state != WORK_WAITS)
        return false;
    atomic_store(&d->since_ns, clock_now().mono_ns);
    if (files)
        write_one(d, f);
    else
        work(d);
    atomic_store(&d->since_ns, 0);
    pthread_cond_broadcast(&d->changed);
    wake_watch(d);
    return true;
}

static void *sit(void *arg)
{
    struct desk *d = arg;
    pthread_mutex_lock(&d->mutex);
    for (;;) {
        if (step(d))
            continue;
        if (d->stopping)
            break;
        pthread_cond_wait(&d->changed, &d->mutex);
    }
    pthread_mutex_unlock(&d->mutex);
    return NULL;
}

static void free_all(struct desk *d)
{
    for (int i = 0; i < DESK_FILES; i++)
        free(d->files[i].text);
    if (d->event_fd >= 0)
        close(d->event_fd);
    pthread_cond_destroy(&d->changed);
    pthread_mutex_destroy(&d->mutex);
    free(d);
}

struct desk *desk_new(void)
{
    struct desk *d = calloc(1, sizeof *d);
    sigset_t all, before;
    if (!d)
        return NULL;
    pthread_condattr_t attr;
    pthread_condattr_init(&attr);
    pthread_condattr_setclock(&attr, CLOCK_MONOTONIC);
    pthread_mutex_init(&d->mutex, NULL);
    pthread_cond_init(&d->changed, &attr);
    pthread_condattr_destroy(&attr);
    d->event_fd = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
    sigfillset(&all);
    pthread_sigmask(SIG_SETMASK, &all, &before);
    bool good = d->event_fd >= 0 && pthread_create(&d->thread, NULL, sit, d) == 0;
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    if (good)
        return d;
    free_all(d);
    return NULL;
}

static struct timespec in_ms(int ms)
{
    int64_t ns = clock_now().mono_ns - TIMELINE_START + ms * NS_PER_MS;
    return (struct timespec){ns / NS_PER_S, ns % NS_PER_S};
}

bool desk_free(struct desk *d, int patience_ms, struct err *e)
{
    if (!d)
        return true;
    struct timespec until = in_ms(patience_ms);
    pthread_mutex_lock(&d->mutex);
    d->stopping = true;
    pthread_cond_broadcast(&d->changed);
    pthread_mutex_unlock(&d->mutex);
    if (pthread_clockjoin_np(d->thread, NULL, CLOCK_MONOTONIC, &until) != 0) {
        pthread_detach(d->thread); /* it may yet come back, and needs all this */
        return err_set(e, "the disk of state and metrics does not answer: they may be old");
    }
    bool good = true;
    for (int i = 0; i < DESK_FILES; i++)
        if (d->files[i].told && !d->files[i].good) {
            good = false;
            *e = d->files[i].error;
        }
    free_all(d);
    return good;
}

void desk_place(struct desk *d, enum desk_file f, const char *path, mode_t mode, bool sync)
{
    d->files[f] = (struct file){.path = path, .mode = mode, .sync = sync};
}

void desk_write(struct desk *d, enum desk_file f, char *text, size_t len)
{
    pthread_mutex_lock(&d->mutex);
    char *before = d->files[f].text;
    d->files[f].text = text;
    d->files[f].len = len;
    pthread_cond_broadcast(&d->changed);
    pthread_mutex_unlock(&d->mutex);
    free(before);
}

bool desk_written(struct desk *d, enum desk_file f, bool *good, struct err *e)
{
    pthread_mutex_lock(&d->mutex);
    struct file *file = &d->files[f];
    bool told = file->told;
    file->told = false;
    *good = file->good;
    *e = file->error;
    pthread_mutex_unlock(&d->mutex);
    return told;
}

bool desk_ask(struct desk *d, desk_work *w, void *ctx)
{
    pthread_mutex_lock(&d->mutex);
    bool free_now = d->work_state == WORK_NONE;
    if (free_now) {
        d->work_state = WORK_WAITS;
        d->work = w;
        d->work_ctx = ctx;
        pthread_cond_broadcast(&d->changed);
    }
    pthread_mutex_unlock(&d->mutex);
    return free_now;
}

bool desk_done(struct desk *d)
{
    return desk_wait(d, 0);
}

bool desk_wait(struct desk *d, int patience_ms)
{
    struct timespec until = in_ms(patience_ms);
    pthread_mutex_lock(&d->mutex);
    bool waits = patience_ms > 0;
    while (waits && (d->work_state == WORK_WAITS || d->work_state == WORK_RUNS))
        waits = pthread_cond_timedwait(&d->changed, &d->mutex, &until) == 0;
    bool done = d->work_state == WORK_DONE;
    if (done)
        d->work_state = WORK_NONE;
    pthread_mutex_unlock(&d->mutex);
    return done;
}

void desk_heard(const struct desk *d)
{
    uint64_t marks;
    (void)!read(d->event_fd, &marks, sizeof marks);
}

int64_t desk_since(const struct desk *d)
{
    return atomic_load(&d->since_ns);
}

int desk_fd(const struct desk *d)
{
    return d->event_fd;
}
