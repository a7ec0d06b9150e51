/* Every channel by how much it has just moved against its own noise. At commissioning somebody
 * warms one sensor in the hand, and the channel that answers stands at the top with its sender,
 * instance and PGN. Pure: the figures come from the histories. */
#ifndef STOKEHOLD_SCREEN_MOVERS_H
#define STOKEHOLD_SCREEN_MOVERS_H

#include "screen/cells.h"
#include "screen/ui.h"

struct mover {
    const struct model_channel *channel;
    double change;    /* against the time before, base unit */
    double score;     /* the same in multiples of the channel's noise */
    int64_t since_ns; /* how long ago it began to move; -1 where it does not */
};

/* Beyond this many times its noise a channel has moved. */
#define MOVER_SCORE 5.0

struct mover mover_of(const struct model *m, const struct model_channel *c);
/* Best first: those that move, by how much that means for their quantity; then the rest by score.
 * At most `cap`; the count. */
int movers_rank(const struct model *m, const char *filter, struct mover *out, int cap);

void movers_draw(struct grid *g, struct rect body, const struct model *m, const struct ui *ui);
bool movers_handle(struct ui *ui, const struct model *m, enum action a);
bool movers_pick(struct ui *ui, const struct model *m, struct rect body, int x, int y);

#endif
