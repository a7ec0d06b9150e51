#include "wire/decode.h"

#include <endian.h>
#include <string.h>

#include "base/text.h"
#include "wire/catalogue.h"

#include "base/banned.h"

/* Bits of the payload, little endian; the caller has checked that they are within it. At most 56
 * bits, so that any start within a byte fits. One load of 8 bytes that end within the payload. */
static inline uint64_t bits_at(const uint8_t *data, size_t len, unsigned bit, unsigned bits)
{
    size_t start = bit / 8;
    uint64_t v = 0;
    if (len >= 8) {
        if (start > len - 8)
            start = len - 8;
        memcpy(&v, data + start, 8);
        v = le64toh(v);
    } else {
        start = 0;
        for (size_t i = len; i-- > 0;)
            v = v << 8 | data[i];
    }
    return (v >> (bit - 8 * start)) & ((UINT64_C(1) << bits) - 1);
}

static inline bool holds(const struct message *m, unsigned bit, unsigned bits)
{
    return bit + bits <= 8U * m->len;
}

static enum reading_status status_iec(uint64_t raw, unsigned bits, bool is_signed)
{
    uint64_t top = (UINT64_C(1) << (is_signed ? bits - 1 : bits)) - 1;
    if (raw == top)
        return READING_NOT_AVAILABLE;
    if (bits == 1)
        return READING_OK;
    if (raw == top - 1)
        return READING_ERROR;
    return bits >= 8 && raw == top - 2 ? READING_ERROR : READING_OK;
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
    case FAMILY_IEC:
        return status_iec(raw, f->bits, f->is_signed);
    case FAMILY_J1939:
        return status_j1939(raw, f->bits);
    case FAMILY_CODE:
        return raw == (UINT64_C(1) << f->bits) - 1 ? READING_NOT_AVAILABLE : READING_OK;
    default:
        return READING_OK;
    }
}

static enum reading_status field_at(const struct message *m, const struct field_info *f,
                                    unsigned bit, double *value)
{
    uint64_t raw = bits_at(m->data, m->len, bit, f->bits);
    enum reading_status status = status_of(f, raw);
    if (status != READING_OK)
        return status;
    int64_t number = (int64_t)raw;
    if (f->is_signed && raw >> (f->bits - 1) != 0)
        number -= INT64_C(1) << f->bits;
    *value = (double)number * f->gain + f->zero;
    return READING_OK;
}

enum reading_status decode_field(const struct message *m, const struct field_info *f,
                                 unsigned index, double *value)
{
    unsigned bit = f->bit + index * f->bits;
    if (f->family == FAMILY_TEXT || f->bits > 56 || !holds(m, bit, f->bits))
        return READING_NEVER;
    return field_at(m, f, bit, value);
}

/* An instance: 8 bits go up to 252, fewer bits up to all ones less one. */
static bool place_bits(const struct message *m, const struct place_rule *r, uint8_t *out)
{
    if (!holds(m, r->bit, r->bits))
        return false;
    unsigned raw = (unsigned)bits_at(m->data, m->len, r->bit, r->bits);
    if (raw > (r->bits == 8 ? 252U : (1U << r->bits) - 2))
        return false;
    *out = (uint8_t)raw;
    return true;
}

