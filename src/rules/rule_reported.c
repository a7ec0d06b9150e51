/* reported: the engine itself reports a fault, by a bit of the status words of PGN 127489 or by a
 * trouble code of DM1. Priority goes by bit and by lamp (SAE J1939-73: red stop lamp, stop;
 * amber, not necessarily at once; protect, most likely not electronic), at most what the rule
 * allows. What is reported while no engine turns, nor has turned within a minute, is the lamp test
 * at key-on and says nothing. A fault is over when it is not sent any more; a sender that falls
 * silent leaves it standing. What is also a channel's trouble shares that channel's alert, and
 * where the reading says the contrary, both are told. */
#include "rules/kinds.h"

#include "base/text.h"
#include "wire/decode.h"
#include "wire/dm1.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

#define REPORTED_MAX 96
#define SETTLE_NS    (5 * NS_PER_S) /* a starting engine still has no oil pressure */
/* Sent each second while a code is active (J1939-73 5.7.1), by some in turn with a message that
 * says "none". */
#define DM1_OVER_NS (10 * NS_PER_S)
#define HOLD_NS     (3 * NS_PER_S)  /* must stand so long; common practice, no source */
#define TURNED_NS   (60 * NS_PER_S) /* an engine that shut itself down must be heard */
#define LAMP_ALONE  0x1000000u      /* in place of a code, and more: a lamp without one */
/* A reading so far on the good side of its first limit contradicts the bit: kelvin below the upper
 * one, times the lower one. Common practice, no source. */
#define CONTRADICTS_K     20.0
#define CONTRADICTS_TIMES 2.0

enum when { WHEN_ALWAYS, WHEN_RUNNING, WHEN_NEVER };

/* Priorities and first things to look at: common practice, no source. */
struct bit_info {
    enum priority priority;
    enum when when;
    uint8_t quantity;   /* the channel whose trouble it also is */
    const char *advice; /* NULL: as for a loss of raw water */
};

static const struct bit_info word1[16] = {
    [0] = {PRIORITY_WARNING, WHEN_ALWAYS, 0, "read the engine's own panel"},
    [1] = {PRIORITY_ALARM, WHEN_ALWAYS, QTY_COOLANT, "reduce load, check raw water"},
    [2] = {PRIORITY_ALARM, WHEN_RUNNING, QTY_OIL_PRESSURE, "stop the engine, check oil level"},
    [3] = {PRIORITY_WARNING, WHEN_ALWAYS, 0, "check oil level"},
    [4] = {PRIORITY_WARNING, WHEN_RUNNING, QTY_FUEL_PRESSURE, "check fuel filter"},
    [5] = {PRIORITY_WARNING, WHEN_ALWAYS, 0, "check charging and battery"},
    [6] = {PRIORITY_ALARM, WHEN_ALWAYS, 0, "check coolant level, engine cold"},
    [7] = {PRIORITY_ALARM, WHEN_RUNNING, QTY_EXHAUST, NULL},
    [8] = {PRIORITY_WARNING, WHEN_ALWAYS, 0, "drain the fuel filter"},
    [9] = {PRIORITY_WARNING, WHEN_RUNNING, 0, "check alternator and belt"},
    [10] = {PRIORITY_CAUTION, WHEN_NEVER, 0, ""}, /* preheating is not a fault */
    [11] = {PRIORITY_WARNING, WHEN_ALWAYS, 0, "reduce load"},
    [12] = {PRIORITY_WARNING, WHEN_ALWAYS, 0, "reduce speed"},
    [13] = {PRIORITY_CAUTION, WHEN_ALWAYS, 0, "have it looked at"},
    [14] = {PRIORITY_WARNING, WHEN_ALWAYS, 0, "have it looked at"},
    [15] = {PRIORITY_ALARM, WHEN_ALWAYS, 0, "find out why it was stopped"},
};
static const struct bit_info word2[16] = {
    [0] = {PRIORITY_WARNING, WHEN_ALWAYS, 0, "read the engine's own panel"},
    [1] = {PRIORITY_ALARM, WHEN_ALWAYS, 0, "read the engine's own panel"},
    [2] = {PRIORITY_WARNING, WHEN_ALWAYS, 0, "read the engine's own panel"},
    [3] = {PRIORITY_CAUTION, WHEN_ALWAYS, 0, "plan the maintenance"},
    [4] = {PRIORITY_WARNING, WHEN_ALWAYS, 0, "check the engine's wiring"},
    [5] = {PRIORITY_CAUTION, WHEN_ALWAYS, 0, "read the engine's own panel"},
    [6] = {PRIORITY_CAUTION, WHEN_ALWAYS, 0, "put the gear in neutral"},
    [7] = {PRIORITY_ALARM, WHEN_ALWAYS, 0, "the engine stops by itself"},
    [8] = {PRIORITY_WARNING, WHEN_ALWAYS, 0, "read the engine's own panel"},
    [9] = {PRIORITY_WARNING, WHEN_ALWAYS, 0, "read the engine's own panel"},
    [10] = {PRIORITY_WARNING, WHEN_ALWAYS, 0, "read the engine's own panel"},
    [11] = {PRIORITY_WARNING, WHEN_ALWAYS, 0, "read the engine's own panel"},
    [12] = {PRIORITY_WARNING, WHEN_ALWAYS, 0, "read the engine's own panel"},
    [13] = {PRIORITY_WARNING, WHEN_ALWAYS, 0, "read the engine's own panel"},
    [14] = {PRIORITY_WARNING, WHEN_ALWAYS, 0, "read the engine's own panel"},
    [15] = {PRIORITY_WARNING, WHEN_ALWAYS, 0, "read the engine's own panel"},
};

