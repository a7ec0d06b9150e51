/* The whole report as one JSON object: base units, names as the channels'. */
#include "report/trial/write.h"

#include "base/json.h"
#include "base/text.h"
#include "report/papers/write.h"
#include "report/trial/highs.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

/* Writes one closed object without its line end; pieces are small enough never to overflow. */
static void put_object(FILE *out, struct json *j, bool more)
{
    const char *text = json_close(j);

    if (!text)
        return;
    for (; *text && *text != '\n'; text++)
        fputc(*text, out);
    fputs(more ? ",\n" : "\n", out);
}

static void stat_number(struct json *j, const char *key, const struct trial_stat *s, int decimals)
{
    json_number(j, key, s->n > 0 ? s->mean : NAN, decimals);
}

static void engine_objects(char *buf, size_t cap, const struct trial_engine *all, uint8_t engines)
{
    text_copy(buf, cap, "[");
    for (int e = 0; e < TRIAL_ENGINES; e++) {
        const struct trial_engine *m = &all[e];
        struct json j;
        char one[700];
        const char *text;
        size_t len;

        if (!(engines & 1u << e))
            continue;
        json_open(&j, one, sizeof one);
        json_integer(&j, "engine", e);
        stat_number(&j, "rpm", &m->rpm, 1);
        stat_number(&j, "fuel_rate", &m->fuel_rate, 2);
        stat_number(&j, "load", &m->load, 1);
        stat_number(&j, "torque", &m->torque, 1);
        stat_number(&j, "exhaust", &m->exhaust, 2);
        json_number(&j, "exhaust_high", m->exhaust.n > 0 ? m->exhaust.high : NAN, 2);
        stat_number(&j, "exhaust_gas", &m->exhaust_gas, 2);
        stat_number(&j, "coolant", &m->coolant, 2);
        stat_number(&j, "oil_temp", &m->oil_temp, 2);
        stat_number(&j, "oil_pressure", &m->oil_pressure, 1);
        stat_number(&j, "boost", &m->boost, 1);
        stat_number(&j, "alternator", &m->alternator, 2);
        text = json_close(&j);
        len = text ? strlen(text) - 1 : 0;
        text_append(buf, cap, "%s%.*s", buf[1] ? "," : "", (int)len, text ? text : "");
    }
    text_append(buf, cap, "]");
}

static void json_steps(FILE *out, const struct trial_report *r)
{
    char buf[8192], engines[6500];

    fputs("\"steps\":[\n", out);
    for (int i = 0; i < r->steps; i++) {
        const struct trial_step *s = &r->step[i];
        struct json j;

        json_open(&j, buf, sizeof buf);
        json_integer(&j, "log", s->log + 1);
        json_string(&j, "left_out", s->left == TRIAL_TAKEN ? NULL : trial_left_text(s->left));
        json_bool(&j, "neutral", s->neutral);
        json_time(&j, "time", s->wall_ns);
        json_number(&j, "seconds", s->seconds, 0);
        json_number(&j, "settle_s", s->settle_s, 0);
        json_number(&j, "rpm", s->mean_rpm, 1);
        json_number(&j, "course", s->has_course ? s->course_deg : NAN, 1);
        stat_number(&j, "speed_ground", &s->speed_ground, 3);
        stat_number(&j, "speed_water", &s->speed_water, 3);
        stat_number(&j, "engine_space", &s->space, 2);
        stat_number(&j, "outside_air", &s->air, 2);
        stat_number(&j, "sea", &s->sea, 2);
        engine_objects(engines, sizeof engines, s->engine, s->engines);
        json_raw(&j, "engines", engines);
        put_object(out, &j, i + 1 < r->steps);
    }
    fputs("],\n", out);
}

