/* Frames to facts: who sends what, how often, between which figures. */
#include "report/muster/muster.h"

#include "base/text.h"
#include "plant/calibrate.h"
#include "wire/name.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define PAUSE_NS    (5 * NS_PER_S) /* a sender silent for longer was switched off meanwhile */
#define RUNNING_RPM 300.0
#define TANK_ERROR  14    /* of four bits, the second highest: an error, no tank */
#define OFTEN_PER_S 0.2   /* seldomer, without a standard's period, is no repeating */
#define TWINS_LAG_S 30.0  /* how an exhaust follows its engine: an order of magnitude is enough */
#define INDEX_SLOTS 16384 /* power of two, well above all that is kept */

/* Numbers of rows by key: open addressing, never emptied. */
struct muster_slot {
    uint64_t key; /* 0: free */
    uint32_t row;
};
struct muster_index {
    struct muster_slot slots[INDEX_SLOTS];
};

enum row_kind { ROW_SENDER = 1, ROW_MESSAGE, ROW_VALUE, ROW_NAME };

static struct muster_slot *slot_of(struct muster *m, uint64_t key)
{
    struct muster_index *x = m->index;
    uint64_t h = key * UINT64_C(0x9E3779B97F4A7C15);
    size_t i = (size_t)(h >> 40) & (INDEX_SLOTS - 1);
    while (x->slots[i].key != 0 && x->slots[i].key != key)
        i = (i + 1) & (INDEX_SLOTS - 1);
    return &x->slots[i];
}

/* Row with this key; *count, when it is new and there is room for it; -1 when there is none. */
static int row_of(struct muster *m, uint64_t key, size_t *count, size_t max, bool *added)
{
    struct muster_slot *s = slot_of(m, key);
    *added = s->key == 0;
    if (!*added)
        return (int)s->row;
    if (*count == max) {
        m->dropped++;
        return -1;
    }
    s->key = key;
    s->row = (uint32_t)*count;
    return (int)(*count)++;
}

struct muster *muster_new(const struct settings *settings)
{
    struct muster *m = calloc(1, sizeof *m);
    if (m == NULL)
        return NULL;
    m->settings = settings;
    m->clock_known = true;
    m->wire = wire_new();
    m->senders = calloc(MUSTER_SENDERS, sizeof *m->senders);
    m->messages = calloc(MUSTER_MESSAGES, sizeof *m->messages);
    m->values = calloc(MUSTER_VALUES, sizeof *m->values);
    m->names = calloc(MUSTER_NAMES, sizeof *m->names);
    m->findings = calloc(MUSTER_FINDINGS, sizeof *m->findings);
    m->index = calloc(1, sizeof(struct muster_index));
    if (m->wire == NULL || m->senders == NULL || m->messages == NULL || m->values == NULL ||
        m->names == NULL || m->findings == NULL || m->index == NULL) {
        muster_free(m);
        return NULL;
    }
    wire_want_all(m->wire, true);
    return m;
}

void muster_free(struct muster *m)
{
    if (m == NULL)
        return;
    wire_free(m->wire);
    free(m->senders);
    free(m->messages);
    free(m->values);
    free(m->names);
    free(m->findings);
    free(m->index);
    free(m);
}

void muster_name_iface(struct muster *m, uint8_t iface, const char *name)
{
    if (iface >= 16)
        return;
    text_copy(m->iface_names[iface], sizeof m->iface_names[0], name);
    if (m->iface_count <= iface)
        m->iface_count = iface + 1;
}

const char *muster_iface(const struct muster *m, uint8_t iface)
{
    return iface < 16 ? m->iface_names[iface] : "";
}

/* Between heartbeats no longer apart than they should be, a box with nothing to tell was there all
 * the time: a generator's gateway while the generator stands. */
static bool only_idle(const struct muster_sender *s, bool management, int64_t silent_ns)
{
    return s->heartbeats > 0 && (management || s->told_ns < s->last_ns) &&
           (double)silent_ns < 1.5e9 * s->heartbeat.interval_s;
}

