/* The feed of a `tend` that runs: what it sends through its local socket (hooks/door.h) is kept
 * here and shown; what the user asks for is sent to it. No rule runs here. */
#include "session/feed.h"

#include "base/text.h"
#include "hooks/door.h"
#include "hooks/lines.h"
#include "session/marks_set.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "base/banned.h"

#define READ_SIZE   (256 * 1024)
#define ENDED_MAX   64
#define TURN_MAX    (1024 * 1024) /* bytes taken in one turn */
#define NUMBER_MOST 1e9           /* beyond every quantity, in any unit */
#define PERIOD_MOST (86400 * NS_PER_S)
#define MONO_MOST   (LINE_TIME_MOST / 2) /* 73 years: a deadline can be added to it */

struct remote {
    bool known, hidden;
    struct model_channel c; /* all but age, rate and alert */
    int64_t good_ns;
    char key[CHANNEL_KEY_SIZE], label[32], place[20];
    struct history *history, *low, *high; /* the edges: NULL until something was expected */
};

struct attached {
    int fd;
    struct err error;
    bool failed, answered;
    struct marks_set marks;
    char in[READ_SIZE];
    size_t in_len;

    struct stamp now;
    char vessel[40], source[48], record[16];
    bool clock_known, has_bus_clock;
    int64_t bus_ahead_ns;
    int64_t trend_span_ns, silence_ns;
    struct {
        char name[20];
        enum engine_state state;
        bool known, generator, careful;
        int order;
    } engines[PLANT_ENGINES]; /* by slot of the other side */
    int64_t listened_ns;      /* -1: not said */
    char iface_names[SOURCE_IFACES][16];
    int iface_count;
    struct model_source sources[MODEL_SOURCES];
    int64_t source_last_ns[MODEL_SOURCES];
    int source_count;
    struct model_bus bus;
    enum alert_sound sound;

    struct remote *channels[PLANT_CHANNELS]; /* by the index of the other side */
    size_t channel_count;
    struct alert alerts[ALERTS_MAX + ENDED_MAX]; /* listed, then ended */
    size_t listed, ended;
    struct alert coming[ALERTS_MAX + ENDED_MAX]; /* until the line that ends them */
    size_t coming_count;
};

/* ---- what is sent ---- */

static int64_t get_time(struct fields *f)
{
    return fields_integer(f, 0, MONO_MOST);
}

/* NaN for what no boat has: a drawing is scaled by it. */
static double get_number(struct fields *f)
{
    double v = fields_number(f);
    return fabs(v) <= NUMBER_MOST ? v : NAN;
}

static int64_t within(int64_t v, int64_t low, int64_t high)
{
    return v < low ? low : v > high ? high : v;
}

/* Text of the other side: nothing in it may reach the terminal but printable characters. */
static void get_text(struct fields *f, char *dst, size_t cap)
{
    const char *s = fields_text(f);
    text_clean(dst, cap, s, strlen(s));
}

static void take_boat(struct attached *a, struct fields *f)
{
    get_text(f, a->vessel, sizeof a->vessel);
    get_text(f, a->source, sizeof a->source);
    a->trend_span_ns = within(get_time(f), 60 * NS_PER_S, 86400 * NS_PER_S);
    a->silence_ns = within(get_time(f), 0, 3600 * NS_PER_S);
    get_text(f, a->record, sizeof a->record);
    a->clock_known = fields_integer(f, 0, 1) != 0;
}

/* A field that came later than the others: what a `tend` of before does not say. */
static int64_t get_later(struct fields *f, int64_t low, int64_t high, int64_t unsaid)
{
    return f->at ? fields_integer(f, low, high) : unsaid;
}

