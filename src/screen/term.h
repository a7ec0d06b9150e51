/* The terminal: the only file of the program that includes curses. It ships grids of cells, reads
 * keys and signals, and restores the terminal on every way out, a crash included.
 *
 * Output is owned by the program: curses writes into a memory file, and what it wrote goes to the
 * terminal without ever blocking, so that a stalled terminal cannot stop the watch. While bytes
 * wait, frames are skipped and counted; the next one that goes out is whole.
 * Signals are blocked and read from a descriptor: INT, TERM, HUP, WINCH, TSTP, CONT, USR1.
 * Standard error is held back while the screen is up and said afterwards.
 * One terminal at a time (a crash handler can hold no more). Not thread-safe. */
#ifndef STOKEHOLD_SCREEN_TERM_H
#define STOKEHOLD_SCREEN_TERM_H

#include "base/err.h"
#include "screen/cells.h"
#include "screen/theme.h"

#include <stdbool.h>
#include <stdint.h>

struct term;

enum term_glyphs { TERM_GLYPHS_AUTO, TERM_GLYPHS_ON, TERM_GLYPHS_ASCII };

struct term_options {
    const char *color; /* "auto", "never", "8", "256"; NULL is "auto", which heeds NO_COLOR */
    enum term_glyphs glyphs;
    int cols, rows; /* 0: ask the terminal */
};

/* NULL and e where there is no terminal, or none that can place a cursor. */
struct term *term_open(const struct term_options *options, struct err *e);
/* Restores the terminal and frees; NULL is allowed. */
void term_close(struct term *t);

/* Whether this process could have a screen at all: both ends are a terminal. */
bool term_possible(void);

int term_fd(const struct term *t);        /* poll for reading; for writing while term_pending */
int term_signal_fd(const struct term *t); /* poll for reading */
/* The next signal that came, 0 when there is none. Several of one kind count as one. */
int term_signal(struct term *t);
/* The next key: a code point or an enum key_code (screen/keys.h); KEY_CODE_NONE when there is
 * none. Read until then: curses reads ahead. */
int term_key(struct term *t);
void term_mouse_at(const struct term *t, int *x, int *y, int *wheel);
void term_mouse(struct term *t, bool on);

bool term_ascii(const struct term *t);
/* Something the user should know about this terminal, or NULL. */
const char *term_notice(const struct term *t);

void term_size(const struct term *t, int *cols, int *rows);
/* Reads the size again; true when it changed. */
bool term_resize(struct term *t);

/* Draws g; skipped while earlier bytes wait. False where the terminal is gone. */
bool term_draw(struct term *t, const struct grid *g, const struct theme *theme);
/* Next draw paints everything again. */
void term_redraw(struct term *t);
/* Rings; not while bytes wait, for strokes kept for later would ring all at once. */
void term_bell(struct term *t);
/* Bytes wait: poll term_fd for writing and call term_flush. */
bool term_pending(const struct term *t);
bool term_flush(struct term *t); /* false where the terminal is gone */
/* Says that a poll or read told so. */
bool term_gone(const struct term *t);
void term_hang_up(struct term *t);

/* Ctrl-Z: hands the terminal back, stops this process, and takes the terminal again. */
void term_suspend(struct term *t);

struct term_stats {
    uint64_t frames, skipped, bytes;
};
struct term_stats term_stats(const struct term *t);

#endif
