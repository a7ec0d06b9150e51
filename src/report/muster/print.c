/* The muster as text for people and as JSON lines for programs. */
#include "report/muster/muster.h"

#include "base/json.h"
#include "base/text.h"
#include "wire/name.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* "engine gateway", or "function 251"; "propulsion", or "class 42". */
static void name_words(const struct name_fields *f, char *function, char *class, size_t cap)
{
    const char *w = name_function_text(f->industry_group, f->vehicle_class, f->function);
    if (w != NULL)
        text_copy(function, cap, w);
    else
        text_format(function, cap, "function %u", f->function);
    w = name_class_text(f->industry_group, f->vehicle_class);
    if (w != NULL)
        text_copy(class, cap, w);
    else
        text_format(class, cap, "class %u", f->vehicle_class);
}

static unsigned instance_of(const struct name_fields *f)
{
    return (unsigned)f->function_instance << 3 | f->ecu_instance;
}

static void print_identity(const struct muster *m, const struct muster_sender *s, FILE *out)
{
    fprintf(out, "\nADDRESS %u", s->address);
    if (m->iface_count > 1 || muster_iface(m, s->iface)[0] != '\0')
        fprintf(out, " on %s", muster_iface(m, s->iface));
    if (s->name != 0) {
        struct name_fields f = name_decode(s->name);
        char function[48], class[48];
        name_words(&f, function, class, sizeof function);
        fprintf(out, "  %s (%s)\n", function, class);
        fprintf(out, "  NAME %016llX: manufacturer %u, identity %lu, instance %u, system %u%s\n",
                (unsigned long long)s->name, f.manufacturer, (unsigned long)f.identity,
                instance_of(&f), f.class_instance, f.industry_group == 4 ? ", marine" : "");
    } else {
        fputs("  no NAME heard\n", out);
    }
    if (s->has_product) {
        const struct product_info *p = &s->product;
        fprintf(out, "  product: %s, software %s, version %s, serial %s", p->model, p->software,
                p->model_version, p->serial);
        if (p->load_equivalency >= 0)
            fprintf(out, ", draws %d mA", p->load_equivalency * 50);
        fputs("\n", out);
    }
    if (s->heartbeats > 0) {
        char every[32];
        text_number(every, sizeof every, s->heartbeat.interval_s, 0);
        fprintf(out, "  heartbeat: %lu heard, every %s s by its own account\n",
                (unsigned long)s->heartbeats, every);
    }
}

/* Engines, tanks, sensors told apart in a message: "0, 1". */
static void places_of(const struct muster *m, const struct muster_message *x, char *dst, size_t cap)
{
    bool seen[256] = {false};
    dst[0] = '\0';
    for (size_t i = 0; i < m->value_count; i++) {
        const struct muster_value *v = &m->values[i];
        const struct quantity_info *info = quantity_info((enum quantity)v->id.quantity);
        if (v->sender != x->sender || v->pgn != x->pgn || info->place == PLACE_NONE)
            continue;
        uint8_t place = v->id.quantity == QTY_PRESSURE ? v->id.sub : v->id.place;
        if (!seen[place])
            text_append(dst, cap, "%s%u", dst[0] != '\0' ? ", " : "", place);
        seen[place] = true;
    }
}

static void print_messages(const struct muster *m, size_t sender, FILE *out)
{
    fputs("     PGN  message                          a second  standard  instances\n", out);
    for (size_t i = 0; i < m->message_count; i++) {
        const struct muster_message *x = &m->messages[i];
        if (x->sender != sender)
            continue;
        char rate[32] = "once", standard[32] = "-", places[60];
        if (x->count > 1)
            text_number(rate, sizeof rate, muster_rate(x), 2);
        if (muster_rate_standard(x) > 0.0)
            text_number(standard, sizeof standard, muster_rate_standard(x), 2);
        places_of(m, x, places, sizeof places);
        fprintf(out, "  %6lu  %-32s %8s  %8s%s%s\n", (unsigned long)x->pgn,
                x->row != NULL ? x->row->name : "(not read by stokehold)", rate, standard,
                places[0] != '\0' ? "  " : "", places);
    }
}

/* What stands behind a reading: wet or dry, how much a tank holds. */
static void remark(const struct muster *m, const struct muster_value *v, char *dst, size_t cap)
{
    dst[0] = '\0';
    if (v->id.quantity == QTY_EXHAUST)
        text_format(dst, cap, "  %s", muster_exhaust_kind(m, v));
    if (v->capacity_l > 0.0) {
        char litres[40];
        text_number(litres, sizeof litres, v->capacity_l, 0);
        text_format(dst, cap, "  of %s L", litres);
    }
}

