/* Whole drills: the truth they tell, their repeatability, their sensors and faults. */
#include "drill/run.h"

#include "drill/frames.h"
#include "drill/truth.h"

#include "support/check.h"

static struct drill_plan plan;

/* What came by. */
struct seen {
    uint64_t hash;
    long messages, exhaust[3], missing[2], wild;
    double last_t_s;
    bool backwards;
    double most_exhaust[2], last_exhaust_s[2], worst_coolant;
    int senders_of_place0;
    uint8_t first_sender_of_place0;
};

static void look(void *ctx, const struct drill_message *m)
{
    struct seen *s = ctx;

    s->messages++;
    s->backwards |= m->t_s < s->last_t_s - 0.0021; /* jitter of 2 ms */
    s->last_t_s = m->t_s;
    for (int i = 0; i < DRILL_VALUES; i++) {
        uint64_t bits;

        memcpy(&bits, &m->v[i].v, 8);
        s->hash = (s->hash ^ bits ^ (uint64_t)m->kind) * UINT64_C(0x100000001b3);
    }
    if (m->kind == DRILL_DYNAMIC)
        s->worst_coolant = fmax(s->worst_coolant, m->v[DYN_COOLANT_C].v);
    if (m->kind != DRILL_EXHAUST)
        return;
    s->exhaust[m->place]++;
    s->wild += m->wild;
    if (!m->v[0].ok)
        s->missing[m->place]++;
    else if (!m->wild)
        s->most_exhaust[m->place] = fmax(s->most_exhaust[m->place], m->v[0].v);
    s->last_exhaust_s[m->place] = m->t_s;
    if (m->place == 0 && s->senders_of_place0 == 0) {
        s->first_sender_of_place0 = m->sender;
        s->senders_of_place0 = 1;
    } else if (m->place == 0 && m->sender != s->first_sender_of_place0) {
        s->senders_of_place0 = 2;
    }
}

static struct drill_truth sail(struct seen *s)
{
    struct drill_run *run = drill_run_new(&plan);
    struct drill_truth truth;

    assert_non_null(run);
    *s = (struct seen){0};
    while (drill_run_step(run, look, s)) {
    }
    truth = *drill_run_truth(run);
    drill_run_free(run);
    return truth;
}

static struct drill_truth sail_fault(enum drill_fault_kind kind, int engines, struct seen *s)
{
    drill_plan_default(&plan, engines, 30, 3);
    plan.fault = drill_fault_default(kind, engines - 1, -1, &plan.trip);
    return sail(s);
}

static void run__same_seed__gives_same_messages(void **state)
{
    struct seen a, b, c;

    (void)state;
    drill_plan_random(&plan, 2, 17);
    sail(&a);
    drill_plan_random(&plan, 2, 17);
    sail(&b);
    drill_plan_random(&plan, 2, 18);
    sail(&c);
    assert_true(a.hash == b.hash && a.messages == b.messages);
    assert_true(a.hash != c.hash);
    assert_false(a.backwards);
}

static void run__no_fault__has_no_truth_and_stays_cool(void **state)
{
    struct seen s;
    struct drill_truth t = sail_fault(DRILL_FAULT_NONE, 2, &s);

    (void)state;
    assert_true(isnan(t.began_s) && isnan(t.limit_passed_s) && isnan(t.reference_s));
    assert_true(s.most_exhaust[0] < 85 && s.most_exhaust[0] > 25);
    assert_true(s.most_exhaust[1] < 85 && s.most_exhaust[1] > 25);
    assert_true(s.worst_coolant < 93);
    /* every 2 s for 30 min */
    assert_near(s.exhaust[0], 900, 1);
    assert_int_equal(s.missing[0], 0);
}

static void run__impeller__reference_leads_limit(void **state)
{
    struct seen s;
    struct drill_truth t = sail_fault(DRILL_FAULT_IMPELLER, 2, &s);

    (void)state;
    assert_int_equal(t.engine, 1);
    assert_near(t.began_s, 1200, 0.1);
    assert_true(t.reference_s > t.began_s && t.reference_s < t.began_s + 15);
    assert_true(t.limit_passed_s > t.reference_s + 10 && t.limit_passed_s < t.began_s + 120);
    /* the twin knows nothing of it */
    assert_true(s.most_exhaust[0] < 85);
    assert_true(s.most_exhaust[1] > 120);
}

static void run__each_physical_fault__is_seen_by_reference(void **state)
{
    (void)state;
    for (int k = DRILL_FAULT_IMPELLER; k <= DRILL_FAULT_FIRE; k++) {
        for (int engines = 1; engines <= 2; engines++) {
            struct seen s;
            struct drill_truth t = sail_fault((enum drill_fault_kind)k, engines, &s);

            assert_true(isfinite(t.reference_s));
            assert_true(t.reference_s >= t.began_s);
            assert_true(t.reference_s < t.began_s + 150);
            /* a fouled intake most often never reaches the limit */
            if (k != DRILL_FAULT_FOULED)
                assert_true(t.limit_passed_s > t.reference_s);
        }
    }
}

