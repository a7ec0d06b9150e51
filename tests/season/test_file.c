/* The season's file: written, read back, edited by hand, grown and thinned. */
#include "season/model.h"
#include "season/season.h"

#include "support/check.h"

#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#define S INT64_C(1000000000)

static const char good[] =
    "# stokehold season 1\n"
    "\n"
    " \t# a remark\n"
    " \t \r\n"
    "mark 2026-06-12T08:00:00Z exhaust.1 impeller changed, starboard\n"
    "trip 2026-05-04T14:00:00Z 2026-05-04T15:30:00Z first.log\n"
    "exhaust.1  2184  load:62  16.0  19.0  34.41  0.30  5.6  2026-05-04T14:20:00Z\n"
    "  coolant.1\t2184 - - 19 82 .5 3 2026-05-04T14:21:00Z\r\n"
    "trip 2026-04-01T10:00:00Z 2026-04-01T11:00:00Z an earlier one.log\n"
    "exhaust.1  900  fuel-rate:3.2  -  -  20  0  2  2026-04-01T10:10:00Z\n"
    "mark 2026-01-01T00:00:00Z * hauled out";

static void parse__good_text__trips_in_order_of_time(void **state)
{
    struct season s;
    struct err e;

    (void)state;
    assert_true(season_parse(good, sizeof good - 1, "x", &s, &e));
    assert_int_equal(s.trip_count, 2);
    assert_int_equal(s.step_count, 3);
    assert_string_equal(s.trips[0].log, "an earlier one.log");
    assert_int_equal(s.steps[0].trip, 0);
    assert_int_equal(s.steps[1].trip, 1);
    assert_int_equal(s.steps[0].load_kind, SEASON_LOAD_FUEL_RATE);
    assert_true(isnan(s.steps[0].sea_c));
    assert_near(s.steps[1].load, 62, 0);
    assert_near(s.steps[1].mean, 34.41, 0);
    assert_int_equal(s.steps[2].load_kind, SEASON_LOAD_NONE);
    assert_int_equal(s.mark_count, 2);
    assert_true(s.marks[0].all);
    assert_string_equal(s.marks[1].words, "impeller changed, starboard");
    season_free(&s);
}

static void write__read_back__is_the_same(void **state)
{
    struct season s, back;
    struct err e;
    char *text[2] = {NULL, NULL};
    size_t len[2];

    (void)state;
    assert_true(season_parse(good, sizeof good - 1, "x", &s, &e));
    for (int i = 0; i < 2; i++) {
        FILE *out = open_memstream(&text[i], &len[i]);
        season_write(out, i == 0 ? &s : &back);
        fclose(out);
        if (i == 0)
            assert_true(season_parse(text[0], len[0], "x", &back, &e));
    }
    assert_string_equal(text[0], text[1]);
    assert_non_null(
        strstr(text[0], "2026-06-12T08:00:00Z  exhaust.1  impeller changed, starboard"));
    assert_non_null(strstr(text[0], "2026-01-01T00:00:00Z  *  hauled out"));
    assert_int_equal(back.step_count, 3);
    season_free(&s);
    season_free(&back);
    free(text[0]);
    free(text[1]);
}

