/* Sea trials of made-up boats, read from their CAN frames: is the truth recovered within the errors
 * that the report states? The truth is the drill's physics (src/drill/model.h), which the report
 * never sees. */
#include "report/trial/trial.h"
#include "report/trial/drift.h"
#include "report/trial/write.h"

#include "config/config.h"
#include "drill/frames.h"
#include "drill/run.h"

#include "support/check.h"

#include <stdio.h>
#include <stdlib.h>

static struct drill_plan plan;
static struct settings *settings;

/* What really happened. */
static double true_used_l[DRILL_ENGINES];

struct sail {
    struct drill_frames frames;
    struct keeper *keeper;
    bool hide_rpm;
};

static void on_message(void *ctx, const struct drill_message *m)
{
    struct sail *s = ctx;

    if (!(s->hide_rpm && m->kind == DRILL_RAPID))
        drill_frames_add(&s->frames, m);
}

static void pass(struct sail *s, double until_s)
{
    struct frame f;

    while (drill_frames_take(&s->frames, until_s, &f)) {
        f.mono_ns = f.wall_ns - s->frames.epoch_ns + 1000 * NS_PER_S;
        keeper_frames(s->keeper, &f, 1);
    }
}

/* Sails the plan into a trial. */
static void sail_into(struct trial *t, bool hide_rpm)
{
    static struct sail s;
    struct drill_run *run = drill_run_new(&plan);

    s = (struct sail){.hide_rpm = hide_rpm};
    s.keeper = keeper_new(settings, &(struct keeper_options){.escalate = false});
    assert_non_null(run);
    assert_non_null(s.keeper);
    assert_true(trial_begin(t, s.keeper, "made/up.log"));
    drill_frames_init(&s.frames, &plan, INT64_C(1777903200) * NS_PER_S);
    while (drill_run_step(run, on_message, &s))
        pass(&s, drill_run_world(run)->t_s);
    pass(&s, 1e6);
    trial_end(t);
    for (int i = 0; i < plan.params.engines; i++)
        true_used_l[i] = drill_run_world(run)->engine[i].fuel_used_l;
    keeper_free(s.keeper);
    drill_run_free(run);
}

static struct trial *sail(enum drill_fault_kind kind, int engine, uint64_t seed)
{
    struct trial *t = trial_new(settings, NULL);

    assert_non_null(t);
    drill_plan_trial(&plan, 2, seed);
    plan.fault = drill_fault_default(kind, engine, -1, &plan.trip);
    sail_into(t, false);
    return t;
}

/* The point nearest an engine speed, under way. */
static const struct trial_point *point_at(const struct trial_report *r, double rpm)
{
    for (int i = 0; i < r->points; i++)
        if (r->point[i].how != TRIAL_NO_SPEED && fabs(r->point[i].rpm - rpm) < 0.02 * rpm)
            return &r->point[i];
    return NULL;
}

static const struct trial_finding *finding(const struct trial_report *r, const char *kind)
{
    for (int i = 0; i < r->findings; i++)
        if (strcmp(r->finding[i].kind, kind) == 0)
            return &r->finding[i];
    return NULL;
}

static void trial__every_speed__is_found_with_its_speed_and_burn(void **state)
{
    struct trial *t = sail(DRILL_FAULT_NONE, 0, 1);
    const struct trial_report *r = trial_finish(t);
    double rated = plan.params.engine[0].rated_rpm;

    (void)state;
    assert_non_null(r);
    for (int i = 0; i < DRILL_TRIAL_SPEEDS; i++) {
        double share = fmax(drill_trial_share[i], plan.params.engine[0].idle_rpm / rated);
        const struct trial_point *p = point_at(r, share * rated);
        double burn, speed;

        assert_non_null(p);
        /* what the point's own engine speed gives: a point may join runs that differ a little */
        drill_economy(&plan.params, p->rpm / rated, &burn, &speed);
        assert_int_equal(p->how, TRIAL_RECIPROCAL);
        /* stated error, and 0.03 kn by which the made-up receiver's noise lifts a speed */
        assert_near(p->speed_kn, speed, 3 * p->speed_error + 0.03 + 0.004 * speed);
        assert_near(p->burn_lph, burn, 3 * p->burn_error + 0.01 * burn);
        assert_near(p->cost, p->burn_lph / p->speed_kn, 1e-9);
        assert_near(p->current_kn, plan.params.current_kn, 0.06);
        if (speed > 4)
            assert_near(p->set_deg, plan.params.current_deg, 12);
    }
    trial_free(t);
}

