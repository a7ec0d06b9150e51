/* Themes: what each role looks like at 256 colours, at 8 and in monochrome, each hand-picked,
 * never computed down. Plain files in themes/, compiled in as they are; a user's file of the same
 * form may be named instead.
 *
 *     # comment
 *     name = night
 *     ground = 16 / black / -            what lies behind everything; "-": the terminal's own
 *     figures = thin                     large figures in thin strokes; else full
 *     alarm = 231 on 160 bold / white on red bold / reverse bold
 *
 * A look is [COLOUR] [on COLOUR] [bold] [dim] [underline] [reverse]; a colour is a number 0..255
 * (first column), a name (second), or "-" for the terminal's own. */
#ifndef STOKEHOLD_SCREEN_THEME_H
#define STOKEHOLD_SCREEN_THEME_H

#include "base/err.h"
#include "screen/cells.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum color_level { COLOR_MONO, COLOR_8, COLOR_256, COLOR_LEVELS };

#define LOOK_BOLD      0x01
#define LOOK_DIM       0x02
#define LOOK_UNDERLINE 0x04
#define LOOK_REVERSE   0x08

struct look {
    int16_t fg, bg; /* -1: the terminal's own */
    uint8_t attr;
};

struct theme {
    char name[32];
    bool thin; /* large figures in thin strokes */
    struct look looks[ROLE_COUNT][COLOR_LEVELS];
};

/* The shipped ones, in the order of the key that changes them. */
size_t theme_builtin_count(void);
const char *theme_builtin_name(size_t i);
/* The named shipped theme; false where there is none. */
bool theme_builtin(struct theme *t, const char *name);
/* From the text of a theme file; `name` stands for it in messages. False with the first error. */
bool theme_parse(struct theme *t, const char *name, const char *text, size_t len, struct err *e);
/* A shipped theme's name, or the path of a file. */
bool theme_load(struct theme *t, const char *name_or_path, struct err *e);
/* The look of a cell: its role's, with the cell's own attributes. */
struct look theme_look(const struct theme *t, enum color_level level, const struct cell *c);

#endif