static void parse__mistakes__name_the_line(void **state)
{
    static const struct {
        const char *text, *says;
    } cases[] = {
        {"", "x:1: not a season"},
        {"exhaust.1 3", "x:1: not a season"},
        {"# stokehold season 2\n", "x:1: not a season"},
        {"# stokehold season 1\nexhaust.1 1 - - - 1 1 1 2026-05-04T14:20:00Z\n",
         "x:2: the line stands before"},
        {"# stokehold season 1\ntrip yesterday\n", "x:2: the line needs two times"},
        {"# stokehold season 1\ntrip 2026-05-04T14:00:00Z 2026-05-04T13:00:00Z\n",
         "x:2: the line needs two"},
        {"# stokehold season 1\ntrip 2026-05-04T14:00:00Z 2026-05-04T15:00:00Z\nspeed 3\n",
         "x:3: the line begins"},
        {"# stokehold season 1\ntrip 2026-05-04T14:00:00Z 2026-05-04T15:00:00Z\nexhaust.1 hot\n",
         "x:3: the line needs the engine speed"},
        {"# stokehold season 1\ntrip 2026-05-04T14:00:00Z 2026-05-04T15:00:00Z\nexhaust.1 900 "
         "wind:3 - - 1 1 1 2026-05-04T14:20:00Z\n",
         "x:3: the line needs load"},
        {"# stokehold season 1\ntrip 2026-05-04T14:00:00Z 2026-05-04T15:00:00Z\ntrip "
         "2026-05-04T14:30:00Z 2026-05-04T16:00:00Z\n# end\n",
         "x:4: the line ends a trip that overlaps"},
        {"# stokehold season 1\ntrip 2026-05-04T14:00:00Z 2026-05-04T15:00:00Z\nexhaust.1 -1 - - - "
         "1 1 1 2026-05-04T14:20:00Z\n",
         "x:3: the line needs the engine speed"},
        {"# stokehold season 1\ntrip 2026-05-04T14:00:00Z 2026-05-04T15:00:00Z\nexhaust.1 900 - x "
         "- 1 1 1 2026-05-04T14:20:00Z\n",
         "x:3: the line needs load"},
        {"# stokehold season 1\ntrip 2026-05-04T14:00:00Z 2026-05-04T15:00:00Z\nexhaust.1 900 - - "
         "x 1 1 1 2026-05-04T14:20:00Z\n",
         "x:3: the line needs load"},
        {"# stokehold season 1\ntrip 2026-05-04T14:00:00Z 2026-05-04T15:00:00Z\nexhaust.1 900 - - "
         "- x 1 1 2026-05-04T14:20:00Z\n",
         "x:3: the line needs load"},
        {"# stokehold season 1\ntrip 2026-05-04T14:00:00Z 2026-05-04T15:00:00Z\nexhaust.1 900 - - "
         "- 1 x 1 2026-05-04T14:20:00Z\n",
         "x:3: the line needs load"},
        {"# stokehold season 1\ntrip 2026-05-04T14:00:00Z 2026-05-04T15:00:00Z\nexhaust.1 900 - - "
         "- 1 -1 1 2026-05-04T14:20:00Z\n",
         "x:3: the line needs load"},
        {"# stokehold season 1\ntrip 2026-05-04T14:00:00Z 2026-05-04T15:00:00Z\nexhaust.1 900 - - "
         "- 1 1 x 2026-05-04T14:20:00Z\n",
         "x:3: the line needs load"},
        {"# stokehold season 1\ntrip 2026-05-04T14:00:00Z 2026-05-04T15:00:00Z\nexhaust.1 900 load "
         "- - 1 1 1 2026-05-04T14:20:00Z\n",
         "x:3: the line needs load"},
        {"# stokehold season 1\ntrip 2026-05-04T14:00:00Z 2026-05-04T15:00:00Z\nexhaust.1 900\n",
         "x:3: the line needs load"},
        {"# stokehold season 1\ntrip 2026-05-04T14:00:00Z 2026-05-04T15:00:00Z\nexhaust.1 900 - - "
         "- 1 1 -1 2026-05-04T14:20:00Z\n",
         "x:3: the line needs a time"},
        {"# stokehold season 1\ntrip 2026-05-04T14:00:00Z 2026-05-04T15:00:00Z\nexhaust.1 900 - - "
         "- 1 1 100001 2026-05-04T14:20:00Z\n",
         "x:3: the line needs a time"},
        {"# stokehold season 1\ntrip 2026-05-04T14:00:00Z 2026-05-04T15:00:00Z\nexhaust.1 900 - - "
         "- 1 1 1 never\n",
         "x:3: the line needs a time"},
        {"# stokehold season 1\ntrip 2026-05-04T14:00:00Z 2026-05-04T15:00:00Z\nexhaust.1 900 - - "
         "- 1 1 1\n",
         "x:3: the line needs a time"},
        {"# stokehold baseline\nexhaust.0 -1 30 1 4 - 2026-05-04T14:20:00Z\n",
         "x:2: the line needs the engine speed"},
        {"# stokehold baseline\nexhaust.0 1000 x 1 4 - 2026-05-04T14:20:00Z\n",
         "x:2: the line needs mean"},
        {"# stokehold baseline\nexhaust.0 1000 30 x 4 - 2026-05-04T14:20:00Z\n",
         "x:2: the line needs mean"},
        {"# stokehold baseline\nexhaust.0 1000 30 -1 4 - 2026-05-04T14:20:00Z\n",
         "x:2: the line needs mean"},
        {"# stokehold baseline\nexhaust.0 1000 30 1 x - 2026-05-04T14:20:00Z\n",
         "x:2: the line needs mean"},
        {"# stokehold baseline\nexhaust.0 1000 30 1 4 x 2026-05-04T14:20:00Z\n",
         "x:2: the line needs mean"},
        {"# stokehold baseline\nexhaust.0 1000 30 1 4 - never\n", "x:2: the line needs a time"},
        {"# stokehold baseline\nexhaust.0 1000 30 1 -1 - 2026-05-04T14:20:00Z\n",
         "x:2: the line needs a time"},
        {"# stokehold season 1\nmark never x\n", "x:2: the line needs a time"},
        {"# stokehold season 1\nmark 2026-05-04T14:00:00Z rudder bent\n",
         "x:2: the line needs the channel"},
    };

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct season s;
        struct err e;

        assert_false(season_parse(cases[i].text, strlen(cases[i].text), "x", &s, &e));
        if (!strstr(e.text, cases[i].says))
            fail_msg("'%s' does not say '%s'", e.text, cases[i].says);
        assert_int_equal(s.step_count, 0);
    }
}

