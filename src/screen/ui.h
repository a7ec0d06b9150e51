/* What the person at the screen has chosen: it changes by actions only, never while drawing. What a
 * view cannot do itself (acknowledge, move in the log, quit) it leaves as a request, which the loop
 * takes after each action. Everything that draws or takes a key stands on this; which views there
 * are is known in view.c alone. No clock, no terminal. */
#ifndef STOKEHOLD_SCREEN_UI_H
#define STOKEHOLD_SCREEN_UI_H

#include "base/when.h"
#include "screen/keys.h"
#include "screen/model.h"

enum view_id { VIEW_BOARD, VIEW_HELM, VIEW_TREND, VIEW_ALERTS, VIEW_MOVERS, VIEW_BUS, VIEW_COUNT };

enum overlay {
    OVERLAY_NONE,
    OVERLAY_HELP,
    OVERLAY_QUIT,
    OVERLAY_GO_TO,
    OVERLAY_FIND,
    OVERLAY_MARK
};

enum request_kind {
    REQUEST_NONE,
    REQUEST_ACKNOWLEDGE, /* id */
    REQUEST_SILENCE,
    REQUEST_PAUSE, /* toggles */
    REQUEST_STEP,
    REQUEST_SPEED, /* amount: 2 doubles, -2 halves, 0 fastest */
    REQUEST_MOVE,  /* amount: ns, on or back */
    REQUEST_GO_TO, /* moment */
    REQUEST_NEXT_ALERT,
    REQUEST_PREVIOUS_ALERT,
    REQUEST_MARK, /* amount: wall ns; words */
    REQUEST_NEXT_MARK,
    REQUEST_UNITS,
    REQUEST_THEME,
    REQUEST_GLYPHS,
    REQUEST_SAVE, /* the window of the trend, to files */
    REQUEST_SOUND,
    REQUEST_SOUND_TEST,
    REQUEST_MOUSE,
    REQUEST_REDRAW,
    REQUEST_QUIT,
};

struct request {
    enum request_kind kind;
    uint32_t id;
    int64_t amount;
    struct moment moment;
    const char *words; /* of the ui; good until its next key */
};

struct ui_trend {
    char keys[4][CHANNEL_KEY_SIZE];
    int count; /* of keys */
    int span;  /* index into trend_spans_ns */
    bool together;
    bool cursor_on, second_on;     /* the second one stays where the first was when it was set */
    int64_t cursor_ns, second_ns;  /* mono */
    int64_t zoom_from_ns, zoom_ns; /* mono; how long. zoom_ns 0: the span up to now */
};

#define UI_INPUT 100
struct ui {
    int cols, rows;
    enum view_id view;
    enum overlay overlay;
    struct key_map keys;
    bool frozen;                   /* the picture is held; what is around it goes on */
    bool flash;                    /* the half of the cycle in which what flashes is reversed */
    char chosen[CHANNEL_KEY_SIZE]; /* key of the chosen channel, "" for none */
    char filter[32];
    char input[UI_INPUT];  /* of the overlay that asks */
    int64_t asked_wall_ns; /* when it began to ask */
    const char *complaint; /* about the input, NULL for none; a constant */
    char notice[96];       /* one line in the footer's place until the next key */
    int help_top, bus_top;
    uint16_t chart[2]; /* quantities of the charts beside the keel; 0: as comes */
    struct ui_trend trend;
    uint32_t chosen_alert;
    bool figures; /* of an alert: what decided, in place of its story */
    struct request request;
};

void ui_init(struct ui *ui);
/* The trend of a channel alone; its twin beside it, where there is one, is ui_key's affair. */
void ui_open_trend(struct ui *ui, const char *key);

#endif
