/* A season from drilled trips to what is said of it, as a user would. */
#include "support/check.h"
#include "support/golden.h"
#include "support/program.h"

#include <stdio.h>
#include <stdlib.h>

static char dir[300];

static struct outcome run(const char *form)
{
    char arguments[1200];
    size_t n = 0;

    for (; *form && n + 310 < sizeof arguments; form++) {
        if (*form == '%')
            n += (size_t)snprintf(arguments + n, sizeof arguments - n, "%s", dir);
        else
            arguments[n++] = *form;
    }
    arguments[n] = '\0';
    return program_run_with("TZ=UTC LC_ALL=C", arguments, NULL);
}

static int drill_a_season(void **state)
{
    (void)state;
    snprintf(dir, sizeof dir, "%s/summer", program_scratch());
    struct outcome o = run("drill --season 5 --fault impeller-wear --seed 4 '%'");
    int status = o.status;
    outcome_free(&o);
    return status;
}

static void expect(const char *arguments, int status, const char *out, const char *err)
{
    struct outcome o = run(arguments);

    if (o.status != status || (out && !strstr(o.out, out)) || (err && !strstr(o.err, err)))
        fail_msg("%s: status %d, said:\n%s%s", arguments, o.status, o.out, o.err);
    outcome_free(&o);
}

static void season__trips_one_by_one__are_kept_once(void **state)
{
    (void)state;
    expect("season '%/boat.season'", 2, NULL, "--learn begins one");
    expect("sift --season '%/boat.season' '%/trip-02.log'", 0, "frames over", NULL);
    expect("sift --season '%/boat.season' '%/trip-01.log'", 0, "frames over", NULL);
    expect("sift --season '%/boat.season' '%/trip-01.log'", 0, "frames over", NULL);
    expect("season '%/boat.season'", 0, "2 trips, 2026-05", NULL);
    expect("season --json '%/boat.season'", 0, "\"channel\":\"exhaust.0\"", NULL);
    expect("season --csv '%/boat.season'", 0, "time,channel,rpm,excess,error", NULL);
    expect("season --html '%/boat.html' '%/boat.season'", 0, "Nothing to compare yet", NULL);
}

/* From the bus: volts every 0.25 s show the start, those every 1.5 s (the trips above) do not. */
static void season__starts__a_quick_battery_is_kept_a_slow_one_is_not(void **state)
{
    (void)state;
    expect("drill --season 3 --engines 1 --fault battery --seed 12 '%-b'", 0, NULL, NULL);
    expect("sift --season '%/starts.season' '%-b/trip-01.log'", 0, "frames over", NULL);
    expect("season '%/starts.season'", 0,
           "BATTERY 0 CRANKING VOLTS (battery-volts.0): too few starts yet", NULL);
    expect("sift --season '%/starts.season' '%-b/trip-02.log'", 0, "frames over", NULL);
    expect("season --csv '%/starts.season'", 0, ",battery-volts.0,300,", NULL);
    expect("sift --season '%/slow.season' '%/trip-03.log'", 0, "frames over", NULL);
    struct outcome o = run("season --csv '%/slow.season'");
    assert_null(strstr(o.out, "battery-volts"));
    assert_non_null(strstr(o.out, "fuel-rate.0"));
    outcome_free(&o);
}

static void season__tend__adds_its_trip(void **state)
{
    (void)state;
    expect("tend --season '%/tended.season' '%/trip-03.log'", 0, NULL, NULL);
    expect("season '%/tended.season'", 0, "1 trip, 2026-", NULL);
}

