/* The incident's page: a drill of which the truth is known, read as a log would be. */
#include "report/incident/incident.h"

#include "config/config.h"
#include "drill/frames.h"
#include "drill/run.h"

#include "support/check.h"
#include "support/golden.h"
#include "support/program.h"

#include <stdio.h>
#include <stdlib.h>

static struct settings *settings;
static struct drill_plan plan;
static struct drill_truth truth;
static double dark_s = 1e9; /* nothing is heard from then on */
static struct marks marks;  /* that people set beside the log */
static const int64_t epoch_ns = INT64_C(1777903200) * NS_PER_S;

static void on_message(void *ctx, const struct drill_message *m)
{
    drill_frames_add(ctx, m);
}

/* Sails the default boat with a fault of the starboard engine past an incident. */
static struct incident *sail(struct keeper *k, enum drill_fault_kind kind)
{
    static struct drill_frames frames;
    struct incident *i = incident_new(k);
    struct drill_run *run;
    struct frame f;

    assert_non_null(i);
    drill_plan_default(&plan, 2, 14, 3);
    if (kind != DRILL_FAULT_NONE)
        plan.fault = drill_fault_default(kind, 1, 360, &plan.trip);
    run = drill_run_new(&plan);
    assert_non_null(run);
    drill_frames_init(&frames, &plan, epoch_ns);
    while (drill_run_step(run, on_message, &frames)) {
        while (drill_frames_take(&frames, 1e9, &f)) {
            f.mono_ns = f.wall_ns - epoch_ns + 1000 * NS_PER_S;
            if (f.mono_ns < 1000 * NS_PER_S + (int64_t)(dark_s * 1e9))
                keeper_frames(k, &f, 1);
            else
                keeper_tick(k, (struct stamp){f.wall_ns, f.mono_ns});
        }
    }
    truth = *drill_run_truth(run);
    drill_run_free(run);
    return i;
}

static char *written(const struct incident *i)
{
    static const struct page_log log = {"a<b>.log", ""};
    const struct page_source source = {.version = "0", .log = &log, .logs = 1};
    const struct incident_log said = {
        .frames = 5, .bad_lines = 2, .clock_known = true, .marks = &marks};
    char *text = NULL;
    size_t len = 0;
    FILE *out = open_memstream(&text, &len);

    incident_write_html(out, i, &said, &source, true);
    fclose(out);
    return text;
}

static void check_page(const char *html)
{
    char line[500], said[2000] = "";
    FILE *p;

    assert_null(strstr(html, "<script"));
    assert_null(strstr(html, "http"));
    assert_null(strstr(html, "nan"));
    assert_non_null(strstr(html, "a&lt;b&gt;.log"));
    snprintf(line, sizeof line, "tidy -q -e '%s' 2>&1", program_file("incident.html", html));
    p = popen(line, "r");
    assert_non_null(p);
    said[fread(said, 1, sizeof said - 1, p)] = '\0';
    pclose(p);
    assert_string_equal(said, "");
}

/* Readings come every 2 s, some a little later: in one of three seconds there is one. */
static double near_s(const struct incident_curve *c, int after_s)
{
    const double *mean = &c->mean[INCIDENT_BEFORE_S + after_s];
    int at = 0;

    while (at < 2 && !isfinite(mean[at]))
        at++;
    assert_true(isfinite(mean[at]));
    return mean[at];
}

static void impeller__has_its_order_its_curves_and_its_limit(void **state)
{
    struct keeper *k = keeper_new(settings, &(struct keeper_options){.escalate = false});
    struct incident *i = sail(k, DRILL_FAULT_IMPELLER);
    const struct incident_alert *a = NULL;
    char *html;
    int stopped = 0;

    (void)state;
    assert_true(i->alerts >= 1);
    a = &i->alert[0];
    assert_string_equal(a->curve[0].key, "exhaust.1");
    assert_string_equal(a->curve[1].key, "exhaust.0"); /* the twin beside it */
    assert_int_equal(a->curves, 2);
    assert_near((double)(a->limit_ns - epoch_ns) / 1e9, truth.limit_passed_s, 0.1);
    assert_true(a->worst > 150 && a->worst_ns > a->limit_ns);
    assert_true(a->highest >= PRIORITY_ALARM);
    /* before and after the moment are both there, and the twin stays cool */
    assert_true(near_s(&a->curve[0], -60) < 40);
    assert_true(near_s(&a->curve[0], 120) > near_s(&a->curve[1], 120) + 50);
    for (int e = 1; e < i->events; e++) {
        assert_true(i->event[e].wall_ns >= i->event[e - 1].wall_ns);
        stopped += strstr(i->event[e].text, "has stopped") != NULL;
    }
    assert_int_equal(stopped, 2);
    html = written(i);
    assert_non_null(strstr(html, "STARBOARD EXHAUST"));
    assert_non_null(strstr(html, "Limit reached"));
    assert_non_null(strstr(html, "2 lines of the log could not be read"));
    check_page(html);
    golden_check("report", "incident.html", html);
    free(html);
    incident_free(i);
    keeper_free(k);
}

