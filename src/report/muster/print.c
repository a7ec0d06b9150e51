/* The muster as text for people. */
#include "report/muster/inside.h"

#include "base/text.h"
#include "wire/name.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

void muster_name_words(const struct name_fields *f, char *function, char *class, size_t cap)
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

unsigned muster_name_instance(const struct name_fields *f)
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
        muster_name_words(&f, function, class, sizeof function);
        fprintf(out, "  %s (%s)\n", function, class);
        fprintf(out, "  NAME %016llX: manufacturer %u, identity %lu, instance %u, system %u%s\n",
                (unsigned long long)s->name, f.manufacturer, (unsigned long)f.identity,
                muster_name_instance(&f), f.class_instance,
                f.industry_group == 4 ? ", marine" : "");
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
    char more[256];
    muster_maker(s, more, sizeof more);
    if (more[0])
        fprintf(out, "  engine: %s\n", more);
    muster_earlier(s, more, sizeof more);
    if (more[0])
        fprintf(out, "  %s\n", more);
    if (s->heartbeats > 0) {
        char every[32];
        text_number(every, sizeof every, s->heartbeat.interval_s, 0);
        fprintf(out, "  heartbeat: %lu heard, every %s s by its own account\n",
                (unsigned long)s->heartbeats, every);
    }
}

void muster_places(const struct muster *m, const struct muster_message *x, char *dst, size_t cap)
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

/* ", 2 gaps, longest 150 s". */
static void add_gaps(char *dst, size_t cap, uint32_t gaps, int64_t longest_ns)
{
    if (gaps == 0)
        return;
    text_append(dst, cap, ", %u gap%s", gaps, gaps == 1 ? "" : "s");
    if (longest_ns > 0)
        text_append(dst, cap, ", longest %.0f s", when_seconds(longest_ns));
}

static void print_heard(const struct muster *m, const struct muster_sender *s, bool utc, FILE *out)
{
    char last[40], share[24], gaps[60] = "";
    when_clock(last, sizeof last, s->last_wall_ns, utc);
    add_gaps(gaps, sizeof gaps, s->pauses, 0);
    if (text_number(share, sizeof share, 100 * muster_sender_share(m, s), 0))
        fprintf(out, "  last heard %s, heard %s %% of the time%s\n", last, share, gaps);
}

/* What was not there all the time that its box was. */
static void print_missed(const struct muster *m, const struct muster_message *x, bool utc,
                         FILE *out)
{
    double part = muster_message_share(m, x);
    char last[40], share[24], gaps[60] = "";
    if (!(part < muster_sender_share(m, &m->senders[x->sender]) - 0.005))
        return;
    when_clock(last, sizeof last, x->last_wall_ns, utc);
    add_gaps(gaps, sizeof gaps, x->gaps, x->gap_longest_ns);
    text_number(share, sizeof share, 100 * part, 0);
    fprintf(out, "          %s %% of the time, last heard %s%s\n", share, last, gaps);
}

static void print_messages(const struct muster *m, size_t sender, bool utc, FILE *out)
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
        muster_places(m, x, places, sizeof places);
        fprintf(out, "  %6lu  %-32s %8s  %8s%s%s\n", (unsigned long)x->pgn,
                x->row != NULL ? x->row->name : "(not read by stokehold)", rate, standard,
                places[0] != '\0' ? "  " : "", places);
        print_missed(m, x, utc, out);
    }
}

static void print_value(const struct muster *m, const struct muster_value *v, FILE *out)
{
    char key[CHANNEL_KEY_SIZE], last[40], low[40], high[40], more[48];
    const char *unit = unit_text(quantity_info((enum quantity)v->id.quantity)->unit);
    int decimals = v->decimals > 2 ? 2 : v->decimals;
    muster_key(key, sizeof key, m, v);
    muster_remark(m, v, more, sizeof more);
    const char *gap = more[0] != '\0' ? "  " : "";
    fprintf(out, "  %-28s", key);
    if (v->ok == 0) {
        fprintf(out, " %10s%s%s\n", v->error > 0 ? "error" : "n/a", gap, more);
        return;
    }
    text_number(last, sizeof last, v->last, decimals);
    fprintf(out, " %10s %s", last, unit);
    if (v->low < v->high) {
        text_number(low, sizeof low, v->low, decimals);
        text_number(high, sizeof high, v->high, decimals);
        fprintf(out, "%*s (%s to %s)", 4 - text_width(unit), "", low, high);
    }
    fprintf(out, "%s%s\n", gap, more);
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

static void print_cooling(const struct muster *m, FILE *out)
{
    char words[240];
    if (m->cooling_count > 0)
        fputs("\nCOOLING WATCH\n", out);
    for (int i = 0; i < m->cooling_count; i++)
        fprintf(out, "  %-10s  %s\n", m->cooling[i].name,
                muster_cooling_words(words, sizeof words, m, &m->cooling[i]));
}

static void print_papers(const struct papers *p, FILE *out)
{
    if (p->particulars && p->particulars->lines > 0) {
        fputs("\nPARTICULARS\n", out);
        papers_print_particulars(out, p->particulars);
    }
    if (p->source) {
        fputs("\nWHERE IT COMES FROM\n", out);
        papers_print_source(out, p->source);
    }
}

void muster_print(const struct muster *m, const char *title, const struct papers *papers, bool utc,
                  FILE *out)
{
    char from[40], to[40];
    when_date(from, sizeof from, m->first.wall_ns, utc);
    when_clock(to, sizeof to, m->last.wall_ns, utc);
    fprintf(out, "MUSTER of %s: ", title);
    if (m->frames == 0) {
        fputs("nothing was heard\n", out);
        return;
    }
    fprintf(out, "%s to %s, %llu frames, %zu sender%s\n", from, to, (unsigned long long)m->frames,
            m->sender_count, m->sender_count == 1 ? "" : "s");
    for (size_t i = 0; i < m->sender_count; i++) {
        print_identity(m, &m->senders[i], out);
        print_heard(m, &m->senders[i], utc, out);
        print_messages(m, i, utc, out);
        print_values(m, i, out);
    }
    print_papers(papers, out);
    print_cooling(m, out);
    print_findings(m, MUSTER_FINDING, "FINDINGS", out);
    print_findings(m, MUSTER_NOTE, "NOTES", out);
    int n = muster_finding_total(m);
    if (n == 0)
        fputs("\nno findings\n", out);
    else
        fprintf(out, "\n%d finding%s\n", n, n == 1 ? "" : "s");
}
