/* The season's file in the hands of a watch that goes on: every trip once, whatever ends the watch.
 */
#include "support/check.h"
#include "support/program.h"
#include "verbs/tending.h"

#include <sys/stat.h>

static char dir[200];

/* Runs `stokehold ARGUMENTS`, every @ in them the directory of the trips. */
static struct outcome run(const char *form)
{
    char arguments[2000];
    size_t n = 0;

    for (; *form && n + sizeof dir < sizeof arguments; form++) {
        if (*form == '@')
            n += (size_t)snprintf(arguments + n, sizeof arguments - n, "%s", dir);
        else
            arguments[n++] = *form;
    }
    arguments[n] = '\0';
    return program_run_with("TZ=UTC LC_ALL=C", arguments, NULL);
}

static void must(const char *form)
{
    struct outcome o = run(form);

    if (o.status != 0)
        fail_msg("%s: status %d, said:\n%s%s", form, o.status, o.out, o.err);
    outcome_free(&o);
}

/* The lines of a season that begin a trip. */
static int trips_in(const char *path, char *text, size_t cap)
{
    FILE *f = fopen(path, "r");
    int trips = 0;
    size_t n = f ? fread(text, 1, cap - 1, f) : 0;

    text[n] = '\0';
    if (f)
        fclose(f);
    for (const char *at = text; (at = strstr(at, "\ntrip ")); at++)
        trips++;
    return trips;
}

static void holds(const char *name, int trips)
{
    static char text[200000];
    int found = trips_in(in_scratch(name), text, sizeof text);

    if (found != trips)
        fail_msg("%s holds %d trips, not %d:\n%s", name, found, trips, text);
}

/* Three trips weeks apart; the third again as `later`, two hours after the end of the second; the
 * three as one log, as a logger leaves it that is switched off with the boat; and the first two
 * whose engine never stops, for its logger was switched off with the key. */
static int drill_trips(void **state)
{
    (void)state;
    snprintf(dir, sizeof dir, "%s", program_scratch());
    must("drill --season 3 --engines 1 --seed 12 '@'");
    must("--version; cd '@' && cat trip-01.log trip-02.log trip-03.log >all.log");
    must("--version; cd '@' && from=$(tail -1 trip-02.log | tr -d '(' | cut -d. -f1) && "
         "was=$(head -1 trip-03.log | tr -d '(' | cut -d. -f1) && "
         "awk -v d=$((from + 7200 - was)) '{ printf \"(%.6f) %s %s\\n\", substr($1, 2) + d, $2, $3 "
         "}' trip-03.log >later.log && cat trip-02.log later.log >day.log");
    must("--version; cd '@' && head -150000 trip-01.log >cut.log && head -150000 trip-02.log "
         ">>cut.log");
    return 0;
}

static void watches__a_log_of_three_trips__each_keeps_all_three(void **state)
{
    static const char *const watches[] = {
        "sift --season '@/f0' '@/all.log' >/dev/null",
        "tend --season '@/f1' '@/all.log' >/dev/null",
        "tend --season '@/f2' - <'@/all.log' >/dev/null",
        "watch --once --season '@/f3' '@/all.log' >/dev/null",
        "watch --plain --speed max --season '@/f4' '@/all.log' >/dev/null",
        "tend --learn '@/f5' '@/all.log' >/dev/null",
        "trial --season '@/f6' '@/trip-01.log' '@/trip-02.log' '@/trip-03.log' >/dev/null",
    };
    char name[8];
    (void)state;
    for (int turn = 0; turn < 2; turn++) /* a log that is read again adds nothing */
        for (int i = 0; i < 7; i++) {
            must(watches[i]);
            snprintf(name, sizeof name, "f%d", i);
            holds(name, 3);
        }
    must("--version; grep -q '^trip  2026.*  all.log' '@/f1'");
    must("--version; cmp '@/f1' '@/f3' && cmp '@/f1' '@/f5'");
}

/* Engines off for less than four hours: one trip from the first start to the last stop, in one run
 * or in two. */
static void stop_of_two_hours__is_one_trip(void **state)
{
    (void)state;
    must("tend --season '@/day' '@/day.log' >/dev/null");
    holds("day", 1);
    must("sift --season '@/two' '@/trip-02.log' >/dev/null");
    holds("two", 1);
    must("sift --season '@/two' '@/later.log' >/dev/null");
    holds("two", 1);
    must("--version; [ \"$(grep ^trip '@/day' | cut -c1-50)\" = \"$(grep ^trip '@/two' | cut "
         "-c1-50)\" ]");
}

static void logger_switched_off_with_the_key__two_trips_all_the_same(void **state)
{
    (void)state;
    must("tend --season '@/cut' '@/cut.log' >/dev/null");
    holds("cut", 2);
}

