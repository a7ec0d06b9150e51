#include "record/told.h"

#include "base/text.h"

#include "base/banned.h"

#define LOST_NS  (60 * NS_PER_S)   /* how long a loss is said to stand */
#define GIVEN_NS (3600 * NS_PER_S) /* and that an incident was given up */

bool told_init(struct told *t)
{
    t->conditions = condition_queue_new();
    return t->conditions != NULL;
}

void told_fini(struct told *t)
{
    condition_queue_free(t->conditions);
}

static void say(struct told *t, enum condition_sort sort, bool stands, const char *text,
                struct stamp now)
{
    struct bus_condition c = {
        .code = CONDITION_CODE(sort, 0), .priority = PRIORITY_CAUTION, .stands = stands, .at = now};
    text_copy(c.text, sizeof c.text, text);
    condition_put(t->conditions, &c);
}

static void change(struct told *t, enum condition_sort sort, bool *stood, bool stands,
                   const char *text, struct stamp now)
{
    if (*stood != stands)
        say(t, sort, stands, text, now);
    *stood = stands;
}

void told_refused(struct told *t, const char *why, struct stamp now)
{
    change(t, CONDITION_RECORD, &t->refused, true, why, now);
}

void told_works(struct told *t, struct stamp now)
{
    change(t, CONDITION_RECORD, &t->refused, false, "recording goes on", now);
}

void told_given(struct told *t, const char *incident, struct stamp now)
{
    char text[120];
    text_format(text, sizeof text, "no room: the incident %.70s was given up", incident);
    say(t, CONDITION_RECORD_GIVEN, true, text, now); /* each one by its name */
    t->given = true;
    t->given_ns = now.mono_ns;
}

void told_turn(struct told *t, uint64_t lost_frames, struct stamp now)
{
    bool more = lost_frames != t->lost_seen;
    t->lost_seen = lost_frames;
    if (more) {
        t->lost_ns = now.mono_ns;
        change(t, CONDITION_RECORD_LOST, &t->lost, true,
               "the record misses frames: the disk is too slow", now);
    } else if (now.mono_ns - t->lost_ns > LOST_NS) {
        change(t, CONDITION_RECORD_LOST, &t->lost, false, "the record is complete again", now);
    }
    if (now.mono_ns - t->given_ns >= GIVEN_NS)
        change(t, CONDITION_RECORD_GIVEN, &t->given, false,
               "no incident was given up in the last hour", now);
}
