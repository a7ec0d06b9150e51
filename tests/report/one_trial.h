/* One trial made by hand, for tests of its parts: settings and a trial of its own for each test.
 * The file that includes this says in `begin` what it is of. */
#ifndef STOKEHOLD_TESTS_REPORT_ONE_TRIAL_H
#define STOKEHOLD_TESTS_REPORT_ONE_TRIAL_H

#include "config/config.h"
#include "report/trial/inside.h"
#include "support/check.h"

static struct settings *settings;
static struct trial *t;
static struct trial_report *r;

static int begin(void **state);

static inline void configure(const char *text)
{
    struct config_messages *messages = NULL;

    settings_free(settings);
    settings = config_load_text("test", text, &messages);
    config_messages_free(messages);
    assert_non_null(settings);
}

/* By what was configured, else as the program comes. */
static inline void trial_of(int engines)
{
    if (!settings)
        configure("");
    t = trial_new(settings, NULL);
    assert_non_null(t);
    r = &t->report;
    r->engines = engines;
}

static inline int end(void **state)
{
    (void)state;
    trial_free(t);
    settings_free(settings);
    settings = NULL;
    return 0;
}

static inline void again(void **state)
{
    end(state);
    begin(state);
}

/* One value a second in [from, to). */
static inline struct trial_series *heard(enum quantity q, int place, int64_t from, int64_t to,
                                         double value)
{
    struct channel_id id = {.quantity = (uint16_t)q, .place = (uint8_t)place};
    struct trial_series *s = trial_series_of(t, id);

    for (int64_t i = from; i < to; i++)
        trial_series_add(t, s, i, value);
    trial_series_close(t, s);
    return s;
}

static inline struct trial_stat stat_of(double mean, double error)
{
    return (struct trial_stat){.n = 300, .mean = mean, .low = mean, .high = mean, .error = error};
}

#endif
