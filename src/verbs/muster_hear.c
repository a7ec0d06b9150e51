#include "verbs/muster_hear.h"

#include "bus/clock.h"
#include "bus/socketcan.h"
#include "session/clock_trust.h"

#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <time.h>

#include "base/banned.h"

enum { BATCH = 512 };

static volatile sig_atomic_t stopped; /* a signal handler can reach nothing else */

static void on_signal(int signal)
{
    (void)signal;
    stopped = 1;
}

static int64_t mono_now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return t.tv_sec * NS_PER_S + t.tv_nsec;
}

static void name_ifaces(struct muster *m, const struct source *source)
{
    for (int i = m->iface_count; i < source_iface_count(source); i++)
        muster_name_iface(m, (uint8_t)i, source_iface_name(source, (uint8_t)i));
}

struct pair {
    struct muster *muster;
    struct keeper *keeper;
};

static void pass_iface(void *ctx, uint8_t iface, const char *name)
{
    const struct pair *p = ctx;
    muster_name_iface(p->muster, iface, name);
    keeper_name_iface(p->keeper, iface, name);
}

static void pass(struct muster *m, struct keeper *k, const struct frame *f, size_t n)
{
    muster_frames(m, f, n);
    keeper_frames(k, f, n);
    muster_look(m, k);
}

static bool pass_frames(void *ctx, const struct log_reader *r)
{
    const struct pair *p = ctx;
    if (r->within)
        pass(p->muster, p->keeper, r->frames, r->n);
    return true;
}

int muster_hear_log(struct muster_hearing *r, struct muster *m, const char *path)
{
    static struct log_reader reader; /* too large for the stack */
    struct pair pair = {m, r->keeper};
    struct log_taker taker = {.ctx = &pair, .iface = pass_iface, .frames = pass_frames};
    struct err e = {"no such file"};
    if (socketcan_is_unknown(path) || !log_reader_open(&reader, &path, 1, r->zone, &e)) {
        socketcan_say_unknown(path, &e);
        fprintf(stderr, "stokehold muster: %s\n", e.text);
        return EXIT_SOURCE;
    }
    reader.range = r->range;
    reader.utc = r->utc;
    int status = log_reader_run(&reader, "muster", path, &taker);
    m->clock_known = source_stats(reader.source)->clock_known;
    log_reader_close(&reader);
    return status;
}

/* Listens until the time is over or a signal asks for the result so far. */
static int listen_live(const struct muster_hearing *r, struct muster *m, struct source *source)
{
    static struct frame batch[BATCH];
    struct err e;
    int64_t until_ns = mono_now() + r->for_ns;
    struct sigaction act = {.sa_handler = on_signal};
    struct sigaction before[2];
    sigaction(SIGINT, &act, &before[0]);
    sigaction(SIGTERM, &act, &before[1]);
    for (int64_t now_ns = mono_now(); now_ns < until_ns && !stopped; now_ns = mono_now()) {
        size_t n = 0;
        enum source_state state = source_read(source, batch, BATCH, &n, &e);
        name_ifaces(m, source);
        if (state == SOURCE_READY) {
            pass(m, r->keeper, batch, n);
            continue;
        }
        if (state != SOURCE_WAIT) {
            fprintf(stderr, "stokehold muster: %s\n", e.text);
            return EXIT_SOURCE;
        }
        struct bus_condition c;
        while (socketcan_condition(source, &c))
            if (c.stands)
                fprintf(stderr, "stokehold muster: %s\n", c.text);
        int64_t left_ms = (until_ns - now_ns) / NS_PER_MS + 1;
        struct pollfd p = {.fd = source_fd(source), .events = POLLIN};
        if (poll(&p, 1, left_ms < 500 ? (int)left_ms : 500) < 0 && errno != EINTR)
            break;
    }
    sigaction(SIGINT, &before[0], NULL); /* a second one ends what is asked afterwards */
    sigaction(SIGTERM, &before[1], NULL);
    return EXIT_DONE;
}

int muster_hear_bus(struct muster_hearing *r, struct muster *m, char **names, int count)
{
    struct err e;
    struct source *source = socketcan_open((const char *const *)names, count, &e);
    if (!source) {
        socketcan_say_unknown(names[0], &e);
        fprintf(stderr, "stokehold muster: %s\n", e.text);
        return EXIT_SOURCE;
    }
    for (int i = 0; i < count; i++)
        if (socketcan_is_unknown(names[i]))
            fprintf(stderr,
                    "stokehold muster: '%s' is neither a log nor an interface that is there now\n",
                    names[i]);
    int status = EXIT_DONE;
    for (int i = 0; r->ask && i < count && status == EXIT_DONE; i++) {
        if (socketcan_ask(names[i], &e)) {
            fprintf(stderr,
                    "stokehold muster: sent one frame on %s: a request for address claims\n",
                    names[i]);
        } else {
            fprintf(stderr, "stokehold muster: %s\n", e.text);
            status = EXIT_SOURCE;
        }
    }
    if (status == EXIT_DONE) {
        fprintf(stderr, "stokehold muster: listening for %.0f s\n", when_seconds(r->for_ns));
        status = listen_live(r, m, source);
    }
    struct clock_trust trust = {0};
    clock_trust_turn(&trust, clock_now(), false, 0);
    m->clock_loose = !trust.trusted;
    if (status == EXIT_DONE && r->keep)
        r->bus = source;
    else
        source_close(source);
    return status;
}
