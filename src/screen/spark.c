#include "screen/spark.h"

#include "screen/glyphs.h"

#include <math.h>

#include "base/banned.h"

double scale_nice(double v)
{
    if (!(v > 0))
        return 1;
    double p = pow(10, floor(log10(v)));
    static const double steps[] = {1, 2, 5, 10};
    for (int i = 0; i < 4; i++)
        if (steps[i] * p >= v * (1 - 1e-9))
            return steps[i] * p;
    return 10 * p;
}

static void widen(struct scale *s, const struct model_channel *c)
{
    if (!c || !c->has_extremes)
        return;
    if (c->low < s->low)
        s->low = c->low < 0 ? -scale_nice(-c->low) : c->low;
    if (c->high > s->high)
        s->high = scale_nice(c->high);
}

struct scale scale_for(const struct model_channel *c, const struct model_channel *twin)
{
    struct scale s = {0, 0};
    if (c->unit == UNIT_V && c->nominal_volts)
        s = (struct scale){0.8 * c->nominal_volts, 1.3 * c->nominal_volts};
    else if (c->unit == UNIT_PERCENT)
        s.high = 100;
    else if (c->id.quantity == QTY_GEAR)
        s = (struct scale){-1, 1};
    else if (c->has_limit && c->limit_above)
        s.high = c->limit;
    else if (c->unit == UNIT_C)
        s.high = 50;
    widen(&s, c);
    widen(&s, twin);
    if (!(s.high > s.low))
        s.high = s.low + 1;
    return s;
}

int scale_level(struct scale s, double v, int h)
{
    int top = 8 * h - 1;
    double part = (v - s.low) / (s.high - s.low);
    if (!(part > 0))
        return 1;
    return part < 1 ? 1 + (int)floor(part * (top - 1) + 0.5) : top;
}

/* One column: the level in eighths, filled from below. */
static void draw_column(struct grid *g, struct rect r, int x, int level, enum role role)
{
    for (int row = 0; row < r.h; row++) {
        int eighths = level - 8 * row;
        /* What lies under the curve is only hinted at: a wall of blocks is no calm sight. */
        if (eighths > 8)
            grid_put(g, x, r.y + r.h - 1 - row, GLYPH_SHADE, role == ROLE_TREND ? ROLE_KEEL : role,
                     0);
        else if (eighths > 0)
            grid_put(g, x, r.y + r.h - 1 - row, glyph_level(eighths), role, 0);
    }
}

bool spark_column(const struct history *h, int64_t from_ns, int64_t to_ns, int64_t now_ns,
                  int64_t period_ns, struct history_bucket *b)
{
    struct history_bucket after;
    if (from_ns < 0)
        return false;
    if (history_span(h, from_ns, to_ns, b))
        return true;
    int64_t reach = period_ns + period_ns / 2, before = from_ns > reach ? from_ns - reach : 0;
    if (reach <= 0 || to_ns - from_ns >= 2 * reach || !history_span(h, before, from_ns, b))
        return false;
    return to_ns + reach > now_ns || history_span(h, to_ns, to_ns + reach, &after);
}

void spark_draw(struct grid *g, struct rect r, const struct history *h, const struct spark *s)
{
    if (r.w <= 0 || r.h <= 0 || !h)
        return;
    int64_t width = s->span_ns / r.w;
    if (width < NS_PER_S)
        width = NS_PER_S;
    int64_t last = s->now_ns / width; /* index of the stretch that now is in */
    for (int i = 0; i < r.w; i++) {
        int64_t from = (last - (r.w - 1 - i)) * width;
        struct history_bucket b;
        if (!spark_column(h, from, from + width, s->now_ns, s->period_ns, &b))
            continue;
        /* The peak that matters is what is shown, never averaged away. */
        double v = !s->has_limit ? (double)b.mean : s->limit_above ? (double)b.high : (double)b.low;
        bool over = s->has_limit && (s->limit_above ? v > s->limit : v < s->limit);
        draw_column(g, r, r.x + i, scale_level(s->scale, v, r.h), over ? s->over : ROLE_TREND);
    }
    if (r.h >= 3 && s->has_limit && s->limit < s->scale.high && s->limit > s->scale.low) {
        int y = r.y + r.h - 1 - (scale_level(s->scale, s->limit, r.h) - 1) / 8;
        for (int x = r.x; x < r.x + r.w; x++)
            if (y >= 0 && y < g->rows && x < g->cols && grid_at(g, x, y)->ch == ' ')
                grid_put(g, x, y, 0x2504, ROLE_LIMIT, 0);
    }
}