static struct muster_sender *sender_of(struct muster *m, uint8_t iface, uint8_t address,
                                       bool management, int64_t now_ns, int *row)
{
    bool added;
    *row = row_of(m, (uint64_t)ROW_SENDER << 60 | (uint64_t)iface << 8 | address, &m->sender_count,
                  MUSTER_SENDERS, &added);
    if (*row < 0)
        return NULL;
    struct muster_sender *s = &m->senders[*row];
    if (added) {
        s->iface = iface;
        s->address = address;
        s->first_ns = now_ns;
    } else if (now_ns - s->last_ns > PAUSE_NS) {
        int64_t silent_ns = now_ns - s->last_ns;
        bool idle = only_idle(s, management, silent_ns);
        s->pause_ns += silent_ns;
        s->idle_ns += idle ? silent_ns : 0;
        s->pauses += !idle;
    }
    s->last_ns = now_ns;
    s->frames++;
    return s;
}

/* Missed for longer than this, a message has a gap: ten times the standard's period, and no less
 * than 2 s; where there is none, 10 s. Common practice, no source. */
static int64_t gap_least_ns(const struct pgn_info *row)
{
    int64_t ns = row != NULL && row->period_ms != 0 ? 10 * row->period_ms * NS_PER_MS : 0;
    return ns == 0 ? 10 * NS_PER_S : ns < 2 * NS_PER_S ? 2 * NS_PER_S : ns;
}

static void count_gap(struct muster_message *r, int64_t between_ns)
{
    if (between_ns <= gap_least_ns(r->row))
        return;
    r->gaps++;
    r->gap_ns += between_ns;
    if (between_ns > r->gap_longest_ns)
        r->gap_longest_ns = between_ns;
}

static struct muster_message *message_of(struct muster *m, const struct message *x, int sender)
{
    bool added;
    int row = row_of(m, (uint64_t)ROW_MESSAGE << 60 | (uint64_t)sender << 24 | x->pgn,
                     &m->message_count, MUSTER_MESSAGES, &added);
    if (row < 0)
        return NULL;
    const struct muster_sender *s = &m->senders[sender];
    struct muster_message *r = &m->messages[row];
    int64_t now_ns = x->at.mono_ns;
    if (added) {
        r->sender = (uint16_t)sender;
        r->pgn = x->pgn;
        r->row = x->row;
        r->first_ns = now_ns;
        r->pause_first_ns = s->pause_ns;
    } else {
        int64_t between_ns = now_ns - r->last_ns - (s->pause_ns - r->pause_last_ns);
        if (between_ns > r->longest_ns)
            r->longest_ns = between_ns;
        count_gap(r, now_ns - r->last_ns);
    }
    r->priority = x->priority;
    r->multi = x->multi;
    r->last_ns = now_ns;
    r->last_wall_ns = x->at.wall_ns;
    r->pause_last_ns = s->pause_ns;
    r->count++;
    return r;
}

static void take_claim(struct muster *m, const struct message *x, struct muster_sender *s)
{
    uint64_t name;
    if (!name_from_claim(x, &name))
        return;
    s->claims++;
    if (s->name != name)
        s->names++;
    s->name = name;
    bool added;
    /* NAMEs are 64 bits: mixed with the kind rather than packed beside it */
    uint64_t key = (name ^ name >> 29) * UINT64_C(0xD1B54A32D192ED03) >> 8 |
                   (uint64_t)ROW_NAME << 60 | (uint64_t)(x->iface & 15) << 56;
    int row = row_of(m, key, &m->name_count, MUSTER_NAMES, &added);
    if (row < 0)
        return;
    struct muster_name *n = &m->names[row];
    n->name = name;
    n->iface = x->iface;
    if (x->source == ADDRESS_NULL) {
        n->cannot_claim = true;
        return;
    }
    if (n->moves > 0 && n->addresses[n->moves - 1] == x->source)
        return;
    if (n->moves < MUSTER_MOVES)
        n->addresses[n->moves++] = x->source;
}

static void take_engine_speed(struct muster *m, const struct wire_value *v, int64_t now_ns)
{
    if (v->id.place >= MUSTER_INSTANCES)
        return;
    struct muster_engine *e = &m->engines[v->id.place];
    e->seen = true;
    if (v->status != READING_OK)
        return;
    if (e->has_rpm && e->rpm >= RUNNING_RPM && now_ns - e->rpm_ns < PAUSE_NS)
        e->run_ns += now_ns - e->rpm_ns;
    if (v->value >= RUNNING_RPM)
        e->run_last_ns = now_ns;
    if (!e->has_rpm || v->value < e->rpm_low)
        e->rpm_low = v->value;
    if (!e->has_rpm || v->value > e->rpm_high)
        e->rpm_high = v->value;
    e->has_rpm = true;
    e->rpm = v->value;
    e->rpm_ns = now_ns;
}

