#include "session/replay.h"

#include <malloc.h>
#include <math.h>
#include <string.h>

#include "base/banned.h"

static bool new_keeper(struct replay *r)
{
    keeper_free(r->keeper);
    r->keeper = keeper_new(r->settings, &(struct keeper_options){.escalate = true, .expect = true});
    if (r->keeper && r->listener)
        alerts_listen(keeper_alerts(r->keeper), r->listener, r->listener_ctx);
    return r->keeper != NULL;
}

static void on_iface(void *ctx, uint8_t iface, const char *name)
{
    struct replay *r = ctx;
    keeper_name_iface(r->keeper, iface, name);
}

void replay_listen(struct replay *r, alert_listener *f, void *ctx)
{
    r->listener = f;
    r->listener_ctx = ctx;
    alerts_listen(keeper_alerts(r->keeper), f, ctx);
}

bool replay_open(struct replay *r, const char *path, const char *zone,
                 const struct settings *settings, const struct log_range *range, struct err *e)
{
    *r = (struct replay){.path = path, .settings = settings, .speed = 1};
    if (!log_reader_open(&r->reader, &path, 1, zone, e))
        return false;
    r->reader.range = *range;
    r->reader.on_iface = on_iface;
    r->reader.ctx = r;
    if (!new_keeper(r)) {
        log_reader_close(&r->reader);
        return err_set(e, "out of memory");
    }
    r->can_rewind = log_reader_rewind(&r->reader);
    return true;
}

void replay_close(struct replay *r)
{
    keeper_free(r->keeper);
    log_reader_close(&r->reader);
    r->keeper = NULL;
}

/* More frames into the batch; false when there are none now. */
static bool refill(struct replay *r)
{
    if (r->at < r->count)
        return true;
    r->at = r->count = 0;
    if (r->ended)
        return false;
    enum source_state state = log_reader_next(&r->reader, &r->error);
    r->starved = state == SOURCE_WAIT;
    if (state == SOURCE_END || state == SOURCE_FAILED)
        r->ended = true;
    r->failed |= state == SOURCE_FAILED;
    if (state != SOURCE_READY)
        return false;
    r->batch = r->reader.frames;
    r->count = r->reader.n;
    return true;
}

static void start(struct replay *r, const struct frame *f)
{
    r->started = true;
    r->now = (struct stamp){f->wall_ns, f->mono_ns};
    r->seeking = r->reader.range.has_from;
    r->seek_wall_ns = r->reader.from_ns;
}

/* Gives again what the user did the last time this moment was passed. */
static void repeat_acks(struct replay *r)
{
    while (r->ack_next < r->ack_count && r->acks[r->ack_next].mono_ns <= r->now.mono_ns) {
        const struct replay_ack *a = &r->acks[r->ack_next++];
        if (a->silence)
            alerts_silence(keeper_alerts(r->keeper), r->now);
        else
            alerts_acknowledge(keeper_alerts(r->keeper), a->id, r->now);
    }
}

/* Plays frames of the batch up to the mono time `until`, or up to the moment that is sought. */
static size_t play(struct replay *r, int64_t until_ns)
{
    size_t from = r->at;
    bool stop = false;
    while (r->at < r->count && !stop) {
        const struct frame *f = &r->batch[r->at];
        if (r->seeking && f->wall_ns >= r->seek_wall_ns) {
            r->seeking = false;
            break;
        }
        if (!r->seeking && f->mono_ns > until_ns)
            break;
        /* Acknowledgements come between frames, as they did. */
        stop = r->ack_next < r->ack_count && r->acks[r->ack_next].mono_ns <= f->mono_ns;
        r->at++;
    }
    size_t n = r->at - from;
    if (n > 0) {
        const struct frame *last = &r->batch[r->at - 1];
        meter_frames(&r->meter, &r->batch[from], n);
        keeper_frames(r->keeper, &r->batch[from], n);
        r->now = (struct stamp){last->wall_ns, last->mono_ns};
        repeat_acks(r);
    }
    return n;
}

