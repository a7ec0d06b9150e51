/* Clause numbers are of IMO Res. MSC.302(87), Bridge Alert Management. 7.4 and 7.5 (sound of a
 * warning, steadiness of a caution, the 5 min bound of escalation) are from memory. */
#include "support/check.h"

#include "alerts/alert.h"
#include "alerts/words.h"
#include "config/config.h"

#include <stdio.h>
#include <stdlib.h>

#define EVENTS 512

struct world {
    struct alert_list *l;
    struct alert_event events[EVENTS];
    struct alert copies[EVENTS];
    int n;
};

static struct stamp at(double s)
{
    struct stamp t = {(int64_t)(s * 1e9) + 1760000000 * NS_PER_S,
                      (int64_t)(s * 1e9) + 1000 * NS_PER_S};
    return t;
}

static void note(void *ctx, const struct alert_event *ev)
{
    struct world *w = ctx;
    assert_true(w->n < EVENTS);
    w->events[w->n] = *ev;
    w->copies[w->n++] = *ev->alert;
}

static struct world *begin(bool escalate)
{
    struct world *w = calloc(1, sizeof *w);
    struct alert_setting s = {.escalate_ns = 120 * NS_PER_S, .silence_ns = 30 * NS_PER_S};
    w->l = alerts_new(&s, escalate);
    assert_non_null(w->l);
    alerts_listen(w->l, note, w);
    return w;
}

static void end(struct world *w)
{
    alerts_free(w->l);
    free(w);
}

static struct alert_claim claim(uint32_t claimant, enum priority p, uint8_t place)
{
    struct alert_claim c = {
        .situation = {.group = SITUATION_CHANNEL, .id = {QTY_EXHAUST, place, 0}},
        .claimant = claimant,
        .kind = KIND_LIMIT,
        .rule = "exhaust-hot",
        .priority = p,
        .channel = "exhaust.0",
        .value = 94,
        .unit = UNIT_C,
        .text = "PORT EXHAUST 94 °C",
    };
    return c;
}

static void put(struct world *w, uint32_t claimant, enum priority p, uint8_t place, double t)
{
    struct alert_claim c = claim(claimant, p, place);
    alerts_claim(w->l, &c, at(t));
}

/* 7.3.1, 7.3.2: a new alarm is unacknowledged, with sound; 7.3.8: sound until acknowledged. */
static void alarm__raised__sounds_until_acknowledged(void **state)
{
    (void)state;
    struct world *w = begin(true);
    put(w, 1, PRIORITY_ALARM, 0, 0);
    const struct alert *a = alerts_at(w->l, 0);
    assert_int_equal(a->state, ALERT_UNACKNOWLEDGED);
    assert_int_equal(w->events[0].event, EVENT_RAISED);
    assert_int_equal(alerts_sound(w->l, at(3600)), SOUND_ALARM);
    assert_true(alerts_acknowledge(w->l, a->id, at(3601)));
    assert_int_equal(alerts_at(w->l, 0)->state, ALERT_ACKNOWLEDGED);
    assert_int_equal(alerts_sound(w->l, at(3601)), SOUND_NONE);
    assert_false(alerts_acknowledge(w->l, a->id, at(3602)));
    assert_false(alerts_acknowledge(w->l, 999, at(3602)));
    end(w);
}

/* 7.3.8: the sound ends when the condition is rectified; it stays listed until acknowledged. */
static void alarm__rectified_before_acknowledged__stays_listed(void **state)
{
    (void)state;
    struct world *w = begin(true);
    put(w, 1, PRIORITY_ALARM, 0, 0);
    alerts_withdraw(w->l, 1, at(5));
    const struct alert *a = alerts_at(w->l, 0);
    assert_int_equal(a->state, ALERT_RECTIFIED);
    assert_false(a->active);
    assert_int_equal(alerts_sound(w->l, at(5)), SOUND_NONE);
    assert_int_equal(alerts_history_count(w->l), 0);
    assert_true(alerts_acknowledge(w->l, a->id, at(9)));
    assert_int_equal(alerts_count(w->l), 0);
    assert_int_equal(alerts_history_count(w->l), 1);
    assert_int_equal(alerts_history_at(w->l, 0)->state, ALERT_NORMAL);
    assert_int_equal(w->events[w->n - 1].event, EVENT_ACKNOWLEDGED);
    end(w);
}

