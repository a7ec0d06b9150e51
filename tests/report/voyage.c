#include "report/voyage.h"

#include "support/check.h"

#include "drill/frames.h"
#include "keeper/keeper.h"

#include <stdlib.h>

#define DEGREE 0.017453292519943295

double voyage_speed_kn(const struct voyage *v, double rpm)
{
    double x = rpm / v->rated_rpm;
    double lift = 1 / (1 + exp(-(x - v->lift_at) / v->lift_width)), low = x * (1 - v->hump);

    return v->full_kn * (low + (x - low) * lift);
}

/* One engine's power over rated, and its burn. The propeller asks for the cube. */
static double share_of_power(const struct voyage *v, double rpm)
{
    double x = rpm / v->rated_rpm;
    return x * x * x;
}

static double engine_burn(const struct voyage *v, int e, double rpm, bool neutral)
{
    double x = rpm / v->rated_rpm;
    double inside = (neutral ? 0 : share_of_power(v, rpm)) + v->friction * x;

    return rpm > 0 ? v->thirst[e] * v->rated_lph * inside / (1 + v->friction) : 0;
}

double voyage_burn_lph(const struct voyage *v, double rpm)
{
    double sum = 0;

    for (int e = 0; e < v->engines; e++)
        sum += engine_burn(v, e, rpm, false);
    return sum;
}

double voyage_economical_kn(const struct voyage *v, double from_rpm, double to_rpm)
{
    double cost[3] = {0, 0, 0}, best = NAN, least = INFINITY, before = 0;

    for (double rpm = from_rpm; rpm <= to_rpm; rpm += 1) {
        double kn = voyage_speed_kn(v, rpm);

        cost[0] = cost[1];
        cost[1] = cost[2];
        cost[2] = voyage_burn_lph(v, rpm) / kn;
        if (cost[0] > 0 && cost[1] < cost[0] && cost[1] <= cost[2] && cost[1] < least) {
            least = cost[1];
            best = before;
        }
        before = kn;
    }
    return best;
}

bool voyage_is_neutral(const struct voyage *v, double t_s)
{
    for (int i = 0; i < v->legs; i++) {
        if (t_s < v->leg[i].seconds)
            return v->leg[i].neutral || v->leg[i].share[0] < 0;
        t_s -= v->leg[i].seconds;
    }
    return true;
}

void voyage_plain(struct voyage *v)
{
    *v = (struct voyage){
        .seed = 1,
        .engines = 2,
        .tanks = 2,
        .rated_rpm = 2800,
        .idle_rpm = 680,
        .full_kn = 21,
        .hump = 0.6,
        .lift_at = 0.72,
        .lift_width = 0.07,
        .rated_lph = 38,
        .friction = 0.14,
        .thirst = {1, 1},
        .turn_deg_s = 6,
        .capacity_l = 300,
        .level = 0.8,
        .squat_power = 2,
        .receiver_kn = 0.03,
        .wander = 0.0005,
        .slosh = 0.003,
        .meter = {1, 1},
        .space_stuck_c = NAN,
        .coolant_step_k = 0.1,
    };
}

void voyage_add(struct voyage *v, double share, double course_deg, double seconds)
{
    assert_true(v->legs < VOYAGE_LEGS);
    v->leg[v->legs++] = (struct voyage_leg){{share, share}, course_deg, seconds, false};
}

static void add_neutral(struct voyage *v, double course_deg, double seconds)
{
    voyage_add(v, 0, course_deg, seconds);
    v->leg[v->legs - 1].neutral = true;
}

static void usual(struct voyage *v, double low, double course_deg, double settle_s, double run_s,
                  int speeds)
{
    double back = fmod(course_deg + 180, 360);

    voyage_add(v, -1, course_deg, 200);
    add_neutral(v, course_deg, 120);
    voyage_add(v, 0.7, course_deg, 700);
    for (int k = 0; k < speeds; k++) {
        double share = low + (1 - low) * k / (speeds - 1);

        voyage_add(v, share, course_deg, settle_s + run_s);
        voyage_add(v, share, back, run_s + 180 / v->turn_deg_s);
    }
    voyage_add(v, 0.3, back, 60);
    add_neutral(v, back, 300);
    voyage_add(v, -1, back, 240);
}

