/* The tired skipper, who reads the second line of the board and nothing else, at many moments of
 * every drill: whatever is wrong, it says what to do with the engine, and it never says that all is
 * well while something is hot or a sensor that matters is lost. What is hot is worked out here from
 * the readings and the limits typed below, not from the alerts. */
#include "session/feed.h"

#include "base/text.h"
#include "config/config.h"
#include "screen/view.h"
#include "support/check.h"
#include "support/program.h"

#include <stdlib.h>
#include <string.h>

/* The alarm limits of configs/stokehold.conf, and how long its rules may take to tell: their hold,
 * the periods of the slowest sender (2.5 s, IEC 61162-3, from memory), a look each second. */
static const struct hot {
    enum quantity quantity;
    double limit;
    const char *running, *stopped; /* what must stand in the line */
} hots[] = {
    {QTY_EXHAUST, 93.3, "stop engine", "let it cool"},
    {QTY_COOLANT, 103, "stop engine", "let it cool"},
    {QTY_OIL_TEMP, 130, "stop engine", "let it cool"},
    {QTY_ENGINE_SPACE, 75, "stop engine", "hatch shut"},
};
#define TELL_NS (15 * NS_PER_S)
#define LOOK_NS (2 * NS_PER_S)

static struct settings *settings;

struct night {
    struct feed feed;
    struct model *m;
    struct ui ui;
    struct grid g;
    char line[1200];
    int64_t hot_since[8][8]; /* mono, by row of hots and engine; 0: not hot */
    int64_t lost_since[8];   /* an exhaust without a reading, its engine running */
    int moments, hot_moments, lost_moments;
    const char *fault;
    int seed;
    bool acknowledges;
};

static void read_line(struct night *n)
{
    ui_draw(&n->g, n->m, &n->ui);
    grid_row_text(&n->g, 1, n->line, sizeof n->line);
}

static void complain(const struct night *n, const char *what)
{
    fail_msg("%s, seed %d, %.0f s in: %s; the line says '%s'", n->fault, n->seed,
             when_seconds(n->m->now.wall_ns - n->m->replay.first_ns), what, n->line);
}

static bool says(const struct night *n, const char *words)
{
    return strstr(n->line, words) != NULL;
}

/* Whether it runs, as its speed says; an engine that stands may still be hot. */
static bool runs(const struct model *m, int engine)
{
    for (int e = 0; e < m->engines; e++)
        if ((engine < 0 || e == engine) && m->engine_states[e] == ENGINE_RUNNING)
            return true;
    return false;
}

static void look_at_heat(struct night *n, const struct model_channel *c)
{
    for (size_t h = 0; h < sizeof hots / sizeof *hots; h++) {
        if (c->id.quantity != hots[h].quantity || c->status == READING_NEVER)
            continue;
        int64_t *since = &n->hot_since[h][c->engine < 0 ? 0 : c->engine];
        if (c->value <= hots[h].limit) {
            *since = 0;
            continue;
        }
        if (*since == 0)
            *since = n->m->now.mono_ns;
        n->hot_moments++;
        if (says(n, "all well"))
            complain(n, "something is hot");
        if (n->m->now.mono_ns - *since < TELL_NS)
            continue;
        bool running = runs(n->m, c->engine);
        if (!says(n, running ? hots[h].running : hots[h].stopped) &&
            !says(n, running ? "FIRE?" : "hatch shut") && (running || !says(n, "keep cap shut")))
            complain(n, running ? "nobody is told to stop" : "nobody is told to let it cool");
    }
}

static void look_at_sensors(struct night *n, const struct model_channel *c)
{
    if (c->id.quantity != QTY_EXHAUST || c->second || c->engine < 0)
        return;
    int64_t *since = &n->lost_since[c->engine];
    if (c->status == READING_OK || c->status == READING_NEVER || !runs(n->m, c->engine)) {
        *since = 0;
        return;
    }
    if (*since == 0)
        *since = n->m->now.mono_ns;
    if (n->m->now.mono_ns - *since < TELL_NS)
        return;
    n->lost_moments++;
    if (says(n, "all well"))
        complain(n, "an exhaust is not watched");
}

/* Without blanks, as a small window breaks lines. */
static void squeeze(char *text)
{
    char *to = text;
    for (const char *from = text; *from; from++)
        if (*from != ' ')
            *to++ = *from;
    *to = '\0';
}

/* The worst alert's action, whole, at 40, 80 and 120 columns, in the units of the moment. */
static void look_at_sizes(struct night *n)
{
    static const int sizes[][2] = {{40, 12}, {80, 24}, {120, 40}};
    const struct alert *a = model_worst(n->m);
    char action[200];
    text_copy(action, sizeof action, a->action[0] ? a->action : "");
    squeeze(action);
    for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++) {
        char whole[4000] = "";
        n->ui.cols = sizes[i][0];
        n->ui.rows = sizes[i][1];
        assert_true(grid_resize(&n->g, n->ui.cols, n->ui.rows));
        ui_draw(&n->g, n->m, &n->ui);
        for (int y = 1; y < 5; y++) {
            grid_row_text(&n->g, y, n->line, sizeof n->line);
            text_append(whole, sizeof whole, "%s", n->line);
        }
        squeeze(whole);
        if (!strstr(whole, action)) {
            text_copy(n->line, sizeof n->line, whole);
            complain(n, a->text);
        }
    }
    n->ui.cols = 80;
    n->ui.rows = 24;
    assert_true(grid_resize(&n->g, 80, 24));
}

