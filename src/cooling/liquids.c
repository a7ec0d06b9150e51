#include "cooling/liquids.h"

#include <math.h>

#include "base/banned.h"

void liquids_init(struct liquids *l, struct boat *b, struct engine_run *e)
{
    const struct figures *k = b->figures;
    l->engine = e;
    plateau_init(&l->coolant, b, e, &k->predict_coolant, &k->coolant, k->coolant_limit_c);
    plateau_init(&l->oil, b, e, &k->predict_oil, &k->oil, k->oil_limit_c);
}

/* How far the coolant has fallen though the engine was asked for no less: the sender hangs in
 * air. */
static double fallen(const struct plateau_watch *coolant)
{
    const struct forecast *f = &coolant->forecast;
    if (!f->level_known || !plateau_is_fresh(coolant) || trace_is_stuck(&coolant->core.trace) ||
        predict_unrest_down(&f->predict, &f->usual) > coolant->core.boat->figures->fallen_even)
        return 0.0;
    return coolant->high_c - trace_value(&coolant->core.trace);
}

/* Whether the oil climbs with the coolant, and no throttle explains it. */
static bool oil_follows(const struct plateau_watch *oil, double coolant_above)
{
    const struct figures *k = oil->core.boat->figures;
    const struct forecast *f = &oil->forecast;
    return oil->core.trace.count > 0 && plateau_is_fresh(oil) &&
           oil->core.boat->now_s - oil->flat_s > k->follows_s && coolant_above > k->follows_k &&
           f->level_known && predict_unrest_up(&f->predict, &f->usual) < k->follows_even;
}

/* An exhaust that is well speaks for the raw water; one that is not there says nothing. */
static enum cooling_cause why_hot(const struct plateau_watch *coolant, const struct core *exhaust)
{
    const struct cooling_verdict *v = &exhaust->verdict;
    if (v->level >= 2 && v->kind != COOLING_ASKS)
        return CAUSE_RAW_WATER;
    bool seen =
        exhaust->trace.count > 0 && exhaust->boat->now_s - trace_last_time(&exhaust->trace) <=
                                        exhaust->boat->figures->exhaust_hole_s;
    bool was = coolant->core.verdict.level > 0 && coolant->core.verdict.cause == CAUSE_CIRCULATION;
    return seen || was ? CAUSE_CIRCULATION : CAUSE_COOLANT;
}

void liquids_coolant_reading(struct liquids *l, double t, double value_c,
                             const struct core *exhaust)
{
    struct plateau_watch *p = &l->coolant;
    struct plateau_reading r;
    double dt;
    if (!plateau_take(p, t, value_c, &r, &dt))
        return;
    engine_coolant(l->engine, t, trace_value(&p->core.trace), r.rate);
    plateau_judge(p, t, value_c, dt, &r);
    if (!r.known)
        return;
    plateau_decide(p, r.above, r.over, oil_follows(&l->oil, r.above), why_hot(p, exhaust));
    const struct plateau_figures *k = p->own;
    l->engine->hot = p->core.verdict.level > 0 || trace_value(&p->core.trace) > k->hot_c;
}

void liquids_oil_reading(struct liquids *l, double t, double value_c)
{
    const struct figures *k = l->oil.core.boat->figures;
    const struct cooling_verdict *of_coolant = &l->coolant.core.verdict;
    struct plateau_watch *p = &l->oil;
    struct plateau_reading r;
    double dt;
    if (!plateau_take(p, t, value_c, &r, &dt))
        return;
    plateau_judge(p, t, value_c, dt, &r);
    if (!r.known)
        return;
    double fell = fallen(&l->coolant);
    bool lost = fell > k->fallen_k && p->core.boat->now_s - p->flat_s > k->follows_s;
    /* It climbs above what it stood at lately. */
    bool stands = p->core.verdict.level > 0 && p->core.verdict.cause == CAUSE_COOLANT_LOST;
    if ((lost || stands) && !core_is_beyond(&p->core))
        core_show(&p->core, p->low_c, 0.0, fell, k->fallen_k);
    enum cooling_cause cause = of_coolant->level > 0       ? of_coolant->cause
                               : lost                      ? CAUSE_COOLANT_LOST
                               : p->core.verdict.level > 0 ? p->core.verdict.cause
                                                           : CAUSE_OIL;
    plateau_decide(p, r.above, r.over || lost, lost && fell > k->fallen_sure_k, cause);
}
