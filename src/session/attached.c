#include "session/attached.h"

#include "base/text.h"
#include "hooks/lines.h"
#include "season/model.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define NUMBER_MOST 1e9 /* beyond every quantity, in any unit */
#define PERIOD_MOST (86400 * NS_PER_S)
#define MONO_MOST   (LINE_TIME_MOST / 2) /* 73 years: a deadline can be added to it */

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

/* This and all that follow: a bad line changes nothing. */
static void take_boat(struct attached *a, struct fields *f)
{
    char vessel[sizeof a->vessel], source[sizeof a->source], record[sizeof a->record];
    get_text(f, vessel, sizeof vessel);
    get_text(f, source, sizeof source);
    int64_t trend_span_ns = get_time(f), silence_ns = get_time(f);
    get_text(f, record, sizeof record);
    bool clock_known = fields_integer(f, 0, 1) != 0;
    if (f->bad)
        return;
    text_copy(a->vessel, sizeof a->vessel, vessel);
    text_copy(a->source, sizeof a->source, source);
    a->trend_span_ns = within(trend_span_ns, 60 * NS_PER_S, 86400 * NS_PER_S);
    a->silence_ns = within(silence_ns, 0, 3600 * NS_PER_S);
    text_copy(a->record, sizeof a->record, record);
    a->clock_known = clock_known;
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
    char sense[COOLING_SENSE_SIZE] = "";
    if (f->at)
        get_text(f, sense, sizeof sense);
    if (f->bad)
        return;
    text_copy(a->engines[i].sense, sizeof a->engines[i].sense, sense);
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
    char key[sizeof r->key], label[sizeof r->label], place[sizeof r->place];
    get_text(f, key, sizeof key);
    get_text(f, label, sizeof label);
    get_text(f, place, sizeof place);
    c.period_ns = get_later(f, 0, PERIOD_MOST, 0); /* without it slow senders show gaps, no more */
    c.limit_priority =
        (enum priority)get_later(f, PRIORITY_CAUTION, PRIORITY_EMERGENCY, PRIORITY_ALARM);
    if (f->bad)
        return;
    text_copy(r->key, sizeof r->key, key);
    text_copy(r->label, sizeof r->label, label);
    text_copy(r->place, sizeof r->place, place);
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

static void take_season(struct attached *a, struct fields *f)
{
    struct remote *r = remote_of(a, fields_integer(f, 0, PLANT_CHANNELS - 1));
    bool told = fields_integer(f, 0, 1) != 0;
    double excess = get_number(f);
    bool share = fields_integer(f, 0, 1) != 0;
    int64_t since_ns = fields_integer(f, 0, INT64_MAX);
    if (!r || f->bad)
        return;
    r->c.has_season = told && isfinite(excess);
    r->c.season = excess;
    r->c.season_is_share = share;
    r->c.season_since = season_month(since_ns);
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
    if (a->coming_count < ALERTS_MAX + ATTACHED_ENDED &&
        fields_alert(f, &a->coming[a->coming_count]))
        a->coming_count++;
}

static void take_alerts(struct attached *a, struct fields *f)
{
    size_t listed = (size_t)fields_integer(f, 0, ALERTS_MAX);
    size_t ended = (size_t)fields_integer(f, 0, ATTACHED_ENDED);
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
        {"season", take_season},
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

void attached_take_lines(struct attached *a)
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
