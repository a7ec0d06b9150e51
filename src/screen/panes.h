/* What a large board shows below its rows: recent alerts, tanks as bars, the bus. */
#ifndef STOKEHOLD_SCREEN_PANES_H
#define STOKEHOLD_SCREEN_PANES_H

#include "screen/cells.h"
#include "screen/ui.h"

void panes_draw(struct grid *g, struct rect r, const struct model *m, const struct ui *ui);

#endif
