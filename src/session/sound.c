#include "session/sound.h"

#include <string.h>

#include "base/banned.h"

#define STROKE_NS (NS_PER_S / 4)

int64_t sound_strokes(enum alert_sound sound, bool emergency, int64_t ns)
{
    if (sound == SOUND_NONE || ns < 0)
        return 0;
    if (sound == SOUND_WARNING)
        return 1;
    if (emergency)
        return 1 + ns / (2 * STROKE_NS);
    int64_t cycle = ns / (8 * STROKE_NS), within = ns % (8 * STROKE_NS);
    return 2 * cycle + (within >= STROKE_NS ? 2 : 1);
}

/* A command that cannot be run, fails or hangs must not leave an alarm without any sound. */
static void blow(struct sounder *s, struct term *t, const char *word, int64_t now_ns)
{
    if (!horn_blow(&s->horn, s->setting->sound_command, word, now_ns))
        term_bell(t);
}

void sound_turn(struct sounder *s, struct term *t, enum alert_sound sound, bool emergency,
                int64_t now_ns)
{
    if (horn_turn(&s->horn) && !s->muted && sound != SOUND_NONE)
        term_bell(t);
    if (sound != s->last) {
        s->last = sound;
        s->since_ns = now_ns;
        s->rung = 0;
    }
    int64_t due = sound_strokes(sound, emergency, now_ns - s->since_ns);
    if (due <= s->rung)
        return;
    bool first = s->rung == 0;
    s->rung = due; /* what was missed is not made up for */
    if (s->muted)
        return;
    if (strcmp(s->setting->sound, "bell") == 0)
        term_bell(t);
    else if (strcmp(s->setting->sound, "run") == 0 && (first || sound == SOUND_ALARM))
        blow(s, t, emergency ? "emergency" : sound == SOUND_ALARM ? "alarm" : "warning", now_ns);
}

int64_t sound_wait_ns(const struct sounder *s, bool emergency, int64_t now_ns)
{
    if (s->last != SOUND_ALARM || s->muted)
        return -1;
    for (int64_t wait = STROKE_NS / 2; wait < 8 * STROKE_NS; wait += STROKE_NS / 2)
        if (sound_strokes(s->last, emergency, now_ns - s->since_ns + wait) > s->rung)
            return wait;
    return 8 * STROKE_NS;
}
