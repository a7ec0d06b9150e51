/* Trips watched with a season drawn at random behind them: two engines at speeds that come and go,
 * what is wrong growing within the trip. What is said, and when, is kept as a golden text: it says
 * that something has changed, not that it was right. */
#include "season/watch.h"

#include "base/when.h"

#include "season/drawn_boat.h"
#include "support/golden.h"

#define LONG_S 5400

struct said {
    enum season_level level;
    bool live, notable, told, reserve;
};

static struct said shown[STEPS_ENGINES][SEASON_KEPT];

static void put_verdict(FILE *out, const struct season_watch *w, int second, int e, int kept)
{
    const struct season_verdict *v = season_watch_verdict(w, e, kept);
    struct said now = {v->level, v->live, season_watch_notable(v, kept), v->story != NULL,
                       v->has_reserve && v->reserve.used_up};
    struct said *was = &shown[e][kept];

    if (memcmp(&now, was, sizeof now) == 0 && (second % 600 != 0 || !v->live))
        return;
    *was = now;
    fprintf(out,
            "%5d %d %s: %s live %d notable %d told %d %.4g+-%.3g %.4g for %.4g at %.4g said "
            "%.4g at %.4g in row %d",
            second, e, quantity_info(season_kept[kept].quantity)->key, season_level_word(v->level),
            now.live, now.notable, now.told, v->excess, v->error, v->value, v->expected, v->rpm,
            v->said, v->said_rpm, v->in_row);
    if (v->has_reserve)
        fprintf(out, " reserve %.4g used %d weeks %.3g", v->reserve.reading, v->reserve.used_up,
                v->reserve.weeks);
    fputc('\n', out);
}

static void put_all(FILE *out, const struct season_watch *w, int second, int engines)
{
    for (int e = 0; e < engines; e++)
        for (int kept = 0; kept < SEASON_KEPT; kept++)
            put_verdict(out, w, second, e, kept);
}

struct now {
    double rpm[2], load, sea_c, air_c, coolant_off_c; /* a cold engine */
};

static void engine_now(struct boat *b, const struct now *n, int e, int second,
                       struct steps_second *out)
{
    double u = n->rpm[e] / 2400, grown = fmin(1, second / 2000.0);

    *out =
        (struct steps_second){.instance = (uint8_t)e, .running = n->rpm[e] > 0, .rpm = n->rpm[e]};
    for (int l = 0; l < SEASON_LOADS; l++)
        out->load[l] = NAN;
    if (b->load != SEASON_LOAD_NONE)
        out->load[b->load] = (10 + 80 * u * u) * (1 + n->load);
    for (int row = 0; row < SEASON_KEPT; row++) {
        const struct season_kept *k = &season_kept[row];
        double v = healthy(k->quantity, fmax(u, 0.1), n->load, n->sea_c, n->air_c);
        double differs = b->own[e][row] + 0.1 * k->between * rng_normal(&b->rng);

        if (row == b->row && (b->both || e == b->engine))
            differs += grown * b->by * (u < 0.45 ? k->idle_share : 1);
        if (k->quantity == QTY_COOLANT)
            differs -= n->coolant_off_c;
        if (n->rpm[e] <= 0 && k->rests)
            out->value[row] = n->air_c + differs;
        else
            out->value[row] = k->share ? v * exp(differs) : v + differs;
    }
}