static bool after_hole(const struct frame *f)
{
    return f->flags & (FRAME_GAP | FRAME_HOLE);
}

/* Time goes on between frames; where the record has a hole, it is passed over: true, the frame
 * after it is due now. */
static bool pass_time(struct replay *r, int64_t until_ns)
{
    if (r->at >= r->count)
        return false;
    const struct frame *next = &r->batch[r->at];
    if (after_hole(next)) {
        r->owed_ns = (double)(next->mono_ns - r->now.mono_ns);
        return true;
    }
    int64_t step = until_ns - r->now.mono_ns;
    if (step <= 0)
        return false;
    r->now.mono_ns += step;
    r->now.wall_ns += step;
    r->owed_ns -= (double)step;
    if (r->owed_ns < 0)
        r->owed_ns = 0;
    keeper_tick(r->keeper, r->now);
    return false;
}

bool replay_advance(struct replay *r, int64_t elapsed_ns, size_t max_frames)
{
    size_t played = 0;
    if (r->ended || (r->paused && !r->seeking))
        return false;
    if (!refill(r))
        return r->ended;
    if (!r->started)
        start(r, &r->batch[0]);
    if (!r->seeking && r->speed > 0)
        r->owed_ns += (double)elapsed_ns * r->speed;
    while (played < max_frames && !r->ended && refill(r)) {
        bool free_run = r->speed <= 0 && !r->paused;
        int64_t before = r->now.mono_ns;
        int64_t until = free_run || r->seeking ? INT64_MAX : before + (int64_t)r->owed_ns;
        bool was_seeking = r->seeking;
        size_t n = play(r, until);
        played += n;
        if (!was_seeking && !free_run)
            r->owed_ns -= (double)(r->now.mono_ns - before);
        if (was_seeking && !r->seeking) {
            r->owed_ns = 0;
            return true;
        }
        if (n == 0 && !was_seeking && !pass_time(r, until))
            break;
    }
    /* A machine too slow for the speed must not owe for ever. */
    if (r->owed_ns > 2e9 * (r->speed > 1 ? r->speed : 1))
        r->owed_ns = 0;
    if (r->ended)
        r->seeking = false;
    return played > 0 || r->ended;
}

bool replay_busy(const struct replay *r)
{
    return !r->ended && (r->seeking || !r->started || (!r->paused && r->speed <= 0));
}

int64_t replay_wait_ns(const struct replay *r)
{
    if (r->ended || r->paused || r->speed <= 0 || r->at >= r->count)
        return -1;
    const struct frame *next = &r->batch[r->at];
    double due = (double)(next->mono_ns - r->now.mono_ns) - r->owed_ns;
    return due <= 0 || after_hole(next) ? 0 : (int64_t)(due / r->speed);
}

bool replay_seek(struct replay *r, int64_t wall_ns)
{
    if (!r->started)
        return false;
    if (wall_ns < r->now.wall_ns || r->ended) {
        if (!r->can_rewind || !log_reader_rewind(&r->reader) || !new_keeper(r))
            return false;
        r->at = r->count = 0;
        r->ended = false;
        r->ack_next = 0;
        r->meter = (struct meter){0};
        r->now = (struct stamp){r->reader.first_ns, 0};
    }
    r->seeking = true;
    r->seek_wall_ns = wall_ns;
    r->owed_ns = 0;
    return true;
}

static void remember(struct replay *r, struct replay_ack a)
{
    if (r->ack_count == REPLAY_ACKS)
        return;
    size_t i = r->ack_next;
    memmove(&r->acks[i + 1], &r->acks[i], (r->ack_count - i) * sizeof r->acks[0]);
    r->acks[i] = a;
    r->ack_count++;
    r->ack_next++;
}

