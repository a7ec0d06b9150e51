#include "wire/dm1.h"

#include "base/banned.h"

/* Where its two bits begin, in the first byte (the lamp) as in the second (its flashing). */
static const struct {
    unsigned shift;
    const char *text;
} lamps[DM1_LAMPS] = {
    [DM1_RED_STOP] = {4, "red stop lamp"},
    [DM1_AMBER_WARNING] = {2, "amber warning lamp"},
    [DM1_PROTECT] = {0, "protect lamp"},
    [DM1_MALFUNCTION] = {6, "malfunction lamp"},
};

bool dm1_decode(const struct message *m, struct dm1 *out)
{
    if ((m->pgn != 65226 && m->pgn != 65227) || m->len < 2)
        return false;
    for (int i = 0; i < DM1_LAMPS; i++) {
        out->lamps[i] = (enum lamp)(m->data[0] >> lamps[i].shift & 3);
        out->flashes[i] = (enum flash)(m->data[1] >> lamps[i].shift & 3);
    }
    out->code_count = out->more = 0;
    for (unsigned at = 2; at + 4 <= m->len; at += 4) {
        const uint8_t *d = m->data + at;
        struct trouble_code c = {
            .spn = (uint32_t)d[0] | (uint32_t)d[1] << 8 | (uint32_t)(d[2] >> 5) << 16,
            .fmi = d[2] & 0x1F,
            .count = d[3] & 0x7F,
            .old_form = (d[3] & 0x80) != 0,
        };
        bool none = c.spn == 0 && c.fmi == 0;
        bool padding = d[0] == 0xFF && d[1] == 0xFF && d[2] == 0xFF && d[3] == 0xFF;
        if (none || padding)
            continue;
        if (out->code_count < DM1_CODES_MAX)
            out->codes[out->code_count++] = c;
        else
            out->more++;
    }
    return true;
}

const char *dm1_lamp_text(enum dm1_lamp lamp)
{
    return lamps[lamp].text;
}

const char *dm1_flash_text(const struct dm1 *d, enum dm1_lamp lamp)
{
    if (d->lamps[lamp] != LAMP_ON)
        return NULL;
    return d->flashes[lamp] == FLASH_SLOW   ? "slowly"
           : d->flashes[lamp] == FLASH_FAST ? "fast"
                                            : NULL;
}

const char *dm1_spn_text(uint32_t spn)
{
    static const struct {
        uint32_t spn;
        const char *text;
    } known[] = {
        {22, "crankcase blow-by pressure"},
        {38, "fuel level 2"},
        {51, "throttle position"},
        {52, "intercooler temperature"},
        {81, "particulate trap inlet pressure"},
        {91, "accelerator pedal"},
        {92, "load at current speed"},
        {94, "fuel delivery pressure"},
        {95, "fuel filter differential pressure"},
        {96, "fuel level"},
        {97, "water in fuel"},
        {98, "oil level"},
        {100, "oil pressure"},
        {101, "crankcase pressure"},
        {102, "boost pressure"},
        {105, "intake manifold temperature"},
        {106, "air inlet pressure"},
        {107, "air filter differential pressure"},
        {108, "barometric pressure"},
        {109, "coolant pressure"},
        {110, "coolant temperature"},
        {111, "coolant level"},
        {112, "coolant filter differential pressure"},
        {114, "net battery current"},
        {115, "alternator current"},
        {127, "gear oil pressure"},
        {158, "key switch voltage"},
        {167, "charging voltage"},
        {168, "battery voltage"},
        {171, "ambient air temperature"},
        {172, "air inlet temperature"},
        {173, "exhaust gas temperature"},
        {174, "fuel temperature"},
        {175, "oil temperature"},
        {176, "turbocharger oil temperature"},
        {177, "gear oil temperature"},
        {182, "trip fuel"},
        {183, "fuel rate"},
        {190, "engine speed"},
        {247, "engine hours"},
        {441, "auxiliary temperature 1"},
        {442, "auxiliary temperature 2"},
        {512, "torque demanded"},
        {513, "actual torque"},
    };
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++)
        if (known[i].spn == spn)
            return known[i].text;
    return NULL;
}

const char *dm1_fmi_text(uint8_t fmi)
{
    static const char *const text[32] = {
        "above normal, most severe",
        "below normal, most severe",
        "erratic",
        "voltage high or shorted high",
        "voltage low or shorted low",
        "current low or open circuit",
        "current high or grounded",
        "mechanical system not responding",
        "abnormal frequency",
        "abnormal update rate",
        "abnormal rate of change",
        "cause not known",
        "bad device",
        "out of calibration",
        "special instructions",
        "above normal, least severe",
        "above normal, moderately severe",
        "below normal, least severe",
        "below normal, moderately severe",
        "data error on the network",
        "data drifted high",
        "data drifted low",
        [31] = "condition exists",
    };
    const char *s = text[fmi & 31];
    return s != NULL ? s : "reserved failure mode";
}