#define DM1_WORD 3

struct fault {
    bool used, claimed, present;         /* present: in the message just read */
    uint8_t iface, source, engine, word; /* word 1, 2, DM1_WORD */
    uint32_t code;                       /* bit, or SPN and FMI */
    uint32_t claimant;
    uint8_t gone;     /* messages in a row without it */
    uint32_t seen;    /* messages with it, */
    int64_t since_ns; /* the first of them while the engine turned, */
    int64_t last_ns;  /* and the newest */
};

struct rule_reported {
    struct fault faults[REPORTED_MAX];
    int count;
    bool turning[PLANT_ENGINES];
    int64_t turned_ns[PLANT_ENGINES]; /* mono: the engine stopped turning; 0: never yet */
};

static struct fault *fault_of(struct rules *r, struct rule_reported *k, const struct message *m,
                              uint8_t engine, uint8_t word, uint32_t code)
{
    struct fault *empty = NULL;
    for (int i = 0; i < REPORTED_MAX; i++) {
        struct fault *f = &k->faults[i];
        if (!f->used)
            empty = empty ? empty : f;
        else if (f->iface == m->iface && f->source == m->source && f->engine == engine &&
                 f->word == word && f->code == code)
            return f;
    }
    if (empty) {
        *empty = (struct fault){.used = true,
                                .iface = m->iface,
                                .source = m->source,
                                .engine = engine,
                                .word = word,
                                .code = code,
                                .claimant = rule_new_claimant(r)};
        k->count++;
    }
    return empty;
}

static void end_fault(struct rules *r, struct rule_reported *k, struct fault *f, struct stamp at)
{
    if (f->claimed)
        alerts_withdraw(r->alerts, f->claimant, at);
    f->used = false;
    k->count--;
}

static void name_engine(const struct rules *r, const struct fault *f, char *dst, size_t cap)
{
    const struct engine *e = plant_engine(r->plant, plant_engine_slot(r->plant, f->engine));
    if (f->word == DM1_WORD && !e->exists) {
        char sender[48];
        rule_sender_name(r, f->iface, f->source, sender, sizeof sender);
        text_format(dst, cap, "S%s", sender + 1);
        return;
    }
    if (!e->name[0])
        text_format(dst, cap, "ENGINE %d", f->engine + 1);
    else
        rule_engine_name(e, dst, cap);
}

static struct situation situation_of(const struct rules *r, const struct fault *f, uint8_t quantity)
{
    struct situation s = {.group = SITUATION_CHANNEL, .id = {quantity, f->engine, 0}};
    if (quantity == QTY_NONE) {
        s = (struct situation){.group = SITUATION_REPORTED,
                               .iface = f->iface,
                               .source = f->source,
                               .id = {0, f->engine, 0},
                               .code = (uint32_t)f->word << 28 | f->code};
        return s;
    }
    struct channel c = {.id = {quantity, f->engine, 0},
                        .engine = plant_engine_slot(r->plant, f->engine)};
    rule_cooling_situation(r, &c, &s);
    return s;
}

static void claim(struct rules *r, struct fault *f, enum priority p, uint8_t quantity,
                  const struct words *w, struct alert_claim *c, struct stamp at)
{
    const struct rule_setting *rule = rule_find(r, KIND_REPORTED, NULL);
    if (!rule)
        return;
    c->situation = situation_of(r, f, quantity);
    c->claimant = f->claimant;
    c->kind = KIND_REPORTED;
    c->rule = rule->name;
    c->priority = p < rule->priority ? p : rule->priority;
    c->value = NAN;
    c->words = w;
    c->figures = (struct alert_figures)ALERT_NO_FIGURES;
    f->claimed = true;
    alerts_claim(r->alerts, c, at);
}