/* Found by fuzzing: a figure that could not be written back is no figure. */
static void parse__figure_beyond_reason__names_the_line(void **state)
{
    (void)state;
    static const char text[] = "# stokehold baseline\n"
                               "exhaust.0  895  24.5  8.e51   42184  41.8  5.6  -  20.log\n";
    struct season s;
    struct err e;
    assert_false(season_parse(text, sizeof text - 1, "x", &s, &e));
    assert_int_equal(strncmp(e.text, "x:2:", 4), 0);
}

static void take_prefix(void *ctx, const void *data, size_t len)
{
    struct season s;
    struct err e;

    (void)ctx;
    if (season_parse(data, len, "x", &s, &e))
        season_free(&s);
}

static void parse__every_prefix__ends(void **state)
{
    (void)state;
    for_every_prefix(good, sizeof good - 1, take_prefix, NULL);
}

/* Figures that earlier versions wrote become a trip a day. */
static void parse__a_baseline__is_read(void **state)
{
    static const char text[] =
        "# stokehold baseline\n"
        "exhaust.0  1000  30.00  0.50  4.2  16.0  2026-05-04T14:00:00Z  a.log\n"
        "exhaust.0  2000  40.00  0.00  3.0  -     2026-05-04T14:30:00Z  a.log\n"
        "exhaust.0  2000  41.00  1.50  3.0  -     2026-06-01T08:30:00Z  b.log\n";
    struct season s;
    struct err e;

    (void)state;
    assert_true(season_parse(text, sizeof text - 1, "x", &s, &e));
    assert_int_equal(s.trip_count, 2);
    assert_int_equal(s.step_count, 3);
    assert_string_equal(s.trips[1].log, "b.log");
    assert_near(s.steps[0].sea_c, 16, 0);
    /* from the first figure to the end of the last: three minutes after 14:30, and after 08:30 */
    assert_true(s.trips[0].from_ns == INT64_C(1777903200) * S);
    assert_true(s.trips[0].to_ns == (INT64_C(1777903200) + 1980) * S);
    assert_true(s.trips[1].to_ns - s.trips[1].from_ns == 180 * S);
    season_free(&s);
}

/* Speed in whole rpm, load, temperatures and minutes to a tenth, what was measured to a hundredth.
 */
