/* A boat with a season behind it. It is made up: an exhaust stands 12 K + 30 K u^2 over a sea of
 * 12 °C, u the share of 3000 rpm; coolant 80 °C, oil 4 bar. Its first trips were in May. */
#ifndef STOKEHOLD_TESTS_SEASONED_H
#define STOKEHOLD_TESTS_SEASONED_H

#include "rules/boat.h"

#include "season/kept.h"
#include "season/watch.h"

#define FIRST_NS (INT64_C(1746345600) * NS_PER_S) /* 2025-05-04 08:00 UTC */
#define DAY_NS   (86400 * NS_PER_S)

static struct season season;

static inline double exhaust_at(double rpm)
{
    double u = rpm / 3000;
    return 12 + 12 + 30 * u * u;
}

/* Five speeds of 700 s each; the exhausts so far over what they were when new. */
static inline void keep_trip(int64_t from_ns, double port_k, double starboard_k)
{
    static const double speeds[] = {1500, 2000, 2500, 3000, 700};
    struct season_watch *w = season_watch_new(&season);
    int64_t t = from_ns;
    for (int i = 0; i < 5; i++)
        for (int s = 0; s < 700; s++, t += NS_PER_S) {
            struct steps_second e[2];
            for (int k = 0; k < 2; k++) {
                e[k] = (struct steps_second){
                    .instance = (uint8_t)k, .running = true, .rpm = speeds[i]};
                for (int l = 0; l < SEASON_LOADS; l++)
                    e[k].load[l] = NAN;
                for (int v = 0; v < 16; v++)
                    e[k].value[v] = NAN;
                e[k].value[season_kept_row(QTY_EXHAUST)] =
                    exhaust_at(speeds[i]) + (k ? starboard_k : port_k);
                e[k].value[season_kept_row(QTY_COOLANT)] = 80;
                e[k].value[season_kept_row(QTY_OIL_PRESSURE)] = 400;
            }
            season_watch_second(w, t, 12, NAN, e, 2);
        }
    struct season_trip trip;
    const struct season_step *steps;
    int count, overlaps;
    assert_true(season_watch_trip(w, "t", &trip, &steps, &count));
    assert_true(season_add(&season, &trip, steps, count, &overlaps));
    season_watch_free(w);
}

static inline void first_trips(int64_t first_ns)
{
    season = (struct season){0};
    for (int i = 0; i < 3; i++)
        keep_trip(first_ns + 2 * i * DAY_NS, 0, 0);
}

/* The boat, with the season as it is now. */
static inline struct boat *boat_of_season(const char *text)
{
    struct boat *b = boat_new(text);
    keeper_free(b->keeper);
    b->settings->season = &season;
    b->keeper = keeper_new(b->settings, &(struct keeper_options){.expect = true});
    assert_non_null(b->keeper);
    alerts_listen(boat_alerts(b), boat_note, b);
    return b;
}

static inline void boat_end(struct boat *b)
{
    boat_free(b);
    season_free(&season);
}

/* So many seconds at a speed, both exhausts so far over what they were in May. */
static inline void sail(struct boat *b, int seconds, double rpm, double port_k, double starboard_k)
{
    for (int i = 0; i < seconds; i++) {
        b->rpm[0] = b->rpm[1] = rpm;
        b->exhaust[0] = exhaust_at(rpm) + port_k;
        b->exhaust[1] = exhaust_at(rpm) + starboard_k;
        boat_temp(b, 35, 0, 0, 12);
        boat_run(b, 1);
    }
}

#endif
