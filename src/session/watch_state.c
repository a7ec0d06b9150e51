/* What the board's loop and its keys both do to its state: the snapshot taken again, the size of
 * the terminal taken over. */
#include "session/watch_inside.h"

#include <stdio.h>
#include <unistd.h>

#include "base/banned.h"

/* Resident memory of this process, in KiB; 0 where it cannot be told. */
static int64_t resident_kib(void)
{
    long long pages = 0;
    FILE *f = fopen("/proc/self/statm", "re");
    if (!f)
        return 0;
    if (fscanf(f, "%*s %lld", &pages) != 1)
        pages = 0;
    fclose(f);
    return pages * (sysconf(_SC_PAGESIZE) / 1024);
}

static void fill_self(struct watch *w)
{
    struct model *m = w->model;
    struct term_stats t = term_stats(w->term);
    if (w->memory_ns == 0 || w->now_ns - w->memory_ns > NS_PER_S) {
        w->memory_ns = w->now_ns;
        w->memory_kib = resident_kib();
    }
    m->self = (struct model_self){.memory_kib = w->memory_kib,
                                  .pictures = t.frames,
                                  .skipped = t.skipped,
                                  .bytes = t.bytes,
                                  .up_ns = w->now_ns - w->begin_ns,
                                  .sound = !sound_is_off(&w->sounder),
                                  .muted = sound_is_off(&w->sounder),
                                  .mouse = w->mouse};
}

void watch_fill(struct watch *w)
{
    struct model *m = w->model;
    /* begin() has set the kind. NOLINTNEXTLINE(clang-analyzer-core.NullDereference) */
    w->feed.kind->fill(w->feed.ctx, m);
    m->units = w->settings->units;
    if (m->alert_count)
        w->well_since_wall_ns = 0;
    else if (!w->well_since_wall_ns && !m->waiting)
        w->well_since_wall_ns = m->now.wall_ns;
    m->well_since_wall_ns = w->well_since_wall_ns;
    if (w->ui.frozen)
        m->replay.paused = true;
    fill_self(w);
}

void watch_resize(struct watch *w)
{
    term_resize(w->term);
    term_size(w->term, &w->ui.cols, &w->ui.rows);
    grid_resize(&w->grid, w->ui.cols, w->ui.rows);
    w->urgent = true;
}
