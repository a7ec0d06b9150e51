/* Checks of senders, messages and instances, and against a configuration. Each says what is wrong
 * and where, in one line; what it takes for granted stands beside it. */
#include "report/muster/inside.h"

#include "base/text.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

#define SLOW_PART 0.45 /* of the standard's rate: half of it is some boxes' setting */
#define SILENT_NS (60 * NS_PER_S)

static void check_two_senders(struct muster *m)
{
    for (size_t i = 0; i < m->value_count; i++) {
        const struct muster_value *v = &m->values[i];
        const struct muster_value *holder = muster_holder(m, v->id);
        if (v->ok == 0 || holder == NULL || holder == v || muster_is_shared(v) ||
            muster_is_shared(holder) || muster_same_box(m, v->sender, holder->sender))
            continue;
        char a[40], b[40], key[CHANNEL_KEY_SIZE];
        channel_id_format(key, sizeof key, v->id);
        const struct channel_setting *s = muster_setting(m, v->id);
        muster_add_finding(
            m, s != NULL && s->sender.set ? MUSTER_NOTE : MUSTER_FINDING, "two senders", v->sender,
            key, "%s comes from %s and from %s: give one of them another instance", key,
            muster_who(m, holder->sender, a, sizeof a), muster_who(m, v->sender, b, sizeof b));
    }
}

/* Instances of one quantity are numbered without holes; some begin at 1, or at 11. */
static void check_instances(struct muster *m)
{
    for (unsigned q = 1; q < QTY_COUNT; q++) {
        const struct quantity_info *info = quantity_info((enum quantity)q);
        bool there[256] = {false};
        int lowest = 256, highest = -1, count = 0;
        for (size_t i = 0; i < m->value_count; i++) {
            const struct muster_value *v = &m->values[i];
            if (v->id.quantity != q || (v->ok == 0 && !v->sole) || muster_is_meter(m, v->id))
                continue;
            count += !there[v->id.place];
            there[v->id.place] = true;
            if (v->id.place > highest)
                highest = v->id.place;
            if (v->id.place < lowest)
                lowest = v->id.place;
        }
        if (info->place != PLACE_ENGINE && info->place != PLACE_INSTANCE)
            continue;
        for (int place = lowest; place < highest; place++)
            if (!there[place]) {
                char key[CHANNEL_KEY_SIZE];
                struct channel_id id = {.quantity = (uint16_t)q, .place = (uint8_t)place};
                channel_id_format(key, sizeof key, id);
                muster_add_finding(m, MUSTER_FINDING, "instance missing", -1, key,
                                   "%s.%d is heard and %s is not (%d of this kind heard)",
                                   info->key, highest, key, count);
                break; /* one line tells it */
            }
    }
}

static void check_engines(struct muster *m)
{
    for (int e = 0; e < MUSTER_INSTANCES; e++) {
        if (!m->engines[e].seen || m->engines[e].has_rpm || muster_is_meters_alone(m, e))
            continue;
        char key[CHANNEL_KEY_SIZE];
        struct channel_id id = {.quantity = QTY_RPM, .place = (uint8_t)e};
        channel_id_format(key, sizeof key, id);
        muster_add_finding(
            m, MUSTER_FINDING, "no engine speed", -1, key,
            "engine %d sends data and no speed (%s): the watch can't know when it runs", e, key);
    }
}

static void check_status_word(struct muster *m, int engine, int word, unsigned bits)
{
    char list[120] = "";
    for (int bit = 0; bit < 16; bit++) {
        if (!(bits >> bit & 1))
            continue;
        const char *text = decode_engine_status_text(word, bit);
        if (text != NULL)
            text_append(list, sizeof list, "%s%s", list[0] != '\0' ? ", " : "", text);
        else
            text_append(list, sizeof list, "%sbit %d", list[0] != '\0' ? ", " : "", bit);
    }
    if (list[0] != '\0')
        muster_add_finding(m, MUSTER_FINDING, "reported", -1, NULL, "engine %d itself reports: %s",
                           engine, list);
}

