/* told: what boxes report of themselves by a flag or a state of a message (the table of flags), and
 * alerts of others (126983), which are shown and never answered. Of the kind `reported`, as what an
 * engine reports (rule_reported.c). A fault is over when its message says so; a sender that falls
 * silent leaves it standing. */
#include "rules/kinds.h"

#include "base/text.h"
#include "wire/decode.h"

#include <math.h>

#include "base/banned.h"

#define TOLD_FAULTS 64
#define BUS_WORD    5 /* 126983; the words of flags, one a PGN, are above */

/* Codes that say by themselves that something is wrong; their place in the message, and whose it
 * is: of the J1939 engine of that address, or a box with its instance in byte `instance`.
 * Priorities and first things to look at: common practice, no source. */
struct flag {
    uint32_t pgn;
    uint16_t bit;
    uint8_t bits, code, word;
    int8_t instance;  /* -1: an engine */
    uint8_t quantity; /* of the box, for its name */
    enum priority priority;
    const char *text, *advice;
};
static const struct flag flags[] = {
    {65252, 32, 2, 1, 6, -1, 0, PRIORITY_ALARM, "that it shut down to protect itself",
     "find out why"},
    {65252, 34, 2, 1, 6, -1, 0, PRIORITY_ALARM, "that it is about to shut down", "reduce load now"},
    {65279, 0, 2, 1, 7, -1, 0, PRIORITY_WARNING, "water in fuel", "drain the fuel filter"},
    {127507, 16, 4, 9, 8, 0, QTY_CHARGER, PRIORITY_WARNING, "a fault", "read its own panel"},
    {127509, 24, 4, 3, 9, 0, QTY_INVERTER, PRIORITY_WARNING, "a fault", "read its own panel"},
    {127750, 16, 8, 2, 10, 1, QTY_CONVERTER, PRIORITY_WARNING, "a fault", "read its own panel"},
    {127750, 24, 2, 1, 10, 1, QTY_CONVERTER, PRIORITY_CAUTION, "high temperature", "give it air"},
    {127750, 24, 2, 2, 10, 1, QTY_CONVERTER, PRIORITY_WARNING, "too high a temperature",
     "give it air"},
    {127750, 26, 2, 1, 10, 1, QTY_CONVERTER, PRIORITY_CAUTION, "near overload", "switch loads off"},
    {127750, 26, 2, 2, 10, 1, QTY_CONVERTER, PRIORITY_WARNING, "overload", "switch loads off"},
    {127750, 28, 2, 1, 10, 1, QTY_CONVERTER, PRIORITY_CAUTION, "low DC voltage", "charge"},
    {127750, 28, 2, 2, 10, 1, QTY_CONVERTER, PRIORITY_WARNING, "too low a DC voltage", "charge"},
    {127750, 30, 2, 1, 10, 1, QTY_CONVERTER, PRIORITY_CAUTION, "DC ripple",
     "check its battery cables"},
    {127750, 30, 2, 2, 10, 1, QTY_CONVERTER, PRIORITY_WARNING, "high DC ripple",
     "check its battery cables"},
};
#define FLAGS (sizeof flags / sizeof flags[0])

/* What 126985 said of alerts of others. */
#define TOLD_MAX 32
struct told {
    uint64_t name;
    uint16_t id;
    uint8_t iface, source, instance, occurrence;
    char text[64];
};

struct fault {
    bool used, claimed, present; /* present: in the message just read */
    bool worded;                 /* an alert of others: told in the words of its sender */
    uint8_t iface, source, who;  /* who: instance of a box, number of an engine */
    uint8_t word;                /* BUS_WORD, or that of its flag */
    uint8_t seen;                /* messages with it */
    uint32_t code, claimant;
};

struct rule_told {
    struct fault faults[TOLD_FAULTS];
    int count;
    struct told told[TOLD_MAX];
    int told_next; /* the oldest gives way */
};

