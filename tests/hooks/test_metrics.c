/* The metrics text, field by field; the whole is checked by promtool in tests/verbs/test_tend.c. */
#include "rules/seasoned.h"

#include "config/config.h"
#include "drill/frames.h"
#include "drill/run.h"
#include "hooks/metrics.h"
#include "support/golden.h"

#include <stdlib.h>
#include <string.h>

static void on_message(void *ctx, const struct drill_message *m)
{
    drill_frames_add(ctx, m);
}

static char *text_of(struct boat *b)
{
    static const struct status_said said[] = {{.id = 1, .text = "as it was raised"}};
    struct watch_status c = {
        .frames = 123456,
        .lost_frames = 2,
        .raised = {[PRIORITY_ALARM] = 1},
        .started_wall_ns = BOAT_WALL_NS,
        .loaded_wall_ns = BOAT_WALL_NS,
        .losses = {.gaps = 3},
        .ifaces = {{.name = "can0", .up = true, .frames = 100, .load_percent = 12.5},
                   {.name = "can1", .error_frames = 7, .load_percent = -1}},
        .iface_count = 2,
        .records = true,
        .record_writing = true,
        .record_bytes = 5000,
        .record_lost_frames = 1,
        .record_free_bytes = 1 << 30,
        .said = said,
        .said_count = 1,
        .now = plant_now(keeper_plant(b->keeper)),
    };
    size_t len;
    char *text = metrics_text(keeper_plant(b->keeper), keeper_alerts(b->keeper), &c, &len);
    assert_non_null(text);
    assert_int_equal(strlen(text), len);
    return text;
}

static void assert_has(const char *text, const char *line)
{
    if (!strstr(text, line))
        fail_msg("no '%s' in\n%s", line, text);
}

static void metrics__boat_with_an_alarm__has_base_units_and_labels(void **state)
{
    (void)state;
    struct boat *b = boat_new(NO_COOLING_WATCH "[vessel]\nname = Tern \"P\\oint\n");
    boat_run(b, 20);
    b->exhaust[1] = 95.5;
    boat_run(b, 10);
    char *text = text_of(b);
    assert_has(text, "stokehold_boat_info{vessel=\"Tern \\\"P\\\\oint\",version=\"");
    assert_has(text, "\n# HELP stokehold_temperature_celsius Temperatures.\n"
                     "# TYPE stokehold_temperature_celsius gauge\n");
    assert_has(text, "\nstokehold_temperature_celsius{channel=\"exhaust.1\",place=\"STARBOARD\","
                     "label=\"exhaust\"} 95.50\n");
    assert_has(text, "\nstokehold_pressure_pascals{channel=\"oil-pressure.0\",place=\"PORT\","
                     "label=\"oil press.\"} 400000\n"); /* 400 kPa */
    assert_has(text, "\nstokehold_level_ratio{channel=\"fuel-tank.0\",place=\"\",");
    assert_has(text, "label=\"fuel tank\"} 0.70000\n"); /* 70 % */
    assert_has(text, "\nstokehold_engine_running{engine=\"PORT\"} 1\n");
    assert_has(text, "\nstokehold_alerts{priority=\"alarm\"} 1\n");
    assert_has(
        text,
        "\nstokehold_alert{id=\"1\",priority=\"alarm\",state=\"unacknowledged\","
        "stage=\"beyond\",kind=\"limit\",rule=\"exhaust-hot\",channel=\"exhaust.1\",cause=\"\","
        "text=\"as it was raised\"} 1\n");
    assert_has(text, "\nstokehold_alert_worst{id=\"1\",channel=\"exhaust.1\",unit=\"celsius\"} "
                     "95.50\n");
    assert_has(text, "\nstokehold_alert_worst_timestamp_seconds{id=\"1\",channel=\"exhaust.1\"} ");
    assert_has(text, "\nstokehold_alert_limit_passed_timestamp_seconds{id=\"1\",");
    assert_has(text, "\nstokehold_alert_beyond_limit_seconds{id=\"1\",");
    assert_has(text, "\n# TYPE stokehold_frames_total counter\n");
    assert_has(text, "\nstokehold_frames_total 123456\n");
    assert_has(text, "\nstokehold_alerts_raised_total{priority=\"alarm\"} 1\n");
    assert_has(text, "\nstokehold_interface_up{interface=\"can0\"} 1\n"
                     "stokehold_interface_up{interface=\"can1\"} 0\n");
    assert_has(text, "\nstokehold_interface_frames_total{interface=\"can0\"} 100\n");
    assert_has(text, "\nstokehold_interface_error_frames_total{interface=\"can0\"} 0\n"
                     "stokehold_interface_error_frames_total{interface=\"can1\"} 7\n");
    assert_has(text, "\nstokehold_interface_load_ratio{interface=\"can0\"} 0.1250\n");
    assert_null(strstr(text, "load_ratio{interface=\"can1\"")); /* not known */
    assert_has(text, "\nstokehold_record_up 1\n");
    assert_has(text, "\nstokehold_record_written_bytes_total 5000\n");
    assert_has(text, "\nstokehold_record_free_bytes 1073741824\n");
    assert_has(text, "\nstokehold_left_out_total{what=\"gaps\"} 3\n");
    assert_has(text, "\nstokehold_config_reload_success 1\n");
    assert_null(strstr(text, "# EOF"));
    assert_null(strstr(text, "# UNIT"));
    free(text);
    boat_free(b);
}

