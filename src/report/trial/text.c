/* The report for people, in a terminal or on paper: tables have 100 columns at
 * most. */
#include "report/trial/write.h"

#include "alerts/story.h"
#include "base/text.h"
#include "report/papers/write.h"
#include "report/trial/highs.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

static const char *unit_of(const struct trial_report *r, enum unit base)
{
    return unit_text(settings_unit(r->settings, base));
}

/* A mean in the user's unit. */
static void put_mean(FILE *out, const struct trial_report *r, const struct trial_stat *s,
                     enum unit base, int decimals, int width)
{
    trial_put(out, s->n > 0 ? trial_user(r, base, s->mean) : NAN, decimals, width, "-");
}

static void heading(FILE *out, const char *text)
{
    fprintf(out, "\n%s\n", text);
    for (int i = text_width(text); i > 0; i--)
        fputc('-', out);
    fputc('\n', out);
}

static void write_head(FILE *out, const struct trial_report *r, bool utc)
{
    char from[40], to[40], run[24], title[100];
    const char *vessel = r->settings->vessel;

    text_format(title, sizeof title, "SEA TRIAL%s%s", vessel[0] ? " of " : "", vessel);
    fprintf(out, "%s\n", title);
    when_date(from, sizeof from, r->first_ns, utc);
    when_date(to, sizeof to, r->last_ns, utc);
    when_elapsed(run, sizeof run, (int64_t)(r->running_s * 1e9));
    fprintf(out, "%s to %s, engines ran %s", from, to, run + 1);
    fprintf(out, "; steady: speed within ");
    trial_put(out, r->steady.speed_part * 100, 1, 0, "-");
    fprintf(out, " %%, temperatures settled for %d s\n", r->steady.settle_s);
    for (int i = 0; i < r->logs; i++)
        fprintf(out, "log %d: %s\n", i + 1, r->log_names[i]);
}

static void write_checks(FILE *out, const struct trial_report *r)
{
    heading(out, "Checks");
    for (int i = 0; i < r->checks; i++) {
        const struct trial_check *c = &r->check[i];

        fprintf(out, "%-9s %-38s %s\n", trial_verdict_text(c->verdict), c->name, c->text);
    }
}

static void write_findings(FILE *out, const struct trial_report *r)
{
    if (r->findings == 0)
        return;
    heading(out, "To look at");
    for (int i = 0; i < r->findings; i++)
        fprintf(out, "  %s\n", r->finding[i].text);
}

static const char *no_points(const struct trial_report *r)
{
    return r->steps > 0 ? "  none: the steady steps below say why\n"
                        : "  none: no speed was held for long enough\n";
}

static void write_points(FILE *out, const struct trial_report *r)
{
    char cost[24];

    heading(out, "Speed, burn, economy");
    fprintf(out, "%6s %5s %8s %6s %-13s %8s %8s %6s %8s %7s %7s\n", "rpm", "runs",
            unit_of(r, UNIT_KN), "±", "", unit_of(r, UNIT_LPH), "±", "load",
            trial_cost_unit(r, cost, sizeof cost), "±", "range");
    if (r->points == 0)
        fputs(no_points(r), out);
    for (int i = 0; i < r->points; i++) {
        const struct trial_point *p = &r->point[i];
        double load = 0;
        int n = 0;

        for (int e = 0; e < TRIAL_ENGINES; e++) {
            if (p->engine[e].load.n == 0)
                continue;
            load += p->engine[e].load.mean;
            n++;
        }
        trial_put(out, p->rpm, 0, 6, "-");
        fprintf(out, " %5d ", p->steps);
        trial_put(out, p->how ? trial_user(r, UNIT_KN, p->speed_kn) : NAN, 2, 8, "-");
        trial_put(out, p->how ? trial_user(r, UNIT_KN, 2 * p->speed_error) : NAN, 2, 6,
                  p->how ? "?" : "-");
        fprintf(out, "  %-13s ", trial_how_text(p->how));
        trial_put(out, p->has_burn ? trial_user(r, UNIT_LPH, p->burn_lph) : NAN, 1, 8, "-");
        trial_put(out, p->has_burn ? trial_user(r, UNIT_LPH, 2 * p->burn_error) : NAN, 2, 9, "-");
        trial_put(out, n > 0 ? load / n : NAN, 0, 6, "-");
        fputs(n > 0 ? "%" : " ", out);
        trial_put(out, trial_user_cost(r, p->cost), 2, 9, "-");
        trial_put(out, trial_user_cost(r, 2 * p->cost_error), 2, 8, "-");
        trial_put(out, trial_user_nmi(r, p->range_nmi), 0, 8, "-");
        fputc('\n', out);
    }
    fprintf(out,
            "  ±: two standard errors, the meters' own among them. range: %s on the fuel above the "
            "reserve.\n  corrected: one way, less the current that the runs both ways told of. one "
            "way: over the ground,\n  the current not known; in no curve.\n",
            trial_mile(r));
    if (isfinite(r->log_factor)) {
        fputs("  speed through the water over what the log said: ", out);
        trial_put(out, r->log_factor, 3, 0, "-");
        fputs(" ±", out);
        trial_put(out, 2 * r->log_error, 3, 0, "-");
        fputc('\n', out);
    }
}

