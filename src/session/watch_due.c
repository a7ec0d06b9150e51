#include "session/watch_inside.h"

#include "base/banned.h"

int64_t watch_half_flash_ns(const struct watch *w)
{
    int64_t half = w->settings->alerts.flash_ns / 2;
    return half > 0 ? half : NS_PER_S / 2;
}

static bool flashes(const struct model *m)
{
    for (size_t i = 0; i < m->alert_count; i++)
        if (m->alerts[i]->state != ALERT_ACKNOWLEDGED)
            return true;
    return false;
}

/* The sooner of two; below 0 is never. */
static int64_t sooner(int64_t a, int64_t b)
{
    return a < 0 || (b >= 0 && b < a) ? b : a;
}

int watch_sleep_ms(const struct watch *w)
{
    int64_t wait = w->feed.kind->wait_ns(w->feed.ctx);
    if (w->urgent)
        return 0;
    int64_t next_draw = w->draw_ns + w->frame_ns - w->now_ns;
    if (next_draw < 0)
        next_draw = 0;
    /* A frame is worth waking for no sooner than a picture may be drawn of it. */
    if (wait > 0 && wait < next_draw)
        wait = next_draw;
    if (w->dirty)
        wait = sooner(wait, next_draw);
    if (flashes(w->model)) {
        int64_t half = watch_half_flash_ns(w);
        wait = sooner(wait, half - w->now_ns % half);
    }
    wait = sooner(wait, sound_wait_ns(&w->sounder, w->now_ns));
    return wait < 0 ? -1 : (int)((wait + NS_PER_MS - 1) / NS_PER_MS);
}

struct sound_due watch_sound_due(const struct watch *w)
{
    const struct model *m = w->model;
    struct sound_due due = {.sound = w->feed.kind->sound(w->feed.ctx)};
    for (size_t i = 0; i < m->alert_count; i++) {
        const struct alert *a = m->alerts[i];
        if (a->state != ALERT_UNACKNOWLEDGED || a->priority < PRIORITY_ALARM)
            continue;
        int64_t waiting_ns = sound_waiting_ns(a, m->now);
        due.emergency |= due.sound == SOUND_ALARM && a->priority == PRIORITY_EMERGENCY;
        if (waiting_ns > due.waiting_ns)
            due.waiting_ns = waiting_ns;
    }
    return due;
}

bool watch_wants_picture(const struct watch *w)
{
    int64_t half = watch_half_flash_ns(w);
    bool due = w->now_ns - w->draw_ns >= w->frame_ns;
    bool turned = w->now_ns / half != w->draw_ns / half && flashes(w->model);
    /* What a key asked for is seen at once; a move in the log when it has arrived. */
    bool at_once = w->urgent && !w->feed.kind->settling(w->feed.ctx);
    return at_once || turned || (due && (w->dirty || w->urgent));
}