static void metrics__value_not_good__is_left_out(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 20);
    b->exhaust[0] = BOAT_NONE;
    b->exhaust[1] = BOAT_ABSENT;
    boat_run(b, 30);
    char *text = text_of(b);
    assert_null(strstr(text, "stokehold_temperature_celsius{channel=\"exhaust."));
    assert_has(text, "\nstokehold_reading_age_seconds{channel=\"exhaust.0\"");
    assert_null(strstr(text, "NaN"));
    free(text);
    boat_free(b);
}

/* Each family is named once, and before its samples; no name twice. */
static void metrics__families__stand_together(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 20);
    char *text = text_of(b), *save;
    char seen[64][80];
    int n = 0;
    for (char *line = strtok_r(text, "\n", &save); line; line = strtok_r(NULL, "\n", &save)) {
        if (strncmp(line, "# HELP ", 7) == 0) {
            char *name = line + 7;
            name[strcspn(name, " ")] = '\0';
            for (int i = 0; i < n; i++)
                assert_string_not_equal(seen[i], name);
            assert_true(n < 64);
            text_copy(seen[n++], sizeof seen[0], name);
        } else if (line[0] != '#') {
            assert_true(n > 0);
            assert_int_equal(strncmp(line, seen[n - 1], strlen(seen[n - 1])), 0);
            assert_non_null(strchr(line, ' '));
        }
    }
    assert_true(n >= 12);
    free(text);
    boat_free(b);
}

/* Every reading of a drill's boat in the base unit of its family, by factors of the SI (knots by
 * the international nautical mile of 1852 m), to the last place that is written. */
static void metrics__every_reading__in_base_units(void **state)
{
    static const struct {
        enum unit unit;
        const char *family;
        double factor, place;
    } rows[] = {
        {UNIT_C, "temperature_celsius", 1, 1e-2},
        {UNIT_KPA, "pressure_pascals", 1000, 1},
        {UNIT_RPM, "rotation_hertz", 1 / 60.0, 1e-4},
        {UNIT_LPH, "flow_cubic_meters_per_second", 1 / 3.6e6, 1e-9},
        {UNIT_L, "volume_cubic_meters", 1e-3, 1e-4},
        {UNIT_H, "run_seconds", 3600, 1},
        {UNIT_V, "voltage_volts", 1, 1e-3},
        {UNIT_A, "current_amperes", 1, 1e-2},
        {UNIT_PERCENT, "level_ratio", 0.01, 1e-5},
        {UNIT_KN, "speed_meters_per_second", 0.514444444, 1e-3},
    };
    enum { ROWS = sizeof rows / sizeof rows[0] };
    static struct drill_plan plan;
    static struct drill_frames frames;
    struct config_messages *messages = NULL;
    struct settings *settings = config_load(NULL, &messages);
    struct frame f;
    int met[ROWS] = {0};

    (void)state;
    config_messages_free(messages);
    drill_plan_trial(&plan, 2, 4);
    struct drill_run *run = drill_run_new(&plan);
    struct keeper *keeper = keeper_new(settings, &(struct keeper_options){.escalate = true});
    assert_true(run && keeper);
    drill_frames_init(&frames, &plan, BOAT_WALL_NS);
    while (drill_run_world(run)->t_s < 20 && drill_run_step(run, on_message, &frames))
        ;
    while (drill_frames_take(&frames, 20, &f))
        keeper_frames(keeper, &f, 1);
    const struct plant *p = keeper_plant(keeper);
    size_t len;
    char *text =
        metrics_text(p, keeper_alerts(keeper), &(struct watch_status){.now = plant_now(p)}, &len);
    for (size_t i = 0; i < plant_count(p); i++) {
        const struct channel *c = plant_channel(p, i);
        for (int k = 0; k < ROWS; k++) {
            char wanted[160];
            if (rows[k].unit != c->unit || c->status != READING_OK)
                continue;
            snprintf(wanted, sizeof wanted, "\nstokehold_%s{channel=\"%s\"", rows[k].family,
                     c->key);
            const char *at = strstr(text, wanted);
            assert_non_null(at);
            at = strchr(at, '}');
            assert_non_null(at);
            assert_near(strtod(at + 1, NULL), c->value * rows[k].factor,
                        rows[k].place * 0.51 + fabs(c->value) * 1e-9);
            met[k]++;
        }
    }
    for (int k = 0; k < ROWS; k++)
        if (!met[k])
            fail_msg("no reading in %s", rows[k].family);
    free(text);
    keeper_free(keeper);
    drill_run_free(run);
    settings_free(settings);
}