static void write_engine(FILE *out, const struct trial_report *r, int e)
{
    char title[80];

    text_format(title, sizeof title, "%s", r->engine_names[e]);
    heading(out, title);
    fprintf(out, "%6s %9s %9s %9s %9s %9s %9s %9s %9s\n", "rpm", "exhaust", "highest", "coolant",
            "oil", "oil", "burn", "load %", "charge V");
    fprintf(out, "%6s %9s %9s %9s %9s %9s %9s\n", "", unit_text(settings_unit(r->settings, UNIT_C)),
            "", unit_of(r, UNIT_C), unit_of(r, UNIT_C), unit_of(r, UNIT_KPA), unit_of(r, UNIT_LPH));
    if (r->points == 0)
        fputs(no_points(r), out);
    for (int i = 0; i < r->points; i++) {
        const struct trial_engine *m = &r->point[i].engine[e];
        const struct trial_stat *x = m->exhaust.n > 0 ? &m->exhaust : &m->exhaust_gas;

        if (!(r->point[i].engines & 1u << e))
            continue;
        put_mean(out, r, &m->rpm, UNIT_RPM, 0, 6);
        put_mean(out, r, x, UNIT_C, 1, 10);
        trial_put(out, x->n > 0 ? trial_user(r, UNIT_C, x->high) : NAN, 1, 10, "-");
        put_mean(out, r, &m->coolant, UNIT_C, 1, 10);
        put_mean(out, r, &m->oil_temp, UNIT_C, 1, 10);
        put_mean(out, r, &m->oil_pressure, UNIT_KPA, 0, 10);
        put_mean(out, r, &m->fuel_rate, UNIT_LPH, 1, 10);
        put_mean(out, r, &m->load, UNIT_PERCENT, 0, 10);
        put_mean(out, r, &m->alternator, UNIT_V, 2, 10);
        fputc('\n', out);
    }
    if (r->law_seen[e]) {
        fprintf(out, "  %s ~ rpm^", r->law_by_torque ? "power (torque x rpm)" : "burn");
        trial_put(out, r->law[e].exponent, 2, 0, "-");
        fputs(" ±", out);
        trial_put(out, 2 * r->law[e].exponent_error, 2, 0, "?");
        fputs(r->law_by_torque ? "; a propeller's law is 3\n"
                               : "; a propeller's law is 3, less for the engine's own friction\n",
              out);
    }
}

static void write_best(FILE *out, const struct trial_report *r)
{
    char unit[24];

    trial_cost_unit(r, unit, sizeof unit);
    heading(out, "Most economical");
    if (isfinite(r->slowest_cost)) {
        fputs("  slowest run: ", out);
        trial_put(out, trial_user(r, UNIT_KN, r->slowest_kn), 1, 0, "-");
        fprintf(out, " %s, ", unit_of(r, UNIT_KN));
        trial_put(out, trial_user_cost(r, r->slowest_cost), 2, 0, "-");
        fputs(" ±", out);
        trial_put(out, trial_user_cost(r, 2 * r->slowest_error), 2, 0, "-");
        fprintf(out, " %s\n", unit);
    }
    if (r->has_best) {
        fputs("  best of the faster speeds: ", out);
        trial_put(out, trial_user(r, UNIT_KN, r->best.x), 1, 0, "-");
        fputs(" ±", out);
        trial_put(out, trial_user(r, UNIT_KN, 2 * r->best.x_error), 1, 0, "-");
        fprintf(out, " %s, ", unit_of(r, UNIT_KN));
        trial_put(out, trial_user_cost(r, r->best.y), 2, 0, "-");
        fputs(" ±", out);
        trial_put(out, trial_user_cost(r, 2 * r->best_cost_error), 2, 0, "-");
        fprintf(out, " %s\n", unit);
    } else {
        fprintf(out, "  %s\n", trial_no_best(r));
    }
}

static void put_litres(FILE *out, const struct trial_report *r, double l, int width)
{
    trial_put(out, trial_user(r, UNIT_L, l), 1, width, "-");
    fprintf(out, " %s", unit_of(r, UNIT_L));
}

