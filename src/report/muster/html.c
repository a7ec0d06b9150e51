/* The muster as one page: findings first, then who is there and what each sends. */
#include "report/muster/inside.h"

#include "base/text.h"
#include "report/plot.h"
#include "wire/name.h"

#include "base/banned.h"

/* A column that begins with > holds figures and is set to the right. */
static void head(FILE *out, const char *const *columns, int count)
{
    fputs("<div class=\"wide\">\n<table>\n<thead><tr>", out);
    for (int i = 0; i < count; i++) {
        bool figures = columns[i][0] == '>';

        fprintf(out, "<th scope=\"col\"%s>", figures ? "" : " class=\"words\"");
        plot_text(out, columns[i] + figures);
        fputs("</th>", out);
    }
    fputs("</tr></thead>\n<tbody>\n", out);
}

static void foot(FILE *out)
{
    fputs("</tbody>\n</table>\n</div>\n", out);
}

static void write_findings(FILE *out, const struct muster *m, enum muster_weight weight,
                           const char *title)
{
    static const char *const columns[] = {"Kind", "What was found"};
    bool any = false;

    for (size_t i = 0; i < m->finding_count; i++) {
        if (m->findings[i].weight != weight)
            continue;
        if (!any) {
            fprintf(out, "<h2>%s</h2>\n", title);
            head(out, columns, 2);
        }
        any = true;
        fputs("<tr>", out);
        page_row_head(out, m->findings[i].kind);
        page_words(out, m->findings[i].text);
        fputs("</tr>\n", out);
    }
    if (any)
        foot(out);
}

static void write_identity(FILE *out, const struct muster *m, const struct muster_sender *s,
                           bool utc)
{
    char last[40], share[24];

    fputs("<p>", out);
    if (s->name != 0) {
        struct name_fields f = name_decode(s->name);
        const char *function = name_function_text(f.industry_group, f.vehicle_class, f.function);

        if (function != NULL) {
            plot_text(out, function);
            fputs(", ", out);
        }
        fprintf(out, "NAME <span class=\"digest\">%016llX</span>", (unsigned long long)s->name);
    } else {
        fputs("no NAME heard", out);
    }
    if (s->has_product) {
        fputs("; ", out);
        plot_text(out, s->product.model);
        fputs(", software ", out);
        plot_text(out, s->product.software);
        fputs(", serial ", out);
        plot_text(out, s->product.serial);
    }
    char more[256];
    muster_maker(s, more, sizeof more);
    if (more[0]) {
        fputs("; engine: ", out);
        plot_text(out, more);
    }
    muster_earlier(s, more, sizeof more);
    if (more[0]) {
        fputs("; ", out);
        plot_text(out, more);
    }
    when_clock(last, sizeof last, s->last_wall_ns, utc);
    if (text_number(share, sizeof share, 100 * muster_sender_share(m, s), 0))
        fprintf(out, "; last heard %s, heard %s %% of the time, %u gap%s", last, share, s->pauses,
                s->pauses == 1 ? "" : "s");
    fputs("</p>\n", out);
}

static void put_rate(FILE *out, double v)
{
    char number[40] = "–";

    if (v > 0)
        text_number(number, sizeof number, v, 2);
    fprintf(out, "<td>%s</td>", number);
}

static void put_share(FILE *out, double share)
{
    char number[40];

    if (!text_number(number, sizeof number, 100 * share, 0))
        text_copy(number, sizeof number, "–");
    fprintf(out, "<td>%s</td>", number);
}

static void write_messages(FILE *out, const struct muster *m, size_t sender, bool utc)
{
    static const char *const columns[] = {"PGN",   "Message",     ">A second",       ">Standard",
                                          ">Gaps", ">Longest, s", ">Of the time, %", ">Last heard"};

    head(out, columns, 8);
    for (size_t i = 0; i < m->message_count; i++) {
        const struct muster_message *x = &m->messages[i];
        char pgn[24], clock[40];

        if (x->sender != sender)
            continue;
        text_format(pgn, sizeof pgn, "%lu", (unsigned long)x->pgn);
        fputs("<tr>", out);
        page_row_head(out, pgn);
        page_words(out, x->row != NULL ? x->row->name : "(not read by stokehold)");
        put_rate(out, muster_rate(x));
        put_rate(out, muster_rate_standard(x));
        fprintf(out, "<td>%u</td>", x->gaps);
        put_rate(out, when_seconds(x->gap_longest_ns));
        put_share(out, muster_message_share(m, x));
        when_clock(clock, sizeof clock, x->last_wall_ns, utc);
        fprintf(out, "<td>%s</td>", clock);
        fputs("</tr>\n", out);
    }
    foot(out);
}

