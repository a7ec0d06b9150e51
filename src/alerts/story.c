#include "alerts/story.h"

#include "alerts/words.h"
#include "base/text.h"

#include <math.h>

#include "base/banned.h"

static void add_clock(char *dst, size_t cap, const char *what, int64_t wall_ns, bool utc)
{
    char clock[40];
    when_clock(clock, sizeof clock, wall_ns, utc);
    text_append(dst, cap, "%s %s", what, clock);
}

static void add_worst(char *dst, size_t cap, const struct alert *a, const struct settings *s,
                      bool utc)
{
    char value[48];
    enum unit u = s ? settings_unit(s, a->unit) : a->unit;
    int decimals = u == UNIT_BAR ? 2 : a->decimals > 0 ? 1 : 0;
    text_number(value, sizeof value, unit_from_base(u, a->worst), decimals);
    text_append(dst, cap, ", %s %s %s", a->worse > 0 ? "highest" : "lowest", value, unit_text(u));
    add_clock(dst, cap, "", a->worst_at.wall_ns, utc);
}

void alert_story(char *dst, size_t cap, const struct alert *a, const struct settings *s, bool utc,
                 bool watched)
{
    dst[0] = '\0';
    add_clock(dst, cap, "raised", a->raised.wall_ns, utc);
    if (a->limit_passed.wall_ns) {
        char length[32];
        add_clock(dst, cap, ", limit passed", a->limit_passed.wall_ns, utc);
        words_length(length, sizeof length, when_seconds(a->beyond_ns));
        text_append(dst, cap, " for %s", length);
    }
    if (isfinite(a->worst))
        add_worst(dst, cap, a, s, utc);
    if (a->stopped.wall_ns)
        add_clock(dst, cap, ", engine stopped", a->stopped.wall_ns, utc);
    if (a->active)
        text_append(dst, cap, ", still standing at the end");
    else
        add_clock(dst, cap, ", over", a->rectified.wall_ns, utc);
    if (watched && a->acknowledged.wall_ns)
        add_clock(dst, cap, ", acknowledged", a->acknowledged.wall_ns, utc);
    else if (watched && a->priority > PRIORITY_CAUTION)
        text_append(dst, cap, ", not acknowledged");
}
