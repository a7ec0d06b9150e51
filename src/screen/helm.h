/* The helm: a few channels in large figures, to be read from three metres away during a trial. The
 * worst and the chosen come first. Colour only in the figures that are wrong and in a frame around
 * everything. */
#ifndef STOKEHOLD_SCREEN_HELM_H
#define STOKEHOLD_SCREEN_HELM_H

#include "screen/cells.h"
#include "screen/ui.h"

void helm_draw(struct grid *g, struct rect body, const struct model *m, const struct ui *ui);
bool helm_handle(struct ui *ui, const struct model *m, enum action a);

#endif
