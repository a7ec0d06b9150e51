/* A board attached to a `tend` must show what a board of that `tend` itself would: the socket's two
 * ends are put together in one process and their models compared, value by value. */
#include "rules/boat.h"

#include "hooks/door.h"
#include "screen/graph.h"
#include "session/feed.h"
#include "support/program.h"

#include <fcntl.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

struct pair {
    struct boat *boat;
    struct door *door;
    struct feed feed;
    struct door_info info;
    struct model *here, *there;
    char path[64];
};

static void on_event(void *ctx, const struct alert_event *ev)
{
    struct pair *p = ctx;
    (void)ev;
    door_alerts_changed(p->door);
}

static struct pair *begin(const char *conf)
{
    struct pair *p = calloc(1, sizeof *p);
    struct err e;
    p->boat = boat_new(conf);
    text_format(p->path, sizeof p->path, "%s/sock", program_folder());
    p->door = door_open(p->path, &e);
    assert_non_null(p->door);
    alerts_listen(boat_alerts(p->boat), on_event, p);
    p->here = model_new();
    p->there = model_new();
    p->info = (struct door_info){.source = "can0", .record = "on", .clock_known = true};
    p->info.load_percent = 31;
    p->info.frames_per_s = 400;
    p->info.frames = 123456;
    return p;
}

static void attach(struct pair *p)
{
    struct err e;
    const char *name = p->path;
    struct feed_options o = {.names = &name, .count = 1};
    assert_true(feed_open_attach(&p->feed, &o, &e));
}

/* Both sides take n turns; the door sends when time has gone on. */
static void turns(struct pair *p, int n)
{
    struct stamp now = plant_now(keeper_plant(p->boat->keeper));
    for (int i = 0; i < n; i++) {
        if (now.mono_ns > p->info.now.mono_ns)
            p->info.now = now;
        p->info.now.mono_ns += DOOR_UPDATE_NS;
        p->info.now.wall_ns += DOOR_UPDATE_NS;
        p->info.clock = p->info.now;
        door_turn(p->door, p->boat->keeper, &p->info);
        p->feed.kind->turn(p->feed.ctx, p->info.now, 0);
    }
}

