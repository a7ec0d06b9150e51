#include "drill/frames.h"

#include "base/text.h"
#include "base/when.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

#define FRAME_GAP_NS (600 * NS_PER_US) /* between frames of one message */

/* A payload being written; everything not written stays all ones: not available. */
struct payload {
    uint8_t data[134];
    int len;
};

static void begin(struct payload *p, int len)
{
    memset(p->data, 0xFF, sizeof p->data);
    p->len = len;
}

/* An unsigned or signed integer of `bytes`; out of range becomes the out-of-range code. */
static void put(struct payload *p, int at, int bytes, bool is_signed, struct drill_value v,
                double scale, double offset)
{
    double top = ldexp(1, 8 * bytes - (is_signed ? 1 : 0)) - 4; /* the three codes stay unused */
    double low = is_signed ? -ldexp(1, 8 * bytes - 1) : 0;
    double raw = floor((v.v + offset) / scale + 0.5);
    uint32_t u;

    if (!v.ok) {
        if (is_signed)
            p->data[at + bytes - 1] = 0x7F;
        return;
    }
    if (!(raw >= low && raw <= top))
        raw = top + 2;
    u = is_signed ? (uint32_t)(int32_t)raw : (uint32_t)raw;
    for (int i = 0; i < bytes; i++)
        p->data[at + i] = (uint8_t)(u >> (8 * i));
}

static void put_u(struct payload *p, int at, int bytes, struct drill_value v, double scale)
{
    put(p, at, bytes, false, v, scale, 0);
}

static void put_s(struct payload *p, int at, int bytes, struct drill_value v, double scale)
{
    put(p, at, bytes, true, v, scale, 0);
}

static void put_kelvin(struct payload *p, int at, int bytes, struct drill_value celsius,
                       double scale)
{
    put(p, at, bytes, false, celsius, scale, 273.15);
}

static struct drill_value some(double v)
{
    return (struct drill_value){true, v};
}

static struct drill_value times(struct drill_value v, double factor)
{
    v.v *= factor;
    return v;
}

/* --- one packer a message --------------------------------------------------------------- */

static void pack_rapid(struct payload *p, const struct drill_message *m)
{
    begin(p, 8);
    p->data[0] = m->place;
    put_u(p, 1, 2, m->v[0], 0.25);
    put_u(p, 3, 2, m->v[1], 0.1); /* 100 Pa, given in kPa */
    p->data[5] = 0x7F;            /* no trim on a shaft */
}

static void pack_dynamic(struct payload *p, const struct drill_message *m)
{
    begin(p, 26);
    p->data[0] = m->place;
    put_u(p, 1, 2, m->v[DYN_OIL_KPA], 0.1);
    put_kelvin(p, 3, 2, m->v[DYN_OIL_C], 0.1);
    put_kelvin(p, 5, 2, m->v[DYN_COOLANT_C], 0.01);
    put_s(p, 7, 2, m->v[DYN_ALTERNATOR_V], 0.01);
    put_s(p, 9, 2, m->v[DYN_FUEL_LPH], 0.1);
    put_u(p, 11, 4, times(m->v[DYN_HOURS], 3600), 1);
    put_u(p, 15, 2, m->v[DYN_COOLANT_KPA], 0.1);
    memset(p->data + 20, 0, 4); /* both status words: no complaint */
    put_s(p, 24, 1, m->v[DYN_LOAD], 1);
    put_s(p, 25, 1, m->v[DYN_TORQUE], 1);
}

static void pack_transmission(struct payload *p, const struct drill_message *m)
{
    int code = m->v[0].v > 0 ? 0 : m->v[0].v < 0 ? 2 : 1;

    begin(p, 8);
    p->data[0] = m->place;
    p->data[1] = (uint8_t)(0xFC | code);
    put_u(p, 2, 2, m->v[1], 0.1);
    put_kelvin(p, 4, 2, m->v[2], 0.1);
    p->data[6] = 0;
}

