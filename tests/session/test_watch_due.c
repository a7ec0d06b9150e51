/* When the board wakes, sounds and draws: by tables, at and beside every bound. Times in ms. */
#include "session/watch_inside.h"

#include "support/check.h"

static struct settings settings;
static struct watch w;
static struct alert alerts[4];
static int64_t wait_ns;
static bool on_its_way;
static enum alert_sound sounding;

static int64_t feed_wait(void *ctx)
{
    (void)ctx;
    return wait_ns;
}

static bool feed_settling(void *ctx)
{
    (void)ctx;
    return on_its_way;
}

static enum alert_sound feed_sound(void *ctx)
{
    (void)ctx;
    return sounding;
}

static const struct feed_kind fake = {
    .wait_ns = feed_wait, .settling = feed_settling, .sound = feed_sound};

/* Two pictures a second, what flashes does so once a second, no sound. */
static int begin(void **state)
{
    (void)state;
    memset(&settings, 0, sizeof settings);
    settings.alerts.flash_ns = NS_PER_S;
    w = (struct watch){.settings = &settings,
                       .feed = {.kind = &fake},
                       .sounder = {.last = SOUND_NONE},
                       .frame_ns = 500 * NS_PER_MS,
                       .draw_ns = 1000 * NS_PER_MS};
    w.model = model_new();
    sounding = SOUND_NONE;
    on_its_way = false;
    return w.model ? 0 : -1;
}

static int end(void **state)
{
    (void)state;
    model_free(w.model);
    return 0;
}

static struct alert *list(enum priority p, enum alert_state s)
{
    struct alert *a = &alerts[w.model->alert_count];
    *a = (struct alert){.priority = p, .state = s, .active = true};
    w.model->alerts[w.model->alert_count++] = a;
    return a;
}

/* The next picture may be drawn at 1500. */
static void sleep__until_something_is_to_be_done(void **state)
{
    enum { ACKED = 1, FLASHES, STROKE = 4 };
    static const struct {
        int now;
        double wait; /* of the feed; -1: none */
        bool dirty, urgent;
        int alert, stroke; /* in so many ms; 0: none */
        int ms;
    } rows[] = {
        {1200, 0, false, false, 0, 0, 0},
        {1200, -1, false, false, 0, 0, -1},
        {1200, -1, false, true, 0, 0, 0},
        {1200, -1, true, false, 0, 0, 300},
        {1200, 100, false, false, 0, 0, 300}, /* no sooner than there can be a picture */
        {1200, 300, false, false, 0, 0, 300},
        {1200, 0.000001, false, false, 0, 0, 300},
        {1200, 0, true, false, FLASHES, 50, 0},
        {1200, 301, false, false, 0, 0, 301},
        {1200, 400, false, false, 0, 0, 400},
        {1200, 400.000001, false, false, 0, 0, 401}, /* never too early */
        {1200, 400, true, false, 0, 0, 300},
        {1500, 1, true, false, 0, 0, 0},
        {1600, 100, false, false, 0, 0, 100},
        {1600, 100, true, false, 0, 0, 0},
        {1600, -1, true, false, 0, 0, 0},
        {1350, -1, false, false, ACKED, 0, -1},
        {1350, -1, false, false, FLASHES, 0, 150},
        {1400, 1000, false, false, FLASHES, 0, 100},
        {1999, 20, false, false, FLASHES, 0, 1},
        {1500, -1, false, false, FLASHES, 0, 500},
        {1600, 100, false, false, FLASHES, 0, 100},
        {1200, -1, false, false, 0, 50, 50},
        {1200, 100, false, false, 0, 50, 50},
        {1200, 400, false, false, 0, 401, 400},
        {1200, 400, false, false, FLASHES, 250, 250},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        w.now_ns = rows[i].now * NS_PER_MS;
        wait_ns = rows[i].wait < 0 ? -1 : (int64_t)(rows[i].wait * 1e6 + 0.5);
        w.dirty = rows[i].dirty;
        w.urgent = rows[i].urgent;
        w.model->alert_count = 0;
        if (rows[i].alert)
            list(PRIORITY_WARNING,
                 rows[i].alert == ACKED ? ALERT_ACKNOWLEDGED : ALERT_UNACKNOWLEDGED);
        w.sounder.last = rows[i].stroke ? SOUND_ALARM : SOUND_NONE;
        w.sounder.next_ns = w.now_ns + rows[i].stroke * NS_PER_MS;
        if (watch_sleep_ms(&w) != rows[i].ms)
            fail_msg("row %zu: %d", i, watch_sleep_ms(&w));
    }
}

