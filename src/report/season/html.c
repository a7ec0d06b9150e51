/* The season as one page: what stands out, a picture of each channel's excess over the trips, and
 * what was normal over speed. Nothing is fetched, nothing runs; it prints on A4. */
#include "report/plot.h"
#include "report/season/report.h"

#include "base/text.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

static const char style[] =
    "body{font:11pt/1.4 sans-serif;color:#000;background:#fff;margin:0 auto;max-width:48em;"
    "padding:0 1em}\n"
    "h1{font-size:1.6em;margin:.6em 0 .1em}h2{font-size:1.15em;margin:1.4em 0 .3em;"
    "border-bottom:1px solid #000}\n"
    "table{border-collapse:collapse;font-size:.9em}\n"
    "th,td{padding:.15em .6em;text-align:left;border-bottom:1px solid #bbb;vertical-align:top}\n"
    "figure{margin:.8em 0;break-inside:avoid}figcaption{font-weight:bold;margin-bottom:.2em}\n"
    "svg{width:100%;height:auto;max-width:46em;font:13px sans-serif}.small{font-size:.88em}\n"
    "@page{size:A4;margin:15mm}@media print{body{max-width:none;padding:0;font-size:10pt}"
    "h2{break-after:avoid}tr{break-inside:avoid}}\n";

static const char *level_text(enum season_level l)
{
    return l == SEASON_WARNING    ? "WARNING"
           : l == SEASON_CAUTION  ? "caution"
           : l == SEASON_QUESTION ? "question"
                                  : "none";
}

static void write_findings(FILE *out, const struct season_report *r)
{
    int said = 0;

    for (int level = SEASON_WARNING; level > SEASON_QUIET; level--)
        for (int i = 0; i < r->count; i++) {
            const struct season_line *l = &r->lines[i];
            if (!l->told || (int)l->story.level != level)
                continue;
            if (said++ == 0)
                fputs("<table>\n<thead><tr><th scope=\"col\">How urgent</th><th "
                      "scope=\"col\">Where</th><th scope=\"col\">What</th><th scope=\"col\">What "
                      "to do</th></tr></thead>\n<tbody>\n",
                      out);
            fprintf(out, "<tr><td>%s</td><th scope=\"row\">", level_text(l->story.level));
            plot_text(out, l->name);
            fputs("</th><td>", out);
            plot_text(out, l->verdict);
            fputs("</td><td>", out);
            plot_text(out, l->advice);
            fputs("</td></tr>\n", out);
        }
    if (said)
        fputs("</tbody>\n</table>\n", out);
    else
        fprintf(out, "<p>%s</p>\n", season_quiet(r));
}

#define POINTS_MOST (2 * SEASON_TRIPS)
struct points {
    double x[POINTS_MOST], y[POINTS_MOST], error[POINTS_MOST];
};

/* Days since the first trip: what the pictures run over. */
static double day_of(const struct season_report *r, int64_t ns)
{
    return (double)(ns - r->season->trips[0].from_ns) / 86400e9;
}

/* What is known of a story's trips, after the n points that are there already. */
static size_t add_points(const struct season_report *r, const struct season_story *story,
                         struct points *to, size_t n)
{
    for (int i = 0; i < story->trips && n < POINTS_MOST; i++) {
        const struct season_excess *e = &story->trip[i];
        if (!e->known)
            continue;
        to->x[n] = day_of(r, season_trip_ns(r, e));
        to->y[n] = season_user(r, story->row, e->excess);
        to->error[n++] = season_user(r, story->row, 2 * e->error);
    }
    return n;
}

/* The channel's story, or, where work has begun a reference of which too little is known, that of
 * before; NULL: neither. */
static const struct season_story *story_of(const struct season_report *r, int line)
{
    if (r->lines[line].told)
        return &r->lines[line].story;
    for (int k = r->era_count; k-- > 0;)
        if (r->eras[k].line == line)
            return &r->eras[k].story;
    return NULL;
}

static void write_excess(FILE *out, const struct season_report *r, int line)
{
    static struct points now, before;
    const struct season_line *l = &r->lines[line];
    double zero_x[2], zero_y[2] = {0, 0}, up_y[2], down_y[2];
    double mark_x[SEASON_MARKS], mark_y[SEASON_MARKS];
    const struct season_story *story = story_of(r, line);
    const struct season_kept *kept = &season_kept[story->row];
    size_t n, old = 0, marks = 0;
    char title[400], unit[60], days[60], day[40];
    struct plot p = {.title = title, .x_label = days, .y_label = unit};

    n = l->told ? add_points(r, story, &now, 0) : 0;
    for (int k = 0; k < r->era_count; k++)
        if (r->eras[k].line == line)
            old = add_points(r, &r->eras[k].story, &before, old);
    if (n + old == 0)
        return;
    zero_x[0] = 0;
    zero_x[1] = fmax(n > 0 ? now.x[n - 1] : before.x[old - 1], 1);
    text_format(title, sizeof title, "%s%s: %s", l->name, season_over(l), l->verdict);
    season_day(day, sizeof day, r->season->trips[0].from_ns, true);
    text_format(days, sizeof days, "days since %s", day);
    text_format(unit, sizeof unit, "%s", season_user_unit(r, story->row));
    p.series[p.count++] =
        (struct plot_series){.name = "excess", .x = now.x, .y = now.y, .error = now.error, .n = n};
    if (old > 0)
        p.series[p.count++] =
            (struct plot_series){.name = "before the work, over the first trips of that time",
                                 .x = before.x,
                                 .y = before.y,
                                 .error = before.error,
                                 .n = old,
                                 .no_line = true};
    p.series[p.count++] = (struct plot_series){
        .name = "first trips", .x = zero_x, .y = zero_y, .n = 2, .no_marks = true};
    up_y[0] = up_y[1] = season_user(r, story->row, kept->caution);
    down_y[0] = down_y[1] = -up_y[0];
    if (kept->up)
        p.series[p.count++] = (struct plot_series){
            .name = "a caution", .x = zero_x, .y = up_y, .n = 2, .no_marks = true};
    if (kept->down)
        p.series[p.count++] = (struct plot_series){.name = kept->up ? "and below" : "a caution",
                                                   .x = zero_x,
                                                   .y = down_y,
                                                   .n = 2,
                                                   .no_marks = true};
    for (int i = 0; i < r->season->mark_count; i++) {
        const struct season_mark *m = &r->season->marks[i];
        if (!m->all && !channel_id_same(m->concerns, story->id))
            continue;
        mark_x[marks] = day_of(r, m->wall_ns);
        mark_y[marks++] = 0;
    }
    if (marks > 0)
        p.series[p.count++] = (struct plot_series){
            .name = "work done", .x = mark_x, .y = mark_y, .n = marks, .no_line = true};
    plot_write(out, &p);
}

