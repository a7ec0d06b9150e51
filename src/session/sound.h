/* Sound of the board: the terminal's bell in a pattern for each priority, a user's command, or
 * none. What is to sound is the alert list's to say (IMO MSC.302(87)); this decides when. */
#ifndef STOKEHOLD_SESSION_SOUND_H
#define STOKEHOLD_SESSION_SOUND_H

#include "alerts/alert.h"
#include "hooks/horn.h"
#include "screen/term.h"

struct sounder {
    const struct screen_setting *setting;
    bool muted;
    enum alert_sound last;
    int64_t since_ns; /* when the sound that stands began */
    int64_t rung;     /* strokes given since then */
    struct horn horn;
};

/* now_ns is real monotonic time. emergency: the sound is an emergency alarm's. */
void sound_turn(struct sounder *s, struct term *t, enum alert_sound sound, bool emergency,
                int64_t now_ns);
/* Strokes of the bell due by `ns` after the sound began: two together every two seconds for an
 * alarm, one every half second for an emergency alarm, one in all for a warning. */
int64_t sound_strokes(enum alert_sound sound, bool emergency, int64_t ns);
/* How long until the next stroke, -1 where none will come. */
int64_t sound_wait_ns(const struct sounder *s, bool emergency, int64_t now_ns);

#endif
