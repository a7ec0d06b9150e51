/* bus: an interface from which no frame of anybody comes any more while it is up: cable off, power
 * of the bus lost. Found when the first `silent` would be said (rule_silent.c), and said in its
 * place, once for the interface; the senders' own alerts are held back until traffic returns. So it
 * is never later than they were, and a bus on which nobody is missed is never called quiet.
 *
 * One sender that died among slow ones is not a quiet bus. Each sender's usual pause is learned
 * from its frames: with nobody left whose next frame is only to come, or with more senders overdue
 * than still to come, it is the bus. Where that was wrong, the next frame puts it right.
 *
 * Where the interface is known to be down, gone or bus-off, that alert speaks for the senders. */
#include "rules/kinds.h"

#include "base/text.h"
#include "bus/condition.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

#define IFACES    16 /* as in bus/source.h */
#define ADDRESSES 256

#define BURST_NS      (50 * NS_PER_MS) /* frames closer than this belong together */
#define USUAL_MAX_NS  (60 * NS_PER_S)  /* who pauses longer has no rhythm to miss */
#define AWAIT_MAX_NS  (10 * NS_PER_S)  /* nobody's next frame is waited for longer */
#define QUIET_LEAST   NS_PER_S         /* nobody is to come */
#define QUIET_MOSTLY  (3 * NS_PER_S)   /* some are, but more are overdue */
#define TROUBLE_AFTER (3 * NS_PER_S)   /* for traffic to return, after the interface was down */

struct heard {
    int64_t last_ns;  /* mono */
    int64_t usual_ns; /* the longer ones of its pauses; 0: only bursts, or once */
    uint32_t frames;
};

struct quiet_iface {
    int64_t last_ns;    /* mono: last frame of anybody; 0: never */
    int64_t trouble_ns; /* mono: last known to be down, gone or bus-off */
    uint32_t claimant;
    bool looked;      /* within one sweep */
    bool back;        /* traffic has returned, found in this sweep */
    bool quiet;       /* found so, until a frame comes: */
    int64_t since_ns; /* last_ns then */
    bool told;        /* and has an alert of its own */
    int held;         /* silent values of this sweep that it speaks for */
    enum priority heaviest, said_priority;
    char said[ALERT_TEXT_SIZE];
    struct heard heard[ADDRESSES];
};

struct rule_bus {
    struct quiet_iface ifaces[IFACES];
};

static struct rule_bus *own_of(const struct rules *r)
{
    return rule_own(r, &rule_bus_module);
}

/* ---- what is heard ---- */

static void learn(struct heard *h, int64_t now_ns)
{
    int64_t pause_ns = now_ns - h->last_ns;
    if (h->frames > 0 && pause_ns > BURST_NS && pause_ns <= USUAL_MAX_NS) {
        if (pause_ns > h->usual_ns)
            h->usual_ns = pause_ns;
        else
            h->usual_ns -= (h->usual_ns - pause_ns) / 16;
    }
    h->last_ns = now_ns;
    if (h->frames < UINT32_MAX)
        h->frames++;
}

/* Nobody is late by time in which nobody was heard. */
static void pass(struct quiet_iface *q, int64_t now_ns)
{
    int64_t passed_ns = now_ns - q->last_ns;
    for (int a = 0; a < ADDRESSES; a++)
        if (q->heard[a].frames > 0)
            q->heard[a].last_ns += passed_ns;
    q->last_ns = now_ns;
}

static inline void take_frame(struct rule_bus *k, const struct frame *f)
{
    if (f->iface >= IFACES || (f->flags & FRAME_ERROR)) /* an error frame is nobody's */
        return;
    struct quiet_iface *q = &k->ifaces[f->iface];
    if (q->quiet && q->last_ns == q->since_ns)
        pass(q, f->mono_ns);
    q->last_ns = f->mono_ns;
    if (f->flags & FRAME_EXTENDED)
        learn(&q->heard[f->id & 0xFF], f->mono_ns);
}

static void bus_frames(void *own, const struct frame *f, size_t n)
{
    for (size_t i = 0; i < n; i++)
        take_frame(own, &f[i]);
}

static void bus_gap(void *own, struct stamp now)
{
    struct rule_bus *k = own;
    for (int i = 0; i < IFACES; i++) {
        struct quiet_iface *q = &k->ifaces[i];
        if (q->last_ns > 0 && !q->quiet)
            pass(q, now.mono_ns);
    }
}

/* ---- whether it is quiet ---- */

static bool in_trouble(const struct rules *r, int iface)
{
    static const enum condition_sort sorts[] = {CONDITION_MISSING, CONDITION_DOWN,
                                                CONDITION_BUS_OFF};
    for (size_t i = 0; i < sizeof sorts / sizeof *sorts; i++) {
        struct situation s = {.group = SITUATION_BUS, .code = CONDITION_CODE(sorts[i], iface)};
        if (alerts_standing(r->alerts, &s))
            return true;
    }
    return false;
}

