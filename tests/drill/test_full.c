/* The full boat: generator, shore power, inverter and lithium bank, from the drill's frames through
 * the whole program. A healthy one is left in peace, whatever numbers its engines have. */
#include "support/check.h"

#include "base/text.h"
#include "bus/timeline.h"
#include "config/config.h"
#include "drill/frames.h"
#include "drill/run.h"
#include "keeper/keeper.h"

#include <stdio.h>
#include <stdlib.h>

struct sailed {
    struct settings *settings;
    struct keeper *keeper;
    struct drill_run *run;
    struct drill_frames frames;
    bool seen[QTY_COUNT];
    double lowest_shore_v, highest_genset_hz, highest_bank_a, lowest_bank_a;
    int on_generator;         /* so many seconds the generator's current passed through, */
    int apart;                /* so many the inverter and its input disagree by now */
    bool words[16];           /* states of the converter */
    bool twin[PLANT_ENGINES]; /* by slot: was compared with another engine */
};

static void on_message(void *ctx, const struct drill_message *m)
{
    struct sailed *s = ctx;
    drill_frames_add(&s->frames, m);
}

static double now(const struct sailed *s, const char *key)
{
    struct channel_id id;
    assert_true(channel_id_parse(key, &id, NULL));
    const struct channel *c = plant_find(keeper_plant(s->keeper), id);
    return c && c->status == READING_OK ? c->value : (double)NAN;
}

/* Nothing passes through that does not come in, be it from the shore or from the generator: what
 * goes out has the volts and hertz that come in, and what the charger takes comes in besides. Boxes
 * send every 1.5 s, one after the other: at a change they may disagree for so long. */
static void look_at_input(struct sailed *s)
{
    double in_v = now(s, "ac-in-volts.0.1"), in_w = now(s, "ac-in-watts.0.1"),
           genset_v = now(s, "ac-volts.1.1");
    bool agree = true;
    if (now(s, "inverter.0") == 1)
        agree = fabs(in_v - now(s, "ac-out-volts.0.1")) < 4 &&
                fabs(now(s, "ac-in-hertz.0.1") - now(s, "ac-out-hertz.0.1")) < 0.2 &&
                in_w >= now(s, "ac-out-watts.0.1");
    if (now(s, "inverter.0") == 1 && genset_v > 200) {
        s->on_generator++;
        agree = agree && fabs(in_v - genset_v) < 5 && fabs(in_w - now(s, "ac-watts.1.1")) < 60;
    }
    s->apart = agree ? 0 : s->apart + 1;
    assert_true(s->apart <= 3);
}

static void look(struct sailed *s)
{
    double shore = now(s, "ac-in-volts.0.1"), hertz = now(s, "ac-hertz.1.1"),
           amps = now(s, "dc-amps.0"), state = now(s, "converter.0");
    for (int e = 0; e < PLANT_ENGINES; e++)
        s->twin[e] |= keeper_sense(s->keeper, e).twin;
    look_at_input(s);
    if (isfinite(shore))
        s->lowest_shore_v = fmin(s->lowest_shore_v, shore);
    if (isfinite(hertz))
        s->highest_genset_hz = fmax(s->highest_genset_hz, hertz);
    if (isfinite(amps)) {
        s->highest_bank_a = fmax(s->highest_bank_a, amps);
        s->lowest_bank_a = fmin(s->lowest_bank_a, amps);
    }
    if (isfinite(state))
        s->words[(int)state & 15] = true;
}

static void sail(struct sailed *s, const struct drill_plan *plan)
{
    struct frame f;
    *s = (struct sailed){.lowest_shore_v = 999};
    struct config_messages *messages = NULL;
    s->settings = config_load_text("test", "", &messages);
    config_messages_free(messages);
    assert_non_null(s->settings);
    s->keeper = keeper_new(s->settings, &(struct keeper_options){.escalate = false});
    assert_non_null(s->keeper);
    s->run = drill_run_new(plan);
    assert_non_null(s->run);
    drill_frames_init(&s->frames, plan, INT64_C(1777900000) * NS_PER_S);
    double t = 0;
    for (long step = 0; drill_run_step(s->run, on_message, s); step++) {
        t = (double)step * DRILL_STEP_S;
        while (drill_frames_take(&s->frames, t, &f)) {
            f.mono_ns = f.wall_ns - INT64_C(1777900000) * NS_PER_S + TIMELINE_START;
            keeper_frames(s->keeper, &f, 1);
        }
        if (step % 10 == 0)
            look(s);
    }
    assert_false(s->frames.overflow);
    const struct plant *p = keeper_plant(s->keeper);
    for (size_t i = 0; i < plant_count(p); i++)
        s->seen[plant_channel(p, i)->id.quantity] = true;
}