static void half_flash__as_configured_or_half_a_second(void **state)
{
    (void)state;
    assert_true(watch_half_flash_ns(&w) == 500 * NS_PER_MS);
    settings.alerts.flash_ns = 3;
    assert_true(watch_half_flash_ns(&w) == 1);
    settings.alerts.flash_ns = 1;
    assert_true(watch_half_flash_ns(&w) == 500 * NS_PER_MS);
    settings.alerts.flash_ns = 0;
    assert_true(watch_half_flash_ns(&w) == 500 * NS_PER_MS);
}

static void picture__when_it_is_time_or_asked_for(void **state)
{
    static const struct {
        int now;
        bool dirty, urgent, settling, flashes, drawn;
    } rows[] = {
        {1499, true, false, false, false, false},  {1500, true, false, false, false, true},
        {1500, false, false, false, false, false}, {1010, false, true, false, false, true},
        {1010, false, true, true, false, false},   {1500, false, true, true, false, true},
        {1499, false, false, false, true, false},  {1500, false, false, false, true, true},
        {1010, true, false, false, true, false},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        w.now_ns = rows[i].now * NS_PER_MS;
        w.dirty = rows[i].dirty;
        w.urgent = rows[i].urgent;
        on_its_way = rows[i].settling;
        w.model->alert_count = 0;
        if (rows[i].flashes)
            list(PRIORITY_CAUTION, ALERT_RECTIFIED);
        else
            list(PRIORITY_CAUTION, ALERT_ACKNOWLEDGED);
        if (watch_wants_picture(&w) != rows[i].drawn)
            fail_msg("row %zu", i);
    }
}

/* What the list of alerts wants, and how long the longest of the alarms has waited for an answer.
 */
static void sound__alarms_that_wait(void **state)
{
    (void)state;
    w.model->now.mono_ns = 100 * NS_PER_S;
    struct sound_due due = watch_sound_due(&w);
    assert_true(due.sound == SOUND_NONE && !due.emergency && due.waiting_ns == 0);
    sounding = SOUND_WARNING;
    list(PRIORITY_WARNING, ALERT_UNACKNOWLEDGED)->raised.mono_ns = 10 * NS_PER_S;
    due = watch_sound_due(&w);
    assert_true(due.sound == SOUND_WARNING && !due.emergency && due.waiting_ns == 0);
    sounding = SOUND_ALARM;
    alerts[0].priority = PRIORITY_ALARM;
    assert_true(watch_sound_due(&w).waiting_ns == 90 * NS_PER_S);
    alerts[0].priority = PRIORITY_WARNING;
    list(PRIORITY_ALARM, ALERT_UNACKNOWLEDGED)->raised.mono_ns = 50 * NS_PER_S;
    list(PRIORITY_ALARM, ALERT_UNACKNOWLEDGED)->raised.mono_ns = 70 * NS_PER_S;
    struct alert *a = list(PRIORITY_EMERGENCY, ALERT_ACKNOWLEDGED);
    a->raised.mono_ns = 20 * NS_PER_S;
    due = watch_sound_due(&w);
    assert_true(due.sound == SOUND_ALARM && !due.emergency);
    assert_true(due.waiting_ns == 50 * NS_PER_S);
    a->state = ALERT_UNACKNOWLEDGED;
    due = watch_sound_due(&w);
    assert_true(due.emergency && due.waiting_ns == 80 * NS_PER_S);
    sounding = SOUND_WARNING; /* it does not sound */
    assert_false(watch_sound_due(&w).emergency);
}

#define WITH_WATCH(f) cmocka_unit_test_setup_teardown(f, begin, end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH_WATCH(sleep__until_something_is_to_be_done),
        WITH_WATCH(half_flash__as_configured_or_half_a_second),
        WITH_WATCH(picture__when_it_is_time_or_asked_for),
        WITH_WATCH(sound__alarms_that_wait),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