static void write_fuel(FILE *out, const struct trial_report *r)
{
    bool partly = false;

    heading(out, "Fuel over the whole trial");
    for (int e = 0; e < r->engines; e++) {
        const struct trial_meter *m = &r->meter[e];

        if (!m->heard)
            continue;
        fprintf(out, "  %-10s by its rate ", r->engine_names[e]);
        put_litres(out, r, m->burnt_l, 7);
        fputs(", by its counter ", out);
        put_litres(out, r, m->has_trip ? m->trip_l : NAN, 7);
        if (isfinite(m->factor)) {
            fputs(", tank over rate ", out);
            trial_put(out, m->factor, 3, 0, "-");
            fputs(" ±", out);
            trial_put(out, 2 * m->error, 3, 0, "-");
        }
        fputs(m->partly ? "; not heard all the time that it drove\n" : "\n", out);
        partly |= m->partly;
    }
    for (int i = 0; i < TRIAL_TANKS; i++) {
        const struct trial_tank *k = &r->tank[i];

        if (!k->heard)
            continue;
        fprintf(out, "  tank %-5d ", i);
        trial_put(out, k->first_pc, 1, 0, "-");
        fputs(" % to ", out);
        trial_put(out, k->last_pc, 1, 0, "-");
        fputs(" %, ", out);
        put_litres(out, r, k->used_l, 0);
        fputs(" ±", out);
        trial_put(out, trial_user(r, UNIT_L, 2 * k->used_error), 1, 0, "-");
        fprintf(out, "%s\n", k->stuck ? "  STUCK" : "");
    }
    fputs("  all meters ", out);
    put_litres(out, r, r->burnt_l, 0);
    fputs(partly ? " as far as heard, all tanks " : ", all tanks ", out);
    put_litres(out, r, r->used_l, 0);
    fputs("\n  counters go in steps of 1 L; a tank is taken to feed the engine of its number where "
          "each has\n  the other; level errors are those of the waves, not of the tank's table\n",
          out);
    if (r->used_l > 0)
        fputs(
            r->still
                ? "  levels were read at rest, before and after\n"
                : "  levels were read under way, where tanks squat: the errors are wider for it\n",
            out);
}

#define COLUMNS      100
#define STEP_COLUMNS 62 /* of the table of steps without its engines */
#define STEP_REASON  13 /* most reasons why a step is left out; longer ones may take a line */

/* Columns of the table of steps, one an engine that drives the boat. */
struct step_columns {
    int width[TRIAL_ENGINES]; /* as wide as its name; 0: none */
    bool numbered;            /* the names find no room: they stand above the table, */
    int course;               /* and the course has less */
};

static struct step_columns step_columns(const struct trial_report *r)
{
    struct step_columns c = {.numbered = false};
    int sum = 0, n = 0;

    for (int e = 0; e < r->engines; e++) {
        if (!trial_drives(r, e))
            continue;
        int w = text_width(r->engine_names[e]) + 1;
        c.width[e] = w < 8 ? 8 : w;
        sum += c.width[e];
        n++;
    }
    c.numbered = sum > COLUMNS - STEP_COLUMNS - STEP_REASON;
    c.course = c.numbered ? 6 : 8;
    for (int e = 0; e < r->engines && c.numbered; e++)
        if (c.width[e] > 0)
            c.width[e] = n > 4 ? 5 : 6;
    return c;
}

static void write_step_names(FILE *out, const struct trial_report *r, const struct step_columns *c)
{
    int at = 0;

    for (int e = 0; e < r->engines; e++) {
        char one[40];

        if (c->width[e] == 0)
            continue;
        text_format(one, sizeof one, "%d %s", e + 1, r->engine_names[e]);
        if (at > 0)
            fputs(at + 2 + text_width(one) >= COLUMNS ? ",\n" : ", ", out);
        if (at == 0 || at + 2 + text_width(one) >= COLUMNS) {
            fputs("  ", out);
            at = 0;
        }
        fputs(one, out);
        at += 2 + text_width(one);
    }
    fputc('\n', out);
}

static void write_step_heads(FILE *out, const struct trial_report *r, const struct step_columns *c)
{
    if (c->numbered)
        write_step_names(out, r, c);
    fprintf(out, "%19s", "");
    for (int e = 0; e < r->engines; e++) {
        char number[16];

        text_format(number, sizeof number, "%d", e + 1);
        const char *head = c->numbered ? number : r->engine_names[e];
        if (c->width[e] > 0)
            fprintf(out, "%*s%s", c->width[e] - text_width(head), "", head);
    }
    fprintf(out, "\n%3s %-8s %6s", "", "began", "s");
    for (int e = 0; e < r->engines; e++)
        fprintf(out, "%*s", c->width[e], c->width[e] > 0 ? "rpm" : "");
    fprintf(out, "%*s %8s %8s %8s %7s\n", c->course, "course", unit_of(r, UNIT_KN), "water",
            "settled", "space");
}

