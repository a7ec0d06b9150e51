/* The report as one page: nothing is fetched, nothing runs; it prints on A4. */
#include "report/plot.h"
#include "report/trial/write.h"
#include "report/trial/highs.h"

#include "alerts/story.h"
#include "base/text.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

static const char *unit_of(const struct trial_report *r, enum unit base)
{
    return unit_text(settings_unit(r->settings, base));
}

static void cell(FILE *out, double v, int decimals)
{
    fputs("<td>", out);
    trial_put(out, v, decimals, 0, "–");
    fputs("</td>", out);
}

static void mean_cell(FILE *out, const struct trial_report *r, const struct trial_stat *s,
                      enum unit base, int decimals)
{
    cell(out, s->n > 0 ? trial_user(r, base, s->mean) : NAN, decimals);
}

static void head_cell(FILE *out, const char *what, const char *unit)
{
    fputs("<th scope=\"col\">", out);
    plot_text(out, what);
    if (unit[0]) {
        fputs("<br>", out);
        plot_text(out, unit);
    }
    fputs("</th>", out);
}

static void write_head(FILE *out, const struct trial_report *r, bool utc)
{
    char from[40], to[40], run[24];

    page_begin(out, "Sea trial", r->settings->vessel);
    when_date(from, sizeof from, r->first_ns, utc);
    when_date(to, sizeof to, r->last_ns, utc);
    when_elapsed(run, sizeof run, (int64_t)(r->running_s * 1e9));
    fprintf(out, "<p>%s to %s%s, engines ran %s. Steady means: engine speed within ", from, to,
            utc ? " UTC" : "", run + 1);
    trial_put(out, r->steady.speed_part * 100, 1, 0, "-");
    fprintf(out, "&nbsp;%%, exhaust and coolant settled for %d&nbsp;s.</p>\n<p class=\"small\">",
            r->steady.settle_s);
    for (int i = 0; i < r->logs; i++) {
        fputs(i ? ", " : "From ", out);
        plot_text(out, r->log_names[i]);
    }
    fputs("</p>\n", out);
}

static void write_checks(FILE *out, const struct trial_report *r)
{
    fputs("<h2>Checks</h2>\n<table>\n<thead><tr><th class=\"words\" scope=\"col\">Verdict</th>"
          "<th class=\"words\" scope=\"col\">Check</th><th class=\"words\" scope=\"col\">Seen, "
          "against what</th></tr></thead>\n<tbody>\n",
          out);
    for (int i = 0; i < r->checks; i++) {
        const struct trial_check *c = &r->check[i];

        fprintf(out, "<tr%s><td class=\"verdict\">%s</td>",
                c->verdict == TRIAL_FAIL ? " class=\"fail\"" : "", trial_verdict_text(c->verdict));
        page_words(out, c->name);
        page_words(out, c->text);
        fputs("</tr>\n", out);
    }
    fputs("</tbody>\n</table>\n", out);
    if (r->findings > 0)
        fputs("<h2>To look at</h2>\n<ul>\n", out);
    for (int i = 0; i < r->findings; i++) {
        fputs("<li>", out);
        plot_text(out, r->finding[i].text);
        fputs("</li>\n", out);
    }
    if (r->findings > 0)
        fputs("</ul>\n", out);
}

static void write_drifts(FILE *out, const struct trial_drifts *d)
{
    if (!d)
        return;
    fputs("<h2>Against earlier trips</h2>\n<table>\n<tbody>\n", out);
    for (int i = 0; i < d->count; i++) {
        fprintf(out, "<tr%s><td class=\"verdict\">%s</td>",
                d->drift[i].notable ? " class=\"fail\"" : "",
                d->drift[i].notable ? "changed" : "as then");
        page_words(out, d->drift[i].text);
        fputs("</tr>\n", out);
    }
    fputs("</tbody>\n</table>\n<p class=\"small\">Each channel where it stands furthest from then. "
          "As then: no more than its readings went up and down by themselves.</p>\n",
          out);
}

