/* reported: the engine itself reports a fault, by a bit of the status words of PGN 127489 or by a
 * trouble code of DM1. Priority goes by bit and by lamp (SAE J1939-73: red stop lamp, stop;
 * amber, not necessarily at once; protect, most likely not electronic), at most what the rule
 * allows. A fault is over when it is not sent any more; a sender that falls silent leaves it
 * standing. What is also a channel's trouble shares that channel's alert. */
#include "rules/kinds.h"

#include "base/text.h"
#include "wire/decode.h"
#include "wire/dm1.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

#define REPORTED_MAX 96
#define SETTLE_NS    (5 * NS_PER_S)  /* a starting engine still has no oil pressure */
#define DM1_OVER_NS  (10 * NS_PER_S) /* sent each second while a code is active (J1939-73 5.7.1) */

enum when { WHEN_ALWAYS, WHEN_RUNNING, WHEN_NEVER };

/* Priorities and first things to look at: common practice, no source. */
struct bit_info {
    enum priority priority;
    enum when when;
    uint8_t quantity; /* the channel whose trouble it also is */
    const char *advice;
};

static const struct bit_info word1[16] = {
    [0] = {PRIORITY_WARNING, WHEN_ALWAYS, 0, "read the engine's own panel"},
    [1] = {PRIORITY_ALARM, WHEN_ALWAYS, QTY_COOLANT, "reduce load, check raw water"},
    [2] = {PRIORITY_ALARM, WHEN_RUNNING, QTY_OIL_PRESSURE, "stop the engine, check oil level"},
    [3] = {PRIORITY_WARNING, WHEN_ALWAYS, 0, "check oil level"},
    [4] = {PRIORITY_WARNING, WHEN_RUNNING, QTY_FUEL_PRESSURE, "check fuel filter"},
    [5] = {PRIORITY_WARNING, WHEN_ALWAYS, 0, "check charging and battery"},
    [6] = {PRIORITY_ALARM, WHEN_ALWAYS, 0, "check coolant level, engine cold"},
    [7] = {PRIORITY_ALARM, WHEN_RUNNING, QTY_EXHAUST, "check raw water"},
    [8] = {PRIORITY_WARNING, WHEN_ALWAYS, 0, "drain the fuel filter"},
    [9] = {PRIORITY_WARNING, WHEN_RUNNING, 0, "check alternator and belt"},
    [10] = {PRIORITY_CAUTION, WHEN_NEVER, 0, ""}, /* preheating is no fault */
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
    uint8_t seen, gone; /* messages in a row with it, without it */
    int64_t last_ns;
};

struct rule_reported {
    struct fault faults[REPORTED_MAX];
    int count;
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
    else if (e->name[0] == 'E')
        text_copy(dst, cap, e->name);
    else
        text_format(dst, cap, "%s ENGINE", e->name);
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
                  const char *text, struct stamp at)
{
    const struct rule_setting *rule = rule_find(r, KIND_REPORTED, NULL);
    if (!rule)
        return;
    struct alert_claim c = {
        .situation = situation_of(r, f, quantity),
        .claimant = f->claimant,
        .kind = KIND_REPORTED,
        .rule = rule->name,
        .priority = p < rule->priority ? p : rule->priority,
        .value = NAN,
        .text = text,
        .figures = ALERT_NO_FIGURES,
    };
    f->claimed = true;
    alerts_claim(r->alerts, &c, at);
}

static void claim_bit(struct rules *r, struct fault *f, const struct bit_info *info,
                      struct stamp at)
{
    char name[48], text[ALERT_TEXT_SIZE];
    name_engine(r, f, name, sizeof name);
    const char *what = decode_engine_status_text(f->word, (int)f->code);
    if (what)
        text_format(text, sizeof text, "%s reports %s: %s", name, what, info->advice);
    else
        text_format(text, sizeof text, "%s reports fault bit %u of its maker: %s", name,
                    (unsigned)f->code, info->advice);
    claim(r, f, info->priority, info->quantity, text, at);
}