/* Whether the channel whose trouble it is reads well on the good side of all its limits. */
static bool contradicted(const struct rules *r, const struct channel *c)
{
    bool well = false;
    if (!c || c->status != READING_OK || c->id.quantity == QTY_EXHAUST)
        return false; /* water may be gone long before the exhaust is hot */
    for (size_t i = 0; i < r->settings->rule_count; i++) {
        const struct rule_setting *rule = &r->settings->rules[i];
        if (rule->kind != KIND_LIMIT || !settings_rule_applies(r->settings, rule, c->id))
            continue;
        if ((rule->has_above && c->value > rule->above - CONTRADICTS_K) ||
            (rule->has_below && c->value < rule->below * CONTRADICTS_TIMES))
            return false;
        well = true;
    }
    return well;
}

static void claim_bit(struct rules *r, struct fault *f, const struct bit_info *info,
                      struct stamp at)
{
    struct words w = {.quantity = QTY_NONE, .value = NAN, .rate_per_min = NAN, .limit = NAN};
    struct alert_claim c = {.stage = STAGE_CERTAIN};
    enum priority p = info->priority;
    char more[96];
    name_engine(r, f, w.subject, sizeof w.subject);
    const char *what = decode_engine_status_text(f->word, (int)f->code);
    if (what)
        text_format(more, sizeof more, " reports %s", what);
    else
        text_format(more, sizeof more, " reports fault bit %u of its maker", (unsigned)f->code);
    w.more = more;
    w.advice = info->advice;
    struct channel_id id = {info->quantity, f->engine, 0};
    const struct channel *ch = info->quantity ? plant_find(r->plant, id) : NULL;
    if (ch && contradicted(r, ch)) {
        text_append(more, sizeof more, ", reads ");
        words_add_figure(&w, more, sizeof more, (enum quantity)info->quantity, ch->value, false);
        w.advice = "check its sensor";
        c.stage = STAGE_SUSPECTED;
        p = p > PRIORITY_WARNING ? PRIORITY_WARNING : p;
    } else if (!info->advice) {
        c.trouble = TROUBLE_RAW_WATER;
        c.engine = plant_engine_slot(r->plant, f->engine) + 1;
    }
    claim(r, f, p, info->quantity, &w, &c, at);
}

/* Ends what the status word just read does not hold any more; one without it may be a slip. */
static void end_absent(struct rules *r, struct rule_reported *k, const struct message *m,
                       uint8_t engine, uint8_t word)
{
    for (int i = 0; k->count > 0 && i < REPORTED_MAX; i++) {
        struct fault *f = &k->faults[i];
        if (!f->used || f->iface != m->iface || f->source != m->source || f->word != word ||
            f->engine != engine)
            continue;
        if (f->present)
            f->present = false;
        else if (++f->gone > 1)
            end_fault(r, k, f, m->at);
    }
}

static bool runs(const struct rules *r, uint8_t engine, struct stamp at)
{
    const struct engine *e = plant_engine(r->plant, plant_engine_slot(r->plant, engine));
    if (e->state == ENGINE_UNKNOWN)
        return !e->has_rpm;
    return e->state == ENGINE_RUNNING && at.mono_ns - e->since_ns >= SETTLE_NS;
}

/* Whether the engine turns or has turned within the last minute; one whose speed is not on the bus
 * may. slot -1: any engine. */
static bool turns(const struct rules *r, const struct rule_reported *k, int slot, struct stamp at)
{
    bool any_speed = false;
    for (int i = 0; i < PLANT_ENGINES; i++) {
        const struct engine *e = plant_engine(r->plant, i);
        if (!e->exists || (slot >= 0 && i != slot))
            continue;
        if (k->turning[i] || (k->turned_ns[i] > 0 && at.mono_ns - k->turned_ns[i] < TURNED_NS))
            return true;
        any_speed |= e->has_rpm;
    }
    return !any_speed;
}

/* A message holds the fault. Whether it has stood for long enough to be told. */
static bool stands(struct fault *f, bool turning, struct stamp at)
{
    f->present = true;
    f->gone = 0;
    f->last_ns = at.mono_ns;
    if (!f->claimed && !turning)
        f->seen = 0;
    else if (f->seen++ == 0)
        f->since_ns = at.mono_ns;
    return f->claimed || (f->seen > 1 && at.mono_ns - f->since_ns >= HOLD_NS);
}

