#include "wire/decode.h"

#include "wire/bits.h"
#include "wire/catalogue.h"
#include "wire/placeholder.h"

#include <math.h>

#include "base/banned.h"

/* Bits from one of a repeated field to the next. */
static inline unsigned stride_of(const struct field_info *f)
{
    return f->stride != 0 ? f->stride : f->bits;
}

static enum reading_status status_j1939(uint64_t raw, unsigned bits)
{
    if (bits < 8) {
        uint64_t top = (UINT64_C(1) << bits) - 1;
        return raw == top ? READING_NOT_AVAILABLE : raw == top - 1 ? READING_ERROR : READING_OK;
    }
    unsigned high = (unsigned)(raw >> (bits - 8));
    if (high <= 0xFA)
        return READING_OK;
    return high == 0xFF || high == 0xFB ? READING_NOT_AVAILABLE : READING_ERROR;
}

static inline enum reading_status status_of(const struct field_info *f, uint64_t raw)
{
    switch (f->family) {
    case FAMILY_IEC: {
        /* Of a byte and more, only the three highest are codes. */
        uint64_t codes = (UINT64_C(1) << (f->bits - f->is_signed)) - 3;
        if (f->bits >= 8 && raw - codes > 2)
            return READING_OK;
        return status_iec(raw, f->bits, f->is_signed);
    }
    case FAMILY_J1939:
        return status_j1939(raw, f->bits);
    case FAMILY_CODE:
        return raw == (UINT64_C(1) << f->bits) - 1 ? READING_NOT_AVAILABLE : READING_OK;
    default:
        return READING_OK;
    }
}

/* The highest number by family: below it are numbers, above it codes. */
static inline uint64_t highest_raw(const struct field_info *f)
{
    if (f->family == FAMILY_J1939)
        return (UINT64_C(0xFB) << (f->bits - 8)) - 1;
    return (UINT64_C(1) << (f->is_signed ? f->bits - 1 : f->bits)) - 4;
}

static inline double scaled(const struct field_info *f, uint64_t raw)
{
    int64_t number = (int64_t)raw;
    if (f->is_signed && raw >> (f->bits - 1) != 0)
        number -= INT64_C(1) << f->bits;
    return (double)number * f->gain + f->zero;
}

/* A tenth of a step: what is nought or full on the wire. */
static bool is_natural_end(const struct field_info *f, uint64_t raw)
{
    double value = scaled(f, raw), tenth = fabs(f->gain) / 10;
    return fabs(value) < tenth ||
           (sent_unit_base((enum sent_unit)f->sent) == UNIT_PERCENT && fabs(value - 100) < tenth);
}

static inline bool at_end_of(const struct field_info *f, uint64_t raw)
{
    if ((f->family != FAMILY_IEC && f->family != FAMILY_J1939) || f->bits < 8)
        return false;
    uint64_t lowest = f->is_signed ? UINT64_C(1) << (f->bits - 1) : 0;
    return (raw == highest_raw(f) || raw == lowest) && !is_natural_end(f, raw);
}

bool decode_at_end(const struct field_info *f, uint64_t raw)
{
    return at_end_of(f, raw);
}

static inline enum reading_status field_at(const struct message *m, const struct field_info *f,
                                           unsigned bit, double *value, bool *at_end)
{
    uint64_t raw = bits_at(m->data, m->len, bit, f->bits);
    enum reading_status status = status_of(f, raw);
    if (status != READING_OK)
        return status;
    *value = scaled(f, raw);
    *at_end = at_end_of(f, raw);
    return READING_OK;
}

enum reading_status decode_field(const struct message *m, const struct field_info *f,
                                 unsigned index, double *value)
{
    unsigned bit = f->bit + index * stride_of(f);
    if (f->family == FAMILY_TEXT || f->bits > 56 || !holds(m, bit, f->bits))
        return READING_NEVER;
    bool at_end;
    return field_at(m, f, bit, value, &at_end);
}

/* An instance: 8 bits go up to 252, four (of a tank) to 13, as 14 is an error code; a line of two
 * bits up to all ones less one. */
static inline bool place_bits(const struct message *m, unsigned bit, unsigned bits, uint8_t *out)
{
    if (!holds(m, bit, bits))
        return false;
    unsigned raw = (unsigned)bits_at(m->data, m->len, bit, bits);
    if (raw > (bits == 8 ? 252U : bits == 4 ? 13U : (1U << bits) - 2))
        return false;
    *out = (uint8_t)raw;
    return true;
}

