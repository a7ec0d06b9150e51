/* A boat with a sensor of every kind that the catalogue has: each reads what is drawn at random,
 * falls silent, is not available, comes from another box; engines start and stop. What the plant
 * makes of it is kept as golden texts: every channel with all that is known of it, engines,
 * senders, fuel. They say that nothing has changed, not that it is right: the other tests of plant
 * do. `GOLDEN=write` writes them again. */
#include "config/config.h"
#include "plant/plant.h"
#include "support/golden.h"
#include "verbs/composed.h"

#include <stdlib.h>

#include "base/banned.h"

#define SENSORS 400
#define STEP_MS 250
#define PARTS   5
#define PART_S  240

static const char configuration[] =
    "[vessel]\nengines = 3\n[channel fuel-tank.0]\nshape = cylinder\nlength = 2\nwidth = 1\n"
    "height = 1\nunusable = 20 L\nslosh = 20 s\n[channel fuel-tank.1]\ncapacity = 150 L\n"
    "[channel fuel-rate.0]\nfeed = fuel-rate.1\nreturn = fuel-rate.2\naccuracy = 2 %\n"
    "[channel oil-temp.0]\noffset = 2.5 K\ngain = 1.04\nspan = 0 C to 160 C\n"
    "[channel coolant.1]\ncalibration = 0:3, 50:51, 120:125\n[channel blower.0]\nfrom = "
    "switch.0.3\n"
    "[channel battery-volts.1]\nnominal volts = 24 V\nchemistry = gel\n"
    "[channel exhaust.0]\nsource = 17\n[fuel]\nreserve = 30 %\naverage over = 20 s\n"
    "[engine 2]\nkind = generator\nname = GENSET\n";

struct sensor {
    const struct pgn_info *row;
    const struct field_info *field;
    unsigned place, code;
    enum quantity quantity;
    uint8_t source;
    int64_t period_ms, next_ms, silent_until_ms, none_until_ms;
    double low, high, value;
};

static struct {
    struct plant *plant;
    struct sensor sensors[SENSORS];
    int count;
    int64_t ms;
    uint32_t state;
    unsigned readings, told, engine_events, conflicts;
} boat;

static unsigned draw(unsigned below)
{
    boat.state = boat.state * 1664525u + 1013904223u;
    return (boat.state >> 8) % below;
}

static void on_reading(void *ctx, struct channel *c, struct stamp at)
{
    (void)ctx, (void)c, (void)at;
    boat.readings++;
}

static void on_status(void *ctx, struct channel *c, enum reading_status before, struct stamp at)
{
    (void)ctx, (void)at;
    boat.told += 1 + (unsigned)c->status * 3 + (unsigned)before;
}

static void on_conflict(void *ctx, struct channel *second, struct channel *holder, struct stamp at)
{
    (void)ctx, (void)second, (void)holder, (void)at;
    boat.conflicts++;
}

static void on_engine(void *ctx, int engine, enum engine_state before, struct stamp at)
{
    (void)ctx, (void)at;
    boat.engine_events += 1 + (unsigned)engine * 3 + (unsigned)before;
}

static void add_sensor(const struct pgn_info *row, const struct field_info *f, enum quantity q,
                       unsigned code, unsigned place)
{
    const struct quantity_info *of = quantity_info(q);
    bool by_engine =
        f->place.how == AT_ENGINE || f->place.how == AT_GEARBOX || f->place.how == AT_GENERATOR;
    double low, high;
    assert_true(boat.count < SENSORS);
    catalogue_range(f, &low, &high);
    boat.sensors[boat.count++] = (struct sensor){
        .row = row,
        .field = f,
        .place = place,
        .code = code,
        .quantity = q,
        .source = by_engine ? (uint8_t)place : 17,
        .period_ms = (int64_t[]){250, 500, 1000, 1500, 2500}[draw(5)],
        .next_ms = draw(2000),
        .low = fmax(low, of->lowest),
        .high = fmin(high, of->highest),
        .value = fmax(low, of->lowest),
    };
}

static void add_sensors(void)
{
    for (size_t r = 0; r < catalogue_count(); r++) {
        const struct pgn_info *row = catalogue_row(r);
        for (unsigned i = 0; i < row->field_count; i++) {
            const struct field_info *f = &row->fields[i];
            if (f->bits > 32 || f->gain == 0)
                continue;
            for (unsigned c = 0; c < f->choice.count; c++)
                add_sensor(row, f, f->choice.quantities[c], c, draw(2));
            if (!f->choice.count && f->quantity != QTY_NONE)
                for (unsigned place = 0; place < (f->quantity == QTY_RPM ? 3 : 2); place++)
                    add_sensor(row, f, f->quantity, 0, place);
        }
    }
}