static void take_engine(struct attached *a, struct fields *f)
{
    int64_t i = fields_integer(f, 0, PLANT_ENGINES - 1);
    char name[sizeof a->engines[0].name];
    get_text(f, name, sizeof name);
    int64_t state = fields_integer(f, 0, ENGINE_RUNNING);
    int64_t order = get_later(f, 0, PLANT_ENGINES - 1, i);
    bool generator = get_later(f, 0, 1, 0) != 0, careful = get_later(f, 0, 1, 0) != 0;
    if (f->bad)
        return;
    a->engines[i].known = true;
    text_copy(a->engines[i].name, sizeof a->engines[i].name, name);
    a->engines[i].state = (enum engine_state)state;
    a->engines[i].order = (int)order;
    a->engines[i].generator = generator;
    a->engines[i].careful = careful;
}

static void take_iface(struct attached *a, struct fields *f)
{
    int64_t i = fields_integer(f, 0, SOURCE_IFACES - 1);
    char name[sizeof a->iface_names[0]];
    get_text(f, name, sizeof name);
    if (f->bad)
        return;
    text_copy(a->iface_names[i], sizeof a->iface_names[i], name);
    if (i >= a->iface_count)
        a->iface_count = (int)i + 1;
}

static void take_station(struct attached *a, struct fields *f)
{
    struct model_source s = {.iface = (uint8_t)fields_integer(f, 0, UINT8_MAX),
                             .address = (uint8_t)fields_integer(f, 0, UINT8_MAX),
                             .name = (uint64_t)fields_integer(f, INT64_MIN, INT64_MAX),
                             .frames = (uint64_t)fields_integer(f, 0, INT64_MAX)};
    int64_t last_ns = get_time(f);
    s.name_changes = (uint32_t)fields_integer(f, 0, UINT32_MAX);
    s.gaps = (uint32_t)get_later(f, 0, UINT32_MAX, 0);
    s.earlier = (uint8_t)get_later(f, 0, UINT8_MAX, 0);
    s.earlier_spn = (uint32_t)get_later(f, 0, 0x7FFFF, 0);
    s.earlier_fmi = (uint8_t)get_later(f, 0, 31, 0);
    int i = 0;
    while (i < a->source_count &&
           (a->sources[i].iface != s.iface || a->sources[i].address != s.address))
        i++;
    if (f->bad || i == MODEL_SOURCES)
        return;
    if (i == a->source_count)
        a->source_count++;
    a->sources[i] = s;
    a->source_last_ns[i] = last_ns;
}

static struct remote *remote_of(struct attached *a, int64_t i)
{
    if (i < 0 || i >= PLANT_CHANNELS)
        return NULL;
    if (!a->channels[i]) {
        struct remote *r = calloc(1, sizeof *r);
        if (!r || !(r->history = history_new())) {
            free(r);
            return NULL;
        }
        a->channels[i] = r;
        if ((size_t)i >= a->channel_count)
            a->channel_count = (size_t)i + 1;
    }
    return a->channels[i];
}

static void take_channel(struct attached *a, struct fields *f)
{
    struct remote *r = remote_of(a, fields_integer(f, 0, PLANT_CHANNELS - 1));
    if (!r)
        return;
    struct model_channel c = r->c;
    c.id.quantity = (uint16_t)fields_integer(f, 0, QTY_COUNT - 1);
    c.id.place = (uint8_t)fields_integer(f, 0, UINT8_MAX);
    c.id.sub = (uint8_t)fields_integer(f, 0, UINT8_MAX);
    c.engine = (int)fields_integer(f, -1, PLANT_ENGINES - 1);
    c.second = fields_integer(f, 0, 1) != 0;
    bool hidden = fields_integer(f, 0, 1) != 0;
    c.iface = (uint8_t)fields_integer(f, 0, UINT8_MAX);
    c.source = (uint8_t)fields_integer(f, 0, UINT8_MAX);
    c.pgn = (uint32_t)fields_integer(f, 0, UINT32_MAX);
    c.nominal_volts = (int)fields_integer(f, 0, 48);
    c.has_limit = fields_integer(f, 0, 1) != 0;
    c.limit_above = fields_integer(f, 0, 1) != 0;
    c.limit = get_number(f);
    c.has_limit = c.has_limit && isfinite(c.limit);
    get_text(f, r->key, sizeof r->key);
    get_text(f, r->label, sizeof r->label);
    get_text(f, r->place, sizeof r->place);
    c.period_ns = get_later(f, 0, PERIOD_MOST, 0); /* without it slow senders show gaps, no more */
    c.limit_priority =
        (enum priority)get_later(f, PRIORITY_CAUTION, PRIORITY_EMERGENCY, PRIORITY_ALARM);
    if (f->bad)
        return;
    const struct quantity_info *info = quantity_info((enum quantity)c.id.quantity);
    c.key = r->key;
    c.label = r->label[0] ? r->label : info->label;
    c.place = r->place;
    c.unit = info->unit;
    c.decimals = (uint8_t)info->decimals;
    c.steady_per_min = info->steady_per_min;
    c.history = r->history;
    r->c = c;
    r->hidden = hidden;
    r->known = true;
}