static void season__learn_and_baseline__write_alone_and_read_alone(void **state)
{
    (void)state;
    static const char *const verbs[] = {"sift", "tend", "watch --once", "trial"};
    char command[600];
    for (int i = 0; i < 4; i++) {
        snprintf(command, sizeof command, "%s --baseline '%%/%d.season' '%%/trip-01.log'", verbs[i],
                 i);
        expect(command, 2, NULL, "--learn begins one");
        snprintf(command, sizeof command, "%s --learn '%%/%d.season' '%%/trip-01.log'", verbs[i],
                 i);
        expect(command, 0, NULL, NULL);
        snprintf(command, sizeof command, "season '%%/%d.season'", i);
        expect(command, 0, "1 trip, 2026-05", NULL);
        snprintf(command, sizeof command, "%s --baseline '%%/%d.season' '%%/trip-02.log'", verbs[i],
                 i);
        expect(command, 0, NULL, NULL);
        snprintf(command, sizeof command, "season '%%/%d.season'", i);
        expect(command, 0, "1 trip, 2026-05", NULL);
        snprintf(command, sizeof command, "%s --season '%%/%d.season' '%%/trip-02.log'", verbs[i],
                 i);
        expect(command, 0, NULL, NULL);
        snprintf(command, sizeof command, "season '%%/%d.season'", i);
        expect(command, 0, "2 trips, 2026-05", NULL);
        snprintf(command, sizeof command, "%s --season a --learn b '%%/trip-01.log'", verbs[i]);
        expect(command, 2, NULL, "goes with neither");
    }
    expect("trial --against '%/3.season' '%/trip-03.log'", 0, "Against earlier trips", NULL);
}

/* As earlier versions wrote it, to the letter. */
static void season__a_baseline_of_before__is_read_and_grows(void **state)
{
    static const char old[] =
        "# stokehold baseline\n"
        "# What was normal for this boat. A line may be taken out or corrected.\n"
        "# Values in C, kPa, L/h, V and %; spread: how far readings went from the mean;\n"
        "# minutes: how long the step behind the figure lasted; sea: the water then, - unknown.\n"
        "# channel  rpm  mean  spread  minutes  sea  when  log\n"
        "exhaust.0  895  24.35  0.45  8.6  16.0  2026-04-04T14:16:08Z  trial.log\n"
        "exhaust.0  1512  30.87  0.62  5.8  16.0  2026-04-04T14:36:41Z  trial.log\n"
        "exhaust.0  2184  41.02  0.58  5.6  16.0  2026-04-04T14:59:48Z  trial.log\n"
        "coolant.0  2184  80.11  0.21  5.6  16.0  2026-04-04T14:59:48Z  trial.log\n";
    char command[700], path[400];

    (void)state;
    snprintf(path, sizeof path, "%s", program_file("old.txt", old));
    snprintf(command, sizeof command, "season '%s'", path);
    expect(command, 0, "1 trip, 2026-04-04", NULL);
    snprintf(command, sizeof command, "sift --baseline '%s' '%%/trip-01.log'", path);
    expect(command, 0, "frames over", NULL);
    snprintf(command, sizeof command, "trial --baseline '%s' '%%/trip-01.log'", path);
    expect(command, 0, "than on 2026-04-04", NULL);
    snprintf(command, sizeof command, "sift --season '%s' '%%/trip-01.log'", path);
    expect(command, 0, "frames over", NULL);
    snprintf(command, sizeof command, "season '%s'", path);
    expect(command, 0, "2 trips, 2026-04-04", NULL);
}

/* All at once: each waits for the lock and adds to what is there by then. */
static void season__several_writers__lose_no_trip(void **state)
{
    char command[2600] = "--version";
    size_t n = strlen(command);
    (void)state;
    for (int i = 1; i <= 5; i++)
        n += (size_t)snprintf(command + n, sizeof command - n,
                              "%s \"%s\" sift --season '%s/many.season' '%s/trip-0%d.log' "
                              ">/dev/null",
                              i == 1 ? ";" : " &", STOKEHOLD_PROGRAM, dir, dir, i);
    snprintf(command + n, sizeof command - n, " & wait");
    struct outcome o = program_run(command, NULL);
    assert_string_equal(o.err, "");
    outcome_free(&o);
    expect("season '%/many.season'", 0, "5 trips, 2026-05", NULL);
    expect("--version; grep -c '^trip ' '%/many.season'", 0, "\n5\n", NULL);
}