static void alarm__rectified_after_acknowledged__leaves_the_list(void **state)
{
    (void)state;
    struct world *w = begin(true);
    put(w, 1, PRIORITY_ALARM, 0, 0);
    alerts_acknowledge(w->l, 1, at(1));
    alerts_withdraw(w->l, 1, at(2));
    assert_int_equal(alerts_count(w->l), 0);
    assert_int_equal(w->events[w->n - 1].event, EVENT_RECTIFIED);
    assert_int_equal(w->copies[w->n - 1].state, ALERT_NORMAL);
    assert_int_equal(alerts_history_at(w->l, 0)->id, 1);
    end(w);
}

/* 7.4: one short sound, flashing until acknowledged. */
static void warning__raised__sounds_once(void **state)
{
    (void)state;
    struct world *w = begin(false);
    put(w, 1, PRIORITY_WARNING, 0, 0);
    assert_int_equal(alerts_sound(w->l, at(0)), SOUND_WARNING);
    assert_int_equal(alerts_sound(w->l, at(1.9)), SOUND_WARNING);
    assert_int_equal(alerts_sound(w->l, at(2.1)), SOUND_NONE);
    assert_int_equal(alerts_at(w->l, 0)->state, ALERT_UNACKNOWLEDGED);
    end(w);
}

/* 7.5: no sound, no acknowledgement, removed when rectified. */
static void caution__raised__needs_nobody(void **state)
{
    (void)state;
    struct world *w = begin(true);
    put(w, 1, PRIORITY_CAUTION, 0, 0);
    assert_int_equal(alerts_at(w->l, 0)->state, ALERT_ACKNOWLEDGED);
    assert_int_equal(alerts_sound(w->l, at(0)), SOUND_NONE);
    alerts_tick(w->l, at(1000));
    assert_int_equal(alerts_at(w->l, 0)->priority, PRIORITY_CAUTION);
    alerts_withdraw(w->l, 1, at(1001));
    assert_int_equal(alerts_count(w->l), 0);
    end(w);
}

/* 9.10: one action silences all; 7.3.5: not acknowledged within 30 s, it sounds again. */
static void silence__all_at_once__sounds_again_after_30_s(void **state)
{
    (void)state;
    struct world *w = begin(true);
    put(w, 1, PRIORITY_ALARM, 0, 0);
    put(w, 2, PRIORITY_ALARM, 1, 0);
    alerts_silence(w->l, at(10));
    assert_int_equal(alerts_at(w->l, 0)->state, ALERT_SILENCED);
    assert_int_equal(alerts_at(w->l, 1)->state, ALERT_SILENCED);
    assert_int_equal(alerts_sound(w->l, at(10)), SOUND_NONE);
    alerts_tick(w->l, at(39.99));
    assert_int_equal(alerts_sound(w->l, at(39.99)), SOUND_NONE);
    alerts_tick(w->l, at(40));
    assert_int_equal(alerts_sound(w->l, at(40)), SOUND_ALARM);
    assert_int_equal(alerts_at(w->l, 0)->state, ALERT_UNACKNOWLEDGED);
    end(w);
}

