#include "screen/glyphs.h"

#include <stddef.h>

#include "base/banned.h"

uint32_t glyph_arrow(int step)
{
    static const uint32_t arrows[] = {0x2193, 0x2198, 0x2192, 0x2197, 0x2191};
    if (step < -2)
        step = -2;
    if (step > 2)
        step = 2;
    return arrows[step + 2];
}

/* Levels in ASCII: density and height grow together, so that a rise reads as one. */
static const char ascii_levels[] = " ._-=+*#@";

static const struct {
    uint32_t ch;
    char ascii;
} stand_ins[] = {
    {0x2026, '~'},  {0x2502, '|'},  {0x2500, '-'}, {0x251C, '|'},  {0x2524, '|'}, {0x2514, '+'},
    {0x250C, '+'},  {0x2510, '+'},  {0x2518, '+'}, {0x252C, '+'},  {0x2534, '+'}, {0x253C, '+'},
    {0x00B7, '.'},  {0x25B2, '^'},  {0x25BC, 'v'}, {0x203A, '>'},  {0x2190, '<'}, {0x2191, '^'},
    {0x2192, '-'},  {0x2193, 'v'},  {0x2197, '/'}, {0x2198, '\\'}, {0x2013, '-'}, {0x2014, '-'},
    {0x2018, '\''}, {0x2019, '\''}, {0x201C, '"'}, {0x201D, '"'},  {0x00A0, ' '}, {0x2009, ' '},
    {0x2212, '-'},  {0x00D7, 'x'},  {0x00B1, '~'}, {0x00B5, 'u'},  {0x25CF, '*'}, {0x25CB, 'o'},
    {0x2591, '.'},  {0x2592, ':'},  {0x2593, '#'}, {0x2580, '"'},  {0x2590, '|'}, {0x2508, '.'},
    {0x2594, '"'},  {0x2506, ':'},  {0x250A, ':'}, {0x2501, '='},
};

/* Latin-1 letters without their accents, U+00C0..U+00FF. */
static const char latin[] = "AAAAAAACEEEEIIIIDNOOOOOxOUUUUYTsaaaaaaaceeeeiiiidnooooo/ouuuuyty";

uint32_t glyph_ascii(uint32_t ch)
{
    if (ch < 0x80)
        return ch;
    if (ch == 0xB0)
        return 0;
    if (ch >= 0x2581 && ch <= 0x2588)
        return (uint32_t)ascii_levels[ch - 0x2580];
    if (ch == GLYPH_BAND)
        return '|';
    if (ch >= 0x2589 && ch <= 0x258F)
        return ch <= 0x258C ? '#' : '-';
    if (ch >= 0x2800 && ch <= 0x28FF)
        return ch == 0x2800 ? ' ' : ':';
    if (ch >= 0xC0 && ch <= 0xFF)
        return (uint32_t)latin[ch - 0xC0];
    for (size_t i = 0; i < sizeof stand_ins / sizeof stand_ins[0]; i++)
        if (stand_ins[i].ch == ch)
            return (uint32_t)stand_ins[i].ascii;
    return '?';
}