/* Ends what the message just read does not hold any more. */
static void end_absent(struct rules *r, struct rule_reported *k, const struct message *m,
                       uint8_t engine, uint8_t word, uint8_t tolerated)
{
    for (int i = 0; k->count > 0 && i < REPORTED_MAX; i++) {
        struct fault *f = &k->faults[i];
        if (!f->used || f->iface != m->iface || f->source != m->source || f->word != word ||
            f->engine != engine)
            continue;
        if (f->present) {
            f->present = false;
            continue;
        }
        f->seen = 0;
        if (++f->gone > tolerated)
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

static void read_word(struct rules *r, struct rule_reported *k, const struct message *m,
                      uint8_t engine, uint8_t word, uint16_t bits)
{
    if (bits == 0xFFFF || (bits == 0 && k->count == 0))
        return; /* not available: says neither that there is a fault nor that there is none */
    for (unsigned bit = 0; bit < 16; bit++) {
        const struct bit_info *info = word == 1 ? &word1[bit] : &word2[bit];
        if (!(bits >> bit & 1) || info->when == WHEN_NEVER ||
            (info->when == WHEN_RUNNING && !runs(r, engine, m->at)))
            continue;
        struct fault *f = fault_of(r, k, m, engine, word, bit);
        if (!f)
            return;
        f->present = true;
        f->gone = 0;
        f->last_ns = m->at.mono_ns;
        if (f->seen < 2)
            f->seen++;
        if (!f->claimed && f->seen == 2)
            claim_bit(r, f, info, m->at);
    }
    end_absent(r, k, m, engine, word, 1);
}

static enum priority lamp_priority(const struct dm1 *d)
{
    if (d->red_stop == LAMP_ON)
        return PRIORITY_ALARM;
    if (d->amber_warning == LAMP_ON || d->protect == LAMP_ON)
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

static void claim_code(struct rules *r, struct fault *f, const struct trouble_code *t,
                       enum priority p, struct stamp at)
{
    char name[48], text[ALERT_TEXT_SIZE];
    name_engine(r, f, name, sizeof name);
    const char *spn = t->old_form ? NULL : dm1_spn_text(t->spn);
    const char *colon = spn ? ": " : "", *doubt = t->old_form ? "?" : "";
    spn = spn ? spn : "";
    text_format(text, sizeof text, "%s reports %s%s%s, SPN %u%s FMI %d", name, spn, colon,
                dm1_fmi_text(t->fmi), (unsigned)t->spn, doubt, t->fmi);
    if (text_width(text) > WORDS_COLUMNS) { /* what fails how says more than the word ENGINE */
        name[strcspn(name, " ")] = '\0';
        text_format(text, sizeof text, "%s: %s%s%s, SPN %u%s/%d", name, spn, colon,
                    dm1_fmi_text(t->fmi), (unsigned)t->spn, doubt, t->fmi);
    }
    claim(r, f, p, quantity_of(t), text, at);
}

static void read_dm1(struct rules *r, struct rule_reported *k, const struct message *m)
{
    struct dm1 d;
    if (!dm1_decode(m, &d) || (d.code_count == 0 && k->count == 0))
        return;
    uint8_t engine = m->source; /* J1939: address 0 is engine 0, 1 is engine 1 */
    for (int i = 0; i < d.code_count; i++) {
        const struct trouble_code *t = &d.codes[i];
        struct fault *f = fault_of(r, k, m, engine, DM1_WORD, t->spn << 5 | t->fmi);
        if (!f)
            break;
        f->present = true;
        f->gone = 0;
        f->last_ns = m->at.mono_ns;
        if (!f->claimed || lamp_priority(&d) > PRIORITY_CAUTION)
            claim_code(r, f, t, lamp_priority(&d), m->at);
    }
    /* "None" is said once; a code that is missing from a list may still be on its way. */
    end_absent(r, k, m, engine, DM1_WORD, d.code_count == 0 ? 0 : 1);
}

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

/* A DM1 that is not repeated while its sender goes on speaking has ended. */
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

const struct rule_module rule_reported_module = {
    .own_size = sizeof(struct rule_reported),
    .message = reported_message,
    .sweep = reported_sweep,
};