static void silence__setting_of_an_hour__is_30_s_all_the_same(void **state)
{
    (void)state;
    struct world *w = begin(true);
    struct alert_setting s = {.escalate_ns = 3600 * NS_PER_S, .silence_ns = 3600 * NS_PER_S};
    alerts_set(w->l, &s);
    put(w, 1, PRIORITY_ALARM, 0, 0);
    alerts_silence(w->l, at(0));
    alerts_tick(w->l, at(30));
    assert_int_equal(alerts_sound(w->l, at(30)), SOUND_ALARM);
    put(w, 2, PRIORITY_WARNING, 1, 0);
    alerts_tick(w->l, at(299));
    assert_int_equal(alerts_by_id(w->l, 2)->priority, PRIORITY_WARNING);
    alerts_tick(w->l, at(300)); /* upper bound 5 min */
    assert_int_equal(alerts_by_id(w->l, 2)->priority, PRIORITY_ALARM);
    end(w);
}

static void silence__new_alarm_while_silent__sounds(void **state)
{
    (void)state;
    struct world *w = begin(true);
    put(w, 1, PRIORITY_ALARM, 0, 0);
    alerts_silence(w->l, at(1));
    put(w, 2, PRIORITY_ALARM, 1, 2);
    assert_int_equal(alerts_sound(w->l, at(2)), SOUND_ALARM);
    end(w);
}

/* 6.2.2: an alarm may come of an unacknowledged warning. */
static void warning__unacknowledged_for_the_set_time__becomes_alarm(void **state)
{
    (void)state;
    struct world *w = begin(true);
    put(w, 1, PRIORITY_WARNING, 0, 0);
    alerts_tick(w->l, at(119.9));
    assert_int_equal(alerts_at(w->l, 0)->priority, PRIORITY_WARNING);
    alerts_silence(w->l, at(119.95));
    alerts_tick(w->l, at(120));
    assert_int_equal(alerts_at(w->l, 0)->priority, PRIORITY_ALARM);
    assert_int_equal(alerts_at(w->l, 0)->state, ALERT_UNACKNOWLEDGED);
    assert_int_equal(w->events[w->n - 1].event, EVENT_ESCALATED);
    put(w, 1, PRIORITY_WARNING, 0, 121); /* the claim itself is still a warning */
    assert_int_equal(alerts_at(w->l, 0)->priority, PRIORITY_ALARM);
    alerts_acknowledge(w->l, 1, at(122));
    put(w, 1, PRIORITY_WARNING, 0, 123);
    assert_int_equal(alerts_at(w->l, 0)->priority, PRIORITY_ALARM);
    end(w);
}

static void warning__acknowledged__never_grows_by_time(void **state)
{
    (void)state;
    struct world *w = begin(true);
    put(w, 1, PRIORITY_WARNING, 0, 0);
    alerts_acknowledge(w->l, 1, at(1));
    alerts_tick(w->l, at(10000));
    assert_int_equal(alerts_at(w->l, 0)->priority, PRIORITY_WARNING);
    end(w);
}

/* What will be trouble in weeks is no emergency of the next minute: its warning is repeated (7.4).
 */
static void warning_of_the_season__unacknowledged__sounds_again_as_a_warning(void **state)
{
    (void)state;
    struct world *w = begin(true);
    struct alert_claim c = claim(1, PRIORITY_WARNING, 0);
    c.kind = KIND_SEASON;
    alerts_claim(w->l, &c, at(0));
    int told = w->n;
    for (int t = 1; t <= 1000; t++) {
        alerts_tick(w->l, at(t));
        assert_int_equal(alerts_at(w->l, 0)->priority, PRIORITY_WARNING);
        bool sounds = t < 2 || (t >= 120 && t % 120 < 2);
        assert_int_equal(alerts_sound(w->l, at(t)), sounds ? SOUND_WARNING : SOUND_NONE);
    }
    assert_int_equal(w->n, told);
    end(w);
}

static void warning__escalation_off__stays(void **state)
{
    (void)state;
    struct world *w = begin(false);
    put(w, 1, PRIORITY_WARNING, 0, 0);
    alerts_tick(w->l, at(10000));
    assert_int_equal(alerts_at(w->l, 0)->priority, PRIORITY_WARNING);
    end(w);
}

