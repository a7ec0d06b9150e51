/* A whole trial written out in every form and kept as golden files; its JSON read by jq and its
 * page by tidy, which know nothing of us. The boat is that of voyage.h: of two engines one meter
 * reads 3 % high, there is a current, one exhaust has grown hotter since the baseline. */
#include "report/trial/drift.h"
#include "report/trial/trial.h"
#include "report/trial/write.h"

#include "config/config.h"
#include "report/voyage.h"

#include "support/check.h"
#include "support/golden.h"
#include "support/program.h"

#include <stdio.h>
#include <stdlib.h>

static struct settings *settings, *other_settings;
static struct trial *trial, *bare, *other;
static const struct trial_report *report, *bare_report, *other_report;
static struct season season;
static struct trial_drifts drifts;
static struct signoff signoff;
static struct signoff_entry entry[3];

static void make_signoff(void)
{
    const int64_t at_ns = INT64_C(1777900000) * 1000000000;

    entry[0] = (struct signoff_entry){.id = {QTY_EXHAUST, 0, 0},
                                      .check = SIGNOFF_ICE,
                                      .has_reference = true,
                                      .has_tolerance = true,
                                      .reading = 0.4,
                                      .tolerance = 1.5,
                                      .error = 0.4,
                                      .verdict = SIGNOFF_PASS,
                                      .by = "R. Example",
                                      .at_ns = at_ns};
    entry[1] = (struct signoff_entry){.id = {QTY_EXHAUST, 0, 0},
                                      .check = SIGNOFF_BOILING,
                                      .has_reference = true,
                                      .has_tolerance = true,
                                      .reference = 99.6,
                                      .reading = 102.1,
                                      .tolerance = 1.5,
                                      .error = 2.5,
                                      .verdict = SIGNOFF_FAIL,
                                      .by = "R. Example",
                                      .note = "well too short <30 mm",
                                      .at_ns = at_ns + INT64_C(600000000000)};
    entry[2] = (struct signoff_entry){.id = {QTY_COOLANT, 1, 0},
                                      .check = SIGNOFF_WARMED,
                                      .reading = 41.2,
                                      .moved = 18.4,
                                      .verdict = SIGNOFF_PASS,
                                      .by = "R. Example",
                                      .at_ns = at_ns};
    signoff = (struct signoff){entry, 3};
}

static void sail_first(struct voyage *v)
{
    struct trial *t = trial_new(settings, NULL);

    assert_non_null(t);
    voyage_sail(v, settings, t, NULL);
    assert_true(trial_season_make(trial_finish(t), &season));
    trial_free(t);
}

static const char other_units[] =
    "[units]\ntemperature = F\npressure = psi\nvolume = gal\nflow = gal/h\nspeed = km/h\n"
    "[channel fuel-rate.0]\nfeed = fuel-rate.10\nreturn = fuel-rate.11\n"
    "[channel fuel-rate.1]\nfeed = fuel-rate.12\nreturn = fuel-rate.13\n"
    "[channel fuel-rate.10]\naccuracy = 1 %\n[channel fuel-rate.12]\naccuracy = 1 %\n";

/* A boat that tells little: one engine without load, torque or gearbox, no tanks, no log; halfway
 * the position goes, later the exhaust sensor. Nothing is known of earlier trips, nothing signed.
 */
static void sail_bare(void)
{
    struct voyage v;

    voyage_plain(&v);
    v.engines = 1;
    v.no_load = v.no_torque = v.no_gear = v.no_tanks = true;
    voyage_usual(&v);
    v.seed = 7;
    v.drift_kn = 0.3;
    v.position_stops_s = 3000;
    v.exhaust_stops_s = 3600;
    v.space_stuck_c = 24;
    bare = trial_new(settings, NULL);
    assert_non_null(bare);
    voyage_sail(&v, settings, bare, NULL);
    bare_report = trial_finish(bare);
    assert_non_null(bare_report);
}

/* In other units: burn by two meters an engine, the bus silent now and then, a current that turns,
 * no exhaust sensor, a log that reads low. */
