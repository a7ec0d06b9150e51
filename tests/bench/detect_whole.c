#include "detect_whole.h"

#include "keeper/keeper.h"
#include "config/config.h"
#include "drill/frames.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define EPOCH_NS  (INT64_C(1750000000) * NS_PER_S) /* 2025-06-15: any will do */
#define INTRUDER  0x51
#define STEP_ENDS 0.2 /* s: frames of a step are all sent by then */

/* Source addresses of the boxes. */
static const uint8_t senders[COOLING_SENSORS] = {
    [COOLING_EXHAUST] = 0x20,  [COOLING_EXHAUST_GAS] = 0x20, [COOLING_COOLANT] = 0x10,
    [COOLING_OIL_TEMP] = 0x10, [COOLING_RPM] = 0x10,         [COOLING_LOAD] = 0x10,
    [COOLING_SPACE] = 0x30,    [COOLING_SEA] = 0x31,
};

struct whole {
    struct settings *settings;
    struct keeper *keeper;
    struct drill_plan plan;
    struct drill_frames frames;
    struct drill_value oil[COOLING_ENGINES], load[COOLING_ENGINES]; /* go with the coolant */
    int level[COOLING_ENGINES][COOLING_SENSORS];
    uint32_t alert[COOLING_ENGINES][COOLING_SENSORS];
    bool changed;
    int conflicts;
};

static void on_alert(void *ctx, const struct alert_event *ev)
{
    struct whole *w = ctx;
    w->changed = true;
    if (ev->event == EVENT_RAISED && ev->alert->kind == KIND_CONFLICT)
        w->conflicts++;
}

struct whole *whole_new(int engines, bool dry_gas)
{
    static const char dry[] = "[channel exhaust.0]\nsensor = dry\n"
                              "[channel exhaust.1]\nsensor = dry\n";
    struct whole *w = calloc(1, sizeof *w);
    if (!w)
        return NULL;
    struct config_messages *messages = NULL;
    w->settings = config_load_text("bench", dry_gas ? dry : "", &messages);
    config_messages_free(messages);
    struct keeper_options o = {.escalate = false};
    if (!w->settings || !(w->keeper = keeper_new(w->settings, &o))) {
        whole_free(w);
        return NULL;
    }
    alerts_listen(keeper_alerts(w->keeper), on_alert, w);
    w->plan.params.engines = engines;
    for (int i = 0; i < engines; i++)
        w->plan.params.engine[i].dry_gas = dry_gas;
    drill_frames_init(&w->frames, &w->plan, EPOCH_NS);
    return w;
}

void whole_free(struct whole *w)
{
    if (!w)
        return;
    keeper_free(w->keeper);
    settings_free(w->settings);
    free(w);
}

void whole_reading(struct whole *w, double t, int place, enum cooling_sensor s, bool good,
                   double value, bool intruder)
{
    static const enum drill_message_kind kinds[COOLING_SENSORS] = {
        [COOLING_EXHAUST] = DRILL_EXHAUST, [COOLING_EXHAUST_GAS] = DRILL_EXHAUST,
        [COOLING_COOLANT] = DRILL_DYNAMIC, [COOLING_RPM] = DRILL_RAPID,
        [COOLING_SPACE] = DRILL_SPACE,     [COOLING_SEA] = DRILL_SEA,
    };
    struct drill_value v = {good, value};
    if (s == COOLING_OIL_TEMP || s == COOLING_LOAD) {
        *(s == COOLING_LOAD ? &w->load[place] : &w->oil[place]) = v;
        return;
    }
    struct drill_message m = {.t_s = t, .kind = kinds[s], .place = (uint8_t)place};
    m.sender = (uint8_t)(intruder ? INTRUDER : senders[s] + place);
    if (s == COOLING_COOLANT) {
        m.v[DYN_COOLANT_C] = v;
        m.v[DYN_OIL_C] = w->oil[place];
        m.v[DYN_LOAD] = w->load[place];
    } else {
        m.v[0] = v;
    }
    drill_frames_add(&w->frames, &m);
}

/* Which sensor an alert is about; false for those that say nothing of heat. */
static bool is_about(const struct alert *a, int *place, enum cooling_sensor *s)
{
    static const enum quantity quantities[COOLING_SENSORS] = {
        [COOLING_EXHAUST] = QTY_EXHAUST,
        [COOLING_EXHAUST_GAS] = QTY_EXHAUST_GAS,
        [COOLING_COOLANT] = QTY_COOLANT,
        [COOLING_OIL_TEMP] = QTY_OIL_TEMP,
        [COOLING_RPM] = QTY_RPM,
        [COOLING_LOAD] = QTY_LOAD,
        [COOLING_SPACE] = QTY_ENGINE_SPACE,
    };
    struct channel_id id;
    if (a->kind == KIND_SILENT || a->kind == KIND_CONFLICT || a->kind == KIND_SPAN ||
        a->kind == KIND_BUS || !channel_id_parse(a->channel, &id, NULL) ||
        id.place >= COOLING_ENGINES)
        return false;
    for (int k = 0; k < COOLING_SENSORS; k++)
        if (quantities[k] == (enum quantity)id.quantity && k != COOLING_SEA) {
            *place = id.place;
            *s = (enum cooling_sensor)k;
            return true;
        }
    return false;
}

static void look(struct whole *w)
{
    struct alert_list *l = keeper_alerts(w->keeper);
    memset(w->level, 0, sizeof w->level);
    w->changed = false;
    for (size_t i = 0; i < alerts_count(l); i++) {
        const struct alert *a = alerts_at(l, i);
        int place, level = a->priority >= PRIORITY_ALARM ? 3 : 1 + (int)a->priority;
        enum cooling_sensor s;
        if (!a->active || !is_about(a, &place, &s) || level <= w->level[place][s])
            continue;
        w->level[place][s] = level;
        w->alert[place][s] = a->id;
    }
}

void whole_step(struct whole *w, double t)
{
    struct frame f;
    while (drill_frames_take(&w->frames, t + STEP_ENDS, &f)) {
        f.mono_ns = f.wall_ns;
        keeper_frames(w->keeper, &f, 1);
    }
    if (w->changed)
        look(w);
}

int whole_level(const struct whole *w, int place, enum cooling_sensor s)
{
    return w->level[place][s];
}

const char *whole_words(const struct whole *w, int place, enum cooling_sensor s)
{
    const struct alert *a = alerts_by_id(keeper_alerts(w->keeper), w->alert[place][s]);
    return w->level[place][s] > 0 && a ? a->text : "";
}

enum cooling_kind whole_kind(const struct whole *w, int place, enum cooling_sensor s)
{
    const struct alert *a = alerts_by_id(keeper_alerts(w->keeper), w->alert[place][s]);
    if (a && a->kind == KIND_DEPARTURE && strstr(a->action, "dry gas?"))
        return COOLING_ASKS;
    bool again = a && a->kind == KIND_DEPARTURE &&
                 (strstr(a->what, "broke away") || strstr(a->what, "breaks away again"));
    return again ? COOLING_AGAIN : COOLING_DEPARTURE;
}

bool whole_is_limit(const struct whole *w, int place, enum cooling_sensor s)
{
    const struct alert *a = alerts_by_id(keeper_alerts(w->keeper), w->alert[place][s]);
    return a && a->kind == KIND_LIMIT;
}

int whole_conflicts(const struct whole *w)
{
    return w->conflicts;
}