/* 5.2: not more than one alert for one situation. */
static void claims__same_situation__share_one_alert(void **state)
{
    (void)state;
    struct world *w = begin(false);
    put(w, 1, PRIORITY_WARNING, 0, 0);
    put(w, 2, PRIORITY_ALARM, 0, 1);
    assert_int_equal(alerts_count(w->l), 1);
    assert_int_equal(w->n, 2);
    assert_int_equal(w->events[1].event, EVENT_ESCALATED);
    put(w, 3, PRIORITY_ALARM, 0, 2);
    assert_int_equal(w->n, 2); /* nothing new to say */
    alerts_withdraw(w->l, 2, at(3));
    alerts_withdraw(w->l, 3, at(3));
    assert_true(alerts_at(w->l, 0)->active);
    /* nobody has seen the alarm yet: it does not shrink */
    assert_int_equal(alerts_at(w->l, 0)->priority, PRIORITY_ALARM);
    alerts_acknowledge(w->l, 1, at(4));
    put(w, 1, PRIORITY_WARNING, 0, 5);
    assert_int_equal(alerts_at(w->l, 0)->priority, PRIORITY_WARNING);
    put(w, 2, PRIORITY_ALARM, 0, 6); /* and grows again, to be seen again */
    assert_int_equal(alerts_at(w->l, 0)->state, ALERT_UNACKNOWLEDGED);
    alerts_withdraw(w->l, 1, at(7));
    assert_true(alerts_at(w->l, 0)->active);
    alerts_withdraw(w->l, 2, at(8));
    assert_false(alerts_at(w->l, 0)->active);
    end(w);
}

static void claims__one_claimant_too_many__weaker_is_left_out(void **state)
{
    (void)state;
    struct world *w = begin(false);
    for (uint32_t i = 1; i <= ALERT_CLAIMS_MAX + 1; i++)
        put(w, i, PRIORITY_WARNING, 0, i);
    put(w, 100, PRIORITY_ALARM, 0, 50);
    assert_int_equal(alerts_at(w->l, 0)->priority, PRIORITY_ALARM);
    assert_true(alerts_acknowledge(w->l, alerts_at(w->l, 0)->id, at(51)));
    alerts_withdraw(w->l, 100, at(51));
    assert_int_equal(alerts_at(w->l, 0)->priority, PRIORITY_WARNING);
    for (uint32_t i = 1; i < ALERT_CLAIMS_MAX; i++) { /* the last gave way to the alarm */
        assert_int_equal(alerts_count(w->l), 1);
        alerts_withdraw(w->l, i, at(51 + i));
    }
    assert_int_equal(alerts_count(w->l), 0);
    end(w);
}

static void alert__flapping_unacknowledged__is_one_that_repeats(void **state)
{
    (void)state;
    struct world *w = begin(false);
    for (int i = 0; i < 10; i++) {
        put(w, 1, PRIORITY_ALARM, 0, 10 * i);
        alerts_withdraw(w->l, 1, at(10 * i + 5));
    }
    assert_int_equal(alerts_count(w->l), 1);
    assert_int_equal(alerts_at(w->l, 0)->id, 1);
    assert_int_equal(alerts_at(w->l, 0)->repeats, 9);
    put(w, 1, PRIORITY_ALARM, 0, 200);
    assert_int_equal(alerts_sound(w->l, at(200)), SOUND_ALARM);
    end(w);
}