void voyage_usual(struct voyage *v)
{
    usual(v, 0.34, 40, 90, 150, 9);
}

void voyage_random(struct voyage *v, uint64_t seed)
{
    struct rng r;
    bool planing;

    rng_seed_stream(&r, seed, 7);
    voyage_plain(v);
    v->seed = seed;
    v->engines = rng_chance(&r, 0.6) ? 2 : 1;
    v->tanks =
        rng_chance(&r, 0.6) ? v->engines : 3 - v->engines; /* one engine on two, two on one */
    v->rated_rpm = rng_between(&r, 2300, 3600);
    v->idle_rpm = rng_between(&r, 600, 800);
    planing = rng_chance(&r, 0.6);
    v->full_kn = planing ? rng_between(&r, 16, 28) : rng_between(&r, 7, 11);
    v->hump = planing ? rng_between(&r, 0.45, 0.65) : 0;
    v->lift_at = rng_between(&r, 0.6, 0.78);
    v->lift_width = rng_between(&r, 0.05, 0.1);
    v->rated_lph = rng_between_log(&r, 8, 60);
    v->friction = rng_between(&r, 0.1, 0.18);
    v->thirst[1] = rng_between(&r, 0.94, 1.06);
    v->turn_deg_s = rng_between(&r, 1.2, 8);
    v->capacity_l = v->rated_lph * v->engines / v->tanks * rng_between(&r, 2.5, 8);
    v->level = rng_between(&r, 0.6, 0.9);
    v->squat = rng_between(&r, -0.02, 0.02);
    v->squat_power = rng_between(&r, 1, 3);
    v->current_kn = rng_between(&r, 0, 1.8);
    v->set_deg = rng_between(&r, 0, 360);
    v->turning_deg_h = rng_between(&r, -25, 25);
    v->rising_kn_h = rng_between(&r, -0.25, 0.25);
    v->eddy_kn = rng_between(&r, 0, 0.04);
    v->drift_kn = rng_between(&r, 0, 0.9);
    v->sea_kn = rng_between(&r, 0.02, 0.2);
    v->receiver_kn = rng_between(&r, 0.01, 0.08);
    v->log_gain = rng_chance(&r, 0.6) ? rng_between(&r, 0.93, 1.07) : 0;
    for (int e = 0; e < VOYAGE_ENGINES; e++)
        v->meter[e] = 1 + 0.01 * rng_normal(&r);
    v->wander = rng_between(&r, 0.0003, 0.003);
    v->slosh = rng_between(&r, 0.001, 0.01);
    v->no_torque = rng_chance(&r, 0.4);
    v->no_gear = rng_chance(&r, 0.2);
    usual(v, rng_between(&r, 0.3, 0.4), rng_between(&r, 0, 360), rng_between(&r, 80, 120),
          rng_between(&r, 130, 240), 7 + (int)rng_below(&r, 4));
    if (v->engines > 1 && rng_chance(&r, 0.3)) /* one does not come to full throttle */
        for (int i = 0; i < v->legs; i++)
            v->leg[i].share[1] = fmin(v->leg[i].share[1], rng_between(&r, 0.94, 0.99));
}

/* --- sailing ---------------------------------------------------------------------------- */

struct sea {
    const struct voyage *v;
    struct rng rng;
    struct drill_frames frames;
    void (*take)(void *ctx, const struct frame *f);
    void *ctx;
    double t_s, course_deg, speed_kn;
    double rpm[VOYAGE_ENGINES], exhaust_c[VOYAGE_ENGINES], coolant_c[VOYAGE_ENGINES];
    double oil_c[VOYAGE_ENGINES], burn_lph[VOYAGE_ENGINES], power[VOYAGE_ENGINES];
    double tank_l[VOYAGE_ENGINES];
    bool neutral, any_running;
    double space_c;
    /* noises that hang together */
    double wander[VOYAGE_ENGINES], sea, north, east, eddy_north, eddy_east, slosh[VOYAGE_ENGINES];
    struct voyage_truth truth;
};

