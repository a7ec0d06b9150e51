#include "alerts/story.h"

#include "alerts/words.h"
#include "base/text.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

static void add_clock(char *dst, size_t cap, const char *what, int64_t wall_ns, bool utc)
{
    char clock[40];
    when_clock(clock, sizeof clock, wall_ns, utc);
    text_append(dst, cap, "%s %s", what, clock);
}

static void add_limit(char *dst, size_t cap, struct stamp passed, bool already, int64_t beyond_ns,
                      bool utc)
{
    char length[32];
    if (passed.wall_ns == 0)
        return;
    add_clock(dst, cap, already ? " already past its limit" : " limit passed", passed.wall_ns, utc);
    words_length(length, sizeof length, when_seconds(beyond_ns));
    text_append(dst, cap, " for %s,", length);
}

static void add_worst(char *dst, size_t cap, const struct alert_also *w, const struct settings *s,
                      bool utc)
{
    char value[48];
    if (!isfinite(w->worst))
        return;
    enum unit u = s ? settings_unit(s, w->unit) : w->unit;
    int decimals = u == UNIT_BAR ? 2 : w->decimals > 0 ? 1 : 0;
    text_number(value, sizeof value, unit_from_base(u, w->worst), decimals);
    text_append(dst, cap, " %s %s %s", w->worse > 0 ? "highest" : "lowest", value, unit_text(u));
    add_clock(dst, cap, "", w->worst_at.wall_ns, utc);
    text_append(dst, cap, ",");
}

void alert_story(char *dst, size_t cap, const struct alert *a, const struct settings *s, bool utc,
                 bool watched)
{
    const struct alert_also own = {.worst = a->worst,
                                   .worse = a->worse,
                                   .unit = a->unit,
                                   .decimals = a->decimals,
                                   .worst_at = a->worst_at};
    dst[0] = '\0';
    add_clock(dst, cap, "raised", a->raised.wall_ns, utc);
    text_append(dst, cap, ",");
    add_limit(dst, cap, a->limit_passed, a->already, a->beyond_ns, utc);
    add_worst(dst, cap, &own, s, utc);
    if (a->stopped.wall_ns) {
        add_clock(dst, cap, " engine stopped", a->stopped.wall_ns, utc);
        text_append(dst, cap, ",");
    }
    if (a->active)
        text_append(dst, cap, " still standing at the end");
    else
        add_clock(dst, cap, " over", a->rectified.wall_ns, utc);
    if (watched && a->acknowledged.wall_ns)
        add_clock(dst, cap, ", acknowledged", a->acknowledged.wall_ns, utc);
    else if (watched && a->priority > PRIORITY_CAUTION)
        text_append(dst, cap, ", not acknowledged");
    for (int i = 0; i < a->also_count; i++) {
        text_append(dst, cap, "; %s", a->also[i].channel);
        add_limit(dst, cap, a->also[i].limit_passed, a->also[i].already, a->also[i].beyond_ns, utc);
        add_worst(dst, cap, &a->also[i], s, utc);
        dst[strlen(dst) - 1] = '\0'; /* the last comma */
    }
}