static bool place_otherwise(const struct message *m, const struct field_info *f,
                            const struct place_rule *r, unsigned index, uint8_t *out)
{
    switch (r->how) {
    case AT_FIXED:
        *out = r->n;
        return true;
    case AT_COUNTED:
        *out = (uint8_t)(r->n + index);
        return true;
    case AT_EACH:
        if (!place_bits(m, r->bit + index * stride_of(f), r->bits, out))
            return false;
        *out = (uint8_t)(*out + r->n);
        return true;
    case AT_GENERATOR:
        *out = m->source <= 1 ? m->source : 0;
        return true;
    case AT_GEARBOX: /* preferred addresses 3 and 4: transmissions 1 and 2 (from memory) */
        if (m->source == 3 || m->source == 4) {
            *out = (uint8_t)(m->source - 3);
            return true;
        }
        *out = m->source;
        return m->source <= 1;
    case AT_ENGINE:
        *out = m->source;
        return m->source <= 1;
    default:
        return false;
    }
}

/* The instance that was read last: the fields of a message nearly always share one. */
struct instance {
    uint8_t bit, bits; /* bits 0: none was read yet */
    uint8_t place;
    bool good;
};

static inline bool place_of(const struct message *m, const struct field_info *f,
                            const struct place_rule *r, unsigned index, struct instance *known,
                            uint8_t *out)
{
    if (r->how == AT_NOTHING) {
        *out = 0;
        return true;
    }
    if (r->how != AT_BITS)
        return place_otherwise(m, f, r, index, out);
    if (known->bits != r->bits || known->bit != r->bit) {
        *known = (struct instance){.bit = r->bit, .bits = r->bits};
        known->good = place_bits(m, r->bit, r->bits, &known->place);
    }
    *out = known->place;
    return known->good;
}

static inline bool find_id(const struct message *m, const struct field_info *f, unsigned index,
                           struct instance *known, struct channel_id *out)
{
    out->quantity = f->quantity;
    const struct quantity_choice *c = &f->choice;
    if (c->count != 0) {
        if (!holds(m, c->bit, c->bits))
            return false;
        uint64_t code = bits_at(m->data, m->len, c->bit, c->bits);
        if (code >= c->count)
            return false;
        out->quantity = c->quantities[code];
    }
    return out->quantity != QTY_NONE && place_of(m, f, &f->place, index, known, &out->place) &&
           place_of(m, f, &f->sub, index, known, &out->sub);
}

bool decode_place(const struct message *m, const struct field_info *f, unsigned index,
                  struct channel_id *out)
{
    struct instance known = {.bits = 0};
    return find_id(m, f, index, &known, out);
}

static const struct pgn_info *row_of(const struct message *m)
{
    return m->row != NULL ? m->row : catalogue_find(m->pgn);
}

static unsigned times_of(const struct message *m, const struct field_info *f)
{
    if (f->repeat <= 1)
        return 1;
    if (f->counted == 0 || !holds(m, f->counted, 8))
        return f->repeat;
    unsigned said = (unsigned)bits_at(m->data, m->len, f->counted, 8);
    return said < f->repeat ? said : f->repeat;
}

/* Appends the values of one field; returns the new count. */
static inline size_t decode_into(const struct message *m, const struct pgn_info *row,
                                 const struct field_info *f, struct instance *known,
                                 struct wire_value *out, size_t n)
{
    unsigned times = times_of(m, f);
    for (unsigned i = 0; i < times && n < DECODE_VALUES_MAX; i++) {
        unsigned bit = f->bit + i * stride_of(f);
        struct wire_value *v = &out[n];
        if (!holds(m, bit, f->bits))
            return n;
        if (!find_id(m, f, i, known, &v->id))
            continue;
        v->value = 0.0;
        v->at_end = false;
        v->status = field_at(m, f, bit, &v->value, &v->at_end);
        v->decimals = f->decimals;
        v->field_rank = f->rank;
        v->repeats = row->period_ms != 0;
        v->capacity_l = 0.0;
        n++;
    }
    return n;
}

size_t decode_values(const struct message *m, struct wire_value *out)
{
    const struct pgn_info *row = row_of(m);
    if (row == NULL)
        return 0;
    size_t n = 0;
    struct instance known = {.bits = 0};
    for (const struct field_info *f = row->fields, *end = f + row->field_count; f < end; f++) {
        if (f->quantity != QTY_NONE || f->choice.count != 0) {
            n = decode_into(m, row, f, &known, out, n);
        } else if (f->is_capacity) {
            double litres = 0.0;
            if (decode_field(m, f, 0, &litres) == READING_OK)
                for (size_t i = 0; i < n; i++)
                    out[i].capacity_l = litres;
        }
    }
    placeholder_mark(m, out, n);
    return n;
}