/* Three numbers of a bucket; false where they are none. */
static bool get_bucket(struct fields *f, struct history_bucket *b)
{
    *b = (struct history_bucket){
        .low = (float)get_number(f), .high = (float)get_number(f), .mean = (float)get_number(f)};
    /* The mean may be off by a rounding; far off it would be drawn off its scale. */
    b->mean = fminf(fmaxf(b->mean, b->low), b->high);
    return isfinite(b->low) && b->low <= b->high;
}

static void take_past(struct attached *a, struct fields *f)
{
    struct remote *r = remote_of(a, fields_integer(f, 0, PLANT_CHANNELS - 1));
    int64_t start_ns = get_time(f);
    get_time(f); /* its width: known from where it falls */
    struct history_bucket b;
    bool good = get_bucket(f, &b);
    b.count = (uint32_t)fields_integer(f, 0, UINT32_MAX);
    if (r && !f->bad && good)
        history_put(r->history, start_ns, &b);
}

/* Out of memory is no reason to stop showing: then there is no band. */
static bool has_edges(struct remote *r)
{
    if (r && !r->low)
        r->low = history_new();
    if (r && r->low && !r->high)
        r->high = history_new();
    return r && r->high;
}

static void take_band(struct attached *a, struct fields *f)
{
    struct remote *r = remote_of(a, fields_integer(f, 0, PLANT_CHANNELS - 1));
    int64_t start_ns = get_time(f);
    get_time(f);
    struct history_bucket low, high;
    bool good = get_bucket(f, &low);
    low.count = (uint32_t)fields_integer(f, 0, UINT32_MAX);
    good = get_bucket(f, &high) && good;
    high.count = low.count;
    if (f->bad || !good || !has_edges(r))
        return;
    history_put(r->low, start_ns, &low);
    history_put(r->high, start_ns, &high);
}

static void take_expect(struct attached *a, struct fields *f)
{
    struct remote *r = remote_of(a, fields_integer(f, 0, PLANT_CHANNELS - 1));
    bool now = fields_integer(f, 0, 1) != 0;
    double value = get_number(f), allowance = get_number(f);
    if (!r || f->bad)
        return;
    r->c.has_expected = now && isfinite(value) && isfinite(allowance) && allowance >= 0;
    r->c.expected = value;
    r->c.allowance = allowance;
}

static void take_value(struct attached *a, struct fields *f)
{
    struct remote *r = remote_of(a, fields_integer(f, 0, PLANT_CHANNELS - 1));
    int64_t status = fields_integer(f, 0, READING_STALE);
    bool off = fields_integer(f, 0, 1) != 0;
    double value = get_number(f);
    int64_t good_ns = get_time(f);
    if (!r || f->bad)
        return;
    /* What is not a number is not a reading, whatever the status says. */
    if (status == READING_OK && !isfinite(value))
        status = READING_NOT_AVAILABLE;
    r->c.status = (enum reading_status)status;
    r->c.off = off;
    r->c.value = isfinite(value) ? value : 0;
    r->good_ns = good_ns;
}