static void compare(struct pair *p)
{
    struct model *a = p->here, *b = p->there;
    p->feed.kind->fill(p->feed.ctx, b);
    model_fill(a, p->boat->keeper, b->now);
    assert_string_equal(a->vessel, b->vessel);
    assert_int_equal(a->engines, b->engines);
    assert_int_equal(a->listening, b->listening);
    for (int e = 0; e < PLANT_ENGINES; e++) {
        if (e < a->engines)
            assert_string_equal(a->engine_names[e], b->engine_names[e]);
        assert_int_equal(a->careful[e], b->careful[e]);
        assert_int_equal(a->engine_states[e], b->engine_states[e]);
        assert_string_equal(a->sense[e], b->sense[e]);
    }
    assert_int_equal(a->channel_count, b->channel_count);
    for (size_t i = 0; i < a->channel_count; i++) {
        const struct model_channel *x = &a->channels[i], *y = &b->channels[i];
        assert_string_equal(x->key, y->key);
        assert_string_equal(x->label, y->label);
        assert_string_equal(x->place, y->place);
        assert_int_equal(x->status, y->status);
        assert_int_equal(x->engine, y->engine);
        assert_int_equal(x->alert, y->alert);
        assert_int_equal(x->pgn, y->pgn);
        assert_memory_equal(&x->id, &y->id, sizeof x->id);
        assert_int_equal(x->second, y->second);
        assert_int_equal(x->off, y->off);
        assert_int_equal(x->iface, y->iface);
        assert_int_equal(x->source, y->source);
        assert_int_equal(x->unit, y->unit);
        assert_int_equal(x->decimals, y->decimals);
        assert_int_equal(x->nominal_volts, y->nominal_volts);
        assert_int_equal(x->limit_above, y->limit_above);
        assert_near(y->steady_per_min, x->steady_per_min, 0);
        assert_int_equal(x->has_extremes, y->has_extremes);
        if (x->has_extremes) {
            assert_near(y->low, x->low, fabs(x->low) * 1e-5 + 1e-6);
            assert_near(y->high, x->high, fabs(x->high) * 1e-5 + 1e-6);
        }
        assert_near((double)y->period_ns, (double)x->period_ns, (double)x->period_ns / 8);
        assert_near(y->value, x->value, fabs(x->value) * 1e-8 + 1e-9);
        assert_int_equal(x->age_ns, y->age_ns);
        assert_int_equal(x->has_limit, y->has_limit);
        if (x->has_limit)
            assert_near(y->limit, x->limit, 1e-6);
        if (x->has_limit)
            assert_int_equal(x->limit_priority, y->limit_priority);
        assert_int_equal(x->has_expected, y->has_expected);
        if (x->has_expected) {
            assert_near(y->expected, x->expected, 1e-6);
            assert_near(y->allowance, x->allowance, 1e-6);
        }
        assert_int_equal(x->has_rate, y->has_rate);
        if (x->has_rate)
            assert_near(y->rate_per_min, x->rate_per_min, fabs(x->rate_per_min) * 0.05 + 0.5);
    }
    assert_int_equal(a->alert_count, b->alert_count);
    for (size_t i = 0; i < a->alert_count; i++) {
        assert_int_equal(a->alerts[i]->id, b->alerts[i]->id);
        assert_int_equal(a->alerts[i]->state, b->alerts[i]->state);
        assert_int_equal(a->alerts[i]->priority, b->alerts[i]->priority);
        assert_string_equal(a->alerts[i]->text, b->alerts[i]->text);
        assert_true(a->alerts[i]->raised.wall_ns == b->alerts[i]->raised.wall_ns);
    }
    assert_int_equal(a->ended_count, b->ended_count);
    for (size_t i = 0; i < a->ended_count; i++) {
        assert_int_equal(a->ended[i]->id, b->ended[i]->id);
        assert_string_equal(a->ended[i]->text, b->ended[i]->text);
    }
    for (int i = 0; i < a->source_count; i++) {
        const struct model_source *x = &a->sources[i], *y = &b->sources[i];
        assert_int_equal(x->iface, y->iface);
        assert_int_equal(x->address, y->address);
        assert_true(x->name == y->name);
        assert_int_equal(x->channels, y->channels);
        assert_int_equal(x->gaps, y->gaps);
        assert_int_equal(x->name_changes, y->name_changes);
    }
    const struct settings *s = p->boat->settings;
    assert_true(b->trend_span_ns == s->screen.trend_span_ns);
    assert_true(b->silence_ns == s->alerts.silence_ns);
    assert_int_equal(b->clock_known, p->info.clock_known);
    assert_int_equal(a->has_bus_clock, b->has_bus_clock);
    assert_null(b->waiting);
    assert_false(b->replay.is_log);
    assert_int_equal(b->sources_more, 0);
    assert_int_equal(a->unacknowledged, b->unacknowledged);
    assert_int_equal(a->sounding, b->sounding);
    assert_int_equal(a->source_count, b->source_count);
}

static void end(struct pair *p)
{
    feed_close(&p->feed);
    door_close(p->door);
    assert_int_not_equal(access(p->path, F_OK), 0);
    boat_free(p->boat);
    model_free(p->here);
    model_free(p->there);
    free(p);
}

static void attached__boat_with_an_alarm__same_picture(void **state)
{
    (void)state;
    struct pair *p = begin(NO_COOLING_WATCH "[vessel]\nname = Tern Point\n"
                                            "[channel fuel-tank.0]\nlabel = Diesel, aft\n");
    p->boat->second_exhaust = 50;
    boat_run(p->boat, 60);
    p->boat->exhaust[1] = 99;
    boat_run(p->boat, 20);
    attach(p);
    turns(p, 20);
    compare(p);
    assert_string_equal(p->there->vessel, "Tern Point");
    assert_string_equal(p->there->source, "can0");
    assert_string_equal(p->there->record, "on");
    assert_true(p->there->sounding);
    assert_near(p->there->bus.load_percent, 31, 0);
    assert_int_equal(p->there->bus.frames, 123456);
    end(p);
}

static void attached__while_time_goes_on__follows(void **state)
{
    (void)state;
    struct pair *p = begin(NO_COOLING_WATCH);
    boat_run(p->boat, 30);
    attach(p);
    turns(p, 10);
    boat_ramp(p->boat, &p->boat->exhaust[0], 97, 30);
    boat_run(p->boat, 10);
    turns(p, 12);
    compare(p);
    assert_int_equal(p->there->alert_count, 1);
    p->boat->exhaust[0] = BOAT_NONE;
    boat_run(p->boat, 20);
    turns(p, 12);
    compare(p);
    assert_int_equal(model_find(p->there, "exhaust.0")->status, READING_NOT_AVAILABLE);
    end(p);
}