/* Out for an hour and a half: at rest, through some speeds, one of them left in between. */
static void watch_trip(FILE *out, struct boat *b, struct season_watch *w, int64_t from_ns)
{
    struct now n = {.sea_c = rng_between(&b->rng, 8, 22), .coolant_off_c = 60};
    struct steps_second engine[2];
    int until = 120;

    n.air_c = n.sea_c + rng_between(&b->rng, -4, 8);
    for (int i = 0; i < LONG_S; i++) {
        int64_t at_ns = from_ns + i * S;

        if (i == until) {
            double rpm = i > LONG_S - 200           ? 0
                         : rng_chance(&b->rng, 0.2) ? 700
                                                    : rng_between(&b->rng, 1200, 2450);
            n.rpm[0] = n.rpm[1] = rpm;
            if (rng_chance(&b->rng, 0.15))
                n.rpm[1] *= 0.93; /* the levers apart */
            n.load = rng_between(&b->rng, -0.2, 0.3);
            until = i > LONG_S - 1000 ? LONG_S - 150 : i + 240 + (int)rng_below(&b->rng, 600);
        }
        if (n.rpm[0] > 0 && n.coolant_off_c > 0)
            n.coolant_off_c = fmax(0, n.coolant_off_c - 0.2);
        for (int e = 0; e < b->engines; e++)
            engine_now(b, &n, e, i, &engine[e]);
        struct crank_battery battery = {.instance = 1,
                                        .volts = i == 119 || i == 120 ? 10.1 : 12.6,
                                        .lowest = i == 119 || i == 120 ? 9.9 : 12.6,
                                        .temp_c = NAN,
                                        .period_s = 1};
        season_watch_starts(w, at_ns, b->air ? n.air_c : NAN, engine, b->engines, &battery, 1);
        season_watch_second(w, at_ns, b->sea ? n.sea_c : NAN, b->air ? n.air_c : NAN, engine,
                            b->engines);
        if (n.rpm[0] <= 0 && i > LONG_S - 140 && i < LONG_S - 136)
            season_watch_stopped(w, engine, b->engines);
        put_all(out, w, i, b->engines);
    }
}

static void put_standing(FILE *out, struct season_watch *w, int engines)
{
    for (int e = 0; e < engines; e++)
        for (int kept = 0; kept < SEASON_KEPT; kept++) {
            struct season_standing s;
            char key[CHANNEL_KEY_SIZE];

            if (!season_watch_standing(w, e, (uint8_t)e, kept, &s))
                continue;
            channel_id_format(key, sizeof key, s.id);
            fprintf(out, " stands %s %.4g+-%.3g now %d %s since %.0f\n", key, s.excess, s.error,
                    s.now, season_level_word(s.level), (double)(s.since_ns / DAY_NS));
        }
}

static void put_trip(FILE *out, struct season_watch *w)
{
    const struct season_step *steps;
    struct season_trip trip;
    int count;

    assert_true(season_watch_trip(w, "a\tlog", &trip, &steps, &count));
    fprintf(out, " trip of %.0f s, '%s', %d steps\n", when_seconds(trip.to_ns - trip.from_ns),
            trip.log, count);
    for (int i = 0; i < count; i += 3)
        fprintf(out, "  %s.%d %.4g %.4g+-%.3g for %.4g load %d %.4g\n",
                quantity_info(steps[i].id.quantity)->key, steps[i].id.place, steps[i].rpm,
                steps[i].mean, steps[i].spread, steps[i].minutes, (int)steps[i].load_kind,
                steps[i].load);
}

static void trip__drawn_at_random__is_told_as_kept(void **state)
{
    static const uint64_t seeds[] = {4, 10, 15, 17, 29, 33};
    char *got = NULL;
    size_t len = 0;
    FILE *out = open_memstream(&got, &len);

    (void)state;
    assert_non_null(out);
    for (size_t i = 0; i < sizeof seeds / sizeof seeds[0]; i++) {
        struct boat b = draw(seeds[i]);
        struct season season;
        int64_t at_ns = sail_season(&b, &season);
        struct season_watch *w = season_watch_new(&season);

        assert_non_null(w);
        memset(shown, 0, sizeof shown);
        for (int e = 0; e < b.engines; e++)
            season_watch_limit(w, e, season_kept_row(QTY_EXHAUST), 62);
        season_watch_limit(w, 0, season_kept_row(QTY_COOLANT), 90);
        fprintf(out, "---- %d: row %d by %.3g\n", (int)seeds[i], b.row, b.by);
        watch_trip(out, &b, w, at_ns);
        put_standing(out, w, b.engines);
        put_trip(out, w);
        season_watch_free(w);
        season_free(&season);
    }
    fclose(out);
    golden_check("season", "drawn-watch", got);
    free(got);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(trip__drawn_at_random__is_told_as_kept),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
