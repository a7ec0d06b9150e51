/* Many states of the screen, each as a golden text: a scene, what is typed, a size. What a single
 * picture of a calm boat would not show stands here: readings of every status, boats with one side
 * or none, cursors, lists that are cut, narrow and low terminals. */
#include "scene.h"
#include "support/golden.h"

#define UP    "\1"
#define DOWN  "\2"
#define LEFT  "\3"
#define RIGHT "\4"
#define PGUP  "\5"
#define PGDN  "\6"
#define FIRST "\7"
#define LAST  "\13"
#define ENTER "\r"
#define ESC   "\33"
#define TAB   "\t"

static int code_of(char c)
{
    static const int codes[] = {0,
                                KEY_CODE_UP,
                                KEY_CODE_DOWN,
                                KEY_CODE_LEFT,
                                KEY_CODE_RIGHT,
                                KEY_CODE_PAGE_UP,
                                KEY_CODE_PAGE_DOWN,
                                KEY_CODE_HOME};

    switch (c) {
    case '\13':
        return KEY_CODE_END;
    case '\r':
        return KEY_ENTER_CODE;
    case '\33':
        return KEY_ESCAPE_CODE;
    case '\t':
        return KEY_TAB_CODE;
    default:
        return c < 8 ? codes[(int)c] : c;
    }
}

static struct model_channel *find(struct scene *s, const char *key)
{
    for (size_t i = 0; i < s->m->channel_count; i++)
        if (strcmp(s->m->channels[i].key, key) == 0)
            return &s->m->channels[i];
    fail_msg("no channel %s", key);
    return NULL;
}

static void calm_one(struct scene *s)
{
    scene_calm(s, 1);
}

static void calm_two(struct scene *s)
{
    scene_calm(s, 2);
}

static void calm_three(struct scene *s)
{
    scene_calm(s, 3);
}

static void calm_four(struct scene *s)
{
    scene_calm(s, 4);
}

static void trouble_two(struct scene *s)
{
    scene_trouble(s, 2);
}

static void trouble_three(struct scene *s)
{
    scene_trouble(s, 3);
}

/* A boat whose engines are not on the bus. */
static void no_engine(struct scene *s)
{
    scene_calm(s, 1);
    for (size_t i = 0; i < s->m->channel_count; i++)
        history_free((struct history *)(uintptr_t)s->m->channels[i].history);
    s->m->channel_count = 0;
    s->m->engines = 0;
    scene_limit(scene_channel(s, QTY_ENGINE_SPACE, 0, 31), 60, true);
    scene_limit(scene_channel(s, QTY_BATTERY_VOLTS, 0, 12.6), 11.8, false);
    scene_channel(s, QTY_BATTERY_AMPS, 0, -14);
    scene_channel(s, QTY_FUEL_TANK, 0, 61);
    scene_channel(s, QTY_FRESH_WATER_TANK, 0, 7);
}

/* More of what the boat has once than any board holds. */
static void tanks(struct scene *s)
{
    scene_calm(s, 2);
    for (int i = 2; i < 26; i++)
        scene_channel(s, i % 2 ? QTY_FRESH_WATER_TANK : QTY_FUEL_TANK, i, 100 - 3 * i);
}

/* One of each: not available, an error, stale, switched off, beyond its limit. */
static void every_status(struct scene *s)
{
    scene_calm(s, 2);
    find(s, "exhaust.0")->status = READING_STALE;
    find(s, "exhaust.0")->age_ns = 95 * NS_PER_S;
    find(s, "exhaust.1")->status = READING_ERROR;
    find(s, "coolant.0")->status = READING_NOT_AVAILABLE;
    find(s, "coolant.1")->value = find(s, "coolant.1")->shown = 103;
    find(s, "oil-pressure.0")->value = find(s, "oil-pressure.0")->shown = 88;
    find(s, "oil-pressure.1")->off = true;
    find(s, "load.0")->status = READING_STALE;
    find(s, "load.0")->age_ns = 3700 * NS_PER_S;
    find(s, "load.1")->has_rate = false;
    find(s, "fuel-tank.0")->status = READING_STALE;
    find(s, "fuel-tank.0")->age_ns = 7300 * NS_PER_S;
    find(s, "fuel-tank.1")->off = true;
    find(s, "battery-volts.0")->value = find(s, "battery-volts.0")->shown = 23.4;
    find(s, "sea.0")->status = READING_ERROR;
    s->m->engine_states[1] = ENGINE_STOPPED;
    scene_alert(s, PRIORITY_WARNING, ALERT_UNACKNOWLEDGED, "coolant.1",
                "STARBOARD COOLANT 103 °C above 100 °C: slow down, check coolant");
    scene_alert(s, PRIORITY_WARNING, ALERT_RECTIFIED, "oil-pressure.0",
                "PORT OIL PRESSURE 88 kPa below 100 kPa: stop engine when safe, check oil");
    scene_alert(s, PRIORITY_CAUTION, ALERT_ACKNOWLEDGED, "sea.0", "SEA sensor fault: check sensor");
}