static void write_points(FILE *out, const struct trial_report *r)
{
    char unit[24];

    fputs("<h2>Speed, burn, economy</h2>\n<div class=\"wide\">\n<table>\n<thead><tr>", out);
    head_cell(out, "engine speed", "rpm");
    head_cell(out, "runs", "");
    head_cell(out, "boat speed", unit_of(r, UNIT_KN));
    head_cell(out, "±", "");
    head_cell(out, "measured", "");
    head_cell(out, "current", unit_of(r, UNIT_KN));
    head_cell(out, "burn", unit_of(r, UNIT_LPH));
    head_cell(out, "±", "");
    head_cell(out, "economy", trial_cost_unit(r, unit, sizeof unit));
    head_cell(out, "±", "");
    head_cell(out, "range", trial_mile(r));
    head_cell(out, "space over air", trial_kelvin(r));
    fputs("</tr></thead>\n<tbody>\n", out);
    for (int i = 0; i < r->points; i++) {
        const struct trial_point *p = &r->point[i];
        bool way = p->how != TRIAL_NO_SPEED;

        fputs("<tr>", out);
        cell(out, p->rpm, 0);
        cell(out, p->steps, 0);
        cell(out, way ? trial_user(r, UNIT_KN, p->speed_kn) : NAN, 2);
        if (p->how == TRIAL_ONE_WAY)
            fputs("<td>?</td>", out);
        else
            cell(out, way ? trial_user(r, UNIT_KN, 2 * p->speed_error) : NAN, 2);
        page_words(out, trial_how_text(p->how));
        cell(out, p->how == TRIAL_RECIPROCAL ? trial_user(r, UNIT_KN, p->current_kn) : NAN, 1);
        cell(out, p->has_burn ? trial_user(r, UNIT_LPH, p->burn_lph) : NAN, 1);
        cell(out, p->has_burn ? trial_user(r, UNIT_LPH, 2 * p->burn_error) : NAN, 1);
        cell(out, trial_user_cost(r, p->cost), 2);
        cell(out, trial_user_cost(r, 2 * p->cost_error), 2);
        cell(out, trial_user_nmi(r, p->range_nmi), 0);
        cell(out, trial_user_difference(r, UNIT_C, p->space_rise), 1);
        fputs("</tr>\n", out);
    }
    fputs("</tbody>\n</table>\n</div>\n<p class=\"small\">±: two standard errors, the meters' own "
          "among them. Range: on the fuel above the reserve. Corrected: one way, less the current "
          "that the runs both ways told of. One way: over the ground, the current not known; in no "
          "curve.</p>\n",
          out);
}

static void write_best(FILE *out, const struct trial_report *r)
{
    char unit[24];

    trial_cost_unit(r, unit, sizeof unit);
    fputs("<p>", out);
    if (r->has_best) {
        fputs("Most economical of the faster speeds: <strong>", out);
        trial_put(out, trial_user(r, UNIT_KN, r->best.x), 1, 0, "-");
        fputs(" ±", out);
        trial_put(out, trial_user(r, UNIT_KN, 2 * r->best.x_error), 1, 0, "-");
        fprintf(out, "&nbsp;%s</strong>, ", unit_of(r, UNIT_KN));
        trial_put(out, trial_user_cost(r, r->best.y), 2, 0, "-");
        fputs(" ±", out);
        trial_put(out, trial_user_cost(r, 2 * r->best_cost_error), 2, 0, "-");
        fprintf(out, "&nbsp;%s. ", unit);
    } else {
        const char *why = trial_no_best(r);
        fprintf(out, "%c%s. ", why[0] - 'a' + 'A', why + 1);
    }
    if (isfinite(r->slowest_cost)) {
        fputs("The slowest run, ", out);
        trial_put(out, trial_user(r, UNIT_KN, r->slowest_kn), 1, 0, "-");
        fprintf(out, "&nbsp;%s, took ", unit_of(r, UNIT_KN));
        trial_put(out, trial_user_cost(r, r->slowest_cost), 2, 0, "-");
        fputs(" ±", out);
        trial_put(out, trial_user_cost(r, 2 * r->slowest_error), 2, 0, "-");
        fprintf(out, "&nbsp;%s.", unit);
    }
    fputs("</p>\n", out);
}