static void put_value(FILE *out, const struct muster_value *v, double value)
{
    char number[40];

    text_number(number, sizeof number, value, v->decimals > 2 ? 2 : v->decimals);
    fprintf(out, "<td>%s</td>", v->ok > 0 ? number : v->error > 0 ? "error" : "n/a");
}

static void write_values(FILE *out, const struct muster *m, size_t sender)
{
    static const char *const columns[] = {"Channel", ">Last", ">Lowest", ">Highest", "Unit", ""};
    bool any = false;

    for (size_t i = 0; i < m->value_count; i++) {
        const struct muster_value *v = &m->values[i];
        char key[CHANNEL_KEY_SIZE + 24], more[48];

        if (v->sender != sender || (v->ok == 0 && v->error == 0 && !v->sole) ||
            (v->id.quantity == QTY_SWITCH && v->high <= 0.0))
            continue;
        if (!any)
            head(out, columns, 6);
        any = true;
        muster_key(key, sizeof key, m, v);
        fputs("<tr>", out);
        page_row_head(out, key);
        put_value(out, v, v->last);
        put_value(out, v, v->low);
        put_value(out, v, v->high);
        page_words(out, unit_text(muster_unit(v)));
        muster_remark(m, v, more, sizeof more);
        page_words(out, more);
        fputs("</tr>\n", out);
    }
    if (any)
        foot(out);
}

static void write_cooling(FILE *out, const struct muster *m)
{
    static const char *const columns[] = {"Engine", "What the cooling watch has"};
    char words[240];

    if (m->cooling_count == 0)
        return;
    fputs("<h2>Cooling watch</h2>\n", out);
    head(out, columns, 2);
    for (int i = 0; i < m->cooling_count; i++) {
        fputs("<tr>", out);
        page_row_head(out, m->cooling[i].name);
        page_words(out, muster_cooling_words(words, sizeof words, m, &m->cooling[i]));
        fputs("</tr>\n", out);
    }
    foot(out);
}

void muster_write_html(const struct muster *m, const struct papers *papers, bool utc, FILE *out)
{
    char from[40], to[40];
    int n = muster_finding_total(m);

    page_begin(out, "Muster", m->settings != NULL ? m->settings->vessel : "");
    when_date(from, sizeof from, m->first.wall_ns, utc);
    when_date(to, sizeof to, m->last.wall_ns, utc);
    if (m->frames == 0)
        fputs("<p>Nothing was heard.</p>\n", out);
    else
        fprintf(out, "<p>%s to %s%s, %llu frames, %zu sender%s; %d finding%s.</p>\n", from, to,
                utc ? " UTC" : "", (unsigned long long)m->frames, m->sender_count,
                m->sender_count == 1 ? "" : "s", n, n == 1 ? "" : "s");
    if (papers->particulars && papers->particulars->lines > 0) {
        fputs("<h2>Particulars</h2>\n<table>\n<tbody>\n", out);
        papers_rows(out, papers->particulars);
        fputs("</tbody>\n</table>\n", out);
    }
    write_findings(out, m, MUSTER_FINDING, "Findings");
    write_cooling(out, m);
    for (size_t i = 0; i < m->sender_count; i++) {
        const struct muster_sender *s = &m->senders[i];

        fprintf(out, "<h2>Address %u", s->address);
        if (m->iface_count > 1) {
            fputs(" on ", out);
            plot_text(out, muster_iface(m, s->iface));
        }
        fputs("</h2>\n", out);
        write_identity(out, m, s, utc);
        write_messages(out, m, i, utc);
        write_values(out, m, i);
    }
    write_findings(out, m, MUSTER_NOTE, "Notes");
    if (papers->source)
        page_source(out, papers->source);
    page_end(out);
}
