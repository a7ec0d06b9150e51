#include "cooling/again.h"

#include <math.h>

#include "base/banned.h"

static const struct figures *figures_of(const struct exhaust_watch *x)
{
    return x->core.boat->figures;
}

void again_init(struct again *a)
{
    *a = (struct again){.last_s = -INFINITY};
}

static void begin(struct exhaust_watch *x, bool down)
{
    struct again *a = &x->again;
    a->out = true;
    a->dropped = down;
    a->out_s = x->core.boat->now_s;
}

/* One is over. */
static void end(struct exhaust_watch *x)
{
    struct again *a = &x->again;
    double now_s = x->core.boat->now_s;
    if (now_s - a->last_s > figures_of(x)->again_within_s)
        *a = (struct again){.first_s = now_s,
                            .dropped = a->dropped,
                            .out_s = a->out_s,
                            .stood = a->stood,
                            .stood_known = a->stood_known};
    a->times++;
    a->drops += a->dropped;
    a->longest_s = fmax(a->longest_s, now_s - a->out_s);
    a->highest = fmax(a->highest, a->dropped ? 0.0 : a->top);
    a->last_s = now_s;
    a->out = a->dropped = false;
}

/* The level at its highest lately, at an even speed. */
static void follow_stood(struct exhaust_watch *x, double dt, double transient)
{
    const struct figures *k = figures_of(x);
    struct again *a = &x->again;
    double level = forecast_level(&x->forecast);
    if (transient > k->drop_allow_k || !a->stood_known)
        a->stood = level;
    a->stood_known = transient <= k->drop_allow_k;
    double fade_s = engine_is_blind(x->engine)   ? k->blind_fade_s
                    : a->drops > 0 || a->dropped ? k->drop_back_s
                                                 : k->stood_fade_s;
    a->stood = fmax(level, a->stood + (1.0 - exp(-dt / fade_s)) * (level - a->stood));
}

void again_follow(struct exhaust_watch *x, double above, double residual, double dt,
                  double transient)
{
    const struct figures *k = figures_of(x);
    struct again *a = &x->again;
    double below = x->forecast.level - residual, noise = k->level_sigmas * x->core.trace.sigma;
    follow_stood(x, dt, transient);
    a->top = a->out ? fmax(a->top, above) : 0.0;
    a->bottom = a->out ? 0.0 : fmax(0.0, fmin(a->bottom, above));
    bool up = above > a->bottom + k->again_k + noise;
    bool down =
        below > k->drop_k + noise && transient < k->air_allow_k &&
        (transient < k->drop_allow_k || boat_is_space_air(x->core.boat, x->core.verdict.value));
    if (!a->out && (up || down))
        begin(x, down);
    else if (a->out && (a->dropped ? below < 0.5 * k->drop_k : above <= k->again_back * a->top)) {
        end(x);
        a->bottom = fmax(0.0, above);
    } else if (a->dropped && x->core.boat->now_s - a->out_s > k->drop_hold_s)
        a->out = a->dropped = false; /* that is where it is now */
}

bool again_waits(const struct exhaust_watch *x)
{
    return x->again.out && x->again.dropped;
}

double again_back_to(const struct exhaust_watch *x)
{
    return x->again.stood_known ? x->again.stood - x->forecast.shifted : -INFINITY;
}

bool again_is(const struct exhaust_watch *x)
{
    const struct figures *k = figures_of(x);
    return x->again.times + 1 >= k->again_times &&
           x->core.boat->now_s - x->again.last_s < k->again_within_s;
}

bool again_is_over(const struct exhaust_watch *x)
{
    return !x->again.out && x->core.boat->now_s - x->again.last_s > figures_of(x)->again_calm_s;
}

bool again_stays(const struct exhaust_watch *x, double above)
{
    const struct figures *k = figures_of(x);
    double long_s = fmax(k->alarm_climb_s, k->again_longer * x->again.longest_s);
    bool falls = x->core.verdict.rate_per_min < 0.0;
    return x->again.out && !x->again.dropped && !falls && above > k->again_high_k &&
           x->core.boat->now_s - x->again.out_s > long_s;
}

bool again_is_loose(const struct exhaust_watch *x)
{
    return x->again.drops >= figures_of(x)->drop_times && !again_is_over(x);
}

bool again_is_probe(const struct exhaust_watch *x)
{
    return 2 * x->again.drops > x->again.times;
}

double again_every_s(const struct exhaust_watch *x)
{
    const struct again *a = &x->again;
    return a->times > 1 ? (a->last_s - a->first_s) / (a->times - 1) : NAN;
}