/* What a sensor of this unit can't do in a second: common practice, no source. 0: not judged. */
static double fastest_per_s(enum unit unit)
{
    switch (unit) {
    case UNIT_C:
        return 40.0;
    case UNIT_PERCENT:
        return 0.0; /* load steps as it likes */
    case UNIT_H:
        return 1.0 / 1800.0; /* twice as fast as the clock */
    default:
        return 0.0;
    }
}

static void check_jump(struct muster_value *r, double value, int64_t now_ns)
{
    enum unit unit = quantity_info((enum quantity)r->id.quantity)->unit;
    double fastest = fastest_per_s(unit), step = value - r->last;
    if (fastest <= 0.0 || r->ok == 0)
        return;
    double seconds = when_seconds(now_ns - r->ok_ns);
    if (seconds < 1.0)
        seconds = 1.0;
    bool wild = fabs(step) > fastest * seconds + (unit == UNIT_C ? 20.0 : 0.1);
    if (unit == UNIT_H && step < -0.01)
        wild = true; /* hours do not go back */
    if (!wild)
        return;
    r->jumps++;
    if (fabs(step) > fabs(r->worst_jump))
        r->worst_jump = step;
}

static double engine_speed(const struct muster *m, const struct muster_value *r, int64_t now_ns)
{
    if (quantity_info((enum quantity)r->id.quantity)->place != PLACE_ENGINE ||
        r->id.place >= MUSTER_INSTANCES)
        return 0.0;
    const struct muster_engine *e = &m->engines[r->id.place];
    return e->has_rpm && now_ns - e->rpm_ns < PAUSE_NS ? e->rpm : 0.0;
}

/* Counts swings of the speed by 300 rpm or more. */
static void count_swings(struct muster_value *r, double rpm)
{
    double moved = rpm - r->hold_turn_rpm;
    if ((r->hold_way > 0 && moved > 0.0) || (r->hold_way < 0 && moved < 0.0)) {
        r->hold_turn_rpm = rpm; /* further the same way */
    } else if (fabs(moved) >= 300.0) {
        r->hold_swings++;
        r->hold_way = moved > 0.0 ? 1 : -1;
        r->hold_turn_rpm = rpm;
    }
}

/* Longest time that the value stood still to the last digit while its engine ran and its speed went
 * both up and down: one change of speed may end where the value stays as it was. */
static void check_hold(const struct muster *m, struct muster_value *r, double value, int64_t now_ns)
{
    double rpm = engine_speed(m, r, now_ns);
    bool same = r->ok > 0 && value == r->last && now_ns - r->ok_ns < PAUSE_NS * 2;
    if (rpm < RUNNING_RPM || !same || r->hold_from_ns == 0) {
        r->hold_from_ns = rpm < RUNNING_RPM ? 0 : now_ns;
        r->hold_turn_rpm = rpm;
        r->hold_swings = r->hold_way = 0;
        return;
    }
    count_swings(r, rpm);
    int64_t held_ns = now_ns - r->hold_from_ns;
    if (r->hold_swings >= 2 && held_ns > r->stuck_ns)
        r->stuck_ns = held_ns;
}

/* A value comes after a time in which it was missed: what an engine tells while it is at a speed
 * from which nobody stops it. What was missed because nobody was heard is a hole. */
static void check_away(const struct muster *m, struct muster_value *r, int64_t now_ns)
{
    int64_t hole_ns = m->hole_ns - m->passed_over_ns;
    int64_t away_ns = now_ns - r->ok_ns - (hole_ns - r->ok_hole_ns);
    if (r->ok > 0 && r->ok_rpm > MUSTER_STOPPING_RPM && away_ns > MUSTER_HOLE_S * NS_PER_S) {
        r->away++;
        r->away_ns = away_ns > r->away_ns ? away_ns : r->away_ns;
    }
    r->ok_rpm = engine_speed(m, r, now_ns);
    r->ok_hole_ns = hole_ns;
}

