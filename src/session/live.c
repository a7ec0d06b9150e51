#include "session/live.h"

#include "bus/clock.h"
#include "bus/socketcan.h"

#include <string.h>

#include "base/banned.h"

static struct source *open_source(struct live *l, const char *const *names, int count,
                                  const char *zone, struct err *e)
{
    int ifaces = 0;
    for (int i = 0; i < count; i++)
        ifaces += socketcan_is_name(names[i]);
    if (ifaces == count && count > 0) {
        l->is_live = true;
        return socketcan_open(names, count, e);
    }
    if (count == 1)
        return source_open_log(names[0], &(struct source_options){.zone = zone}, e);
    err_set(e, "name one log or several interfaces, not both");
    return NULL;
}

bool live_open(struct live *l, const char *const *names, int count, const char *zone,
               const struct settings *settings, bool escalate, struct err *e)
{
    memset(l, 0, sizeof *l);
    l->source = open_source(l, names, count, zone, e);
    if (!l->source)
        return count > 0 && socketcan_say_unknown(names[0], e);
    l->keeper =
        keeper_new(settings, &(struct keeper_options){.escalate = escalate, .expect = true});
    return l->keeper || err_set(e, "out of memory");
}

void live_close(struct live *l)
{
    source_close(l->source);
    keeper_free(l->keeper);
    l->source = NULL;
    l->keeper = NULL;
}

int live_fd(const struct live *l)
{
    return l->ended || l->failed ? -1 : source_fd(l->source);
}

void live_condition(struct live *l, const struct bus_condition *c)
{
    /* In a log the rules live in the log's time. */
    keeper_bus(l->keeper, c->code, c->priority, c->text, c->stands, l->is_live ? c->at : l->now);
}

static void tell_names(struct live *l)
{
    for (; l->named < source_iface_count(l->source); l->named++) {
        const char *name = source_iface_name(l->source, (uint8_t)l->named);
        keeper_name_iface(l->keeper, (uint8_t)l->named, name);
        if (l->on_name)
            l->on_name(l->ctx, (uint8_t)l->named, name);
    }
}

static void take(struct live *l, size_t n)
{
    if (l->tap)
        l->tap(l->ctx, l->batch, n);
    keeper_frames(l->keeper, l->batch, n);
    l->now = (struct stamp){l->batch[n - 1].wall_ns, l->batch[n - 1].mono_ns};
}

bool live_turn(struct live *l, struct stamp clock, size_t max_frames)
{
    size_t read = 0;
    struct bus_condition c;
    while (!l->ended && !l->failed && read < max_frames) {
        size_t n = 0;
        enum source_state state = source_read(l->source, l->batch, LIVE_BATCH, &n, &l->error);
        tell_names(l);
        l->ended = state == SOURCE_END;
        l->failed = state == SOURCE_FAILED;
        if (state != SOURCE_READY)
            break;
        take(l, n);
        read += n;
    }
    if (!l->is_live)
        return read > 0;
    while (socketcan_condition(l->source, &c)) {
        live_condition(l, &c);
        read++;
    }
    /* A frame may bear a stamp a little behind the clock; the rules' time never goes back. */
    if (clock.mono_ns > l->now.mono_ns) {
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
