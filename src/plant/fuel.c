#include "plant/fuel.h"

#include "base/when.h"

#include <math.h>

#include "base/banned.h"

#define RATE_GAP_NS    (10 * NS_PER_S)
#define UNKNOWN_RISE_K 20

static const double nowhere = (double)NAN;

static bool beyond(const struct fuel_meter *m)
{
    return m->lph < m->span_low || m->lph > m->span_high;
}

struct fuel_flow fuel_net(const struct fuel_meter *feed, const struct fuel_meter *back,
                          double expansion_per_k)
{
    bool known = isfinite(feed->temp_c) && isfinite(back->temp_c);
    double warmer_k = known ? back->temp_c - feed->temp_c : 0;
    double back_lph = back->lph * (1 - expansion_per_k * warmer_k);
    double feed_error = feed->lph * feed->accuracy_percent / 100;
    double back_error = back_lph * back->accuracy_percent / 100;
    double heat_error = known ? 0 : back_lph * expansion_per_k * UNKNOWN_RISE_K;
    return (struct fuel_flow){
        .lph = feed->lph - back_lph,
        .error_lph =
            sqrt(feed_error * feed_error + back_error * back_error + heat_error * heat_error),
        .beyond_span = beyond(feed) || beyond(back),
    };
}

static void end_segment(struct fuel_trip *t)
{
    t->done_counted_l += t->counted_l;
    t->done_compared_l += t->compared_l;
    t->done_doubt_l += t->doubt_l;
    t->counted_l = 0;
    t->compared_l = 0;
    t->doubt_l = 0;
    t->has_step = false;
}

void fuel_trip_rate(struct fuel_trip *t, int64_t t_ns, double lph)
{
    int64_t dt_ns = t_ns - t->rate_ns;
    if (t->rate_going && dt_ns > 0 && dt_ns <= RATE_GAP_NS) {
        t->burnt_l += (lph + t->rate_lph) / 2 * when_seconds(dt_ns) / 3600;
        t->counted_s += when_seconds(dt_ns);
    } else if (t->has_rate && t->rate_lph > 0 && lph > 0) {
        end_segment(t); /* what was burnt meanwhile is in the counter alone */
        t->has_counter = false;
    }
    t->has_rate = true;
    t->rate_going = true;
    t->rate_ns = t_ns;
    t->rate_lph = lph;
}

void fuel_trip_pause(struct fuel_trip *t)
{
    t->rate_going = false;
}

void fuel_trip_missing(struct fuel_trip *t, double seconds)
{
    t->missing_s += seconds;
}

void fuel_trip_counter(struct fuel_trip *t, double litres)
{
    if (t->has_rate && !t->rate_going)
        return; /* the rate comes first, and tells whether they still belong together */
    double doubt_l = t->burnt_l - t->burnt_at_reading_l;
    bool stepped = t->has_counter && litres > t->counter_l;
    if (t->has_counter && litres < t->counter_l) {
        end_segment(t); /* reset by somebody */
    } else if (stepped && !t->has_step) {
        t->has_step = true;
        t->step_counter_l = litres;
        t->step_burnt_l = t->burnt_l;
        t->step_doubt_l = doubt_l;
    } else if (stepped) {
        t->counted_l = litres - t->step_counter_l;
        t->compared_l = t->burnt_l - t->step_burnt_l;
        t->doubt_l = t->step_doubt_l + doubt_l;
    }
    t->has_counter = true;
    t->counter_l = litres;
    t->burnt_at_reading_l = t->burnt_l;
}

static struct fuel_check compare(double metered_l, double reference_l, double error_l)
{
    struct fuel_check c = {.metered_l = metered_l, .reference_l = reference_l};
    /* A reference that is all error says nothing. */
    if (!(metered_l > 0) || !(reference_l > 2 * error_l))
        return c;
    c.known = true;
    c.factor = reference_l / metered_l;
    c.error = error_l / metered_l;
    c.off = fabs(c.factor - 1) > c.error;
    return c;
}

struct fuel_check fuel_check_counter(const struct fuel_trip *t)
{
    return compare(t->done_compared_l + t->compared_l, t->done_counted_l + t->counted_l,
                   t->done_doubt_l + t->doubt_l);
}

double fuel_hours(double litres, double lph)
{
    return lph > 0 && litres >= 0 ? litres / lph : nowhere;
}

double fuel_range_nmi(double litres, double lph, double kn)
{
    return fuel_hours(litres, lph) * kn;
}
