#include "bus/clock.h"

#include "bus/timeline.h"

#include <time.h>

#include "base/banned.h"

static int64_t read_clock(clockid_t id)
{
    struct timespec t;
    clock_gettime(id, &t);
    return (int64_t)t.tv_sec * NS_PER_S + t.tv_nsec;
}

struct stamp clock_now(void)
{
    return (struct stamp){.wall_ns = read_clock(CLOCK_REALTIME),
                          .mono_ns = read_clock(CLOCK_MONOTONIC) + TIMELINE_START};
}
