/* Made-up situations for the tests of the screen: snapshots with histories and alerts, as a bus
 * would have left them. Everything is fixed, so that a picture of it is fixed too. */
#ifndef STOKEHOLD_TESTS_SCENE_H
#define STOKEHOLD_TESTS_SCENE_H

#include "screen/model.h"
#include "screen/theme.h"
#include "screen/view.h"
#include "support/check.h"

#include <stdio.h>
#include <stdlib.h>

#define SCENE_CHANNELS 192
#define SCENE_WALL_NS  (INT64_C(1777903927) * NS_PER_S) /* 2026-05-04 14:12:07 UTC */
#define SCENE_MONO_NS  (INT64_C(5000) * NS_PER_S)

struct scene {
    struct model *m;
    struct ui ui;
    struct alert alerts[32], ended[32];
    char keys[SCENE_CHANNELS][CHANNEL_KEY_SIZE];
    struct model_mark marks[8];
    float hottest[64];
};

/* Value at `age` seconds ago: a calm line with a small wave. */
static inline double scene_wave(double value, double amplitude, int age)
{
    return value + amplitude * sin(age / 37.0);
}

static inline struct model_channel *scene_channel(struct scene *s, enum quantity q, int place,
                                                  double value)
{
    struct model *m = s->m;
    const struct quantity_info *info = quantity_info(q);
    assert_true(m->channel_count < SCENE_CHANNELS);
    struct model_channel *c = &m->channels[m->channel_count];
    char *key = s->keys[m->channel_count++];
    *c = (struct model_channel){.id = {(uint16_t)q, (uint8_t)place, 0},
                                .key = key,
                                .label = info->label,
                                .place = "",
                                .unit = info->unit,
                                .decimals = (uint8_t)info->decimals,
                                .engine = -1,
                                .source = (uint8_t)(20 + place),
                                .pgn = 127488,
                                .status = READING_OK,
                                .value = value,
                                .shown = value,
                                .has_rate = info->unit != UNIT_NONE,
                                .steady_per_min = info->steady_per_min,
                                .alert = -1};
    channel_id_format(key, CHANNEL_KEY_SIZE, c->id);
    if (info->place == PLACE_ENGINE) {
        c->engine = place;
        c->place = m->engine_names[place];
    }
    struct history *h = history_new();
    assert_non_null(h);
    double amplitude = fabs(value) * 0.01;
    for (int age = 1500; age >= 0; age--)
        history_add(h, SCENE_MONO_NS - age * NS_PER_S, scene_wave(value, amplitude, age));
    c->history = h;
    c->has_extremes = history_extremes(h, &c->low, &c->high);
    return c;
}

/* The last `seconds` of it climb to `to`, evenly. */
static inline void scene_climb(struct model_channel *c, double to, int seconds)
{
    struct history *h = history_new();
    assert_non_null(h);
    for (int age = 1500; age >= 0; age--) {
        double v = scene_wave(c->value, fabs(c->value) * 0.01, age);
        if (age < seconds)
            v = c->value + (to - c->value) * (seconds - age) / seconds;
        history_add(h, SCENE_MONO_NS - age * NS_PER_S, v);
    }
    history_free((struct history *)(uintptr_t)c->history);
    c->history = h;
    c->rate_per_min = (to - c->value) * 60 / seconds;
    c->value = c->shown = to;
    c->has_extremes = history_extremes(h, &c->low, &c->high);
}

static inline void scene_limit(struct model_channel *c, double limit, bool above)
{
    c->has_limit = true;
    c->limit = limit;
    c->limit_above = above;
}

