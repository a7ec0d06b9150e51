/* What the readings say of their senders: whose exhaust probe is whose; senders that hang. */
#include "report/trial/inside.h"

#include "base/text.h"
#include "base/when.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define SILENT_S   60   /* longer away is worth a word */
#define STOPPING_S 5    /* an engine that stops may be shown to turn for so long after its key */
#define BLOCK_S    30   /* for the probes: means over so long */
#define APART      0.15 /* difference of (speed/highest)^2 that counts as working differently */

/* Engines 0 and 1: does the difference of their exhausts go with the difference of their work, or
 * against it? Work is taken as speed squared; both as means of half a minute. */
static void add_pair(struct trial *t)
{
    const struct trial_series *a = trial_series_find(t, QTY_RPM, 0);
    const struct trial_series *b = trial_series_find(t, QTY_RPM, 1);
    double top, before = 0;
    bool settled;

    if (!a || !b)
        return;
    top = fmax(a->highest, b->highest);
    for (size_t from = 0; from + BLOCK_S <= t->wall_len; from += BLOCK_S) {
        size_t to = from + BLOCK_S;
        struct trial_stat na = trial_stat_of(t, QTY_RPM, 0, from, to);
        struct trial_stat nb = trial_stat_of(t, QTY_RPM, 1, from, to);
        struct trial_stat xa = trial_stat_of(t, QTY_EXHAUST, 0, from, to);
        struct trial_stat xb = trial_stat_of(t, QTY_EXHAUST, 1, from, to);
        double x, y;

        if (na.low < t->options.running_rpm || nb.low < t->options.running_rpm || na.n == 0 ||
            nb.n == 0 || xa.n == 0 || xb.n == 0)
            continue;
        x = (na.mean * na.mean - nb.mean * nb.mean) / (top * top);
        y = xa.mean - xb.mean;
        /* iron takes its time: only what has lasted for a block already counts */
        settled = fabs(x - before) < APART / 3;
        before = x;
        if (!settled)
            continue;
        t->pair_n++;
        t->pair_x += x;
        t->pair_y += y;
        t->pair_xx += x * x;
        t->pair_xy += x * y;
        t->pair_yy += y * y;
        t->pair_apart += fabs(x) > APART;
    }
}

/* --- senders that hang ------------------------------------------------------------------ */

/* An engine's reading that never moved by one step while the engine worked at speeds that differ
 * by a third. */
static void find_stuck_engine(struct trial *t)
{
    static const enum quantity watched[] = {QTY_EXHAUST,  QTY_EXHAUST_GAS,  QTY_COOLANT,
                                            QTY_OIL_TEMP, QTY_OIL_PRESSURE, QTY_FUEL_RATE};

    for (int i = 0; i < t->series_count; i++) {
        const struct trial_series *s = &t->series[i];
        const struct trial_series *rpm = trial_series_find(t, QTY_RPM, s->id.place);
        char key[CHANNEL_KEY_SIZE], text[240], number[32];
        bool is_watched = false;

        for (size_t k = 0; k < sizeof watched / sizeof watched[0]; k++)
            is_watched |= s->id.quantity == watched[k];
        if (!is_watched || !rpm || s->readings < 60 || s->highest > s->lowest ||
            rpm->highest < 4.0 / 3 * t->options.running_rpm)
            continue;
        channel_id_format(key, sizeof key, trial_bus_id(&t->report, s->id));
        text_number(number, sizeof number, s->first, 1);
        text_format(text, sizeof text, "%s said %s %s %llu times and nothing else: sender stuck?",
                    key, number, unit_text(quantity_info((enum quantity)s->id.quantity)->unit),
                    (unsigned long long)s->readings);
        trial_add_finding(&t->report, "stuck", key, NAN, NAN, text);
    }
}

