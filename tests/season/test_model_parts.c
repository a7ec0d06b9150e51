/* The small parts of what a season says: months, words, which channels and which first steps. */
#include "season/kept.h"
#include "season/model.h"
#include "support/check.h"

#include <stdio.h>

#define S   INT64_C(1000000000)
#define DAY (INT64_C(86400) * S)

/* Seconds since 1970 of the first and the last second of each month of 2026, as `date -u +%s` has
 * them. */
static void month__to_the_second(void **state)
{
    static const struct {
        int64_t first_s, last_s;
        const char *name;
    } rows[] = {
        {1767225600, 1769903999, "January"},   {1769904000, 1772323199, "February"},
        {1772323200, 1775001599, "March"},     {1775001600, 1777593599, "April"},
        {1777593600, 1780271999, "May"},       {1780272000, 1782863999, "June"},
        {1782864000, 1785542399, "July"},      {1785542400, 1788220799, "August"},
        {1788220800, 1790812799, "September"}, {1790812800, 1793491199, "October"},
        {1793491200, 1796083199, "November"},  {1796083200, 1798761599, "December"},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        assert_string_equal(season_month(rows[i].first_s * S), rows[i].name);
        assert_string_equal(season_month(rows[i].last_s * S + S - 1), rows[i].name);
    }
}

static void level__in_words(void **state)
{
    (void)state;
    assert_string_equal(season_level_word(SEASON_QUIET), "none");
    assert_string_equal(season_level_word(SEASON_QUESTION), "question");
    assert_string_equal(season_level_word(SEASON_CAUTION), "caution");
    assert_string_equal(season_level_word(SEASON_WARNING), "warning");
}

static struct season season;

/* One step of a channel at this speed; 0: at rest. */
static struct season_step step_of(enum quantity q, int place, double rpm)
{
    return (struct season_step){.id = {.quantity = (uint16_t)q, .place = (uint8_t)place},
                                .rpm = rpm,
                                .load = NAN,
                                .sea_c = NAN,
                                .air_c = NAN,
                                .mean = 50,
                                .minutes = 5};
}

static void sail(int day, const struct season_step *steps, int count)
{
    struct season_step copy[8];
    struct season_trip trip = {.from_ns = day * DAY, .to_ns = day * DAY + 3600 * S};
    int overlaps;

    for (int i = 0; i < count; i++) {
        copy[i] = steps[i];
        copy[i].wall_ns = trip.from_ns + (i + 1) * 60 * S;
    }
    assert_true(season_add(&season, &trip, copy, count, &overlaps));
}

/* Each channel once, by the order of the table of channels and then by place; no more than asked.
 */
static void channels__once_each_in_a_fixed_order(void **state)
{
    const struct season_step steps[] = {
        step_of(QTY_BOOST, 0, 2000),   step_of(QTY_COOLANT, 255, 2000),
        step_of(QTY_COOLANT, 0, 2000), step_of(QTY_EXHAUST, 1, 0),
        step_of(QTY_COOLANT, 0, 1500), step_of(QTY_SEA, 0, 1500), /* none that is kept */
    };
    struct channel_id id[8];

    (void)state;
    season = (struct season){0};
    sail(100, steps, 6);
    assert_int_equal(season_channels(&season, id, 8), 4);
    assert_int_equal(id[0].quantity, QTY_EXHAUST);
    assert_int_equal(id[0].place, 1);
    assert_int_equal(id[1].quantity, QTY_COOLANT);
    assert_int_equal(id[1].place, 0);
    assert_int_equal(id[2].quantity, QTY_COOLANT);
    assert_int_equal(id[2].place, 255);
    assert_int_equal(id[3].quantity, QTY_BOOST);
    assert_int_equal(season_channels(&season, id, 2), 2);
    season_free(&season);
}

/* The running steps of the first trips that know the channel, and after work that was marked of the
 * first since then. */
static void first_steps__running__of_the_first_trips_or_since_the_work(void **state)
{
    const struct season_step with[] = {step_of(QTY_COOLANT, 0, 0), step_of(QTY_COOLANT, 0, 1500),
                                       step_of(QTY_COOLANT, 1, 1500),
                                       step_of(QTY_COOLANT, 0, 2500)};
    const struct season_step without[] = {step_of(QTY_EXHAUST, 0, 1500)};
    const struct channel_id coolant = {.quantity = QTY_COOLANT};
    const struct season_step *out[64];

    (void)state;
    season = (struct season){0};
    for (int day = 100; day < 112; day++) {
        if (day == 101)
            sail(day, without, 1);
        else
            sail(day, with, 4);
    }
    int n = season_first_steps(&season, coolant, out, 64);
    assert_int_equal(n, 2 * SEASON_FIRST_TRIPS);
    for (int i = 0; i < n; i++) {
        assert_true(out[i]->rpm > 0);
        assert_int_equal(out[i]->id.place, 0);
    }
    assert_true(season.trips[out[0]->trip].from_ns == 100 * DAY);
    assert_true(season.trips[out[2]->trip].from_ns == 102 * DAY); /* one that does not know it */
    assert_int_equal(season_first_steps(&season, coolant, out, 3), 3);
    struct season_mark work = {.wall_ns = 106 * DAY, .all = true};
    assert_true(season_mark(&season, &work));
    n = season_first_steps(&season, coolant, out, 64);
    assert_int_equal(n, 2 * SEASON_FIRST_TRIPS);
    assert_true(season.trips[out[0]->trip].from_ns == 106 * DAY); /* that very moment counts */
    season_free(&season);
}

/* As it stood before the work: a trip that begins at that very moment is after it, and neither it
 * nor its speeds count. */
static void before_the_work__what_comes_later_does_not_count(void **state)
{
    static struct season_story story;
    const struct channel_id coolant = {.quantity = QTY_COOLANT}, oil = {.quantity = QTY_OIL_TEMP};

    (void)state;
    season = (struct season){0};
    for (int day = 100; day < 110; day++) {
        const struct season_step steps[] = {step_of(QTY_COOLANT, 0, day < 106 ? 1500 : 3000),
                                            step_of(QTY_COOLANT, 0, day < 106 ? 2500 : 4000)};
        sail(day, steps, 2);
    }
    assert_true(
        season_mark(&season, &(struct season_mark){.wall_ns = 106 * DAY, .concerns = coolant}));
    assert_true(season_tell_before(&season, coolant, 0, &story));
    assert_int_equal(story.trips, 6);
    assert_near(story.normal.rpm_unit, 2500, 0);
    assert_false(season_tell_before(&season, oil, 0, &story)); /* it concerns another */
    assert_false(season_tell_before(&season, coolant, 1, &story));
    assert_false(season_tell_before(&season, coolant, -1, &story));
    assert_int_equal(season.trip_count, 10); /* all is there as it was */
    assert_int_equal(season.step_count, 20);
    season_free(&season);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(month__to_the_second),
        cmocka_unit_test(level__in_words),
        cmocka_unit_test(before_the_work__what_comes_later_does_not_count),
        cmocka_unit_test(channels__once_each_in_a_fixed_order),
        cmocka_unit_test(first_steps__running__of_the_first_trips_or_since_the_work),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