static inline struct alert *scene_alert(struct scene *s, enum priority p, enum alert_state state,
                                        const char *channel, const char *text)
{
    struct model *m = s->m;
    struct alert *a = &s->alerts[m->alert_count];
    *a = (struct alert){.id = (uint32_t)m->alert_count + 1,
                        .kind = KIND_LIMIT,
                        .priority = p,
                        .state = state,
                        .active = state != ALERT_RECTIFIED,
                        .unit = UNIT_C,
                        .figures = {61, 31, 2, 0.4, 8.1, 5, 96, 20, 93.3},
                        .raised = {SCENE_WALL_NS - 21 * NS_PER_S, SCENE_MONO_NS - 21 * NS_PER_S}};
    a->changed = a->raised;
    snprintf(a->rule, sizeof a->rule, "exhaust-hot");
    snprintf(a->channel, sizeof a->channel, "%s", channel);
    snprintf(a->text, sizeof a->text, "%s", text);
    m->counts[p]++;
    if (state != ALERT_ACKNOWLEDGED && p != PRIORITY_CAUTION)
        m->unacknowledged++;
    for (size_t i = 0; i < m->channel_count; i++)
        if (strcmp(m->channels[i].key, channel) == 0)
            m->channels[i].alert = (int)m->alert_count;
    m->alerts[m->alert_count++] = a;
    m->sounding |= p >= PRIORITY_ALARM && state == ALERT_UNACKNOWLEDGED;
    return a;
}

static inline void scene_engines(struct scene *s, int engines)
{
    static const char *const names[4][4] = {{"ENGINE"},
                                            {"PORT", "STARBOARD"},
                                            {"PORT", "CENTRE", "STARBOARD"},
                                            {"ENGINE 0", "ENGINE 1", "ENGINE 2", "ENGINE 3"}};
    s->m->engines = engines;
    for (int e = 0; e < engines; e++) {
        snprintf(s->m->engine_names[e], sizeof s->m->engine_names[e], "%s", names[engines - 1][e]);
        s->m->engine_states[e] = ENGINE_RUNNING;
    }
}

/* Boxes as a network of this size has them. */
static inline void scene_sources(struct scene *s)
{
    static const struct model_source sources[] = {
        {.address = 20, .name = 0xC0968200FF000408, .frames = 123456, .age_ns = 0},
        {.address = 21, .name = 0xC0968201FF000409, .frames = 123999, .age_ns = 0},
        {.address = 35, .frames = 812, .age_ns = 45 * NS_PER_S, .name_changes = 2, .gaps = 3},
        {.address = 36, .name = 0xC046AA00FF00040D, .frames = 99, .age_ns = 4000 * NS_PER_S},
    };
    struct model *m = s->m;
    for (size_t i = 0; i < sizeof sources / sizeof sources[0]; i++)
        m->sources[m->source_count++] = sources[i];
    m->iface_count = 1;
    snprintf(m->iface_names[0], sizeof m->iface_names[0], "can0");
    m->self = (struct model_self){.memory_kib = 7100,
                                  .pictures = 812,
                                  .skipped = 3,
                                  .bytes = 123456,
                                  .up_ns = 4000 * NS_PER_S,
                                  .sound = true};
}

/* A boat under way with nothing wrong. */
static inline void scene_calm(struct scene *s, int engines)
{
    setenv("TZ", "UTC", 1);
    memset(s, 0, sizeof *s);
    s->m = model_new();
    assert_non_null(s->m);
    ui_init(&s->ui);
    struct model *m = s->m;
    m->now = (struct stamp){SCENE_WALL_NS, SCENE_MONO_NS};
    m->clock_known = true;
    snprintf(m->vessel, sizeof m->vessel, "Tern Point");
    snprintf(m->source, sizeof m->source, "demo.log");
    m->well_since_wall_ns = SCENE_WALL_NS - 847 * NS_PER_S;
    m->trend_span_ns = 600 * NS_PER_S;
    m->units = (struct unit_choice){UNIT_C, UNIT_KPA, UNIT_L, UNIT_LPH, UNIT_KN};
    scene_sources(s);
    m->bus = (struct model_bus){.load_percent = 31, .frames_per_s = 412, .frames = 1234567};
    m->replay = (struct model_replay){.is_log = true,
                                      .can_seek = true,
                                      .speed = 8,
                                      .first_ns = SCENE_WALL_NS - 1500 * NS_PER_S,
                                      .last_ns = SCENE_WALL_NS + 2100 * NS_PER_S,
                                      .marks = s->marks};
    for (int i = 0; i < 64; i++) /* a cold start, a gap, a hot stretch later on */
        s->hottest[i] = i < 4               ? 15.0f + (float)i * 4
                        : i < 6             ? NAN
                        : i >= 40 && i < 44 ? 80.0f
                                            : 30.0f;
    m->replay.hottest = s->hottest;
    m->replay.hottest_count = 64;
    m->replay.hottest_limit = 93.3;
    scene_engines(s, engines);
    for (int e = 0; e < engines; e++) {
        scene_channel(s, QTY_RPM, e, 2245 + 23 * e);
        scene_limit(scene_channel(s, QTY_EXHAUST, e, 28 + 2 * e), 93.3, true);
        scene_limit(scene_channel(s, QTY_COOLANT, e, 79 + 5 * e), 100, true);
        scene_limit(scene_channel(s, QTY_OIL_PRESSURE, e, 412 - 7 * e), 100, false);
        scene_channel(s, QTY_FUEL_RATE, e, 48.2 + 0.7 * e);
        scene_channel(s, QTY_LOAD, e, 71 + e);
        scene_channel(s, QTY_HOURS, e, 1234.5 + e);
    }
    scene_limit(scene_channel(s, QTY_ENGINE_SPACE, 0, 31), 60, true);
    struct model_channel *volts = scene_channel(s, QTY_BATTERY_VOLTS, 0, 27.6);
    volts->nominal_volts = 24;
    volts->label = "house";
    scene_limit(volts, 24, false);
    scene_channel(s, QTY_FUEL_TANK, 0, 61);
    scene_channel(s, QTY_FUEL_TANK, 1, 58);
    scene_channel(s, QTY_SPEED_GROUND, 0, 17.2);
    scene_channel(s, QTY_SEA, 0, 18.4);
}