static void write_marks(FILE *out, const struct season_report *r, bool utc)
{
    if (r->season->mark_count == 0)
        return;
    fputs("<h2>Work done</h2>\n<table>\n<tbody>\n", out);
    for (int i = 0; i < r->season->mark_count; i++) {
        const struct season_mark *m = &r->season->marks[i];
        char day[40], key[CHANNEL_KEY_SIZE] = "everything";
        season_day(day, sizeof day, m->wall_ns, utc);
        if (!m->all)
            channel_id_format(key, sizeof key, m->concerns);
        fprintf(out, "<tr><th scope=\"row\">%s</th><td>%s</td><td>", day, key);
        plot_text(out, m->words);
        fputs("</td></tr>\n", out);
    }
    fputs("</tbody>\n</table>\n", out);
}

/* What the steps of each month were, over speed. */
static void write_normal(FILE *out, const struct season_report *r, const struct season_line *l)
{
    enum { POINTS = 400, MONTHS = 6 };
    static double x[MONTHS][POINTS], y[MONTHS][POINTS];
    static char names[MONTHS][16];
    size_t n[MONTHS] = {0};
    int months = 0;
    char title[120];
    enum unit base = quantity_info(season_kept[l->story.row].quantity)->unit;
    enum unit u = settings_unit(r->settings, base);
    struct plot p = {.title = title, .x_label = "rpm", .y_label = unit_text(u)};

    for (int i = 0; i < r->season->step_count; i++) {
        const struct season_step *s = &r->season->steps[i];
        char month[40];
        if (!channel_id_same(s->id, l->story.id) || s->rpm <= 0)
            continue;
        season_day(month, sizeof month, s->wall_ns, true);
        month[7] = '\0';
        if (months == 0 || strcmp(month, names[months - 1]) != 0) {
            if (months == MONTHS)
                break;
            text_copy(names[months++], sizeof names[0], month);
        }
        size_t at = n[months - 1];
        if (at == POINTS)
            continue;
        x[months - 1][at] = s->rpm;
        y[months - 1][at] = unit_from_base(u, s->mean);
        n[months - 1]++;
    }
    for (int m = 0; m < months; m++)
        p.series[p.count++] = (struct plot_series){
            .name = names[m], .x = x[m], .y = y[m], .n = n[m], .no_line = true};
    text_format(title, sizeof title, "%s over engine speed, by month", l->name);
    if (months > 0)
        plot_write(out, &p);
}

void season_report_html(FILE *out, const struct season_report *r, bool utc)
{
    const struct season *s = r->season;
    char from[40] = "", to[40] = "";

    if (s->trip_count > 0) {
        season_day(from, sizeof from, s->trips[0].from_ns, utc);
        season_day(to, sizeof to, s->trips[s->trip_count - 1].from_ns, utc);
    }
    fputs("<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
          "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
          "<title>Season",
          out);
    fprintf(out, "</title>\n<style>\n%s</style>\n</head>\n<body>\n<h1>", style);
    plot_text(out, r->settings->vessel[0] ? r->settings->vessel : "Season");
    fprintf(out, "</h1>\n<p>%d trips, %s to %s; from <code>", s->trip_count, from, to);
    plot_text(out, r->file);
    fputs("</code></p>\n<h2>What stands out</h2>\n", out);
    write_findings(out, r);
    fputs("<h2>Trip by trip</h2>\n<p class=\"small\">Each picture shows how far a channel stood "
          "from the first trips at like speed, load and sea, brought to two thirds of the highest "
          "speed; bars are two standard errors. Zero is as on the first trips; a caution is raised "
          "where two trips in a row come near its line.</p>\n",
          out);
    for (int quiet = 0; quiet < 2; quiet++) /* what stands out comes first */
        for (int i = 0; i < r->count; i++)
            if (story_of(r, i) &&
                (!r->lines[i].told || r->lines[i].story.level == SEASON_QUIET) == quiet)
                write_excess(out, r, i);
    write_marks(out, r, utc);
    fputs("<h2>Over engine speed</h2>\n", out);
    for (int i = 0; i < r->count; i++)
        if (r->lines[i].told && r->lines[i].story.level > SEASON_QUIET &&
            !season_kept[r->lines[i].story.row].start)
            write_normal(out, r, &r->lines[i]);
    fputs("<p class=\"small\">This compares; it does not inspect. It never replaces a look at the "
          "engine, the engine maker's own alarms and intervals, or a licensed technician.</p>\n"
          "</body>\n</html>\n",
          out);
}
