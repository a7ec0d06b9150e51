#include "plant/steady.h"

#include "base/when.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

#define SILENT_S    5   /* engine speed not heard for longer ends a stretch */
#define STEP_MOST_K 1.0 /* a coarser sensor says nothing of a climb */
#define STEPS_MAX   512 /* later ones are not kept: a day of trials has some tens */

const struct steady_options steady_defaults = {
    .speed_part = 0.015, .drift_k = 0.5, .settle_s = 60, .running_rpm = 300};

struct second { /* what one temperature gave within one second */
    float sum;
    uint32_t count;
};

struct speed {
    double sum; /* within this second */
    uint32_t count;
    double mean; /* since the stretch began, of whole seconds */
    uint32_t seconds;
    double step_sum;       /* since the step began */
    uint32_t step_seconds; /* 0: it does not run in this step */
    int64_t heard_s;
    bool heard, running;
};

struct steady {
    struct steady_options options;
    int64_t now_s; /* the second being gathered */
    bool started;
    bool constant, settled;
    int64_t speed_from_s, from_s;
    bool settled_already;
    struct speed speeds[STEADY_ENGINES];
    struct second (*temps)[STEADY_SETTLE_MAX]; /* rings by second */
    bool temp_known[STEADY_TEMPS];
    int64_t temp_heard_s[STEADY_TEMPS];
    double temp_last[STEADY_TEMPS];
    double temp_step[STEADY_TEMPS]; /* smallest change seen between two readings; 0: none yet */
    struct steady_step *steps;
    size_t count;
};

struct steady *steady_new(const struct steady_options *options)
{
    struct steady *s = calloc(1, sizeof *s);
    if (s == NULL)
        return NULL;
    s->options = options != NULL ? *options : steady_defaults;
    if (s->options.settle_s < 4)
        s->options.settle_s = 4;
    if (s->options.settle_s > STEADY_SETTLE_MAX)
        s->options.settle_s = STEADY_SETTLE_MAX;
    s->options.settle_s &= ~1;
    s->temps = calloc(STEADY_TEMPS, sizeof *s->temps);
    s->steps = calloc(STEPS_MAX, sizeof *s->steps);
    if (s->temps == NULL || s->steps == NULL) {
        steady_free(s);
        return NULL;
    }
    return s;
}

void steady_free(struct steady *s)
{
    if (s == NULL)
        return;
    free(s->temps);
    free(s->steps);
    free(s);
}

/* A sensor that counts in whole kelvins tips from one to the next while nothing happens: one such
 * step is not a climb. */
static double allowed_k(const struct steady *s, int index)
{
    double step = s->temp_step[index];

    return step <= STEP_MOST_K && step > s->options.drift_k / 2
               ? step * 1.01 + s->options.drift_k / 2
               : s->options.drift_k;
}

/* Whether there is anything to stand still, and whether all of it does. */
static bool temps_settled(const struct steady *s, int64_t last_s)
{
    int half = s->options.settle_s / 2;
    bool any = false;
    for (int i = 0; i < STEADY_TEMPS; i++) {
        if (!s->temp_known[i] || last_s - s->temp_heard_s[i] > s->options.settle_s)
            continue;
        double sum[2] = {0, 0};
        double count[2] = {0, 0};
        for (int k = 0; k < s->options.settle_s; k++) {
            const struct second *b =
                &s->temps[i][(last_s + STEADY_SETTLE_MAX - k) % STEADY_SETTLE_MAX];
            sum[k / half] += (double)b->sum;
            count[k / half] += b->count;
        }
        if (count[0] < 1 || count[1] < 1 ||
            fabs(sum[0] / count[0] - sum[1] / count[1]) >= allowed_k(s, i))
            return false;
        any = true;
    }
    return any;
}

static struct steady_step step_of(const struct steady *s, int64_t to_s)
{
    struct steady_step step = {.speed_from_ns = s->speed_from_s * NS_PER_S,
                               .from_ns = s->from_s * NS_PER_S,
                               .to_ns = to_s * NS_PER_S,
                               .settled_already = s->settled_already};
    for (int e = 0; e < STEADY_ENGINES; e++) {
        if (s->speeds[e].step_seconds == 0)
            continue;
        step.engines |= (uint8_t)(1u << e);
        step.rpm[e] = s->speeds[e].step_sum / s->speeds[e].step_seconds;
    }
    return step;
}

static void end_step(struct steady *s, int64_t to_s)
{
    if (s->settled && s->count < STEPS_MAX)
        s->steps[s->count++] = step_of(s, to_s);
    s->settled = false;
}

static void begin_stretch(struct steady *s, int64_t from_s)
{
    s->constant = false;
    for (int e = 0; e < STEADY_ENGINES; e++) {
        s->speeds[e].seconds = 0;
        s->speeds[e].mean = 0;
        s->constant |= s->speeds[e].running;
    }
    s->speed_from_s = from_s;
}