/* Renames a channel to another place of the bus: engines 11 and 12 are the first and the second. */
static inline void scene_move(struct scene *s, struct model_channel *c, int place, int sub)
{
    c->id.place = (uint8_t)place;
    c->id.sub = (uint8_t)sub;
    channel_id_format(s->keys[c - s->m->channels], CHANNEL_KEY_SIZE, c->id);
}

/* A boat with everything, under way: engines 11 and 12, a generator that runs, shore power left
 * behind, a combined inverter and charger, a lithium bank. */
static inline void scene_full(struct scene *s)
{
    scene_calm(s, 2);
    struct model *m = s->m;
    for (size_t i = 0; i < m->channel_count; i++)
        if (m->channels[i].engine >= 0)
            scene_move(s, &m->channels[i], 11 + m->channels[i].engine, 0);
    snprintf(m->engine_names[2], sizeof m->engine_names[2], "GENERATOR");
    m->engine_states[2] = ENGINE_RUNNING;
    static const struct {
        enum quantity q;
        double value, limit;
    } generator[] = {{QTY_RPM, 1512, 0},         {QTY_EXHAUST, 44, 93.3}, {QTY_COOLANT, 81, 103},
                     {QTY_OIL_PRESSURE, 390, 0}, {QTY_LOAD, 38, 0},       {QTY_HOURS, 812.4, 0}};
    for (size_t i = 0; i < sizeof generator / sizeof generator[0]; i++) {
        struct model_channel *c = scene_channel(s, generator[i].q, 2, generator[i].value);
        c->source = 40;
        scene_move(s, c, 0, 0);
        if (generator[i].limit > 0)
            scene_limit(c, generator[i].limit, true);
    }
    static const struct {
        enum quantity q;
        int place, sub, source;
        double value;
    } rest[] = {
        {QTY_BATTERY_AMPS, 0, 0, 41, 4},       {QTY_BATTERY_TEMP, 0, 0, 41, 21},
        {QTY_BATTERY_VOLTS, 2, 0, 41, 13.4},   {QTY_BATTERY_AMPS, 2, 0, 41, -31},
        {QTY_BATTERY_CHARGE, 2, 0, 41, 94},    {QTY_BATTERY_TEMP, 2, 0, 41, 24},
        {QTY_BATTERY_CAPACITY, 2, 0, 41, 400}, {QTY_CHARGER, 0, 0, 42, 1},
        {QTY_INVERTER, 0, 0, 42, 1},           {QTY_CONVERTER, 0, 0, 42, 3},
        {QTY_DC_VOLTS, 0, 0, 42, 13.7},        {QTY_DC_AMPS, 0, 0, 42, 80},
        {QTY_AC_IN_VOLTS, 0, 1, 42, 0},        {QTY_AC_IN_AMPS, 0, 1, 42, 0},
        {QTY_AC_IN_HERTZ, 0, 1, 42, 0},        {QTY_AC_IN_WATTS, 0, 1, 42, 0},
        {QTY_AC_OUT_VOLTS, 0, 1, 42, 229},     {QTY_AC_OUT_AMPS, 0, 1, 42, 1.6},
        {QTY_AC_OUT_HERTZ, 0, 1, 42, 50.4},    {QTY_AC_OUT_WATTS, 0, 1, 42, 350},
        {QTY_AC_VOLTS, 1, 1, 40, 231},         {QTY_AC_AMPS, 1, 1, 40, 6.9},
        {QTY_AC_HERTZ, 1, 1, 40, 50.4},        {QTY_AC_WATTS, 1, 1, 40, 1564},
        {QTY_FRESH_WATER_TANK, 0, 0, 30, 64},  {QTY_OUTSIDE_AIR, 0, 0, 30, 19},
    };
    for (size_t i = 0; i < sizeof rest / sizeof rest[0]; i++) {
        struct model_channel *c = scene_channel(s, rest[i].q, rest[i].place, rest[i].value);
        c->source = (uint8_t)rest[i].source;
        scene_move(s, c, rest[i].place, rest[i].sub);
        if (rest[i].q == QTY_BATTERY_VOLTS)
            c->label = "lithium";
    }
}

