/* The board: a keel down the middle, port left, starboard right, what the boat has once below.
 * Twin values stand beside each other, so that a difference strikes the eye. */
#ifndef STOKEHOLD_SCREEN_BOARD_H
#define STOKEHOLD_SCREEN_BOARD_H

#include "screen/cells.h"
#include "screen/ui.h"

void board_draw(struct grid *g, struct rect body, const struct model *m, const struct ui *ui);
bool board_handle(struct ui *ui, const struct model *m, enum action a);
bool board_pick(struct ui *ui, const struct model *m, struct rect body, int x, int y);

/* Whether several charts stand beside the keel, so that one may choose what they show. */
bool board_has_charts(const struct ui *ui, const struct model *m);

#endif