static void take_good(struct muster *m, struct muster_value *r, double value, int64_t now_ns)
{
    check_away(m, r, now_ns);
    const struct quantity_info *info = quantity_info((enum quantity)r->id.quantity);
    const struct channel_setting *s =
        m->settings != NULL ? settings_channel(m->settings, r->id) : NULL;
    double low = s != NULL && s->has_span ? s->span_low : info->lowest;
    double high = s != NULL && s->has_span ? s->span_high : info->highest;
    double shown; /* spans are of the corrected value; everything else here is as sent */
    enum reading_status status = calibrate(s, value, &shown);
    check_jump(r, value, now_ns);
    check_hold(m, r, value, now_ns);
    double step = fabs(value - r->last);
    if (r->ok > 0 && step > 0.0 && (r->step == 0.0 || step < r->step))
        r->step = step;
    if (r->ok == 0)
        r->first = r->low = r->high = value;
    if (value < r->low)
        r->low = value;
    if (value > r->high)
        r->high = value;
    /* a meter measures no flow below its span: standing still is none */
    bool still = info->unit == UNIT_LPH && shown >= 0 && shown < low && shown <= 0.01 * high;
    r->beyond_span += status != READING_OK || (shown < low && !still) || shown > high;
    r->hot = value > MUSTER_DRY_C ? r->hot + 1 : 0;
    if (r->hot > r->hot_longest)
        r->hot_longest = r->hot;
    r->last = value;
    r->ok_ns = now_ns;
    r->ok++;
    double off = r->ok > 1 ? fabs(value - r->recent) : 0.0;
    r->recent_move += (off - r->recent_move) / (double)(r->ok < 8 ? r->ok : 8);
    r->recent += (value - r->recent) / (double)(r->ok < 8 ? r->ok : 8);
}

/* Once a second, where both engines speak: the speed difference, smoothed as an exhaust would
 * follow it, against the exhaust difference. */
static void take_twins(struct muster *m, int64_t now_ns)
{
    struct muster_twins *t = &m->twins;
    if (now_ns < t->next_ns)
        return;
    t->next_ns = now_ns + NS_PER_S;
    int first = 0;
    while (first < MUSTER_INSTANCES - 2 && !m->engines[first].has_rpm)
        first++;
    if (first != t->first) /* an earlier one has spoken */
        *t = (struct muster_twins){.first = first, .next_ns = t->next_ns};
    const struct muster_engine *a = &m->engines[first], *b = &m->engines[first + 1];
    bool fresh = a->has_rpm && b->has_rpm && now_ns - a->rpm_ns < PAUSE_NS &&
                 now_ns - b->rpm_ns < PAUSE_NS && a->exhaust_ns != 0 && b->exhaust_ns != 0 &&
                 now_ns - a->exhaust_ns < 2 * PAUSE_NS && now_ns - b->exhaust_ns < 2 * PAUSE_NS;
    if (!fresh)
        return;
    double apart = a->rpm - b->rpm;
    t->speed_slow += (apart - t->speed_slow) / TWINS_LAG_S;
    double x = t->speed_slow, y = a->exhaust - b->exhaust;
    if (fabs(apart) > 300.0)
        t->apart_s += 1.0;
    t->n += 1.0;
    t->sx += x;
    t->sy += y;
    t->sxx += x * x;
    t->syy += y * y;
    t->sxy += x * y;
}

static bool message_is_about_one_thing(uint32_t pgn)
{
    return pgn == 130312 || pgn == 130316 || pgn == 130313 || pgn == 130314 || pgn == 127505;
}

static void take_value(struct muster *m, const struct message *x, int sender,
                       const struct wire_value *v, bool leads, struct muster_message *message)
{
    bool added;
    uint64_t key = (uint64_t)ROW_VALUE << 60 | (uint64_t)(x->pgn & 0x3FFFF) << 36 |
                   (uint64_t)sender << 26 | (uint64_t)v->id.quantity << 16 |
                   (uint64_t)v->id.place << 8 | v->id.sub;
    int row = row_of(m, key, &m->value_count, MUSTER_VALUES, &added);
    if (row < 0)
        return;
    struct muster_value *r = &m->values[row];
    int64_t now_ns = x->at.mono_ns;
    if (added) {
        r->sender = (uint16_t)sender;
        r->id = v->id;
        r->pgn = x->pgn;
        r->leads = leads;
        r->sole = message_is_about_one_thing(x->pgn);
        r->rank = v->field_rank;
        r->decimals = v->decimals;
        r->first_ns = now_ns;
        if (leads && message != NULL)
            message->places++;
    }
    r->last_ns = now_ns;
    if (v->capacity_l > 0.0)
        r->capacity_l = v->capacity_l;
    struct battery_setup setup;
    if (decode_battery_setup(x, &setup)) {
        r->chemistry = battery_setup_chemistry(&setup);
        r->nominal_v = setup.nominal_volts;
    }
    if (v->status == READING_OK) {
        take_good(m, r, v->value, now_ns);
        if (v->id.quantity == QTY_EXHAUST && v->id.place < MUSTER_INSTANCES) {
            m->engines[v->id.place].exhaust = v->value;
            m->engines[v->id.place].exhaust_ns = now_ns;
        }
    } else if (v->status == READING_ERROR) {
        r->error++;
        r->hold_from_ns = 0;
    } else {
        bool of_engine = quantity_info((enum quantity)v->id.quantity)->place == PLACE_ENGINE;
        r->not_available++;
        r->wanting += !of_engine || engine_speed(m, r, now_ns) >= RUNNING_RPM;
        r->hold_from_ns = 0;
    }
}