/* What is wrong is named with its line; nothing is written over it. */
static void season__torn_or_edited_wrongly__is_named_and_left_alone(void **state)
{
    static const struct {
        const char *spoil, *says;
    } cases[] = {
        {"sed '9{s/ [^ ]*$//;q}' '%/boat.season' >'%/bad.season'",
         "/bad.season:9: the line needs a time"},
        {"sed '9s/^/speed /' '%/boat.season' >'%/bad.season'",
         "/bad.season:9: the line begins with neither"},
        {"sed 's/^trip .*/trip yesterday/' '%/boat.season' >'%/bad.season'",
         "the line needs two times"},
        {"echo not a season >'%/bad.season'", "/bad.season:1: not a season"},
    };
    char command[500];
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        snprintf(command, sizeof command, "--version; %s; cp '%%/bad.season' '%%/was'",
                 cases[i].spoil);
        expect(command, 0, NULL, NULL);
        expect("sift --season '%/bad.season' '%/trip-03.log'", 2, NULL, cases[i].says);
        expect("tend --season '%/bad.season' '%/trip-03.log'", 2, NULL, cases[i].says);
        expect("tend --season '%/bad.season' --state '%/state' '%/trip-03.log'", 0,
               "the season cannot be read", cases[i].says);
        expect("sift --learn '%/bad.season' '%/trip-03.log'", 3, NULL, cases[i].says);
        expect("season --mark x '%/bad.season'", 2, NULL, cases[i].says);
        expect("--version; cmp '%/bad.season' '%/was'", 0, NULL, NULL);
    }
}

static void season__metrics__have_the_excess_of_each_channel(void **state)
{
    (void)state;
    expect("tend --baseline '%/boat.season' --metrics '%/boat.prom' '%/trip-03.log'", 0, NULL,
           NULL);
    char command[400];
    snprintf(command, sizeof command, "--version; cat '%s/boat.prom'", dir);
    struct outcome o = program_run(command, NULL);
    if (!strstr(o.out, "# TYPE stokehold_season_excess_kelvins gauge") ||
        !strstr(o.out, "\nstokehold_season_excess_kelvins{channel=\"exhaust.0\"") ||
        !strstr(o.out, "\nstokehold_season_excess_ratio{channel=\"fuel-rate.0\""))
        fail_msg("%s", o.out);
    outcome_free(&o);
}

/* As many marks as a season holds, and one more: it is refused, and said. */
static void season__one_mark_too_many__is_said(void **state)
{
    char path[340];
    FILE *out;

    (void)state;
    snprintf(path, sizeof path, "%s/marks.season", dir);
    out = fopen(path, "w");
    assert_non_null(out);
    assert_true(fputs("# stokehold season 1\n", out) >= 0);
    for (int i = 0; i < 200; i++)
        assert_true(fputs("mark 2026-06-12T08:00:00Z * oil changed\n", out) >= 0);
    assert_int_equal(fclose(out), 0);
    expect("season --mark x '%/marks.season'", 3, NULL, "it holds 200 marks, and no more");
}

static void season__marks_and_refusals(void **state)
{
    (void)state;
    expect("season --mark 'impeller changed' --date 2026-06-01 --concerns exhaust.0 "
           "'%/boat.season'",
           0, NULL, NULL);
    expect("season '%/boat.season'", 0, "2026-06-01  impeller changed (exhaust.0)", NULL);
    /* What was before stays to be seen, against the reference that the mark ended. */
    expect("season '%/boat.season'", 0,
           "before 2026-06-01, impeller changed: against the first trips of that time\n  2026-05",
           NULL);
    expect("season --json '%/boat.season'", 0,
           "\"reference\":1779004836.000000,\"log\":\"trip-01.log\"", NULL);
    expect("season --html '%/marked.html' '%/boat.season'", 0, NULL, NULL);
    expect("season --csv '%/boat.season'", 0, "idle_excess,meaning,reference", NULL);
    expect("season --concerns exhaust.0 '%/boat.season'", 2, NULL, "go with --mark");
    expect("season --mark x --concerns rudder '%/boat.season'", 2, NULL, "takes a channel");
    expect("sift --season '%/trip-01.log' '%/trip-01.log'", 2, NULL, ":1: not a season");
    expect("drill --season 5", 2, NULL, "needs the directory");
    expect("drill --season 5 --fault impeller '%'", 2, NULL, "--fault 'impeller'");
    static const char *const not_with[] = {"-o '%.log'",  "--to vcan0",    "--truth '%.json'",
                                           "--at +03:00", "--minutes 8",   "--trip trial",
                                           "--random",    "--engine port", "--boat full"};
    for (size_t i = 0; i < sizeof not_with / sizeof *not_with; i++) {
        char arguments[100];
        snprintf(arguments, sizeof arguments, "drill --season 5 %s '%%'", not_with[i]);
        expect(arguments, 2, NULL, "--season goes with --fault, --seed and --engines alone");
    }
}