static void write_engine(FILE *out, const struct trial_report *r, int e)
{

    fputs("<section class=\"engine\">\n<h2>", out);
    plot_text(out, r->engine_names[e]);
    fputs("</h2>\n<div class=\"wide\">\n<table>\n<thead><tr>", out);
    head_cell(out, "speed", "rpm");
    head_cell(out, "exhaust", unit_of(r, UNIT_C));
    head_cell(out, "highest", unit_of(r, UNIT_C));
    head_cell(out, "coolant", unit_of(r, UNIT_C));
    head_cell(out, "oil", unit_of(r, UNIT_C));
    head_cell(out, "oil", unit_of(r, UNIT_KPA));
    head_cell(out, "burn", unit_of(r, UNIT_LPH));
    head_cell(out, "load", "%");
    head_cell(out, "charge", "V");
    fputs("</tr></thead>\n<tbody>\n", out);
    for (int i = 0; i < r->points; i++) {
        const struct trial_engine *m = &r->point[i].engine[e];
        const struct trial_stat *x = m->exhaust.n > 0 ? &m->exhaust : &m->exhaust_gas;

        if (!(r->point[i].engines & 1u << e))
            continue;
        fputs("<tr>", out);
        mean_cell(out, r, &m->rpm, UNIT_RPM, 0);
        mean_cell(out, r, x, UNIT_C, 1);
        cell(out, x->n > 0 ? trial_user(r, UNIT_C, x->high) : NAN, 1);
        mean_cell(out, r, &m->coolant, UNIT_C, 1);
        mean_cell(out, r, &m->oil_temp, UNIT_C, 1);
        mean_cell(out, r, &m->oil_pressure, UNIT_KPA, 0);
        mean_cell(out, r, &m->fuel_rate, UNIT_LPH, 1);
        mean_cell(out, r, &m->load, UNIT_PERCENT, 0);
        mean_cell(out, r, &m->alternator, UNIT_V, 2);
        fputs("</tr>\n", out);
    }
    fputs("</tbody>\n</table>\n</div>\n", out);
    if (!r->law_seen[e]) {
        fputs("</section>\n", out);
        return;
    }
    fprintf(out, "<p>%s goes with the power ",
            r->law_by_torque ? "Power (torque × speed)" : "Burn");
    trial_put(out, r->law[e].exponent, 2, 0, "-");
    fputs(" ±", out);
    trial_put(out, 2 * r->law[e].exponent_error, 2, 0, "?");
    fprintf(out, " of engine speed; a propeller's law is 3%s.</p>\n</section>\n",
            r->law_by_torque ? "" : ", less for the engine's own friction");
}

/* --- the rest --------------------------------------------------------------------------- */

static void litres_cells(FILE *out, const struct trial_report *r, double l, double error)
{
    cell(out, trial_user(r, UNIT_L, l), 1);
    cell(out, isfinite(error) ? trial_user(r, UNIT_L, 2 * error) : NAN, 1);
}

