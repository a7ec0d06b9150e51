#include "session/replay.h"

#include <malloc.h>
#include <string.h>

#include "base/banned.h"

static bool new_keeper(struct replay *r)
{
    keeper_free(r->keeper);
    r->keeper = keeper_new(r->settings, &(struct keeper_options){.escalate = true, .expect = true});
    r->named = 0;
    return r->keeper != NULL;
}

bool replay_open(struct replay *r, const char *path, const char *zone,
                 const struct settings *settings, const struct log_range *range, struct err *e)
{
    *r = (struct replay){.path = path, .settings = settings, .range = *range, .speed = 1};
    r->source = source_open_log(path, &(struct source_options){.zone = zone}, e);
    if (!r->source)
        return false;
    if (!new_keeper(r)) {
        source_close(r->source);
        r->source = NULL;
        return err_set(e, "out of memory");
    }
    r->can_rewind = source_rewind(r->source);
    return true;
}

void replay_close(struct replay *r)
{
    keeper_free(r->keeper);
    source_close(r->source);
    r->keeper = NULL;
    r->source = NULL;
}

/* More frames into the batch; false when there are none now. */
static bool refill(struct replay *r)
{
    if (r->at < r->count)
        return true;
    r->at = r->count = 0;
    if (r->ended)
        return false;
    enum source_state state = source_read(r->source, r->batch, REPLAY_BATCH, &r->count, &r->error);
    for (; r->named < source_iface_count(r->source); r->named++)
        keeper_name_iface(r->keeper, (uint8_t)r->named,
                          source_iface_name(r->source, (uint8_t)r->named));
    r->starved = state == SOURCE_WAIT;
    if (state == SOURCE_END || state == SOURCE_FAILED)
        r->ended = true;
    r->failed |= state == SOURCE_FAILED;
    if (state != SOURCE_READY)
        r->count = 0;
    return r->count > 0;
}

static void start(struct replay *r, const struct frame *f)
{
    r->started = true;
    r->first_wall_ns = f->wall_ns;
    r->now = (struct stamp){f->wall_ns, f->mono_ns};
    if (r->range.has_from) {
        struct moment m = r->range.from;
        r->seeking = true;
        r->seek_wall_ns = m.relative ? f->wall_ns + m.ns : m.ns;
    }
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
        if (r->range.has_to && range_after(&r->range, r->first_wall_ns, f->wall_ns)) {
            r->ended = true;
            break;
        }
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
    if (r->ended && r->at < r->count)
        r->count = r->at;
    return n;
}

/* Time goes on between frames; and where the record has a hole, it is passed over. */
static void pass_time(struct replay *r, int64_t until_ns)
{
    if (r->at >= r->count || r->ended)
        return;
    const struct frame *next = &r->batch[r->at];
    if (next->flags & (FRAME_GAP | FRAME_HOLE)) {
        r->owed_ns = (double)(next->mono_ns - r->now.mono_ns);
        return;
    }
    int64_t step = until_ns - r->now.mono_ns;
    if (step <= 0 || next->mono_ns <= until_ns)
        return;
    r->now.mono_ns += step;
    r->now.wall_ns += step;
    r->owed_ns -= (double)step;
    if (r->owed_ns < 0)
        r->owed_ns = 0;
    keeper_tick(r->keeper, r->now);
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
        if (n == 0 && !was_seeking) {
            pass_time(r, until);
            break;
        }
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
    double due = (double)(r->batch[r->at].mono_ns - r->now.mono_ns) - r->owed_ns;
    return due <= 0 ? 0 : (int64_t)(due / r->speed);
}

bool replay_seek(struct replay *r, int64_t wall_ns)
{
    if (!r->started)
        return false;
    if (wall_ns < r->now.wall_ns || r->ended) {
        if (!r->can_rewind || !source_rewind(r->source) || !new_keeper(r))
            return false;
        r->at = r->count = 0;
        r->ended = false;
        r->ack_next = 0;
        r->meter = (struct meter){0};
        r->now = (struct stamp){r->first_wall_ns, 0};
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
    s->marks[s->count++] = (struct model_mark){ev->at.wall_ns, (int)ev->alert->priority};
}

bool scan_open(struct scan *s, const char *path, const char *zone, const struct settings *settings)
{
    *s = (struct scan){0};
    s->source = source_open_log(path, &(struct source_options){.zone = zone}, NULL);
    if (s->source)
        s->keeper = keeper_new(settings, &(struct keeper_options){.escalate = false});
    if (!s->keeper) {
        scan_close(s);
        return false;
    }
    alerts_listen(keeper_alerts(s->keeper), on_event, s);
    return true;
}

bool scan_step(struct scan *s, size_t max_frames)
{
    for (size_t done = 0; s->source && done < max_frames;) {
        size_t n = 0;
        enum source_state state = source_read(s->source, s->batch, REPLAY_BATCH, &n, NULL);
        if (state != SOURCE_READY) {
            scan_close(s);
            s->done = s->any;
            return false;
        }
        if (!s->any)
            s->first_ns = s->batch[0].wall_ns;
        s->any = true;
        if (s->batch[n - 1].wall_ns > s->last_ns)
            s->last_ns = s->batch[n - 1].wall_ns;
        keeper_frames(s->keeper, s->batch, n);
        done += n;
    }
    return s->source != NULL;
}

void scan_close(struct scan *s)
{
    keeper_free(s->keeper);
    source_close(s->source);
#ifdef __GLIBC__
    /* Its histories lie between those that stay: without this they are never given back. */
    if (s->keeper)
        malloc_trim(0);
#endif
    s->keeper = NULL;
    s->source = NULL;
}