static void trial__economical_speed__is_found_within_stated_error(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 4; seed++) {
        struct trial *t = sail(DRILL_FAULT_NONE, 0, seed);
        const struct trial_report *r = trial_finish(t);
        double burn, speed;

        drill_economy(&plan.params, drill_economical_share(&plan.params, 0.3, 1), &burn, &speed);
        assert_true(r->has_best);
        assert_near(r->best.x, speed, 2 * r->best.x_error);
        assert_true(2 * r->best.x_error < 1.5);
        assert_near(r->best.y, burn / speed, 0.02 * burn / speed);
        /* this hull goes cheaper still when it crawls, and the report says so */
        assert_true(r->slowest_cost < r->best.y);
        assert_true(2 * r->slowest_error < 0.5 * r->slowest_cost);
        trial_free(t);
    }
}

/* What the drill's boxes say of themselves (src/drill/frames.c). */
static void trial__boxes__are_known_by_name_and_serial(void **state)
{
    struct trial *t = sail(DRILL_FAULT_NONE, 0, 2);
    const struct trial_report *r = trial_finish(t);
    int named = 0;

    (void)state;
    assert_true(r->boxes >= 8);
    for (int i = 0; i < r->boxes; i++) {
        char serial[16];

        snprintf(serial, sizeof serial, "DRILL-%03u", r->box[i].address);
        assert_true(r->box[i].has_product);
        assert_string_equal(r->box[i].product.serial, serial);
        named += (r->box[i].name & 0x1FFFFF) == 1000u + r->box[i].address;
    }
    assert_int_equal(named, r->boxes);
    assert_near(r->hours_first[1], 815, 0.1);
    assert_true(r->hours_last[1] > r->hours_first[1] + 1);
    trial_free(t);
}

static void trial__propeller_law__is_the_cube(void **state)
{
    struct trial *t = sail(DRILL_FAULT_NONE, 0, 2);
    const struct trial_report *r = trial_finish(t);

    (void)state;
    assert_true(r->law_by_torque);
    for (int e = 0; e < 2; e++) {
        assert_true(r->law_seen[e]);
        assert_near(r->law[e].exponent, 3, 0.06);
    }
    trial_free(t);
}

static void trial__healthy_boat__has_no_findings_and_tanks_agree(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 4; seed++) {
        struct trial *t = sail(DRILL_FAULT_NONE, 0, seed);
        const struct trial_report *r = trial_finish(t);

        assert_int_equal(r->findings, 0);
        for (int i = 0; i < 2; i++) {
            assert_near(r->meter[i].burnt_l, true_used_l[i], 0.01 * true_used_l[i]);
            assert_near(r->meter[i].trip_l, true_used_l[i], 1);
            assert_near(r->tank[i].used_l, true_used_l[i], 3 * r->tank[i].used_error);
            assert_true(r->tank[i].used_error < 0.03 * true_used_l[i]);
            assert_near(r->tank[i].capacity_l, plan.params.fuel_capacity_l, 0.1);
        }
        trial_free(t);
    }
}

static void trial__meter_4_percent_high__is_named_with_its_factor(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 4; seed++) {
        for (int engine = 0; engine < 2; engine++) {
            struct trial *t = sail(DRILL_FAULT_METER_HIGH, engine, seed);
            const struct trial_report *r = trial_finish(t);
            const struct trial_finding *f = finding(r, "meter");

            assert_near(r->meter[engine].factor, 1 / 1.04, 3 * r->meter[engine].error);
            assert_near(r->meter[1 - engine].factor, 1, 3 * r->meter[1 - engine].error);
            assert_non_null(f);
            assert_string_equal(f->channel, engine == 0 ? "fuel-rate.0" : "fuel-rate.1");
            assert_int_equal(r->findings, 1);
            trial_free(t);
        }
    }
}

