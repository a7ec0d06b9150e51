/* The feed of a `tend` that runs: what it has said (session/attached.h) is shown; what the user
 * asks for is sent to it. No rule runs here. */
#include "session/feed.h"

#include "base/text.h"
#include "hooks/door.h"
#include "hooks/lines.h"
#include "session/attached.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "base/banned.h"

#define TURN_MAX (1024 * 1024) /* bytes taken in one turn */

static bool attach_turn(void *ctx, struct stamp clock, int64_t elapsed_ns)
{
    struct attached *a = ctx;
    size_t taken = 0;
    (void)clock;
    (void)elapsed_ns;
    while (!a->failed && taken < TURN_MAX) {
        ssize_t n = recv(a->fd, a->in + a->in_len, sizeof a->in - a->in_len, MSG_DONTWAIT);
        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0 && (errno == EAGAIN || errno == EWOULDBLOCK))
            break;
        if (n <= 0) {
            a->failed = true;
            err_set(&a->error, "the tend that was watched has ended");
            break;
        }
        a->in_len += (size_t)n;
        taken += (size_t)n;
        attached_take_lines(a);
    }
    return taken > 0;
}

static int64_t attach_wait_ns(void *ctx)
{
    (void)ctx;
    return -1;
}

static int attach_fd(void *ctx)
{
    struct attached *a = ctx;
    return a->failed ? -1 : a->fd;
}

static bool attach_settling(void *ctx)
{
    (void)ctx;
    return false;
}

/* Whether engine e is shown before engine o: generators last, else in the order that was said. */
static bool is_before(const struct attached *a, int e, int o)
{
    if (!a->engines[e].known || a->engines[e].generator != a->engines[o].generator)
        return a->engines[e].known && a->engines[o].generator;
    return a->engines[e].order < a->engines[o].order ||
           (a->engines[e].order == a->engines[o].order && e < o);
}

/* Slots that hold no engine are not shown: -1. */
static void fill_engines(const struct attached *a, struct model *m, int shown_as[PLANT_ENGINES])
{
    m->engines = 0;
    for (int i = 0; i < PLANT_ENGINES; i++)
        m->sense[i][0] = '\0';
    for (int e = 0; e < PLANT_ENGINES; e++) {
        int at = 0;
        shown_as[e] = -1;
        if (!a->engines[e].known)
            continue;
        for (int o = 0; o < PLANT_ENGINES; o++)
            at += is_before(a, o, e);
        shown_as[e] = at;
        m->engines += !a->engines[e].generator;
        text_copy(m->engine_names[at], sizeof m->engine_names[at], a->engines[e].name);
        m->engine_states[at] = a->engines[e].state;
        m->careful[at] = a->engines[e].careful;
        text_copy(m->sense[at], sizeof m->sense[at], a->engines[e].sense);
    }
}

static void fill_channels(const struct attached *a, struct model *m,
                          const int shown_as[PLANT_ENGINES])
{
    m->channel_count = 0;
    for (size_t i = 0; i < a->channel_count; i++) {
        const struct remote *r = a->channels[i];
        if (!r || !r->known || r->hidden || r->c.status == READING_NEVER)
            continue;
        struct model_channel *c = &m->channels[m->channel_count++];
        *c = r->c;
        c->alert = -1;
        c->engine = r->c.engine < 0 ? -1 : shown_as[r->c.engine];
        c->expected_low = r->high ? r->low : NULL;
        c->expected_high = r->high;
        c->age_ns = a->now.mono_ns - r->good_ns;
        model_find_rate(c, a->now);
    }
}

static void fill_bus(const struct attached *a, struct model *m)
{
    m->bus = a->bus;
    m->iface_count = a->iface_count;
    memcpy(m->iface_names, a->iface_names, sizeof m->iface_names);
    m->source_count = a->source_count;
    m->sources_more = 0;
    for (int i = 0; i < a->source_count; i++) {
        struct model_source *s = &m->sources[i];
        *s = a->sources[i];
        s->age_ns = a->now.mono_ns - a->source_last_ns[i];
        model_decode_name(s);
        for (size_t k = 0; k < m->channel_count; k++)
            s->channels += m->channels[k].source == s->address && m->channels[k].iface == s->iface;
    }
}