/* A byte of ones is an unused one: faults do not come by eights. */
static uint16_t used_bits(uint16_t bits)
{
    if ((bits & 0xFF00) == 0xFF00)
        bits &= 0x00FF;
    return (bits & 0x00FF) == 0x00FF ? bits & 0xFF00 : bits;
}

static void read_word(struct rules *r, struct rule_reported *k, const struct message *m,
                      uint8_t engine, uint8_t word, uint16_t bits)
{
    bool nothing = bits >= 0xFFFD; /* reserved, error, not available: neither a fault nor none */
    bits = used_bits(bits);
    if (nothing || (bits == 0 && k->count == 0))
        return;
    bool turning = turns(r, k, plant_engine_slot(r->plant, engine), m->at);
    for (unsigned bit = 0; bit < 16; bit++) {
        const struct bit_info *info = word == 1 ? &word1[bit] : &word2[bit];
        if (!(bits >> bit & 1) || info->when == WHEN_NEVER ||
            (info->when == WHEN_RUNNING && !runs(r, engine, m->at)))
            continue;
        struct fault *f = fault_of(r, k, m, engine, word, bit);
        if (!f)
            return;
        if (stands(f, turning, m->at))
            claim_bit(r, f, info, m->at);
    }
    end_absent(r, k, m, engine, word);
}

static enum priority lamp_priority(const struct dm1 *d)
{
    if (d->lamps[DM1_RED_STOP] == LAMP_ON)
        return PRIORITY_ALARM;
    if (d->lamps[DM1_AMBER_WARNING] == LAMP_ON || d->lamps[DM1_PROTECT] == LAMP_ON)
        return PRIORITY_WARNING;
    return PRIORITY_CAUTION;
}

/* Trouble of a channel that has an alert of its own. FMI 0, 15, 16 above normal; 1, 17, 18 below
 * (SAE J1939-73, appendix A). */
static uint8_t quantity_of(const struct trouble_code *t)
{
    bool above = t->fmi == 0 || t->fmi == 15 || t->fmi == 16;
    bool below = t->fmi == 1 || t->fmi == 17 || t->fmi == 18;
    if (t->old_form)
        return QTY_NONE;
    if (t->spn == 110 && above)
        return QTY_COOLANT;
    if (t->spn == 100 && below)
        return QTY_OIL_PRESSURE;
    return QTY_NONE;
}

/* What each asks for: SAE J1939-73 5.7.1. */
static const struct {
    enum priority priority;
    bool running; /* lit before a start, to show that it works, it says nothing */
} lamps[DM1_LAMPS] = {
    [DM1_RED_STOP] = {PRIORITY_ALARM, false},
    [DM1_AMBER_WARNING] = {PRIORITY_WARNING, true},
    [DM1_PROTECT] = {PRIORITY_WARNING, true},
    [DM1_MALFUNCTION] = {PRIORITY_CAUTION, true},
};

/* The worst that is lit; DM1_LAMPS where none is. */
static enum dm1_lamp lamp_lit(const struct dm1 *d)
{
    enum dm1_lamp lamp = 0;
    while (lamp < DM1_LAMPS && d->lamps[lamp] != LAMP_ON)
        lamp++;
    return lamp;
}

static void claim_lamp(struct rules *r, struct fault *f, const struct dm1 *d, enum dm1_lamp lamp,
                       struct stamp at)
{
    struct words w = {.quantity = QTY_NONE, .value = NAN, .rate_per_min = NAN, .limit = NAN};
    struct alert_claim c = {.stage = STAGE_CERTAIN};
    char more[WORDS_MORE_SIZE];
    const char *flash = dm1_flash_text(d, lamp);
    name_engine(r, f, w.subject, sizeof w.subject);
    if (flash)
        text_format(more, sizeof more, " %s flashes %s, no code", dm1_lamp_text(lamp), flash);
    else
        text_format(more, sizeof more, " shows the %s, no code", dm1_lamp_text(lamp));
    w.more = more;
    w.advice = "read its panel";
    claim(r, f, lamps[lamp].priority, QTY_NONE, &w, &c, at);
}