static struct fault *fault_of(struct rules *r, struct rule_told *k, const struct message *m,
                              uint8_t who, uint8_t word, uint32_t code)
{
    struct fault *empty = NULL;
    for (int i = 0; i < TOLD_FAULTS; i++) {
        struct fault *f = &k->faults[i];
        if (!f->used)
            empty = empty ? empty : f;
        else if (f->iface == m->iface && f->source == m->source && f->who == who &&
                 f->word == word && f->code == code)
            return f;
    }
    if (empty) {
        *empty = (struct fault){.used = true,
                                .iface = m->iface,
                                .source = m->source,
                                .who = who,
                                .word = word,
                                .code = code,
                                .claimant = rule_new_claimant(r)};
        k->count++;
    }
    return empty;
}

static void end_fault(struct rules *r, struct rule_told *k, struct fault *f, struct stamp at)
{
    if (f->claimed)
        alerts_withdraw(r->alerts, f->claimant, at);
    f->used = false;
    k->count--;
}

/* Ends what the message just read does not hold any more. */
static void end_absent(struct rules *r, struct rule_told *k, const struct message *m, uint8_t who,
                       uint8_t word)
{
    for (int i = 0; k->count > 0 && i < TOLD_FAULTS; i++) {
        struct fault *f = &k->faults[i];
        if (!f->used || f->iface != m->iface || f->source != m->source || f->word != word ||
            f->who != who)
            continue;
        if (!f->present)
            end_fault(r, k, f, m->at);
        f->present = false;
    }
}

/* Marks what the message just read holds; true where it is to be claimed, on the second of them. */
static bool note(struct fault *f)
{
    f->present = true;
    if (f->seen < 2)
        f->seen++;
    return !f->claimed && f->seen == 2;
}

static void claim(struct rules *r, struct fault *f, enum priority p, const char *text,
                  struct stamp at)
{
    const struct rule_setting *rule = rule_find(r, KIND_REPORTED, NULL);
    if (!rule)
        return;
    struct alert_claim c = {
        .situation = {.group = SITUATION_REPORTED,
                      .iface = f->iface,
                      .source = f->source,
                      .id = {0, f->who, 0},
                      .code = (uint32_t)f->word << 28 | f->code},
        .claimant = f->claimant,
        .kind = KIND_REPORTED,
        .rule = rule->name,
        .priority = p < rule->priority ? p : rule->priority,
        .value = (double)NAN,
        .text = text,
        .stage = STAGE_CERTAIN,
        .figures = ALERT_NO_FIGURES,
    };
    f->claimed = true;
    alerts_claim(r->alerts, &c, at);
}

/* ---- flags ---- */

static unsigned code_at(const struct message *m, unsigned bit, unsigned bits)
{
    return m->data[bit / 8] >> bit % 8 & ((1U << bits) - 1);
}

/* "CHARGER 1", "PORT ENGINE". */
static void name(const struct rules *r, const struct flag *g, uint8_t who, char *dst, size_t cap)
{
    if (g->instance < 0) {
        const struct engine *e = plant_engine(r->plant, plant_engine_slot(r->plant, who));
        if (e->name[0])
            rule_engine_name(e, dst, cap);
        else
            text_copy(dst, cap, "ENGINE");
        return;
    }
    const struct channel *c = plant_find(r->plant, (struct channel_id){g->quantity, who, 0});
    text_format(dst, cap, "%s %u", c ? c->label : quantity_info((enum quantity)g->quantity)->label,
                who);
    for (char *s = dst; *s; s++)
        if (*s >= 'a' && *s <= 'z')
            *s = (char)(*s - 'a' + 'A');
}

static void read_flag(struct rules *r, struct rule_told *k, const struct message *m,
                      const struct flag *g, uint8_t who)
{
    unsigned code = code_at(m, g->bit, g->bits);
    bool unknown = code == (1U << g->bits) - 1; /* neither that it is so nor that it is not */
    if ((code != g->code && !unknown) || (unknown && k->count == 0))
        return;
    struct fault *f = fault_of(r, k, m, who, g->word, (uint32_t)(g - flags));
    if (!f)
        return;
    if (unknown) {
        f->present = f->claimed;
        return;
    }
    if (!note(f))
        return;
    char subject[48], text[ALERT_TEXT_SIZE];
    name(r, g, who, subject, sizeof subject);
    text_format(text, sizeof text, "%s reports %s: %s", subject, g->text, g->advice);
    claim(r, f, g->priority, text, m->at);
}