/* What the row of the alert's channel shows stands in the alert's line. */
static void one_figure(const struct model *m)
{
    char value[32], shown[48];
    const struct model_channel *c = model_find(m, "exhaust.1");
    assert_true(c->alert >= 0);
    const struct alert *a = m->alerts[c->alert];
    assert_near(a->value, c->value, 1e-6);
    text_format(shown, sizeof shown, " %s %s", model_reading_text(m, c, value, sizeof value),
                unit_text(model_unit(&m->units, c->unit)));
    if (!strstr(a->text, shown))
        fail_msg("'%s' stands in the row, not in '%s'", shown, a->text);
}

/* A sensor that sends ten times a second: a claim is renewed twice. */
static void attached__fast_sensor_in_alarm__alert_and_row_have_one_figure(void **state)
{
    (void)state;
    struct pair *p = begin(NO_COOLING_WATCH);
    boat_run(p->boat, 60);
    p->boat->exhaust[1] = 99;
    boat_run(p->boat, 20);
    attach(p);
    turns(p, 20);
    for (int i = 0; i < 60; i++) {
        boat_temp(p->boat, 35, 1, 14, i < 30 ? 100 + 2.3 * i : 172 - 2.9 * (i - 30));
        p->boat->ms += 100;
        turns(p, 2);
        p->feed.kind->fill(p->feed.ctx, p->there);
        one_figure(p->there);
        keeper_freshen(p->boat->keeper);
        model_fill(p->here, p->boat->keeper, p->there->now);
        one_figure(p->here);
    }
    /* within its limit again, and not told above it */
    assert_null(strstr(p->there->alerts[model_find(p->there, "exhaust.1")->alert]->text, "above"));
    end(p);
}

/* Minutes finely, hours and days more coarsely, as the history itself is kept. */
static void attached__after_five_hours__has_the_history(void **state)
{
    (void)state;
    struct pair *p = begin(NO_COOLING_WATCH);
    for (int i = 0; i < 30; i++) {
        p->boat->coolant[0] = 70 + i % 7;
        boat_run(p->boat, 600);
    }
    attach(p);
    turns(p, 60);
    compare(p);
    const struct history *x = plant_find_key(keeper_plant(p->boat->keeper), "coolant.0")->history;
    const struct history *y = model_find(p->there, "coolant.0")->history;
    int64_t now = plant_now(keeper_plant(p->boat->keeper)).mono_ns;
    static const int64_t spans_s[][2] = {{540, 1}, {10000, 10}, {17000, 120}};
    for (size_t s = 0; s < 3; s++) {
        int64_t width = spans_s[s][1] * NS_PER_S;
        int compared = 0;
        for (int64_t t = (now - spans_s[s][0] * NS_PER_S) / width * width; t + width < now - width;
             t += width) {
            struct history_bucket a, b;
            bool has = history_span(x, t, t + width, &a);
            assert_int_equal(history_span(y, t, t + width, &b), has);
            if (!has)
                continue;
            assert_near(b.low, a.low, 1e-4);
            assert_near(b.high, a.high, 1e-4);
            assert_near(b.mean, a.mean, 1e-2);
            compared++;
        }
        assert_true(compared > 100);
    }
    end(p);
}

/* Between the messages of a slow sender there is no gap, here as there. */
static void attached__slow_sender__has_no_gaps(void **state)
{
    (void)state;
    struct pair *p = begin(NO_COOLING_WATCH);
    p->boat->temp_period_s = 10;
    boat_run(p->boat, 300);
    attach(p);
    turns(p, 20);
    compare(p);
    const struct model_channel *y = model_find(p->there, "exhaust.0");
    assert_near(when_seconds(y->period_ns), 10, 1.25);
    for (int64_t age = 20 * NS_PER_S; age < 200 * NS_PER_S; age += NS_PER_S) {
        struct history_bucket b;
        int64_t from = (p->there->now.mono_ns - age) / NS_PER_S * NS_PER_S, to = from + NS_PER_S;
        assert_true(graph_column(y->history, from, to, p->there->now.mono_ns, y->period_ns, &b));
    }
    p->boat->temp_period_s = 2; /* learned and said again there */
    boat_run(p->boat, 120);
    turns(p, 20);
    compare(p);
    assert_near(when_seconds(model_find(p->there, "exhaust.0")->period_ns), 2, 0.25);
    end(p);
}

