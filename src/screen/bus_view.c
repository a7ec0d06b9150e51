#include "screen/bus_view.h"

#include "base/text.h"
#include "screen/bars.h"
#include "screen/rows.h"

#include <string.h>

#include "base/banned.h"

struct fact {
    const char *name;
    double value; /* below 0: not known */
    int decimals;
    const char *unit;
};

static void draw_facts(struct grid *g, struct rect r, const char *title, const struct fact *f,
                       int n)
{
    char number[32];
    grid_text(g, r.x + 1, r.y, r.w - 2, title, ROLE_TITLE, ATTR_BOLD);
    for (int i = 0; i < n && i + 1 < r.h; i++) {
        int y = r.y + 1 + i;
        if (f[i].value < 0 || !text_number(number, sizeof number, f[i].value, f[i].decimals))
            text_copy(number, sizeof number, "--");
        grid_text(g, r.x + 1, y, 15, f[i].name, ROLE_LABEL, 0);
        grid_text_right(g, r.x + 16, y, 11, number, ROLE_VALUE, 0);
        grid_text(g, r.x + 28, y, 4, f[i].unit, ROLE_DIM, 0);
    }
}

static void age_words(int64_t ns, char *dst, size_t cap)
{
    int64_t s = ns / NS_PER_S;
    if (s < 2)
        text_copy(dst, cap, "now");
    else if (s < 120)
        text_format(dst, cap, "%d s", (int)s);
    else if (s < 7200)
        text_format(dst, cap, "%d min", (int)(s / 60));
    else
        text_format(dst, cap, "%d h", (int)(s / 3600));
}

/* Labels of what a source sends, one after the other. */
static void sends(const struct model *m, const struct model_source *s, char *dst, size_t cap)
{
    dst[0] = '\0';
    if (s->earlier > 0)
        text_format(dst, cap, "%u earlier code%s, SPN %u FMI %u", s->earlier,
                    s->earlier == 1 ? "" : "s", s->earlier_spn, s->earlier_fmi);
    size_t begun = strlen(dst);
    for (size_t i = 0; i < m->channel_count; i++) {
        const struct model_channel *c = &m->channels[i];
        if (c->source != s->address || c->iface != s->iface || strstr(dst, rows_name(c)))
            continue; /* each name once */
        if (!text_append(dst, cap, "%s%s", dst[begun] ? ", " : begun ? "; " : "", rows_name(c)))
            return;
    }
}

enum { SRC_W = 4, IFACE_W = 8, COUNT_W = 10, HEARD_W = 7, GAPS_W = 6, SENDS_LEAST = 12 };

/* What a box is, from its name: "engine gateway 1, maker 137". */
static void box_words(const struct model_source *s, bool wide, char *dst, size_t cap)
{
    if (!s->name) {
        text_copy(dst, cap, "no name heard");
        return;
    }
    if (s->function)
        text_copy(dst, cap, s->function);
    else
        text_format(dst, cap, "class %u function %u", s->class_code, s->function_code);
    if (s->instance)
        text_append(dst, cap, " %u", s->instance);
    if (wide)
        text_append(dst, cap, ", maker %u", s->maker);
}

static int box_width(int width)
{
    return width >= 150 ? 44 : width >= 110 ? 36 : width >= 70 ? 20 : 0;
}

static void draw_source(struct grid *g, struct rect r, const struct model *m,
                        const struct model_source *s)
{
    char text[256];
    bool old = s->age_ns > 10 * NS_PER_S;
    enum role role = old ? ROLE_DIM : ROLE_VALUE;
    int x = r.x + 1, box_w = box_width(r.w);
    text_format(text, sizeof text, "%3d", s->address);
    grid_text(g, x, r.y, 3, text, role, 0);
    x += SRC_W;
    if (m->iface_count > 1) {
        grid_text(g, x, r.y, IFACE_W - 1, m->iface_names[s->iface], ROLE_DIM, 0);
        x += IFACE_W;
    }
    text_format(text, sizeof text, "%llu", (unsigned long long)s->frames);
    grid_text_right(g, x, r.y, COUNT_W - 1, text, role, 0);
    x += COUNT_W;
    age_words(s->age_ns, text, sizeof text);
    grid_text_right(g, x, r.y, HEARD_W - 1, text, ROLE_DIM, 0);
    x += HEARD_W;
    if (box_w) {
        text_format(text, sizeof text, "%u", s->gaps);
        grid_text_right(g, x, r.y, GAPS_W - 2, text, s->gaps ? role : ROLE_DIM, 0);
        x += GAPS_W;
        box_words(s, box_w > 30, text, sizeof text);
        grid_text(g, x, r.y, box_w - 1, text, s->name ? ROLE_TEXT : ROLE_DIM, 0);
        x += box_w;
        if (s->name_changes) {
            text_format(text, sizeof text, "\u00d7%u", s->name_changes + 1);
            grid_text(g, x, r.y, 3, text, ROLE_WARNING, 0);
        }
        x += 4;
    }
    sends(m, s, text, sizeof text);
    grid_text(g, x, r.y, r.x + r.w - x - 1, text, ROLE_LABEL, 0);
}