/* What one small diesel with a sail drive and no fuel meter has to say. */
static inline void scene_sailing(struct scene *s)
{
    scene_calm(s, 1);
    for (size_t i = 0; i < s->m->channel_count; i++)
        history_free((struct history *)(uintptr_t)s->m->channels[i].history);
    s->m->channel_count = 0;
    scene_channel(s, QTY_RPM, 0, 2390);
    scene_limit(scene_channel(s, QTY_EXHAUST, 0, 44), 93.3, true);
    scene_limit(scene_channel(s, QTY_COOLANT, 0, 78), 100, true);
    scene_limit(scene_channel(s, QTY_OIL_PRESSURE, 0, 340), 100, false);
    scene_channel(s, QTY_ALTERNATOR, 0, 14.2);
    scene_channel(s, QTY_HOURS, 0, 1812.4);
    for (int b = 0; b < 2; b++) {
        struct model_channel *volts = scene_channel(s, QTY_BATTERY_VOLTS, b, 14.1 - 0.2 * b);
        volts->nominal_volts = 12;
        volts->label = b ? "engine" : "house";
        scene_channel(s, QTY_BATTERY_AMPS, b, b ? 1 : 22);
    }
    scene_channel(s, QTY_BATTERY_CHARGE, 0, 88);
    scene_channel(s, QTY_FUEL_TANK, 0, 47);
    scene_channel(s, QTY_FRESH_WATER_TANK, 0, 71);
    scene_channel(s, QTY_SPEED_GROUND, 0, 5.9);
    scene_channel(s, QTY_SPEED_WATER, 0, 5.6);
    scene_channel(s, QTY_SEA, 0, 15.3);
}

/* The same with the last engine's raw water lost, and a caution besides. */
static inline void scene_trouble(struct scene *s, int engines)
{
    scene_calm(s, engines);
    struct model *m = s->m;
    char key[CHANNEL_KEY_SIZE], text[ALERT_TEXT_SIZE];
    channel_id_format(key, sizeof key, (struct channel_id){QTY_EXHAUST, (uint8_t)(engines - 1), 0});
    for (size_t i = 0; i < m->channel_count; i++)
        if (strcmp(m->channels[i].key, key) == 0)
            scene_climb(&m->channels[i], 61, 20);
    snprintf(text, sizeof text, "%s EXHAUST 61 °C rising 96 K/min, 93 °C in 20 s: check raw water",
             m->engine_names[engines - 1]);
    scene_alert(s, PRIORITY_ALARM, ALERT_UNACKNOWLEDGED, key, text);
    scene_alert(s, PRIORITY_CAUTION, ALERT_ACKNOWLEDGED, "fuel-tank.1",
                "FUEL TANK 1 58 %: sender 21 says it is at its lowest");
    m->replay.marks = s->marks;
    s->marks[0] = (struct model_mark){SCENE_WALL_NS - 600 * NS_PER_S, PRIORITY_CAUTION, NULL};
    s->marks[1] = (struct model_mark){SCENE_WALL_NS - 21 * NS_PER_S, PRIORITY_ALARM, NULL};
    m->replay.mark_count = 2;
    s->ui.flash = true;
}