/* The band behind a curve is the one that the board of that `tend` itself would draw. */
static void attached__cooling_watched__has_the_expected_band(void **state)
{
    (void)state;
    struct pair *p = begin(NULL);
    boat_run(p->boat, 300);
    attach(p);
    turns(p, 20);
    compare(p);
    boat_run(p->boat, 60);
    turns(p, 20);
    compare(p);
    const struct model_channel *x = model_find(p->here, "exhaust.0"),
                               *y = model_find(p->there, "exhaust.0");
    assert_true(x->has_expected && x->expected_low && y->expected_low && y->expected_high);
    int compared = 0, missed = 0;
    for (int64_t age = 12 * NS_PER_S; age < 200 * NS_PER_S; age += NS_PER_S) {
        struct history_bucket a, b;
        int64_t from = (p->there->now.mono_ns - age) / NS_PER_S * NS_PER_S, to = from + NS_PER_S;
        if (!history_span(x->expected_low, from, to, &a))
            continue;
        if (!history_span(y->expected_low, from, to, &b)) {
            missed++;
            continue;
        }
        assert_near(b.mean, a.mean, 1e-3);
        assert_true(history_span(x->expected_high, from, to, &a));
        assert_true(history_span(y->expected_high, from, to, &b));
        assert_near(b.mean, a.mean, 1e-3);
        compared++;
    }
    assert_true(compared > 100);
    /* The turns between the runs were ahead of the boat by ten seconds. */
    assert_true(missed <= 11);
    end(p);
}

static void request__acknowledge_silence_and_mark__are_obeyed_there(void **state)
{
    (void)state;
    struct pair *p = begin(NO_COOLING_WATCH);
    char notice[96] = "";
    boat_run(p->boat, 20);
    p->boat->exhaust[0] = p->boat->exhaust[1] = 99;
    boat_run(p->boat, 20);
    attach(p);
    turns(p, 6);
    int64_t mark_ns;
    const char *words;
    struct request mark = {.kind = REQUEST_MARK, .amount = 42 * NS_PER_S, .words = "oil\tsmell"};
    p->feed.kind->request(p->feed.ctx, &mark, notice, sizeof notice);
    turns(p, 2);
    assert_true(door_marked(p->door, &mark_ns, &words));
    assert_true(mark_ns == 42 * NS_PER_S);
    assert_string_equal(words, "oil?smell");
    assert_false(door_marked(p->door, &mark_ns, &words));
    p->feed.kind->fill(p->feed.ctx, p->there);
    assert_int_equal(p->there->replay.mark_count, 1); /* its own board shows it at once */
    assert_non_null(strstr(notice, "set aside"));
    notice[0] = '\0';
    struct request q = {.kind = REQUEST_SILENCE};
    p->feed.kind->request(p->feed.ctx, &q, notice, sizeof notice);
    turns(p, 6);
    compare(p);
    assert_int_equal(p->there->alerts[0]->state, ALERT_SILENCED);
    q = (struct request){.kind = REQUEST_ACKNOWLEDGE, .id = p->there->alerts[0]->id};
    p->feed.kind->request(p->feed.ctx, &q, notice, sizeof notice);
    turns(p, 6);
    compare(p);
    assert_int_equal(alerts_by_id(boat_alerts(p->boat), q.id)->state, ALERT_ACKNOWLEDGED);
    assert_int_equal(p->there->unacknowledged, 1); /* one by one */
    assert_string_equal(notice, "");
    end(p);
}

static void tend__ends__is_said(void **state)
{
    (void)state;
    struct pair *p = begin(NULL);
    boat_run(p->boat, 5);
    attach(p);
    turns(p, 4);
    assert_null(p->feed.kind->failed(p->feed.ctx));
    assert_true(p->feed.kind->fd(p->feed.ctx) >= 0);
    door_close(p->door);
    for (int i = 0; i < 3; i++)
        p->feed.kind->turn(p->feed.ctx, p->info.now, 0);
    assert_string_equal(p->feed.kind->failed(p->feed.ctx), "the tend that was watched has ended");
    assert_int_equal(p->feed.kind->fd(p->feed.ctx), -1); /* nothing to wait for */
    p->door = NULL;
    end(p);
}

static int raw_client(const struct pair *p)
{
    struct err e;
    int fd = door_connect(p->path, &e);
    assert_true(fd >= 0);
    return fd;
}

/* A client that never reads costs a bounded buffer, and the others nothing. */
static void door__client_that_does_not_read__is_dropped_in_time(void **state)
{
    (void)state;
    struct pair *p = begin(NULL);
    boat_run(p->boat, 3600);
    int deaf = raw_client(p);
    assert_int_equal(send(deaf, "attach\n", 7, 0), 7);
    attach(p);
    for (int i = 0; i < 80; i++) {
        boat_run(p->boat, 0.5);
        turns(p, 1);
    }
    boat_run(p->boat, 1);
    turns(p, 40);
    compare(p);
    assert_int_equal(door_attached(p->door), 1);
    close(deaf);
    end(p);
}