/* What the engines said of themselves at the end. */
static void check_reported(struct muster *m)
{
    for (int e = 0; e < MUSTER_INSTANCES; e++) {
        check_status_word(m, e, 1, m->engines[e].status1);
        check_status_word(m, e, 2, m->engines[e].status2);
    }
    for (size_t i = 0; i < m->sender_count; i++) {
        const struct muster_sender *s = &m->senders[i];
        char from[40], lamps[120];
        muster_lamps(s, lamps, sizeof lamps);
        if (s->trouble_codes == 0 && lamps[0])
            muster_add_finding(m, MUSTER_FINDING, "reported", (int)i, NULL,
                               "%s shows without a code: %s", muster_who(m, i, from, sizeof from),
                               lamps);
        if (s->trouble_codes == 0)
            continue;
        const char *words = dm1_spn_text(s->trouble.spn);
        muster_add_finding(m, MUSTER_FINDING, "reported", (int)i, NULL,
                           "%s has %d active trouble code%s, first SPN %lu %s: %s",
                           muster_who(m, i, from, sizeof from), s->trouble_codes,
                           s->trouble_codes == 1 ? "" : "s", (unsigned long)s->trouble.spn,
                           words != NULL ? words : "(no words known)",
                           dm1_fmi_text(s->trouble.fmi));
    }
}

static void check_lost_tanks(struct muster *m)
{
    for (size_t i = 0; i < m->sender_count; i++) {
        char from[40];
        if (m->senders[i].lost_tanks > 0)
            muster_add_finding(m, MUSTER_FINDING, "error", (int)i, NULL,
                               "%s sends fluid levels whose tank number is an error: none is read",
                               muster_who(m, i, from, sizeof from));
    }
}

static void check_clocks(struct muster *m)
{
    int reference = -1;
    for (size_t i = 0; i < m->sender_count; i++) {
        const struct muster_sender *s = &m->senders[i];
        char a[40], b[40];
        if (!s->has_time)
            continue;
        if (reference >= 0) {
            double apart = s->clock_off_s - m->senders[reference].clock_off_s;
            if (fabs(apart) > 2.0)
                muster_add_finding(m, MUSTER_FINDING, "clocks apart", (int)i, NULL,
                                   "%s and %s tell times %.0f s apart",
                                   muster_who(m, (size_t)reference, a, sizeof a),
                                   muster_who(m, i, b, sizeof b), fabs(apart));
            continue;
        }
        reference = (int)i;
        if (m->clock_known && fabs(s->clock_off_s) > 2.0)
            muster_add_finding(m, MUSTER_FINDING, "clocks apart", (int)i, NULL,
                               "%s tells a time %.0f s %s this machine's or the log's clock",
                               muster_who(m, i, a, sizeof a), fabs(s->clock_off_s),
                               s->clock_off_s > 0 ? "ahead of" : "behind");
    }
}

/* Whether the times that all this is told by can be believed. */
static void check_own_clock(struct muster *m)
{
    bool told = false;
    char who[40], at[40];
    for (size_t i = 0; i < m->sender_count; i++) {
        const struct muster_sender *s = &m->senders[i];
        told |= s->has_time;
        if (m->clock_known && m->clock_steps == 0 && fabs(s->clock_step_s) > 2.0)
            muster_add_finding(
                m, MUSTER_FINDING, "clock set", (int)i, NULL,
                "the time that %s tells and the log's came %.0f s apart at once: one "
                "of the two was set",
                muster_who(m, i, who, sizeof who), fabs(s->clock_step_s));
    }
    when_clock(at, sizeof at, m->clock_step_wall_ns, true);
    if (m->clock_steps > 0)
        muster_add_finding(
            m, MUSTER_FINDING, "clock set", -1, NULL,
            "the clock of the log was set %d time%s, last by %+.0f s to %s UTC: times "
            "before and after do not go together",
            m->clock_steps, m->clock_steps == 1 ? "" : "s", when_seconds(m->clock_step_ns), at);
    if (!told && m->frames > 0)
        muster_add_finding(m, MUSTER_NOTE, "no clock", -1, NULL,
                           "nothing on the bus tells the time: these are the %s%s",
                           m->clock_loose
                               ? "computer's, which no time server keeps: do not trust them"
                               : "computer's own",
                           m->clock_known ? "" : ", and differences alone count");
}