static void pack_trip_fuel(struct payload *p, const struct drill_message *m)
{
    begin(p, 9);
    p->data[0] = m->place;
    put_u(p, 1, 2, m->v[0], 1);
    put_s(p, 3, 2, m->v[1], 0.1);
    put_s(p, 5, 2, m->v[2], 0.1);
    put_s(p, 7, 2, m->v[3], 0.1);
}

static void pack_temperature(struct payload *p, const struct drill_message *m, int source,
                             bool fine)
{
    begin(p, 8);
    p->data[1] = m->place;
    p->data[2] = (uint8_t)source;
    if (fine)
        put_kelvin(p, 3, 3, m->v[0], 0.001);
    else
        put_kelvin(p, 3, 2, m->v[0], 0.01);
}

static void pack_tank(struct payload *p, const struct drill_message *m)
{
    begin(p, 8);
    p->data[0] = (uint8_t)((m->place & 15) | ((int)m->v[2].v << 4));
    put_s(p, 1, 2, times(m->v[0], 100), 0.004);
    put_u(p, 3, 4, m->v[1], 0.1);
}

static void pack_battery(struct payload *p, const struct drill_message *m)
{
    begin(p, 8);
    p->data[0] = m->place;
    put_s(p, 1, 2, m->v[0], 0.01);
    put_s(p, 3, 2, m->v[1], 0.1);
    put_kelvin(p, 5, 2, m->v[2], 0.01);
}

static void pack_ground(struct payload *p, const struct drill_message *m)
{
    double degrees = fmod(m->v[1].v + 720, 360);

    begin(p, 8);
    p->data[1] = 0xFC; /* true */
    put_u(p, 2, 2, some(degrees * 0.017453292519943295), 0.0001);
    put_u(p, 4, 2, times(m->v[0], 1852.0 / 3600), 0.01);
}

static void pack_water(struct payload *p, const struct drill_message *m)
{
    begin(p, 8);
    put_u(p, 1, 2, times(m->v[0], 1852.0 / 3600), 0.01);
    p->data[5] = 0; /* paddle wheel */
}

static void pack_switches(struct payload *p, const struct drill_message *m)
{
    begin(p, 8);
    p->data[0] = m->place;
    p->data[1] = (uint8_t)(0xF0 | (m->v[0].v > 0 ? 1 : 0) | (m->v[1].v > 0 ? 4 : 0));
}

static void pack_pressure(struct payload *p, const struct drill_message *m)
{
    begin(p, 8);
    p->data[1] = m->place;
    p->data[2] = 0;                  /* atmospheric */
    put_s(p, 3, 4, m->v[0], 0.0001); /* 0.1 Pa, given in kPa */
}

static void pack_clock(struct payload *p, int64_t wall_ns)
{
    int64_t day_ns = 86400 * NS_PER_S;

    begin(p, 8);
    p->data[1] = 0xF0; /* satellite receiver */
    put_u(p, 2, 2, some((double)(wall_ns / day_ns)), 1);
    put_u(p, 4, 4, some((double)(wall_ns % day_ns) / 1e9), 0.0001);
}

static void pack_heartbeat(struct payload *p, uint8_t count)
{
    begin(p, 8);
    put_u(p, 0, 2, some(60), 0.01);
    p->data[2] = count;
}

/* What the boxes call themselves: all of it invented. Classes and functions are the marine ones
 * of the open standard; manufacturer 2040 belongs to nobody we know of. */
struct box {
    uint8_t first, last; /* addresses */
    uint8_t vehicle_class, function;
    const char *model;
};
static const struct box boxes[] = {
    {0x10, 0x11, 50, 160, "Made-up engine gateway"},
    {0x20, 0x22, 75, 130, "Made-up exhaust probe"},
    {0x2F, 0x2F, 75, 130, "Made-up exhaust probe"},
    {0x23, 0x23, 75, 130, "Made-up climate box"},
    {0x24, 0x24, 75, 150, "Made-up tank gauge"},
    {0x25, 0x25, 35, 170, "Made-up battery monitor"},
    {0x26, 0x26, 60, 145, "Made-up position receiver"},
    {0x27, 0x27, 60, 155, "Made-up speed log"},
    {0x28, 0x28, 30, 140, "Made-up switch bank"},
    {0x29, 0x29, 50, 160, "Made-up generator gateway"},
    {0x2A, 0x2A, 35, 161, "Made-up inverter with charger"},
    {0x2B, 0x2B, 35, 170, "Made-up bank monitor"},
    {0x2C, 0x2C, 75, 130, "Made-up exhaust probe"},
};

