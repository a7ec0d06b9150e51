/* Messages that are not values: about the boxes, the clock, the batteries, and alerts of others. */
#include "wire/decode.h"

#include "base/text.h"
#include "wire/bits.h"

#include <math.h>

#include "base/banned.h"

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

/* A list's code, or -1 for the one that says nothing. */
static int list_code(const struct message *m, unsigned bit, unsigned bits)
{
    unsigned raw = (unsigned)bits_at(m->data, m->len, bit, bits);
    return raw == (1U << bits) - 1 ? -1 : (int)raw;
}

bool decode_battery_setup(const struct message *m, struct battery_setup *out)
{
    static const int volts[] = {6, 12, 24, 32, 36, 42, 48};
    if (m->pgn != 127513 || m->len < 3 || m->data[0] > 252)
        return false;
    out->battery = m->data[0];
    out->type = list_code(m, 8, 4);
    int nominal = list_code(m, 16, 4);
    out->nominal_volts =
        nominal >= 0 && nominal < (int)(sizeof volts / sizeof volts[0]) ? volts[nominal] : 0;
    out->chemistry = list_code(m, 20, 4);
    return true;
}

enum battery_chemistry battery_setup_chemistry(const struct battery_setup *s)
{
    static const enum battery_chemistry lead[] = {BATTERY_LEAD, BATTERY_GEL, BATTERY_AGM};
    if (s->chemistry > 0)
        return s->chemistry == 1 ? BATTERY_LITHIUM : BATTERY_OTHER;
    if (s->type >= 0 && s->type <= 2)
        return lead[s->type];
    return s->chemistry == 0 ? BATTERY_LEAD : BATTERY_UNKNOWN;
}

/* A text with its length and kind before it: 1 for bytes, 0 for two bytes a character, of which
 * only ASCII is kept. Returns where it ends; 0 where it does not fit. */
static size_t take_text(const struct message *m, size_t at, char *dst, size_t cap)
{
    if (at + 2 > m->len || m->data[at] < 2 || at + m->data[at] > m->len)
        return 0;
    size_t len = m->data[at] - 2U;
    const uint8_t *from = m->data + at + 2;
    if (m->data[at + 1] != 0) {
        text_clean(dst, cap, from, len);
        return at + 2 + len;
    }
    char narrow[128];
    size_t n = 0;
    for (size_t i = 0; i + 1 < len && n < sizeof narrow; i += 2)
        narrow[n++] = from[i + 1] == 0 ? (char)from[i] : '?';
    text_clean(dst, cap, narrow, n);
    return at + 2 + len;
}

/* Of 16 bits: IEC 61162-3 keeps the last three for what is no value, J1939-71 all from FB00 on. */
static double word_at(const struct message *m, unsigned bit, double step, bool iec)
{
    uint64_t raw = bits_at(m->data, m->len, bit, 16);
    return raw <= (iec ? 0xFFFCU : 0xFAFFU) ? (double)raw * step : NAN;
}

bool decode_engine_maker(const struct message *m, struct engine_maker *out)
{
    *out = (struct engine_maker){
        .rated_rpm = NAN, .idle_rpm = NAN, .high_idle_rpm = NAN, .torque_nm = NAN};
    if (m->pgn == 127498 && m->len >= 3 && m->data[0] <= 252) {
        out->rated_rpm = word_at(m, 8, 0.25, true);
        size_t at = take_text(m, 3, out->vin, sizeof out->vin);
        if (at > 0)
            take_text(m, at, out->software, sizeof out->software);
    } else if (m->pgn == 65251 && m->len >= 21) {
        out->idle_rpm = word_at(m, 0, 0.125, false);
        out->high_idle_rpm = word_at(m, 120, 0.125, false);
        out->torque_nm = word_at(m, 152, 1, false);
    } else {
        return false;
    }
    return true;
}

bool decode_bus_alert(const struct message *m, struct bus_alert *out)
{
    bool text = m->pgn == 126985;
    if ((m->pgn != 126983 && !text) || m->len < (text ? 17 : 28))
        return false;
    *out = (struct bus_alert){.type = list_code(m, 0, 4), .state = -1, .priority = -1};
    out->system = m->data[1];
    out->subsystem = m->data[2];
    out->id = (uint16_t)(m->data[3] | m->data[4] << 8);
    memcpy(&out->source, m->data + 5, 8);
    out->source = le64toh(out->source);
    out->instance = m->data[13];
    out->index = m->data[14];
    out->occurrence = m->data[15];
    if (!text) {
        out->priority = m->data[26] <= 252 ? m->data[26] : -1;
        out->state = m->data[27] <= 252 ? m->data[27] : -1;
        return true;
    }
    size_t end = take_text(m, 17, out->description, sizeof out->description);
    if (end != 0)
        take_text(m, end, out->location, sizeof out->location);
    return true;
}