static void done(struct sailed *s)
{
    drill_run_free(s->run);
    keeper_free(s->keeper);
    settings_free(s->settings);
}

static void full__default_trip__all_of_it_speaks_and_nothing_cries(void **state)
{
    (void)state;
    struct drill_plan plan;
    struct sailed s;
    drill_plan_default(&plan, 2, 30, 1);
    drill_plan_full(&plan, false);
    sail(&s, &plan);
    static const enum quantity wanted[] = {
        QTY_AC_IN_VOLTS,  QTY_AC_IN_AMPS,       QTY_AC_IN_HERTZ,   QTY_AC_IN_WATTS,
        QTY_AC_OUT_VOLTS, QTY_AC_OUT_AMPS,      QTY_AC_OUT_HERTZ,  QTY_AC_OUT_WATTS,
        QTY_AC_VOLTS,     QTY_AC_AMPS,          QTY_AC_HERTZ,      QTY_AC_WATTS,
        QTY_DC_VOLTS,     QTY_DC_AMPS,          QTY_CHARGER,       QTY_INVERTER,
        QTY_CONVERTER,    QTY_BATTERY_CAPACITY, QTY_BATTERY_CHARGE};
    for (size_t i = 0; i < sizeof wanted / sizeof wanted[0]; i++)
        assert_true(s.seen[wanted[i]]);
    const struct plant *p = keeper_plant(s.keeper);
    const struct engine *genset = plant_engine(p, plant_engine_slot(p, 2));
    assert_true(genset->generator);
    assert_string_equal(genset->name, "GENERATOR");
    assert_string_equal(plant_engine(p, 0)->name, "PORT");
    const struct channel *bank = plant_find(p, (struct channel_id){QTY_BATTERY_VOLTS, 2, 0});
    assert_int_equal(bank->chemistry, BATTERY_LITHIUM);
    assert_int_equal(bank->nominal_volts, 12);
    assert_near(s.lowest_shore_v, 0, 0.01);
    assert_true(s.highest_genset_hz > 50 && s.highest_genset_hz < 52);
    assert_true(s.highest_bank_a > 40 && s.lowest_bank_a < -10);
    assert_true(s.words[3] && s.words[9]); /* bulk, inverting */
    assert_true(s.on_generator > 300);
    assert_int_equal(alerts_count(keeper_alerts(s.keeper)), 0);
    done(&s);
}

/* One engine and a generator: neither is the other's twin, whatever slots they have. */
static void full__one_engine__is_not_compared_with_its_generator(void **state)
{
    (void)state;
    struct drill_plan plan;
    struct sailed s;
    drill_plan_random(&plan, 1, 5);
    drill_plan_full(&plan, true);
    sail(&s, &plan);
    const struct plant *p = keeper_plant(s.keeper);
    int slots[PLANT_ENGINES], n = plant_engines_in_order(p, slots);
    assert_int_equal(n, 2);
    assert_false(plant_engine(p, slots[0])->generator);
    assert_true(plant_engine(p, slots[1])->generator);
    assert_false(s.twin[slots[0]]);
    assert_false(s.twin[slots[1]]);
    done(&s);
}

/* Random ones begin at 0, 1 or 11, and are port and starboard all the same, each compared with the
 * other. */
static void full__random_boats__engines_as_they_come(void **state)
{
    (void)state;
    bool firsts[12] = {false};
    for (uint64_t seed = 1; seed < 60; seed++) {
        struct drill_plan plan;
        drill_plan_random(&plan, 2, seed);
        drill_plan_full(&plan, true);
        assert_true(plan.first_instance == 0 || plan.first_instance == 1 ||
                    plan.first_instance == 11);
        bool known = firsts[plan.first_instance];
        firsts[plan.first_instance] = true;
        if (known)
            continue;
        struct sailed s;
        sail(&s, &plan);
        const struct plant *p = keeper_plant(s.keeper);
        int slots[PLANT_ENGINES], n = plant_engines_in_order(p, slots);
        assert_int_equal(n, 3);
        for (int i = 0; i < 3; i++)
            assert_int_equal(plant_engine(p, slots[i])->instance, plan.first_instance + i);
        assert_string_equal(plant_engine(p, slots[0])->name, "PORT");
        assert_string_equal(plant_engine(p, slots[1])->name, "STARBOARD");
        assert_string_equal(plant_engine(p, slots[2])->name, "GENERATOR");
        assert_true(s.twin[slots[0]]);
        assert_true(s.twin[slots[1]]);
        assert_false(s.twin[slots[2]]);
        done(&s);
    }
    assert_true(firsts[0] && firsts[1] && firsts[11]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(full__default_trip__all_of_it_speaks_and_nothing_cries),
        cmocka_unit_test(full__one_engine__is_not_compared_with_its_generator),
        cmocka_unit_test(full__random_boats__engines_as_they_come),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
