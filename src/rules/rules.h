/* The rules: what turns readings into claims. rules.c holds the one table of modules, one file a
 * kind (rule.h says what a kind is). For the keeper alone. */
#ifndef STOKEHOLD_RULES_RULES_H
#define STOKEHOLD_RULES_RULES_H

#include "alerts/alert.h"
#include "cooling/cooling.h"
#include "plant/plant.h"
#include "wire/wire.h"

struct rules;

/* settings, plant and alerts must outlive the rules. NULL when out of memory. */
struct rules *rules_new(const struct settings *settings, struct plant *plant,
                        struct alert_list *alerts);
void rules_free(struct rules *r); /* NULL is allowed */
/* Marks and sweeps: rules of the same kind and name keep what they know, the rest goes. */
void rules_reconfigure(struct rules *r, const struct settings *settings);
void rules_name_iface(struct rules *r, uint8_t iface, const char *name);
uint64_t rules_unbound(const struct rules *r); /* rules that found no room on a channel */
/* See keeper_bus and keeper_careful. */
void rules_condition(struct rules *r, uint32_t code, enum priority p, const char *text, bool stands,
                     struct stamp at);
/* The trip as the season sees it (season/watch.h); NULL where no season is kept. */
struct season_watch *rules_season(const struct rules *r);
/* How sensitive the watch of this engine's cooling is now. */
struct cooling_sense rules_sense(const struct rules *r, int engine);
bool rules_careful(const struct rules *r, int engine);
/* What the cooling watch expects of a temperature now; false where it expects nothing. */
bool rules_expected(const struct rules *r, const struct channel *c, double *value,
                    double *allowance);

/* See keeper_freshen. */
bool rules_freshen(struct rules *r);

/* What happens, as the plant tells it. */
void rules_appeared(struct rules *r, struct channel *c);
/* Only of a channel that has rules: c->rules is set once it has appeared, where there is room. */
void rules_reading(struct rules *r, struct channel *c, struct stamp at);
void rules_status(struct channel *c, struct stamp at);
void rules_conflict(struct rules *r, struct channel *second, struct channel *holder,
                    struct stamp at);
void rules_engine(struct rules *r, int engine, struct stamp at);
/* Every frame, read or not; of several at once, no tick, gap or hole comes between them. */
void rules_frames(struct rules *r, const struct frame *f, size_t n);
void rules_message(struct rules *r, const struct message *m);
void rules_tick(struct rules *r, struct stamp now);
void rules_gap(struct rules *r, struct stamp now);
void rules_hole(struct rules *r, struct stamp now); /* see plant_hole */

#endif
