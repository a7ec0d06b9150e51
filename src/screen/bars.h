/* The lines around every view: title, worst alert, time bar, footer; and the words in which an
 * alert and a state are shown everywhere. */
#ifndef STOKEHOLD_SCREEN_BARS_H
#define STOKEHOLD_SCREEN_BARS_H

#include "screen/layout.h"
#include "screen/ui.h"

enum role priority_role(enum priority p);

/* The rectangles around a view, and its own, as they are now. */
struct frame_layout bars_layout(const struct ui *ui, const struct model *m);

/* has_bar: there is a time bar. Where there is none, the title says how far into the log it is. */
void bars_title(struct grid *g, struct rect r, const struct model *m, bool has_bar);
void bars_alert(struct grid *g, struct rect r, const struct model *m, const struct ui *ui);
/* One alert as letter and text, from column x on, over the lines of r; flashes where it is not
 * acknowledged. */
void bars_alert_text(struct grid *g, struct rect r, const struct alert *a, bool flash);
/* What stands in the alert's place where there is none: "all well", or why that cannot be said. */
const char *bars_calm(const struct model *m, char *dst, size_t cap);
/* Lines that a text takes in w columns, 1 or more. */
int bars_lines(const char *text, int w);
/* Text over at most r.h lines, broken at blanks, the last one cut; returns the lines used. */
int bars_text(struct grid *g, struct rect r, const char *text, enum role role);
void bars_time(struct grid *g, struct rect r, const struct model *m);
/* The keys that work in this context (WHEN_ bits); `own` is the action of the view that is open. */
void bars_foot(struct grid *g, struct rect r, const struct model *m, const struct ui *ui,
               unsigned context, enum action own);

#endif
