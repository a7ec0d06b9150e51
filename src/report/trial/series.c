/* The one-second series of the log being read: kept while it is read, asked when it is over. */
#include "report/trial/inside.h"

#include "base/text.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

struct trial_series *trial_series_of(struct trial *t, struct channel_id id)
{
    struct trial_series *s;

    for (int i = 0; i < t->series_count; i++)
        if (channel_id_same(t->series[i].id, id))
            return &t->series[i];
    if (t->series_count == TRIAL_SERIES)
        return NULL;
    s = &t->series[t->series_count++];
    *s = (struct trial_series){.id = id, .second = -1, .lowest = INFINITY, .highest = -INFINITY};
    return s;
}

static bool grow(struct trial *t, float **array, size_t *cap, size_t need)
{
    size_t more = *cap ? *cap : 1024;
    float *bigger;

    if (need <= *cap && *array)
        return true;
    while (more < need)
        more *= 2;
    bigger = realloc(*array, more * sizeof **array);
    if (!bigger) {
        t->failed = true;
        return false;
    }
    *array = bigger;
    *cap = more;
    return true;
}

/* Writes the second that is over. */
void trial_series_close(struct trial *t, struct trial_series *s)
{
    size_t at = (size_t)s->second, low_cap = s->cap;
    bool keeps_low = s->id.quantity == QTY_BATTERY_VOLTS;

    if (s->second < 0 || s->count == 0)
        return;
    if (keeps_low && !grow(t, &s->low, &low_cap, at + 1))
        return;
    if (!grow(t, &s->mean, &s->cap, at + 1))
        return;
    for (; s->len <= at; s->len++) {
        s->mean[s->len] = NAN;
        if (keeps_low)
            s->low[s->len] = NAN;
    }
    s->mean[at] = (float)(s->sum / s->count);
    if (keeps_low)
        s->low[at] = (float)s->least;
    s->count = 0;
}

void trial_series_add(struct trial *t, struct trial_series *s, int64_t second, double value)
{
    if (second < s->second)
        second = s->second; /* time never goes back in mono; a late one counts now */
    if (second != s->second) {
        trial_series_close(t, s);
        s->second = second;
        s->sum = 0;
        s->count = 0;
        s->least = INFINITY;
    }
    s->sum += value;
    s->count++;
    s->least = fmin(s->least, value);
    if (s->readings++ == 0)
        s->first = s->last = value;
    if (value != s->last && (s->step == 0 || fabs(value - s->last) < s->step))
        s->step = fabs(value - s->last);
    s->last = value;
    s->lowest = fmin(s->lowest, value);
    s->highest = fmax(s->highest, value);
}

void trial_series_free(struct trial *t)
{
    for (int i = 0; i < t->series_count; i++) {
        free(t->series[i].mean);
        free(t->series[i].low);
    }
    t->series_count = 0;
    t->wall_len = 0;
}

const struct trial_series *trial_series_find(const struct trial *t, enum quantity q, int place)
{
    for (int i = 0; i < t->series_count; i++)
        if (t->series[i].id.quantity == q && t->series[i].id.place == place)
            return &t->series[i];
    return NULL;
}

/* Means of ten seconds, as they come. */
struct blocks {
    double n, sum, squares;
    double pairs, pair_sum, products; /* of each with the next */
    double before;
    bool any_before;
    double part; /* of the one being gathered */
    int in_part;
};

static void block_close(struct blocks *b)
{
    double v = b->part / b->in_part;

    if (b->in_part == 0) {
        b->any_before = false;
        return;
    }
    b->n++;
    b->sum += v;
    b->squares += v * v;
    if (b->any_before) {
        b->pairs++;
        b->pair_sum += v + b->before;
        b->products += v * b->before;
    }
    b->before = v;
    b->any_before = true;
    b->part = 0;
    b->in_part = 0;
}

struct trial_stat trial_stat_of(const struct trial *t, enum quantity q, int place, size_t from,
                                size_t to)
{
    const struct trial_series *s = trial_series_find(t, q, place);
    struct trial_stat r = {.low = INFINITY, .high = -INFINITY, .error = NAN};
    struct blocks b = {0};
    double sum = 0, mean;

    if (!s)
        return (struct trial_stat){.error = NAN};
    for (size_t i = from; i < to && i < s->len; i++) {
        if (i > from && (i - from) % 10 == 0)
            block_close(&b);
        if (isnan(s->mean[i]))
            continue;
        sum += (double)s->mean[i];
        b.part += (double)s->mean[i];
        b.in_part++;
        r.n++;
        r.low = fmin(r.low, (double)s->mean[i]);
        r.high = fmax(r.high, (double)s->mean[i]);
    }
    if (r.n == 0)
        return (struct trial_stat){.error = NAN};
    r.mean = sum / r.n;
    r.blocks = b.n;
    mean = b.n > 0 ? b.sum / b.n : 0;
    r.squares = fmax(0, b.squares - b.n * mean * mean);
    r.products = b.products - mean * b.pair_sum + b.pairs * mean * mean;
    return r;
}

void trial_add_finding(struct trial_report *r, const char *kind, const char *channel, double value,
                       double error, const char *text)
{
    struct trial_finding *f;

    if (r->findings == TRIAL_FINDINGS)
        return;
    f = &r->finding[r->findings++];
    *f = (struct trial_finding){.value = value, .error = error};
    text_copy(f->kind, sizeof f->kind, kind);
    text_copy(f->channel, sizeof f->channel, channel);
    text_copy(f->text, sizeof f->text, text);
}
