/* The incident as one page. */
#include "report/incident/incident.h"

#include "report/plot.h"

#include "base/text.h"

#include <math.h>

#include "base/banned.h"

#define NEAR_S 5 /* exhausts come every 2 s */

static void put_clock(FILE *out, int64_t wall_ns, bool utc)
{
    char clock[40];

    when_clock(clock, sizeof clock, wall_ns, utc);
    fputs(clock, out);
}

/* Those set while the log was written: a record's file holds its other days' too. */
static bool is_within(const struct incident *i, const struct mark *k)
{
    return i->any && k->wall_ns >= i->first.wall_ns - NS_PER_S &&
           k->wall_ns <= i->last.wall_ns + NS_PER_S;
}

/* The marks before a moment that were not written yet; returns how many. */
static int write_marks(FILE *out, const struct incident *i, const struct marks *m, int *next,
                       int64_t before_ns, bool utc)
{
    int n = 0;

    for (; m && *next < m->count && m->mark[*next].wall_ns < before_ns; (*next)++) {
        const struct mark *k = &m->mark[*next];

        if (!is_within(i, k))
            continue;
        n++;
        fputs("<tr><th scope=\"row\" class=\"row\">", out);
        put_clock(out, k->wall_ns, utc);
        fputs("</th>", out);
        page_words(out, "");
        page_words(out, "marked");
        page_words(out, k->words[0] ? k->words : "(without words)");
        fputs("</tr>\n", out);
    }
    return n;
}

static void write_events(FILE *out, const struct incident *i, const struct marks *marks, bool utc)
{
    int next = 0, rows = i->events;

    fputs(
        "<h2>What happened, in order</h2>\n<table>\n<thead><tr><th scope=\"col\" class=\"row\">"
        "Time</th><th scope=\"col\" class=\"words\">Priority</th><th scope=\"col\" class=\"words\">"
        "Event</th><th scope=\"col\" class=\"words\">Words</th></tr></thead>\n<tbody>\n",
        out);
    for (int k = 0; k < i->events; k++) {
        const struct incident_event *e = &i->event[k];

        rows += write_marks(out, i, marks, &next, e->wall_ns, utc);
        fprintf(out, "<tr%s><th scope=\"row\" class=\"row\">",
                !e->is_engine && e->priority >= PRIORITY_ALARM ? " class=\"fail\"" : "");
        put_clock(out, e->wall_ns, utc);
        fputs("</th>", out);
        page_words(out, e->is_engine ? "" : priority_text(e->priority));
        page_words(out, e->word);
        page_words(out, e->text);
        fputs("</tr>\n", out);
    }
    rows += write_marks(out, i, marks, &next, INT64_MAX, utc);
    if (rows == 0)
        fputs("<tr><td class=\"words\">no alert, no engine started or stopped</td></tr>\n", out);
    fputs("</tbody>\n</table>\n", out);
    if (i->events_lost > 0)
        fprintf(out, "<p>And %d more.</p>\n", i->events_lost);
}

static double user(const struct incident *i, enum unit base, double v)
{
    return unit_from_base(settings_unit(keeper_settings(i->keeper), base), v);
}

static const char *unit_name(const struct incident *i, enum unit base)
{
    return unit_text(settings_unit(keeper_settings(i->keeper), base));
}

/* What the curve reads at a second, or at the nearest one that has a reading; NaN: none is near. */
static double value_near(const struct incident_curve *c, int64_t at)
{
    for (int64_t off = 0; off <= NEAR_S; off++)
        for (int way = -1; way <= 1; way += 2) {
            int64_t k = at + way * off;

            if (k >= 0 && k < INCIDENT_POINTS && isfinite(c->mean[k]))
                return c->mean[k];
        }
    return NAN;
}

/* Where on the channel's curve the marks are; returns how many. */
static size_t marks_on(const struct incident *i, const struct incident_alert *a,
                       const struct marks *m, double *x, double *y)
{
    enum unit base = quantity_info((enum quantity)a->curve[0].id.quantity)->unit;
    size_t n = 0;

    for (int k = 0; m && k < m->count; k++) {
        int64_t into_ns = m->mark[k].wall_ns - a->raised.wall_ns;
        double value = value_near(&a->curve[0], into_ns / NS_PER_S + INCIDENT_BEFORE_S);

        if (!isfinite(value))
            continue;
        x[n] = when_seconds(into_ns) / 60;
        y[n++] = user(i, base, value);
    }
    return n;
}

