/* The curves of the report's page. */
#include "report/trial/write.h"

#include "report/plot.h"

#include "base/text.h"

#include <math.h>

#include "base/banned.h"

static const char *unit_word(const struct trial_report *r, enum unit base)
{
    return unit_text(settings_unit(r->settings, base));
}

struct columns {
    double rpm[TRIAL_POINTS], speed[TRIAL_POINTS], speed_error[TRIAL_POINTS], burn[TRIAL_POINTS],
        burn_error[TRIAL_POINTS];
    double cost[TRIAL_POINTS], cost_error[TRIAL_POINTS];
    double both[TRIAL_POINTS], single[TRIAL_POINTS]; /* the speed again, by how it was measured */
    double engine_rpm[TRIAL_ENGINES][TRIAL_POINTS], exhaust[TRIAL_ENGINES][TRIAL_POINTS];
    double coolant[TRIAL_ENGINES][TRIAL_POINTS], oil_kpa[TRIAL_ENGINES][TRIAL_POINTS];
    double exhaust_bar[TRIAL_ENGINES][TRIAL_POINTS];
    size_t n;
};

static double mean_or_nan(const struct trial_report *r, const struct trial_stat *s, enum unit base)
{
    return s->n > 0 ? trial_user(r, base, s->mean) : NAN;
}

static void fill_columns(const struct trial_report *r, struct columns *c)
{
    c->n = (size_t)r->points;
    for (int i = 0; i < r->points; i++) {
        const struct trial_point *p = &r->point[i];
        bool way = p->how != TRIAL_NO_SPEED, water = trial_through_water(p);

        c->rpm[i] = way ? p->rpm : NAN;
        c->speed[i] = water ? trial_user(r, UNIT_KN, p->speed_kn) : NAN;
        c->both[i] = p->how == TRIAL_RECIPROCAL ? c->speed[i] : NAN;
        c->single[i] = p->how == TRIAL_RECIPROCAL ? NAN : c->speed[i];
        c->speed_error[i] = trial_user(r, UNIT_KN, 2 * p->speed_error);
        c->burn[i] = p->has_burn ? trial_user(r, UNIT_LPH, p->burn_lph) : NAN;
        c->burn_error[i] = trial_user(r, UNIT_LPH, 2 * p->burn_error);
        c->cost[i] = trial_user_cost(r, p->cost);
        c->cost_error[i] = trial_user_cost(r, 2 * p->cost_error);
        for (int e = 0; e < r->engines; e++) {
            const struct trial_engine *m = &p->engine[e];
            const struct trial_stat *x = m->exhaust.n > 0 ? &m->exhaust : &m->exhaust_gas;
            enum unit u = settings_unit(r->settings, UNIT_C);

            c->engine_rpm[e][i] = way && m->rpm.n > 0 ? m->rpm.mean : NAN;
            c->exhaust[e][i] = mean_or_nan(r, x, UNIT_C);
            c->exhaust_bar[e][i] =
                x->n > 0 ? unit_from_base_difference(u, (x->high - x->low) / 2) : NAN;
            c->coolant[e][i] = mean_or_nan(r, &m->coolant, UNIT_C);
            c->oil_kpa[e][i] = mean_or_nan(r, &m->oil_pressure, UNIT_KPA);
        }
    }
}

static void plot_engines(FILE *out, const struct trial_report *r, struct columns *c,
                         const char *title, const char *y_label, double (*y)[TRIAL_POINTS],
                         double (*error)[TRIAL_POINTS], bool from_zero)
{
    struct plot p = {
        .title = title, .x_label = "engine speed, rpm", .y_label = y_label, .from_zero = from_zero};

    for (int e = 0; e < r->engines && p.count < PLOT_SERIES; e++)
        p.series[p.count++] = (struct plot_series){.name = r->engine_names[e],
                                                   .x = c->engine_rpm[e],
                                                   .y = y[e],
                                                   .error = error ? error[e] : NULL,
                                                   .n = c->n};
    plot_write(out, &p);
}

/* Runs both ways joined by a line; those one way stand by themselves, as what they say of the next
 * is less. Where there are none both ways the others get the line. */
static void two_series(struct plot *p, const struct columns *c, const double *both_x,
                       const double *single_x, const double *both_y, const double *single_y,
                       const double *error)
{
    bool any_both = false, any_single = false;

    for (size_t i = 0; i < c->n; i++) {
        any_both |= isfinite(c->both[i]);
        any_single |= isfinite(c->single[i]);
    }
    p->count = 0;
    if (any_both || !any_single)
        p->series[p->count++] = (struct plot_series){.name = any_single ? "both ways" : NULL,
                                                     .x = both_x,
                                                     .y = both_y,
                                                     .error = error,
                                                     .n = c->n};
    if (any_single)
        p->series[p->count++] = (struct plot_series){.name = any_both ? "one way" : NULL,
                                                     .x = single_x,
                                                     .y = single_y,
                                                     .error = error,
                                                     .n = c->n,
                                                     .no_line = any_both};
}

void trial_write_plots(FILE *out, const struct trial_report *r)
{
    struct columns c;
    char cost[24], speed[40], burn[40], temp[40], pressure[40], best[60] = "", number[20];
    struct plot p = {0};

    fill_columns(r, &c);
    trial_cost_unit(r, cost, sizeof cost);
    text_format(speed, sizeof speed, "boat speed, %s", unit_word(r, UNIT_KN));
    text_format(burn, sizeof burn, "burn of all engines, %s", unit_word(r, UNIT_LPH));
    text_format(temp, sizeof temp, "%s", unit_word(r, UNIT_C));
    text_format(pressure, sizeof pressure, "%s", unit_word(r, UNIT_KPA));
    fputs("<h2>Curves</h2>\n<div class=\"plots\">\n", out);
    p = (struct plot){.title = "Economy over boat speed",
                      .x_label = speed,
                      .y_label = cost,
                      .from_zero = true,
                      .count = 1};
    two_series(&p, &c, c.both, c.single, c.cost, c.cost, c.cost_error);
    if (r->has_best) {
        text_number(number, sizeof number, trial_user(r, UNIT_KN, r->best.x), 1);
        text_format(best, sizeof best, "best %s %s", number, unit_word(r, UNIT_KN));
        p.at_x = trial_user(r, UNIT_KN, r->best.x);
        p.at_y = trial_user_cost(r, r->best.y);
        p.text = best;
    }
    plot_write(out, &p);
    p = (struct plot){.title = "Burn over boat speed",
                      .x_label = speed,
                      .y_label = burn,
                      .from_zero = true,
                      .count = 1};
    two_series(&p, &c, c.both, c.single, c.burn, c.burn, c.burn_error);
    plot_write(out, &p);
    p = (struct plot){.title = "Boat speed over engine speed",
                      .x_label = "engine speed, rpm",
                      .y_label = speed,
                      .from_zero = true,
                      .count = 1};
    two_series(&p, &c, c.rpm, c.rpm, c.both, c.single, c.speed_error);
    plot_write(out, &p);
    plot_engines(out, r, &c, "Exhaust over engine speed (bars: lowest to highest)", temp, c.exhaust,
                 c.exhaust_bar, false);
    plot_engines(out, r, &c, "Coolant over engine speed", temp, c.coolant, NULL, false);
    plot_engines(out, r, &c, "Oil pressure over engine speed", pressure, c.oil_kpa, NULL, true);
    fputs("</div>\n", out);
}
