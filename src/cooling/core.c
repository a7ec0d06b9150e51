#include "cooling/core.h"

#include <math.h>

#include "base/banned.h"

void core_init(struct core *c, struct boat *b, double limit_c, double unit)
{
    *c = (struct core){.boat = b, .unit = unit, .limit_c = limit_c};
    trace_init(&c->trace, b->figures);
    c->verdict.value = c->verdict.expected = c->verdict.seconds_to_limit = NAN;
    c->verdict.limit_c = limit_c;
}

void core_set_limit(struct core *c, double limit_c)
{
    c->limit_c = c->verdict.limit_c = limit_c;
}

double core_add(struct core *c, double above)
{
    return cusum_add(&c->cusum, c->boat->figures, above / c->trace.sigma);
}

void core_show(struct core *c, double expected, double allowance, double statistic,
               double threshold)
{
    const struct figures *k = c->boat->figures;
    struct cooling_verdict *v = &c->verdict;
    v->value = trace_value(&c->trace) * c->unit;
    double rate = trace_rate(&c->trace, k->show_rate_s) * c->unit;
    v->rate_per_min = rate * 60.0;
    v->limit_c = c->limit_c;
    v->seconds_to_limit = NAN;
    if (rate > k->show_rate_least && v->value < c->limit_c)
        v->seconds_to_limit = (c->limit_c - v->value) / rate;
    v->expected = expected * c->unit;
    v->allowance = allowance * c->unit;
    v->noise = c->trace.sigma * c->unit;
    v->statistic = statistic;
    v->threshold = threshold;
}

bool core_is_beyond(const struct core *c)
{
    const struct cooling_verdict *v = &c->verdict;
    return v->value > v->expected + v->allowance;
}

void core_decide(struct core *c, int level, enum cooling_kind kind, enum cooling_cause cause)
{
    struct cooling_verdict *v = &c->verdict;
    if (level == 0)
        cause = CAUSE_NONE;
    if (v->level == level && v->kind == kind && v->cause == cause)
        return;
    v->level = level;
    v->kind = kind;
    v->cause = cause;
    c->boat->version++;
}

void core_withdraw(struct core *c)
{
    core_decide(c, 0, COOLING_RISE, CAUSE_NONE);
}