static void door__rubbish__is_refused(void **state)
{
    (void)state;
    static const char *const rubbish[] = {
        "hello\n", "\n", "acknowledge\n", "acknowledge\t-1\n", "acknowledge\tx\n", "\x01\xff\n"};
    struct pair *p = begin(NULL);
    boat_run(p->boat, 5);
    attach(p);
    for (size_t i = 0; i < sizeof rubbish / sizeof *rubbish; i++) {
        int fd = raw_client(p);
        char got[128] = "";
        assert_true(send(fd, rubbish[i], strlen(rubbish[i]), 0) > 0);
        turns(p, 2);
        assert_true(recv(fd, got, sizeof got - 1, 0) > 0);
        assert_int_equal(strncmp(got, "no\t", 3), 0);
        close(fd);
    }
    int fd = raw_client(p);
    char flood[4096];
    memset(flood, 'a', sizeof flood);
    send(fd, flood, sizeof flood, MSG_DONTWAIT);
    turns(p, 2);
    assert_true(recv(fd, flood, sizeof flood, 0) <= 0); /* hung up on */
    close(fd);
    compare(p);
    end(p);
}

static void door__more_clients_than_places__the_next_is_turned_away(void **state)
{
    (void)state;
    struct pair *p = begin(NULL);
    int fds[DOOR_CLIENTS_MAX + 1];
    char got[128] = "";
    boat_run(p->boat, 5);
    for (int i = 0; i <= DOOR_CLIENTS_MAX; i++) {
        fds[i] = raw_client(p);
        p->info.now = p->info.clock = plant_now(keeper_plant(p->boat->keeper));
        door_turn(p->door, p->boat->keeper, &p->info);
    }
    assert_true(recv(fds[DOOR_CLIENTS_MAX], got, sizeof got - 1, 0) > 0);
    assert_string_equal(got, "no\t12 are connected already: try again later\n");
    assert_int_equal(recv(fds[DOOR_CLIENTS_MAX], got, sizeof got, 0), 0);
    close(fds[0]);
    door_turn(p->door, p->boat->keeper, &p->info);
    attach(p);
    turns(p, 6);
    compare(p);
    for (int i = 1; i <= DOOR_CLIENTS_MAX; i++)
        close(fds[i]);
    end(p);
}

/* Whoever connects and says nothing, or half a word, is dropped in time: nobody is locked out. */
static void door__silent_connections__lock_nobody_out(void **state)
{
    (void)state;
    struct pair *p = begin(NULL);
    int fds[DOOR_CLIENTS_MAX];
    char got[64];
    boat_run(p->boat, 5);
    p->info.now = p->info.clock = plant_now(keeper_plant(p->boat->keeper));
    for (int i = 0; i < DOOR_CLIENTS_MAX; i++) {
        fds[i] = raw_client(p);
        if (i % 2)
            assert_int_equal(send(fds[i], "atta", 4, 0), 4);
        door_turn(p->door, p->boat->keeper, &p->info);
    }
    p->info.clock.mono_ns += DOOR_SPEAK_NS - 1;
    door_turn(p->door, p->boat->keeper, &p->info);
    assert_int_equal(recv(fds[0], got, sizeof got, MSG_DONTWAIT), -1); /* still there */
    p->info.clock.mono_ns += 1;
    door_turn(p->door, p->boat->keeper, &p->info);
    for (int i = 0; i < DOOR_CLIENTS_MAX; i++) {
        assert_int_equal(recv(fds[i], got, sizeof got, 0), 0);
        close(fds[i]);
    }
    attach(p);
    turns(p, 6);
    compare(p);
    end(p);
}

/* Boards take their places and no more: a script finds one beside them. */
static void door__all_boards_attached__a_script_is_still_heard(void **state)
{
    (void)state;
    struct pair *p = begin(NULL);
    int fds[DOOR_BOARDS_MAX + 2];
    char got[64] = "";
    boat_run(p->boat, 5);
    p->info.now = p->info.clock = plant_now(keeper_plant(p->boat->keeper));
    for (int i = 0; i < DOOR_BOARDS_MAX + 2; i++) {
        fds[i] = raw_client(p);
        const char *words = i <= DOOR_BOARDS_MAX ? "attach\n" : "silence\n";
        assert_true(send(fds[i], words, strlen(words), 0) > 0);
        door_turn(p->door, p->boat->keeper, &p->info);
    }
    assert_int_equal(door_attached(p->door), DOOR_BOARDS_MAX);
    assert_true(recv(fds[DOOR_BOARDS_MAX], got, sizeof got - 1, 0) > 0);
    assert_string_equal(got, "no\t8 boards are attached already\n");
    memset(got, 0, sizeof got);
    assert_true(recv(fds[DOOR_BOARDS_MAX + 1], got, sizeof got - 1, 0) > 0);
    assert_string_equal(got, "ok\n");
    for (int i = 0; i < DOOR_BOARDS_MAX + 2; i++)
        close(fds[i]);
    end(p);
}

