#include "session/live.h"

#include "bus/clock.h"
#include "bus/socketcan.h"

#include <string.h>

#include "base/banned.h"

static void on_iface(void *ctx, uint8_t iface, const char *name)
{
    struct live *l = ctx;
    keeper_name_iface(l->keeper, iface, name);
    if (l->on_name)
        l->on_name(l->ctx, iface, name);
}

static bool open_source(struct live *l, const char *const *names, int count, const char *zone,
                        struct err *e)
{
    int ifaces = 0;
    for (int i = 0; i < count; i++)
        ifaces += socketcan_is_name(names[i]);
    l->is_live = ifaces == count && count > 0;
    if (l->is_live)
        log_reader_init(&l->reader, socketcan_open(names, count, e));
    else if (count == 1)
        (void)log_reader_open(&l->reader, names, 1, zone, e);
    else
        err_set(e, "name one log or several interfaces, not both");
    return l->reader.source != NULL;
}

bool live_open(struct live *l, const char *const *names, int count, const char *zone,
               const struct settings *settings, bool escalate, struct err *e)
{
    memset(l, 0, sizeof *l);
    if (!open_source(l, names, count, zone, e))
        return count > 0 && socketcan_say_unknown(names[0], e);
    l->source = l->reader.source;
    l->reader.on_iface = on_iface;
    l->reader.ctx = l;
    l->keeper =
        keeper_new(settings, &(struct keeper_options){.escalate = escalate, .expect = true});
    return l->keeper || err_set(e, "out of memory");
}

void live_close(struct live *l)
{
    log_reader_close(&l->reader);
    keeper_free(l->keeper);
    l->source = NULL;
    l->keeper = NULL;
}

int live_fd(const struct live *l)
{
    return l->ended || l->failed || l->waits ? -1 : source_fd(l->source);
}

void live_condition(struct live *l, const struct bus_condition *c)
{
    /* In a log the rules live in the log's time. */
    keeper_bus(l->keeper, c->code, c->priority, c->text, c->stands, l->is_live ? c->at : l->now);
}

/* Tells of the hours that end before mono_ns. */
static void tell_every(struct live *l, int64_t mono_ns)
{
    if (l->every_ns == 0)
        return;
    if (l->next_ns == 0)
        l->next_ns = mono_ns + l->every_ns;
    for (; l->next_ns <= mono_ns; l->next_ns += l->every_ns) {
        int64_t step = l->next_ns - l->now.mono_ns;
        l->on_every(l->every_ctx, (struct stamp){l->now.wall_ns + step, l->next_ns});
    }
}

static void take(struct live *l, const struct frame *f, size_t n)
{
    if (l->tap)
        l->tap(l->ctx, f, n);
    while (n > 0) {
        size_t k = 1; /* as many as come before on_every is due */
        tell_every(l, f[0].mono_ns);
        while (k < n && (l->every_ns == 0 || f[k].mono_ns < l->next_ns))
            k++;
        keeper_frames(l->keeper, f, k);
        l->taken += k;
        l->now = (struct stamp){f[k - 1].wall_ns, f[k - 1].mono_ns};
        f += k;
        n -= k;
    }
}

bool live_turn(struct live *l, struct stamp clock, size_t max_frames)
{
    size_t read = 0;
    struct bus_condition c;
    l->waits = false;
    while (!l->ended && !l->failed && read < max_frames) {
        l->waits = !l->is_live && l->may_read && !l->may_read(l->ctx, SOURCE_BATCH);
        if (l->waits)
            break;
        enum source_state state = log_reader_next(&l->reader, &l->error);
        l->ended = state == SOURCE_END;
        l->failed = state == SOURCE_FAILED;
        if (state != SOURCE_READY)
            break;
        take(l, l->reader.frames, l->reader.n);
        read += l->reader.n;
    }
    if (!l->is_live)
        return read > 0;
    while (socketcan_condition(l->source, &c)) {
        live_condition(l, &c);
        read++;
    }
    /* A frame may bear a stamp a little behind the clock; the rules' time never goes back. */
    if (clock.mono_ns > l->now.mono_ns) {
        tell_every(l, clock.mono_ns);
        l->now = clock;
        keeper_tick(l->keeper, clock);
    }
    return read > 0;
}

struct stamp live_drain(struct live *l)
{
    struct stamp clock = clock_now();
    if (l->is_live)
        socketcan_stop(l->source);
    while (l->is_live && !l->failed && live_turn(l, clock, LIVE_FRAMES_A_TURN))
        clock = clock_now();
    return clock;
}