/* What this one reads next: often the same, or a little more or less. */
static double next_value(const struct sensor *s)
{
    static const double rpm[] = {0, 0, 140, 160, 290, 310, 700, 1500, 1800, 2200, 3000};
    static const double volts[] = {0, 11, 12.4, 13.8, 15.9, 16, 24.1, 27.6, 32, 36, 48, 56};
    static const double ac[] = {0, 94.9, 95, 120, 145, 179, 180, 230, 265, 266};
    static const double hertz[] = {44, 45, 50, 54.9, 55, 60, 66, 67};
    enum quantity q = s->quantity;
    if (draw(12))
        return draw(4) ? s->value
                       : fmin(s->high, fmax(s->low, s->value + (s->high - s->low) *
                                                                   ((int)draw(21) - 10) / 1000));
    if (q == QTY_RPM)
        return rpm[draw(sizeof rpm / sizeof *rpm)];
    if (q == QTY_BATTERY_VOLTS || q == QTY_DC_VOLTS)
        return volts[draw(sizeof volts / sizeof *volts)];
    if (quantity_is_ac(q))
        return s->high < 130 ? hertz[draw(sizeof hertz / sizeof *hertz)]
                             : ac[draw(sizeof ac / sizeof *ac)];
    return s->low + (s->high - s->low) * draw(101) / 100;
}

static void send(struct sensor *s)
{
    struct composed c = {.row = s->row};
    compose(&c, s->row);
    if (s->field->choice.count)
        compose_bits(&c, s->field->choice.bit, s->field->choice.bits, s->code);
    if (s->field->place.how == AT_BITS)
        compose_bits(&c, s->field->place.bit, s->field->place.bits, s->place);
    if (s->field->sub.how == AT_BITS)
        compose_bits(&c, s->field->sub.bit, s->field->sub.bits, s->place + 1);
    if (s->field->sub.how == AT_EACH)
        compose_bits(&c, s->field->sub.bit, s->field->sub.bits, 0);
    if (s->field->counted)
        compose_bits(&c, s->field->counted, 8, 1);
    if (boat.ms >= s->none_until_ms) {
        s->value = next_value(s);
        compose_value(&c, s->field, s->value);
    }
    struct message m = {
        .at = {(1760000000000 + boat.ms) * NS_PER_MS, (1000000 + boat.ms) * NS_PER_MS},
        .pgn = s->row->pgn,
        .source = s->source,
        .destination = ADDRESS_GLOBAL,
        .len = (uint16_t)c.len,
        .data = c.data};
    plant_message(boat.plant, &m);
    if (draw(500) == 0) {
        m.source = 99;
        plant_message(boat.plant, &m);
    }
}

static void setup_battery(void)
{
    uint8_t d[8] = {(uint8_t)draw(2),
                    (uint8_t)(0xF0 | draw(4)),
                    (uint8_t)(draw(7) | draw(3) << 4),
                    0xFF,
                    0xFF,
                    0xFF,
                    0xFF,
                    0xFF};
    struct message m = {
        .at = {(1760000000000 + boat.ms) * NS_PER_MS, (1000000 + boat.ms) * NS_PER_MS},
        .pgn = 127513,
        .source = 17,
        .destination = ADDRESS_GLOBAL,
        .len = 8,
        .data = d};
    plant_message(boat.plant, &m);
}

static void step(void)
{
    struct stamp now = {(1760000000000 + boat.ms) * NS_PER_MS, (1000000 + boat.ms) * NS_PER_MS};
    for (int i = 0; i < boat.count; i++) {
        struct sensor *s = &boat.sensors[i];
        if (boat.ms < s->next_ms || boat.ms < s->silent_until_ms)
            continue;
        s->next_ms = boat.ms + s->period_ms;
        send(s);
        if (draw(300) == 0)
            s->silent_until_ms = boat.ms + draw(60000);
        if (draw(300) == 0)
            s->none_until_ms = boat.ms + draw(30000);
    }
    if (draw(200) == 0)
        setup_battery();
    if (draw(700) == 0) /* every box at once */
        for (int i = 0; i < boat.count; i++)
            boat.sensors[i].silent_until_ms = boat.ms + 9000;
    if (draw(900) == 0)
        plant_gap(boat.plant, now);
    if (draw(900) == 0)
        plant_hole(boat.plant, now);
    plant_tick(boat.plant, now);
    boat.ms += STEP_MS;
}