static void draw_sources(struct grid *g, struct rect r, const struct model *m, int top)
{
    char text[64];
    int x = r.x + 1 + SRC_W + (m->iface_count > 1 ? IFACE_W : 0), box_w = box_width(r.w);
    if (r.h < 2)
        return;
    grid_text(g, r.x + 1, r.y, 3, "src", ROLE_TITLE, ATTR_BOLD);
    grid_text_right(g, x, r.y, COUNT_W - 1, "messages", ROLE_DIM, 0);
    grid_text_right(g, x + COUNT_W, r.y, HEARD_W - 1, "heard", ROLE_DIM, 0);
    x += COUNT_W + HEARD_W;
    if (box_w) {
        grid_text_right(g, x, r.y, GAPS_W - 2, "gaps", ROLE_DIM, 0);
        x += GAPS_W;
        grid_text(g, x, r.y, box_w - 1, box_w > 30 ? "what it is, by its name" : "by its name",
                  ROLE_DIM, 0);
        x += box_w + 4;
    }
    grid_text(g, x, r.y, SENDS_LEAST, "sends", ROLE_DIM, 0);
    int room = r.h - 1, n = m->source_count;
    if (top > n - room)
        top = n - room;
    if (top < 0)
        top = 0;
    for (int i = 0; i < room && top + i < n; i++) {
        struct rect line = {r.x, r.y + 1 + i, r.w, 1};
        if (i == room - 1 && (top + i + 1 < n || m->sources_more)) {
            text_format(text, sizeof text, "and %d more", n - top - i + m->sources_more);
            grid_text(g, line.x + 1, line.y, line.w - 2, text, ROLE_DIM, 0);
            break;
        }
        draw_source(g, line, m, &m->sources[top + i]);
    }
    if (n == 0)
        grid_text(g, r.x + 1, r.y + 1, r.w - 2, "nobody was heard yet", ROLE_DIM, 0);
}

/* A week is not a number of seconds. */
static struct fact up_fact(int64_t s)
{
    if (s < 120)
        return (struct fact){"up", (double)s, 0, "s"};
    if (s < 120 * 60)
        return (struct fact){"up", (double)(s / 60), 0, "min"};
    if (s < 48 * 3600)
        return (struct fact){"up", (double)(s / 3600), 0, "h"};
    return (struct fact){"up", (double)(s / 86400), 0, "days"};
}

/* What a low screen has room for: whether the bus is well. */
static void draw_brief(struct grid *g, struct rect r, const struct model_bus *b)
{
    char load[32] = "--", text[128];
    if (b->load_percent >= 0)
        text_number(load, sizeof load, b->load_percent, 1);
    text_format(text, sizeof text, "load %s %%  lost %llu  errors %llu  bad %llu", load,
                (unsigned long long)b->lost, (unsigned long long)b->errors,
                (unsigned long long)b->bad_lines);
    grid_text(g, r.x + 1, r.y, r.w - 2, text, ROLE_TEXT, 0);
}

/* All that was heard and not used: nothing is left out in silence. */
static bool is_lossless(const struct model_bus *b)
{
    const struct losses *l = &b->losses;
    return !b->lost && !b->errors && !b->bad_lines && !l->incomplete && !l->gaps && !l->dropped &&
           !l->unbound && !l->alerts_lost;
}

/* Below 0, which is drawn as not known, where nobody tells it. */
static double left_out_count(const struct model_bus *b, uint64_t n)
{
    return b->losses_unknown ? -1 : (double)n;
}

/* What is told in time is no news once an alert tells of the exhaust. */
static bool is_told(const struct model *m, int engine)
{
    for (size_t i = 0; i < m->channel_count; i++) {
        const struct model_channel *c = &m->channels[i];
        if (c->id.quantity == QTY_EXHAUST && c->engine == engine && c->alert >= 0)
            return true;
    }
    return false;
}

/* How the cooling of each engine is watched, a line an engine; returns how many, none where the
 * boxes would have no room. */