/* Whichever of three leaves, the other two stay in their order. */
static void list__one_of_three_leaves__the_others_stay(void **state)
{
    (void)state;
    for (uint32_t gone = 1; gone <= 3; gone++) {
        struct world *w = begin(false);
        uint32_t order[2];
        int n = 0;

        for (uint32_t i = 1; i <= 3; i++)
            put(w, i, PRIORITY_CAUTION, (uint8_t)i, i);
        for (size_t i = 0; i < 3; i++)
            if (alerts_at(w->l, i)->situation.id.place != gone)
                order[n++] = alerts_at(w->l, i)->id;
        assert_int_equal(n, 2);
        alerts_withdraw(w->l, gone, at(5)); /* a caution needs nobody */
        assert_int_equal(alerts_count(w->l), 2);
        for (size_t i = 0; i < 2; i++)
            assert_int_equal(alerts_at(w->l, i)->id, order[i]);
        end(w);
    }
}

/* What is made of words follows its channel; what is a finished line, or is over, or of another
 * quantity, does not. */
static void follow__a_figure__where_the_words_are_about_it(void **state)
{
    struct words hot = {.subject = "PORT COOLANT",
                        .quantity = QTY_COOLANT,
                        .value = 95,
                        .rate_per_min = NAN,
                        .limit = NAN};
    struct world *w = begin(false);
    struct alert_claim c = claim(1, PRIORITY_CAUTION, 0);

    (void)state;
    c.words = &hot;
    alerts_claim(w->l, &c, at(0));
    assert_false(alerts_follow(w->l, 0, QTY_COOLANT, 95)); /* the same */
    assert_false(alerts_follow(w->l, 0, QTY_OIL_TEMP, 96));
    assert_false(alerts_follow(w->l, 0, QTY_COOLANT, NAN));
    assert_false(alerts_follow(w->l, 1, QTY_COOLANT, 96)); /* there is no second */
    assert_true(alerts_follow(w->l, 0, QTY_COOLANT, 96));
    assert_near(alerts_at(w->l, 0)->value, 96, 0);
    assert_non_null(strstr(alerts_at(w->l, 0)->text, "PORT COOLANT 96 °C"));
    end(w);
    w = begin(false);
    put(w, 1, PRIORITY_ALARM, 0, 0); /* a line */
    assert_false(alerts_follow(w->l, 0, QTY_EXHAUST, 96));
    c.priority = PRIORITY_ALARM;
    c.claimant = 2;
    c.situation.id.place = 1;
    alerts_claim(w->l, &c, at(1));
    alerts_withdraw(w->l, 2, at(2)); /* over, and not acknowledged */
    for (size_t i = 0; i < 2; i++)
        assert_false(alerts_follow(w->l, i, QTY_COOLANT, 97));
    end(w);
}

/* The same trouble that comes and goes, in words: how often it came, and since when. */
static void flapping__in_words__says_how_often(void **state)
{
    struct words lost = {.subject = "PORT EXHAUST",
                         .quantity = QTY_NONE,
                         .value = NAN,
                         .rate_per_min = NAN,
                         .limit = NAN,
                         .more = " silent" WORDS_MORE_END ", and more"};
    struct world *w = begin(false);
    struct alert_claim c = claim(1, PRIORITY_WARNING, 0);

    (void)state;
    alerts_utc(w->l, true);
    c.words = &lost;
    for (int i = 0; i < 6; i++) {
        alerts_claim(w->l, &c, at(10 * i));
        if (i < 5)
            alerts_withdraw(w->l, 1, at(10 * i + 5));
    }
    assert_int_equal(alerts_at(w->l, 0)->repeats, 5);
    assert_non_null(strstr(alerts_at(w->l, 0)->text, "PORT EXHAUST silent, 6 times since 08:53"));
    end(w);
}

static void alert__rectified_alarm_then_warning__both_are_listed(void **state)
{
    (void)state;
    struct world *w = begin(false);
    put(w, 1, PRIORITY_ALARM, 0, 0);
    alerts_withdraw(w->l, 1, at(1));
    put(w, 2, PRIORITY_WARNING, 0, 2);
    assert_int_equal(alerts_count(w->l), 2);
    assert_int_equal(alerts_at(w->l, 0)->priority, PRIORITY_ALARM);
    assert_int_equal(alerts_at(w->l, 1)->priority, PRIORITY_WARNING);
    end(w);
}

