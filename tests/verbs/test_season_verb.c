/* A season from drilled trips to what is said of it, as a user would. */
#include "support/check.h"
#include "support/program.h"

#include <stdio.h>

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
    expect("season --html '%/boat.html' '%/boat.season'", 0, "Nothing stands out", NULL);
}

static void season__tend__adds_its_trip(void **state)
{
    (void)state;
    expect("tend --season '%/tended.season' '%/trip-03.log'", 0, NULL, NULL);
    expect("season '%/tended.season'", 0, "1 trip, 2026-", NULL);
}

static void season__marks_and_refusals(void **state)
{
    (void)state;
    expect("season --mark 'impeller changed' --date 2026-06-01 --concerns exhaust.0 "
           "'%/boat.season'",
           0, NULL, NULL);
    expect("season '%/boat.season'", 0, "2026-06-01  impeller changed (exhaust.0)", NULL);
    expect("season --concerns exhaust.0 '%/boat.season'", 2, NULL, "go with --mark");
    expect("season --mark x --concerns rudder '%/boat.season'", 2, NULL, "takes a channel");
    expect("sift --season '%/trip-01.log' '%/trip-01.log'", 2, NULL, ":1: not a season");
    expect("drill --season 5", 2, NULL, "needs the directory");
    expect("drill --season 5 --fault impeller '%'", 2, NULL, "--fault 'impeller'");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(season__trips_one_by_one__are_kept_once),
        cmocka_unit_test(season__tend__adds_its_trip),
        cmocka_unit_test(season__marks_and_refusals),
    };

    return cmocka_run_group_tests(tests, drill_a_season, NULL);
}