/* In the units of the United States, and imperial ones. */
static void us_units(struct scene *s)
{
    every_status(s);
    s->m->units = (struct unit_choice){UNIT_F, UNIT_PSI, UNIT_GAL_US, UNIT_GPH_US, UNIT_MPH};
}

static void imperial_units(struct scene *s)
{
    scene_trouble(s, 2);
    s->m->units = (struct unit_choice){UNIT_C, UNIT_BAR, UNIT_GAL_IMP, UNIT_GPH_IMP, UNIT_KMH};
}

/* Every quantity there is, of two engines and of the boat. */
static void every_quantity(struct scene *s)
{
    scene_calm(s, 2);
    for (size_t i = 0; i < s->m->channel_count; i++)
        history_free((struct history *)(uintptr_t)s->m->channels[i].history);
    s->m->channel_count = 0;
    for (int q = QTY_NONE + 1; q < QTY_COUNT; q++) {
        const struct quantity_info *info = quantity_info((enum quantity)q);
        bool engine = info->place == PLACE_ENGINE;

        for (int place = 0; place < (engine ? 2 : 1); place++) {
            struct model_channel *c =
                scene_channel(s, (enum quantity)q, place,
                              info->lowest + (info->highest - info->lowest) * (place ? 0.21 : 0.2));

            if (info->place == PLACE_PAIR)
                scene_move(s, c, 0, 1);
        }
    }
}

/* What the cooling watch expects of both exhausts, one of them to a tenth, the other to a degree.
 */
static void expected(struct scene *s)
{
    scene_calm(s, 2);
    for (int e = 0; e < 2; e++) {
        struct model_channel *c = find(s, e ? "exhaust.1" : "exhaust.0");

        c->has_expected = true;
        c->expected = 31.4 + e;
        c->allowance = e ? 1.0 : 0.94;
    }
}

static void expected_to_a_degree(struct scene *s)
{
    expected(s);
    find(s, "exhaust.0")->allowance = 1.0;
}

/* A live bus, watched for five seconds, with losses and a clock of its own. */
static void live(struct scene *s)
{
    struct model *m;

    scene_calm(s, 1);
    m = s->m;
    m->replay = (struct model_replay){.speed = 1};
    snprintf(m->source, sizeof m->source, "can0");
    m->record = "on";
    m->listening = true;
    m->has_bus_clock = true;
    m->bus_ahead_ns = -3600 * NS_PER_S;
    m->bus.lost = 17;
    m->bus.bad_lines = 3;
    m->bus.errors = 2;
    m->bus.losses = (struct losses){.incomplete = 9, .gaps = 1, .dropped = 4, .alerts_lost = 2};
    m->self.muted = true;
    m->self.mouse = true;
    m->sources_more = 5;
}

/* A log that ended, with marks, far along. */
static void ended(struct scene *s)
{
    scene_trouble(s, 2);
    s->m->replay.ended = true;
    s->m->replay.last_ns = SCENE_WALL_NS;
    s->m->replay.mark_count = 2;
}

static void paused(struct scene *s)
{
    scene_trouble(s, 1);
    s->m->replay.paused = true;
    s->m->replay.speed = 0;
}