void replay_acknowledge(struct replay *r, uint32_t id)
{
    if (alerts_acknowledge(keeper_alerts(r->keeper), id, r->now))
        remember(r, (struct replay_ack){.id = id, .mono_ns = r->now.mono_ns});
}

void replay_silence(struct replay *r)
{
    alerts_silence(keeper_alerts(r->keeper), r->now);
    remember(r, (struct replay_ack){.mono_ns = r->now.mono_ns, .silence = true});
}

/* ---- the scan ---- */

static void on_event(void *ctx, const struct alert_event *ev)
{
    struct scan *s = ctx;
    if (ev->event != EVENT_RAISED && ev->event != EVENT_ESCALATED)
        return;
    if (s->count == MODEL_MARKS)
        return;
    s->marks[s->count++] =
        (struct model_mark){.wall_ns = ev->at.wall_ns, .priority = (int)ev->alert->priority};
}

static void scan_iface(void *ctx, uint8_t iface, const char *name)
{
    struct scan *s = ctx;
    keeper_name_iface(s->keeper, iface, name);
}

bool scan_open(struct scan *s, const char *path, const char *zone, const struct settings *settings)
{
    *s = (struct scan){0};
    s->going = log_reader_open(&s->reader, &path, 1, zone, NULL);
    if (s->going)
        s->keeper = keeper_new(settings, &(struct keeper_options){.escalate = false});
    if (!s->keeper) {
        scan_close(s);
        return false;
    }
    s->reader.on_iface = scan_iface;
    s->reader.ctx = s;
    alerts_listen(keeper_alerts(s->keeper), on_event, s);
    return true;
}

/* From the histories of the whole log, before they go: peaks are in them. */
static void find_hottest(struct scan *s)
{
    const struct plant *p = keeper_plant(s->keeper);
    struct stamp end = plant_now(p);
    int64_t long_ns = s->last_ns - s->first_ns,
            begin_ns = end.mono_ns - (end.wall_ns - s->first_ns);
    s->limit = 93.3; /* where no rule says another */
    if (long_ns < NS_PER_S * SCAN_HOTTEST / 4)
        return;
    for (int i = 0; i < SCAN_HOTTEST; i++)
        s->hottest[i] = NAN;
    for (size_t k = 0; k < plant_count(p); k++) {
        const struct channel *c = plant_channel(p, k);
        if (c->id.quantity != QTY_EXHAUST || c->second || !c->history)
            continue;
        s->hottest_count = SCAN_HOTTEST;
        for (int i = 0; i < SCAN_HOTTEST; i++) {
            struct history_bucket b;
            int64_t from = begin_ns + long_ns / SCAN_HOTTEST * i;
            if (history_span(c->history, from < 0 ? 0 : from,
                             begin_ns + long_ns / SCAN_HOTTEST * (i + 1), &b) &&
                !(b.high <= s->hottest[i]))
                s->hottest[i] = b.high;
        }
    }
}

bool scan_step(struct scan *s, size_t max_frames)
{
    for (size_t done = 0; s->going && done < max_frames; done += s->reader.n) {
        if (log_reader_next(&s->reader, NULL) != SOURCE_READY) {
            if (s->any)
                find_hottest(s);
            scan_close(s);
            s->done = s->any;
            return false;
        }
        if (!s->any)
            s->first_ns = s->reader.first_ns;
        s->any = true;
        if (s->reader.last_ns > s->last_ns)
            s->last_ns = s->reader.last_ns;
        keeper_frames(s->keeper, s->reader.frames, s->reader.n);
    }
    return s->going;
}

void scan_close(struct scan *s)
{
    keeper_free(s->keeper);
    log_reader_close(&s->reader);
#ifdef __GLIBC__
    /* Its histories lie between those that stay: without this they are never given back. */
    if (s->keeper)
        malloc_trim(0);
#endif
    s->keeper = NULL;
    s->going = false;
}