static void trial__exchanged_probes__are_named(void **state)
{
    struct trial *t = sail(DRILL_FAULT_SWAPPED, 0, 3);
    const struct trial_report *r = trial_finish(t);

    (void)state;
    assert_non_null(finding(r, "exchanged"));
    assert_int_equal(r->findings, 1);
    trial_free(t);
}

static void trial__stuck_tank__is_named_and_its_litres_are_not_used(void **state)
{
    struct trial *t = sail(DRILL_FAULT_STUCK_TANK, 0, 3);
    const struct trial_report *r = trial_finish(t);
    const struct trial_finding *f = finding(r, "stuck");

    (void)state;
    assert_non_null(f);
    assert_string_equal(f->channel, "fuel-tank.0");
    assert_int_equal(r->findings, 1);
    assert_true(isnan(r->meter[0].factor));
    assert_true(isfinite(r->meter[1].factor));
    assert_true(isnan(r->used_l));
    trial_free(t);
}

static const struct trial_check *check_named(const struct trial_report *r, const char *name)
{
    for (int i = 0; i < r->checks; i++)
        if (strcmp(r->check[i].name, name) == 0)
            return &r->check[i];
    fail_msg("no check '%s'", name);
    return NULL;
}

static void trial__checks__pass_fail_and_say_what_was_not_seen(void **state)
{
    struct trial *t = sail(DRILL_FAULT_NONE, 0, 1);
    const struct trial_report *r;

    (void)state;
    settings->trial.rated_rpm = 2900; /* 0.97 of it is 2813: the boat reaches 2800 */
    settings->trial.oil_hot_idle_kpa = 100;
    settings->trial.space_rise_k = 3;
    r = trial_finish(t);
    assert_int_equal(check_named(r, "revs at full throttle, PORT")->verdict, TRIAL_FAIL);
    assert_int_equal(check_named(r, "oil pressure hot at idle, PORT")->verdict, TRIAL_PASS);
    assert_int_equal(check_named(r, "charging voltage, STARBOARD")->verdict, TRIAL_PASS);
    assert_int_equal(check_named(r, "volts while cranking, battery 0")->verdict, TRIAL_PASS);
    assert_int_equal(check_named(r, "exhaust alike")->verdict, TRIAL_PASS);
    assert_int_equal(check_named(r, "engine space over outside air")->verdict, TRIAL_FAIL);
    trial_free(t);
    settings->trial.space_rise_k = 12.5;
    settings->trial.rated_rpm = 0;
    t = sail(DRILL_FAULT_NONE, 0, 1);
    r = trial_finish(t);
    assert_int_equal(check_named(r, "revs at full throttle, PORT")->verdict, TRIAL_NOT_SHOWN);
    assert_int_equal(check_named(r, "engine space over outside air")->verdict, TRIAL_PASS);
    trial_free(t);
}

/* Oil is thinnest at the end of the day: that idle counts, and not the first one that was warm. The
 * warm idle steps are read here by themselves. */
static void trial__idle_twice__the_lower_oil_pressure_counts(void **state)
{
    struct trial *t = sail(DRILL_FAULT_NONE, 0, 3);
    const struct trial_report *r = trial_finish(t);
    double lowest = INFINITY, highest = 0;
    char want[40];

    (void)state;
    for (int i = 0; i < r->steps; i++) {
        const struct trial_engine *m = &r->step[i].engine[0];

        if (!(r->step[i].engines & 1) || m->rpm.mean > 1000 || m->oil_temp.mean < 60)
            continue;
        lowest = fmin(lowest, m->oil_pressure.low);
        highest = fmax(highest, m->oil_pressure.low);
    }
    assert_true(highest - lowest > 5); /* or nothing is shown here */
    snprintf(want, sizeof want, "%.0f kPa, at least", lowest);
    assert_ptr_equal(strstr(check_named(r, "oil pressure hot at idle, PORT")->text, want),
                     check_named(r, "oil pressure hot at idle, PORT")->text);
    trial_free(t);
}