static void attach_fill(void *ctx, struct model *m)
{
    struct attached *a = ctx;
    int shown_as[PLANT_ENGINES];
    m->now = a->now;
    m->clock_known = a->clock_known;
    m->has_bus_clock = a->has_bus_clock;
    m->bus_ahead_ns = a->bus_ahead_ns;
    m->waiting = a->answered ? NULL : "the tend that runs";
    m->record = a->record[0] ? a->record : NULL;
    m->replay = (struct model_replay){.is_log = false};
    marks_set_show(&a->marks, m);
    m->silence_ns = a->silence_ns;
    /* Nobody said, or nothing that could be: as the screen has it by itself. */
    m->trend_span_ns = a->trend_span_ns ? a->trend_span_ns : 600 * NS_PER_S;
    text_copy(m->vessel, sizeof m->vessel, a->vessel);
    text_copy(m->source, sizeof m->source, a->source);
    m->listening = a->listened_ns >= 0 && a->listened_ns < MODEL_LISTEN_NS;
    m->gathering = a->listened_ns >= 0 && a->listened_ns < MODEL_GATHER_NS;
    fill_engines(a, m, shown_as);
    m->alert_count = a->listed;
    m->ended_count = a->ended;
    for (size_t i = 0; i < a->listed; i++)
        m->alerts[i] = &a->alerts[i];
    for (size_t i = 0; i < a->ended; i++)
        m->ended[i] = &a->alerts[a->listed + i];
    m->sounding = a->sound == SOUND_ALARM;
    fill_channels(a, m, shown_as);
    fill_bus(a, m);
    model_link_alerts(m);
    model_settle(m, false);
}

static bool send_command(struct attached *a, const char *text)
{
    size_t len = strlen(text);
    return send(a->fd, text, len, MSG_NOSIGNAL | MSG_DONTWAIT) == (ssize_t)len;
}

static void attach_request(void *ctx, const struct request *q, char *notice, size_t cap)
{
    struct attached *a = ctx;
    char text[64];
    struct line line;
    bool sent = true;
    switch (q->kind) {
    case REQUEST_ACKNOWLEDGE:
        text_format(text, sizeof text, "acknowledge\t%u\n", (unsigned)q->id);
        sent = send_command(a, text);
        break;
    case REQUEST_SILENCE:
        sent = send_command(a, "silence\n");
        break;
    case REQUEST_MARK:
        line_begin(&line, "mark");
        line_integer(&line, q->amount);
        line_text(&line, q->words);
        line_end(&line);
        sent = !line.overflow && send_command(a, line.text);
        if (sent)
            marks_set_add(&a->marks, q->amount, q->words);
        text_copy(notice, cap, "marked; ten minutes before and after are set aside");
        break;
    default:
        break;
    }
    if (!sent)
        text_copy(notice, cap, "the tend that runs does not listen");
}

static enum alert_sound attach_sound(void *ctx)
{
    struct attached *a = ctx;
    return a->sound;
}

static const char *attach_failed(void *ctx)
{
    struct attached *a = ctx;
    return a->failed ? a->error.text : NULL;
}

static void attach_close(void *ctx)
{
    struct attached *a = ctx;
    for (size_t i = 0; i < a->channel_count; i++)
        if (a->channels[i]) {
            history_free(a->channels[i]->history);
            history_free(a->channels[i]->low);
            history_free(a->channels[i]->high);
            free(a->channels[i]);
        }
    close(a->fd);
    free(a);
}

static const struct feed_kind attach_kind = {.turn = attach_turn,
                                             .wait_ns = attach_wait_ns,
                                             .fd = attach_fd,
                                             .settling = attach_settling,
                                             .fill = attach_fill,
                                             .request = attach_request,
                                             .sound = attach_sound,
                                             .failed = attach_failed,
                                             .close = attach_close};

bool feed_open_attach(struct feed *f, const struct feed_options *o, struct err *e)
{
    *f = (struct feed){0};
    struct attached *a = calloc(1, sizeof *a);
    if (!a)
        return err_set(e, "out of memory");
    a->fd = door_connect(o->names[0], e);
    if (a->fd < 0) {
        free(a);
        return false;
    }
    a->bus.load_percent = a->bus.frames_per_s = -1;
    a->bus.losses_unknown = true;
    if (!send_command(a, "attach\n")) {
        err_set(e, "the tend at '%s' does not listen", o->names[0]);
        close(a->fd);
        free(a);
        return false;
    }
    *f = (struct feed){&attach_kind, a};
    return true;
}
