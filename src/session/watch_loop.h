/* The loop of the board: one poll with a deadline over terminal, signals and source; a bounded
 * amount of work a turn; keys become actions, actions change state, and one place draws. The only
 * clock is read here, once a turn. */
#ifndef STOKEHOLD_SESSION_WATCH_LOOP_H
#define STOKEHOLD_SESSION_WATCH_LOOP_H

#include "config/settings.h"
#include "screen/theme.h"
#include "session/feed.h"
#include "session/options.h"

struct watch_options {
    const char *const *names; /* a log, or interfaces */
    int count;
    const char *config, *theme, *color, *zone;
    struct log_range range;
    double speed; /* 0: max */
    double fps;   /* 0: as configured */
    bool is_live; /* interfaces */
    bool attach;  /* names[0] is the socket of a `tend` that runs, attach_path */
    const char *attach_path;
    bool ascii, forget, once, plain; /* forget: neither read nor keep the user's choices */
    int cols, rows;                  /* 0: ask the terminal */
    struct duties_options duties;    /* of a live bus */
    bool keep_watch;                 /* go on without a terminal when it goes away */
    struct feed *kept;               /* then: the feed, still open */
    struct season_keep *season;
};

#define WATCH_NO_SCREEN (-1)
#define WATCH_KEPT      (-2)

/* WATCH_KEPT when the terminal went away and *kept is to be watched on. WATCH_NO_SCREEN, the reason
 * said, where the terminal cannot place a cursor. Else runs until the user quits or a signal ends
 * it; returns an exit status. theme is changed by the key for it. */
int watch_loop(const struct watch_options *options, struct settings *settings, struct theme *theme);

/* The name of what is watched into the model's title: the file's, or the interfaces. */
struct model;
void watch_name_source(struct model *m, const struct watch_options *o);

#endif