/* A list longer than a screen: every priority and state, ended ones below. */
static inline void scene_many_alerts(struct scene *s)
{
    static const enum priority priorities[] = {PRIORITY_EMERGENCY, PRIORITY_ALARM, PRIORITY_WARNING,
                                               PRIORITY_CAUTION};
    static const enum alert_state states[] = {ALERT_UNACKNOWLEDGED, ALERT_SILENCED,
                                              ALERT_ACKNOWLEDGED, ALERT_RECTIFIED};
    struct model *m = s->m;
    for (int i = 0; i < 24; i++) {
        enum priority p = priorities[i / 6];
        char text[80];
        snprintf(text, sizeof text, "TANK %d 99 %%: made up to fill the list, look at nothing", i);
        struct alert *a =
            scene_alert(s, p, p == PRIORITY_CAUTION ? ALERT_ACKNOWLEDGED : states[i % 4], "", text);
        a->repeats = i == 2 ? 7 : 0;
        a->rectified = (struct stamp){SCENE_WALL_NS - 9 * NS_PER_S, SCENE_MONO_NS - 9 * NS_PER_S};
        a->figures = (struct alert_figures){NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN};
    }
    for (int i = 0; i < 3; i++) {
        s->ended[i] = s->alerts[i];
        s->ended[i].id = 100 + (uint32_t)i;
        s->ended[i].active = false;
        s->ended[i].state = ALERT_NORMAL;
        m->ended[m->ended_count++] = &s->ended[i];
    }
}

static inline void scene_free(struct scene *s)
{
    for (size_t i = 0; i < s->m->channel_count; i++)
        history_free((struct history *)(uintptr_t)s->m->channels[i].history);
    model_free(s->m);
}

/* The screen as text: rows, then roles, then each role that is used with its looks at 256 colours,
 * 8 and none. The caller frees it. */
static inline char *scene_picture(struct scene *s, int cols, int rows, bool ascii,
                                  const char *theme_name)
{
    struct grid g;
    assert_true(grid_init(&g, cols, rows, ascii));
    s->ui.cols = cols;
    s->ui.rows = rows;
    ui_draw(&g, s->m, &s->ui);
    size_t cap = (size_t)(cols * 12 + 80) * (size_t)(rows + 20) * 2, n = 0;
    char *out = malloc(cap);
    assert_non_null(out);
    for (int y = 0; y < rows; y++) {
        n += grid_row_text(&g, y, out + n, cap - n);
        out[n++] = '\n';
    }
    n += (size_t)snprintf(out + n, cap - n, "---- roles\n");
    for (int y = 0; y < rows; y++) {
        n += grid_row_roles(&g, y, out + n, cap - n);
        out[n++] = '\n';
    }
    n += (size_t)snprintf(out + n, cap - n, "---- looks in %s: 256, 8, none\n", theme_name);
    struct theme t;
    assert_true(theme_builtin(&t, theme_name));
    bool seen[ROLE_COUNT] = {false};
    for (int i = 0; i < cols * rows; i++)
        seen[g.cells[i].role] = true;
    for (int r = 0; r < ROLE_COUNT; r++) {
        if (!seen[r])
            continue;
        n += (size_t)snprintf(out + n, cap - n, "%s", role_text((enum role)r));
        for (int level = COLOR_256; level >= 0; level--) {
            struct cell cell = {.role = (uint8_t)r};
            struct look look = theme_look(&t, (enum color_level)level, &cell);
            n += (size_t)snprintf(out + n, cap - n, "  %d,%d%s%s%s%s", look.fg, look.bg,
                                  look.attr & LOOK_BOLD ? " bold" : "",
                                  look.attr & LOOK_DIM ? " dim" : "",
                                  look.attr & LOOK_UNDERLINE ? " underline" : "",
                                  look.attr & LOOK_REVERSE ? " reverse" : "");
        }
        out[n++] = '\n';
    }
    out[n] = '\0';
    grid_fini(&g);
    return out;
}

#endif