static const struct box *box_at(uint8_t address)
{
    for (size_t i = 0; i < sizeof boxes / sizeof boxes[0]; i++)
        if (address >= boxes[i].first && address <= boxes[i].last)
            return &boxes[i];
    return &boxes[3];
}

static void pack_claim(struct payload *p, uint8_t address)
{
    const struct box *b = box_at(address);
    uint64_t name = (uint64_t)(1000 + address) /* identity, 21 bits */
                    | UINT64_C(2040) << 21     /* manufacturer, 11 bits */
                    | (uint64_t)b->function << 40 | (uint64_t)b->vehicle_class << 49 |
                    UINT64_C(4) << 60    /* marine */
                    | UINT64_C(1) << 63; /* may move its address */

    name |= (uint64_t)(address - b->first) << 32; /* which of several alike */
    begin(p, 8);
    for (int i = 0; i < 8; i++)
        p->data[i] = (uint8_t)(name >> (8 * i));
}

static void put_text(struct payload *p, int at, const char *s)
{
    /* 32 characters, the rest stays 0xFF */
    memcpy(p->data + at, s, strnlen(s, 32));
}

static void pack_product(struct payload *p, uint8_t address)
{
    char serial[16];

    begin(p, 134);
    put_u(p, 0, 2, some(2.1), 0.001);
    put_u(p, 2, 2, some(7000 + address), 1);
    put_text(p, 4, box_at(address)->model);
    put_text(p, 36, "1.0");
    put_text(p, 68, "A");
    text_format(serial, sizeof serial, "DRILL-%03u", address);
    put_text(p, 100, serial);
    p->data[132] = 0; /* certification level: none */
    p->data[133] = 1;
}

/* One line, good or no longer there; the rest of it not available. */
static void pack_line(struct payload *p, const struct drill_message *m)
{
    begin(p, 20);
    p->data[0] = m->place;
    p->data[1] = 1;
    p->data[2] = (uint8_t)(0xF0 | (m->kind == DRILL_AC_IN ? (m->v[0].v > 1 ? 0x0C : 0) : 0));
    put_u(p, 3, 2, m->v[0], 0.01);
    put_u(p, 5, 2, m->v[1], 0.1);
    put_u(p, 7, 2, m->v[2], 0.01);
    put_u(p, 9, 2, some(16), 0.1); /* breaker */
    put_u(p, 11, 4, m->v[3], 1);
    p->data[19] = 97; /* power factor */
}

