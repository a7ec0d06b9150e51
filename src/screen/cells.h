/* A grid of character cells: what one screen shows, before any terminal is involved.
 * Views write into a grid, term.c ships it, tests compare it with text files. A cell is one column;
 * a wide character takes two, the second with width 0. Everything is clipped to the grid, so that
 * no size, down to 1x1, needs care from those who draw. Text is made safe here: control characters
 * and what has no width become '?'.
 * Where the grid is `ascii`, every character is turned into its ASCII form on the way in: the one
 * place that decides it. No theme, no curses. */
#ifndef STOKEHOLD_SCREEN_CELLS_H
#define STOKEHOLD_SCREEN_CELLS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* What a cell is for; a theme gives it a look. */
enum role {
    ROLE_TEXT,
    ROLE_DIM,   /* units, hints, what is old */
    ROLE_LABEL, /* names of things */
    ROLE_VALUE, /* numbers that are read */
    ROLE_TITLE, /* first line, headings */
    ROLE_KEEL,  /* lines that order the picture */
    ROLE_TREND,
    ROLE_LIMIT,
    ROLE_KEY,  /* a key in the footer */
    ROLE_NOTE, /* paused, ended, too small: the program about itself */
    ROLE_CHOSEN,
    ROLE_CAUTION,
    ROLE_WARNING,
    ROLE_ALARM,
    ROLE_EMERGENCY,
    ROLE_SERIES_1, /* curves of the trend view */
    ROLE_SERIES_2,
    ROLE_SERIES_3,
    ROLE_SERIES_4,
    ROLE_COUNT
};

#define ATTR_BOLD      0x01
#define ATTR_REVERSE   0x02
#define ATTR_UNDERLINE 0x04
#define ATTR_LINE      0x08 /* part of a drawing, no word: never brings a ground of its own */

struct cell {
    uint32_t ch;      /* 0 in the second half of a wide character */
    uint32_t mark[2]; /* combining characters, 0 where none */
    uint8_t role, attr, width;
};

struct rect {
    int x, y, w, h; /* w, h >= 0 */
};

struct grid {
    int cols, rows;
    bool ascii;
    bool blocks;        /* a font without braille: lines are drawn with blocks */
    bool thin;          /* large figures in thin strokes, that they dazzle nobody */
    struct cell *cells; /* rows of cols */
};

/* An empty grid of blanks. False when out of memory; sizes below 1 count as 1, above 1000 as 1000.
 */
bool grid_init(struct grid *g, int cols, int rows, bool ascii);
void grid_fini(struct grid *g);
/* Another size; the content is lost. False when out of memory, the grid then keeps its old size. */
bool grid_resize(struct grid *g, int cols, int rows);
void grid_clear(struct grid *g);

static inline const struct cell *grid_at(const struct grid *g, int x, int y)
{
    return &g->cells[(size_t)y * (size_t)g->cols + (size_t)x];
}

/* One character; outside of the grid nothing happens. */
void grid_put(struct grid *g, int x, int y, uint32_t ch, enum role role, int attr);
/* Adds dots (the low byte of U+2800..U+28FF) to those of a braille cell, or begins one; not in
 * ASCII.
 */
void grid_dots(struct grid *g, int x, int y, unsigned dots, enum role role);
/* At most `max` columns of text from x; returns the columns used. What does not fit ends in a cut
 * sign (one column), never in half a character. */
int grid_text(struct grid *g, int x, int y, int max, const char *utf8, enum role role, int attr);
/* The same, ending in the column before x + w. */
void grid_text_right(struct grid *g, int x, int y, int w, const char *utf8, enum role role,
                     int attr);
/* Columns that grid_text would use, uncut. */
int grid_width(const struct grid *g, const char *utf8);
/* A horizontal or vertical run of one character. */
void grid_run(struct grid *g, struct rect r, uint32_t ch, enum role role, int attr);
/* Gives the cells of r a role and attributes, leaving their characters. */
void grid_paint(struct grid *g, struct rect r, enum role role, int attr);

/* The next code point of a UTF-8 string; U+FFFD for a bad byte. *s moves on; 0 at the end. */
uint32_t utf8_next(const char **s);
/* Writes a code point; returns 1..4 bytes. dst needs 4. */
int utf8_put(char *dst, uint32_t ch);
/* Columns of a code point: 0 combining, 1, 2; -1 for what must not reach a terminal. Does not
 * depend on the locale. */
int char_width(uint32_t ch);

/* The text of row y, without trailing blanks, into dst; returns the length, cut if it must be. */
size_t grid_row_text(const struct grid *g, int y, char *dst, size_t cap);
/* One letter a cell for its role and attributes ('.' for plain text), trailing '.' dropped. */
size_t grid_row_roles(const struct grid *g, int y, char *dst, size_t cap);
const char *role_text(enum role r); /* "alarm"; the name in theme files */

#endif