/* First-order noise of standard deviation s that hangs together for tau_s seconds. */
static double hanging(struct sea *s, double *now, double sigma, double tau_s)
{
    double keep = exp(-1 / tau_s);

    *now = keep * *now + sigma * sqrt(1 - keep * keep) * rng_normal(&s->rng);
    return *now;
}

static void lag(double *now, double target, double tau_s)
{
    *now += (target - *now) / (tau_s + 1);
}

static void send(struct sea *s, enum drill_message_kind kind, int place, int sender, double late,
                 int n, const double *v)
{
    struct drill_message m = {.t_s = s->t_s + late,
                              .kind = kind,
                              .place = (uint8_t)place,
                              .engine = place,
                              .sender = (uint8_t)sender};

    for (int i = 0; i < n; i++)
        m.v[i] = (struct drill_value){isfinite(v[i]), v[i]};
    drill_frames_add(&s->frames, &m);
}

/* Feed and return; and of each no more than its flow. */
static void send_meters(struct sea *s, int e, bool runs)
{
    const struct voyage *v = s->v;
    double back = runs ? v->return_lph : 0;
    double flow[2] = {(s->burn_lph[e] + back) * v->meter[e], back};

    for (int i = 0; i < 2; i++) {
        double dynamic[] = {NAN, NAN, NAN, NAN, flow[i], NAN, NAN, NAN, NAN};
        send(s, DRILL_DYNAMIC, 10 + 2 * e + i, 0x40 + 2 * e + i, 0.15, 9, dynamic);
    }
}

static void send_engine(struct sea *s, int e)
{
    const struct voyage *v = s->v;
    bool goes_dark = e == 0 && v->port_dark_s > 0;
    bool runs = s->rpm[e] > 0 && !(goes_dark && v->port_key && s->t_s > v->port_dark_s - 20);
    double shown_rpm = runs ? s->rpm[e] + 1.5 * rng_normal(&s->rng) : 0;
    double coolant = s->coolant_c[e] + 0.02 * rng_normal(&s->rng) + (e == 1 ? v->coolant_off_k : 0);
    double torque = 100 * s->power[e] / fmax(s->rpm[e] / v->rated_rpm, 0.05);
    double rate = s->burn_lph[e] * v->meter[e] * (1 + 0.01 * rng_normal(&s->rng));
    double rapid[] = {shown_rpm, 100 + 90 * s->power[e]};
    double dynamic[] = {
        runs ? 150 + 250 * s->rpm[e] / v->rated_rpm : 0,
        s->oil_c[e],
        v->coolant_step_k * round(coolant / v->coolant_step_k),
        runs ? 14.1 : NAN,
        v->return_lph > 0 ? NAN : rate,
        800 + s->t_s / 3600,
        NAN,
        v->no_load ? NAN
                   : 100 * fmin(1, s->power[e] / fmin(1, 1.1 * s->rpm[e] / v->rated_rpm + 0.01)),
        v->no_torque ? NAN : torque};
    double gear[] = {s->neutral ? 0 : 1, runs ? 1500 : 0, 40};
    double exhaust[] = {s->exhaust_c[e] + 0.1 * rng_normal(&s->rng)};
    double trip[] = {s->truth.used_l[e] * v->meter[e], NAN, NAN, NAN};

    if (goes_dark && s->t_s > v->port_dark_s)
        return;
    send(s, DRILL_RAPID, e, 0x10 + e, 0.02, 2, rapid);
    if (v->return_lph > 0)
        send_meters(s, e, runs);
    send(s, DRILL_DYNAMIC, e, 0x10 + e, 0.1, 9, dynamic);
    if (!v->no_gear)
        send(s, DRILL_TRANSMISSION, e, 0x10 + e, 0.2, 3, gear);
    send(s, DRILL_TRIP_FUEL, e, 0x10 + e, 0.3, 4, trip);
    if ((long)s->t_s % 2 == e % 2 && !(v->exhaust_stops_s > 0 && s->t_s > v->exhaust_stops_s))
        send(s, DRILL_EXHAUST, e, 0x20 + e, 0.4, 1, exhaust);
}

