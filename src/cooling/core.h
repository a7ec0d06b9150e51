/* The core of every watch of one temperature: its samples, its sums, its limit, and what is said of
 * it. Knows no engine and no kind of sensor. */
#ifndef STOKEHOLD_COOLING_CORE_H
#define STOKEHOLD_COOLING_CORE_H

#include "cooling/boat.h"
#include "cooling/cooling.h"
#include "cooling/cusum.h"

struct core {
    struct boat *boat;
    struct trace trace;
    struct cusum cusum;
    double unit; /* K in one unit of what is watched: 1, more for dry gas */
    double limit_c;
    double raised_s; /* since when the verdict stands */
    struct cooling_verdict verdict;
};

void core_init(struct core *c, struct boat *b, double limit_c, double unit); /* b outlives it */
void core_set_limit(struct core *c, double limit_c);
/* A sum's next term: how far it stands above what is allowed for, in its units. The largest sum. */
double core_add(struct core *c, double above);
/* Sets the figures of a verdict that do not depend on who decides. */
void core_show(struct core *c, double expected, double allowance, double statistic,
               double threshold);
/* Whether the value stands above what is shown as expected and allowed for. */
bool core_is_beyond(const struct core *c);
/* Changes level, kind and cause, and counts the boat's version up where one of them changed. */
void core_decide(struct core *c, int level, enum cooling_kind kind, enum cooling_cause cause);
void core_withdraw(struct core *c);

#endif