/* Owner and group alone. */
static void door__socket__is_closed_to_others(void **state)
{
    (void)state;
    struct pair *p = begin(NULL);
    struct stat st;
    assert_int_equal(stat(p->path, &st), 0);
    assert_int_equal(st.st_mode & 0777, 0660);
    end(p);
}

/* ---- a server that is none ---- */

struct liar {
    char path[64];
    int listening, fd;
    struct feed feed;
    struct model *m;
};

static struct liar *lie(void)
{
    struct liar *l = calloc(1, sizeof *l);
    struct sockaddr_un a = {.sun_family = AF_UNIX};
    struct err e;
    text_format(l->path, sizeof l->path, "%s/sock", program_folder());
    text_copy(a.sun_path, sizeof a.sun_path, l->path);
    l->listening = socket(AF_UNIX, SOCK_STREAM, 0);
    assert_int_equal(bind(l->listening, (struct sockaddr *)&a, sizeof a), 0);
    assert_int_equal(listen(l->listening, 1), 0);
    const char *name = l->path;
    assert_true(feed_open_attach(&l->feed, &(struct feed_options){.names = &name, .count = 1}, &e));
    l->fd = accept(l->listening, NULL, NULL);
    assert_true(l->fd >= 0);
    l->m = model_new();
    return l;
}

static void say(struct liar *l, const char *text, size_t len)
{
    while (len > 0) {
        ssize_t n = send(l->fd, text, len, MSG_DONTWAIT);
        if (n > 0) {
            text += n;
            len -= (size_t)n;
        }
        l->feed.kind->turn(l->feed.ctx, (struct stamp){0}, 0);
    }
    l->feed.kind->turn(l->feed.ctx, (struct stamp){0}, 0);
    l->feed.kind->fill(l->feed.ctx, l->m);
    assert_null(l->feed.kind->failed(l->feed.ctx));
}

static void unmask(struct liar *l)
{
    feed_close(&l->feed);
    close(l->fd);
    close(l->listening);
    model_free(l->m);
    free(l);
}

#define SAY(l, text) say(l, text, sizeof(text) - 1)
#define TRUE_TIME    "time\t1760000000000000000\t2000000000000\t1\t0\t0\t0\t-\t-\t0\t0\t0\n"
#define EXHAUST      "channel\t0\t12\t0\t0\t0\t0\t0\t0\t35\t130312\t0\t1\t1\t93.3\t"

/* Missing is never zero, times beyond all reason are none, and no escape code comes through. */
static void liar__values_and_texts__are_not_believed(void **state)
{
    (void)state;
    struct liar *l = lie();
    SAY(l, TRUE_TIME EXHAUST "exhaust.0\tex\033[2Jhaust\tPO\033]0;x\007RT\n");
    SAY(l, "value\t0\t1\t0\t-\t1999000000000\n");
    /* what a tend of before does not say */
    assert_false(l->m->listening);
    assert_false(l->m->gathering);
    assert_true(l->m->trend_span_ns == 600 * NS_PER_S);
    assert_null(l->m->record);
    assert_int_equal(l->m->channel_count, 1);
    assert_int_equal(l->m->channels[0].status, READING_NOT_AVAILABLE);
    assert_null(strchr(l->m->channels[0].label, 27));
    assert_null(strchr(l->m->channels[0].place, 27));
    assert_null(strchr(l->m->channels[0].place, 7));
    SAY(l, "value\t0\t1\t0\t1e300\t1999000000000\n");
    assert_int_equal(l->m->channels[0].status, READING_NOT_AVAILABLE);
    SAY(l, "value\t0\t1\t0\t61.5\t1999000000000\n");
    assert_int_equal(l->m->channels[0].status, READING_OK);
    assert_near(l->m->channels[0].value, 61.5, 1e-9);
    /* wrong one by one: the last good one stays */
    SAY(l, "value\t0\t1\t0\t99\t-9223372036854775808\n"
           "value\t0\t1\t0\t99\t9223372036854775807\n"
           "value\t0\t77\t0\t99\t1999000000000\nvalue\t0\t1\t0\t99\nvalue\n"
           "value\t99999999999999999999\t1\t0\t99\t1999000000000\n"
           "value\t1024\t1\t0\t99\t1999000000000\nvalue\t-1\t1\t0\t99\t1999000000000\n"
           "time\t9223372036854775807\t9223372036854775807\t1\t0\t0\t0\t-\t-\t0\t1\t"
           "-9223372036854775808\n");
    assert_near(l->m->channels[0].value, 61.5, 1e-9);
    assert_true(l->m->now.mono_ns == 2000 * NS_PER_S);
    SAY(l, "boat\tOther\tcan1\t0\t-5\ton\t1\n" TRUE_TIME);
    assert_string_equal(l->m->vessel, "");
    assert_true(l->m->trend_span_ns >= 60 * NS_PER_S);
    SAY(l, "boat\t\033[31mTern\t\033c\t0\t0\ton\t1\nengine\t0\t\033[5mPORT\t2\n"
           "iface\t0\tcan\0330\n" TRUE_TIME);
    assert_null(strchr(l->m->vessel, 27));
    assert_null(strchr(l->m->source, 27));
    assert_null(strchr(l->m->engine_names[0], 27));
    assert_null(strchr(l->m->iface_names[0], 27));
    assert_true(l->m->trend_span_ns >= 60 * NS_PER_S);
    unmask(l);
}