static void write__figures__to_so_many_places(void **state)
{
    struct season s = {0};
    struct season_step steps[2] = {{.id = {QTY_EXHAUST, 1, 0},
                                    .load_kind = SEASON_LOAD_PERCENT,
                                    .rpm = 2184.26,
                                    .load = 62.347,
                                    .sea_c = 16.043,
                                    .air_c = 19.262,
                                    .mean = 34.4136,
                                    .spread = 0.3042,
                                    .minutes = 5.637,
                                    .wall_ns = INT64_C(1777903200) * S},
                                   {.id = {QTY_BATTERY_VOLTS, 0, 0},
                                    .load_kind = SEASON_LOAD_REST_VOLTS,
                                    .rpm = 1,
                                    .load = 12.647,
                                    .sea_c = NAN,
                                    .air_c = NAN,
                                    .mean = 10.4136,
                                    .wall_ns = INT64_C(1777903201) * S}};
    char *text = NULL;
    size_t len;
    int overlaps;

    (void)state;
    assert_true(season_add(
        &s, &(struct season_trip){INT64_C(1777903200) * S, INT64_C(1777906800) * S, "a.log"}, steps,
        2, &overlaps));
    FILE *out = open_memstream(&text, &len);
    season_write(out, &s);
    fclose(out);
    assert_non_null(strstr(text, "  2184  load:62.3  16.0  19.3  34.41  0.30  5.6  2026-05-04T14"));
    assert_non_null(
        strstr(text, "  rest-volts:12.65  -  -  10.41  0.00  0.0  2026-05-04T14:00:01"));
    free(text);
    season_free(&s);
}

/* Sixteen are what the first piece of memory holds. */
static void take_out__of_sixteen__leaves_the_others(void **state)
{
    (void)state;
    for (int out = 0; out < 16; out += 5) {
        struct season s = {0};
        int overlaps;

        for (int i = 0; i < 16; i++) {
            struct season_step step = {.mean = i};
            assert_true(season_add(&s, &(struct season_trip){i * 100 * S, (i * 100 + 50) * S, ""},
                                   &step, 1, &overlaps));
        }
        season_take_out(&s, out);
        assert_int_equal(s.trip_count, 15);
        assert_int_equal(s.step_count, 15);
        for (int i = 0; i < 15; i++) {
            int was = i < out ? i : i + 1;
            assert_true(s.trips[i].from_ns == was * 100 * S);
            assert_near(s.steps[i].mean, was, 0);
            assert_int_equal(s.steps[i].trip, i);
        }
        season_free(&s);
    }
}

static void add__overlapping_trip__adds_nothing(void **state)
{
    struct season s = {0};
    struct season_step step = {.mean = 1};
    int overlaps;

    (void)state;
    assert_true(season_add(&s, &(struct season_trip){100 * S, 200 * S, ""}, &step, 1, &overlaps));
    assert_true(season_add(&s, &(struct season_trip){300 * S, 400 * S, ""}, &step, 1, &overlaps));
    assert_false(season_add(&s, &(struct season_trip){350 * S, 500 * S, ""}, &step, 1, &overlaps));
    assert_int_equal(overlaps, 1);
    assert_true(season_add(&s, &(struct season_trip){210 * S, 290 * S, ""}, &step, 1, &overlaps));
    assert_int_equal(s.trip_count, 3);
    assert_true(s.trips[1].from_ns == 210 * S);
    assert_int_equal(s.steps[1].trip, 1);
    assert_int_equal(s.steps[2].trip, 2);
    season_free(&s);
}

