/* What the files of the board's loop share: its state, and who changes what in it. Within session/
 * alone; watch_loop.h is what others use. */
#ifndef STOKEHOLD_SESSION_WATCH_INSIDE_H
#define STOKEHOLD_SESSION_WATCH_INSIDE_H

#include "screen/model.h"
#include "screen/term.h"
#include "screen/view.h"
#include "session/feed.h"
#include "session/sound.h"
#include "session/watch_loop.h"

struct watch {
    const struct watch_options *options;
    struct settings *settings;
    struct theme *theme;
    struct term *term;
    struct feed feed;
    struct model *model;
    struct grid grid;
    struct ui ui;
    int64_t now_ns, last_ns;       /* of clock_now: this turn and the one before */
    int64_t wall_ns;               /* of the wall clock, this turn */
    int64_t begin_ns, draw_ns;     /* when it began; when the last picture was drawn */
    int64_t memory_ns, memory_kib; /* when resident memory was read last, and what it was */
    int64_t well_since_wall_ns;
    int64_t frame_ns; /* between pictures */
    struct sounder sounder;
    int64_t sun_ns; /* when the sun was looked at */
    char sun_theme[128];
    char theme_from[128]; /* the name or path that the theme was loaded by */
    bool theme_chosen;    /* by option or key: the sun has no say */
    bool units_chosen;
    struct unit_choice units_configured; /* what the configuration said */
    bool mouse;
    bool dirty, urgent, quit;
    bool arrived;     /* something of what was asked for was read */
    bool interrupted; /* one Ctrl-C came */
    int status;
};

/* The snapshot again, with what only the loop knows (watch_state.c). */
void watch_fill(struct watch *w);
/* Takes the terminal's size over (watch_state.c). */
void watch_resize(struct watch *w);
/* When to wake, sound and draw; all of it by w->now_ns (watch_due.c). Half a cycle of what flashes.
 */
int64_t watch_half_flash_ns(const struct watch *w);
/* How long poll may sleep, in ms; -1 for as long as nothing happens. */
int watch_sleep_ms(const struct watch *w);
/* What is to sound, and how long nobody has done anything about it. */
struct sound_due watch_sound_due(const struct watch *w);
bool watch_wants_picture(const struct watch *w);
/* Does what a key asked for (watch_user.c). */
void watch_obey(struct watch *w, const struct request *q);
/* Takes the theme that the sun asks for, unless the user chose one (watch_user.c). */
void watch_follow_sun(struct watch *w);
/* Takes up, and keeps, the user's choices from run to run (watch_user.c). */
void watch_recall(struct watch *w);
void watch_remember(struct watch *w);

#endif
