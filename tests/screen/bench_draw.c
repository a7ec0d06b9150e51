/* What drawing costs: each view at two sizes, from the snapshot to the grid, and the snapshot
 * itself, on a trip of some fifty channels.
 *     bench_draw LOG
 * Nothing is asserted. */
#include "config/config.h"
#include "screen/model.h"
#include "screen/view.h"
#include "session/feed.h"

#include <stdio.h>
#include <stdlib.h>
#include <time.h>

static double now_us(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec * 1e6 + (double)t.tv_nsec / 1e3;
}

int main(int argc, char **argv)
{
    enum { ROUNDS = 200 };
    static const int sizes[][2] = {{80, 24}, {200, 60}};
    struct err e = {""};
    struct config_messages *messages;
    const char *const names[] = {argc > 1 ? argv[1] : ""};
    struct settings *settings = config_load(NULL, &messages);
    struct model *m = model_new();
    struct feed_options o = {.names = names, .count = 1, .settings = settings};
    struct feed feed = {0};
    struct ui ui;
    struct grid g;
    if (!settings || !m || !feed_open_log(&feed, &o, &e) || !grid_init(&g, 80, 24, false)) {
        fprintf(stderr, "bench_draw: %s\n", e.text);
        return 3;
    }
    feed.kind->fill(feed.ctx, m);
    while (!m->replay.ended) {
        feed.kind->turn(feed.ctx, (struct stamp){0}, 0);
        feed.kind->fill(feed.ctx, m);
    }
    double from = now_us();
    for (int i = 0; i < ROUNDS; i++)
        feed.kind->fill(feed.ctx, m);
    printf("drawing, CPU time a picture, %zu channels\n", m->channel_count);
    printf("  snapshot               %8.0f us\n", (now_us() - from) / ROUNDS);
    ui_init(&ui);
    for (int s = 0; s < 2; s++)
        for (int v = 0; v < VIEW_COUNT; v++) {
            ui.cols = sizes[s][0];
            ui.rows = sizes[s][1];
            grid_resize(&g, ui.cols, ui.rows);
            ui.view = VIEW_BOARD;
            ui_key(&ui, m, ui.keys.key[views[v].action]);
            from = now_us();
            for (int i = 0; i < ROUNDS; i++)
                ui_draw(&g, m, &ui);
            printf("  %-8s %3dx%-3d       %8.0f us\n", views[v].name, ui.cols, ui.rows,
                   (now_us() - from) / ROUNDS);
        }
    grid_fini(&g);
    feed_close(&feed);
    model_free(m);
    settings_free(settings);
    config_messages_free(messages);
    return 0;
}