/* A `tend` of before says no period; one beyond reason takes the whole line with it. */
static void liar__periods__are_known_left_out_or_refused(void **state)
{
    (void)state;
    struct liar *l = lie();
    SAY(l, TRUE_TIME EXHAUST "exhaust.0\t\tPORT\nvalue\t0\t1\t0\t61.5\t1999000000000\n");
    assert_int_equal(l->m->channel_count, 1);
    assert_true(l->m->channels[0].period_ns == 0);
    SAY(l, EXHAUST "exhaust.0\t\tPORT\t2500000000\n");
    assert_true(l->m->channels[0].period_ns == 2500000000);
    SAY(l, EXHAUST "exhaust.0\t\tA\t-1\n" EXHAUST "exhaust.0\t\tB\tx\n" EXHAUST
                   "exhaust.0\t\tC\t9223372036854775807\n" EXHAUST "exhaust.0\t\tD\t\n");
    assert_true(l->m->channels[0].period_ns == 2500000000);
    unmask(l);
}

/* Lines without end cost a bounded buffer, and what follows is read. */
/* Engines in the order in which that `tend` shows them, generators last; one of before, which says
 * neither, has them by their slots. Bands and expectations are believed as little as values. */
static void engines_and_bands__said_or_not__are_shown_or_left_out(void **state)
{
    (void)state;
    struct liar *l = lie();
    SAY(l, TRUE_TIME "engine\t2\tPORT\t2\nengine\t5\tSTARBOARD\t2\n");
    assert_int_equal(l->m->engines, 2);
    assert_string_equal(l->m->engine_names[0], "PORT");
    assert_string_equal(l->m->engine_names[1], "STARBOARD");
    assert_string_equal(l->m->sense[0], "");
    SAY(l, "engine\t5\tPORT\t2\t0\t0\t0\tBLIND\033[5m to it\n");
    assert_string_equal(l->m->sense[0], "BLIND?[5m to it");
    SAY(l, "engine\t5\tPORT\t2\t0\t0\t0\nengine\t2\tSTARBOARD\t2\t1\t0\t1\n"
           "engine\t0\tGENERATOR\t2\t2\t1\t0\nengine\t1\tWILD\t2\t99\t1\t0\n");
    assert_int_equal(l->m->engines, 2);
    assert_string_equal(l->m->engine_names[0], "PORT");
    assert_string_equal(l->m->engine_names[1], "STARBOARD");
    assert_string_equal(l->m->engine_names[2], "GENERATOR");
    assert_true(l->m->careful[1] && !l->m->careful[0]);
    SAY(l, EXHAUST "exhaust.0\t\tPORT\nvalue\t0\t1\t0\t61.5\t1999000000000\n");
    assert_int_equal(l->m->channels[0].engine, 2); /* of slot 0 */
    assert_null(l->m->channels[0].expected_low);
    SAY(l, "expect\t0\t1\t1e300\t3\nexpect\t0\t1\t40\t-3\nexpect\t0\t2\t40\t3\n"
           "band\t0\t1990000000000\t1000000000\t40\t30\t35\t1\t50\t51\t50\n"
           "band\t0\t1990000000000\t1000000000\t30\t31\t30\t1\t1e300\t51\t50\nband\t0\n");
    assert_false(l->m->channels[0].has_expected);
    assert_null(l->m->channels[0].expected_low);
    SAY(l, "expect\t0\t1\t40\t3\n"
           "band\t0\t1990000000000\t1000000000\t37\t37\t37\t1\t43\t43\t43\n");
    struct history_bucket b;
    assert_true(l->m->channels[0].has_expected);
    assert_near(l->m->channels[0].allowance, 3, 1e-9);
    assert_true(
        history_span(l->m->channels[0].expected_high, 1990 * NS_PER_S, 1991 * NS_PER_S, &b));
    assert_near(b.mean, 43, 1e-6);
    SAY(l, "expect\t0\t0\t0\t0\n");
    assert_false(l->m->channels[0].has_expected);
    SAY(l, "season\t0\t1\t-\t0\t1778000000000000000\nseason\t0\t2\t4\t0\t1\nseason\t0\n");
    assert_false(l->m->channels[0].has_season);
    SAY(l, "season\t0\t1\t4.25\t0\t1778000000000000000\n"); /* 2026-05-05 */
    assert_true(l->m->channels[0].has_season && !l->m->channels[0].season_is_share);
    assert_near(l->m->channels[0].season, 4.25, 1e-9);
    assert_string_equal(l->m->channels[0].season_since, "May");
    SAY(l, "season\t0\t0\t0\t0\t0\n");
    assert_false(l->m->channels[0].has_season);
    unmask(l);
}

