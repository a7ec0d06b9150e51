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

static const struct numbered marine[] = {
    {10 << 8 | 130, "diagnostics"},
    {10 << 8 | 140, "bus traffic logger"},
    {20 << 8 | 110, "alarm enunciator"},
    {20 << 8 | 130, "emergency beacon"},
    {20 << 8 | 135, "man overboard"},
    {20 << 8 | 140, "voyage data recorder"},
    {20 << 8 | 150, "camera"},
    {25 << 8 | 130, "PC gateway"},
    {25 << 8 | 131, "gateway to an analogue network"},
    {25 << 8 | 132, "gateway from an analogue network"},
    {25 << 8 | 133, "gateway to a serial network"},
    {25 << 8 | 135, "gateway to an IEC 61162-1 network"},
    {25 << 8 | 136, "network gateway"},
    {25 << 8 | 137, "wireless gateway"},
    {25 << 8 | 140, "router"},
    {25 << 8 | 150, "bridge"},
    {25 << 8 | 160, "repeater"},
    {30 << 8 | 130, "binary event monitor"},
    {30 << 8 | 140, "load controller"},
    {30 << 8 | 141, "AC and DC input"},
    {30 << 8 | 150, "function controller"},
    {35 << 8 | 140, "engine"},
    {35 << 8 | 141, "DC generator or alternator"},
    {35 << 8 | 142, "solar panel"},
    {35 << 8 | 143, "wind generator"},
    {35 << 8 | 144, "fuel cell"},
    {35 << 8 | 145, "network power supply"},
    {35 << 8 | 151, "AC generator"},
    {35 << 8 | 152, "AC bus"},
    {35 << 8 | 153, "shore power"},
    {35 << 8 | 154, "AC output"},
    {35 << 8 | 160, "battery charger"},
    {35 << 8 | 161, "battery charger and inverter"},
    {35 << 8 | 162, "inverter"},
    {35 << 8 | 163, "DC converter"},
    {35 << 8 | 170, "battery"},
    {35 << 8 | 180, "engine gateway"},
    {40 << 8 | 130, "follow-up controller"},
    {40 << 8 | 140, "mode controller"},
    {40 << 8 | 150, "autopilot"},
    {40 << 8 | 155, "rudder"},
    {40 << 8 | 160, "heading sensor"},
    {40 << 8 | 170, "trim tabs or interceptors"},
    {40 << 8 | 180, "attitude control"},
    {50 << 8 | 130, "engine room monitoring"},
    {50 << 8 | 140, "engine"},
    {50 << 8 | 141, "DC generator or alternator"},
    {50 << 8 | 150, "engine controller"},
    {50 << 8 | 151, "AC generator"},
    {50 << 8 | 155, "motor"},
    {50 << 8 | 160, "engine gateway"},
    {50 << 8 | 165, "transmission"},
    {50 << 8 | 170, "throttle and shift control"},
    {50 << 8 | 180, "actuator"},
    {50 << 8 | 190, "gauge interface"},
    {50 << 8 | 200, "large gauge"},
    {50 << 8 | 210, "small gauge"},
    {60 << 8 | 130, "bottom depth"},
    {60 << 8 | 135, "bottom depth and speed"},
    {60 << 8 | 136, "bottom depth, speed and temperature"},
    {60 << 8 | 140, "attitude"},
    {60 << 8 | 145, "satellite positioning"},
    {60 << 8 | 150, "radio positioning"},
    {60 << 8 | 155, "speed"},
    {60 << 8 | 160, "turn rate"},
    {60 << 8 | 170, "integrated navigation"},
    {60 << 8 | 175, "integrated navigation"},
    {60 << 8 | 190, "navigation management"},
    {60 << 8 | 195, "automatic identification"},
    {60 << 8 | 200, "radar"},
    {60 << 8 | 201, "infrared camera"},
    {60 << 8 | 205, "ECDIS"},
    {60 << 8 | 210, "ECS"},
    {60 << 8 | 220, "direction finder"},
    {60 << 8 | 230, "voyage status"},
    {70 << 8 | 130, "EPIRB"},
    {70 << 8 | 140, "AIS"},
    {70 << 8 | 150, "DSC"},
    {70 << 8 | 160, "data radio"},
    {70 << 8 | 170, "satellite radio"},
    {70 << 8 | 180, "radio telephone, medium and short wave"},
    {70 << 8 | 190, "radio telephone"},
    {75 << 8 | 130, "temperature"},
    {75 << 8 | 140, "pressure"},
    {75 << 8 | 150, "fluid level"},
    {75 << 8 | 160, "flow"},
    {75 << 8 | 170, "humidity"},
    {80 << 8 | 130, "time and date"},
    {80 << 8 | 140, "VDR"},
    {80 << 8 | 150, "integrated instruments"},
    {80 << 8 | 160, "display"},
    {80 << 8 | 170, "sensor box"},
    {80 << 8 | 180, "weather instruments"},
    {80 << 8 | 190, "transducer"},
    {80 << 8 | 200, "gateway to an IEC 61162-1 network"},
    {85 << 8 | 130, "atmosphere"},
    {85 << 8 | 160, "water"},
    {90 << 8 | 130, "heating and air conditioning"},
    {100 << 8 | 130, "scale"},
    {110 << 8 | 130, "buttons"},
    {110 << 8 | 135, "switches"},
    {110 << 8 | 140, "analogue interface"},
    {120 << 8 | 130, "display"},
    {120 << 8 | 140, "alarm enunciator"},
    {125 << 8 | 130, "media player"},
    {125 << 8 | 140, "media controller"},
};

const char *name_function_text(uint8_t industry_group, uint8_t vehicle_class, uint8_t function)
{
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