static const struct state {
    const char *name;
    void (*scene)(struct scene *s);
    const char *typed;
    int cols, rows;
    bool ascii;
} states[] = {
    /* large figures */
    {"helm-no-engine-80x24", no_engine, "h", 80, 24, false},
    {"helm-no-engine-120x30", no_engine, "h", 120, 30, false},
    {"helm-no-engine-120x60", no_engine, "h", 120, 60, false},
    {"helm-three-52x30", trouble_three, "h", 52, 30, false},
    {"helm-four-70x26", calm_four, "h", 70, 26, false},
    {"helm-sailing-60x40", scene_sailing, "h", 60, 40, false},
    {"helm-full-100x48", scene_full, "h", 100, 48, false},
    {"helm-statuses-100x40", every_status, "h", 100, 40, false},
    {"helm-statuses-60x20-ascii", every_status, "h", 60, 20, true},
    {"helm-chosen-80x24", calm_two, DOWN DOWN DOWN DOWN RIGHT "h", 80, 24, false},
    {"helm-us-80x24", us_units, "h", 80, 24, false},
    /* curves */
    {"trend-two-cursors-100x30", trouble_two, "t" LEFT LEFT LEFT LEFT ENTER LEFT LEFT LEFT, 100, 30,
     false},
    {"trend-zoomed-100x30", trouble_two,
     "t" LEFT LEFT LEFT LEFT LEFT LEFT ENTER RIGHT RIGHT RIGHT "z", 100, 30, false},
    {"trend-second-first-80x24", trouble_two, "t" LEFT ENTER LEFT LEFT RIGHT RIGHT RIGHT, 80, 24,
     false},
    {"trend-together-apart-100x30", calm_two, "t+++" TAB, 100, 30, false},
    {"trend-three-80x18", calm_two, "t+", 80, 18, false},
    {"trend-three-cursor-60x12", calm_two, "t+" LEFT LEFT, 60, 12, false},
    {"trend-low-cursor-60x8", trouble_two, "t" LEFT LEFT, 60, 8, false},
    {"trend-longer-90x28", trouble_two, "t]]", 90, 28, false},
    {"trend-shorter-ascii-90x28", trouble_two, "t[", 90, 28, true},
    {"trend-statuses-80x24", every_status, "t+", 80, 24, false},
    {"trend-us-80x24", us_units, "t", 80, 24, false},
    {"trend-blocks-80x24", trouble_two, "it", 80, 24, false},
    {"trend-narrow-30x14", trouble_two, "t", 30, 14, false},
    /* the board */
    {"board-no-engine-80x24", no_engine, "", 80, 24, false},
    {"board-tanks-80x24", tanks, "", 80, 24, false},
    {"board-tanks-46x30", tanks, "", 46, 30, false},
    {"board-tanks-48x20", tanks, "", 48, 20, false},
    {"board-tanks-24x22", tanks, "", 24, 22, false},
    {"board-tanks-25x22", tanks, "", 25, 22, false},
    {"board-tanks-120x30", tanks, "", 120, 30, false},
    {"board-tanks-30x8", tanks, "", 30, 8, false},
    {"board-statuses-80x24", every_status, "", 80, 24, false},
    {"board-statuses-132x43", every_status, "", 132, 43, false},
    {"board-statuses-60x20-ascii", every_status, "", 60, 20, true},
    {"board-us-100x30", us_units, "", 100, 30, false},
    {"board-imperial-100x30", imperial_units, "", 100, 30, false},
    {"board-chosen-100x30", every_status, DOWN DOWN RIGHT, 100, 30, false},
    {"board-last-80x24", every_status, LAST, 80, 24, false},
    {"board-detail-80x24", trouble_two, ENTER, 80, 24, false},
    {"board-charts-170x50", trouble_two, "vv", 170, 50, false},
    {"board-every-quantity-200x60", every_quantity, "", 200, 60, false},
    {"board-every-quantity-100x90", every_quantity, "", 100, 90, false},
    {"board-every-quantity-80x24", every_quantity, "", 80, 24, false},
    {"movers-every-quantity-100x110", every_quantity, "m", 100, 110, false},
    {"bus-every-quantity-200x40", every_quantity, "b", 200, 40, false},
    {"board-expected-170x50", expected, "", 170, 50, false},
    {"board-expected-to-a-degree-170x50", expected_to_a_degree, "", 170, 50, false},
    {"trend-expected-100x24", expected, "t", 100, 24, false},
    {"board-live-100x30", live, "", 100, 30, false},
    {"board-live-60x16", live, "", 60, 16, false},
    {"board-ended-100x30", ended, "", 100, 30, false},
    {"board-paused-100x30", paused, "", 100, 30, false},
    {"board-one-56x20", calm_one, "", 56, 20, false},
    {"board-three-90x26", trouble_three, "", 90, 26, false},
    {"board-full-100x36", scene_full, "", 100, 36, false},
    {"board-full-64x22-ascii", scene_full, "", 64, 22, true},
    /* lists */
    {"alerts-statuses-90x24", every_status, "l", 90, 24, false},
    {"alerts-figures-90x24", trouble_two, "l" TAB, 90, 24, false},
    {"alerts-figures-second-60x20", every_status, "l" TAB DOWN, 60, 20, false},
    {"movers-statuses-90x24", every_status, "m", 90, 24, false},
    {"movers-second-page-70x16", calm_four, "m" PGDN, 70, 16, false},
    {"movers-find-70x16", calm_four, "m/oil" ENTER, 70, 16, false},
    {"bus-live-100x30", live, "b", 100, 30, false},
    {"bus-live-60x14", live, "b", 60, 14, false},
    {"bus-live-70x9-ascii", live, "b", 70, 9, true},
    /* what is asked */
    {"go-to-80x24", calm_two, "g14:2", 80, 24, false},
    {"find-60x16", calm_three, "/exh", 60, 16, false},
    {"quit-60x12", trouble_two, "q", 60, 12, false},
    {"help-end-70x18", calm_two, "?" PGDN PGDN PGDN PGDN PGDN PGDN, 70, 18, false},
    {"help-second-page-70x18", calm_two, "?" PGDN, 70, 18, false},
    {"help-up-70x18", calm_two, "?" DOWN DOWN DOWN UP, 70, 18, false},
};