static void send_ground(struct sea *s)
{
    const struct voyage *v = s->v;
    double heading = s->course_deg * DEGREE, hours = s->t_s / 3600;
    double set = (v->set_deg + v->turning_deg_h * hours) * DEGREE;
    double current = v->current_kn + v->rising_kn_h * hours;
    double north = s->speed_kn * cos(heading) + current * cos(set) + s->eddy_north;
    double east = s->speed_kn * sin(heading) + current * sin(set) + s->eddy_east;

    if (s->neutral || !s->any_running) /* the wind has her, unless lines do */
        north += s->any_running ? v->drift_kn : 0;
    hanging(s, &s->eddy_north, v->eddy_kn, 600);
    hanging(s, &s->eddy_east, v->eddy_kn, 600);
    hanging(s, &s->north, v->receiver_kn, 40);
    hanging(s, &s->east, v->receiver_kn, 40);
    north += s->north;
    east += s->east;
    if (!s->any_running) /* moored: what is left is the receiver's */
        north = s->north, east = s->east;
    double ground[] = {hypot(north, east), atan2(east, north) / DEGREE};
    double water[] = {fmax(0, s->speed_kn * v->log_gain + 0.02 * rng_normal(&s->rng))};

    if (!(v->position_stops_s > 0 && s->t_s > v->position_stops_s))
        send(s, DRILL_GROUND, 0, 0x26, 0.5, 2, ground);
    if (v->log_gain > 0)
        send(s, DRILL_WATER, 0, 0x27, 0.6, 1, water);
}

static void send_rest(struct sea *s)
{
    const struct voyage *v = s->v;
    double way = s->speed_kn / v->full_kn;
    double space[] = {isfinite(v->space_stuck_c) ? v->space_stuck_c
                                                 : s->space_c + 0.05 * rng_normal(&s->rng)};
    double air[] = {18 + 0.04 * rng_normal(&s->rng)}, sea[] = {16 + 0.03 * rng_normal(&s->rng)};

    for (int i = 0; i < v->tanks && !v->no_tanks; i++) {
        double moving = s->any_running && !s->neutral ? 1 : 0.3;
        double level[] = {s->tank_l[i] / v->capacity_l + v->squat * pow(way, v->squat_power) +
                              moving * hanging(s, &s->slosh[i], v->slosh, 4),
                          v->capacity_l, 0};

        level[0] = fmin(1, fmax(0, level[0]));
        if ((long)s->t_s % 3 == i)
            send(s, DRILL_TANK, i, 0x24, 0.7, 3, level);
    }
    if ((long)s->t_s % 2 == 0) {
        send(s, DRILL_SPACE, 0, 0x23, 0.75, 1, space);
        send(s, DRILL_AIR, 0, 0x23, 0.8, 1, air);
        send(s, DRILL_SEA, 0, 0x23, 0.85, 1, sea);
    }
}

static void turn(struct sea *s, double to_deg)
{
    double off = fmod(to_deg - s->course_deg + 540, 360) - 180;

    s->course_deg += fmax(-s->v->turn_deg_s, fmin(s->v->turn_deg_s, off));
}

static void step_engine(struct sea *s, int e, const struct voyage_leg *leg)
{
    const struct voyage *v = s->v;
    double share = leg->share[e], order = share < 0 ? 0 : fmax(share * v->rated_rpm, v->idle_rpm);
    bool runs;

    lag(&s->rpm[e], order, 1);
    if (share < 0 && s->rpm[e] < 200)
        s->rpm[e] = 0;
    runs = s->rpm[e] > 0;
    hanging(s, &s->wander[e], v->wander, 20);
    if (runs)
        s->rpm[e] *= 1 + s->wander[e] * (1 - exp(-1.0 / 20));
    s->power[e] = runs && !leg->neutral ? share_of_power(v, s->rpm[e]) : 0;
    s->burn_lph[e] = engine_burn(v, e, s->rpm[e], leg->neutral);
    s->truth.used_l[e] += s->burn_lph[e] / 3600;
    for (int i = 0; i < v->tanks; i++) {
        double part = v->tanks == v->engines ? i == e : 1.0 / v->tanks;

        s->tank_l[i] -= part * s->burn_lph[e] / 3600;
        s->truth.tank_used_l[i] += part * s->burn_lph[e] / 3600;
    }
    lag(&s->exhaust_c[e], runs ? 30 + 18 * s->power[e] + e + v->exhaust_more_k[e] : 20, 25);
    lag(&s->coolant_c[e], runs ? 79 + 5 * s->power[e] : 20, runs ? 100 : 3000);
    lag(&s->oil_c[e], runs ? 82 + 20 * s->power[e] : 20, runs ? 150 : 3000);
}