static void claim_code(struct rules *r, struct fault *f, const struct trouble_code *t,
                       enum priority p, struct stamp at)
{
    struct words w = {.quantity = QTY_NONE, .value = NAN, .rate_per_min = NAN, .limit = NAN};
    struct alert_claim c = {.stage = STAGE_CERTAIN};
    char more[WORDS_MORE_SIZE];
    name_engine(r, f, w.subject, sizeof w.subject);
    w.more = more;
    const char *spn = t->old_form ? NULL : dm1_spn_text(t->spn);
    const char *colon = spn ? ": " : "", *doubt = t->old_form ? "?" : "";
    spn = spn ? spn : "";
    text_format(more, sizeof more, " reports %s%s%s, SPN %u%s FMI %d", spn, colon,
                dm1_fmi_text(t->fmi), (unsigned)t->spn, doubt, t->fmi);
    if (text_width(w.subject) + text_width(more) > WORDS_COLUMNS) {
        w.subject[strcspn(w.subject, " ")] = '\0'; /* how it fails says more than ENGINE */
        text_format(more, sizeof more, ": %s%s%s, SPN %u%s/%d", spn, colon, dm1_fmi_text(t->fmi),
                    (unsigned)t->spn, doubt, t->fmi);
    }
    claim(r, f, p, quantity_of(t), &w, &c, at);
}

static bool has_code(const struct rule_reported *k, const struct message *m)
{
    for (int i = 0; i < REPORTED_MAX; i++) {
        const struct fault *f = &k->faults[i];
        if (f->used && f->word == DM1_WORD && f->iface == m->iface && f->source == m->source &&
            f->code < LAMP_ALONE)
            return true;
    }
    return false;
}

/* NULL while it does not stand yet. */
static struct fault *standing(struct rules *r, struct rule_reported *k, const struct message *m,
                              uint32_t code)
{
    uint8_t engine = m->source; /* J1939: address 0 is engine 0, 1 is engine 1 */
    struct fault *f = fault_of(r, k, m, engine, DM1_WORD, code);
    bool there = f && stands(f, turns(r, k, plant_engine_slot(r->plant, engine), m->at), m->at);
    return there ? f : NULL;
}

static void take_code(struct rules *r, struct rule_reported *k, const struct message *m,
                      const struct trouble_code *t, enum priority p)
{
    struct fault *f = standing(r, k, m, t->spn << 5 | t->fmi);
    if (f && (!f->claimed || p > PRIORITY_CAUTION))
        claim_code(r, f, t, p, m->at);
}

static void take_lamp(struct rules *r, struct rule_reported *k, const struct message *m,
                      const struct dm1 *d, enum dm1_lamp lamp)
{
    struct fault *f = standing(r, k, m, LAMP_ALONE + (uint32_t)lamp);
    if (f)
        claim_lamp(r, f, d, lamp, m->at);
}

static void read_dm1(struct rules *r, struct rule_reported *k, const struct message *m)
{
    struct dm1 d;
    if (!dm1_decode(m, &d))
        return;
    for (int i = 0; i < d.code_count; i++)
        if (d.codes[i].spn != 0x7FFFF) /* all ones: not available */
            take_code(r, k, m, &d.codes[i], lamp_priority(&d));
    enum dm1_lamp lit = d.code_count == 0 ? lamp_lit(&d) : DM1_LAMPS;
    if (lit < DM1_LAMPS && !has_code(k, m) && (!lamps[lit].running || runs(r, m->source, m->at)))
        take_lamp(r, k, m, &d, lit);
}

static const uint32_t reported_pgns[] = {65226, 127489, 0};

static void reported_message(struct rules *r, void *own, const struct message *m)
{
    struct rule_reported *k = own;
    if (m->pgn == 65226) {
        read_dm1(r, k, m);
        return;
    }
    uint8_t engine;
    uint16_t status1, status2;
    if (m->pgn != 127489 || !decode_engine_status(m, &engine, &status1, &status2))
        return;
    read_word(r, k, m, engine, 1, status1);
    read_word(r, k, m, engine, 2, status2);
}

/* A code that is not repeated while its sender goes on speaking has ended. */
static void reported_sweep(struct rules *r, void *own, struct stamp now)
{
    struct rule_reported *k = own;
    for (int i = 0; k->count > 0 && i < REPORTED_MAX; i++) {
        struct fault *f = &k->faults[i];
        if (!f->used || f->word != DM1_WORD || now.mono_ns - f->last_ns < DM1_OVER_NS)
            continue;
        const struct source_seen *s = plant_source(r->plant, f->iface, f->source);
        if (s && s->last_ns - f->last_ns >= DM1_OVER_NS)
            end_fault(r, k, f, now);
    }
}

static void reported_engine(struct rules *r, void *own, int engine, struct stamp at)
{
    struct rule_reported *k = own;
    bool turning = plant_engine(r->plant, engine)->state == ENGINE_RUNNING;
    if (k->turning[engine] && !turning)
        k->turned_ns[engine] = at.mono_ns;
    k->turning[engine] = turning;
}

const struct rule_module rule_reported_module = {
    .own_size = sizeof(struct rule_reported),
    .engine = reported_engine,
    .message = reported_message,
    .pgns = reported_pgns,
    .sweep = reported_sweep,
};