static void liar__endless_and_cut_lines__are_passed_over(void **state)
{
    (void)state;
    struct liar *l = lie();
    size_t len = 3 * 1024 * 1024;
    char *flood = malloc(len);
    memset(flood, 'a', len);
    say(l, flood, len);
    SAY(l, "\n" TRUE_TIME EXHAUST "exhaust.0\t\tPORT\n");
    for (const char *c = "value\t0\t1\t0\t61.5\t1999000000000\n"; *c; c++)
        say(l, c, 1);
    assert_int_equal(l->m->channel_count, 1);
    assert_near(l->m->channels[0].value, 61.5, 1e-9);
    memset(flood, '\n', len);
    say(l, flood, len);
    memset(flood, 0, len);
    say(l, flood, len);
    SAY(l, "\nvalue\t0\t1\t0\t62.5\t1999000000000\n");
    assert_near(l->m->channels[0].value, 62.5, 1e-9);
    free(flood);
    unmask(l);
}

/* More alerts, senders and channels than there can be. */
static void liar__too_many_of_all__are_bounded(void **state)
{
    (void)state;
    struct liar *l = lie();
    char line[200];
    SAY(l, TRUE_TIME);
    for (int i = 0; i < 3000; i++) {
        size_t n = (size_t)snprintf(line, sizeof line,
                                    "channel\t%d\t12\t0\t0\t0\t0\t0\t0\t35\t130312\t0\t0\t"
                                    "0\t0\texhaust.%d\t\tX\nvalue\t%d\t1\t0\t5\t1\n"
                                    "station\t%d\t%d\t0\t1\t1\t0\n",
                                    i, i, i, i % 256, i % 251);
        say(l, line, n);
    }
    assert_int_equal(l->m->channel_count, PLANT_CHANNELS);
    assert_int_equal(l->m->source_count, MODEL_SOURCES);
    SAY(l, "alerts\t128\t0\nalerts\t-1\t-1\nalerts\t999999\t0\n");
    assert_int_equal(l->m->alert_count, 0);
    unmask(l);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(attached__boat_with_an_alarm__same_picture),
        cmocka_unit_test(attached__while_time_goes_on__follows),
        cmocka_unit_test(attached__fast_sensor_in_alarm__alert_and_row_have_one_figure),
        cmocka_unit_test(attached__after_five_hours__has_the_history),
        cmocka_unit_test(attached__slow_sender__has_no_gaps),
        cmocka_unit_test(attached__cooling_watched__has_the_expected_band),
        cmocka_unit_test(request__acknowledge_silence_and_mark__are_obeyed_there),
        cmocka_unit_test(tend__ends__is_said),
        cmocka_unit_test(door__client_that_does_not_read__is_dropped_in_time),
        cmocka_unit_test(door__rubbish__is_refused),
        cmocka_unit_test(door__more_clients_than_places__the_next_is_turned_away),
        cmocka_unit_test(liar__values_and_texts__are_not_believed),
        cmocka_unit_test(liar__periods__are_known_left_out_or_refused),
        cmocka_unit_test(engines_and_bands__said_or_not__are_shown_or_left_out),
        cmocka_unit_test(liar__endless_and_cut_lines__are_passed_over),
        cmocka_unit_test(liar__too_many_of_all__are_bounded),
        cmocka_unit_test(door__silent_connections__lock_nobody_out),
        cmocka_unit_test(door__all_boards_attached__a_script_is_still_heard),
        cmocka_unit_test(door__socket__is_closed_to_others),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