static void step(struct sea *s, const struct voyage_leg *leg)
{
    const struct voyage *v = s->v;
    double cube = 0, heat = 0;

    s->any_running = false;
    s->neutral = leg->neutral;
    turn(s, leg->course_deg);
    for (int e = 0; e < v->engines; e++) {
        step_engine(s, e, leg);
        s->any_running |= s->rpm[e] > 0;
        cube += share_of_power(v, s->rpm[e]) / v->engines;
        heat += s->burn_lph[e] / v->rated_lph / v->engines;
    }
    lag(&s->speed_kn,
        leg->neutral || !s->any_running ? 0 : voyage_speed_kn(v, cbrt(cube) * v->rated_rpm), 7);
    hanging(s, &s->sea, v->sea_kn, 15);
    lag(&s->space_c, 18 + (s->any_running ? 4 + 8 * heat : 0), 200);
}

static void sail_leg(struct sea *s, const struct voyage_leg *leg)
{
    const struct voyage *v = s->v;
    double end = s->t_s + leg->seconds;

    while (s->t_s < end) {
        double still = s->speed_kn;
        struct frame f;

        s->t_s += 1;
        step(s, leg);
        still = s->speed_kn;
        if (!leg->neutral && s->any_running)
            s->speed_kn = fmax(0, s->speed_kn + s->sea); /* the waves' part lasts a second */
        if (!(v->hole_every_s > 0 && fmod(s->t_s, v->hole_every_s) < v->hole_s)) {
            for (int e = 0; e < v->engines; e++)
                send_engine(s, e);
            send_ground(s);
            send_rest(s);
        }
        s->speed_kn = still;
        while (drill_frames_take(&s->frames, s->t_s + 1, &f)) {
            f.mono_ns = f.wall_ns - s->frames.epoch_ns + 1000 * NS_PER_S;
            s->take(s->ctx, &f);
        }
    }
}

void voyage_frames(const struct voyage *v, void (*take)(void *ctx, const struct frame *f),
                   void *ctx, struct voyage_truth *truth)
{
    struct sea *s = calloc(1, sizeof *s);
    static struct drill_plan plan; /* for the packers: which temperatures are fine */

    assert_non_null(s);
    s->v = v;
    s->take = take;
    s->ctx = ctx;
    rng_seed_stream(&s->rng, v->seed, 11);
    plan.sensors.fine_exhaust = true;
    plan.params.engines = v->engines;
    drill_frames_init(&s->frames, &plan, VOYAGE_EPOCH_NS);
    for (int e = 0; e < VOYAGE_ENGINES; e++) {
        s->exhaust_c[e] = s->coolant_c[e] = s->oil_c[e] = 18;
        if (v->warm_start) {
            s->coolant_c[e] = 55;
            s->oil_c[e] = 60;
        }
        s->tank_l[e] = v->capacity_l * v->level;
    }
    s->space_c = 18;
    s->course_deg = v->legs > 0 ? v->leg[0].course_deg : 0;
    for (int i = 0; i < v->legs; i++)
        sail_leg(s, &v->leg[i]);
    s->truth.seconds = s->t_s;
    if (truth)
        *truth = s->truth;
    free(s);
}

static void into_keeper(void *ctx, const struct frame *f)
{
    keeper_frames(ctx, f, 1);
}

void voyage_sail(const struct voyage *v, const struct settings *settings, struct trial *t,
                 struct voyage_truth *truth)
{
    struct keeper *k = keeper_new(settings, &(struct keeper_options){.escalate = false});

    assert_non_null(k);
    assert_true(trial_begin(t, k, "made/up.log"));
    voyage_frames(v, into_keeper, k, truth);
    trial_end(t);
    keeper_free(k);
}