static void write_fuel(FILE *out, const struct trial_report *r)
{
    fputs("<h2>Fuel over the whole trial</h2>\n<div class=\"wide\">\n<table>\n<thead><tr>", out);
    head_cell(out, "", "");
    head_cell(out, "by rate", unit_of(r, UNIT_L));
    head_cell(out, "by counter", unit_of(r, UNIT_L));
    head_cell(out, "out of tank", unit_of(r, UNIT_L));
    head_cell(out, "±", "");
    head_cell(out, "tank over rate", "");
    head_cell(out, "±", "");
    fputs("</tr></thead>\n<tbody>\n", out);
    for (int i = 0; i < TRIAL_TANKS; i++) {
        const struct trial_meter *m = &r->meter[i];
        const struct trial_tank *k = &r->tank[i];
        char name[100] = "";

        if (!m->heard && !k->heard)
            continue;
        if (m->heard)
            text_copy(name, sizeof name, r->engine_names[i]);
        if (k->heard)
            text_append(name, sizeof name, "%stank %d%s", name[0] ? ", " : "", i,
                        k->stuck ? " (stuck)" : "");
        if (m->partly)
            text_append(name, sizeof name, " (meter not heard all the time)");
        fputs("<tr>", out);
        page_words(out, name);
        cell(out, m->heard ? trial_user(r, UNIT_L, m->burnt_l) : NAN, 1);
        cell(out, m->has_trip ? trial_user(r, UNIT_L, m->trip_l) : NAN, 0);
        litres_cells(out, r, k->heard ? k->used_l : NAN, k->heard ? k->used_error : NAN);
        cell(out, m->heard ? m->factor : NAN, 3);
        cell(out, m->heard ? 2 * m->error : NAN, 3);
        fputs("</tr>\n", out);
    }
    fputs(
        "</tbody>\n</table>\n</div>\n<p class=\"small\">Counters go in steps of 1 L. A tank is "
        "taken to "
        "feed the engine of its number where each has the other. ±: two standard errors, from the "
        "waves alone; a wrong capacity or table is not in it.</p>\n",
        out);
}

static void write_steps(FILE *out, const struct trial_report *r, bool utc)
{
    fputs("<h2>Steady steps</h2>\n<div class=\"wide\">\n<table>\n<thead><tr>", out);
    head_cell(out, "", "");
    head_cell(out, "began", "");
    head_cell(out, "lasted", "s");
    for (int e = 0; e < r->engines; e++)
        if (trial_drives(r, e))
            head_cell(out, r->engine_names[e], "rpm");
    head_cell(out, "course", "°");
    head_cell(out, "ground", unit_of(r, UNIT_KN));
    head_cell(out, "water", unit_of(r, UNIT_KN));
    head_cell(out, "settled in", "s");
    head_cell(out, "space", unit_of(r, UNIT_C));
    head_cell(out, "outside", unit_of(r, UNIT_C));
    head_cell(out, "sea", unit_of(r, UNIT_C));
    head_cell(out, "", "");
    fputs("</tr></thead>\n<tbody>\n", out);
    for (int i = 0; i < r->steps; i++) {
        const struct trial_step *s = &r->step[i];
        char clock[24];

        when_clock(clock, sizeof clock, s->wall_ns, utc);
        fprintf(out, "<tr><td>%d</td><td>%s</td>", i + 1, clock);
        cell(out, s->seconds, 0);
        for (int e = 0; e < r->engines; e++)
            if (trial_drives(r, e))
                cell(out, s->engines & 1u << e ? s->engine[e].rpm.mean : NAN, 0);
        cell(out, s->has_course ? s->course_deg : NAN, 0);
        mean_cell(out, r, &s->speed_ground, UNIT_KN, 2);
        mean_cell(out, r, &s->speed_water, UNIT_KN, 2);
        cell(out, s->settle_s, 0);
        mean_cell(out, r, &s->space, UNIT_C, 1);
        mean_cell(out, r, &s->air, UNIT_C, 1);
        mean_cell(out, r, &s->sea, UNIT_C, 1);
        page_words(out, s->left ? trial_left_text(s->left) : s->neutral ? "neutral" : "");
        fputs("</tr>\n", out);
    }
    fputs("</tbody>\n</table>\n</div>\n", out);
}

