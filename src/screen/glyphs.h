/* The few characters that are pictures: levels of a trend, arrows, lines, marks, and how each
 * looks in ASCII. Block eighths (U+2581..2588) by default; no Debian console font has them, so a
 * plain console gets ASCII. Nothing here draws. */
#ifndef STOKEHOLD_SCREEN_GLYPHS_H
#define STOKEHOLD_SCREEN_GLYPHS_H

#include <stdbool.h>
#include <stdint.h>

enum {
    GLYPH_ELLIPSIS = 0x2026,
    GLYPH_SHADE = 0x2591,
    GLYPH_KEEL = 0x2502,
    GLYPH_LINE = 0x2500,
    GLYPH_HEAVY_LINE = 0x2501,
    GLYPH_TICK_LEFT = 0x251C,
    GLYPH_TICK_RIGHT = 0x2524,
    GLYPH_CORNER = 0x2514,
    GLYPH_DOT = 0x00B7,
    GLYPH_DOTTED = 0x2508,
    GLYPH_UPRIGHT = 0x250A,
    GLYPH_BAND = 0x258C,
    GLYPH_POINTER = 0x25B2,
    GLYPH_POINTER_DOWN = 0x25BC,
    GLYPH_CHOSEN = 0x203A,
};

/* The rate as an arrow: -2 falling fast .. 0 steady .. 2 rising fast. */
uint32_t glyph_arrow(int step);
/* ASCII for a code point: 0 where nothing stands in its place (a degree sign, an accent), '?' where
 * nothing fits. Plain ASCII comes back unchanged. */
uint32_t glyph_ascii(uint32_t ch);

#endif
