/* One made-up situation at a time, drawn by one view: as drawn.h and scene.h. */
#ifndef STOKEHOLD_TESTS_DRAWN_SCENE_H
#define STOKEHOLD_TESTS_DRAWN_SCENE_H

#include "drawn.h"
#include "scene.h"

static struct scene s;

static inline int end(void **state)
{
    (void)state;
    scene_free(&s);
    return 0;
}

/* All of a new grid, in ASCII, so that bytes are columns. */
static inline void draw_by(void (*view)(struct grid *, struct rect, const struct model *,
                                        const struct ui *),
                           int w, int h)
{
    grid_fini(&drawn);
    begin(w, h, true);
    s.ui.cols = w;
    s.ui.rows = h;
    view(&drawn, (struct rect){0, 0, w, h}, s.m, &s.ui);
}

#endif
