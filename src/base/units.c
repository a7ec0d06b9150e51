#include "base/units.h"

#include "base/text.h"

#include <stddef.h>
#include <string.h>
#include <strings.h>

#include "base/banned.h"

struct unit_row {
    const char *text, *ascii;
    enum unit base;
    double factor, zero;   /* shown = base * factor + zero */
    const char *spellings; /* more ways to write it, each closed by '|' */
};

static const struct unit_row units[UNIT_COUNT] = {
    [UNIT_NONE] = {"", "", UNIT_NONE, 1, 0, ""},
    [UNIT_RPM] = {"rpm", "rpm", UNIT_RPM, 1, 0, "1/min|"},
    [UNIT_C] = {"°C", "C", UNIT_C, 1, 0, "degC|Celsius|"},
    [UNIT_KPA] = {"kPa", "kPa", UNIT_KPA, 1, 0, ""},
    [UNIT_LPH] = {"L/h", "L/h", UNIT_LPH, 1, 0, "lph|"},
    [UNIT_L] = {"L", "L", UNIT_L, 1, 0, "litre|litres|liter|liters|"},
    [UNIT_H] = {"h", "h", UNIT_H, 1, 0, "hours|hour|"},
    [UNIT_V] = {"V", "V", UNIT_V, 1, 0, "volt|volts|"},
    [UNIT_A] = {"A", "A", UNIT_A, 1, 0, "amp|amps|"},
    [UNIT_PERCENT] = {"%", "%", UNIT_PERCENT, 1, 0, "percent|"},
    [UNIT_KN] = {"kn", "kn", UNIT_KN, 1, 0, "knot|knots|kt|"},
    [UNIT_NMI] = {"nmi", "nmi", UNIT_NMI, 1, 0, "NM|"},
    [UNIT_L_PER_NMI] = {"L/nmi", "L/nmi", UNIT_L_PER_NMI, 1, 0, ""},
    [UNIT_NMI_PER_L] = {"nmi/L", "nmi/L", UNIT_NMI_PER_L, 1, 0, ""},
    [UNIT_F] = {"°F", "F", UNIT_C, 1.8, 32, "degF|Fahrenheit|"},
    [UNIT_K_DIFF] = {"K", "K", UNIT_K_DIFF, 1, 0, ""},
    [UNIT_HZ] = {"Hz", "Hz", UNIT_HZ, 1, 0, "hertz|"},
    [UNIT_WATT] = {"W", "W", UNIT_WATT, 1, 0, "watt|watts|"},
    [UNIT_AH] = {"Ah", "Ah", UNIT_AH, 1, 0, ""},
    [UNIT_BAR] = {"bar", "bar", UNIT_KPA, 0.01, 0, ""},
    [UNIT_PSI] = {"psi", "psi", UNIT_KPA, 1 / 6.894757, 0, ""},
    [UNIT_GAL_US] = {"gal", "gal", UNIT_L, 1 / 3.785411784, 0, "US gal|US gallon|US gallons|"},
    [UNIT_GAL_IMP] = {"imp gal", "imp gal", UNIT_L, 1 / 4.54609, 0, "imperial gal|"},
    [UNIT_GPH_US] = {"gal/h", "gal/h", UNIT_LPH, 1 / 3.785411784, 0, "US gal/h|gph|"},
    [UNIT_GPH_IMP] = {"imp gal/h", "imp gal/h", UNIT_LPH, 1 / 4.54609, 0, ""},
    [UNIT_KMH] = {"km/h", "km/h", UNIT_KN, 1.852, 0, "kmh|"},
    [UNIT_MPH] = {"mph", "mph", UNIT_KN, 1852 / 1609.344, 0, ""},
};

static const struct unit_row *row(enum unit u)
{
    return &units[(unsigned)u < UNIT_COUNT ? u : UNIT_NONE];
}

const char *unit_text(enum unit u)
{
    return row(u)->text;
}

const char *unit_ascii(enum unit u)
{
    return row(u)->ascii;
}

enum unit unit_base(enum unit u)
{
    return row(u)->base;
}

double unit_from_base(enum unit u, double v)
{
    return v * row(u)->factor + row(u)->zero;
}

double unit_to_base(enum unit u, double v)
{
    return (v - row(u)->zero) / row(u)->factor;
}

double unit_from_base_difference(enum unit u, double v)
{
    return v * row(u)->factor;
}

static bool spelled(const char *list, const char *s)
{
    size_t n = strlen(s);
    for (const char *p = list; *p;) {
        const char *end = strchr(p, '|');
        if ((size_t)(end - p) == n && strncasecmp(p, s, n) == 0)
            return true;
        p = end + 1;
    }
    return false;
}

bool unit_parse(const char *s, enum unit *out)
{
    for (unsigned u = 1; u < UNIT_COUNT; u++) {
        if (strcasecmp(s, units[u].text) == 0 || strcasecmp(s, units[u].ascii) == 0 ||
            spelled(units[u].spellings, s)) {
            *out = (enum unit)u;
            return true;
        }
    }
    return false;
}

bool unit_parse_value(const char *s, enum unit base, double *out)
{
    char number[32];
    size_t n = 0;
    while (*s == ' ' || *s == '\t')
        s++;
    while (s[n] && strchr("+-.0123456789", s[n]))
        n++;
    if (n == 0 || n >= sizeof number)
        return false;
    memcpy(number, s, n);
    number[n] = '\0';
    double v;
    if (!text_to_double(number, &v))
        return false;
    s += n;
    while (*s == ' ' || *s == '\t')
        s++;
    if (*s == '\0') {
        *out = v;
        return true;
    }
    enum unit u;
    if (!unit_parse(s, &u) || unit_base(u) != base)
        return false;
    *out = unit_to_base(u, v);
    return true;
}
