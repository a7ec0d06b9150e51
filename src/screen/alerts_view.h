/* The list of alerts, as IMO MSC.302(87) asks: in order of priority and state, as many as there is
 * room for and a plain sign when there are more, acknowledged one by one; below, those that are
 * over, and what is to be known about the chosen one. */
#ifndef STOKEHOLD_SCREEN_ALERTS_VIEW_H
#define STOKEHOLD_SCREEN_ALERTS_VIEW_H

#include "screen/cells.h"
#include "screen/ui.h"

void alerts_view_draw(struct grid *g, struct rect body, const struct model *m, const struct ui *ui);
bool alerts_view_handle(struct ui *ui, const struct model *m, enum action a);
bool alerts_view_pick(struct ui *ui, const struct model *m, struct rect body, int x, int y);

#endif