/* Channel, twin, limit and expectation over the minutes around the alert. */
static void write_curve(FILE *out, const struct incident *i, const struct incident_alert *a,
                        const struct marks *marks)
{
    static double minutes[INCIDENT_POINTS],
        y[2][INCIDENT_POINTS]; /* large, and one page at a time */
    double ends[2] = {-INCIDENT_BEFORE_S / 60.0, INCIDENT_AFTER_S / 60.0};
    double limit[2], expected[2], low[2], high[2], raised_x[2] = {0, 0}, raised_y[2];
    enum unit base = quantity_info((enum quantity)a->curve[0].id.quantity)->unit;
    char title[80], label[60];
    struct plot p = {.x_label = "minutes from the moment it was raised", .y_label = label};
    static double marked_x[MARKS_MAX], marked_y[MARKS_MAX];
    size_t last = 0, set;

    for (int k = 0; k < INCIDENT_POINTS; k++)
        minutes[k] = (k - INCIDENT_BEFORE_S) / 60.0;
    text_format(title, sizeof title, "%s around the alert", a->curve[0].key);
    text_format(label, sizeof label, "%s", unit_name(i, base));
    p.title = title;
    for (int c = 0; c < a->curves; c++) {
        for (size_t k = 0; k < INCIDENT_POINTS; k++) {
            y[c][k] = user(i, base, a->curve[c].mean[k]);
            last = isfinite(y[c][k]) && k > last ? k : last;
        }
        p.series[p.count++] = (struct plot_series){.name = a->curve[c].key,
                                                   .x = minutes,
                                                   .y = y[c],
                                                   .n = INCIDENT_POINTS,
                                                   .no_marks = true,
                                                   .gap = 15};
    }
    ends[1] = minutes[last];
    limit[0] = limit[1] = user(i, base, a->alert.figures.limit);
    expected[0] = expected[1] = user(i, base, a->first.expected);
    low[0] = low[1] = user(i, base, a->first.expected - a->first.allowance);
    high[0] = high[1] = user(i, base, a->first.expected + a->first.allowance);
    if (isfinite(limit[0]))
        p.series[p.count++] =
            (struct plot_series){.name = "limit", .x = ends, .y = limit, .n = 2, .no_marks = true};
    if (isfinite(expected[0]) && a->first.expected != 0)
        p.series[p.count++] = (struct plot_series){
            .name = "expected", .x = ends, .y = expected, .n = 2, .no_marks = true};
    if (isfinite(low[0]) && a->first.allowance > 0 && p.count + 2 <= PLOT_SERIES) {
        p.series[p.count++] =
            (struct plot_series){.x = ends, .y = low, .n = 2, .no_marks = true, .faint = true};
        p.series[p.count++] =
            (struct plot_series){.x = ends, .y = high, .n = 2, .no_marks = true, .faint = true};
    }
    if (p.count < PLOT_SERIES && (set = marks_on(i, a, marks, marked_x, marked_y)) > 0)
        p.series[p.count++] = (struct plot_series){
            .x = marked_x, .y = marked_y, .n = set, .no_line = true, .sign = PLOT_TRIANGLE};
    raised_y[0] = raised_y[1] = user(i, base, a->first.value);
    if (isfinite(raised_y[0]) && p.count < PLOT_SERIES)
        p.series[p.count++] =
            (struct plot_series){.x = raised_x, .y = raised_y, .n = 1, .sign = PLOT_DIAMOND};
    plot_write(out, &p);
}

static void figure_row(FILE *out, const char *what, double v, int decimals, const char *unit)
{
    char number[40];

    if (!isfinite(v) || !text_number(number, sizeof number, v, decimals))
        return;
    fputs("<tr>", out);
    page_row_head(out, what);
    fputs("<td>", out);
    plot_text(out, number);
    fputs("</td>", out);
    page_words(out, unit);
    fputs("</tr>\n", out);
}

static void time_row(FILE *out, const char *what, int64_t wall_ns, bool utc)
{
    if (wall_ns == 0)
        return;
    fputs("<tr>", out);
    page_row_head(out, what);
    fputs("<td>", out);
    put_clock(out, wall_ns, utc);
    fputs("</td><td></td></tr>\n", out);
}