/* ---- what is known -------------------------------------------------------------------------- */

static void put_channel(FILE *out, const struct channel *c, int64_t now_ns)
{
    struct history_bucket b = {0};
    double rate = NAN, low = NAN, high = NAN;
    fprintf(out, "%s %d %.6g %.6g p%.3g e%d s%d c%d n%d %g %d%d%d%d%d%d w%u", c->key,
            (int)c->status, c->value, c->sane, when_seconds(c->period_ns), c->engine, c->system,
            (int)c->chemistry, c->nominal_volts, c->capacity_l, c->second, c->repeats,
            c->switched_off, c->at_end, c->elsewhere, c->is_wild, (unsigned)c->wild);
    if (history_span(c->history, now_ns - 100 * NS_PER_S, now_ns - 7 * NS_PER_S, &b))
        fprintf(out, " h%.5g %.5g %.5g %u", (double)b.low, (double)b.high, (double)b.mean,
                (unsigned)b.count);
    if (history_glance(c->history, now_ns - 1000 * NS_PER_S, now_ns - 333 * NS_PER_S, &b))
        fprintf(out, " g%.5g %u", (double)b.mean, (unsigned)b.count);
    if (history_rate_per_min(c->history, now_ns, 60 * NS_PER_S, &rate))
        fprintf(out, " r%.4g", rate);
    if (history_extremes(c->history, &low, &high))
        fprintf(out, " x%.5g %.5g", low, high);
    fputc('\n', out);
}

static void put_boat(FILE *out)
{
    const struct plant *p = boat.plant;
    int64_t now_ns = plant_now(p).mono_ns;
    int slots[PLANT_ENGINES], n = plant_engines_in_order(p, slots);
    const struct fuel_account *fuel = plant_fuel(p);
    double burnt_l = 0;
    fprintf(out, "---- %.0f s: readings %u, told %u, engines %u, conflicts %u, dropped %u\n",
            (double)boat.ms / 1000, boat.readings, boat.told, boat.engine_events, boat.conflicts,
            (unsigned)plant_dropped(p));
    for (int i = 0; i < n; i++) {
        const struct engine *e = plant_engine(p, slots[i]);
        fprintf(out, "%s %d %d %d %.5g since %.2f changed %.2f twin %d\n", e->name, e->instance,
                e->generator, (int)e->state, e->rpm, when_seconds(now_ns - e->since_ns),
                when_seconds(now_ns - e->speed_changed_ns), plant_engine_twin(p, slots[i]));
    }
    for (int i = 0; i < PLANT_ENGINES; i++)
        burnt_l += fuel->engines[i].burnt_l;
    fprintf(out, "burnt %.6g\n", burnt_l);
    for (int a = 0; a < 256; a++) {
        const struct source_seen *s = plant_source(p, 0, (uint8_t)a);
        if (s && s->seen)
            fprintf(out, "sender %d: %u messages, %u gaps\n", a, (unsigned)s->frames, s->gaps);
    }
    for (size_t i = 0; i < plant_count(p); i++)
        put_channel(out, plant_channel(p, i), now_ns);
}

static void sail(const char *name, const char *text, uint32_t seed)
{
    struct config_messages *messages = NULL;
    struct settings *settings = config_load_text("test", text, &messages);
    char *got;
    size_t size;
    FILE *out = open_memstream(&got, &size);
    for (size_t i = 0; i < config_message_count(messages); i++)
        print_error("%s\n", config_message(messages, i));
    config_messages_free(messages);
    assert_non_null(settings);
    assert_non_null(out);
    memset(&boat, 0, sizeof boat);
    boat.state = seed;
    boat.plant = plant_new(settings);
    assert_non_null(boat.plant);
    assert_true(plant_listen(boat.plant, (struct plant_listener){NULL, NULL, on_reading, on_status,
                                                                 on_conflict, on_engine}));
    add_sensors();
    for (int part = 0; part < PARTS; part++) {
        while (boat.ms < (part + 1) * PART_S * 1000)
            step();
        put_boat(out);
    }
    fclose(out);
    plant_free(boat.plant);
    settings_free(settings);
    golden_check("plant", name, got);
    free(got);
}

static void boat__drawn_at_random__is_known_as_kept(void **unused)
{
    (void)unused;
    sail("drawn", "", 5);
    sail("drawn-configured", configuration, 6);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(boat__drawn_at_random__is_known_as_kept),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