static int draw_senses(struct grid *g, struct rect r, const struct model *m)
{
    enum { NAME_W = 12, BOXES_LEAST = 6 };
    int n = 0;
    for (int i = 0; i < PLANT_ENGINES; i++)
        n += m->sense[i][0] != '\0';
    if (r.h < n + BOXES_LEAST)
        return 0;
    for (int i = 0, y = r.y; i < PLANT_ENGINES; i++) {
        if (m->sense[i][0] == '\0')
            continue;
        grid_text(g, r.x + 1, y, NAME_W - 1, m->engine_names[i], ROLE_LABEL, 0);
        const char *by = strchr(m->sense[i], ':');
        char text[sizeof m->sense[i] + 24];
        if (by && is_told(m, i))
            text_format(text, sizeof text, "told in an alert%s", by);
        else
            text_copy(text, sizeof text, m->sense[i]);
        grid_text(g, r.x + 1 + NAME_W, y++, r.w - NAME_W - 2, text, ROLE_TEXT, 0);
    }
    return n > 0 ? n + 1 : 0;
}

void bus_view_draw(struct grid *g, struct rect body, const struct model *m, const struct ui *ui)
{
    enum { FACTS_W = 36, FACTS = 7 };
    const struct model_bus *b = &m->bus;
    const struct model_self *s = &m->self;
    const struct losses *l = &b->losses;
    const struct fact bus[] = {
        {"load", b->load_percent, 1, "%"},           {"frames", b->frames_per_s, 0, "/s"},
        {"frames in all", (double)b->frames, 0, ""}, {"lost", (double)b->lost, 0, ""},
        {"error frames", (double)b->errors, 0, ""},  {"bad lines", (double)b->bad_lines, 0, ""}};
    const struct fact self[] = {
        {"memory", s->memory_kib ? (double)s->memory_kib : -1, 0, "KiB"},
        {"pictures", (double)s->pictures, 0, ""},
        {"skipped", (double)s->skipped, 0, ""},
        {"bytes drawn", (double)s->bytes, 0, ""},
        up_fact(s->up_ns / NS_PER_S),
        {"channels", (double)m->channel_count, 0, ""},
    };
    const struct fact left_out[] = {{"broken messages", left_out_count(b, l->incomplete), 0, ""},
                                    {"gaps", left_out_count(b, l->gaps), 0, ""},
                                    {"no room for", left_out_count(b, l->dropped), 0, ""},
                                    {"limits unbound", left_out_count(b, l->unbound), 0, ""},
                                    {"alerts lost", left_out_count(b, l->alerts_lost), 0, ""}};
    bool beside = body.w >= 70;
    int facts = body.h >= 14 ? FACTS : body.h >= 8 ? 4 : 0;
    if (facts) {
        struct rect r = {body.x, body.y, FACTS_W, facts};
        draw_facts(g, r, "bus", bus, 6);
        r.x += FACTS_W;
        if (body.w >= 3 * FACTS_W) {
            draw_facts(g, r,
                       b->losses_unknown ? "left out: not told"
                       : is_lossless(b)  ? "left out: nothing"
                                         : "left out",
                       left_out, 5);
            r.x += FACTS_W;
        }
        if (beside)
            draw_facts(g, r, "this program", self, 6);
    }
    int top = facts ? facts + 1 : 0;
    if (!facts && body.h >= 5) {
        draw_brief(g, body, b);
        top = 1;
    } else if (facts == FACTS && body.w < 3 * FACTS_W && !b->losses_unknown) {
        char text[128];
        text_format(text, sizeof text,
                    "broken messages %llu  gaps %llu  no room %llu  unbound %llu",
                    (unsigned long long)l->incomplete, (unsigned long long)l->gaps,
                    (unsigned long long)l->dropped, (unsigned long long)l->unbound);
        grid_text(g, body.x + 1, body.y + FACTS, body.w - 2, text, ROLE_TEXT, 0);
        top++;
    }
    if (facts == FACTS)
        top += draw_senses(g, (struct rect){body.x, body.y + top, body.w, body.h - top}, m);
    draw_sources(g, (struct rect){body.x, body.y + top, body.w, body.h - top}, m, ui->bus_top);
}

bool bus_view_handle(struct ui *ui, const struct model *m, enum action a)
{
    int page = bars_layout(ui, m).body.h / 2;
    int step = a == ACTION_UP          ? -1
               : a == ACTION_DOWN      ? 1
               : a == ACTION_PAGE_UP   ? -page
               : a == ACTION_PAGE_DOWN ? page
               : a == ACTION_HOME      ? -m->source_count
               : a == ACTION_END       ? m->source_count
                                       : 0;
    if (!step)
        return false;
    ui->bus_top += step;
    if (ui->bus_top > m->source_count - 1)
        ui->bus_top = m->source_count - 1;
    if (ui->bus_top < 0)
        ui->bus_top = 0;
    return true;
}