/* 9.8, 9.9: only one by one; acknowledging one never hides another (MODU Code 8.7.4). */
static void acknowledge__one_of_three__leaves_the_others(void **state)
{
    (void)state;
    struct world *w = begin(false);
    for (uint32_t i = 1; i <= 3; i++)
        put(w, i, PRIORITY_ALARM, (uint8_t)i, i);
    assert_true(alerts_acknowledge(w->l, 2, at(4)));
    assert_int_equal(alerts_count(w->l), 3);
    assert_int_equal(alerts_at(w->l, 0)->id, 3); /* unacknowledged first, newest first */
    assert_int_equal(alerts_at(w->l, 1)->id, 1);
    assert_int_equal(alerts_at(w->l, 2)->id, 2);
    assert_int_equal(alerts_sound(w->l, at(4)), SOUND_ALARM);
    end(w);
}

/* Coolant may lead the words for a while: what the exhaust reached is not forgotten. */
static void worst__another_channel_leads_in_between__is_kept(void **state)
{
    struct world *w = begin(false);
    struct alert_claim exhaust = claim(1, PRIORITY_ALARM, 0);
    struct alert_claim coolant = claim(2, PRIORITY_EMERGENCY, 0);

    (void)state;
    exhaust.worse = coolant.worse = 1;
    exhaust.beyond = true;
    coolant.channel = "coolant.0";
    exhaust.value = 209;
    alerts_claim(w->l, &exhaust, at(1));
    coolant.value = 108;
    alerts_claim(w->l, &coolant, at(2));
    assert_string_equal(alerts_at(w->l, 0)->channel, "coolant.0");
    assert_near(alerts_at(w->l, 0)->worst, 108, 0);
    exhaust.value = 211; /* while the other leads */
    alerts_claim(w->l, &exhaust, at(3));
    exhaust.value = 197;
    alerts_claim(w->l, &exhaust, at(60));
    alerts_withdraw(w->l, 2, at(61));
    assert_string_equal(alerts_at(w->l, 0)->channel, "exhaust.0");
    assert_near(alerts_at(w->l, 0)->worst, 211, 0);
    assert_int_equal(alerts_at(w->l, 0)->worst_at.mono_ns, at(3).mono_ns);
    assert_int_equal(alerts_at(w->l, 0)->limit_passed.mono_ns, at(1).mono_ns);
    end(w);
}

static void order__priorities__worst_first(void **state)
{
    (void)state;
    struct world *w = begin(false);
    put(w, 1, PRIORITY_CAUTION, 1, 1);
    put(w, 2, PRIORITY_EMERGENCY, 2, 2);
    put(w, 3, PRIORITY_WARNING, 3, 3);
    put(w, 4, PRIORITY_ALARM, 4, 4);
    char letters[5] = "";
    for (size_t i = 0; i < 4; i++)
        letters[i] = alert_priority_letter(alerts_at(w->l, i)->priority);
    assert_string_equal(letters, "EAWC"); /* priority letters of IEC 61924-2 */
    assert_null(alerts_at(w->l, 4));
    assert_int_equal(alerts_count_priority(w->l, PRIORITY_ALARM), 1);
    end(w);
}

/* 9.11: at least 20 at once. */
static void list__twenty_five__all_are_held(void **state)
{
    (void)state;
    struct world *w = begin(false);
    for (uint32_t i = 1; i <= 25; i++)
        put(w, i, PRIORITY_ALARM, (uint8_t)i, i);
    assert_int_equal(alerts_count(w->l), 25);
    for (size_t i = 0; i < 25; i++)
        assert_int_equal(alerts_at(w->l, i)->id, 25 - i);
    assert_int_equal(alerts_lost(w->l), 0);
    end(w);
}