/* Scene and keys of a state; the caller ends it with scene_free. */
static void reach(struct scene *s, const struct state *w)
{
    w->scene(s);
    for (const char *c = w->typed; *c; c++) {
        s->ui.cols = w->cols;
        s->ui.rows = w->rows;
        ui_key(&s->ui, s->m, code_of(*c));
        free(scene_picture(s, w->cols, w->rows, w->ascii, "day"));
    }
}

static void every_state__looks_as_kept(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof states / sizeof states[0]; i++) {
        const struct state *w = &states[i];
        struct scene s;

        reach(&s, w);
        char *text = scene_picture(&s, w->cols, w->rows, w->ascii, "day");
        golden_check("screen", w->name, text);
        free(text);
        scene_free(&s);
    }
}

/* Bold, underlined, reversed, drawn as a line: runs of like cells, by row and column. */
static void put_attributes(FILE *out, const struct grid *g)
{
    for (int y = 0; y < g->rows; y++)
        for (int x = 0, end; x < g->cols; x = end) {
            const struct cell *c = &g->cells[y * g->cols + x];

            for (end = x + 1; end < g->cols && c[end - x].attr == c->attr;)
                end++;
            if (c->attr)
                fprintf(out, "%d,%d to %d: %d\n", y, x, end - 1, c->attr);
        }
}

static void every_state__has_its_attributes_as_kept(void **state)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);

    (void)state;
    assert_non_null(out);
    for (size_t i = 0; i < sizeof states / sizeof states[0]; i++) {
        const struct state *w = &states[i];
        struct scene s;
        struct grid g;

        reach(&s, w);
        assert_true(grid_init(&g, w->cols, w->rows, w->ascii));
        ui_draw(&g, s.m, &s.ui);
        fprintf(out, "---- %s\n", w->name);
        put_attributes(out, &g);
        grid_fini(&g);
        scene_free(&s);
    }
    fclose(out);
    golden_check("screen", "attributes", text);
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_state__looks_as_kept),
        cmocka_unit_test(every_state__has_its_attributes_as_kept),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