static void trial__no_engine_speed__has_no_steps(void **state)
{
    struct trial *t = trial_new(settings, NULL);
    const struct trial_report *r;

    (void)state;
    drill_plan_default(&plan, 1, 10, 1);
    sail_into(t, true);
    r = trial_finish(t);
    assert_non_null(r);
    assert_int_equal(r->steps, 0);
    assert_int_equal(r->points, 0);
    assert_false(r->has_best);
    trial_free(t);
}

static void trial__nothing_read__is_an_empty_report(void **state)
{
    struct trial *t = trial_new(settings, NULL);
    struct keeper *k = keeper_new(settings, &(struct keeper_options){.escalate = false});
    const struct trial_report *r;

    (void)state;
    assert_true(trial_begin(t, k, "empty"));
    trial_end(t);
    r = trial_finish(t);
    assert_non_null(r);
    assert_int_equal(r->steps, 0);
    assert_true(isnan(r->usable_l));
    keeper_free(k);
    trial_free(t);
}

/* A log whose time runs on for a month costs no more memory than 36 h. */
static void trial__endless_log__is_cut_and_says_so(void **state)
{
    struct trial *t = trial_new(settings, NULL);
    struct keeper *k = keeper_new(settings, &(struct keeper_options){.escalate = false});

    (void)state;
    const struct trial_report *r;

    assert_true(trial_begin(t, k, "endless"));
    for (int64_t i = 0; i < 5000; i++) {
        /* 127488: engine 0 at 2000 rpm */
        struct frame f = {.wall_ns = i * 600 * NS_PER_S,
                          .mono_ns = (1000 + i * 600) * NS_PER_S,
                          .id = 0x09F20010,
                          .len = 8,
                          .flags = FRAME_EXTENDED,
                          .data = {0, 0x40, 0x1F, 0xFF, 0xFF, 0x7F, 0xFF, 0xFF}};

        keeper_frames(k, &f, 1);
    }
    trial_end(t);
    r = trial_finish(t);
    assert_true(r->cut);
    assert_int_equal(r->steps, 0);
    keeper_free(k);
    trial_free(t);
}

static void trial__two_logs__count_together(void **state)
{
    struct trial *t = trial_new(settings, NULL);
    const struct trial_report *r;
    double used;

    (void)state;
    drill_plan_trial(&plan, 2, 1);
    sail_into(t, false);
    used = true_used_l[0];
    plan.seed = 2;
    sail_into(t, false);
    r = trial_finish(t);
    assert_int_equal(r->logs, 2);
    assert_near(r->meter[0].burnt_l, used + true_used_l[0], 0.02 * used);
    assert_near(r->meter[0].factor, 1, 3 * r->meter[0].error);
    assert_true(point_at(r, 2380)->steps >= 4);
    trial_free(t);
}

/* --- baseline --------------------------------------------------------------------------- */

static void drift__hotter_elbow__is_the_one_that_changed(void **state)
{
    struct trial *t = sail(DRILL_FAULT_NONE, 0, 1);
    struct season b = {0};
    static struct trial_drifts d;
    int changed = 0;

    (void)state;
    assert_true(trial_season_make(trial_finish(t), &b));
    assert_true(b.step_count > 60);
    assert_int_equal(b.trip_count, 1);
    trial_free(t);
    t = trial_new(settings, NULL);
    drill_plan_trial(&plan, 2, 5);
    /* the port intake has grown a beard: three quarters of the water */
    plan.params.engine[0].water_lpm_per_kw *= 0.7;
    sail_into(t, false);
    trial_drift_find(trial_finish(t), &b, &d);
    assert_true(d.count >= 10);
    for (int i = 0; i < d.count; i++) {
        if (!d.drift[i].notable)
            continue;
        changed++;
        assert_int_equal(d.drift[i].id.quantity, QTY_EXHAUST);
        assert_int_equal(d.drift[i].id.place, 0);
        assert_true(d.drift[i].difference > 2);
        assert_non_null(strstr(d.drift[i].text, "K hotter than on 2026-05-04 at"));
    }
    assert_int_equal(changed, 1);
    season_free(&b);
    trial_free(t);
}