static void sail_other(void)
{
    struct voyage v;

    voyage_plain(&v);
    voyage_usual(&v);
    v.seed = 8;
    v.return_lph = 60;
    v.exhaust_stops_s = 1;
    v.current_kn = 1.1;
    v.set_deg = 300;
    v.turning_deg_h = 20;
    v.log_gain = 0.93;
    v.hole_every_s = 900;
    v.hole_s = 40;
    v.no_torque = true;
    v.thirst[1] = 1.12;
    other = trial_new(other_settings, NULL);
    assert_non_null(other);
    voyage_sail(&v, other_settings, other, NULL);
    other_report = trial_finish(other);
    assert_non_null(other_report);
}

static int setup(void **state)
{
    struct config_messages *messages = NULL;
    struct voyage v;

    (void)state;
    settings = config_load(NULL, &messages);
    config_messages_free(messages);
    if (!settings)
        return -1;
    snprintf(settings->vessel, sizeof settings->vessel, "Made & Up");
    settings->trial.rated_rpm = 2900;
    other_settings = config_load_text("other.conf", other_units, &messages);
    config_messages_free(messages);
    if (!other_settings)
        return -1;
    voyage_plain(&v);
    voyage_usual(&v);
    v.seed = 5;
    v.current_kn = 0.7;
    v.set_deg = 100;
    v.log_gain = 1.06;
    v.sea_kn = 0.05;
    v.drift_kn = 0.4;
    v.meter[1] = 1.03;
    sail_first(&v);
    v.seed = 6;
    v.exhaust_more_k[0] = 6;
    trial = trial_new(settings, NULL);
    assert_non_null(trial);
    voyage_sail(&v, settings, trial, NULL);
    report = trial_finish(trial);
    assert_non_null(report);
    trial_drift_find(report, &season, &drifts);
    make_signoff();
    sail_bare();
    sail_other();
    return 0;
}

static int teardown(void **state)
{
    (void)state;
    trial_free(trial);
    trial_free(bare);
    trial_free(other);
    season_free(&season);
    settings_free(settings);
    settings_free(other_settings);
    return 0;
}

static const char papers[] = "place = Example Sound\npeople = helm R. Example\n"
                             "people = engines S. <Example>\nwind = SW 3\nhull =\n"
                             "signature = Surveyor, T. Example\n";

typedef void (*writer)(FILE *out, const struct trial_report *r,
                       const struct trial_write_options *o);

static void write_csv(FILE *out, const struct trial_report *r, const struct trial_write_options *o)
{
    (void)o;
    trial_write_csv(out, r);
}

static char *written(writer f)
{
    static const struct page_log log = {"made/up.log", "e3b0c44298fc1c149afbf4c8996fb924"};
    static const struct page_source source = {
        .version = "0", .config = "boat.conf", .config_sha256 = "", .log = &log, .logs = 1};
    struct particulars particulars;
    struct err e;
    const struct trial_write_options o = {.utc = true,
                                          .drifts = &drifts,
                                          .signoff = &signoff,
                                          .particulars = &particulars,
                                          .source = &source};

    assert_true(particulars_read(program_file("particulars", papers), &particulars, &e));
    char *text = NULL;
    size_t len = 0;
    FILE *out = open_memstream(&text, &len);

    assert_non_null(out);
    f(out, report, &o);
    fclose(out);
    return text;
}

static void check_form(const char *name, writer f)
{
    char *text = written(f);

    golden_check("report", name, text);
    free(text);
}

static void trial__as_text__is_as_kept(void **state)
{
    (void)state;
    check_form("trial.txt", trial_write_text);
}

/* Without anything that stands beside a report. */
static void check_alone(const char *name, writer f, const struct trial_report *r)
{
    const struct trial_write_options o = {.utc = true};
    char *text = NULL;
    size_t len = 0;
    FILE *out = open_memstream(&text, &len);

    assert_non_null(out);
    f(out, r, &o);
    fclose(out);
    golden_check("report", name, text);
    free(text);
}

static void trial__of_a_boat_that_tells_little__is_as_kept(void **state)
{
    (void)state;
    check_alone("trial-bare.txt", trial_write_text, bare_report);
    check_alone("trial-bare.csv", write_csv, bare_report);
    check_alone("trial-bare.json", trial_write_json, bare_report);
    check_alone("trial-bare.html", trial_write_html, bare_report);
}

static void trial__in_other_units__is_as_kept(void **state)
{
    (void)state;
    check_alone("trial-other.txt", trial_write_text, other_report);
    check_alone("trial-other.csv", write_csv, other_report);
    check_alone("trial-other.json", trial_write_json, other_report);
    check_alone("trial-other.html", trial_write_html, other_report);
}

