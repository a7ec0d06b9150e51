/* The muster as JSON lines for programs. */
#include "report/muster/inside.h"

#include "base/json.h"
#include "base/text.h"
#include "wire/name.h"

#include <math.h>

#include "base/banned.h"

static void put(struct json *j, FILE *out)
{
    const char *line = json_close(j);
    if (line != NULL)
        fputs(line, out);
}

static void json_sender_id(struct json *j, const struct muster *m, int sender)
{
    if (sender < 0) {
        json_null(j, "interface");
        json_null(j, "source");
        return;
    }
    json_string(j, "interface", muster_iface(m, m->senders[sender].iface));
    json_integer(j, "source", m->senders[sender].address);
}

static void json_share(struct json *j, double share)
{
    if (isfinite(share))
        json_number(j, "share", share, 4);
    else
        json_null(j, "share");
}

static void json_product(struct json *j, const struct muster_sender *s)
{
    const struct product_info *p = &s->product;
    json_string(j, "model", s->has_product ? p->model : NULL);
    json_string(j, "software", s->has_product ? p->software : NULL);
    json_string(j, "version", s->has_product ? p->model_version : NULL);
    json_string(j, "serial", s->has_product ? p->serial : NULL);
}

static void json_or_null(struct json *j, const char *key, double v)
{
    if (isfinite(v))
        json_number(j, key, v, 1);
    else
        json_null(j, key);
}

/* Its engine, by its maker's data, and the trouble codes of before: where it told of them. */
static void json_of_engine(const struct muster *m, int i, FILE *out)
{
    char buf[600];
    const struct muster_sender *s = &m->senders[i];
    const struct engine_maker *e = &s->maker;
    struct json j;
    if (s->has_maker) {
        json_open(&j, buf, sizeof buf);
        json_string(&j, "record", "engine");
        json_sender_id(&j, m, i);
        json_or_null(&j, "rated_rpm", e->rated_rpm);
        json_or_null(&j, "idle_rpm", e->idle_rpm);
        json_or_null(&j, "high_idle_rpm", e->high_idle_rpm);
        json_or_null(&j, "reference_torque_nm", e->torque_nm);
        json_string(&j, "vin", e->vin[0] ? e->vin : NULL);
        json_string(&j, "software", e->software[0] ? e->software : NULL);
        put(&j, out);
    }
    if (s->earlier_codes > 0) {
        json_open(&j, buf, sizeof buf);
        json_string(&j, "record", "earlier codes");
        json_sender_id(&j, m, i);
        json_integer(&j, "codes", s->earlier_codes);
        json_integer(&j, "spn", s->earlier.spn);
        json_integer(&j, "fmi", s->earlier.fmi);
        put(&j, out);
    }
}

static void json_of_sender(const struct muster *m, int i, FILE *out)
{
    char buf[1200], name[24], function[48], class[48];
    const struct muster_sender *s = &m->senders[i];
    struct name_fields f = name_decode(s->name);
    struct json j;
    muster_name_words(&f, function, class, sizeof function);
    text_format(name, sizeof name, "%016llX", (unsigned long long)s->name);
    json_open(&j, buf, sizeof buf);
    json_string(&j, "record", "sender");
    json_sender_id(&j, m, i);
    bool known = s->name != 0;
    json_string(&j, "name", known ? name : NULL);
    if (known) {
        json_integer(&j, "manufacturer", f.manufacturer);
        json_integer(&j, "identity", f.identity);
        json_string(&j, "class", class);
        json_string(&j, "function", function);
        json_integer(&j, "instance", muster_name_instance(&f));
    } else {
        static const char *const keys[] = {"manufacturer", "identity", "class", "function",
                                           "instance"};
        for (size_t k = 0; k < sizeof keys / sizeof keys[0]; k++)
            json_null(&j, keys[k]);
    }
    json_product(&j, s);
    json_integer(&j, "heartbeats", s->heartbeats);
    json_integer(&j, "messages", (int64_t)s->frames);
    json_time(&j, "last", s->last_wall_ns);
    json_integer(&j, "gaps", s->pauses);
    json_share(&j, muster_sender_share(m, s));
    put(&j, out);
}