static void write_figures(FILE *out, const struct incident *i, const struct incident_alert *a,
                          const struct marks *marks, bool utc)
{
    const struct alert_figures *f = &a->first;
    enum unit u = settings_unit(keeper_settings(i->keeper), a->alert.unit);
    const char *unit = unit_text(u), *part = u == UNIT_C ? "K" : unit;

    if (a->curves > 0)
        fprintf(out,
                "<p class=\"small\">Diamond: when it was raised.%s Dotted grey: expected, with its "
                "allowance.</p>\n",
                marks != NULL && marks->count > 0 ? " Triangles: what somebody marked." : "");
    fputs("<table>\n<caption>The figures that decided, when it was raised</caption>\n<tbody>\n",
          out);
    time_row(out, "Raised", a->raised.wall_ns, utc);
    figure_row(out, "Value", user(i, a->alert.unit, f->value), 1, unit);
    figure_row(out, "Expected", user(i, a->alert.unit, f->expected), 1, unit);
    figure_row(out, "Allowance", unit_from_base_difference(u, f->allowance), 2, part);
    figure_row(out, "Noise", unit_from_base_difference(u, f->noise), 2, part);
    figure_row(out, "Rate", unit_from_base_difference(u, f->rate_per_min), 1, "a minute");
    figure_row(out, "Statistic", f->statistic, 2, "");
    figure_row(out, "Threshold", f->threshold, 2, "");
    figure_row(out, "Limit", user(i, a->alert.unit, a->alert.figures.limit), 1, unit);
    time_row(out, "Limit reached", a->limit_ns, utc);
    figure_row(out, "Worst", user(i, a->alert.unit, a->worst), 1, unit);
    time_row(out, "Worst at", isfinite(a->worst) ? a->worst_ns : 0, utc);
    time_row(out, "Over", a->over_ns, utc);
    if (a->over_ns == 0)
        fputs("<tr><th scope=\"row\" class=\"row\">Over</th><td>not before the "
              "end</td><td></td></tr>\n",
              out);
    fputs("</tbody>\n</table>\n", out);
}

static void write_alert(FILE *out, const struct incident *i, const struct incident_alert *a,
                        const struct marks *marks, bool utc)
{
    fputs("<section class=\"engine\">\n<h2>", out);
    plot_text(out, priority_text(a->highest));
    fputs(": ", out);
    plot_text(out, a->text);
    fputs("</h2>\n", out);
    if (a->curves > 0)
        write_curve(out, i, a, marks);
    write_figures(out, i, a, marks, utc);
    fputs("</section>\n", out);
}

/* What a reader must not take for known. */
static void write_unknown(FILE *out, const struct incident *i, const struct incident_log *log)
{
    const struct wire_stats *w = keeper_wire_stats(i->keeper);
    const struct plant *p = keeper_plant(i->keeper);
    unsigned long long cut = (unsigned long long)(w->fast_lost + w->tp_lost);
    bool any = false;

    fputs("<h2>What is not known</h2>\n<ul>\n", out);
    if (!log->clock_known)
        fputs("<li>The log's times are not clock times: only differences count.</li>\n", out);
    if (i->holes > 0)
        fprintf(out,
                "<li>Nothing at all was heard %d time%s of more than 10 s, %.0f s in all, "
                "unless the log's clock was set forward.</li>\n",
                i->holes, i->holes == 1 ? "" : "s", i->hole_s);
    if (log->bad_lines > 0 || log->lost_frames > 0)
        fprintf(out, "<li>%llu lines of the log could not be read, %llu frames were lost.</li>\n",
                (unsigned long long)log->bad_lines, (unsigned long long)log->lost_frames);
    if (cut > 0)
        fprintf(out, "<li>%llu longer messages came incomplete.</li>\n", cut);
    if (i->alerts_lost > 0)
        fprintf(out, "<li>%d more alerts are not told of in full.</li>\n", i->alerts_lost);
    for (size_t k = 0; k < plant_count(p); k++) {
        const struct channel *c = plant_channel(p, k);

        if (c->derived || c->switched_off || c->status == READING_OK || !c->repeats)
            continue;
        any = true;
        fputs("<li>", out);
        plot_text(out, c->key);
        fputs(c->status == READING_STALE ? " had fallen silent by the end.</li>\n"
                                         : " was not available at the end.</li>\n",
              out);
    }
    if (!any && log->clock_known && i->holes == 0 && log->bad_lines == 0 && log->lost_frames == 0 &&
        cut == 0 && i->alerts_lost == 0)
        fputs("<li>Nothing is missing from the log that it could show by itself.</li>\n", out);
    fputs("</ul>\n", out);
}

void incident_write_html(FILE *out, const struct incident *i, const struct incident_log *log,
                         const struct page_source *source, bool utc)
{
    char from[40], to[40];

    page_begin(out, "What happened", keeper_settings(i->keeper)->vessel);
    when_date(from, sizeof from, i->first.wall_ns, utc);
    when_date(to, sizeof to, i->last.wall_ns, utc);
    if (i->any)
        fprintf(out, "<p>%s to %s%s, %llu frames.</p>\n", from, to, utc ? " UTC" : "",
                (unsigned long long)log->frames);
    write_events(out, i, log->marks, utc);
    for (int k = 0; k < i->alerts; k++)
        write_alert(out, i, &i->alert[k], log->marks, utc);
    write_unknown(out, i, log);
    fputs(
        "<p class=\"small\">Figures are what the boat's own sensors said. The watch warns and does "
        "not judge: it does not find the cause.</p>\n",
        out);
    page_source(out, source);
    page_end(out);
}