/* Between the events, in their order, and on the curve; those of other days are another page's. */
static void marks__stand_in_their_order_and_on_the_curve(void **state)
{
    struct keeper *k = keeper_new(settings, &(struct keeper_options){.escalate = false});
    struct incident *i = sail(k, DRILL_FAULT_IMPELLER);
    const char *first, *marked, *raised;
    char *html;

    (void)state;
    marks_add(&marks, epoch_ns + 330 * NS_PER_S, "smell of <rubber>");
    marks_add(&marks, epoch_ns + 700 * NS_PER_S, "");
    marks_add(&marks, epoch_ns - 86400 * NS_PER_S, "the day before");
    html = written(i);
    marks = (struct marks){0};
    marked = strstr(html, "smell of &lt;rubber&gt;");
    first = strstr(html, "PORT runs");
    raised = strstr(html, ">raised<");
    assert_true(first && marked && raised);
    assert_true(first < marked && marked < raised);
    assert_non_null(strstr(html, "(without words)"));
    assert_null(strstr(html, "the day before"));
    assert_non_null(strstr(html, "Triangles: what somebody marked."));
    check_page(html);
    free(html);
    incident_free(i);
    keeper_free(k);
}

static void quiet_trip__says_that_nothing_happened(void **state)
{
    struct keeper *k = keeper_new(settings, &(struct keeper_options){.escalate = false});
    struct incident *i = sail(k, DRILL_FAULT_NONE);
    char *html;

    (void)state;
    assert_int_equal(i->alerts, 0);
    assert_int_equal(i->events, 4); /* two engines start and stop */
    assert_int_equal(i->holes, 0);
    html = written(i);
    check_page(html);
    free(html);
    incident_free(i);
    keeper_free(k);
}

/* The cable is out at cruise: that an engine is not heard does not say that it stopped. */
static void dark_bus__engines_are_not_said_to_have_stopped(void **state)
{
    struct keeper *k = keeper_new(settings, &(struct keeper_options){.escalate = false});
    struct incident *i;
    int unheard = 0;

    (void)state;
    dark_s = 400;
    i = sail(k, DRILL_FAULT_NONE);
    dark_s = 1e9;
    for (int e = 0; e < i->events; e++) {
        assert_null(strstr(i->event[e].text, "stopped"));
        unheard += strstr(i->event[e].text, "is not heard any more") != NULL;
    }
    assert_int_equal(unheard, 2);
    incident_free(i);
    keeper_free(k);
}

static void silent_sensor__is_not_known_afterwards(void **state)
{
    struct keeper *k = keeper_new(settings, &(struct keeper_options){.escalate = false});
    struct incident *i = sail(k, DRILL_FAULT_SENSOR_SILENT);
    char *html;

    (void)state;
    assert_true(i->alerts >= 1);
    html = written(i);
    assert_non_null(strstr(html, "exhaust.1 had fallen silent by the end"));
    check_page(html);
    free(html);
    incident_free(i);
    keeper_free(k);
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
        cmocka_unit_test(impeller__has_its_order_its_curves_and_its_limit),
        cmocka_unit_test(marks__stand_in_their_order_and_on_the_curve),
        cmocka_unit_test(quiet_trip__says_that_nothing_happened),
        cmocka_unit_test(dark_bus__engines_are_not_said_to_have_stopped),
        cmocka_unit_test(silent_sensor__is_not_known_afterwards),
    };

    return cmocka_run_group_tests(tests, setup, teardown);
}