static void pack_electric(struct payload *p, const struct drill_message *m)
{
    begin(p, 8);
    switch (m->kind) {
    case DRILL_CHARGER:
        begin(p, 6);
        p->data[0] = m->place;
        p->data[1] = (uint8_t)m->v[0].v;
        p->data[2] = (uint8_t)m->v[1].v; /* mode: alone */
        p->data[3] = 0xF1;               /* enabled */
        return;
    case DRILL_INVERTER:
        begin(p, 4);
        p->data[0] = p->data[1] = m->place;
        p->data[2] = 0;
        p->data[3] = (uint8_t)(0xD0 | (int)m->v[0].v);
        return;
    case DRILL_CONVERTER:
        p->data[1] = m->place;
        p->data[2] = (uint8_t)m->v[0].v;
        p->data[3] = 0; /* temperature, load, DC and ripple are good */
        return;
    case DRILL_BATTERY_SETUP:
        p->data[0] = m->place;
        p->data[1] = 0xCF; /* a type of lead: none; no equalising */
        p->data[2] = 0x11; /* lithium, 12 V */
        put_u(p, 3, 2, m->v[0], 1);
        p->data[5] = 0x7F;
        p->data[7] = 98;
        return;
    case DRILL_CHARGE:
        begin(p, 11);
        p->data[1] = m->place;
        p->data[2] = 0;
        put_u(p, 3, 1, m->v[0], 1);
        return;
    case DRILL_DC:
        p->data[1] = m->place;
        put_u(p, 2, 2, m->v[0], 0.1);
        put_s(p, 4, 3, m->v[1], 0.01);
        return;
    case DRILL_AC_VOLTS:
        p->data[1] = m->place;
        put_u(p, 2, 2, m->v[0], 0.1);
        put_u(p, 6, 2, m->v[1], 0.1);
        return;
    default:
        p->data[1] = m->place;
        put_u(p, 2, 2, m->v[0], 0.1);
        put_s(p, 4, 4, m->v[1], 1);
        return;
    }
}

/* --- into frames ------------------------------------------------------------------------ */

static const struct {
    uint32_t pgn;
    uint8_t priority;
    bool fast;
} wires[DRILL_MESSAGE_KINDS] = {
    [DRILL_RAPID] = {127488, 2, false},        [DRILL_DYNAMIC] = {127489, 2, true},
    [DRILL_TRANSMISSION] = {127493, 2, false}, [DRILL_TRIP_FUEL] = {127497, 5, true},
    [DRILL_EXHAUST] = {130312, 5, false},      [DRILL_SPACE] = {130312, 5, false},
    [DRILL_SEA] = {130312, 5, false},          [DRILL_AIR] = {130312, 5, false},
    [DRILL_TANK] = {127505, 6, false},         [DRILL_BATTERY] = {127508, 6, false},
    [DRILL_GROUND] = {129026, 2, false},       [DRILL_WATER] = {128259, 2, false},
    [DRILL_SWITCHES] = {127501, 3, false},     [DRILL_PRESSURE] = {130314, 5, false},
    [DRILL_CLOCK] = {126992, 3, false},        [DRILL_HEARTBEAT] = {126993, 7, false},
    [DRILL_CLAIM] = {60928, 6, false},         [DRILL_PRODUCT] = {126996, 6, true},
    [DRILL_AC_IN] = {127503, 6, true},         [DRILL_AC_OUT] = {127504, 6, true},
    [DRILL_CHARGER] = {127507, 6, true},       [DRILL_INVERTER] = {127509, 6, true},
    [DRILL_CONVERTER] = {127750, 6, false},    [DRILL_BATTERY_SETUP] = {127513, 6, true},
    [DRILL_CHARGE] = {127506, 6, true},        [DRILL_DC] = {127751, 6, false},
    [DRILL_AC_VOLTS] = {127747, 6, false},     [DRILL_AC_AMPS] = {127744, 6, false},
};

static void pack(struct drill_frames *f, struct payload *p, const struct drill_message *m,
                 int64_t wall_ns)
{
    switch (m->kind) {
    case DRILL_RAPID:
        pack_rapid(p, m);
        return;
    case DRILL_DYNAMIC:
        pack_dynamic(p, m);
        return;
    case DRILL_TRANSMISSION:
        pack_transmission(p, m);
        return;
    case DRILL_TRIP_FUEL:
        pack_trip_fuel(p, m);
        return;
    case DRILL_EXHAUST:
        pack_temperature(p, m, 14, f->fine_exhaust);
        return;
    case DRILL_SPACE:
        pack_temperature(p, m, 3, false);
        return;
    case DRILL_SEA:
        pack_temperature(p, m, 0, false);
        return;
    case DRILL_AIR:
        pack_temperature(p, m, 1, false);
        return;
    case DRILL_TANK:
        pack_tank(p, m);
        return;
    case DRILL_BATTERY:
        pack_battery(p, m);
        return;
    case DRILL_GROUND:
        pack_ground(p, m);
        return;
    case DRILL_WATER:
        pack_water(p, m);
        return;
    case DRILL_SWITCHES:
        pack_switches(p, m);
        return;
    case DRILL_PRESSURE:
        pack_pressure(p, m);
        return;
    case DRILL_CLOCK:
        pack_clock(p, wall_ns);
        return;
    case DRILL_HEARTBEAT:
        pack_heartbeat(p, f->heartbeat[m->sender]);
        f->heartbeat[m->sender] = (uint8_t)((f->heartbeat[m->sender] + 1) % 253);
        return;
    case DRILL_CLAIM:
        pack_claim(p, m->sender);
        return;
    case DRILL_PRODUCT:
    case DRILL_MESSAGE_KINDS:
        pack_product(p, m->sender);
        return;
    case DRILL_AC_IN:
    case DRILL_AC_OUT:
        pack_line(p, m);
        return;
    default:
        pack_electric(p, m);
        return;
    }
}