/* Whether there is an alert of the exhaust at this place. */
static bool listed(const struct world *w, uint8_t place)
{
    for (size_t i = 0; i < alerts_count(w->l); i++)
        if (alerts_at(w->l, i)->situation.id.place == place)
            return true;
    return false;
}

static void list__full__weakest_gives_way(void **state)
{
    (void)state;
    struct world *w = begin(false);
    for (uint32_t i = 1; i <= ALERTS_MAX; i++)
        put(w, i, PRIORITY_WARNING, (uint8_t)i, i);
    put(w, 500, PRIORITY_WARNING, 200, 500);
    assert_int_equal(alerts_count(w->l), ALERTS_MAX);
    assert_false(listed(w, 200));
    assert_int_equal(alerts_lost(w->l), 1);
    put(w, 501, PRIORITY_ALARM, 201, 501);
    assert_int_equal(alerts_count(w->l), ALERTS_MAX);
    assert_true(listed(w, 201));
    assert_int_equal(alerts_at(w->l, 0)->priority, PRIORITY_ALARM);
    alerts_withdraw(w->l, 60, at(502));
    put(w, 502, PRIORITY_WARNING, 202, 503);
    assert_true(listed(w, 202));
    assert_null(alerts_by_id(w->l, 60));
    end(w);
}

static void history__overfull__keeps_the_newest(void **state)
{
    (void)state;
    struct world *w = begin(false);
    int n = ALERTS_HISTORY + 10;
    alerts_free(w->l);
    w->l = alerts_new(NULL, false);
    for (int i = 1; i <= n; i++) {
        double s = i * 301.0; /* slow enough not to be one that flaps */
        put(w, 1, PRIORITY_CAUTION, 0, s);
        alerts_withdraw(w->l, 1, at(s + 0.5));
    }
    assert_int_equal(alerts_history_count(w->l), ALERTS_HISTORY);
    assert_int_equal(alerts_history_at(w->l, 0)->id, n);
    assert_int_equal(alerts_history_at(w->l, ALERTS_HISTORY - 1)->id, 11);
    assert_null(alerts_history_at(w->l, ALERTS_HISTORY));
    end(w);
}

static void update__new_figures__are_told_apart_from_news(void **state)
{
    (void)state;
    struct world *w = begin(false);
    put(w, 1, PRIORITY_ALARM, 0, 0);
    struct alert_claim c = claim(1, PRIORITY_ALARM, 0);
    c.text = "PORT EXHAUST 99 °C";
    c.value = 99;
    alerts_claim(w->l, &c, at(1));
    assert_int_equal(w->events[1].event, EVENT_UPDATED);
    assert_near(alerts_at(w->l, 0)->value, 99, 0);
    assert_string_equal(alerts_at(w->l, 0)->text, "PORT EXHAUST 99 °C");
    assert_string_equal(alerts_by_id(w->l, 1)->text, "PORT EXHAUST 99 °C");
    alerts_claim(w->l, &c, at(2));
    assert_int_equal(w->n, 2);
    alerts_withdraw(w->l, 77, at(3)); /* nobody's claim */
    assert_int_equal(w->n, 2);
    end(w);
}

/* One that has no words of its own (a bus condition, what was restored) keeps its text; where a
 * stronger claim falls, the weaker one speaks in the new units too. */