/* Why a step is in no point; on a line of its own where there is no room beside it. */
static void write_step_reason(FILE *out, const struct trial_step *s, int at)
{
    const char *why = s->left ? trial_left_text(s->left) : s->neutral ? "neutral" : "";

    if (why[0])
        fprintf(out, at + 2 + text_width(why) > COLUMNS ? "\n%4s%s" : "%2s%s", "", why);
    fputc('\n', out);
}

static void write_steps(FILE *out, const struct trial_report *r, bool utc)
{
    const struct step_columns c = step_columns(r);
    int at = STEP_COLUMNS - 8 + c.course;

    heading(out, "Steady steps");
    write_step_heads(out, r, &c);
    for (int e = 0; e < r->engines; e++)
        at += c.width[e];
    for (int i = 0; i < r->steps; i++) {
        const struct trial_step *s = &r->step[i];
        char clock[24];

        when_clock(clock, sizeof clock, s->wall_ns, utc);
        fprintf(out, "%3d %-8s ", i + 1, clock);
        trial_put(out, s->seconds, 0, 6, "-");
        for (int e = 0; e < r->engines; e++)
            if (c.width[e] > 0)
                trial_put(out, s->engines & 1u << e ? s->engine[e].rpm.mean : NAN, 0, c.width[e],
                          "-");
        trial_put(out, s->has_course ? s->course_deg : NAN, 0, c.course, "-");
        put_mean(out, r, &s->speed_ground, UNIT_KN, 2, 9);
        put_mean(out, r, &s->speed_water, UNIT_KN, 2, 9);
        trial_put(out, s->settle_s, 0, 9, "-");
        put_mean(out, r, &s->space, UNIT_C, 1, 8);
        write_step_reason(out, s, at);
    }
    fputs("  settled: seconds from the change of speed until exhaust and coolant stood\n", out);
}

static void write_drifts(FILE *out, const struct trial_drifts *d)
{
    if (!d)
        return;
    heading(out, "Against earlier trips");
    for (int i = 0; i < d->count; i++)
        fprintf(out, "%s %s\n", d->drift[i].notable ? "  CHANGED " : "  as then ",
                d->drift[i].text);
    if (d->count == 0)
        fputs("  no engine speed of this trial was held then\n", out);
    fputs("  each channel where it stands furthest; as then: no more than its readings went up and "
          "down\n",
          out);
}

static void write_incidents(FILE *out, const struct trial_report *r, bool utc)
{
    if (r->incidents == 0)
        return;
    heading(out, "Alerts during the trial");
    for (int i = 0; i < r->incidents; i++) {
        char clock[24];

        when_clock(clock, sizeof clock, r->incident[i].wall_ns, utc);
        fprintf(out, "%s %c %s\n", clock, alert_priority_letter(r->incident[i].priority),
                r->incident[i].text);
        if (!trial_incident_last(r, i))
            continue;
        char story[ALERT_STORY_SIZE];
        alert_story(story, sizeof story, &r->incident[i].alert, r->settings, utc, false);
        fprintf(out, "           %s\n", story);
    }
    if (r->incidents_lost > 0)
        fprintf(out, "  and %d more\n", r->incidents_lost);
}

void trial_write_text(FILE *out, const struct trial_report *r, const struct trial_write_options *o)
{
    write_head(out, r, o->utc);
    if ((o->particulars && o->particulars->lines > 0) || r->boxes > 0) {
        heading(out, "Particulars");
        trial_print_papers(out, r, o);
    }
    write_checks(out, r);
    write_findings(out, r);
    write_drifts(out, o->drifts);
    write_points(out, r);
    write_best(out, r);
    for (int e = 0; e < r->engines; e++)
        if (trial_drives(r, e))
            write_engine(out, r, e);
    write_fuel(out, r);
    write_steps(out, r, o->utc);
    trial_highs_text(out, r, o->utc);
    write_incidents(out, r, o->utc);
    if (o->signoff) {
        heading(out, "Confirmed by hand");
        signoff_print(o->signoff, NULL, o->utc, out);
    }
    if (o->source) {
        heading(out, "Where it comes from");
        papers_print_source(out, o->source);
    }
    fputs(
        "\nFigures are what the boat's own sensors said. A pass is not a certificate: the makers'\n"
        "instructions and a licensed technician's judgement stand above it.\n",
        out);
}