static void take_alert(struct attached *a, struct fields *f)
{
    if (a->coming_count < ALERTS_MAX + ENDED_MAX && fields_alert(f, &a->coming[a->coming_count]))
        a->coming_count++;
}

static void take_alerts(struct attached *a, struct fields *f)
{
    size_t listed = (size_t)fields_integer(f, 0, ALERTS_MAX);
    size_t ended = (size_t)fields_integer(f, 0, ENDED_MAX);
    if (!f->bad && listed + ended == a->coming_count) {
        memcpy(a->alerts, a->coming, a->coming_count * sizeof *a->alerts);
        a->listed = listed;
        a->ended = ended;
    }
    a->coming_count = 0;
}

static void take_time(struct attached *a, struct fields *f)
{
    struct stamp now;
    now.wall_ns = fields_integer(f, -LINE_TIME_MOST, LINE_TIME_MOST);
    now.mono_ns = get_time(f);
    a->bus.frames = (uint64_t)fields_integer(f, 0, INT64_MAX);
    a->bus.lost = (uint64_t)fields_integer(f, 0, INT64_MAX);
    a->bus.bad_lines = (uint64_t)fields_integer(f, 0, INT64_MAX);
    a->bus.errors = (uint64_t)fields_integer(f, 0, INT64_MAX);
    double load = get_number(f), rate = get_number(f);
    a->sound = (enum alert_sound)fields_integer(f, SOUND_NONE, SOUND_ALARM);
    a->has_bus_clock = fields_integer(f, 0, 1) != 0;
    int64_t ahead_ns = fields_integer(f, -MONO_MOST, MONO_MOST);
    int64_t listened_ns = get_later(f, 0, MONO_MOST, -1);
    int64_t incomplete = get_later(f, 0, INT64_MAX, -1);
    struct losses losses = {.incomplete = incomplete < 0 ? 0 : (uint64_t)incomplete,
                            .gaps = (uint64_t)get_later(f, 0, INT64_MAX, 0),
                            .dropped = (uint64_t)get_later(f, 0, INT64_MAX, 0),
                            .unbound = (uint64_t)get_later(f, 0, INT64_MAX, 0),
                            .alerts_lost = (uint64_t)get_later(f, 0, INT64_MAX, 0)};
    if (f->bad)
        return;
    a->bus.losses = losses;
    a->bus.losses_unknown = incomplete < 0;
    a->bus.load_percent = isfinite(load) ? load : -1;
    a->bus.frames_per_s = isfinite(rate) ? rate : -1;
    a->bus_ahead_ns = ahead_ns;
    a->listened_ns = listened_ns;
    a->now = now;
    a->answered = true;
}

/* A word that is not known is of a newer `tend`: passed over. */
static void take_line(struct attached *a, char *line)
{
    static const struct {
        const char *word;
        void (*take)(struct attached *a, struct fields *f);
    } words[] = {
        {"past", take_past},       {"value", take_value},     {"time", take_time},
        {"channel", take_channel}, {"alert", take_alert},     {"alerts", take_alerts},
        {"engine", take_engine},   {"station", take_station}, {"boat", take_boat},
        {"iface", take_iface},     {"band", take_band},       {"expect", take_expect},
    };
    struct fields f;
    fields_begin(&f, line);
    const char *word = fields_text(&f);
    for (size_t i = 0; i < sizeof words / sizeof *words; i++)
        if (strcmp(word, words[i].word) == 0) {
            words[i].take(a, &f);
            return;
        }
}

static void take_lines(struct attached *a)
{
    char *at = a->in, *stop = a->in + a->in_len, *end;
    while ((end = memchr(at, '\n', (size_t)(stop - at))) != NULL) {
        *end = '\0';
        take_line(a, at);
        at = end + 1;
    }
    a->in_len = (size_t)(stop - at);
    memmove(a->in, at, a->in_len);
    if (a->in_len == sizeof a->in)
        a->in_len = 0; /* no line is that long */
}

/* ---- the table ---- */

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
        take_lines(a);
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
    m->trend_span_ns = a->trend_span_ns;
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