static void json_points(FILE *out, const struct trial_report *r)
{
    char buf[8192], engines[6500];

    fputs("\"points\":[\n", out);
    for (int i = 0; i < r->points; i++) {
        const struct trial_point *p = &r->point[i];
        bool ways = p->how == TRIAL_RECIPROCAL, speed = p->how != TRIAL_NO_SPEED;
        struct json j;

        json_open(&j, buf, sizeof buf);
        json_number(&j, "rpm", p->rpm, 1);
        json_integer(&j, "steps", p->steps);
        json_string(&j, "how", trial_how_text(p->how));
        json_number(&j, "speed", speed ? p->speed_kn : NAN, 3);
        json_number(&j, "speed_error", speed ? p->speed_error : NAN, 3);
        json_number(&j, "engines_apart", p->apart, 4);
        json_number(&j, "current", ways ? p->current_kn : NAN, 3);
        json_number(&j, "current_set", ways ? p->set_deg : NAN, 0);
        json_number(&j, "burn", p->has_burn ? p->burn_lph : NAN, 2);
        json_number(&j, "burn_error", p->has_burn ? p->burn_error : NAN, 3);
        json_number(&j, "litres_per_nmi", p->cost, 3);
        json_number(&j, "litres_per_nmi_error", p->cost_error, 3);
        json_number(&j, "range_nmi", p->range_nmi, 1);
        json_number(&j, "hours", p->hours, 2);
        json_number(&j, "space_rise", p->space_rise, 2);
        engine_objects(engines, sizeof engines, p->engine, p->engines);
        json_raw(&j, "engines", engines);
        put_object(out, &j, i + 1 < r->points);
    }
    fputs("],\n", out);
}

static void json_fuel(FILE *out, const struct trial_report *r)
{
    char buf[600];
    struct json j;
    bool more = false;

    fputs("\"meters\":[", out);
    for (int e = 0; e < r->engines; e++) {
        const struct trial_meter *m = &r->meter[e];

        if (!m->heard)
            continue;
        fputs(more ? ",\n" : "\n", out);
        more = true;
        json_open(&j, buf, sizeof buf);
        json_integer(&j, "engine", e);
        json_number(&j, "litres", m->burnt_l, 2);
        json_bool(&j, "partly", m->partly);
        json_number(&j, "counter_litres", m->has_trip ? m->trip_l : NAN, 1);
        json_number(&j, "factor", m->factor, 4);
        json_number(&j, "factor_error", m->error, 4);
        const char *text = json_close(&j);
        fprintf(out, "%.*s", (int)strlen(text) - 1, text);
    }
    fputs("],\n\"tanks\":[", out);
    more = false;
    for (int i = 0; i < TRIAL_TANKS; i++) {
        const struct trial_tank *k = &r->tank[i];

        if (!k->heard)
            continue;
        fputs(more ? ",\n" : "\n", out);
        more = true;
        json_open(&j, buf, sizeof buf);
        json_integer(&j, "tank", i);
        json_number(&j, "capacity", k->capacity_l > 0 ? k->capacity_l : NAN, 1);
        json_number(&j, "first", k->first_pc, 2);
        json_number(&j, "last", k->last_pc, 2);
        json_number(&j, "litres", k->used_l, 2);
        json_number(&j, "litres_error", k->used_error, 2);
        json_bool(&j, "stuck", k->stuck);
        const char *text = json_close(&j);
        fprintf(out, "%.*s", (int)strlen(text) - 1, text);
    }
    fputs("],\n", out);
}

static void put_time(struct json *j, const char *key, int64_t wall_ns)
{
    if (wall_ns)
        json_time(j, key, wall_ns);
    else
        json_null(j, key);
}