static void fill_days(struct season *s, int days)
{
    struct season_step steps[100];
    int overlaps;

    for (int d = 0; d < days; d++) {
        int64_t at = (INT64_C(1777881600) + d * INT64_C(86400)) * S;
        for (int i = 0; i < 100; i++)
            steps[i] = (struct season_step){
                .id = {.quantity = (uint16_t)(QTY_EXHAUST), .place = (uint8_t)(i % 2)},
                .load_kind = SEASON_LOAD_PERCENT,
                .rpm = 700 + 20 * i,
                .load = i,
                .sea_c = 16,
                .air_c = 20,
                .mean = 30 + 0.1 * i,
                .spread = 0.3,
                .minutes = 12.5,
                .wall_ns = at + i * S};
        assert_true(season_add(s, &(struct season_trip){at, at + 7200 * S, "trip.log"}, steps, 100,
                               &overlaps));
    }
}

static void thin__a_year_of_days__keeps_the_first_and_the_newest(void **state)
{
    struct season s = {0};
    char *text = NULL;
    size_t len;
    FILE *out;

    (void)state;
    fill_days(&s, 365);
    season_thin(&s);
    assert_int_equal(s.trip_count, SEASON_TRIPS);
    static struct season_story story; /* so many can be told of */
    assert_true(season_tell(&s, (struct channel_id){QTY_EXHAUST, 1, 0}, -1, NULL, 0, 0, &story));
    assert_int_equal(story.trips, SEASON_TRIPS);
    for (int i = 0; i < 8; i++)
        assert_true(s.trips[i].from_ns == (INT64_C(1777881600) + i * INT64_C(86400)) * S);
    for (int i = 0; i < 60; i++)
        assert_true(s.trips[SEASON_TRIPS - 1 - i].from_ns ==
                    (INT64_C(1777881600) + (364 - i) * INT64_C(86400)) * S);
    for (int i = 0; i < s.step_count; i++)
        assert_int_equal(s.steps[i].trip, i / 100);
    out = open_memstream(&text, &len);
    season_write(out, &s);
    fclose(out);
    assert_true(len < 2000000); /* what the file may have after a year */
    free(text);
    season_free(&s);
}

/* What is never thinned stays, be it too many steps. */
static void thin__few_trips_of_many_steps__keeps_them(void **state)
{
    struct season s = {0};
    struct season_step *steps = calloc(SEASON_STEPS, sizeof *steps);
    int overlaps;

    (void)state;
    assert_non_null(steps);
    for (int i = 0; i < 2; i++)
        assert_true(season_add(&s, &(struct season_trip){i * 100 * S, (i * 100 + 50) * S, ""},
                               steps, SEASON_STEPS / 2 + 1, &overlaps));
    season_thin(&s);
    assert_int_equal(s.trip_count, 2);
    assert_int_equal(s.step_count, SEASON_STEPS / 2 * 2 + 2);
    free(steps);
    season_free(&s);
}

static bool add_one(struct season *s, void *ctx)
{
    struct season_step step = {
        .id = {.quantity = QTY_EXHAUST}, .load = NAN, .sea_c = NAN, .air_c = NAN};
    int overlaps;

    return season_add(s, ctx, &step, 1, &overlaps);
}

static void update__file_that_is_not_there__begins_one(void **state)
{
    struct season_trip first = {1777903200 * S, 1777906800 * S, "a.log"};
    struct season_trip second = {1777989600 * S, 1777993200 * S, "b.log"};
    char dir[] = "/tmp/season.XXXXXX", path[64], lock[80];
    struct season s;
    struct err e;
    struct stat st;

    (void)state;
    assert_non_null(mkdtemp(dir));
    snprintf(path, sizeof path, "%s/boat.season", dir);
    snprintf(lock, sizeof lock, "%s.lock", path);
    assert_false(season_read(path, false, &s, &e));
    assert_non_null(strstr(e.text, "--learn"));
    struct season none;
    assert_false(season_read(dir, true, &none, &e)); /* a folder is none */
    assert_non_null(strstr(e.text, "cannot read"));
    assert_null(strstr(e.text, "--learn"));
    assert_true(season_read(path, true, &s, &e));
    assert_true(season_update(path, add_one, &first, NULL, &e));
    assert_true(season_update(path, add_one, &second, NULL, &e));
    assert_true(season_update(path, add_one, &second, NULL, &e)); /* once is enough */
    assert_true(season_read(path, false, &s, &e));
    assert_int_equal(s.trip_count, 2);
    season_free(&s);
    assert_int_equal(stat(path, &st), 0);
    unlink(path);
    unlink(lock);
    assert_int_equal(rmdir(dir), 0); /* nothing else was left */
}

