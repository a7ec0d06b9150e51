/* The words of an alert: what, where, how much, how fast, how long until the limit, and the first
 * thing to look at, on one line of at most WORDS_COLUMNS columns, in the units that people chose.
 * Where it would not fit, the time to the limit (or the limit) goes first, then the rate. Subject,
 * value and advice never go and are never abbreviated: a very long configured name may make a line
 * longer than that, and the screen cuts it. Words hold figures in base units until they are built,
 * so that words that were kept can be built again in other units. Pure. */
#ifndef STOKEHOLD_ALERTS_WORDS_H
#define STOKEHOLD_ALERTS_WORDS_H

#include "config/settings.h"
#include "plant/plant.h"

#define WORDS_COLUMNS   76 /* 80 with a state letter, a blank and a margin */
#define WORDS_FIGURES   6  /* in `more`: as many as a rule has conditions */
#define WORDS_MORE_SIZE 192
#define WORDS_MORE_END  "\x1f" /* in `more`: where the line is too long, it may end here */
#define WORDS_VALUE     "\x01" /* in a phrase of words_build_over */

enum words_side { WORDS_NO_LIMIT, WORDS_ABOVE, WORDS_BELOW };

struct words_figure {
    enum quantity quantity;
    bool difference, clock; /* clock: a time of day, wall_ns */
    double value;           /* base unit */
    int64_t wall_ns;
};

struct words {
    char subject[96];       /* "STARBOARD EXHAUST" */
    enum quantity quantity; /* gives unit and decimals */
    double value;           /* base unit; NaN: none */
    double rate_per_min;    /* base unit; NaN or 0: steady, says nothing */
    double limit;           /* base unit; NaN: none */
    double seconds;         /* to the limit at this rate; NaN: no time is told */
    enum words_side side;   /* value stands beyond the limit */
    const char *more;       /* right after the value, never dropped: " for 5 min"; may be NULL */
    const char *advice;     /* "check raw water"; NULL or "": none */
    struct words_figure figures[WORDS_FIGURES]; /* that `more` refers to (words_add_figure) */
    int figure_count;
    bool utc; /* how a time of day is written */
};

/* Words with their text, good as long as this is. */
struct words_kept {
    struct words words; /* its pointers are not used */
    char more[WORDS_MORE_SIZE], advice[96];
};

/* "PORT EXHAUST", "ENGINE SPACE", "FUEL TANK 2", "HOUSE" (a configured label), "SWITCH 0.3",
 * "PORT EXHAUST @31" for a second sender. Returns the length. */
size_t words_subject(char *dst, size_t cap, const struct plant *p, const struct channel *c);
/* "1 min 20 s" is never needed: "20 s", "5 min", "3 h". */
size_t words_length(char *dst, size_t cap, double seconds);
/* "61 °C", "1.20 bar": in the units of s (base units where s is NULL). */
size_t words_value(char *dst, size_t cap, const struct settings *s, enum quantity q, double value,
                   int more_decimals);
/* Appends a figure to dst, which is to become w->more: "61 °C", or "12 K" for a difference. What
 * dst then holds is a mark, so that the figure follows the units each time the line is built. Does
 * nothing where WORDS_FIGURES are used up. */
void words_add_figure(struct words *w, char *dst, size_t cap, enum quantity q, double value,
                      bool difference);
/* The same for a time of day, as HH:MM. */
void words_add_clock(struct words *w, char *dst, size_t cap, int64_t wall_ns);
/* The whole line within `columns`. s as above. */
void words_build(char *dst, size_t cap, const struct words *w, const struct settings *s,
                 int columns);
void words_keep(struct words_kept *kept, const struct words *w);
/* Whether both lead to the same line. */
bool words_same(const struct words_kept *a, const struct words_kept *b);
/* What happens, in full, without what to do about it. */
void words_build_what(char *dst, size_t cap, const struct words_kept *kept,
                      const struct settings *s);
/* How it ended: `phrase` after the subject, with a mark where the value belongs, if it has one
 * (NaN: as last told); then ": " and the advice. */
void words_build_over(char *dst, size_t cap, const struct words_kept *kept,
                      const struct settings *s, const char *phrase, double value,
                      const char *advice);
/* As words_build, from what was kept. */
void words_build_kept(char *dst, size_t cap, const struct words_kept *kept,
                      const struct settings *s, int columns);

#endif