/* Which engines there are is known from their steps, the first one among them. */
static void season__one_step_an_engine__both_have_their_names(void **state)
{
    static const char one[] =
        "# stokehold season 1\ntrip  2026-05-17T08:00:36Z  2026-05-17T08:52:19Z  t.log\n"
        "exhaust.0  2105  -  -  11.3  52.46  0.89  17.0  2026-05-17T08:17:29Z\n"
        "exhaust.1  2105  -  -  11.3  50.46  0.89  17.0  2026-05-17T08:17:29Z\n";
    char command[400];

    (void)state;
    snprintf(command, sizeof command, "season '%s'", program_file("one.season", one));
    expect(command, 0, "PORT EXHAUST (exhaust.0): too few", NULL);
    expect(command, 0, "STARBOARD EXHAUST (exhaust.1): too few", NULL);
}

/* What the verb prints, and the file it read or wrote where form names one. */
static void keep(const char *name, const char *form, const char *file)
{
    struct outcome o = run(form);
    char path[340], line[2000];
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size), *in;

    assert_non_null(out);
    assert_int_equal(o.status, 0);
    fputs(o.out, out);
    snprintf(path, sizeof path, "%s/%s", dir, file ? file : "");
    in = file ? fopen(path, "r") : NULL;
    while (in && fgets(line, sizeof line, in))
        fputs(line, out);
    if (in)
        fclose(in);
    fclose(out);
    for (char *p; (p = strstr(text, dir)) != NULL;) /* where it lies is of no matter */
        memmove(p, p + strlen(dir), strlen(p + strlen(dir)) + 1);
    golden_check("verbs", name, text);
    free(text);
    outcome_free(&o);
}

/* The summer without what was read before each start, and with its third trip after a mark: the
 * first step of a trip is then one of the exhaust at speed. */
static void leave_out_rest(const char *from, const char *to)
{
    char path[340], line[2000];
    FILE *in, *out;

    snprintf(path, sizeof path, "%s/%s", dir, from);
    in = fopen(path, "r");
    assert_non_null(in);
    snprintf(path, sizeof path, "%s/%s", dir, to);
    out = fopen(path, "w");
    assert_non_null(out);
    while (fgets(line, sizeof line, in))
        if (!strstr(line, "  0  -  -"))
            fputs(line, out);
    fclose(in);
    fclose(out);
}

/* A summer in which an impeller wears, with work done in the middle of it. */
static void season__of_a_summer__is_as_kept(void **state)
{
    char command[120];

    (void)state;
    for (int i = 1; i <= 5; i++) {
        snprintf(command, sizeof command, "sift --season '%%/summer.season' '%%/trip-0%d.log'", i);
        expect(command, 0, NULL, NULL);
    }
    keep("season.txt", "season --utc '%/summer.season'", "summer.season");
    keep("season.jsonl", "season --json '%/summer.season'", NULL);
    keep("season.csv", "season --csv '%/summer.season'", NULL);
    keep("season.html", "season --utc --html '%/summer.html' '%/summer.season'", "summer.html");
    expect("season --mark 'filter changed' --date 2026-06-01 --concerns exhaust.0 "
           "'%/summer.season'",
           0, NULL, NULL);
    keep("season-marked.txt", "season --utc '%/summer.season'", NULL);
    leave_out_rest("summer.season", "late.season");
    expect("season --mark 'probe changed' --date 2026-07-01 --concerns exhaust.0 '%/late.season'",
           0, NULL, NULL);
    keep("season-late.txt", "season --utc '%/late.season'", NULL);
    keep("season-marked.html", "season --utc --html '%/summer.html' '%/summer.season'",
         "summer.html");
}