static void print_value(const struct muster *m, const struct muster_value *v, FILE *out)
{
    char key[CHANNEL_KEY_SIZE], last[40], low[40], high[40], more[48];
    const char *unit = unit_text(quantity_info((enum quantity)v->id.quantity)->unit);
    int decimals = v->decimals > 2 ? 2 : v->decimals;
    muster_key(key, sizeof key, m, v);
    remark(m, v, more, sizeof more);
    fprintf(out, "  %-28s", key);
    if (v->ok == 0) {
        fprintf(out, " %10s%s\n", v->error > 0 ? "error" : "n/a", more);
        return;
    }
    text_number(last, sizeof last, v->last, decimals);
    fprintf(out, " %10s %s", last, unit);
    if (v->low < v->high) {
        text_number(low, sizeof low, v->low, decimals);
        text_number(high, sizeof high, v->high, decimals);
        fprintf(out, "%*s (%s to %s)", 4 - text_width(unit), "", low, high);
    }
    fprintf(out, "%s\n", more);
}

static void print_values(const struct muster *m, size_t sender, FILE *out)
{
    bool any = false;
    int off = 0, bank = -1;
    for (size_t i = 0; i < m->value_count; i++) {
        const struct muster_value *v = &m->values[i];
        if (v->sender != sender || (v->ok == 0 && v->error == 0 && !v->sole))
            continue;
        if (!any)
            fputs("  latest readings\n", out);
        any = true;
        if (v->id.quantity == QTY_SWITCH && v->high <= 0.0) { /* never on: only their number */
            off++;
            bank = v->id.place;
            continue;
        }
        print_value(m, v, out);
    }
    if (off > 0)
        fprintf(out, "  switch.%d: %d more, off throughout\n", bank, off);
}

static void print_findings(const struct muster *m, enum muster_weight weight, const char *head,
                           FILE *out)
{
    bool any = false;
    for (size_t i = 0; i < m->finding_count; i++) {
        const struct muster_finding *f = &m->findings[i];
        if (f->weight != weight)
            continue;
        if (!any)
            fprintf(out, "\n%s\n", head);
        any = true;
        fprintf(out, "  %-16s  %s\n", f->kind, f->text);
    }
}

void muster_print(const struct muster *m, const char *title, bool utc, FILE *out)
{
    char from[40], to[40];
    when_date(from, sizeof from, m->first.wall_ns, utc);
    when_clock(to, sizeof to, m->last.wall_ns, utc);
    fprintf(out, "MUSTER of %s: ", title);
    if (m->frames == 0) {
        fputs("nothing was heard\n", out);
        return;
    }
    fprintf(out, "%s to %s, %llu frames, %zu senders\n", from, to, (unsigned long long)m->frames,
            m->sender_count);
    for (size_t i = 0; i < m->sender_count; i++) {
        print_identity(m, &m->senders[i], out);
        print_messages(m, i, out);
        print_values(m, i, out);
    }
    print_findings(m, MUSTER_FINDING, "FINDINGS", out);
    print_findings(m, MUSTER_NOTE, "NOTES", out);
    int n = muster_finding_total(m);
    if (n == 0)
        fputs("\nno findings\n", out);
    else
        fprintf(out, "\n%d finding%s\n", n, n == 1 ? "" : "s");
}

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

static void json_product(struct json *j, const struct muster_sender *s)
{
    const struct product_info *p = &s->product;
    json_string(j, "model", s->has_product ? p->model : NULL);
    json_string(j, "software", s->has_product ? p->software : NULL);
    json_string(j, "version", s->has_product ? p->model_version : NULL);
    json_string(j, "serial", s->has_product ? p->serial : NULL);
}

static void json_of_sender(const struct muster *m, int i, FILE *out)
{
    char buf[1200], name[24], function[48], class[48];
    const struct muster_sender *s = &m->senders[i];
    struct name_fields f = name_decode(s->name);
    struct json j;
    name_words(&f, function, class, sizeof function);
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
        json_integer(&j, "instance", instance_of(&f));
    } else {
        static const char *const keys[] = {"manufacturer", "identity", "class", "function",
                                           "instance"};
        for (size_t k = 0; k < sizeof keys / sizeof keys[0]; k++)
            json_null(&j, keys[k]);
    }
    json_product(&j, s);
    json_integer(&j, "heartbeats", s->heartbeats);
    json_integer(&j, "messages", (int64_t)s->frames);
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
    places_of(m, x, places, sizeof places);
    json_string(&j, "instances", places);
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

void muster_print_json(const struct muster *m, FILE *out)
{
    for (size_t i = 0; i < m->sender_count; i++)
        json_of_sender(m, (int)i, out);
    for (size_t i = 0; i < m->message_count; i++)
        json_of_message(m, &m->messages[i], out);
    for (size_t i = 0; i < m->value_count; i++)
        json_of_value(m, &m->values[i], out);
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