static void trial__as_csv__is_as_kept(void **state)
{
    (void)state;
    check_form("trial.csv", write_csv);
}

static void trial__as_json__is_as_kept(void **state)
{
    (void)state;
    check_form("trial.json", trial_write_json);
}

static void trial__as_page__is_as_kept(void **state)
{
    (void)state;
    check_form("trial.html", trial_write_html);
}

/* --- independent readers ---------------------------------------------------------------- */

/* What a program from elsewhere makes of a file; fails the test where it complains. */
static char *read_by(const char *command, const char *name, const char *text)
{
    char line[600];
    char *said = calloc(1, 8192);
    FILE *p;

    assert_non_null(said);
    snprintf(line, sizeof line, command, program_file(name, text));
    p = popen(line, "r");
    assert_non_null(p);
    said[fread(said, 1, 8191, p)] = '\0';
    if (pclose(p) != 0)
        fail_msg("%s: %s", line, said);
    return said;
}

static double jq(const char *json, const char *filter)
{
    char command[400];
    char *said, *end;
    double v;

    snprintf(command, sizeof command, "jq -e '%s' '%%s' 2>&1", filter);
    said = read_by(command, "trial.json", json);
    v = strtod(said, &end);
    assert_true(end != said);
    free(said);
    return v;
}

static void json__read_by_jq__says_what_the_report_holds(void **state)
{
    char *json = written(trial_write_json);
    char filter[100];

    (void)state;
    assert_int_equal((int)jq(json, ".points | length"), report->points);
    assert_int_equal((int)jq(json, ".particulars | length"), 5);
    assert_int_equal((int)jq(json, ".particulars | map(select(.title == \"People\")) | length"), 2);
    assert_int_equal((int)jq(json, ".boxes | length"), report->boxes);
    assert_int_equal((int)jq(json, ".hours | length"), report->engines);
    assert_near(jq(json, ".hours[1].last"), report->hours_last[1], 0.06);
    assert_int_equal((int)jq(json, ".logs | length"), 1);
    assert_int_equal((int)jq(json, "if .source.configuration == \"boat.conf\" then 1 else 0 end"),
                     1);
    assert_int_equal((int)jq(json, ".steps | length"), report->steps);
    assert_int_equal((int)jq(json, ".checks | length"), report->checks);
    assert_int_equal((int)jq(json, ".findings | length"), report->findings);
    assert_int_equal((int)jq(json, ".against_baseline | length"), drifts.count);
    for (int i = 0; i < report->points; i++) {
        const struct trial_point *p = &report->point[i];

        snprintf(filter, sizeof filter, ".points[%d].rpm", i);
        assert_near(jq(json, filter), p->rpm, 0.06);
        if (p->how == TRIAL_NO_SPEED)
            continue;
        snprintf(filter, sizeof filter, ".points[%d].speed", i);
        assert_near(jq(json, filter), p->speed_kn, 0.006);
        snprintf(filter, sizeof filter, ".points[%d].burn", i);
        assert_near(jq(json, filter), p->burn_lph, 0.006);
    }
    assert_near(jq(json, ".economical.speed"), report->best.x, 0.0006);
    assert_near(jq(json, ".meters[1].factor"), report->meter[1].factor, 0.0006);
    assert_near(jq(json, ".propeller_law[0].exponent"), report->law[0].exponent, 0.0006);
    free(json);
}

static void page__read_by_tidy__has_no_complaint(void **state)
{
    char *html = written(trial_write_html);
    char *said = read_by("tidy -q -e '%s' 2>&1", "trial.html", html);

    (void)state;
    assert_string_equal(said, "");
    free(said);
    free(html);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(trial__as_text__is_as_kept),
        cmocka_unit_test(trial__of_a_boat_that_tells_little__is_as_kept),
        cmocka_unit_test(trial__in_other_units__is_as_kept),
        cmocka_unit_test(trial__as_csv__is_as_kept),
        cmocka_unit_test(trial__as_json__is_as_kept),
        cmocka_unit_test(trial__as_page__is_as_kept),
        cmocka_unit_test(json__read_by_jq__says_what_the_report_holds),
        cmocka_unit_test(page__read_by_tidy__has_no_complaint),
    };

    return cmocka_run_group_tests(tests, setup, teardown);
}
