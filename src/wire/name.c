#include "wire/name.h"

#include "base/banned.h"

struct name_fields name_decode(uint64_t name)
{
    return (struct name_fields){
        .identity = (uint32_t)(name & 0x1FFFFF),
        .manufacturer = (uint16_t)(name >> 21 & 0x7FF),
        .ecu_instance = (uint8_t)(name >> 32 & 0x7),
        .function_instance = (uint8_t)(name >> 35 & 0x1F),
        .function = (uint8_t)(name >> 40),
        .vehicle_class = (uint8_t)(name >> 49 & 0x7F),
        .class_instance = (uint8_t)(name >> 56 & 0xF),
        .industry_group = (uint8_t)(name >> 60 & 0x7),
        .arbitrary_address = name >> 63 != 0,
    };
}

bool name_from_claim(const struct message *m, uint64_t *name)
{
    if (m->pgn != 60928 || m->len < 8)
        return false;
    uint64_t v = 0;
    for (int i = 7; i >= 0; i--)
        v = v << 8 | m->data[i];
    *name = v;
    return true;
}

#define MARINE 4

struct numbered {
    uint16_t class_and_function; /* class << 8 | function */
    const char *text;
};

const char *name_class_text(uint8_t industry_group, uint8_t vehicle_class)
{
    if (vehicle_class == 0)
        return "no particular class";
    if (industry_group != MARINE)
        return NULL;
    switch (vehicle_class) {
    case 10:
        return "tools";
    case 20:
        return "safety";
    case 25:
        return "gateways and network parts";
    case 30:
        return "electrical distribution";
    case 35:
        return "electrical generation";
    case 40:
        return "steering and control surfaces";
    case 50:
        return "propulsion";
    case 60:
        return "navigation";
    case 70:
        return "communication";
    case 75:
        return "sensors";
    case 80:
        return "instruments";
    case 85:
        return "outside environment";
    case 90:
        return "inside environment";
    case 100:
        return "deck, cargo and fishing gear";
    case 110:
        return "operating panels";
    case 120:
        return "displays";
    case 125:
        return "entertainment";
    default:
        return NULL;
    }
}

/* Functions that mean the same everywhere (SAE J1939, below 128), those an engine room meets. */
static const char *common_function_text(uint8_t function)
{
    switch (function) {
    case 0:
        return "engine";
    case 1:
        return "auxiliary power unit";
    case 2:
        return "electric propulsion";
    case 3:
        return "transmission";
    case 4:
        return "battery monitor";
    default:
        return NULL;
    }
}

const char *name_function_text(uint8_t industry_group, uint8_t vehicle_class, uint8_t function)
{
    static const struct numbered marine[] = {
        {10 << 8 | 130, "diagnostics"},
        {10 << 8 | 140, "bus traffic logger"},
        {20 << 8 | 110, "alarm enunciator"},
        {25 << 8 | 130, "PC gateway"},
        {25 << 8 | 131, "gateway to an analogue network"},
        {25 << 8 | 132, "gateway to an analogue sensor"},
        {25 << 8 | 135, "gateway to a serial network"},
        {25 << 8 | 136, "gateway to a serial network"},
        {25 << 8 | 140, "router"},
        {25 << 8 | 150, "bridge"},
        {25 << 8 | 160, "repeater"},
        {30 << 8 | 130, "binary event monitor"},
        {30 << 8 | 140, "load controller"},
        {30 << 8 | 150, "AC and DC input"},
        {30 << 8 | 160, "function controller"},
        {35 << 8 | 140, "engine"},
        {35 << 8 | 141, "generator"},
        {35 << 8 | 142, "solar panel"},
        {35 << 8 | 143, "wind generator"},
        {35 << 8 | 144, "fuel cell"},
        {35 << 8 | 160, "generator controller"},
        {35 << 8 | 161, "AC bus"},
        {35 << 8 | 170, "battery"},
        {35 << 8 | 180, "battery charger"},
        {40 << 8 | 130, "follow-up controller"},
        {40 << 8 | 150, "autopilot"},
        {40 << 8 | 155, "rudder"},
        {40 << 8 | 160, "heading sensor"},
        {40 << 8 | 170, "trim and stabilisers"},
        {50 << 8 | 130, "engine room monitoring"},
        {50 << 8 | 140, "engine"},
        {50 << 8 | 141, "generator"},
        {50 << 8 | 150, "engine controller"},
        {50 << 8 | 160, "engine gateway"},
        {50 << 8 | 170, "transmission"},
        {60 << 8 | 130, "bottom depth"},
        {60 << 8 | 135, "bottom depth and speed"},
        {60 << 8 | 140, "attitude"},
        {60 << 8 | 145, "satellite positioning"},
        {60 << 8 | 155, "speed"},
        {60 << 8 | 160, "turn rate"},
        {75 << 8 | 130, "temperature"},
        {75 << 8 | 140, "pressure"},
        {75 << 8 | 150, "fluid level"},
        {75 << 8 | 160, "flow"},
        {75 << 8 | 170, "humidity"},
        {85 << 8 | 130, "atmosphere"},
        {85 << 8 | 160, "wind"},
        {120 << 8 | 130, "display"},
        {120 << 8 | 140, "alarm enunciator"},
    };
    const char *common = common_function_text(function);
    if (common != NULL)
        return common;
    if (industry_group != MARINE)
        return NULL;
    for (size_t i = 0; i < sizeof marine / sizeof marine[0]; i++)
        if (marine[i].class_and_function == (vehicle_class << 8 | function))
            return marine[i].text;
    return NULL;
}