static void take_reported(struct muster *m, const struct message *x, struct muster_sender *s)
{
    uint8_t engine;
    uint16_t one, two;
    struct dm1 d;
    if (decode_engine_status(x, &engine, &one, &two) && engine < MUSTER_INSTANCES) {
        m->engines[engine].status1 = one;
        m->engines[engine].status2 = two;
    } else if (dm1_decode(x, &d) && x->pgn == 65226) {
        s->trouble_codes = d.code_count + d.more;
        s->lamps = d;
        if (d.code_count > 0)
            s->trouble = d.codes[0];
    } else if (dm1_decode(x, &d)) {
        s->earlier_codes = d.code_count + d.more;
        if (d.code_count > 0)
            s->earlier = d.codes[0];
    }
}

/* What one of the two messages does not say, the other may. */
static void take_maker(const struct message *x, struct muster_sender *s)
{
    struct engine_maker e;
    if (!decode_engine_maker(x, &e))
        return;
    if (!s->has_maker) {
        s->maker = e;
        s->has_maker = true;
        return;
    }
    struct engine_maker *to = &s->maker;
    to->rated_rpm = isfinite(e.rated_rpm) ? e.rated_rpm : to->rated_rpm;
    to->idle_rpm = isfinite(e.idle_rpm) ? e.idle_rpm : to->idle_rpm;
    to->high_idle_rpm = isfinite(e.high_idle_rpm) ? e.high_idle_rpm : to->high_idle_rpm;
    to->torque_nm = isfinite(e.torque_nm) ? e.torque_nm : to->torque_nm;
    if (e.vin[0])
        text_copy(to->vin, sizeof to->vin, e.vin);
    if (e.software[0])
        text_copy(to->software, sizeof to->software, e.software);
}

static void take_management(struct muster *m, const struct message *x, struct muster_sender *s)
{
    int64_t bus_ns;
    switch (x->pgn) {
    case 127489:
    case 65226:
    case 65227:
        take_reported(m, x, s);
        break;
    case 127498:
    case 65251:
        take_maker(x, s);
        break;
    case 60928:
        take_claim(m, x, s);
        break;
    case 126996:
        if (decode_product_info(x, &s->product))
            s->has_product = true;
        break;
    case 126993:
        if (decode_heartbeat(x, &s->heartbeat))
            s->heartbeats++;
        break;
    case 126992:
        if (decode_system_time(x, &bus_ns)) {
            double off_s = when_seconds(bus_ns - x->at.wall_ns), step = off_s - s->clock_off_s;
            if (s->has_time && fabs(step) > fabs(s->clock_step_s))
                s->clock_step_s = step;
            s->has_time = true;
            s->clock_off_s = off_s;
        }
        break;
    case 127505:
        s->lost_tanks += x->len > 0 && (x->data[0] & 0x0F) == TANK_ERROR;
        break;
    default:
        break;
    }
}

/* Who a box is and that it lives: said even where what it is there for has stopped. */
static bool is_management(uint32_t pgn)
{
    return pgn == 59392 || pgn == 59904 || pgn == 60928 || pgn == 126464 || pgn == 126993 ||
           pgn == 126996 || pgn == 126998;
}

static void take_message(struct muster *m, const struct message *x)
{
    int sender;
    bool management = is_management(x->pgn);
    struct muster_sender *s = sender_of(m, x->iface, x->source, management, x->at.mono_ns, &sender);
    if (s == NULL)
        return;
    s->last_wall_ns = x->at.wall_ns;
    if (!management)
        s->told_ns = x->at.mono_ns;
    struct muster_message *r = message_of(m, x, sender);
    take_management(m, x, s);
    struct wire_value v[DECODE_VALUES_MAX];
    size_t n = x->row != NULL ? decode_values(x, v) : 0;
    for (size_t i = 0; i < n; i++) {
        if (v[i].id.quantity == QTY_RPM)
            take_engine_speed(m, &v[i], x->at.mono_ns);
        else if (quantity_info((enum quantity)v[i].id.quantity)->place == PLACE_ENGINE &&
                 v[i].id.place < MUSTER_INSTANCES && v[i].status == READING_OK)
            m->engines[v[i].id.place].seen = true;
        take_value(m, x, sender, &v[i], i == 0, r);
    }
    take_twins(m, x->at.mono_ns);
}

