/* The one table of keys: what a key does, its words, and when it works. It drives dispatch, the
 * footer, the help overlay and the list in the manual page, so none of them can lie. Keys are
 * letters, arrows, Tab, Enter, Space and a few signs; a user may bind others. */
#ifndef STOKEHOLD_SCREEN_KEYS_H
#define STOKEHOLD_SCREEN_KEYS_H

#include "base/err.h"
#include "config/settings.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

enum action {
    ACTION_NONE,
    ACTION_ACKNOWLEDGE,
    ACTION_SILENCE,
    ACTION_BOARD,
    ACTION_HELM,
    ACTION_TREND,
    ACTION_ALERTS,
    ACTION_MOVERS,
    ACTION_BUS,
    ACTION_UP,
    ACTION_DOWN,
    ACTION_LEFT,
    ACTION_RIGHT,
    ACTION_PAGE_UP,
    ACTION_PAGE_DOWN,
    ACTION_HOME,
    ACTION_END,
    ACTION_CHOOSE,     /* Enter */
    ACTION_NEXT_FIELD, /* Tab */
    ACTION_ADD,
    ACTION_LONGER,
    ACTION_SHORTER,
    ACTION_ZOOM,
    ACTION_SAVE,
    ACTION_CHARTS,
    ACTION_PAUSE,
    ACTION_STEP,
    ACTION_FASTER,
    ACTION_SLOWER,
    ACTION_FASTEST,
    ACTION_FORWARD,
    ACTION_BACKWARD,
    ACTION_GO_TO,
    ACTION_NEXT_ALERT,
    ACTION_PREVIOUS_ALERT,
    ACTION_MARK,
    ACTION_NEXT_MARK,
    ACTION_FIND,
    ACTION_UNITS,
    ACTION_THEME,
    ACTION_GLYPHS,
    ACTION_SOUND,
    ACTION_SOUND_TEST,
    ACTION_MOUSE,
    ACTION_REDRAW,
    ACTION_HELP,
    ACTION_BACK,
    ACTION_QUIT,
    ACTION_COUNT
};

/* Codes above Unicode for keys that are not characters. */
enum key_code {
    KEY_CODE_NONE = 0x110000,
    KEY_CODE_UP,
    KEY_CODE_DOWN,
    KEY_CODE_LEFT,
    KEY_CODE_RIGHT,
    KEY_CODE_PAGE_UP,
    KEY_CODE_PAGE_DOWN,
    KEY_CODE_HOME,
    KEY_CODE_END,
    KEY_CODE_BACKSPACE,
    KEY_CODE_BACK_TAB,
    KEY_CODE_MOUSE, /* term_mouse says where */
    KEY_CODE_RESIZE,
};
enum { KEY_ENTER_CODE = '\r', KEY_TAB_CODE = '\t', KEY_ESCAPE_CODE = 27, KEY_CTRL_L = 12 };

/* When an action works: every bit that is set must be met by the context. */
#define WHEN_ALWAYS    0x0000
#define WHEN_REPLAY    0x0001 /* a log that can be moved in */
#define WHEN_ALERT     0x0002 /* something is listed */
#define WHEN_UNACKED   0x0004 /* something wants to be acknowledged */
#define WHEN_SOUND     0x0008 /* something sounds */
#define WHEN_ROWS      0x0010 /* the view has rows to choose from */
#define WHEN_TREND     0x0020
#define WHEN_MARKS     0x0040
#define WHEN_FIND      0x0080
#define WHEN_OVERLAY   0x0100 /* something lies over the view, or it is not the first one */
#define WHEN_NOT_BOARD 0x0200
#define WHEN_MARKABLE  0x0400 /* a log that can be moved in, or something records */
#define WHEN_GOES_ON   0x0800 /* there is more to come: a live bus, or a log not at its end */
#define WHEN_CHARTS    0x1000 /* charts stand beside the keel */

/* What the list of keys is ordered by. */
enum key_topic {
    TOPIC_ALERTS,
    TOPIC_VIEWS,
    TOPIC_ROWS,
    TOPIC_CURVES,
    TOPIC_LOG,
    TOPIC_LOOKS,
    TOPIC_COUNT
};
const char *keys_topic(enum key_topic t); /* its heading */

struct key_row {
    enum action action;
    enum key_topic topic;
    int key, also;     /* also: a second key, 0 for none */
    uint16_t when;     /* WHEN_ bits, all of which must be met */
    uint8_t foot;      /* place in the footer, 1 first; 0: help only */
    const char *name;  /* in [keys]: "acknowledge" */
    const char *brief; /* in the footer: "acknowledge" */
    const char *help;  /* a sentence for help and manual */
};

extern const struct key_row key_table[];
extern const size_t key_table_count;

/* The keys as bound now: starts as the table, changed by a user's choices. */
struct key_map {
    int key[ACTION_COUNT], also[ACTION_COUNT];
};

void keys_init(struct key_map *m);
/* Binds every row of the table to the key that is named in the same row of names ("x", "space",
 * "enter", "tab", "up", ...). False with the first thing that is wrong: no such key, one key for
 * two actions, Esc for anything but going back. */
bool keys_load(struct key_map *m, const struct key_setting *names, struct err *e);
/* The first row of the table from `from` on whose name is not a key or clashes, with the reason in
 * e; key_table_count where there is none. */
size_t keys_wrong(const struct key_setting *names, size_t from, struct err *e);
/* What a key does in a context (WHEN_ bits that are met); ACTION_NONE for none. */
enum action keys_action(const struct key_map *m, int key, unsigned context);
/* Whether the action works in that context. */
bool keys_works(enum action a, unsigned context);
/* The key's name as shown: "a", "space", "enter"; into dst of at least 12 bytes. */
const char *keys_name(int key, char *dst, size_t cap);
/* The reverse; 0 where it is none. */
int keys_parse(const char *name);
/* The list for the manual page, in its markup. */
void keys_manual(FILE *out);

#endif