/* Takes the second that is over into one engine's stretch; false where that ends it. */
static bool take_speed(const struct steady *s, struct speed *v)
{
    if (v->count == 0) {
        bool lost = v->heard && v->running && s->now_s - v->heard_s > SILENT_S;
        v->running = v->running && !lost;
        return !lost;
    }
    double rpm = v->sum / v->count;
    v->heard = true;
    v->heard_s = s->now_s;
    bool running = rpm >= s->options.running_rpm;
    if (running != v->running) {
        v->running = running;
        return false;
    }
    if (!running)
        return true;
    if (v->seconds > 0 && fabs(rpm - v->mean) > s->options.speed_part * v->mean)
        return false;
    v->seconds++;
    v->mean += (rpm - v->mean) / v->seconds;
    return true;
}

static void take_second(struct steady *s)
{
    bool goes_on = true;
    for (int e = 0; e < STEADY_ENGINES; e++)
        goes_on &= take_speed(s, &s->speeds[e]);
    if (!goes_on) {
        end_step(s, s->now_s);
        begin_stretch(s, s->now_s);
        for (int e = 0; e < STEADY_ENGINES; e++) /* this second is the first of the new one */
            take_speed(s, &s->speeds[e]);
    }
    bool settled = s->constant && temps_settled(s, s->now_s) &&
                   s->now_s - s->speed_from_s + 1 >= s->options.settle_s;
    if (settled && !s->settled) {
        s->settled = true;
        s->from_s = s->now_s + 1 - s->options.settle_s;
        s->settled_already = s->from_s <= s->speed_from_s;
        /* The mean of the stretch stands for the seconds before it was known. */
        for (int e = 0; e < STEADY_ENGINES; e++) {
            struct speed *v = &s->speeds[e];
            v->step_seconds = v->running ? (uint32_t)s->options.settle_s : 0;
            v->step_sum = v->mean * v->step_seconds;
        }
    } else if (settled) {
        for (int e = 0; e < STEADY_ENGINES; e++) {
            struct speed *v = &s->speeds[e];
            if (v->count > 0 && v->step_seconds > 0) {
                v->step_sum += v->sum / v->count;
                v->step_seconds++;
            }
        }
    } else if (s->settled) {
        end_step(s, s->now_s);
    }
}

/* Brings the gathering to the second of t_ns. */
static void step_to(struct steady *s, int64_t t_ns)
{
    int64_t t_s = t_ns / NS_PER_S;
    if (!s->started) {
        s->started = true;
        s->now_s = t_s;
    }
    if (t_s - s->now_s > 2 * STEADY_SETTLE_MAX) /* a hole that nobody told of */
        steady_break(s, t_ns);
    while (s->now_s < t_s) {
        take_second(s);
        s->now_s++;
        for (int e = 0; e < STEADY_ENGINES; e++) {
            s->speeds[e].sum = 0;
            s->speeds[e].count = 0;
        }
        for (int i = 0; i < STEADY_TEMPS; i++)
            s->temps[i][s->now_s % STEADY_SETTLE_MAX] = (struct second){0};
    }
}

void steady_rpm(struct steady *s, int64_t t_ns, int engine, double rpm)
{
    if (engine < 0 || engine >= STEADY_ENGINES || t_ns < 0 || !isfinite(rpm))
        return;
    step_to(s, t_ns);
    s->speeds[engine].sum += rpm;
    s->speeds[engine].count++;
}

void steady_temp(struct steady *s, int64_t t_ns, int index, double celsius)
{
    if (index < 0 || index >= STEADY_TEMPS || t_ns < 0 || !isfinite(celsius))
        return;
    step_to(s, t_ns);
    struct second *b = &s->temps[index][s->now_s % STEADY_SETTLE_MAX];
    b->sum += (float)celsius;
    b->count++;
    double change = fabs(celsius - s->temp_last[index]);
    if (s->temp_known[index] && change > 0 &&
        (s->temp_step[index] == 0 || change < s->temp_step[index]))
        s->temp_step[index] = change;
    s->temp_last[index] = celsius;
    s->temp_known[index] = true;
    s->temp_heard_s[index] = s->now_s;
}

void steady_break(struct steady *s, int64_t t_ns)
{
    if (!s->started)
        return;
    end_step(s, s->now_s);
    for (int e = 0; e < STEADY_ENGINES; e++)
        s->speeds[e] = (struct speed){0};
    for (int i = 0; i < STEADY_TEMPS; i++) {
        s->temp_known[i] = false;
        for (int k = 0; k < STEADY_SETTLE_MAX; k++)
            s->temps[i][k] = (struct second){0};
    }
    s->constant = false;
    int64_t t_s = t_ns / NS_PER_S;
    if (t_s > s->now_s)
        s->now_s = t_s;
}

size_t steady_count(const struct steady *s)
{
    return s->count;
}

const struct steady_step *steady_at(const struct steady *s, size_t i)
{
    return i < s->count ? &s->steps[i] : NULL;
}
