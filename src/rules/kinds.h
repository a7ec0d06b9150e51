/* What the files of the single kinds of rule offer to rules.c, beside their rule_ops. */
#ifndef STOKEHOLD_RULES_KINDS_H
#define STOKEHOLD_RULES_KINDS_H

#include "rules/rules.h"
#include "config/baseline.h"

/* rise, departure, split: rule_cooling.c feeds cooling/cooling.h and words its verdicts. */
struct rule_cooling *rule_cooling_new(const struct rules *r); /* NULL when out of memory */
void rule_cooling_free(struct rule_cooling *k);
int rule_cooling_sensor(const struct channel *c); /* enum cooling_sensor, or -1 */
void rule_cooling_configure(struct rules *r);
/* Before the first reading. */
void rule_cooling_baseline(struct rules *r, const struct baseline *b);
void rule_cooling_reading(struct rules *r, const struct channel *c, int sensor, struct stamp at);
void rule_cooling_engine(struct rules *r, int engine, struct stamp at);
void rule_cooling_tick(struct rules *r, struct stamp now);
void rule_cooling_gap(struct rules *r, struct stamp now);
/* Makes *s the engine's cooling where the channel's trouble belongs to it. */
void rule_cooling_situation(const struct rules *r, const struct channel *c, struct situation *s);
bool rule_cooling_careful(const struct rules *r, int engine);

/* reported: status words of 127489 and DM1. */
struct rule_reported *rule_reported_new(void);
void rule_reported_free(struct rule_reported *k);
void rule_reported_message(struct rules *r, const struct message *m);
void rule_reported_sweep(struct rules *r, struct stamp now);

/* combined. */
struct rule_combined *rule_combined_new(void);
void rule_combined_free(struct rule_combined *k);
void rule_combined_configure(struct rules *r);
bool rule_combined_uses(const struct rules *r, const struct channel *c);
void rule_combined_sweep(struct rules *r, struct stamp now);
void rule_combined_gap(struct rules *r);

/* silent: one alert for a sender that falls silent as a whole. */
struct rule_silent *rule_silent_new(void);
void rule_silent_free(struct rule_silent *k);
void rule_silent_sweep(struct rules *r, struct stamp now);
/* Traffic of the interface has returned: what was held back gets ns, or three of its periods, to
 * come back before it is told. */
void rule_silent_allow(struct rules *r, uint8_t iface, int64_t ns, struct stamp now);
/* and what was configured but never heard at all (rule_never.c). */
struct rule_never *rule_never_new(void);
void rule_never_free(struct rule_never *k);
void rule_never_configure(struct rules *r);
void rule_never_sweep(struct rules *r, struct stamp now);
void rule_never_gap(struct rules *r, struct stamp now);

/* bus: an interface from which nothing comes any more. Around the sweep of `silent`: begin, ask
 * for each value that would be told whether the quiet bus speaks for it, end. */
struct rule_quiet *rule_quiet_new(void);
void rule_quiet_free(struct rule_quiet *k);
void rule_quiet_frame(struct rules *r, const struct frame *f);
void rule_quiet_begin(struct rules *r, struct stamp now);
bool rule_quiet_holds(struct rules *r, const struct channel *c, enum priority p, struct stamp now);
void rule_quiet_end(struct rules *r, struct stamp now);
void rule_quiet_gap(struct rules *r, struct stamp now); /* nobody was silent in it */
/* The rule of kind `bus` in *rule (NULL where none is configured); false where it is off. */
bool rule_bus_setting(const struct settings *s, const struct rule_setting **rule);

/* conflict. */
void rule_conflict_raise(struct rules *r, struct channel *second, struct channel *holder,
                         struct stamp at);

/* state. */
struct rule_state *rule_state_new(void);
void rule_state_free(struct rule_state *k);
void rule_state_bound(struct rules *r, struct binding *b);
void rule_state_unbound(struct rules *r, struct binding *b);

#endif