static void check_names(struct muster *m)
{
    char from[40];
    for (size_t i = 0; i < m->sender_count; i++) {
        const struct muster_sender *s = &m->senders[i];
        if (s->address == ADDRESS_NULL)
            continue;
        if (s->names > 1)
            muster_add_finding(m, MUSTER_FINDING, "address clash", (int)i, NULL,
                               "%s was claimed by %u NAMEs, one after the other",
                               muster_who(m, i, from, sizeof from), s->names);
        if (s->claims == 0)
            muster_add_finding(m, MUSTER_NOTE, "no claim", (int)i, NULL,
                               "%s never said who it is (muster --ask asks on a live bus)",
                               muster_who(m, i, from, sizeof from));
    }
    for (size_t i = 0; i < m->name_count; i++) {
        const struct muster_name *n = &m->names[i];
        if (n->cannot_claim)
            muster_add_finding(m, MUSTER_FINDING, "no address", -1, NULL,
                               "NAME %016llX found no address to use", (unsigned long long)n->name);
        if (n->moves < 2)
            continue;
        char list[80] = "";
        for (int k = 0; k < n->moves; k++)
            text_append(list, sizeof list, "%s%u", k > 0 ? ", " : "", n->addresses[k]);
        muster_add_finding(m, MUSTER_FINDING, "address change", -1, NULL,
                           "NAME %016llX moved between addresses %s", (unsigned long long)n->name,
                           list);
    }
}

static void check_losses(struct muster *m)
{
    const struct wire_stats *s = wire_stats(m->wire);
    unsigned long long lost = s->fast_lost + s->tp_lost, done = s->fast_done + s->tp_done;
    /* the first of each kind may have begun before the log did */
    if (lost > m->sender_count + (lost + done) / 1000)
        muster_add_finding(
            m, MUSTER_FINDING, "lost messages", -1, NULL,
            "%llu of %llu longer messages came incomplete: frames are lost on the way", lost,
            lost + done);
    if (m->dropped > 0)
        muster_add_finding(m, MUSTER_NOTE, "too many", -1, NULL,
                           "%llu entries found no room in the muster's lists",
                           (unsigned long long)m->dropped);
}

/* Against a configuration: each channel that its file names. */
static void check_expected(struct muster *m)
{
    for (size_t i = 0; m->settings != NULL && i < m->settings->channel_count; i++) {
        const struct channel_setting *s = &m->settings->channels[i];
        if (s->at.file == 0)
            continue; /* a built-in default expects nothing */
        struct channel_id id = s->from.quantity != QTY_NONE ? s->from : s->id;
        char key[CHANNEL_KEY_SIZE], from[40];
        if (id.quantity >= QTY_BURN && id.quantity <= QTY_BLOWER)
            continue; /* made aboard from others, never on the bus */
        if (s->feed.quantity != QTY_NONE)
            id = s->feed;
        const struct muster_value *v = muster_holder(m, id);
        if (v == NULL && id.quantity == QTY_EXHAUST_GAS) { /* a source-14 sensor called dry */
            id.quantity = QTY_EXHAUST;
            v = muster_holder(m, id);
        }
        channel_id_format(key, sizeof key, s->id);
        if (v == NULL)
            muster_add_finding(m, MUSTER_FINDING, "missing", -1, key,
                               "%s is configured and was not heard", key);
        else if (s->sender.set && !muster_is_chosen(m, s, v))
            muster_add_finding(m, MUSTER_FINDING, "other sender", v->sender, key,
                               "%s is configured to come from address %u and came from %s", key,
                               s->sender.source, muster_who(m, v->sender, from, sizeof from));
    }
}

