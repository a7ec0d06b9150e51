/* What an attached board is sent, line by line, kept as text: everything at first, then what
 * changed. Two interfaces, two engines of a drill that loses its raw water, an alert, a mark's
 * worth of time. Of each channel's past only the first lines are kept. */
#include "hooks/door_feed.h"

#include "bus/source.h"
#include "config/config.h"
#include "drill/frames.h"
#include "drill/run.h"
#include "rules/seasoned.h"
#include "support/check.h"
#include "support/golden.h"
#include "support/program.h"

#include <stdlib.h>
#include <string.h>

#define EPOCH_NS (INT64_C(1777903200) * NS_PER_S)

static struct settings *settings;
static struct drill_plan plan;
static struct drill_frames frames;
static struct drill_run *run;
static struct keeper *keeper;
static struct door_feed feed;
static struct door_info info;

static void on_message(void *ctx, const struct drill_message *m)
{
    (void)ctx;
    drill_frames_add(&frames, m);
}

static void sail_until(double until_s)
{
    struct frame f;

    while (drill_run_world(run)->t_s < until_s && drill_run_step(run, on_message, NULL))
        ;
    while (drill_frames_take(&frames, until_s, &f)) {
        f.mono_ns = f.wall_ns - EPOCH_NS + 1000 * NS_PER_S;
        f.iface = f.id % 2; /* half of the boxes on either */
        keeper_frames(keeper, &f, 1);
    }
    info.now = plant_now(keeper_plant(keeper));
}

/* The lines of one turn; of those that tell of the past two a channel. */
static void put_turn(FILE *out, const char *what)
{
    char last[32] = "";
    int past = 0;

    fprintf(out, "== %s\n", what);
    feed.used = 0;
    door_feed_turn(&feed, keeper, &info, 1);
    for (char *line = feed.buf, *end; line < feed.buf + feed.used; line = end + 1) {
        end = memchr(line, '\n', feed.used - (size_t)(line - feed.buf));
        assert_non_null(end); /* whole lines alone */
        *end = '\0';
        bool of_past = strncmp(line, "past", 4) == 0 || strncmp(line, "band", 4) == 0;
        size_t n = of_past ? 5 + strcspn(line + 5, " \t") : 0;
        if (n >= sizeof last)
            n = sizeof last - 1;
        past = of_past && strncmp(last, line, n) == 0 && last[n] == '\0' ? past + 1 : 0;
        memcpy(last, line, n);
        last[n] = '\0';
        if (past < 2)
            fprintf(out, "%s\n", line);
    }
}

static void feed__first_everything_then_what_changed(void **state)
{
    const char *names[] = {program_file("two.log", "(1777903200.0) can0 09F80226#00\n"
                                                   "(1777903200.1) can1 09F80226#00\n")};
    struct err e;
    struct source *ifaces = source_open_log(names[0], NULL, &e);
    struct frame some[4];
    size_t n, len = 0;
    char *text = NULL;
    FILE *out = open_memstream(&text, &len);

    (void)state;
    assert_non_null(out);
    assert_non_null(ifaces);
    while (source_read(ifaces, some, 4, &n, &e) == SOURCE_READY)
        ;
    assert_int_equal(source_iface_count(ifaces), 2);
    drill_plan_trial(&plan, 2, 4);
    run = drill_run_new(&plan);
    keeper = keeper_new(settings, &(struct keeper_options){.escalate = true, .expect = true});
    assert_non_null(run);
    assert_non_null(keeper);
    drill_frames_init(&frames, &plan, EPOCH_NS);
    info = (struct door_info){.source = "can0, can1",
                              .record = "on",
                              .ifaces = ifaces,
                              .clock_known = true,
                              .load_percent = 12.5,
                              .frames_per_s = 321,
                              .frames = 1000,
                              .lost_frames = 2,
                              .bad_lines = 3,
                              .error_frames = 4};
    sail_until(8);
    assert_true(door_feed_due(&feed, &info));
    put_turn(out, "at first");
    assert_false(door_feed_due(&feed, &info));
    put_turn(out, "again at once");
    sail_until(20);
    struct alert_claim c = {
        .situation = {.group = SITUATION_CHANNEL, .id = {QTY_EXHAUST, 1, 0}},
        .claimant = 7,
        .kind = KIND_LIMIT,
        .rule = "exhaust-hot",
        .priority = PRIORITY_ALARM,
        .channel = "exhaust.1",
        .value = 94.25,
        .unit = UNIT_C,
        .decimals = 2,
        .text = "STARBOARD EXHAUST 94 °C, above 93 °C: check raw water",
        .figures = {94.25, (double)NAN, (double)NAN, (double)NAN, (double)NAN, (double)NAN, 12.5,
                    (double)NAN, 93.3},
    };
    alerts_claim(keeper_alerts(keeper), &c, info.now);
    info.record = "off";
    put_turn(out, "twelve seconds later, with an alert");
    sail_until(21);
    put_turn(out, "a second later");
    fclose(out);
    golden_check("hooks", "door-feed", text);
    free(text);
    source_close(ifaces);
    keeper_free(keeper);
    drill_run_free(run);
}