/* The label steps against the clock that never goes back: somebody set it. In a gap of a log nobody
 * knows. */
static void take_clock(struct muster *m, struct stamp at, bool gap)
{
    int64_t step = at.wall_ns - at.mono_ns - (m->last.wall_ns - m->last.mono_ns);
    if (gap || llabs(step) <= MUSTER_CLOCK_NS)
        return;
    m->clock_steps++;
    m->clock_step_ns = step;
    m->clock_step_wall_ns = at.wall_ns;
}

/* In a gap of a log its own times tell how long it was: the clock of the rules goes no further than
 * TIMELINE_GAP_SHOWN there. */
static void take_hole(struct muster *m, struct stamp at, bool gap)
{
    int64_t passed_ns = at.mono_ns - m->last.mono_ns;
    int64_t hole_ns = gap ? at.wall_ns - m->last.wall_ns : passed_ns;
    if (hole_ns <= MUSTER_HOLE_S * NS_PER_S)
        return;
    m->holes++;
    m->hole_ns += hole_ns;
    m->passed_over_ns += hole_ns - passed_ns;
    m->gap |= gap;
}

void muster_frames(struct muster *m, const struct frame *f, size_t n)
{
    struct message x;
    for (size_t i = 0; i < n; i++) {
        struct stamp at = {.wall_ns = f[i].wall_ns, .mono_ns = f[i].mono_ns};
        if (m->frames++ == 0)
            m->first = at;
        if (m->frames > 1) {
            take_clock(m, at, (f[i].flags & FRAME_GAP) != 0);
            take_hole(m, at, (f[i].flags & FRAME_GAP) != 0);
        }
        m->last = at;
        if (wire_frame(m->wire, &f[i], &x))
            take_message(m, &x);
    }
}

/* What was missed before the first and after the last time counts where it is as long as a gap. */
static double share(const struct muster *m, int64_t first_ns, int64_t last_ns, int64_t missing_ns,
                    int64_t gap_ns)
{
    int64_t whole_ns = m->last.mono_ns - m->first.mono_ns;
    int64_t before_ns = first_ns - m->first.mono_ns, after_ns = m->last.mono_ns - last_ns;
    if (before_ns > gap_ns)
        missing_ns += before_ns;
    if (after_ns > gap_ns)
        missing_ns += after_ns;
    return whole_ns > 0 ? 1 - (double)missing_ns / (double)whole_ns : (double)NAN;
}

double muster_sender_share(const struct muster *m, const struct muster_sender *s)
{
    int64_t most_ns = s->heartbeats > 0 ? (int64_t)(1.5e9 * s->heartbeat.interval_s) : 0;
    return share(m, s->first_ns, s->last_ns, s->pause_ns - s->idle_ns,
                 most_ns > PAUSE_NS ? most_ns : PAUSE_NS);
}

double muster_message_share(const struct muster *m, const struct muster_message *x)
{
    bool standard = x->row != NULL && x->row->period_ms != 0;
    /* What comes once a minute by its own choice is not missed in between. */
    bool repeats = standard ? x->count > 1 : x->count >= 10 && muster_rate(x) > OFTEN_PER_S;
    return repeats ? share(m, x->first_ns, x->last_ns, x->gap_ns, gap_least_ns(x->row))
                   : (double)NAN;
}

double muster_rate(const struct muster_message *x)
{
    int64_t spoke_ns = x->last_ns - x->first_ns;
    /* What is slow by itself leaves pauses in which its sender was not switched off. */
    if (x->row != NULL && x->row->period_ms != 0 && x->row->period_ms * NS_PER_MS < PAUSE_NS)
        spoke_ns -= x->pause_last_ns - x->pause_first_ns;
    if (x->count < 2 || spoke_ns <= 0)
        return 0.0;
    return (double)(x->count - 1) / when_seconds(spoke_ns);
}

double muster_rate_standard(const struct muster_message *x)
{
    if (x->row == NULL || x->row->period_ms == 0)
        return 0.0;
    return (x->places > 1 ? x->places : 1) * 1000.0 / x->row->period_ms;
}