/* Whether a channel that the configuration names says that there is this engine: a meter of fuel
 * may have any number. */
static bool names_engine(const struct muster *m, const struct channel_setting *s)
{
    return s->at.file != 0 && s->id.place < MUSTER_INSTANCES && s->id.quantity != QTY_FUEL_TEMP &&
           quantity_info((enum quantity)s->id.quantity)->place == PLACE_ENGINE &&
           !muster_is_meter(m, s->id);
}

/* The engines that the configuration counts: those it names, and for the others the lowest numbers,
 * as the watch takes them. */
static void find_wanted(const struct muster *m, bool wanted[MUSTER_INSTANCES])
{
    const struct settings *s = m->settings;
    int count = 0;
    for (size_t i = 0; i < s->engine_count; i++)
        if (s->engine[i].instance < MUSTER_INSTANCES)
            wanted[s->engine[i].instance] = true;
    for (size_t i = 0; i < s->channel_count; i++)
        if (names_engine(m, &s->channels[i]))
            wanted[s->channels[i].id.place] = true;
    for (int e = 0; e < MUSTER_INSTANCES; e++)
        count += wanted[e];
    for (int e = 0; e < MUSTER_INSTANCES && count < s->engines; e++) {
        count += !wanted[e];
        wanted[e] = true;
    }
}

static void check_expected_engines(struct muster *m)
{
    bool wanted[MUSTER_INSTANCES] = {false};
    if (m->settings == NULL || m->settings->engines <= 0)
        return;
    find_wanted(m, wanted);
    for (int e = 0; e < MUSTER_INSTANCES; e++) {
        if (wanted[e] && !m->engines[e].seen)
            muster_add_finding(m, MUSTER_FINDING, "missing", -1, NULL,
                               "engine %d is configured and not heard", e);
        if (!wanted[e] && m->engines[e].seen && !muster_is_meters_alone(m, e))
            muster_add_finding(m, MUSTER_FINDING, "not configured", -1, NULL,
                               "engine %d is heard and %d configured", e, m->settings->engines);
    }
}

static void check_message_rate(struct muster *m, const struct muster_message *x)
{
    double standard = muster_rate_standard(x), rate = muster_rate(x);
    int64_t period_ns = x->row->period_ms * NS_PER_MS;
    const struct muster_sender *s = &m->senders[x->sender];
    int64_t heard_ns = s->last_ns - x->first_ns;
    char from[40];
    muster_who(m, x->sender, from, sizeof from);
    if (x->count == 1) {
        if (heard_ns > 10 * period_ns)
            muster_add_finding(m, MUSTER_FINDING, "does not repeat", x->sender, NULL,
                               "%u %s from %s came once; the standard repeats it every %u ms",
                               x->pgn, x->row->name, from, x->row->period_ms);
        return;
    }
    int64_t limit_ns = 10 * period_ns > 5 * NS_PER_S ? 10 * period_ns : 5 * NS_PER_S;
    if (s->told_ns - x->last_ns > limit_ns) {
        muster_add_finding(m, MUSTER_FINDING, "stopped", x->sender, NULL,
                           "%u %s from %s stopped %.0f s before the end, and its sender went on",
                           x->pgn, x->row->name, from, when_seconds(s->last_ns - x->last_ns));
        return;
    }
    if (x->longest_ns > limit_ns)
        muster_add_finding(m, MUSTER_FINDING, "dropout", x->sender, NULL,
                           "%u %s from %s stayed away for %.0f s while its sender spoke", x->pgn,
                           x->row->name, from, when_seconds(x->longest_ns));
    if (x->last_ns - x->first_ns < 10 * period_ns)
        return; /* too short to judge a rate */
    char is[32], should[32];
    text_number(is, sizeof is, rate, 2);
    text_number(should, sizeof should, standard, 2);
    if (rate < SLOW_PART * standard)
        muster_add_finding(m, MUSTER_FINDING, "slow", x->sender, NULL,
                           "%u %s from %s comes %s times a second; the standard says %s", x->pgn,
                           x->row->name, from, is, should);
    else if (rate > 2.0 * standard)
        muster_add_finding(m, MUSTER_NOTE, "fast", x->sender, NULL,
                           "%u %s from %s comes %s times a second; the standard says %s", x->pgn,
                           x->row->name, from, is, should);
}