/* What one turn says of the season: "CHANNEL TOLD EXCESS SHARE SINCE;" each. */
static const char *season_lines(struct boat *b, struct door_feed *f)
{
    static char said[400];
    said[0] = '\0';
    struct door_info of = {.source = "can0", .now = plant_now(keeper_plant(b->keeper))};
    f->next = 0;
    /* The past of all channels does not go into one buffer. */
    for (int i = 0; i < 4; i++) {
        f->used = 0;
        door_feed_turn(f, b->keeper, &of, 1);
        for (char *line = f->buf, *end; line < f->buf + f->used; line = end + 1) {
            end = memchr(line, '\n', f->used - (size_t)(line - f->buf));
            assert_non_null(end);
            int i_of, told, share;
            double excess;
            long long since;
            if (sscanf(line, "season\t%d\t%d\t%lf\t%d\t%lld", &i_of, &told, &excess, &share,
                       &since) != 5)
                continue;
            assert_true(since == 0 || since == FIRST_NS);
            text_append(said, sizeof said,
                        plant_channel(keeper_plant(b->keeper), (size_t)i_of)->key);
            char figures[60];
            text_format(figures, sizeof figures, " %d %.1f %d %d;", told, excess, share,
                        since != 0);
            text_append(said, sizeof said, figures);
        }
    }
    return said;
}

/* An exhaust 8 K above what it was: told once, and once that it is not known any more. */
static void feed__season__told_and_taken_back(void **state)
{
    (void)state;
    struct door_feed *f = calloc(1, sizeof *f);
    assert_non_null(f);
    first_trips(FIRST_NS);
    struct boat *b = boat_of_season(NO_COOLING_WATCH);
    sail(b, 60, 700, 0, 0);
    assert_string_equal(season_lines(b, f), "");
    sail(b, 320, 2200, 8, 0);
    assert_string_equal(season_lines(b, f), "exhaust.0 1 8.0 0 1;");
    assert_string_equal(season_lines(b, f), "");
    sail(b, 30, 700, 8, 0); /* no steady speed: nothing to compare */
    assert_string_equal(season_lines(b, f), "exhaust.0 0 0.0 0 0;");
    assert_string_equal(season_lines(b, f), "");
    boat_end(b);
    free(f);
}

/* The period one turn says of the first channel, in ms; 0: its line is not said again. */
static int said_period_ms(struct boat *b, struct door_feed *f, int64_t learned_ns)
{
    struct door_info of = {.source = "can0"};
    int64_t tenth = 10 * DOOR_UPDATE_NS; /* its turn to be looked at */
    plant_channel(keeper_plant(b->keeper), 0)->period_ns = learned_ns;
    of.now = plant_now(keeper_plant(b->keeper));
    of.now.mono_ns = of.now.mono_ns / tenth * tenth + tenth;
    f->next = 0;
    f->used = 0;
    door_feed_turn(f, b->keeper, &of, 1);
    f->buf[f->used < FEED_BUFFER ? f->used : FEED_BUFFER - 1] = '\0';
    char *line = strstr((char *)f->buf, "channel\t0\t");
    if (!line)
        return 0;
    line[strcspn(line, "\n")] = '\0';
    *strrchr(line, '\t') = '\0'; /* behind the period stands a priority */
    return (int)(strtoll(strrchr(line, '\t') + 1, NULL, 10) / NS_PER_MS);
}

static void feed__period_that_moves__said_again_beyond_an_eighth(void **state)
{
    (void)state;
    struct door_feed *f = calloc(1, sizeof *f);
    assert_non_null(f);
    first_trips(FIRST_NS);
    struct boat *b = boat_of_season(NO_COOLING_WATCH);
    sail(b, 20, 700, 0, 0);
    assert_int_equal(said_period_ms(b, f, 800 * NS_PER_MS), 800);
    assert_int_equal(said_period_ms(b, f, 900 * NS_PER_MS), 0); /* an eighth */
    assert_int_equal(said_period_ms(b, f, 700 * NS_PER_MS), 0);
    assert_int_equal(said_period_ms(b, f, 901 * NS_PER_MS), 901);
    assert_int_equal(said_period_ms(b, f, 788 * NS_PER_MS), 788);
    boat_end(b);
    free(f);
}

static void put__no_room__leaves_the_line_out(void **state)
{
    struct line l;

    (void)state;
    feed.used = FEED_BUFFER - 5;
    line_begin(&l, "abc");
    line_end(&l);
    assert_int_equal(l.len, 4);
    door_feed_put(&feed, &l);
    assert_int_equal(feed.used, FEED_BUFFER - 1);
    assert_int_equal(door_feed_room(&feed), 1);
    door_feed_put(&feed, &l);
    assert_int_equal(feed.used, FEED_BUFFER - 1);
    feed.used = FEED_BUFFER - 4; /* just enough */
    door_feed_put(&feed, &l);
    assert_int_equal(feed.used, FEED_BUFFER);
}

static int load_settings(void **state)
{
    struct config_messages *messages = NULL;

    (void)state;
    settings = config_load(NULL, &messages);
    config_messages_free(messages);
    return settings ? 0 : -1;
}

static int free_settings(void **state)
{
    (void)state;
    settings_free(settings);
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(feed__first_everything_then_what_changed),
        cmocka_unit_test(feed__season__told_and_taken_back),
        cmocka_unit_test(feed__period_that_moves__said_again_beyond_an_eighth),
        cmocka_unit_test(put__no_room__leaves_the_line_out),
    };
    return cmocka_run_group_tests(tests, load_settings, free_settings);
}
