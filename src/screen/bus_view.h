/* The bus: who sends, how much, what is lost; and the program about itself. */
#ifndef STOKEHOLD_SCREEN_BUS_VIEW_H
#define STOKEHOLD_SCREEN_BUS_VIEW_H

#include "screen/cells.h"
#include "screen/ui.h"

void bus_view_draw(struct grid *g, struct rect body, const struct model *m, const struct ui *ui);
bool bus_view_handle(struct ui *ui, const struct model *m, enum action a);

#endif