/* Memory that is out when something is to be added: nothing is written, and it is said. */
static bool starve(struct season *s, void *ctx)
{
    (void)ctx;
    s->starved = true;
    return false;
}

static void update__without_memory__says_so_and_writes_nothing(void **state)
{
    char path[] = "/tmp/season-starved-XXXXXX", lock[40];
    int fd = mkstemp(path);
    struct stat st;
    struct err e = {0};

    (void)state;
    assert_true(fd >= 0);
    assert_false(season_update(path, starve, NULL, NULL, &e));
    assert_non_null(strstr(e.text, "out of memory"));
    assert_int_equal(fstat(fd, &st), 0);
    assert_int_equal(st.st_size, 0);
    close(fd);
    unlink(path);
    snprintf(lock, sizeof lock, "%s.lock", path);
    unlink(lock);
}

/* ---- what makes one trip ---- */

#define BEGAN_S INT64_C(1777903200) /* 2026-05-04 14:00 UTC */

/* A trip of these seconds after BEGAN_S, with a step at each of its ends. */
static bool put(struct season *s, int64_t from_s, int64_t to_s, double mean, int64_t before_s)
{
    struct season_trip t = {(BEGAN_S + from_s) * S, (BEGAN_S + to_s) * S, "part.log"};
    struct season_step steps[2] = {0};

    for (int i = 0; i < 2; i++)
        steps[i] = (struct season_step){.id = {QTY_EXHAUST, 0, 0},
                                        .rpm = 2000,
                                        .load = NAN,
                                        .sea_c = NAN,
                                        .air_c = NAN,
                                        .mean = mean,
                                        .minutes = 5,
                                        .wall_ns = (BEGAN_S + (i ? to_s - 1 : from_s)) * S};
    return season_put(s, &t, steps, 2, before_s ? (BEGAN_S + before_s) * S : 0);
}

/* Less than four hours apart are one trip, in whichever order they come. */
static void put__parts_less_than_four_hours_apart__are_one_trip(void **state)
{
    static const struct {
        int64_t from_s, to_s;
        int trips;
        double first;
    } rows[] = {
        {10000 + 4 * 3600, 30000, 1, 40},
        {10001 + 4 * 3600, 30000, 2, 40},
        {-20000, 0 - 4 * 3600, 1, 50},
        {-20000, -1 - 4 * 3600, 2, 50},
        {10001, 11000, 1, 40},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct season s = {0};

        assert_true(put(&s, 0, 10000, 40, 0));
        assert_true(put(&s, rows[i].from_s, rows[i].to_s, 50, 0));
        assert_int_equal(s.trip_count, rows[i].trips);
        assert_int_equal(s.step_count, 4);
        assert_near(s.steps[0].mean, rows[i].first, 0); /* in order of time */
        assert_near(s.steps[3].mean, rows[i].first == 40 ? 50 : 40, 0);
        if (rows[i].trips == 1) {
            int64_t from = rows[i].from_s < 0 ? rows[i].from_s : 0,
                    to = rows[i].to_s > 10000 ? rows[i].to_s : 10000;
            assert_true(s.trips[0].from_ns == (BEGAN_S + from) * S);
            assert_true(s.trips[0].to_ns == (BEGAN_S + to) * S);
            for (int k = 0; k < 4; k++)
                assert_int_equal(s.steps[k].trip, 0);
        }
        season_free(&s);
    }
}

/* A part between two others joins all three. */
static void put__between_two__joins_both(void **state)
{
    struct season s = {0};

    (void)state;
    assert_true(put(&s, 0, 1000, 40, 0));
    assert_true(put(&s, 20000, 21000, 42, 0));
    assert_int_equal(s.trip_count, 2);
    assert_true(put(&s, 10000, 11000, 41, 0));
    assert_int_equal(s.trip_count, 1);
    assert_int_equal(s.step_count, 6);
    for (int k = 0; k < 6; k++)
        assert_near(s.steps[k].mean, 40 + k / 2, 0);
    season_free(&s);
}

