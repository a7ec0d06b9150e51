#include "wire/decode.h"

#include "wire/bits.h"
#include "wire/catalogue.h"
#include "wire/placeholder.h"
#include "wire/plan.h"

#include <endian.h>
#include <string.h>

#include "base/banned.h"

/* J1939 says in the highest byte which code it is; elsewhere only all ones is not available. */
static enum reading_status status_of_code(const struct plan_step *s, uint64_t raw)
{
    if (s->field->family == FAMILY_J1939 && s->bits >= 8) {
        unsigned high = (unsigned)(raw >> (s->bits - 8));
        return high == 0xFF || high == 0xFB ? READING_NOT_AVAILABLE : READING_ERROR;
    }
    return raw == s->codes + s->code_span ? READING_NOT_AVAILABLE : READING_ERROR;
}

static inline bool at_end_of(const struct plan_step *s, uint64_t raw)
{
    return raw == s->high || raw == s->low;
}

bool decode_at_end(const struct field_info *f, uint64_t raw)
{
    struct plan_step s;
    plan_field(f, &s);
    return at_end_of(&s, raw);
}

/* A message of one frame, or shorter, as one number: its fields are a shift and a mask away. */
static inline uint64_t word_of(const struct message *m)
{
    uint64_t word = 0;
    if (m->len == 8) {
        memcpy(&word, m->data, 8);
        return le64toh(word);
    }
    return m->len < 8 ? bits_at(m->data, m->len, 0, 8U * m->len) : 0;
}

static inline uint64_t raw_at(const struct message *m, uint64_t word, const struct plan_step *s,
                              unsigned bit)
{
    return m->len <= 8 ? word >> bit & s->mask : bits_at(m->data, m->len, bit, s->bits);
}

static inline enum reading_status number_of(const struct plan_step *s, uint64_t raw, double *value,
                                            bool *at_end)
{
    if (raw - s->codes <= s->code_span)
        return status_of_code(s, raw);
    /* up to the sign and back, which a signed field's repeats */
    int64_t number = (int64_t)(raw << s->unsigned_above) >> s->unsigned_above;
    *value = (double)number * s->gain + s->zero;
    *at_end = at_end_of(s, raw);
    return READING_OK;
}

enum reading_status decode_field(const struct message *m, const struct field_info *f,
                                 unsigned index, double *value)
{
    struct plan_step s;
    bool at_end;
    if (f->family == FAMILY_TEXT || f->bits > 56)
        return READING_NEVER;
    plan_field(f, &s);
    unsigned bit = s.bit + index * s.stride;
    return holds(m, bit, s.bits)
               ? number_of(&s, bits_at(m->data, m->len, bit, s.bits), value, &at_end)
               : READING_NEVER;
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

static inline unsigned stride_of(const struct field_info *f)
{
    return f->stride != 0 ? f->stride : f->bits;
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

static inline bool instance_at(const struct message *m, const struct place_rule *r,
                               struct instance *known, uint8_t *out)
{
    if (known->bits != r->bits || known->bit != r->bit) {
        *known = (struct instance){.bit = r->bit, .bits = r->bits};
        known->good = place_bits(m, r->bit, r->bits, &known->place);
    }
    *out = known->place;
    return known->good;
}

static bool place_of(const struct message *m, const struct field_info *f,
                     const struct place_rule *r, unsigned index, struct instance *known,
                     uint8_t *out)
{
    if (r->how == AT_BITS)
        return instance_at(m, r, known, out);
    *out = 0;
    return r->how == AT_NOTHING || place_otherwise(m, f, r, index, out);
}

static bool find_id(const struct message *m, const struct field_info *f, unsigned index,
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

/* How many there are of a repeated field. */
static unsigned times_of(const struct message *m, const struct plan_step *s)
{
    const struct field_info *f = s->field;
    if (f->counted == 0 || !holds(m, f->counted, 8))
        return s->times;
    unsigned said = (unsigned)bits_at(m->data, m->len, f->counted, 8);
    return said < s->times ? said : s->times;
}

/* Appends the values of a field whose place is not simple; returns the new count. */
static size_t decode_by_rules(const struct message *m, const struct plan_step *s,
                              struct instance *known, struct wire_value *out, size_t n)
{
    unsigned times = s->times == 1 ? 1 : times_of(m, s), bit = s->bit;
    for (unsigned i = 0; i < times && n < DECODE_VALUES_MAX; i++, bit += s->stride) {
        if (!holds(m, bit, s->bits))
            return n;
        struct wire_value *v = &out[n];
        *v = s->blank;
        if (!find_id(m, s->field, i, known, &v->id))
            continue;
        v->status = number_of(s, bits_at(m->data, m->len, bit, s->bits), &v->value, &v->at_end);
        n++;
    }
    return n;
}

static void add_capacity(const struct message *m, const struct plan_step *s, struct wire_value *v,
                         size_t n)
{
    double litres = 0.0;
    bool at_end;
    if (!holds(m, s->bit, s->bits) ||
        number_of(s, bits_at(m->data, m->len, s->bit, s->bits), &litres, &at_end) != READING_OK)
        return;
    for (size_t i = 0; i < n; i++)
        v[i].capacity_l = litres;
}

static size_t decode_by(const struct plan *p, const struct message *m, struct wire_value *out)
{
    size_t n = 0;
    unsigned bits = 8U * m->len;
    uint64_t word = word_of(m);
    struct instance known = {.bits = 0};
    for (const struct plan_step *s = p->steps, *end = s + p->count; s < end; s++) {
        if (s->where == PLAN_RULES) {
            n = decode_by_rules(m, s, &known, out, n);
        } else if (s->where == PLAN_CAPACITY) {
            add_capacity(m, s, out, n);
        } else if (s->end <= bits && n < DECODE_VALUES_MAX) {
            struct wire_value *v = &out[n];
            *v = s->blank;
            if (s->where == PLAN_INSTANCE &&
                !instance_at(m, &s->field->place, &known, &v->id.place))
                continue;
            v->status = number_of(s, raw_at(m, word, s, s->bit), &v->value, &v->at_end);
            n++;
        }
    }
    if (placeholder_may_be(m, out, n))
        placeholder_mark(m, out, n);
    return n;
}

size_t decode_values(const struct message *m, struct wire_value *out)
{
    if (m->plan != NULL)
        return decode_by(m->plan, m, out);
    const struct pgn_info *row = m->row != NULL ? m->row : catalogue_find(m->pgn);
    struct plan_step room[PLAN_STEPS_MAX];
    struct plan p;
    if (row == NULL)
        return 0;
    plan_row(row, room, &p);
    return decode_by(&p, m, out);
}
