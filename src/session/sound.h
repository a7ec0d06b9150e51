/* Sound of the board: the terminal's bell in a pattern for each priority, a user's command, or
 * none. What is to sound is the alert list's to say (IMO MSC.302(87)); this decides when. The
 * longer nobody acknowledges, the denser an alarm sounds: one table has the patterns. */
#ifndef STOKEHOLD_SESSION_SOUND_H
#define STOKEHOLD_SESSION_SOUND_H

#include "alerts/alert.h"
#include "hooks/horn.h"
#include "screen/term.h"

/* Strokes at every quarter of a second, so many together, then quiet until the cycle is over. */
struct sound_pattern {
    int strokes;
    int64_t cycle_ns; /* 0: it sounds once */
    int step;         /* 1: from the start; 2, 3: denser */
};

/* What is to sound now. */
struct sound_due {
    enum alert_sound sound;
    bool emergency;     /* it is an emergency alarm's */
    int64_t waiting_ns; /* so long nobody has acknowledged, in the time of the trip */
};

struct sounder {
    const struct screen_setting *setting;
    bool muted;
    enum alert_sound last;
    bool last_emergency;
    int given;        /* strokes of this cycle */
    int64_t begun_ns; /* the cycle */
    int64_t next_ns;  /* the next stroke; INT64_MAX: none will come */
    int64_t tried_ns; /* the sounds are being tried since then; 0: they are not */
    uint64_t strokes; /* due since the start, heard or not */
    struct horn horn;
};

struct sound_pattern sound_pattern(const struct sound_due *due);
/* For an alert listed: since when it waits for somebody to acknowledge it. */
int64_t sound_waiting_ns(const struct alert *a, struct stamp now);

/* now_ns is real monotonic time, which strokes follow. */
void sound_turn(struct sounder *s, struct term *t, const struct sound_due *due, int64_t now_ns);
/* Begins a trial of the sounds: warning, alarm, emergency alarm, one after another. What really is
 * to sound ends it. */
void sound_try(struct sounder *s, int64_t now_ns);
/* What a trial sounds `ns` after it began; false when it is over. */
bool sound_tried(int64_t ns, struct sound_due *due);
/* How long until the next stroke, -1 where none will come. */
int64_t sound_wait_ns(const struct sounder *s, int64_t now_ns);
/* Nothing would be heard: switched off by key, or by the configuration. */
bool sound_is_off(const struct sounder *s);

#endif
