/* The help: the table of keys as it is bound now, in as many columns as fit, scrolled. */
#ifndef STOKEHOLD_SCREEN_HELP_H
#define STOKEHOLD_SCREEN_HELP_H

#include "screen/cells.h"
#include "screen/ui.h"

/* context: the WHEN_ bits that are met below it. */
void help_draw(struct grid *g, struct rect body, const struct ui *ui, unsigned context);
void help_handle(struct ui *ui, struct rect body, enum action a);

#endif