static void look(struct night *n)
{
    static const struct unit_choice units[] = {
        {UNIT_C, UNIT_KPA, UNIT_L, UNIT_LPH, UNIT_KN},
        {UNIT_C, UNIT_BAR, UNIT_L, UNIT_LPH, UNIT_KN},
        {UNIT_F, UNIT_PSI, UNIT_GAL_US, UNIT_GPH_US, UNIT_KN},
        {UNIT_C, UNIT_PSI, UNIT_GAL_IMP, UNIT_GPH_IMP, UNIT_KN},
    };
    if (n->moments++ % 5 == 0 && n->m->alert_count > 0) {
        struct request q = {.kind = REQUEST_UNITS};
        char notice[96];
        settings->units = units[n->moments / 5 % 4];
        n->feed.kind->request(n->feed.ctx, &q, notice, sizeof notice);
        n->feed.kind->fill(n->feed.ctx, n->m);
        n->m->units = settings->units;
        look_at_sizes(n);
    }
    read_line(n);
    for (size_t i = 0; i < n->m->channel_count; i++) {
        look_at_heat(n, &n->m->channels[i]);
        look_at_sensors(n, &n->m->channels[i]);
    }
}

/* One who acknowledges whatever comes is told what to do all the same. */
static void acknowledge(struct night *n)
{
    char notice[96];
    for (size_t i = 0; n->acknowledges && i < n->m->alert_count; i++) {
        struct request q = {.kind = REQUEST_ACKNOWLEDGE, .id = n->m->alerts[i]->id};
        if (n->m->alerts[i]->state != ALERT_UNACKNOWLEDGED)
            continue;
        n->feed.kind->request(n->feed.ctx, &q, notice, sizeof notice);
        n->feed.kind->fill(n->feed.ctx, n->m);
        i = (size_t)-1; /* the list is another one now */
    }
}

static void sail(struct night *n)
{
    static char path[PROGRAM_PATH];
    const char *names[1] = {path};
    char options[100];
    struct err e;
    snprintf(options, sizeof options, "--fault %s --seed %d --minutes 25", n->fault, n->seed);
    assert_int_equal(program_drill(path, "skipper.log", options), 0);
    struct feed_options o = {.names = names, .count = 1, .settings = settings, .speed = 1};
    assert_true(feed_open_log(&n->feed, &o, &e));
    n->m = model_new();
    ui_init(&n->ui);
    n->ui.cols = 80;
    n->ui.rows = 24;
    assert_true(grid_init(&n->g, 80, 24, false));
    do {
        n->feed.kind->turn(n->feed.ctx, (struct stamp){0}, LOOK_NS);
        n->feed.kind->fill(n->feed.ctx, n->m);
        look(n);
        acknowledge(n);
        if (n->acknowledges)
            look(n);
    } while (!n->m->replay.ended);
    grid_fini(&n->g);
    n->feed.kind->close(n->feed.ctx);
    model_free(n->m);
}

static void sail_all(const char *fault, bool hot, bool lost)
{
    int hot_moments = 0, lost_moments = 0, moments = 0;
    for (int seed = 21; seed < 24; seed++) {
        struct night n = {.fault = fault, .seed = seed, .acknowledges = seed % 2 == 0};
        sail(&n);
        moments += n.moments;
        hot_moments += n.hot_moments;
        lost_moments += n.lost_moments;
    }
    assert_true(moments > 3 * 700);
    if (hot) /* the drill was one, and was looked at */
        assert_true(hot_moments > 30);
    if (lost)
        assert_true(lost_moments > 30);
}

static void impeller__told_to_stop(void **state)
{
    (void)state;
    sail_all("impeller", true, false);
}

static void vanes__told_to_stop(void **state)
{
    (void)state;
    sail_all("vanes", false, false);
}

static void fouled__told_to_stop(void **state)
{
    (void)state;
    sail_all("fouled", false, false);
}

static void seacock__told_to_stop(void **state)
{
    (void)state;
    sail_all("seacock", true, false);
}

static void coolant_pump__told_to_stop_and_heat_is_not_forgotten(void **state)
{
    (void)state;
    sail_all("coolant-pump", true, false);
}

static void fire__hatch_stays_shut(void **state)
{
    (void)state;
    sail_all("fire", true, false);
}

static void sensor_open__is_told(void **state)
{
    (void)state;
    sail_all("sensor-open", false, true);
}

static void sensor_silent__is_told(void **state)
{
    (void)state;
    sail_all("sensor-silent", false, true);
}

static void two_boxes__is_told(void **state)
{
    (void)state;
    sail_all("two-boxes", false, true);
}

/* And a boat that is well is told so, at nearly every moment. */
static void healthy_boat__all_is_well(void **state)
{
    (void)state;
    struct night n = {.fault = "none", .seed = 21};
    sail(&n);
    assert_int_equal(n.hot_moments, 0);
    assert_int_equal(n.lost_moments, 0);
    assert_true(says(&n, "all well"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(impeller__told_to_stop),
        cmocka_unit_test(vanes__told_to_stop),
        cmocka_unit_test(fouled__told_to_stop),
        cmocka_unit_test(seacock__told_to_stop),
        cmocka_unit_test(coolant_pump__told_to_stop_and_heat_is_not_forgotten),
        cmocka_unit_test(fire__hatch_stays_shut),
        cmocka_unit_test(sensor_open__is_told),
        cmocka_unit_test(sensor_silent__is_told),
        cmocka_unit_test(two_boxes__is_told),
        cmocka_unit_test(healthy_boat__all_is_well),
    };
    struct config_messages *messages;
    settings = config_load(NULL, &messages);
    config_messages_free(messages);
    if (!settings)
        return 1;
    int failed = cmocka_run_group_tests(tests, NULL, NULL);
    settings_free(settings);
    return failed;
}