static void check_rates(struct muster *m)
{
    for (size_t i = 0; i < m->message_count; i++) {
        const struct muster_message *x = &m->messages[i];
        /* J1939 engines send speed and load as they turn: no fixed rate to hold them to. */
        bool varies = x->pgn == 61443 || x->pgn == 61444;
        if (x->row != NULL && x->row->period_ms != 0 && !varies)
            check_message_rate(m, x);
    }
}

/* Whether a box tells of this engine; of any, where e is -1. */
static bool tells_of(const struct muster *m, size_t sender, int e)
{
    for (size_t i = 0; i < m->value_count; i++) {
        const struct muster_value *v = &m->values[i];
        if (v->sender == sender && v->ok > 0 && (e < 0 || v->id.place == e) &&
            quantity_info((enum quantity)v->id.quantity)->place == PLACE_ENGINE)
            return true;
    }
    return false;
}

/* An engine that the box tells of; any, where it tells of none. */
static bool engine_ran_after(const struct muster *m, size_t sender, int64_t t_ns)
{
    bool any = !tells_of(m, sender, -1);
    for (int e = 0; e < MUSTER_INSTANCES; e++)
        if (m->engines[e].run_last_ns > t_ns && (any || tells_of(m, sender, e)))
            return true;
    return false;
}

/* The speed at which an engine of this box (any, where it tells of none) was last heard, about when
 * the box fell silent and by nobody later: too high for one that was being stopped. 0 where there
 * is none. */
static double rpm_at_last(const struct muster *m, size_t sender, int64_t last_ns)
{
    bool any = !tells_of(m, sender, -1);
    for (int e = 0; e < MUSTER_INSTANCES; e++) {
        const struct muster_engine *x = &m->engines[e];
        if (x->has_rpm && x->rpm > MUSTER_STOPPING_RPM &&
            llabs(last_ns - x->rpm_ns) < SILENT_NS / 2 && (any || tells_of(m, sender, e)))
            return x->rpm;
    }
    return 0;
}

/* What was heard of a box last. */
static const char *last_told(const struct muster *m, size_t sender, char key[CHANNEL_KEY_SIZE])
{
    const struct muster_value *last = NULL;
    for (size_t i = 0; i < m->value_count; i++) {
        const struct muster_value *v = &m->values[i];
        if (v->sender == sender && v->ok > 0 && (last == NULL || v->ok_ns > last->ok_ns))
            last = v;
    }
    text_copy(key, CHANNEL_KEY_SIZE, "what it sends is not read");
    if (last != NULL)
        channel_id_format(key, CHANNEL_KEY_SIZE, last->id);
    return key;
}

/* A box that repeated and then told nothing more for good. With its engine off that is the key. */
static void check_silent(struct muster *m)
{
    for (size_t i = 0; i < m->sender_count; i++) {
        const struct muster_sender *s = &m->senders[i];
        int64_t last_ns = s->told_ns != 0 ? s->told_ns : s->last_ns;
        char from[40], key[CHANNEL_KEY_SIZE], said[140];
        if (s->frames < 60 || m->last.mono_ns - last_ns < SILENT_NS)
            continue;
        bool lives = s->last_ns - last_ns > SILENT_NS / 2, of_engine = tells_of(m, i, -1);
        bool ran = engine_ran_after(m, i, last_ns + SILENT_NS / 2);
        double rpm = ran ? 0 : rpm_at_last(m, i, last_ns);
        bool finding = ran || rpm > 0 || (lives && !of_engine);
        const char *engine = of_engine ? "its engine" : ran ? "an engine" : "the engines";
        muster_who(m, i, from, sizeof from);
        double ago_s = when_seconds(m->last.mono_ns - last_ns);
        if (lives)
            text_format(said, sizeof said, "%s sent no reading in the last %.0f s (%s)", from,
                        ago_s, last_told(m, i, key));
        else
            text_format(said, sizeof said, "%s was last heard %.0f s before the end", from, ago_s);
        if (rpm > 0)
            muster_add_finding(m, MUSTER_FINDING, "silent", (int)i, NULL,
                               "%s, %s engine at %.0f rpm then: check its power and plug", said,
                               of_engine ? "its" : "an", rpm);
        else
            muster_add_finding(m, finding ? MUSTER_FINDING : MUSTER_NOTE, "silent", (int)i, NULL,
                               "%s, %s%s %s", said, ran ? "and " : "", engine,
                               ran ? "ran on" : "stopped");
    }
}

