#include "session/sound.h"

#include <string.h>

#include "base/banned.h"

#define STROKE_NS (NS_PER_S / 4)

/* By priority and by how long nobody has acknowledged. Groups with a pause are an alarm, strokes
 * without a pause an emergency; a warning sounds once (MSC.302(87) 7.4, from memory). That it gets
 * denser, and when, is common practice, no source: who did not hear the first half minute is asleep
 * or below. */
static const struct sound_row {
    enum alert_sound sound;
    bool emergency;
    int64_t from_ns;
    struct sound_pattern pattern;
} rows[] = {
    {SOUND_WARNING, false, 0, {1, 0, 1}},
    {SOUND_ALARM, false, 0, {2, 8 * STROKE_NS, 1}},
    {SOUND_ALARM, false, 30 * NS_PER_S, {3, 6 * STROKE_NS, 2}},
    {SOUND_ALARM, false, 60 * NS_PER_S, {4, 6 * STROKE_NS, 3}},
    {SOUND_ALARM, true, 0, {1, 2 * STROKE_NS, 1}},
    {SOUND_ALARM, true, 30 * NS_PER_S, {1, STROKE_NS, 2}},
};
enum { ROWS = sizeof rows / sizeof *rows };

struct sound_pattern sound_pattern(const struct sound_due *due)
{
    struct sound_pattern p = {0};
    for (int i = 0; i < ROWS; i++)
        if (rows[i].sound == due->sound && rows[i].emergency == due->emergency &&
            due->waiting_ns >= rows[i].from_ns)
            p = rows[i].pattern;
    return p;
}

int64_t sound_waiting_ns(const struct alert *a, struct stamp now)
{
    if (a->state != ALERT_UNACKNOWLEDGED)
        return 0;
    return now.mono_ns - a->raised.mono_ns;
}

/* ---- the trial ---- */

static const struct {
    int64_t until_ns;
    struct sound_due due;
} trial[] = {
    {2 * NS_PER_S, {SOUND_WARNING, false, 0}},
    {6 * NS_PER_S, {SOUND_ALARM, false, 0}},
    {8 * NS_PER_S, {SOUND_ALARM, true, 0}},
};

bool sound_tried(int64_t ns, struct sound_due *due)
{
    for (size_t i = 0; i < sizeof trial / sizeof *trial; i++)
        if (ns < trial[i].until_ns) {
            *due = trial[i].due;
            return true;
        }
    return false;
}

void sound_try(struct sounder *s, int64_t now_ns)
{
    s->tried_ns = now_ns;
}

/* ---- strokes ---- */

static bool is_set(const struct sounder *s, const char *how)
{
    return strcmp(s->setting->sound, how) == 0;
}

bool sound_is_off(const struct sounder *s)
{
    return s->muted || (!is_set(s, "bell") && !is_set(s, "run"));
}

/* A command that cannot be run, fails or hangs must not leave an alarm without any sound. */
static void blow(struct sounder *s, struct term *t, const struct sound_due *due, int step,
                 int64_t now_ns)
{
    struct horn_call call = {.line = s->setting->sound_command,
                             .priority = due->emergency              ? "emergency"
                                         : due->sound == SOUND_ALARM ? "alarm"
                                                                     : "warning",
                             .step = step};
    if (!horn_blow(&s->horn, &call, now_ns))
        term_bell(t);
}

/* The command is told once a cycle, the bell strikes each stroke. */
static void strike(struct sounder *s, struct term *t, const struct sound_due *due, int step,
                   int64_t now_ns)
{
    if (s->muted)
        return;
    if (is_set(s, "bell"))
        term_bell(t);
    else if (is_set(s, "run") && s->given == 0)
        blow(s, t, due, step, now_ns);
}

static void plan_next(struct sounder *s, const struct sound_pattern *p, int64_t now_ns)
{
    s->strokes++;
    s->given++;
    s->next_ns += STROKE_NS;
    if (s->given >= p->strokes) {
        s->given = 0;
        s->begun_ns += p->cycle_ns;
        s->next_ns = p->cycle_ns ? s->begun_ns : INT64_MAX;
    }
    if (s->next_ns < now_ns) { /* what was missed is not made up for */
        s->begun_ns += now_ns + STROKE_NS - s->next_ns;
        s->next_ns = now_ns + STROKE_NS;
    }
}

void sound_turn(struct sounder *s, struct term *t, const struct sound_due *asked, int64_t now_ns)
{
    struct sound_due due = *asked;
    if (due.sound != SOUND_NONE || (s->tried_ns && !sound_tried(now_ns - s->tried_ns, &due)))
        s->tried_ns = 0;
    if (horn_turn(&s->horn) && !s->muted && due.sound != SOUND_NONE)
        term_bell(t);
    if (due.sound != s->last || due.emergency != s->last_emergency) {
        s->last = due.sound;
        s->last_emergency = due.emergency;
        s->given = 0;
        s->begun_ns = s->next_ns = now_ns;
    }
    struct sound_pattern p = sound_pattern(&due);
    if (p.strokes == 0)
        s->next_ns = INT64_MAX;
    if (now_ns < s->next_ns)
        return;
    strike(s, t, &due, p.step, now_ns);
    plan_next(s, &p, now_ns);
}

int64_t sound_wait_ns(const struct sounder *s, int64_t now_ns)
{
    if (s->tried_ns)
        return STROKE_NS;
    if (s->last == SOUND_NONE || s->muted || s->next_ns == INT64_MAX)
        return -1;
    return s->next_ns > now_ns ? s->next_ns - now_ns : 0;
}