static bool is_quiet(const struct quiet_iface *q, struct stamp now)
{
    int64_t quiet_ns = now.mono_ns - q->last_ns;
    if (q->last_ns == 0 || quiet_ns < QUIET_LEAST)
        return false;
    int overdue = 0, to_come = 0;
    for (int a = 0; a < ADDRESSES; a++) {
        const struct heard *h = &q->heard[a];
        if (h->frames < 2)
            continue;
        int64_t usual_ns = h->usual_ns > BURST_NS ? h->usual_ns : BURST_NS;
        int64_t patience_ns = usual_ns + usual_ns / 4 + NS_PER_S / 4;
        if (now.mono_ns - h->last_ns <= patience_ns)
            to_come += usual_ns <= AWAIT_MAX_NS;
        else /* those that fell silent long before the others do not count */
            overdue += q->last_ns - h->last_ns <= patience_ns;
    }
    return overdue > 0 && (to_come == 0 || (quiet_ns >= QUIET_MOSTLY && overdue > to_come));
}

bool rule_bus_holds(struct rules *r, const struct channel *c, enum priority p, struct stamp now)
{
    const struct rule_setting *rule;
    if (c->iface >= IFACES || !rule_of_boat(r, KIND_BUS, &rule))
        return false;
    struct quiet_iface *q = &own_of(r)->ifaces[c->iface];
    if (!q->looked) {
        q->looked = true;
        if (in_trouble(r, c->iface))
            q->trouble_ns = now.mono_ns;
        if (!q->quiet && is_quiet(q, now)) {
            q->quiet = true;
            q->since_ns = q->last_ns;
        }
    }
    if (!q->quiet)
        return false;
    q->held++;
    if (p > q->heaviest)
        q->heaviest = p;
    return true;
}

/* ---- what is said ---- */

static void end(struct rules *r, struct quiet_iface *q, struct stamp now)
{
    if (q->told)
        alerts_withdraw(r->alerts, q->claimant, now);
    q->quiet = q->told = false;
    q->said[0] = '\0';
}

void rule_bus_begin(struct rules *r, struct stamp now)
{
    struct rule_bus *k = own_of(r);
    for (int i = 0; i < IFACES; i++) {
        struct quiet_iface *q = &k->ifaces[i];
        q->looked = q->back = false;
        q->held = 0;
        q->heaviest = PRIORITY_CAUTION;
        if (!q->quiet || q->last_ns == q->since_ns)
            continue;
        end(r, q, now);
        q->back = true;
    }
}

bool rule_bus_is_back(const struct rules *r, uint8_t iface)
{
    return iface < IFACES && own_of(r)->ifaces[iface].back;
}

static void say(struct rules *r, int iface, struct stamp now)
{
    struct quiet_iface *q = &own_of(r)->ifaces[iface];
    const struct rule_setting *rule;
    char text[ALERT_TEXT_SIZE], length[16];
    enum priority p = PRIORITY_WARNING;
    (void)rule_of_boat(r, KIND_BUS, &rule);
    if (rule && rule->priority < p)
        p = rule->priority;
    if (q->heaviest > p) /* it stands for what would have been said */
        p = q->heaviest;
    words_length(length, sizeof length, when_seconds(now.mono_ns - q->last_ns));
    const char *name = r->iface_names[iface];
    text_format(text, sizeof text, "%s: no frame at all for %s: check power and cable of the bus",
                name[0] ? name : "BUS", length);
    if (strcmp(text, q->said) == 0 && p == q->said_priority)
        return;
    q->said_priority = p;
    text_copy(q->said, sizeof q->said, text);
    if (q->claimant == 0)
        q->claimant = rule_new_claimant(r);
    struct alert_claim claim = {
        .situation = {.group = SITUATION_BUS, .code = CONDITION_CODE(CONDITION_QUIET, iface)},
        .claimant = q->claimant,
        .kind = KIND_BUS,
        .rule = rule ? rule->name : "bus",
        .priority = p,
        .value = NAN,
        .text = text,
        .trouble = TROUBLE_BUS,
        .stage = STAGE_CERTAIN,
        .figures = ALERT_NO_FIGURES,
    };
    alerts_claim(r->alerts, &claim, now);
}

void rule_bus_end(struct rules *r, struct stamp now)
{
    struct rule_bus *k = own_of(r);
    for (int i = 0; i < IFACES; i++) {
        struct quiet_iface *q = &k->ifaces[i];
        if (q->held == 0) { /* everybody turned out to be switched off, or is not asked for */
            end(r, q, now);
            continue;
        }
        /* The other alert is a warning: what would be more is said here. */
        bool other = q->trouble_ns > 0 && now.mono_ns - q->trouble_ns < TROUBLE_AFTER;
        if (!q->told && other && q->heaviest <= PRIORITY_WARNING)
            continue;
        q->told = true;
        say(r, i, now);
    }
}

const struct rule_module rule_bus_module = {
    .own_size = sizeof(struct rule_bus),
    .frames = bus_frames,
    .gap = bus_gap,
    .hole = bus_gap, /* nobody was silent in it */
};