/* Missed under way for at least five times its period, and told by no finding about its message. */
static bool was_away(const struct muster *m, const struct muster_value *v)
{
    const struct muster_message *x = muster_message_of(m, v);
    return v->away > 0 && x != NULL && when_seconds(v->away_ns) * muster_rate(x) > 5 &&
           x->longest_ns <= MUSTER_HOLE_S * NS_PER_S;
}

/* What a box tells of an engine stayed away under way, and came back: a plug, a sensor. One finding
 * of those that were silent, named by the one that was away longest; and one of each that came
 * without a value. */
static void check_away(struct muster *m)
{
    for (size_t i = 0; i < m->sender_count; i++) {
        const struct muster_value *longest = NULL;
        char from[40], key[CHANNEL_KEY_SIZE];
        int more = 0;
        muster_who(m, i, from, sizeof from);
        for (size_t k = 0; k < m->value_count; k++) {
            const struct muster_value *v = &m->values[k];
            if (v->sender != i || !was_away(m, v))
                continue;
            bool silent = muster_message_of(m, v)->gap_longest_ns >= v->away_ns / 2;
            muster_key(key, sizeof key, m, v);
            more += silent;
            if (silent && (longest == NULL || v->away_ns > longest->away_ns))
                longest = v;
            if (!silent && v->wanting * 20 <= v->ok + v->not_available + v->error)
                muster_add_finding(m, MUSTER_FINDING, "not available", (int)i, key,
                                   "%s from %s was not available for up to %.0f s, its engine at "
                                   "speed as it went",
                                   key, from, when_seconds(v->away_ns));
        }
        if (longest == NULL)
            continue;
        muster_key(key, sizeof key, m, longest);
        muster_add_finding(m, MUSTER_FINDING, "dropout", (int)i, key,
                           "%s was away %u time%s, for up to %.0f s, its engine at speed as it "
                           "went (%s%s): check its power and plug",
                           from, longest->away, longest->away == 1 ? "" : "s",
                           when_seconds(longest->away_ns), key, more > 1 ? " and others" : "");
    }
}

static void check_holes(struct muster *m)
{
    double all = when_seconds(m->last.mono_ns - m->first.mono_ns + m->passed_over_ns);
    if (m->holes > 0)
        muster_add_finding(m, MUSTER_FINDING, "holes", -1, NULL,
                           "nothing at all was heard %d time%s of more than %d s: %.0f s in all, "
                           "%.0f %% of the time%s",
                           m->holes, m->holes == 1 ? "" : "s", MUSTER_HOLE_S,
                           when_seconds(m->hole_ns), 100 * when_seconds(m->hole_ns) / all,
                           m->gap ? ", unless the log's clock was set forward" : "");
}

void muster_check_boxes(struct muster *m)
{
    check_two_senders(m);
    check_instances(m);
    check_engines(m);
    check_reported(m);
    check_expected(m);
    check_expected_engines(m);
    check_names(m);
    check_rates(m);
    check_lost_tanks(m);
    check_clocks(m);
    check_own_clock(m);
    check_losses(m);
    check_silent(m);
    check_holes(m);
    check_away(m);
}
