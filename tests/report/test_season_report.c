/* A season's report in all its forms, kept as text: a boat whose port exhaust wears, whose
 * starboard probe was exchanged, whose oil pressure falls and whose battery ages, with work marked
 * once; in metric units and in those of the US. The season is made up here. */
#include "report/season/report.h"

#include "base/rng.h"
#include "base/text.h"
#include "config/config.h"
#include "season/kept.h"
#include "support/check.h"
#include "support/golden.h"

#include <stdlib.h>
#include <time.h>

#define DAY_NS   (INT64_C(86400) * 1000000000)
#define BEGAN_NS (INT64_C(1777903200) * 1000000000) /* 2026-05-04 14:00 UTC */
#define TRIPS    9

static struct settings *settings;

static int begin(void **state)
{
    struct config_messages *messages = NULL;

    (void)state;
    setenv("TZ", "UTC", 1);
    tzset();
    settings = config_load(NULL, &messages);
    config_messages_free(messages);
    return settings ? 0 : -1;
}

static int end(void **state)
{
    (void)state;
    settings_free(settings);
    return 0;
}

/* How far a channel stands from normal on a trip; a share for pressure and for volts. */
static double excess_of(enum quantity q, int engine, int trip, double u)
{
    int late = trip > 2 ? trip - 2 : 0;

    switch (q) {
    case QTY_EXHAUST:
        return engine == 0 ? 1.3 * late * u : trip >= 5 ? 6 : 0;
    case QTY_OIL_PRESSURE:
        return engine == 0 ? -0.04 * late : 0;
    case QTY_BATTERY_VOLTS:
        return -0.02 * late;
    default:
        return 0;
    }
}

static int make_steps(int trip, struct season_step *steps, struct rng *r)
{
    static const struct {
        enum quantity quantity;
        double level;
        int places;
    } channels[] = {{QTY_EXHAUST, 48, 2},
                    {QTY_COOLANT, 82, 2},
                    {QTY_OIL_PRESSURE, 400, 2},
                    {QTY_ENGINE_SPACE, 38, 1},
                    {QTY_BATTERY_VOLTS, 11.2, 1}};
    int n = 0;

    for (size_t c = 0; c < sizeof channels / sizeof channels[0]; c++) {
        const struct season_kept *k = &season_kept[season_kept_row(channels[c].quantity)];

        for (int place = 0; place < channels[c].places; place++)
            for (int speed = 0; speed < (k->start ? 1 : 4); speed++) {
                double u = k->start ? 0.1 : 0.3 + 0.2 * speed, sea = 14 + 0.3 * trip;
                double v = channels[c].level * (0.85 + 0.2 * u * u);
                double excess = excess_of(channels[c].quantity, place, trip, u);

                v += (k->share ? v * excess : excess) + (k->over == OVER_SEA ? sea - 14 : 0);
                v += rng_between(r, -0.003, 0.003) * channels[c].level;
                steps[n++] = (struct season_step){
                    .id = {(uint16_t)channels[c].quantity, (uint8_t)place, 0},
                    .load_kind = SEASON_LOAD_PERCENT,
                    .rpm = 2500 * u,
                    .load = 10 + 80 * u * u,
                    .sea_c = sea,
                    .air_c = 18,
                    .mean = v,
                    .spread = 0.3,
                    .minutes = 6,
                    .wall_ns = BEGAN_NS + trip * 3 * DAY_NS + speed * INT64_C(900000000000)};
            }
    }
    return n;
}

static void sail(struct season *s)
{
    struct rng r;

    rng_seed(&r, 5);
    for (int trip = 0; trip < TRIPS; trip++) {
        struct season_trip t = {.from_ns = BEGAN_NS + trip * 3 * DAY_NS};
        struct season_step steps[64];
        int overlaps, n = make_steps(trip, steps, &r);

        t.to_ns = t.from_ns + DAY_NS / 12;
        text_format(t.log, sizeof t.log, "trip-%d.log", trip);
        assert_true(season_add(s, &t, steps, n, &overlaps));
    }
    assert_true(season_mark(s, &(struct season_mark){.wall_ns = BEGAN_NS + 16 * DAY_NS,
                                                     .concerns = {QTY_COOLANT, 1, 0},
                                                     .words = "thermostat <new> & flushed"}));
}

static void report__every_form__is_as_kept(void **state)
{
    static const char *const names[2][4] = {
        {"season.txt", "season.jsonl", "season.csv", "season.html"},
        {"season-us.txt", "season-us.jsonl"}};
    struct season s = {0};

    (void)state;
    sail(&s);
    for (int us = 0; us < 2; us++) {
        if (us)
            settings->units =
                (struct unit_choice){UNIT_F, UNIT_PSI, UNIT_GAL_US, UNIT_GPH_US, UNIT_KN};
        struct season_report *r = season_report_new(&s, settings, "summer.season");

        assert_non_null(r);
        for (int form = 0; form < 4 && names[us][form]; form++) {
            char *text = NULL;
            size_t len = 0;
            FILE *out = open_memstream(&text, &len);

            assert_non_null(out);
            if (form == 0)
                season_report_text(out, r, true);
            else if (form == 1)
                season_report_json(out, r);
            else if (form == 2)
                season_report_csv(out, r);
            else
                season_report_html(out, r, true);
            fclose(out);
            golden_check("report", names[us][form], text);
            free(text);
        }
        season_report_free(r);
    }
    season_free(&s);
}

/* Of nothing nothing is said, and of too little that it is too little. */
static void report__too_little__says_so(void **state)
{
    struct season s = {0};
    struct season_report *r;

    (void)state;
    r = season_report_new(&s, settings, "empty.season");
    assert_non_null(r);
    assert_int_equal(r->count, 0);
    season_report_free(r);
    struct season_trip t = {BEGAN_NS, BEGAN_NS + DAY_NS / 12, "one.log"};
    struct season_step one[2] = {{.id = {QTY_EXHAUST, 3, 0},
                                  .rpm = 2000,
                                  .load = NAN,
                                  .sea_c = NAN,
                                  .air_c = NAN,
                                  .mean = 40,
                                  .minutes = 5,
                                  .wall_ns = BEGAN_NS},
                                 {.id = {QTY_BATTERY_VOLTS, 2, 0},
                                  .rpm = 200,
                                  .load = NAN,
                                  .sea_c = NAN,
                                  .air_c = NAN,
                                  .mean = 10,
                                  .minutes = 1,
                                  .wall_ns = BEGAN_NS}};
    int overlaps;
    assert_true(season_add(&s, &t, one, 2, &overlaps));
    r = season_report_new(&s, settings, "one.season");
    assert_non_null(r);
    assert_int_equal(r->count, 2);
    for (int i = 0; i < 2; i++) {
        bool battery = strcmp(r->lines[i].key, "battery-volts.2") == 0;

        assert_false(r->lines[i].told);
        assert_string_equal(r->lines[i].name,
                            battery ? "BATTERY 2 CRANKING VOLTS" : "ENGINE EXHAUST");
        assert_string_equal(r->lines[i].verdict,
                            battery ? "too few starts yet" : "too few steady speeds yet");
    }
    season_report_free(r);
    season_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(report__too_little__says_so),
        cmocka_unit_test(report__every_form__is_as_kept),
    };
    return cmocka_run_group_tests(tests, begin, end);
}