static void find_exchanged(struct trial *t)
{
    double n = t->pair_n, sxx, sxy, syy, r;
    char text[240], a[20], b[20], key[CHANNEL_KEY_SIZE], other[CHANNEL_KEY_SIZE];

    if (n < 8 || t->pair_apart < 4)
        return;
    sxx = t->pair_xx - t->pair_x * t->pair_x / n;
    sxy = t->pair_xy - t->pair_x * t->pair_y / n;
    syy = t->pair_yy - t->pair_y * t->pair_y / n;
    r = sxy / sqrt(sxx * syy);
    if (!(r < -0.6))
        return;
    text_copy(a, sizeof a, t->report.engine_names[0]);
    text_copy(b, sizeof b, t->report.engine_names[1]);
    channel_id_format(key, sizeof key,
                      trial_bus_id(&t->report, (struct channel_id){QTY_EXHAUST, 0, 0}));
    channel_id_format(other, sizeof other,
                      trial_bus_id(&t->report, (struct channel_id){QTY_EXHAUST, 1, 0}));
    text_format(text, sizeof text,
                "%s follows %s's work and %s follows %s's: the probes are exchanged", key, b, other,
                a);
    trial_add_finding(&t->report, "exchanged", key, NAN, NAN, text);
}

/* --- senders that fall silent ------------------------------------------------------------- */

static bool any_runs(const struct trial *t, size_t second)
{
    for (int e = 0; e < TRIAL_ENGINES; e++) {
        const struct trial_series *rpm = trial_series_find(t, QTY_RPM, e);

        if (rpm && second < rpm->len && (double)rpm->mean[second] >= t->options.running_rpm)
            return true;
    }
    return false;
}

static bool engines_ran_after(const struct trial *t, size_t second)
{
    for (; second < t->wall_len; second++)
        if (any_runs(t, second))
            return true;
    return false;
}

/* Whether a channel was missed after it fell silent: one of an engine's where that engine ran then
 * or later, for its boxes go dark with its key; any other one where some engine ran later. */
static bool missed_after(const struct trial *t, const struct trial_series *s)
{
    const struct trial_series *rpm = trial_series_find(t, QTY_RPM, s->id.place);

    if (quantity_info(s->id.quantity)->place != PLACE_ENGINE || !rpm)
        return engines_ran_after(t, s->len + SILENT_S / 2);
    size_t end = s->len + STOPPING_S;
    for (size_t k = end; k < rpm->len; k++)
        if ((double)rpm->mean[k] >= t->options.running_rpm)
            return true;
    for (size_t k = end < rpm->len ? end : rpm->len; k-- > 0;)
        if (!isnan(rpm->mean[k]))
            return (double)rpm->mean[k] >= t->options.running_rpm &&
                   engines_ran_after(t, s->len + SILENT_S / 2);
    return false;
}

/* The slowest of what one box sends comes every 2.5 s. */
static bool together(const struct trial_series *a, const struct trial_series *b)
{
    size_t apart = a->len > b->len ? a->len - b->len : b->len - a->len;

    return apart <= 3;
}

static void key_of(const struct trial *t, char *key, size_t cap, const struct trial_series *s)
{
    if (s->id.quantity == QTY_NONE)
        text_copy(key, cap, "course and speed over ground");
    else
        channel_id_format(key, cap, trial_bus_id(&t->report, s->id));
}

static bool watched_for_silence(const struct trial_series *s)
{
    return s->readings >= 60 && (s->id.quantity != QTY_NONE || s->id.place == TRIAL_NORTH) &&
           s->id.quantity != QTY_SPEED_GROUND && s->id.quantity != QTY_BURN_ERROR;
}

static bool fell_silent(const struct trial *t, const struct trial_series *s)
{
    return watched_for_silence(s) && t->wall_len - s->len > SILENT_S && missed_after(t, s);
}

/* One finding of all that fell silent with this one and is not told yet: a box is lost as a whole.
 */
static void add_silent(struct trial *t, int first, bool told[TRIAL_SERIES])
{
    const struct trial_series *s = &t->series[first];
    char key[CHANNEL_KEY_SIZE], text[sizeof(struct trial_finding){0}.text], clock[24];
    size_t lost = t->wall_len - s->len;
    int more = 0;

    key_of(t, key, sizeof key, s);
    text_copy(text, sizeof text, key);
    for (int i = first + 1; i < t->series_count; i++) {
        char other[CHANNEL_KEY_SIZE];

        if (told[i] || !fell_silent(t, &t->series[i]) || !together(s, &t->series[i]))
            continue;
        told[i] = true;
        key_of(t, other, sizeof other, &t->series[i]);
        if (more > 0 || strlen(text) + strlen(other) > sizeof text - 110)
            more++;
        else
            text_append(text, sizeof text, ", %s", other);
    }
    if (more > 0)
        text_append(text, sizeof text, " and %d more", more);
    when_clock(clock, sizeof clock, t->wall_ns[s->len - 1], true);
    text_append(text, sizeof text,
                " fell silent at %s UTC, %zu s before the end: all after it is "
                "not known",
                clock, lost);
    trial_add_finding(&t->report, "silent", key, NAN, NAN, text);
}

