/* Large figures out of blocks: digits, point, minus and a few letters on a grid of 3 by 5, each
 * point as many cells wide and high as there is room for. */
#ifndef STOKEHOLD_SCREEN_FIGURES_H
#define STOKEHOLD_SCREEN_FIGURES_H

#include "screen/cells.h"

/* Draws text right-aligned and vertically centred in r. `places` is the number of characters that
 * the size is chosen for, so that a figure does not change its size with its digits. Returns the
 * columns that so many places take; 0, and nothing drawn, where r is too small or a character has
 * no form. */
int figures_draw(struct grid *g, struct rect r, const char *text, int places, enum role role);

#endif
