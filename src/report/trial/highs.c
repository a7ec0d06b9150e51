#include "report/trial/highs.h"

#include "base/json.h"
#include "base/text.h"
#include "report/page.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Codes, switches and what only ever counts up have no highest worth telling. */
static bool has_highest(enum quantity q)
{
    enum unit unit = quantity_info(q)->unit;
    return unit != UNIT_NONE && unit != UNIT_H && unit != UNIT_AH && q != QTY_TRIP_FUEL &&
           q != QTY_TOTAL_FUEL && q != QTY_RATED_SPEED;
}

void trial_high_add(struct trial_report *r, const struct channel *c, struct stamp at)
{
    int i = 0;
    if (c->derived || !has_highest((enum quantity)c->id.quantity))
        return;
    while (i < r->highs && strcmp(r->high[i].key, c->key) != 0)
        i++;
    if (i == TRIAL_HIGHS) {
        r->highs_lost = true;
        return;
    }
    struct trial_high *h = &r->high[i];
    if (i == r->highs) {
        r->highs++;
        *h = (struct trial_high){
            .quantity = (enum quantity)c->id.quantity, .highest = -INFINITY, .lowest = INFINITY};
        text_copy(h->key, sizeof h->key, c->key);
    }
    if (c->value > h->highest) {
        h->highest = c->value;
        h->highest_ns = at.wall_ns;
    }
    if (c->value < h->lowest) {
        h->lowest = c->value;
        h->lowest_ns = at.wall_ns;
    }
}

static int by_channel(const void *a, const void *b)
{
    const struct trial_high *x = a, *y = b;
    if (x->quantity != y->quantity)
        return x->quantity < y->quantity ? -1 : 1;
    return strcmp(x->key, y->key);
}

void trial_highs_sort(struct trial_report *r)
{
    qsort(r->high, (size_t)r->highs, sizeof r->high[0], by_channel);
}

/* As many as on the screen. */
static int decimals_of(const struct trial_high *h)
{
    return quantity_info(h->quantity)->decimals;
}

static const char *unit_of(const struct trial_report *r, const struct trial_high *h)
{
    return unit_text(settings_unit(r->settings, quantity_info(h->quantity)->unit));
}

static double user(const struct trial_report *r, const struct trial_high *h, double v)
{
    return trial_user(r, quantity_info(h->quantity)->unit, v);
}

void trial_highs_text(FILE *out, const struct trial_report *r, bool utc)
{
    if (r->highs == 0)
        return;
    fprintf(out, "\nHighest and lowest of the whole trial\n%-24s %10s  %-8s %10s  %s\n", "",
            "highest", "at", "lowest", "at");
    for (int i = 0; i < r->highs; i++) {
        const struct trial_high *h = &r->high[i];
        char high_at[24], low_at[24];
        when_clock(high_at, sizeof high_at, h->highest_ns, utc);
        when_clock(low_at, sizeof low_at, h->lowest_ns, utc);
        fprintf(out, "%-24s ", h->key);
        trial_put(out, user(r, h, h->highest), decimals_of(h), 10, "-");
        fprintf(out, "  %-8s ", high_at);
        trial_put(out, user(r, h, h->lowest), decimals_of(h), 10, "-");
        fprintf(out, "  %-8s  %s\n", low_at, unit_of(r, h));
    }
    if (r->highs_lost)
        fputs("  and more channels, for which there was no room\n", out);
}

void trial_highs_html(FILE *out, const struct trial_report *r, bool utc)
{
    if (r->highs == 0)
        return;
    fputs("<h2>Highest and lowest of the whole trial</h2>\n<div class=\"wide\">\n<table>\n<thead>"
          "<tr><th scope=\"col\">channel</th><th scope=\"col\">highest</th><th "
          "scope=\"col\">at</th><th scope=\"col\">lowest</th><th scope=\"col\">at</th><th "
          "scope=\"col\">unit</th></tr></thead>\n<tbody>\n",
          out);
    for (int i = 0; i < r->highs; i++) {
        const struct trial_high *h = &r->high[i];
        char high_at[24], low_at[24];
        when_clock(high_at, sizeof high_at, h->highest_ns, utc);
        when_clock(low_at, sizeof low_at, h->lowest_ns, utc);
        fprintf(out, "<tr><th scope=\"row\">%s</th><td>", h->key);
        trial_put(out, user(r, h, h->highest), decimals_of(h), 0, "-");
        fprintf(out, "</td><td>%s</td><td>", high_at);
        trial_put(out, user(r, h, h->lowest), decimals_of(h), 0, "-");
        fprintf(out, "</td><td>%s</td><td>%s</td></tr>\n", low_at, unit_of(r, h));
    }
    fputs("</tbody>\n</table>\n</div>\n", out);
    if (r->highs_lost)
        fputs("<p>And more channels, for which there was no room.</p>\n", out);
}

void trial_highs_json(FILE *out, const struct trial_report *r)
{
    fputs("\"highs\":[\n", out);
    for (int i = 0; i < r->highs; i++) {
        const struct trial_high *h = &r->high[i];
        struct json j;
        char buf[400];
        json_open(&j, buf, sizeof buf);
        json_string(&j, "channel", h->key);
        json_string(&j, "unit", unit_text(quantity_info(h->quantity)->unit));
        json_number(&j, "highest", h->highest, decimals_of(h) + 2);
        json_time(&j, "highest_time", h->highest_ns);
        json_number(&j, "lowest", h->lowest, decimals_of(h) + 2);
        json_time(&j, "lowest_time", h->lowest_ns);
        const char *text = json_close(&j);
        fprintf(out, "%.*s%s", text ? (int)strcspn(text, "\n") : 0, text ? text : "",
                i + 1 < r->highs ? ",\n" : "\n");
    }
    fputs("],\n", out);
}
