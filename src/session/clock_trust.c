#include "session/clock_trust.h"

#include <stdlib.h>
#include <sys/timex.h>

#include "base/banned.h"

#define ASK_NS (10 * NS_PER_S)

/* adjtimex(2): TIME_ERROR with STA_UNSYNC while nobody keeps the clock. */
static bool is_kept(void)
{
    struct timex t = {.modes = 0};
    int state = adjtimex(&t);
    return state >= 0 && state != TIME_ERROR && !(t.status & STA_UNSYNC);
}

void clock_trust_judge(struct clock_trust *c, struct stamp clock, bool kept, bool has_bus,
                       int64_t ahead_ns)
{
    int64_t between = clock.wall_ns - clock.mono_ns, moved = between - c->between_ns;
    bool first = c->good_ns == 0;
    c->jumped_ns = !first && llabs(moved) > CLOCK_OFF_NS ? moved : 0;
    c->between_ns = between;
    c->kept = kept;
    c->trusted = kept || (has_bus && llabs(ahead_ns) <= CLOCK_OFF_NS);
    if (c->trusted || first)
        c->good_ns = clock.mono_ns;
    c->complain = clock.mono_ns - c->good_ns > CLOCK_PATIENCE;
}

void clock_trust_turn(struct clock_trust *c, struct stamp clock, bool has_bus, int64_t ahead_ns)
{
    bool kept = c->kept;
    if (c->asked_ns == 0 || clock.mono_ns - c->asked_ns >= ASK_NS) {
        c->asked_ns = clock.mono_ns;
        kept = is_kept();
    }
    clock_trust_judge(c, clock, kept, has_bus, ahead_ns);
}