/* A computer without a battery of its own begins in 1970, and learns the time under way. */
static void clock_set_under_way__what_came_after_is_kept(void **state)
{
    (void)state;
    must("--version; cd '@' && awk 'NR < 60000 { printf \"(%.6f) %s %s\\n\", substr($1, 2) - "
         "1700000000, $2, $3; next } { print }' trip-01.log >set.log");
    struct outcome o = run("tend --season '@/set' '@/set.log'");
    assert_int_equal(o.status, 0);
    assert_null(strstr(o.out, "no date"));
    assert_null(strstr(o.err, "no date"));
    outcome_free(&o);
    holds("set", 1);
    must("--version; grep -q '^trip  2026' '@/set' && ! grep -q ' 19[0-9][0-9]-' '@/set'");
    must("--version; cd '@' && awk '{ printf \"(%.6f) %s %s\\n\", substr($1, 2) - 1700000000, $2, "
         "$3 }' trip-01.log >unset.log");
    o = run("tend --season '@/unset' '@/unset.log' 2>&1");
    assert_non_null(strstr(o.out, "the trip has no date"));
    outcome_free(&o);
    holds("unset", 0);
}

static void feed_file(struct tending *t, const char *name)
{
    char text[65536];
    FILE *f = fopen(in_scratch(name), "r");
    size_t n;

    assert_non_null(f);
    while ((n = fread(text, 1, sizeof text, f)) > 0)
        feed(t, text, n);
    fclose(f);
}

static void await_trips(const char *name, int trips)
{
    static char text[200000];

    for (int i = 0; trips_in(in_scratch(name), text, sizeof text) != trips; i++) {
        if (i > LIMIT_MS / 5)
            fail_msg("%s never holds %d trips:\n%s", name, trips, text);
        poll(NULL, 0, 5);
    }
}

/* At each stop of the engines a trip is on the disk: whoever pulls the plug then loses none. */
static void tend__killed_between_its_trips__keeps_each_once(void **state)
{
    char arguments[300];
    (void)state;
    snprintf(arguments, sizeof arguments, "--season %s", in_scratch("killed"));
    for (int i = 1; i <= 3; i++) {
        char log[16];
        struct tending *t = start(arguments);
        snprintf(log, sizeof log, "trip-0%d.log", i);
        feed_file(t, log);
        await_trips("killed", i);
        assert_int_equal(end_with(t, SIGKILL), 128 + SIGKILL);
        free(t);
    }
    must("--version; cp '@/killed' '@/was'");
    struct tending *t = start(arguments); /* again, and this time to its end */
    feed_file(t, "trip-02.log");
    assert_int_equal(end_with(t, 0), 0);
    free(t);
    must("--version; cmp '@/killed' '@/was'");
    for (int i = 1; i <= 3; i++) {
        char form[80];
        snprintf(form, sizeof form, "sift --season '@/sifted' '@/trip-0%d.log' >/dev/null", i);
        must(form);
    }
    must(
        "--version; sed 's/  -$//' '@/killed' | grep -v '^trip' >'@/a'; grep -v '^trip' '@/sifted' "
        "| diff - '@/a'");
}

/* A baseline has nothing to say of the log it was learned from, of any boat. */
static void own_log__as_baseline_and_as_season__changes_no_line(void **state)
{
    char form[300];
    (void)state;
    for (int seed = 201; seed <= 208; seed++) {
        snprintf(form, sizeof form, "drill --random --fault none --seed %d -o '@/own.log' 2>&1",
                 seed);
        must(form);
        must("sift --utc --learn '@/own' '@/own.log' >'@/before' 2>&1");
        must("sift --utc --baseline '@/own' '@/own.log' >'@/after' 2>&1");
        must("--version; grep -q '^exhaust' '@/own' && diff '@/before' '@/after' && cp '@/own' "
             "'@/was'");
        must("sift --utc --season '@/own' '@/own.log' >'@/after' 2>&1");
        must("--version; diff '@/before' '@/after' && cmp '@/own' '@/was' && rm '@/own'");
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(watches__a_log_of_three_trips__each_keeps_all_three),
        cmocka_unit_test(stop_of_two_hours__is_one_trip),
        cmocka_unit_test(logger_switched_off_with_the_key__two_trips_all_the_same),
        cmocka_unit_test(clock_set_under_way__what_came_after_is_kept),
        cmocka_unit_test(tend__killed_between_its_trips__keeps_each_once),
        cmocka_unit_test(own_log__as_baseline_and_as_season__changes_no_line),
    };

    return cmocka_run_group_tests(tests, drill_trips, NULL);
}