static void run__seacock_shut__begins_with_the_engine(void **state)
{
    struct seen s;
    struct drill_truth t = sail_fault(DRILL_FAULT_SEACOCK, 2, &s);

    (void)state;
    assert_near(t.began_s, plan.trip.start_s[1], 1e-9);
}

static void run__sensor_open__says_not_available(void **state)
{
    struct seen s;

    (void)state;
    sail_fault(DRILL_FAULT_SENSOR_OPEN, 2, &s);
    assert_near(s.exhaust[1], 900, 1);
    assert_near(s.missing[1], 300, 2); /* the last third of 30 min */
    assert_int_equal(s.missing[0], 0);
}

static void run__sensor_silent__stops_sending(void **state)
{
    struct seen s;

    (void)state;
    sail_fault(DRILL_FAULT_SENSOR_SILENT, 2, &s);
    assert_near(s.last_exhaust_s[1], 1200, 2.1);
    assert_near(s.last_exhaust_s[0], 1800, 2.1);
}

static void run__two_boxes__share_an_instance(void **state)
{
    struct seen s;

    (void)state;
    sail_fault(DRILL_FAULT_TWO_BOXES, 2, &s);
    assert_int_equal(s.senders_of_place0, 2);
    assert_near(s.exhaust[0], 1200, 2);
    sail_fault(DRILL_FAULT_TWO_BOXES, 1, &s);
    assert_int_equal(s.senders_of_place0, 2);
    sail_fault(DRILL_FAULT_NONE, 1, &s);
    assert_int_equal(s.senders_of_place0, 1);
}

static void run__happenings__show_in_the_sensor(void **state)
{
    struct seen s;

    (void)state;
    drill_plan_default(&plan, 2, 30, 5);
    drill_trip_happening(&plan.trip, 900, DRILL_DROPOUT, 0, 40, 0);
    drill_trip_happening(&plan.trip, 700, DRILL_WILD, 1, 2, 200);
    drill_trip_happening(&plan.trip, 1000, DRILL_STUCK, 1, 60, 0);
    sail(&s);
    assert_near(s.missing[0], 20, 1);
    assert_near(s.wild, 2 + 30, 2);
}

static void run__air_gulp__warms_and_passes(void **state)
{
    struct drill_run *run;
    double before = 0, most = 0, after = 0;

    (void)state;
    drill_plan_default(&plan, 2, 30, 5);
    drill_trip_happening(&plan.trip, 1100, DRILL_AIR_GULP, 0, 5, 0.1);
    run = drill_run_new(&plan);
    assert_non_null(run);
    while (drill_run_step(run, NULL, NULL)) {
        const struct drill_world *w = drill_run_world(run);

        if (w->t_s < 1100)
            before = w->engine[0].exhaust_c;
        else if (w->t_s < 1120)
            most = fmax(most, w->engine[0].exhaust_c);
        else if (w->t_s < 1220)
            after = w->engine[0].exhaust_c;
    }
    drill_run_free(run);
    assert_true(most > before + 0.5 && most < before + 30);
    assert_near(after, before, 1);
}

static void sea_change__warms_both(void **state)
{
    struct drill_run *run;
    double before[2] = {0, 0}, after[2] = {0, 0};

    (void)state;
    drill_plan_default(&plan, 2, 30, 5);
    drill_trip_happening(&plan.trip, 1000, DRILL_SEA_CHANGE, 0, 120, 5);
    run = drill_run_new(&plan);
    assert_non_null(run);
    while (drill_run_step(run, NULL, NULL)) {
        const struct drill_world *w = drill_run_world(run);

        for (int i = 0; i < 2; i++) {
            if (w->t_s < 1000)
                before[i] = w->engine[i].exhaust_c;
            else if (w->t_s < 1400)
                after[i] = w->engine[i].exhaust_c;
        }
    }
    drill_run_free(run);
    for (int i = 0; i < 2; i++)
        assert_near(after[i] - before[i], 5, 1.2);
}

