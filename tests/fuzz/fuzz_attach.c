/* Any bytes as what a broken or hostile `tend` sends to a board that is attached to it: taken, and
 * every view drawn from it. The first line is said to come at once, the rest in a second piece, so
 * that lines are cut. For libFuzzer; `make fuzz` runs it. */
#include "hooks/door.h"
#include "screen/view.h"
#include "session/feed.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include "base/banned.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static int listen_once(char *path, size_t cap)
{
    static int fd = -1;
    struct sockaddr_un a = {.sun_family = AF_UNIX};
    int n = snprintf(a.sun_path, sizeof a.sun_path, "/tmp/fuzz-attach-%d", (int)getpid());
    snprintf(path, cap, "%s", a.sun_path);
    if (fd >= 0)
        return fd;
    unlink(a.sun_path);
    fd = socket(AF_UNIX, SOCK_STREAM, 0);
    if (n <= 0 || fd < 0 || bind(fd, (struct sockaddr *)&a, sizeof a) != 0 || listen(fd, 4) != 0)
        abort();
    return fd;
}

static void draw(struct feed *feed, struct model *m)
{
    struct ui ui;
    struct grid g;
    feed->kind->fill(feed->ctx, m);
    ui_init(&ui);
    ui.cols = 80;
    ui.rows = 24;
    if (!grid_init(&g, 80, 24, false))
        abort();
    for (int v = 0; v < VIEW_COUNT; v++) {
        ui_key(&ui, m, ui.keys.key[views[v].action]);
        ui_draw(&g, m, &ui);
        for (int i = 0; i < 80 * 24; i++)
            if (g.cells[i].width > 0 && (g.cells[i].ch < 0x20 || g.cells[i].ch == 0x7F))
                abort(); /* never a control character on the screen */
    }
    grid_fini(&g);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    char path[108];
    struct err e;
    struct feed feed;
    int fd = listen_once(path, sizeof path);
    const char *name = path;
    struct feed_options o = {.names = &name, .count = 1};
    struct model *m = model_new();
    if (!m || !feed_open_attach(&feed, &o, &e))
        abort();
    int there = accept(fd, NULL, NULL);
    const uint8_t *end = size ? memchr(data, '\n', size) : NULL;
    size_t first = end ? (size_t)(end - data) : size;
    if (there < 0 || send(there, data, first, MSG_NOSIGNAL) != (ssize_t)first)
        abort();
    feed.kind->turn(feed.ctx, (struct stamp){0}, 0);
    draw(&feed, m);
    if (send(there, data + first, size - first, MSG_NOSIGNAL) != (ssize_t)(size - first))
        abort();
    feed.kind->turn(feed.ctx, (struct stamp){0}, 0);
    draw(&feed, m);
    close(there);
    feed.kind->turn(feed.ctx, (struct stamp){0}, 0);
    if (!feed.kind->failed(feed.ctx))
        abort();
    feed_close(&feed);
    model_free(m);
    return 0;
}