/* Six trips three days apart, the exhaust of engine 0 hotter on the later three by 5, 6 and 7 K (7
 * over a rise of 30 K and 7 over one of 40, brought to that of 30: 6.1); a reader is told what
 * wears, since when, how fast and what to do. */
static void season__what_wears__since_when_and_what_to_do(void **state)
{
    static char text[4000];
    char command[500], path[400];
    size_t n = (size_t)snprintf(text, sizeof text, "# stokehold season 1\n");
    (void)state;
    for (int trip = 0; trip < 6; trip++) {
        n += (size_t)snprintf(text + n, sizeof text - n,
                              "trip 2026-05-%02dT08:00:00Z 2026-05-%02dT10:00:00Z t.log\n",
                              3 * trip + 1, 3 * trip + 1);
        for (int e = 0; e < 2; e++)
            for (int step = 1; step <= 3; step++)
                n += (size_t)snprintf(
                    text + n, sizeof text - n,
                    "exhaust.%d  %d  -  12.0  -  %d.00  0.20  8.0  2026-05-%02dT08:%02d:00Z\n", e,
                    1000 * step, 22 + 10 * step + (e == 0 && trip > 2 && step > 1 ? 2 + trip : 0),
                    3 * trip + 1, 20 + 10 * step);
    }
    snprintf(path, sizeof path, "%s", program_file("wears", text));
    snprintf(command, sizeof command, "season '%s'", path);
    expect(
        command, 0,
        "6 trips, 2026-05-01 to 2026-05-16\n\ncaution   PORT EXHAUST 6.1 K above the first trips "
        "(from 2026-05-01), 3 trips in a row since 2026-05-10, growing ",
        NULL);
    expect(command, 0, " K a week; at this rate it passes 93 °C at 3000 rpm in about ", NULL);
    expect(command, 0,
           " weeks:\n          look at strainer, impeller, cooler\n\nOnce work was done, note it; "
           "what it concerns begins a new reference:\n"
           "  stokehold season --mark 'what was done' --concerns exhaust.0 ",
           NULL);
    expect(command, 0, "Nothing to say of\n  STARBOARD EXHAUST\n", NULL);
    expect(command, 0, "\nPORT EXHAUST (exhaust.0), over the sea: 6.1 K above", NULL);
    expect(command, 0, "\nSTARBOARD EXHAUST (exhaust.1), over the sea: as on the first trips\n",
           NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(season__trips_one_by_one__are_kept_once),
        cmocka_unit_test(season__tend__adds_its_trip),
        cmocka_unit_test(season__starts__a_quick_battery_is_kept_a_slow_one_is_not),
        cmocka_unit_test(season__learn_and_baseline__write_alone_and_read_alone),
        cmocka_unit_test(season__a_baseline_of_before__is_read_and_grows),
        cmocka_unit_test(season__several_writers__lose_no_trip),
        cmocka_unit_test(season__torn_or_edited_wrongly__is_named_and_left_alone),
        cmocka_unit_test(season__metrics__have_the_excess_of_each_channel),
        cmocka_unit_test(season__marks_and_refusals),
        cmocka_unit_test(season__one_mark_too_many__is_said),
        cmocka_unit_test(season__of_a_summer__is_as_kept),
        cmocka_unit_test(season__what_wears__since_when_and_what_to_do),
        cmocka_unit_test(season__one_step_an_engine__both_have_their_names),
    };

    return cmocka_run_group_tests(tests, drill_a_season, NULL);
}
