/* What the cooling watch expected of each temperature, from then to now: the edges of the band that
 * a board draws behind a curve. A history for each edge, made when something is first expected. */
#ifndef STOKEHOLD_KEEPER_EXPECTED_H
#define STOKEHOLD_KEEPER_EXPECTED_H

#include "plant/plant.h"
#include "rules/rules.h"

struct expected {
    bool now; /* something is expected now; else value and allowance mean nothing */
    double value, allowance;
    const struct history *low, *high; /* NULL where nothing ever was */
};

struct expectations;
struct expectations *expectations_new(void);
void expectations_free(struct expectations *e); /* NULL is allowed */
/* Takes down what is expected now; does nothing more than once a second. */
void expectations_note(struct expectations *e, const struct plant *p, const struct rules *r,
                       struct stamp now);
/* Of the i-th channel of the plant. */
struct expected expectations_at(const struct expectations *e, size_t i);

#endif
