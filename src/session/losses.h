/* What a watch or a log left out, in words. */
#ifndef STOKEHOLD_SESSION_LOSSES_H
#define STOKEHOLD_SESSION_LOSSES_H

#include "keeper/keeper.h"

void losses_add(struct losses *to, struct losses l);
/* "3 messages incomplete, 1 gap, 2 rules that no channel had room for": what is not 0. "" where
 * nothing was left out. */
void losses_text(char *dst, size_t cap, struct losses l);

#endif