static void write_incidents(FILE *out, const struct trial_report *r, bool utc)
{
    if (r->incidents == 0)
        return;
    fputs("<h2>Alerts during the trial</h2>\n<div class=\"wide\">\n<table>\n<tbody>\n", out);
    for (int i = 0; i < r->incidents; i++) {
        char clock[24];

        when_clock(clock, sizeof clock, r->incident[i].wall_ns, utc);
        fprintf(out, "<tr><td>%s</td>", clock);
        page_words(out, priority_text(r->incident[i].priority));
        page_words(out, r->incident[i].text);
        fputs("</tr>\n", out);
        if (!trial_incident_last(r, i))
            continue;
        char story[ALERT_STORY_SIZE];
        alert_story(story, sizeof story, &r->incident[i].alert, r->settings, utc, false);
        fputs("<tr><td></td><td></td>", out);
        page_words(out, story);
        fputs("</tr>\n", out);
    }
    fputs("</tbody>\n</table>\n</div>\n", out);
    if (r->incidents_lost > 0)
        fprintf(out, "<p>And %d more.</p>\n", r->incidents_lost);
}

/* One confirmation: channel, how, reading, reference, error, verdict, who, when. */
static void signoff_row(FILE *out, const struct trial_report *r, const struct signoff_entry *e,
                        bool utc)
{
    enum unit base = quantity_info((enum quantity)e->id.quantity)->unit;
    int decimals = 2;
    char key[CHANNEL_KEY_SIZE], when[40];

    channel_id_format(key, sizeof key, e->id);
    when_date(when, sizeof when, e->at_ns, utc);
    fprintf(out, "<tr%s>", e->verdict == SIGNOFF_FAIL ? " class=\"fail\"" : "");
    page_words(out, key);
    page_words(out, signoff_check_text(e->check));
    cell(out, trial_user(r, base, e->reading), decimals);
    cell(out, e->has_reference ? trial_user(r, base, e->reference) : NAN, decimals);
    page_words(out, unit_of(r, base));
    page_words(out, signoff_verdict_text(e->verdict));
    page_words(out, e->by);
    page_words(out, when);
    page_words(out, e->note);
    fputs("</tr>\n", out);
}

static void write_signoff(FILE *out, const struct trial_report *r, const struct signoff *s,
                          bool utc)
{
    if (!s)
        return;
    fputs("<h2>Confirmed by hand</h2>\n<div class=\"wide\">\n<table>\n<thead><tr>", out);
    head_cell(out, "channel", "");
    head_cell(out, "check", "");
    head_cell(out, "reading", "");
    head_cell(out, "reference", "");
    head_cell(out, "unit", "");
    head_cell(out, "verdict", "");
    head_cell(out, "by", "");
    head_cell(out, "at", "");
    head_cell(out, "note", "");
    fputs("</tr></thead>\n<tbody>\n", out);
    for (size_t i = 0; i < s->count; i++)
        signoff_row(out, r, &s->entries[i], utc);
    fputs("</tbody>\n</table>\n</div>\n", out);
}

void trial_write_html(FILE *out, const struct trial_report *r, const struct trial_write_options *o)
{
    write_head(out, r, o->utc);
    trial_write_papers(out, r, o);
    write_checks(out, r);
    write_drifts(out, o->drifts);
    write_points(out, r);
    write_best(out, r);
    trial_write_plots(out, r);
    for (int e = 0; e < r->engines; e++)
        if (trial_drives(r, e))
            write_engine(out, r, e);
    write_fuel(out, r);
    write_steps(out, r, o->utc);
    trial_highs_html(out, r, o->utc);
    write_incidents(out, r, o->utc);
    write_signoff(out, r, o->signoff, o->utc);
    fputs("<p class=\"small\">Figures are what the boat's own sensors said. A pass is not a "
          "certificate: the makers' instructions and a licensed technician's judgement stand above "
          "it.</p>\n",
          out);
    trial_write_signatures(out, o);
    if (o->source)
        page_source(out, o->source);
    page_end(out);
}