/* How bad it got and how it ended; null where that does not apply. */
static void put_course(struct json *j, const struct alert *a)
{
    json_string(j, "channel", a->channel[0] ? a->channel : NULL);
    json_string(j, "stage", stage_text(a->stage));
    json_number(j, "worst", a->worst, a->decimals);
    json_string(j, "unit", isfinite(a->worst) ? unit_text(a->unit) : NULL);
    put_time(j, "worst_time", isfinite(a->worst) ? a->worst_at.wall_ns : 0);
    put_time(j, "limit_passed", a->limit_passed.wall_ns);
    json_number(j, "beyond_seconds",
                a->limit_passed.wall_ns ? when_seconds(a->beyond_ns) : (double)NAN, 1);
    put_time(j, "engine_stopped", a->stopped.wall_ns);
    put_time(j, "over", a->active ? 0 : a->rectified.wall_ns);
}

static void json_verdicts(FILE *out, const struct trial_report *r)
{
    char buf[1000];
    struct json j;

    fputs("\"checks\":[\n", out);
    for (int i = 0; i < r->checks; i++) {
        json_open(&j, buf, sizeof buf);
        json_string(&j, "name", r->check[i].name);
        json_string(&j, "verdict",
                    r->check[i].verdict == TRIAL_PASS   ? "pass"
                    : r->check[i].verdict == TRIAL_FAIL ? "fail"
                                                        : "not shown");
        json_string(&j, "text", r->check[i].text);
        put_object(out, &j, i + 1 < r->checks);
    }
    fputs("],\n\"findings\":[\n", out);
    for (int i = 0; i < r->findings; i++) {
        json_open(&j, buf, sizeof buf);
        json_string(&j, "kind", r->finding[i].kind);
        json_string(&j, "channel", r->finding[i].channel);
        json_number(&j, "value", r->finding[i].value, 4);
        json_number(&j, "error", r->finding[i].error, 4);
        json_string(&j, "text", r->finding[i].text);
        put_object(out, &j, i + 1 < r->findings);
    }
    fputs("],\n\"alerts\":[\n", out);
    for (int i = 0; i < r->incidents; i++) {
        json_open(&j, buf, sizeof buf);
        json_time(&j, "time", r->incident[i].wall_ns);
        json_string(&j, "priority", priority_text(r->incident[i].priority));
        json_string(&j, "text", r->incident[i].text);
        put_course(&j, &r->incident[i].alert);
        put_object(out, &j, i + 1 < r->incidents);
    }
    fputs("],\n", out);
}

static void json_drifts(FILE *out, const struct trial_drifts *d)
{
    char buf[600], key[CHANNEL_KEY_SIZE];
    struct json j;

    if (!d) {
        fputs("\"against_baseline\":null,\n", out);
        return;
    }
    fputs("\"against_baseline\":[\n", out);
    for (int i = 0; i < d->count; i++) {
        channel_id_format(key, sizeof key, d->drift[i].id);
        json_open(&j, buf, sizeof buf);
        json_string(&j, "channel", key);
        json_number(&j, "rpm", d->drift[i].rpm, 1);
        json_number(&j, "now", d->drift[i].now, 2);
        json_number(&j, "then", d->drift[i].then, 2);
        json_number(&j, "sea_difference", d->drift[i].sea_k, 2);
        json_bool(&j, "changed", d->drift[i].notable);
        json_string(&j, "text", d->drift[i].text);
        put_object(out, &j, i + 1 < d->count);
    }
    fputs("],\n", out);
}

static void json_hours(FILE *out, const struct trial_report *r)
{
    char buf[200];
    struct json j;

    fputs("\"hours\":[", out);
    for (int e = 0, any = 0; e < r->engines; e++) {
        if (!isfinite(r->hours_first[e]))
            continue;
        json_open(&j, buf, sizeof buf);
        json_integer(&j, "engine", e);
        json_number(&j, "first", r->hours_first[e], 1);
        json_number(&j, "last", r->hours_last[e], 1);
        const char *text = json_close(&j);
        fprintf(out, "%s%.*s", any++ ? "," : "", (int)strlen(text) - 1, text);
    }
    fputs("],\n", out);
}

