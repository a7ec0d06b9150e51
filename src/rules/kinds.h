/* The modules, for the table of rules.c, and what some of them answer to those above them:
 *   rule.c  <  rule_bus.c, rule_conflict.c  <  rule_silent.c
 *           <  rule_cooling.c  <  rule_limit.c, rule_reported.c */
#ifndef STOKEHOLD_RULES_KINDS_H
#define STOKEHOLD_RULES_KINDS_H

#include "rules/rule.h"

extern const struct rule_module rule_cooling_module; /* rise, departure, split */
extern const struct rule_module rule_limit_module, rule_silent_module, rule_never_module,
    rule_conflict_module, rule_span_module, rule_state_module, rule_combined_module,
    rule_reported_module, rule_told_module, rule_blower_module, rule_bus_module, rule_season_module,
    rule_self_module;

/* Makes *s the engine's cooling where the channel's trouble belongs to it. */
void rule_cooling_situation(const struct rules *r, const struct channel *c, struct situation *s);
/* The trip as the season sees it; NULL where no season is kept. */
struct season_watch *rule_season_watch(const struct rules *r);
/* Whether it is asked whether its probe stands in dry gas: that question stands for its limits. */
bool rule_cooling_asks(const struct rules *r, const struct channel *c);
struct cooling_sense rule_cooling_sense(const struct rules *r, int engine);
bool rule_cooling_careful(const struct rules *r, int engine);
bool rule_cooling_expected(const struct rules *r, const struct channel *c, double *value,
                           double *allowance); /* see rules_expected */

/* The situation of a second sender of a key, which may be the cause of a silence. */
struct situation rule_conflict_situation(const struct channel *second);
/* Where the channel is one of two senders of a key and that is told now: the second of them. NULL
 * where it is not. */
const struct channel *rule_conflict_of(const struct rules *r, const struct channel *c);

/* Around a sweep of `silent`: begin; ask whether an interface has just come back, and for each
 * value that would be told whether the quiet bus speaks for it; end. */
void rule_bus_begin(struct rules *r, struct stamp now);
bool rule_bus_is_back(const struct rules *r, uint8_t iface);
bool rule_bus_holds(struct rules *r, const struct channel *c, enum priority p, struct stamp now);
void rule_bus_end(struct rules *r, struct stamp now);

#endif