/* One alert of each condition, of each priority by turns, and of what is no condition. */
static void claim_conditions(struct alert_list *l, struct stamp now)
{
    for (int sort = 0; sort <= CONDITION_SEASON + 1; sort++) {
        struct alert_claim c = {
            .situation = {.group = SITUATION_BUS, .code = CONDITION_CODE(sort, 1)},
            .claimant = (uint16_t)(500 + sort),
            .kind = KIND_BUS,
            .priority = (enum priority)(PRIORITY_CAUTION + sort % 4),
            .value = NAN,
            .channel = "",
            .rule = "",
            .text = "of the watch itself",
            .figures = {NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN},
        };
        alerts_claim(l, &c, now);
    }
}

/* Everything there is to say of a boat that stands above its season, as text. */
static void metrics__whole__as_kept(void **state)
{
    (void)state;
    first_trips(FIRST_NS);
    struct boat *b = boat_of_season("[hook horn]\nrun = /bin/true\n[hook light]\nrun = /bin/true\n"
                                    "[vessel]\nname = Tern Point\n");
    sail(b, 60, 700, 0, 0);
    sail(b, 320, 2200, 8, -3);
    b->exhaust[0] = 99.5;
    boat_run(b, 10);
    struct stamp now = plant_now(keeper_plant(b->keeper));
    claim_conditions(keeper_alerts(b->keeper), now);
    struct hooks *hooks = hooks_new(b->settings);
    struct status_said said[2] = {{.id = 2, .text = "the second, as it was raised"},
                                  {.id = 1, .text = "the first, as it was raised"}};
    struct watch_status c = {
        .now = now,
        .started_wall_ns = BOAT_WALL_NS - 1500 * NS_PER_MS,
        .frames = 1001,
        .lost_frames = 1002,
        .error_frames = 1003,
        .bad_lines = 1004,
        .losses = {.incomplete = 11, .gaps = 12, .dropped = 13, .unbound = 14, .alerts_lost = 15},
        .raised = {21, 22, 23, 24},
        .ifaces = {{.name = "can0", .up = true, .frames = 31, .load_percent = 12.5},
                   {.name = "can1", .error_frames = 32, .lost_frames = 33, .load_percent = -1},
                   {.name = "can2", .load_percent = 0}},
        .iface_count = 3,
        .records = true,
        .record_writing = true,
        .record_bytes = 41,
        .record_lost_frames = 42,
        .record_free_bytes = 0,
        .loaded_wall_ns = BOAT_WALL_NS + 2250 * NS_PER_MS,
        .load_failed = true,
        .clock_trusted = true,
        .season = keeper_season(b->keeper),
        .hooks = hooks,
        .said = said,
        .said_count = 2,
    };
    size_t len;
    char *text = metrics_text(keeper_plant(b->keeper), keeper_alerts(b->keeper), &c, &len);
    assert_non_null(text);
    golden_check("hooks", "metrics", strstr(text, "# HELP stokehold_temperature_celsius"));
    free(text);
    /* Nothing of what is not there: no hooks, no interfaces, no record, no season. */
    struct watch_status none = {.now = now};
    text = metrics_text(keeper_plant(b->keeper), keeper_alerts(b->keeper), &none, &len);
    static const char *const absent[] = {"_hook_", "_interface_", "_record_", "_season_"};
    for (size_t i = 0; i < sizeof absent / sizeof *absent; i++)
        assert_null(strstr(text, absent[i]));
    free(text);
    /* A record that does not say what is free. */
    none.records = true;
    none.record_free_bytes = -1;
    text = metrics_text(keeper_plant(b->keeper), keeper_alerts(b->keeper), &none, &len);
    assert_has(text, "\nstokehold_record_up 0\n");
    assert_null(strstr(text, "_free_bytes"));
    free(text);
    hooks_free(hooks);
    boat_end(b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(metrics__boat_with_an_alarm__has_base_units_and_labels),
        cmocka_unit_test(metrics__value_not_good__is_left_out),
        cmocka_unit_test(metrics__families__stand_together),
        cmocka_unit_test(metrics__every_reading__in_base_units),
        cmocka_unit_test(metrics__whole__as_kept),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