static bool place_of(const struct message *m, const struct place_rule *r, unsigned index,
                     uint8_t *out)
{
    switch (r->how) {
    case AT_NOTHING:
        *out = 0;
        return true;
    case AT_FIXED:
        *out = r->n;
        return true;
    case AT_COUNTED:
        *out = (uint8_t)(r->n + index);
        return true;
    case AT_BITS:
        return place_bits(m, r, out);
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

bool decode_place(const struct message *m, const struct field_info *f, unsigned index,
                  struct channel_id *out)
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
    return out->quantity != QTY_NONE && place_of(m, &f->place, index, &out->place) &&
           place_of(m, &f->sub, index, &out->sub);
}

static const struct pgn_info *row_of(const struct message *m)
{
    return m->row != NULL ? m->row : catalogue_find(m->pgn);
}

/* Appends the values of one field; returns the new count. */
static size_t decode_into(const struct message *m, const struct pgn_info *row,
                          const struct field_info *f, struct wire_value *out, size_t n)
{
    unsigned times = f->repeat > 1 ? f->repeat : 1;
    for (unsigned i = 0; i < times && n < DECODE_VALUES_MAX; i++) {
        unsigned bit = f->bit + i * f->bits;
        struct wire_value *v = &out[n];
        if (!holds(m, bit, f->bits) || !decode_place(m, f, i, &v->id))
            return n;
        v->value = 0.0;
        v->status = field_at(m, f, bit, &v->value);
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
    for (const struct field_info *f = row->fields, *end = f + row->field_count; f < end; f++) {
        if (f->quantity != QTY_NONE || f->choice.count != 0) {
            n = decode_into(m, row, f, out, n);
        } else if (f->is_capacity) {
            double litres = 0.0;
            if (decode_field(m, f, 0, &litres) == READING_OK)
                for (size_t i = 0; i < n; i++)
                    out[i].capacity_l = litres;
        }
    }
    return n;
}

bool decode_engine_status(const struct message *m, uint8_t *engine, uint16_t *status1,
                          uint16_t *status2)
{
    if (m->pgn != 127489 || m->len < 24 || m->data[0] > 252)
        return false;
    *engine = m->data[0];
    *status1 = (uint16_t)(m->data[20] | m->data[21] << 8);
    *status2 = (uint16_t)(m->data[22] | m->data[23] << 8);
    if (*status1 >= 0xFFFE)
        *status1 = 0;
    if (*status2 >= 0xFFFE)
        *status2 = 0;
    return true;
}

const char *decode_engine_status_text(int word, int bit)
{
    static const char *const words[2][16] = {
        {"check engine", "over temperature", "low oil pressure", "low oil level",
         "low fuel pressure", "low system voltage", "low coolant level", "water flow",
         "water in fuel", "charge indicator", "preheat indicator", "high boost pressure",
         "rev limit exceeded", "EGR system", "throttle position sensor", "emergency stop"},
        {"warning level 1", "warning level 2", "power reduction", "maintenance needed",
         "engine communication error", "sub or secondary throttle", "neutral start protect",
         "engine shutting down"},
    };
    if (word < 1 || word > 2 || bit < 0 || bit > 15)
        return NULL;
    return words[word - 1][bit];
}

bool decode_system_time(const struct message *m, int64_t *wall_ns)
{
    if (m->pgn != 126992 || m->len < 8)
        return false;
    uint64_t days = bits_at(m->data, m->len, 16, 16), tenths = bits_at(m->data, m->len, 32, 32);
    if (status_iec(days, 16, false) != READING_OK || status_iec(tenths, 32, false) != READING_OK)
        return false;
    if (tenths > UINT64_C(86401) * 10000) /* a leap second is allowed, no more */
        return false;
    *wall_ns = (int64_t)days * 86400 * NS_PER_S + (int64_t)tenths * (NS_PER_S / 10000);
    return true;
}

bool decode_request(const struct message *m, uint32_t *pgn)
{
    if (m->pgn != 59904 || m->len < 3)
        return false;
    *pgn = (uint32_t)bits_at(m->data, m->len, 0, 24) & 0x3FFFF;
    return true;
}

bool decode_heartbeat(const struct message *m, struct heartbeat *out)
{
    if (m->pgn != 126993 || m->len < 4)
        return false;
    uint64_t interval = bits_at(m->data, m->len, 0, 16);
    out->interval_s = status_iec(interval, 16, false) == READING_OK ? (double)interval * 0.01 : 0.0;
    out->sequence = m->data[2] <= 252 ? m->data[2] : -1;
    out->controller1 = m->data[3] & 3;
    out->controller2 = m->data[3] >> 2 & 3;
    out->equipment = m->data[3] >> 4 & 3;
    return true;
}

bool decode_product_info(const struct message *m, struct product_info *out)
{
    if (m->pgn != 126996 || m->len < 134)
        return false;
    unsigned version = m->data[0] | (unsigned)m->data[1] << 8;
    unsigned code = m->data[2] | (unsigned)m->data[3] << 8;
    out->version = status_iec(version, 16, false) == READING_OK ? version * 0.001 : 0.0;
    out->code = status_iec(code, 16, false) == READING_OK ? (int)code : -1;
    text_clean(out->model, sizeof out->model, m->data + 4, 32);
    text_clean(out->software, sizeof out->software, m->data + 36, 32);
    text_clean(out->model_version, sizeof out->model_version, m->data + 68, 32);
    text_clean(out->serial, sizeof out->serial, m->data + 100, 32);
    out->certification = m->data[132] <= 252 ? m->data[132] : -1;
    out->load_equivalency = m->data[133] <= 252 ? m->data[133] : -1;
    return true;
}

bool decode_acknowledgement(const struct message *m, struct acknowledgement *out)
{
    if (m->pgn != 59392 || m->len < 8)
        return false;
    out->control = m->data[0];
    out->address = m->data[4];
    out->pgn = (uint32_t)bits_at(m->data, m->len, 40, 24) & 0x3FFFF;
    return true;
}
