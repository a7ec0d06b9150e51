/* stair LOG: the way of one exhaust reading from its frame to the alert, call by call. Built with
 * -finstrument-functions at -O0, so that every function of the library but those of headers tells
 * when it is entered and left; the keeper is fed the log frame by frame, and the first frame at
 * which an alert of the cooling watch is raised is printed as a stair: how deep, how many calls.
 * Two figures come of it: the calls that stand one in another when the alert is raised (the stair),
 * and the calls made on the way, those that returned among them. tests/bench/stair names them. */
#include "alerts/alert.h"
#include "bus/source.h"
#include "config/config.h"
#include "keeper/keeper.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define UNTOLD __attribute__((no_instrument_function))
#define MOST   20000

struct step {
    void *function;
    int depth;
};

static struct step steps[MOST];
static int count, depth;
static bool tracing, raised;

void __cyg_profile_func_enter(void *function, void *caller);
void __cyg_profile_func_exit(void *function, void *caller);

UNTOLD void __cyg_profile_func_enter(void *function, void *caller)
{
    (void)caller;
    if (!tracing)
        return;
    if (count < MOST)
        steps[count++] = (struct step){function, depth};
    depth++;
}

UNTOLD void __cyg_profile_func_exit(void *function, void *caller)
{
    (void)function;
    (void)caller;
    if (tracing)
        depth--;
}

UNTOLD static void hear(void *ctx, const struct alert_event *ev)
{
    (void)ctx;
    enum rule_kind k = ev->alert->kind;

    if (!tracing || ev->event != EVENT_RAISED ||
        (k != KIND_RISE && k != KIND_DEPARTURE && k != KIND_SPLIT))
        return;
    tracing = false;
    raised = true;
}

/* The calls of the last frame, one a line: depth, whether it still stands, address. */
UNTOLD static void print(void)
{
    for (int i = 0; i < count; i++) {
        bool stands = steps[i].depth < depth;

        for (int k = i + 1; k < count && stands; k++)
            stands = steps[k].depth > steps[i].depth;
        printf("%d %c %p\n", steps[i].depth, stands ? '*' : '-', steps[i].function);
    }
}

UNTOLD int main(int argc, char **argv)
{
    struct config_messages *messages = NULL;
    struct settings *settings = config_load(NULL, &messages);
    struct err e;
    struct source *s = argc == 2 ? source_open_log(argv[1], NULL, &e) : NULL;
    struct keeper *k = settings ? keeper_new(settings, &(struct keeper_options){0}) : NULL;
    struct frame f;
    size_t n;

    if (!s || !k) {
        fputs("usage: stair LOG\n", stderr);
        return 2;
    }
    alerts_listen(keeper_alerts(k), hear, NULL);
    while (!raised && source_read(s, &f, 1, &n, &e) == SOURCE_READY) {
        count = depth = 0;
        tracing = true;
        keeper_frames(k, &f, 1);
        tracing = false;
    }
    if (raised)
        print();
    else
        fputs("stair: no alert of the cooling watch in it\n", stderr);
    keeper_free(k);
    source_close(s);
    settings_free(settings);
    config_messages_free(messages);
    return raised ? 0 : 1;
}