static void read_flags(struct rules *r, struct rule_told *k, const struct message *m)
{
    const struct flag *last = NULL;
    uint8_t who = m->source;
    for (const struct flag *g = flags; g < flags + FLAGS; g++) {
        if (g->pgn != m->pgn)
            continue;
        if (m->len <= (g->bit + g->bits - 1U) / 8 || (g->instance < 0 && m->source > 1))
            return;
        if (g->instance >= 0)
            who = m->data[g->instance];
        if (who > 252)
            return;
        read_flag(r, k, m, g, who);
        last = g;
    }
    if (last)
        end_absent(r, k, m, who, last->word);
}

/* ---- alerts of others ---- */

static struct told *told_of(struct rule_told *k, const struct message *m, const struct bus_alert *a)
{
    for (int i = 0; i < TOLD_MAX; i++) {
        struct told *t = &k->told[i];
        if (t->text[0] != '\0' && t->iface == m->iface && t->source == m->source &&
            t->name == a->source && t->id == a->id && t->instance == a->instance &&
            t->occurrence == a->occurrence)
            return t;
    }
    return NULL;
}

static void keep_text(struct rule_told *k, const struct message *m, const struct bus_alert *a)
{
    struct told *t = told_of(k, m, a);
    if (!t) {
        t = &k->told[k->told_next];
        k->told_next = (k->told_next + 1) % TOLD_MAX;
    }
    *t = (struct told){.name = a->source,
                       .id = a->id,
                       .iface = m->iface,
                       .source = m->source,
                       .instance = a->instance,
                       .occurrence = a->occurrence};
    text_format(t->text, sizeof t->text, "%s%s%s", a->location, a->location[0] ? " " : "",
                a->description);
}

/* The standard's types: 1 emergency alarm, 2 alarm, 5 warning, 8 caution. States: 2 active, 3
 * silenced, 4 acknowledged; in all others its condition does not stand (from memory). */
static void read_bus_alert(struct rules *r, struct rule_told *k, const struct message *m)
{
    struct bus_alert a;
    if (!decode_bus_alert(m, &a))
        return;
    if (m->pgn == 126985) {
        keep_text(k, m, &a);
        return;
    }
    bool active = a.state >= 2 && a.state <= 4;
    if (!active && k->count == 0)
        return;
    uint32_t code = (uint32_t)a.id ^ (uint32_t)a.occurrence << 16 ^ (uint32_t)a.system << 20;
    struct fault *f = fault_of(r, k, m, a.instance, BUS_WORD, code & 0xFFFFFFF);
    if (!f)
        return;
    if (!active) {
        end_fault(r, k, f, m->at);
        return;
    }
    const struct told *t = told_of(k, m, &a);
    bool first = note(f);
    if (!first && !(f->claimed && t && !f->worded))
        return;
    f->worded = t != NULL;
    enum priority p = a.type == 1   ? PRIORITY_EMERGENCY
                      : a.type == 2 ? PRIORITY_ALARM
                      : a.type == 5 ? PRIORITY_WARNING
                                    : PRIORITY_CAUTION;
    char subject[48], text[ALERT_TEXT_SIZE];
    rule_sender_name(r, f->iface, f->source, subject, sizeof subject);
    if (t)
        text_format(text, sizeof text, "%s reports %s: see there", subject, t->text);
    else
        text_format(text, sizeof text, "%s reports alert %u of its system %u: see there", subject,
                    a.id, a.system);
    claim(r, f, p, text, m->at);
}

static const uint32_t told_pgns[] = {126983, 126985, 65252, 65279, 127507, 127509, 127750, 0};

static void told_message(struct rules *r, void *own, const struct message *m)
{
    switch (m->pgn) { /* few of the messages: the others cost nothing */
    case 126983:
    case 126985:
        read_bus_alert(r, own, m);
        return;
    case 65252:
    case 65279:
    case 127507:
    case 127509:
    case 127750:
        read_flags(r, own, m);
        return;
    default:
        return;
    }
}

const struct rule_module rule_told_module = {
    .own_size = sizeof(struct rule_told),
    .message = told_message,
    .pgns = told_pgns,
};