static void json_boxes(FILE *out, const struct trial_report *r)
{
    char buf[600], name[24];
    struct json j;

    fputs("\"boxes\":[\n", out);
    for (int i = 0; i < r->boxes; i++) {
        const struct trial_box *b = &r->box[i];

        text_format(name, sizeof name, "%016llX", (unsigned long long)b->name);
        json_open(&j, buf, sizeof buf);
        json_integer(&j, "source", b->address);
        json_string(&j, "name", b->name ? name : NULL);
        json_string(&j, "model", b->has_product ? b->product.model : NULL);
        json_string(&j, "serial", b->has_product ? b->product.serial : NULL);
        json_string(&j, "software", b->has_product ? b->product.software : NULL);
        put_object(out, &j, i + 1 < r->boxes);
    }
    fputs("],\n", out);
}

static void json_curves(FILE *out, const struct trial_report *r)
{
    char buf[400];
    struct json j;

    fputs("\"propeller_law\":[", out);
    for (int e = 0, any = 0; e < r->engines; e++) {
        if (!r->law_seen[e])
            continue;
        json_open(&j, buf, sizeof buf);
        json_integer(&j, "engine", e);
        json_string(&j, "from", r->law_by_torque ? "torque" : "burn");
        json_number(&j, "exponent", r->law[e].exponent, 3);
        json_number(&j, "exponent_error", r->law[e].exponent_error, 3);
        const char *text = json_close(&j);
        fprintf(out, "%s%.*s", any++ ? "," : "", (int)strlen(text) - 1, text);
    }
    fputs("],\n\"economical\":", out);
    json_open(&j, buf, sizeof buf);
    json_number(&j, "speed", r->has_best ? r->best.x : NAN, 3);
    json_number(&j, "speed_error", r->has_best ? r->best.x_error : NAN, 3);
    json_number(&j, "litres_per_nmi", r->has_best ? r->best.y : NAN, 3);
    json_number(&j, "litres_per_nmi_error", r->has_best ? r->best_cost_error : NAN, 3);
    json_number(&j, "slowest_speed", r->slowest_kn, 3);
    json_number(&j, "slowest_litres_per_nmi", r->slowest_cost, 3);
    json_number(&j, "slowest_error", r->slowest_error, 3);
    put_object(out, &j, false);
}

void trial_write_json(FILE *out, const struct trial_report *r, const struct trial_write_options *o)
{
    char buf[600];
    struct json j;
    const char *text;

    json_open(&j, buf, sizeof buf);
    json_string(&j, "vessel", r->settings->vessel[0] ? r->settings->vessel : NULL);
    json_time(&j, "first", r->first_ns);
    json_time(&j, "last", r->last_ns);
    json_string(&j, "errors", "one standard error");
    json_number(&j, "running_s", r->running_s, 0);
    json_number(&j, "holes_s", r->hole_s, 0);
    json_number(&j, "usable_l", r->usable_l, 1);
    json_number(&j, "burnt_l", r->burnt_l, 2);
    json_number(&j, "tanks_l", r->used_l, 2);
    json_number(&j, "factor", r->factor, 4);
    json_number(&j, "factor_error", r->factor_error, 4);
    json_bool(&j, "levels_at_rest", r->still);
    json_number(&j, "log_factor", r->log_factor, 4);
    json_number(&j, "log_factor_error", r->log_error, 4);
    text = json_close(&j);
    if (!text)
        return;
    fprintf(out, "%.*s,\n", (int)strlen(text) - 2, text); /* goes on: no closing brace yet */
    papers_json_keys(out, &(struct papers){o->particulars, o->source});
    json_hours(out, r);
    json_boxes(out, r);
    json_steps(out, r);
    json_points(out, r);
    json_fuel(out, r);
    trial_highs_json(out, r);
    json_verdicts(out, r);
    json_drifts(out, o->drifts);
    json_curves(out, r);
    fputs("}\n", out);
}