/* --- writers ---------------------------------------------------------------------------- */

static char *written(const struct trial_report *r, void (*f)(FILE *, const struct trial_report *,
                                                             const struct trial_write_options *))
{
    struct trial_write_options o = {.utc = true};
    char *text = NULL;
    size_t len = 0;
    FILE *out = open_memstream(&text, &len);

    f(out, r, &o);
    fclose(out);
    assert_true(len > 100);
    assert_null(strstr(text, "nan"));
    assert_null(strstr(text, "inf,"));
    return text;
}

static const struct trial_high *high_of(const struct trial_report *r, const char *key)
{
    for (int i = 0; i < r->highs; i++)
        if (strcmp(r->high[i].key, key) == 0)
            return &r->high[i];
    fail_msg("no highest of %s", key);
    return NULL;
}

/* The alert list and the trial's own table keep the highest exhaust apart from each other. */
static void trial__impeller_lost__alert_tells_how_bad_it_got(void **state)
{
    (void)state;
    struct trial *t = sail(DRILL_FAULT_IMPELLER, 1, 5);
    const struct trial_report *r = trial_finish(t);
    const struct alert *a = NULL;

    for (int i = 0; i < r->incidents; i++)
        if (strcmp(r->incident[i].alert.channel, "exhaust.1") == 0 && trial_incident_last(r, i))
            a = &r->incident[i].alert;
    assert_non_null(a);
    const struct trial_high *h = high_of(r, "exhaust.1");
    assert_true(h->highest > 93.3);
    assert_near(a->worst, h->highest, 0.01);
    assert_int_equal(a->worst_at.wall_ns, h->highest_ns);
    /* every channel, and none of what has no highest */
    assert_true(high_of(r, "coolant.0")->highest > high_of(r, "coolant.0")->lowest);
    assert_true(high_of(r, "battery-volts.0")->lowest > 9);
    for (int i = 0; i < r->highs; i++) {
        assert_string_not_equal(r->high[i].key, "hours.0");
        assert_string_not_equal(r->high[i].key, "gear.0");
        assert_true(i == 0 || r->high[i - 1].quantity <= r->high[i].quantity);
    }
    assert_true(a->limit_passed.wall_ns > a->raised.wall_ns);
    char *text = written(r, trial_write_text);
    assert_non_null(strstr(text, ", limit passed "));
    assert_non_null(strstr(text, "Highest and lowest of the whole trial"));
    free(text);
    trial_free(t);
}

static int count_of(const char *text, const char *what)
{
    int n = 0;

    for (const char *p = text; (p = strstr(p, what)) != NULL; p += strlen(what))
        n++;
    return n;
}

static void html__hostile_names__stay_text_and_nothing_is_fetched(void **state)
{
    struct trial *t;
    const struct trial_report *r;
    char *html;

    (void)state;
    snprintf(settings->vessel, sizeof settings->vessel, "<script>\"A&B\"");
    t = sail(DRILL_FAULT_NONE, 0, 1);
    r = trial_finish(t);
    html = written(r, trial_write_html);
    assert_null(strstr(html, "<script"));
    assert_null(strstr(html, "http:"));
    assert_null(strstr(html, "https:"));
    assert_null(strstr(html, "src="));
    assert_non_null(strstr(html, "&lt;script&gt;&quot;A&amp;B&quot;"));
    assert_int_equal(count_of(html, "<svg"), 6);
    assert_int_equal(count_of(html, "<svg"), count_of(html, "</svg>"));
    assert_int_equal(count_of(html, "<table"), count_of(html, "</table>"));
    assert_int_equal(count_of(html, "<tr"), count_of(html, "</tr>"));
    assert_memory_equal(html + strlen(html) - 8, "</html>\n", 8);
    free(html);
    settings->vessel[0] = '\0';
    trial_free(t);
}

