/* The help: the table of keys as it is bound now, in as many columns as fit, scrolled. */
#ifndef STOKEHOLD_SCREEN_HELP_H
#define STOKEHOLD_SCREEN_HELP_H

#include "screen/view.h"

void help_draw(struct grid *g, struct rect body, const struct model *m, const struct ui *ui);
void help_handle(struct ui *ui, const struct model *m, enum action a);

#endif