/* What came in with gaps of its own while others spoke. */
static void add_away(struct trial *t, const struct trial_series *s)
{
    size_t heard = 0, first = 0, longest = 0, gap = 0;
    char key[CHANNEL_KEY_SIZE], text[240];

    while (first < s->len && isnan(s->mean[first]))
        first++;
    for (size_t k = first; k < s->len; k++) {
        bool there = !isnan(s->mean[k]);

        heard += there;
        gap = there || !t->any[k] ? (there ? 0 : gap) : gap + 1;
        longest = gap > longest ? gap : longest;
    }
    if (longest <= SILENT_S || !engines_ran_after(t, s->len > 1 ? s->len - 1 : 0))
        return;
    key_of(t, key, sizeof key, s);
    text_format(text, sizeof text,
                "%s was away for up to %zu s while others spoke; heard in %zu %% of the seconds",
                key, longest, 100 * heard / (s->len - first));
    trial_add_finding(&t->report, "silent", key, NAN, NAN, text);
}

/* What came in steadily and then no more, though the log and its engine went on. */
static void find_silent(struct trial *t)
{
    bool told[TRIAL_SERIES] = {false};

    for (int i = 0; i < t->series_count; i++) {
        if (told[i] || !watched_for_silence(&t->series[i]))
            continue;
        if (fell_silent(t, &t->series[i]))
            add_silent(t, i, told);
        else
            add_away(t, &t->series[i]);
    }
}

/* --- a cold boat ---------------------------------------------------------------------------- */

static int by_size(const void *a, const void *b)
{
    const double *x = a, *y = b;

    return *x < *y ? -1 : *x > *y;
}

/* Before the first start everything that was left to itself is as warm as everything else: who is
 * not shows a sensor that is off. Air and sea are left out, they go their own way. */
static void find_cold(struct trial *t)
{
    static const enum quantity watched[] = {QTY_EXHAUST, QTY_EXHAUST_GAS, QTY_COOLANT, QTY_OIL_TEMP,
                                            QTY_ENGINE_SPACE};
    struct trial_report *r = &t->report;
    double mean[TRIAL_SERIES], sorted[TRIAL_SERIES];
    struct channel_id id[TRIAL_SERIES];
    size_t before = 0;
    int n = 0;

    for (; before < t->wall_len && !any_runs(t, before); before++)
        ;
    for (int i = 0; i < t->series_count; i++) {
        struct channel_id c = t->series[i].id;
        struct trial_stat s = trial_stat_of(t, (enum quantity)c.quantity, c.place, 0, before);
        bool is_watched = false;

        for (size_t k = 0; k < sizeof watched / sizeof watched[0]; k++)
            is_watched |= c.quantity == watched[k];
        if (!is_watched || s.n < 3)
            continue;
        id[n] = c;
        mean[n++] = s.mean;
    }
    if (r->cold_heard > 0 || n < 4)
        return;
    for (int i = 0; i < n; i++)
        sorted[i] = mean[i];
    qsort(sorted, (size_t)n, sizeof *sorted, by_size);
    r->cold_heard = n;
    r->cold_c = (sorted[n / 2] + sorted[(n - 1) / 2]) / 2;
    for (int i = 0; i < n; i++) {
        double off = mean[i] - r->cold_c;

        r->cold_apart += fabs(off) > COLD_ALIKE_K;
        if (fabs(off) <= fabs(r->cold_spread_k))
            continue;
        r->cold_spread_k = off;
        channel_id_format(r->cold_off, sizeof r->cold_off, trial_bus_id(r, id[i]));
    }
}

void trial_senders_add(struct trial *t)
{
    add_pair(t);
    find_stuck_engine(t);
    find_silent(t);
    find_cold(t);
}

void trial_senders_finish(struct trial *t)
{
    find_exchanged(t);
}
