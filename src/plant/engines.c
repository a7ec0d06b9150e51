#include "plant/inside.h"

#include "base/order.h"

#include <math.h>

#include "base/banned.h"

#define RUNNING_RPM          300            /* at and above: runs */
#define STOPPED_RPM          150            /* below: stands; cranking is between the two */
#define CHANGE_PART          0.05           /* of its recent level: the speed has changed */
#define CHANGE_FLOOR         300            /* rpm; the part is never of less */
#define LEVEL_NS             (5 * NS_PER_S) /* how fast the recent level follows a slow drift */
#define PEAK_NS              (2 * NS_PER_S)
#define NOT_AVAILABLE_MAX_NS (10 * NS_PER_S)
#define FALLING_PART         0.75 /* of the highest in the last 2 to 4 s: on its way down */

static void set_state(struct plant *p, int engine, enum engine_state state, struct stamp at)
{
    struct engine *e = &p->engines[engine].e;
    if (e->state == state)
        return;
    enum engine_state before = e->state;
    e->state = state;
    e->since_ns = at.mono_ns;
    p->next_check_ns = 0; /* what is switched off may depend on it */
    tell_engine(p, engine, before, at);
}

/* The middle one of this and the two readings before: one wild sample neither starts nor stops an
 * engine. With fewer, the newest. */
static double middle_rpm(struct engine_kept *e, double rpm)
{
    double a = e->recent[0], b = e->recent[1], middle = rpm;
    if (e->recent_count == 2)
        middle = middle_of(a, b, rpm);
    else
        e->recent_count++;
    e->recent[0] = b;
    e->recent[1] = rpm;
    return middle;
}

/* The level follows a drift within seconds and jumps with a step, so that speed_changed_ns is the
 * last moment at which the speed was still moving. */
static void watch_changes(struct engine_kept *e, double rpm, int64_t t_ns)
{
    double allowed = CHANGE_PART * greater(e->level, CHANGE_FLOOR);
    if (!e->e.has_rpm || fabs(rpm - e->level) > allowed) {
        e->e.speed_changed_ns = t_ns;
        e->level = rpm;
    } else {
        double part = (double)(t_ns - e->level_ns) / (double)LEVEL_NS;
        e->level += (rpm - e->level) * lesser(1, greater(0, part));
    }
    e->level_ns = t_ns;
    if (t_ns - e->peak_ns >= PEAK_NS) {
        e->peak[1] = t_ns - e->peak_ns < 2 * PEAK_NS ? e->peak[0] : 0;
        e->peak[0] = 0;
        e->peak_ns = t_ns;
    }
    e->peak[0] = greater(e->peak[0], rpm);
}

/* A good reading of the holder of rpm.N. */
void engines_heard(struct plant *p, struct kept *k, double rpm, struct stamp at)
{
    int engine = k->c.engine;
    struct engine_kept *e = &p->engines[engine];
    rpm = middle_rpm(e, rpm);
    watch_changes(e, rpm, at.mono_ns);
    e->e.has_rpm = true;
    e->e.rpm = rpm;
    enum engine_state state = e->e.state;
    if (rpm >= RUNNING_RPM)
        state = ENGINE_RUNNING;
    else if (rpm < STOPPED_RPM || state == ENGINE_UNKNOWN)
        state = ENGINE_STOPPED;
    set_state(p, engine, state, at);
    if (constant_heard(&e->constant, at.mono_ns, rpm, rpm < STOPPED_RPM))
        slots_find_kinds(p);
}

bool engines_low(const struct plant *p, int engine)
{
    const struct engine_kept *e = &p->engines[engine];
    return e->e.has_rpm &&
           (e->e.rpm <= ENGINE_IDLE_RPM || e->e.rpm < FALLING_PART * fmax(e->peak[0], e->peak[1]));
}

/* What was last heard of its speed is low, falling, or had just become "not available". */
bool engines_stopping(const struct plant *p, int engine)
{
    const struct engine_kept *e = &p->engines[engine];
    if (e->rpm == NULL)
        return false;
    int64_t without_ns = e->rpm->c.at.mono_ns - e->rpm->c.good.mono_ns;
    return engines_low(p, engine) || (without_ns > 0 && without_ns < NOT_AVAILABLE_MAX_NS);
}

/* Engine speed is no longer heard. */
void engines_lost(struct plant *p, int engine, bool switched_off, struct stamp at)
{
    p->engines[engine].recent_count = 0;
    constant_lost(&p->engines[engine].constant);
    set_state(p, engine, switched_off ? ENGINE_STOPPED : ENGINE_UNKNOWN, at);
}

void engines_gap(struct plant *p)
{
    for (int i = 0; i < PLANT_ENGINES; i++) {
        p->engines[i].recent_count = 0;
        constant_lost(&p->engines[i].constant);
    }
}