static void reword__claims_behind_and_none__each_as_it_must(void **state)
{
    (void)state;
    struct world *w = begin(false);
    struct config_messages *messages = NULL;
    struct settings *s = config_load_text("t", "[units]\ntemperature = F\n", &messages);
    config_messages_free(messages);
    assert_non_null(s);
    struct words hot = {.subject = "PORT COOLANT",
                        .quantity = QTY_COOLANT,
                        .value = 95, /* 203 °F */
                        .rate_per_min = NAN,
                        .limit = NAN};
    struct alert_claim c = claim(1, PRIORITY_WARNING, 0);
    c.text = "PORT COOLANT 95 °C";
    c.words = &hot;
    alerts_claim(w->l, &c, at(0));
    put(w, 2, PRIORITY_ALARM, 0, 1);
    hot.value = 0; /* words are copied */
    alerts_reword(w->l, s);
    assert_string_equal(alerts_at(w->l, 0)->text, "PORT EXHAUST 94 °C");
    assert_int_equal(w->n, 2);
    alerts_withdraw(w->l, 2, at(3));
    assert_string_equal(alerts_at(w->l, 0)->text, "PORT COOLANT 203 °F");
    settings_free(s);
    end(w);
}

/* An acknowledged alarm that has become a caution stands below an acknowledged warning at once. */
static void acknowledged__becomes_less__takes_its_place_in_the_list(void **state)
{
    (void)state;
    struct world *w = begin(false);
    put(w, 1, PRIORITY_ALARM, 0, 10);
    put(w, 2, PRIORITY_WARNING, 1, 11);
    for (size_t i = 0; i < 2; i++)
        assert_true(alerts_acknowledge(w->l, alerts_at(w->l, i)->id, at(20 + (double)i)));
    uint32_t first = alerts_at(w->l, 0)->id;
    assert_int_equal(alerts_at(w->l, 0)->priority, PRIORITY_ALARM);
    put(w, 1, PRIORITY_CAUTION, 0, 30);
    assert_int_equal(alerts_at(w->l, 0)->priority, PRIORITY_WARNING);
    assert_int_equal(alerts_at(w->l, 1)->priority, PRIORITY_CAUTION);
    assert_int_equal(alerts_at(w->l, 1)->id, first);
    end(w);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(acknowledged__becomes_less__takes_its_place_in_the_list),
        cmocka_unit_test(alarm__raised__sounds_until_acknowledged),
        cmocka_unit_test(alarm__rectified_before_acknowledged__stays_listed),
        cmocka_unit_test(alarm__rectified_after_acknowledged__leaves_the_list),
        cmocka_unit_test(warning__raised__sounds_once),
        cmocka_unit_test(caution__raised__needs_nobody),
        cmocka_unit_test(silence__all_at_once__sounds_again_after_30_s),
        cmocka_unit_test(silence__setting_of_an_hour__is_30_s_all_the_same),
        cmocka_unit_test(silence__new_alarm_while_silent__sounds),
        cmocka_unit_test(warning__unacknowledged_for_the_set_time__becomes_alarm),
        cmocka_unit_test(warning__acknowledged__never_grows_by_time),
        cmocka_unit_test(warning_of_the_season__unacknowledged__sounds_again_as_a_warning),
        cmocka_unit_test(warning__escalation_off__stays),
        cmocka_unit_test(claims__same_situation__share_one_alert),
        cmocka_unit_test(claims__one_claimant_too_many__weaker_is_left_out),
        cmocka_unit_test(alert__flapping_unacknowledged__is_one_that_repeats),
        cmocka_unit_test(list__one_of_three_leaves__the_others_stay),
        cmocka_unit_test(follow__a_figure__where_the_words_are_about_it),
        cmocka_unit_test(flapping__in_words__says_how_often),
        cmocka_unit_test(alert__rectified_alarm_then_warning__both_are_listed),
        cmocka_unit_test(acknowledge__one_of_three__leaves_the_others),
        cmocka_unit_test(worst__another_channel_leads_in_between__is_kept),
        cmocka_unit_test(order__priorities__worst_first),
        cmocka_unit_test(list__twenty_five__all_are_held),
        cmocka_unit_test(list__full__weakest_gives_way),
        cmocka_unit_test(history__overfull__keeps_the_newest),
        cmocka_unit_test(update__new_figures__are_told_apart_from_news),
        cmocka_unit_test(reword__claims_behind_and_none__each_as_it_must),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