/* Keeps pending in order of time, equal times in order of arrival. */
static void insert(struct drill_frames *f, const struct frame *frame)
{
    int k = f->count;

    if (k == DRILL_FRAMES_PENDING) {
        f->overflow = true;
        return;
    }
    for (; k > 0 && f->pending[k - 1].wall_ns > frame->wall_ns; k--)
        f->pending[k] = f->pending[k - 1];
    f->pending[k] = *frame;
    f->count++;
}

/* A fast packet: 6 bytes in the first frame after sequence and length, 7 in those after. */
static void insert_fast(struct drill_frames *f, struct frame *frame, const struct payload *p,
                        uint8_t *sequence)
{
    int at = 0;

    for (int n = 0; at < p->len; n++) {
        int room = n == 0 ? 6 : 7, head = n == 0 ? 2 : 1;
        int len = p->len - at < room ? p->len - at : room;

        memset(frame->data, 0xFF, 8);
        frame->data[0] = (uint8_t)(*sequence << 5 | n);
        if (n == 0)
            frame->data[1] = (uint8_t)p->len;
        memcpy(frame->data + head, p->data + at, (size_t)len);
        insert(f, frame);
        frame->wall_ns += FRAME_GAP_NS;
        at += len;
    }
    *sequence = (*sequence + 1) & 7;
}

void drill_frames_init(struct drill_frames *f, const struct drill_plan *plan, int64_t epoch_ns)
{
    memset(f, 0, sizeof *f);
    f->epoch_ns = epoch_ns;
    f->fine_exhaust = plan->sensors.fine_exhaust;
    for (int i = 0; i < plan->params.engines; i++)
        f->fine_exhaust |= plan->params.engine[i].dry_gas;
}

void drill_frames_add(struct drill_frames *f, const struct drill_message *m)
{
    uint32_t pgn = wires[m->kind].pgn;
    struct payload p;
    struct frame frame = {.len = 8, .flags = FRAME_EXTENDED};

    if (m->kind == DRILL_EXHAUST && f->fine_exhaust)
        pgn = 130316;
    if (m->kind == DRILL_CLAIM)
        pgn |= 0xFF; /* to everyone */
    frame.wall_ns = f->epoch_ns + llround(m->t_s * 1e6) * NS_PER_US;
    frame.id = (uint32_t)wires[m->kind].priority << 26 | pgn << 8 | m->sender;
    pack(f, &p, m, frame.wall_ns);
    if (wires[m->kind].fast) {
        insert_fast(f, &frame, &p, &f->sequence[m->kind][m->sender]);
        return;
    }
    memcpy(frame.data, p.data, 8);
    insert(f, &frame);
}

bool drill_frames_take(struct drill_frames *f, double until_s, struct frame *out)
{
    if (f->count == 0 || f->pending[0].wall_ns > f->epoch_ns + llround(until_s * 1e9))
        return false;
    *out = f->pending[0];
    f->count--;
    memmove(f->pending, f->pending + 1, (size_t)f->count * sizeof f->pending[0]);
    return true;
}