static void text_and_json__full_report__have_their_parts(void **state)
{
    struct trial *t = sail(DRILL_FAULT_METER_HIGH, 1, 1);
    const struct trial_report *r = trial_finish(t);
    char *text = written(r, trial_write_text), *json = written(r, trial_write_json);

    (void)state;
    assert_non_null(strstr(text, "Most economical"));
    assert_non_null(strstr(text, "fuel-rate.1 reads"));
    assert_non_null(strstr(json, "\"kind\":\"meter\",\"channel\":\"fuel-rate.1\""));
    assert_int_equal(count_of(json, "{"), count_of(json, "}"));
    assert_int_equal(count_of(json, "["), count_of(json, "]"));
    assert_int_equal(count_of(json, "\"settle_s\":"), r->steps);
    assert_memory_equal(json + strlen(json) - 2, "}\n", 2);
    free(text);
    free(json);
    trial_free(t);
}

static void writers__empty_report__say_so_without_numbers(void **state)
{
    struct trial *t = trial_new(settings, NULL);
    const struct trial_report *r = trial_finish(t);
    char *html = written(r, trial_write_html), *text = written(r, trial_write_text);
    char *json = written(r, trial_write_json);

    (void)state;
    assert_non_null(strstr(html, "Nothing was heard to plot"));
    assert_non_null(strstr(html, "<p>The cost of a mile is known at fewer than four speeds"));
    assert_non_null(strstr(text, "  none: no speed was held for long enough\n"));
    assert_non_null(strstr(text, "all meters - L, all tanks - L\n"));
    free(html);
    free(text);
    free(json);
    trial_free(t);
}

static void csv__rows__have_the_columns_of_the_head(void **state)
{
    struct trial *t = sail(DRILL_FAULT_NONE, 0, 1);
    const struct trial_report *r = trial_finish(t);
    char *text = NULL, *line, *rest;
    size_t len = 0;
    int commas = -1, rows = 0;
    FILE *out = open_memstream(&text, &len);

    (void)state;
    trial_write_csv(out, r);
    fclose(out);
    for (line = strtok_r(text, "\n", &rest); line; line = strtok_r(NULL, "\n", &rest)) {
        if (commas < 0)
            commas = count_of(line, ",");
        assert_int_equal(count_of(line, ","), commas);
        rows++;
    }
    assert_int_equal(rows, 1 + 2 * r->steps);
    free(text);
    trial_free(t);
}

static int setup(void **state)
{
    struct config_messages *messages = NULL;

    (void)state;
    settings = config_load(NULL, &messages);
    config_messages_free(messages);
    return settings ? 0 : -1;
}

static int teardown(void **state)
{
    (void)state;
    settings_free(settings);
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(trial__every_speed__is_found_with_its_speed_and_burn),
        cmocka_unit_test(trial__economical_speed__is_found_within_stated_error),
        cmocka_unit_test(trial__boxes__are_known_by_name_and_serial),
        cmocka_unit_test(trial__propeller_law__is_the_cube),
        cmocka_unit_test(trial__healthy_boat__has_no_findings_and_tanks_agree),
        cmocka_unit_test(trial__meter_4_percent_high__is_named_with_its_factor),
        cmocka_unit_test(trial__exchanged_probes__are_named),
        cmocka_unit_test(trial__stuck_tank__is_named_and_its_litres_are_not_used),
        cmocka_unit_test(trial__checks__pass_fail_and_say_what_was_not_seen),
        cmocka_unit_test(trial__impeller_lost__alert_tells_how_bad_it_got),
        cmocka_unit_test(trial__idle_twice__the_lower_oil_pressure_counts),
        cmocka_unit_test(trial__no_engine_speed__has_no_steps),
        cmocka_unit_test(trial__nothing_read__is_an_empty_report),
        cmocka_unit_test(trial__endless_log__is_cut_and_says_so),
        cmocka_unit_test(trial__two_logs__count_together),
        cmocka_unit_test(drift__hotter_elbow__is_the_one_that_changed),
        cmocka_unit_test(html__hostile_names__stay_text_and_nothing_is_fetched),
        cmocka_unit_test(text_and_json__full_report__have_their_parts),
        cmocka_unit_test(writers__empty_report__say_so_without_numbers),
        cmocka_unit_test(csv__rows__have_the_columns_of_the_head),
    };

    return cmocka_run_group_tests(tests, setup, teardown);
}
