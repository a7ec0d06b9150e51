/* What to do about a trouble, stage by stage: the words after the colon in the one line of an
 * alert, and the steps that follow where there is room. One table (action.c) holds them all with
 * their reasons; docs/alerts.md is printed from it. Pure. */
#ifndef STOKEHOLD_ALERTS_ACTION_H
#define STOKEHOLD_ALERTS_ACTION_H

#include "base/quantity.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

/* How far a trouble has come. Only `stopped` may be left again for what was before it. */
enum alert_stage {
    STAGE_SUSPECTED, /* something is not as it should be */
    STAGE_CERTAIN,   /* it is no longer an accident of the moment */
    STAGE_BEYOND,    /* its fixed limit is passed, or was */
    STAGE_STOPPED,   /* its engine has been stopped, the trouble stands */
    STAGE_OVER,
    STAGE_COUNT
};

/* What an alert is about, as far as it matters for what to do. State files keep the numbers: a new
 * one is the last. */
enum trouble {
    TROUBLE_OTHER, /* the rule's own advice is all there is */
    TROUBLE_RAW_WATER,
    TROUBLE_SEACOCK,
    TROUBLE_BOTH_HOT,
    TROUBLE_CIRCULATION,
    TROUBLE_COOLANT_LOST,
    TROUBLE_COOLANT,
    TROUBLE_COOLANT_UNCOOLED,
    TROUBLE_OIL_HOT,
    TROUBLE_OIL_PRESSURE,
    TROUBLE_GEAR_HOT,
    TROUBLE_GEAR_PRESSURE,
    TROUBLE_COOLING,
    TROUBLE_FIRE,
    TROUBLE_SPACE,
    TROUBLE_PETROL,
    TROUBLE_SHAFT_SEAL,
    TROUBLE_SENSOR,
    TROUBLE_CONFLICT,
    TROUBLE_BUS,
    TROUBLE_SELF,
    TROUBLE_COOLANT_ALONE,
    TROUBLE_COUNT
};

#define ACTION_STEPS 4

/* "suspected", "certain", "beyond", "stopped", "over"; never NULL. */
const char *stage_text(enum alert_stage s);
/* Writes what to do at this stage: the table's words, or the advice that a rule was given in the
 * configuration (NULL or "": none), after the engine's part where the stage has one. */
void action_words(char *dst, size_t cap, enum trouble t, enum alert_stage s, const char *advice);
/* The step to look at first (0), second ...; NULL after the last. */
const char *action_step(enum trouble t, int i);
/* Whether the trouble is that of the whole engine room: its engines are all of them. */
bool action_all_engines(enum trouble t);
/* Whether there may be a fire: then nobody goes to the engines. */
bool action_is_fire(enum trouble t, enum alert_stage s);
/* Whether somebody goes to the engines to look after it. */
bool action_goes_in(enum trouble t, enum alert_stage s);
/* What a value beyond a limit of this quantity means. */
enum trouble action_of_limit(enum quantity q, bool above);
/* How long what was beyond its limit when its box went dark is taken to need to cool; 0 for what is
 * not a temperature that cools. */
int64_t action_cooling_ns(enum quantity q);
/* The table as Markdown. */
void action_print(FILE *out);

#endif