static void random_plans__orders_are_sorted_and_inside(void **state)
{
    (void)state;
    for (uint64_t seed = 0; seed < 60; seed++) {
        struct rng r;

        drill_plan_random(&plan, 0, seed);
        assert_in_range(plan.trip.orders, 8, DRILL_ORDERS - 1);
        for (int i = 1; i < plan.trip.orders; i++)
            assert_true(plan.trip.order[i].t_s >= plan.trip.order[i - 1].t_s);
        assert_true(plan.trip.cruise_to_s - plan.trip.cruise_from_s >= 480);
        assert_true(plan.trip.stop_s[0] < plan.trip.length_s);
        rng_seed(&r, seed);
        for (int k = DRILL_FAULT_NONE; k < DRILL_FAULT_COUNT; k++) {
            struct drill_fault f = drill_fault_random((enum drill_fault_kind)k, 0, &plan.trip, &r);

            if (k > DRILL_FAULT_TWO_BOXES)
                assert_near(f.at_s, 0, 0); /* there from the beginning */
            else if (k == DRILL_FAULT_SEACOCK)
                assert_near(f.at_s, plan.trip.start_s[0], 0);
            else
                assert_true(f.at_s >= plan.trip.cruise_from_s && f.at_s < plan.trip.cruise_to_s);
        }
    }
}

static void vanes__lost_one_by_one__end_dry(void **state)
{
    struct drill_fault f = {.kind = DRILL_FAULT_VANES, .at_s = 100, .length_s = 600};
    double last = 2;
    int steps = 0;

    (void)state;
    for (double t = 0; t < 800; t += 1) {
        struct drill_inputs in = {.engine[0].water = 1};

        drill_fault_apply(&f, t, &in);
        assert_true(in.engine[0].water <= last);
        steps += in.engine[0].water < last - 1e-9 && t > 0;
        last = in.engine[0].water;
        if (t < 100)
            assert_near(last, 1, 0);
    }
    assert_int_equal(steps, 6);
    assert_near(last, 0, 0);
}

static void fault_names__round_trip(void **state)
{
    enum drill_fault_kind k;

    (void)state;
    for (int i = 0; i < DRILL_FAULT_COUNT; i++) {
        assert_true(drill_fault_find(drill_fault_name((enum drill_fault_kind)i), &k));
        assert_int_equal(k, i);
    }
    assert_false(drill_fault_find("rust", &k));
    assert_false(drill_fault_find("", &k));
}

static void truth_json__fault_and_none__have_all_fields(void **state)
{
    struct drill_truth t = {.fault = DRILL_FAULT_IMPELLER,
                            .engine = 1,
                            .began_s = 1200,
                            .quantity = DRILL_Q_EXHAUST,
                            .limit_c = 93.3,
                            .limit_passed_s = NAN,
                            .reference_s = 1205.25};
    struct drill_trial_truth trial = {15.234, 2.8681, 2, {22.5, 21}};
    char buf[512];

    (void)state;
    assert_string_equal(
        drill_truth_json(buf, sizeof buf, &t, 3, INT64_C(1777903200000000000), NULL),
        "{\"fault\":\"impeller\",\"engine\":1,\"began\":1777904400.000000,"
        "\"limit_passed\":null,\"reference\":1777904405.250000,\"seed\":3,"
        "\"channel\":\"exhaust.1\",\"limit\":93.3}\n");
    t.fault = DRILL_FAULT_NONE;
    t.began_s = t.reference_s = NAN;
    assert_string_equal(drill_truth_json(buf, sizeof buf, &t, 3, 0, NULL),
                        "{\"fault\":\"none\",\"engine\":null,\"began\":null,\"limit_passed\":null,"
                        "\"reference\":null,\"seed\":3,\"channel\":null,\"limit\":null}\n");
    assert_null(drill_truth_json(buf, 20, &t, 3, 0, NULL));
    assert_non_null(strstr(drill_truth_json(buf, sizeof buf, &t, 3, 0, &trial),
                           "\"economical_speed\":15.23,\"litres_per_nmi\":2.868,"
                           "\"fuel_used\":[22.50,21.00]}"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(run__same_seed__gives_same_messages),
        cmocka_unit_test(run__no_fault__has_no_truth_and_stays_cool),
        cmocka_unit_test(run__impeller__reference_leads_limit),
        cmocka_unit_test(run__each_physical_fault__is_seen_by_reference),
        cmocka_unit_test(run__seacock_shut__begins_with_the_engine),
        cmocka_unit_test(run__sensor_open__says_not_available),
        cmocka_unit_test(run__sensor_silent__stops_sending),
        cmocka_unit_test(run__two_boxes__share_an_instance),
        cmocka_unit_test(run__happenings__show_in_the_sensor),
        cmocka_unit_test(run__air_gulp__warms_and_passes),
        cmocka_unit_test(sea_change__warms_both),
        cmocka_unit_test(random_plans__orders_are_sorted_and_inside),
        cmocka_unit_test(vanes__lost_one_by_one__end_dry),
        cmocka_unit_test(fault_names__round_trip),
        cmocka_unit_test(truth_json__fault_and_none__have_all_fields),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
