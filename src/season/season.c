#include "season/season.h"

#include "base/text.h"
#include "base/when.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define FIRST_TRIPS  8  /* never thinned: what everything is compared with */
#define NEWEST_TRIPS 60 /* nor these: what is happening now */

void season_free(struct season *s)
{
    free(s->trips);
    free(s->steps);
    free(s->marks);
    *s = (struct season){0};
}

int season_overlap(const struct season *s, int64_t from_ns, int64_t to_ns)
{
    for (int i = 0; i < s->trip_count; i++)
        if (from_ns <= s->trips[i].to_ns && to_ns >= s->trips[i].from_ns)
            return i;
    return -1;
}

/* Room for `more` further items of an array that is allocated by powers of two. */
static bool reserve(void **array, int count, int more, size_t size)
{
    size_t want = (size_t)count + (size_t)more, cap = 16, had = 16;

    while (cap < want)
        cap *= 2;
    while (had < (size_t)count)
        had *= 2;
    if (*array && cap == had)
        return true;
    void *grown = realloc(*array, cap * size);
    if (!grown)
        return false;
    *array = grown;
    return true;
}

bool season_add(struct season *s, const struct season_trip *trip, const struct season_step *steps,
                int count, int *overlaps)
{
    int at = s->trip_count, first = s->step_count;

    while (at > 0 && s->trips[at - 1].from_ns > trip->from_ns)
        at--;
    while (first > 0 && s->steps[first - 1].trip >= at)
        first--;
    *overlaps = season_overlap(s, trip->from_ns, trip->to_ns);
    if (*overlaps >= 0 || s->step_count + count > 2 * SEASON_STEPS)
        return false;
    if (!reserve((void **)&s->trips, s->trip_count, 1, sizeof *s->trips) ||
        !reserve((void **)&s->steps, s->step_count, count, sizeof *s->steps)) {
        s->starved = true;
        return false;
    }
    memmove(&s->trips[at + 1], &s->trips[at], (size_t)(s->trip_count - at) * sizeof *s->trips);
    memmove(&s->steps[first + count], &s->steps[first],
            (size_t)(s->step_count - first) * sizeof *s->steps);
    s->trips[at] = *trip;
    s->trip_count++;
    s->step_count += count;
    for (int i = 0; i < count; i++) {
        s->steps[first + i] = steps[i];
        s->steps[first + i].trip = at;
    }
    for (int i = first + count; i < s->step_count; i++)
        s->steps[i].trip++;
    return true;
}

bool season_mark(struct season *s, const struct season_mark *m)
{
    int at = s->mark_count;

    assert(s->marks || s->mark_count == 0);
    if (s->mark_count == SEASON_MARKS)
        return false;
    if (!reserve((void **)&s->marks, s->mark_count, 1, sizeof *s->marks)) {
        s->starved = true;
        return false;
    }
    while (at > 0 && s->marks[at - 1].wall_ns > m->wall_ns)
        at--;
    memmove(&s->marks[at + 1], &s->marks[at], (size_t)(s->mark_count - at) * sizeof *s->marks);
    s->marks[at] = *m;
    s->mark_count++;
    return true;
}

void season_take_out(struct season *s, int trip)
{
    int kept = 0;

    for (int i = 0; i < s->step_count; i++) {
        if (s->steps[i].trip == trip)
            continue;
        s->steps[kept] = s->steps[i];
        s->steps[kept].trip -= s->steps[kept].trip > trip;
        kept++;
    }
    s->step_count = kept;
    memmove(&s->trips[trip], &s->trips[trip + 1],
            (size_t)(s->trip_count - trip - 1) * sizeof *s->trips);
    s->trip_count--;
}

static bool same_second(int64_t a_ns, int64_t b_ns)
{
    return a_ns / NS_PER_S == b_ns / NS_PER_S; /* the file has no less */
}

/* Makes trip i, with its steps from before `until_ns`, part of what is to be added, and takes it
 * out of the season. */
static bool join(struct season *s, int i, int64_t until_ns, struct season_trip *trip,
                 struct season_step **steps, int *count)
{
    struct season_step *all = malloc((size_t)(s->step_count + *count) * sizeof *all);
    bool later = s->trips[i].from_ns > trip->from_ns;
    int n = later ? *count : 0;

    s->starved |= !all;
    if (!all)
        return false;
    for (int k = 0; k < s->step_count; k++)
        if (s->steps[k].trip == i && s->steps[k].wall_ns < until_ns)
            all[n++] = s->steps[k];
    memcpy(later ? all : all + n, *steps, (size_t)*count * sizeof *all);
    free(*steps);
    *steps = all;
    *count = later ? n : n + *count;
    if (s->trips[i].from_ns < trip->from_ns) {
        trip->from_ns = s->trips[i].from_ns;
        text_copy(trip->log, sizeof trip->log, s->trips[i].log);
    }
    if (s->trips[i].to_ns > trip->to_ns)
        trip->to_ns = s->trips[i].to_ns;
    season_take_out(s, i);
    return true;
}

bool season_put(struct season *s, const struct season_trip *trip, const struct season_step *steps,
                int count, int64_t before_ns)
{
    struct season_trip t = *trip;
    struct season_step *all = malloc((size_t)(count > 0 ? count : 1) * sizeof *all);
    int own = season_overlap(s, t.from_ns, t.to_ns), near;
    int64_t begin_ns = t.from_ns; /* what was read at rest comes before the first start */
    bool good = all != NULL;

    s->starved |= !good;
    if (good)
        memcpy(all, steps, (size_t)count * sizeof *all);
    for (int i = 0; i < count; i++)
        begin_ns = steps[i].wall_ns < begin_ns ? steps[i].wall_ns : begin_ns;
    if (good && own >= 0 && s->trips[own].to_ns / NS_PER_S < t.to_ns / NS_PER_S &&
        (same_second(s->trips[own].from_ns, t.from_ns) ||
         same_second(s->trips[own].to_ns, before_ns)))
        good = join(s, own, begin_ns - begin_ns % NS_PER_S, &t, &all, &count);
    while (good && season_overlap(s, t.from_ns, t.to_ns) < 0 &&
           (near = season_overlap(s, t.from_ns - SEASON_APART_NS, t.to_ns + SEASON_APART_NS)) >= 0)
        good = join(s, near, INT64_MAX, &t, &all, &count);
    good = good && season_add(s, &t, all, count, &near);
    free(all);
    return good;
}

void season_thin(struct season *s)
{
    while (s->trip_count > SEASON_TRIPS || s->step_count > SEASON_STEPS) {
        int closest = -1;
        int64_t gap = INT64_MAX;

        for (int i = FIRST_TRIPS; i < s->trip_count - NEWEST_TRIPS; i++) {
            int64_t around = s->trips[i + 1].from_ns - s->trips[i - 1].from_ns;
            if (around < gap) {
                gap = around;
                closest = i;
            }
        }
        if (closest < 0)
            return;
        season_take_out(s, closest);
    }
}