static void json_of_message(const struct muster *m, const struct muster_message *x, FILE *out)
{
    char buf[600], places[60];
    struct json j;
    json_open(&j, buf, sizeof buf);
    json_string(&j, "record", "message");
    json_sender_id(&j, m, x->sender);
    json_integer(&j, "pgn", x->pgn);
    json_string(&j, "text", x->row != NULL ? x->row->name : NULL);
    json_integer(&j, "count", (int64_t)x->count);
    json_number(&j, "rate", muster_rate(x), 3);
    if (muster_rate_standard(x) > 0.0)
        json_number(&j, "standard", muster_rate_standard(x), 3);
    else
        json_null(&j, "standard");
    muster_places(m, x, places, sizeof places);
    json_string(&j, "instances", places);
    json_time(&j, "last", x->last_wall_ns);
    json_integer(&j, "gaps", x->gaps);
    json_number(&j, "longest_gap", when_seconds(x->gap_longest_ns), 1);
    json_share(&j, muster_message_share(m, x));
    put(&j, out);
}

static void json_of_value(const struct muster *m, const struct muster_value *v, FILE *out)
{
    char buf[700], key[CHANNEL_KEY_SIZE];
    const struct quantity_info *info = quantity_info((enum quantity)v->id.quantity);
    struct json j;
    muster_key(key, sizeof key, m, v);
    json_open(&j, buf, sizeof buf);
    json_string(&j, "record", "reading");
    json_sender_id(&j, m, v->sender);
    json_string(&j, "channel", key);
    json_integer(&j, "pgn", v->pgn);
    static const char *const figures[] = {"value", "low", "high"};
    const double values[] = {v->last, v->low, v->high};
    for (int i = 0; i < 3; i++) {
        if (v->ok > 0)
            json_number(&j, figures[i], values[i], v->decimals);
        else
            json_null(&j, figures[i]);
    }
    json_string(&j, "unit", unit_text(info->unit));
    json_integer(&j, "good", (int64_t)v->ok);
    json_integer(&j, "not_available", (int64_t)v->not_available);
    json_integer(&j, "errors", (int64_t)v->error);
    if (v->capacity_l > 0.0)
        json_number(&j, "capacity", v->capacity_l, 1);
    else
        json_null(&j, "capacity");
    put(&j, out);
}

static void json_of_finding(const struct muster *m, const struct muster_finding *f, FILE *out)
{
    char buf[700];
    struct json j;
    json_open(&j, buf, sizeof buf);
    json_string(&j, "record", f->weight == MUSTER_FINDING ? "finding" : "note");
    json_string(&j, "kind", f->kind);
    json_sender_id(&j, m, f->sender);
    json_string(&j, "channel", f->channel[0] != '\0' ? f->channel : NULL);
    json_string(&j, "text", f->text);
    put(&j, out);
}

static void json_of_cooling(const struct muster_cooling *c, FILE *out)
{
    char buf[500];
    struct json j;
    const struct cooling_sense *s = &c->sense;
    const char *load = cooling_load_text(s->load);
    json_open(&j, buf, sizeof buf);
    json_string(&j, "record", "cooling");
    json_integer(&j, "engine", c->instance);
    json_string(&j, "name", c->name);
    json_bool(&j, "ran", c->ran);
    json_bool(&j, "exhaust", s->exhaust);
    json_bool(&j, "speed", s->speed);
    json_string(&j, "load", load[0] != '\0' ? load : NULL);
    json_bool(&j, "twin", s->twin);
    json_bool(&j, "sea", s->sea);
    json_number(&j, "period", s->period_s, 1);
    json_number(&j, "delay", s->delay_s, 1);
    json_bool(&j, "blind", s->blind);
    put(&j, out);
}

void muster_print_json(const struct muster *m, const struct papers *papers, FILE *out)
{
    papers_json_lines(out, papers);
    for (size_t i = 0; i < m->sender_count; i++) {
        json_of_sender(m, (int)i, out);
        json_of_engine(m, (int)i, out);
    }
    for (size_t i = 0; i < m->message_count; i++)
        json_of_message(m, &m->messages[i], out);
    for (size_t i = 0; i < m->value_count; i++)
        json_of_value(m, &m->values[i], out);
    for (int i = 0; i < m->cooling_count; i++)
        json_of_cooling(&m->cooling[i], out);
    for (size_t i = 0; i < m->finding_count; i++)
        json_of_finding(m, &m->findings[i], out);
    char buf[300];
    struct json j;
    json_open(&j, buf, sizeof buf);
    json_string(&j, "record", "summary");
    json_integer(&j, "frames", (int64_t)m->frames);
    json_integer(&j, "senders", (int64_t)m->sender_count);
    if (m->frames > 0) {
        json_time(&j, "first", m->first.wall_ns);
        json_time(&j, "last", m->last.wall_ns);
    } else {
        json_null(&j, "first");
        json_null(&j, "last");
    }
    json_integer(&j, "findings", muster_finding_total(m));
    json_integer(&j, "notes", (int64_t)m->finding_count - muster_finding_total(m));
    put(&j, out);
}