/* What goes on from its own earlier part takes that part's place; what overlaps another does not
 * come in. */
static void put__own_part_again__takes_its_place(void **state)
{
    struct season s = {0};

    (void)state;
    assert_true(put(&s, 0, 1000, 40, 0));
    assert_true(put(&s, 0, 2000, 41, 0)); /* began at the same second, and is longer */
    assert_int_equal(s.trip_count, 1);
    assert_int_equal(s.step_count, 2);
    assert_near(s.steps[0].mean, 41, 0);
    assert_true(s.trips[0].to_ns == (BEGAN_S + 2000) * S);
    assert_false(put(&s, 0, 2000, 42, 0));   /* no longer than before */
    assert_false(put(&s, 500, 3000, 43, 0)); /* begins within it, and is none of it */
    assert_int_equal(s.step_count, 2);
    assert_near(s.steps[1].mean, 41, 0);
    assert_true(put(&s, 500, 3000, 43, 2000)); /* goes on from what ended at 2000 s */
    assert_int_equal(s.trip_count, 1);
    assert_true(s.trips[0].from_ns == BEGAN_S * S);
    assert_true(s.trips[0].to_ns == (BEGAN_S + 3000) * S);
    assert_int_equal(s.step_count, 3); /* the first step was before 500 s */
    assert_near(s.steps[0].mean, 41, 0);
    assert_near(s.steps[1].mean, 43, 0);
    assert_false(put(&s, 600, 4000, 44, 2999)); /* ended at another second */
    season_free(&s);
}

/* What was read at rest comes before the first start: it is replaced with its trip. */
static void put__own_part_again__with_what_was_read_at_rest(void **state)
{
    struct season s = {0};

    (void)state;
    for (int64_t to_s = 1000; to_s <= 2000; to_s += 1000) {
        struct season_trip t = {BEGAN_S * S, (BEGAN_S + to_s) * S, "part.log"};
        struct season_step steps[2] = {{.id = {QTY_COOLANT, 0, 0},
                                        .load = NAN,
                                        .mean = 15,
                                        .minutes = 5,
                                        .wall_ns = (BEGAN_S - 100) * S},
                                       {.id = {QTY_COOLANT, 0, 0},
                                        .rpm = 2000,
                                        .load = NAN,
                                        .mean = 80,
                                        .minutes = 5,
                                        .wall_ns = (BEGAN_S + to_s - 1) * S}};
        assert_true(season_put(&s, &t, steps, 2, 0));
        assert_int_equal(s.trip_count, 1);
        assert_int_equal(s.step_count, 2);
    }
    season_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(put__parts_less_than_four_hours_apart__are_one_trip),
        cmocka_unit_test(put__between_two__joins_both),
        cmocka_unit_test(put__own_part_again__takes_its_place),
        cmocka_unit_test(put__own_part_again__with_what_was_read_at_rest),
        cmocka_unit_test(parse__good_text__trips_in_order_of_time),
        cmocka_unit_test(write__read_back__is_the_same),
        cmocka_unit_test(parse__mistakes__name_the_line),
        cmocka_unit_test(parse__figure_beyond_reason__names_the_line),
        cmocka_unit_test(parse__every_prefix__ends),
        cmocka_unit_test(parse__a_baseline__is_read),
        cmocka_unit_test(write__figures__to_so_many_places),
        cmocka_unit_test(take_out__of_sixteen__leaves_the_others),
        cmocka_unit_test(add__overlapping_trip__adds_nothing),
        cmocka_unit_test(thin__a_year_of_days__keeps_the_first_and_the_newest),
        cmocka_unit_test(thin__few_trips_of_many_steps__keeps_them),
        cmocka_unit_test(update__file_that_is_not_there__begins_one),
        cmocka_unit_test(update__without_memory__says_so_and_writes_nothing),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
