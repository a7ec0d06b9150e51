#include "report/signoff/signoff.h"

#include "base/text.h"
#include "base/units.h"
#include "plant/calibrate.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "base/banned.h"

#define STEADY_K 0.3 /* a reading in a bath that wanders by more has not settled; the same */
#define MOVED_C  2.0 /* a sensor that is warmed rises by more; common practice, no source */

static const char *const check_words[] = {
    [SIGNOFF_WARMED] = "warmed",     [SIGNOFF_DIPPED] = "dipped",
    [SIGNOFF_ICE] = "ice water",     [SIGNOFF_BOILING] = "boiling water",
    [SIGNOFF_COMPARED] = "compared",
};
static const char *const verdict_words[] = {
    [SIGNOFF_PASS] = "pass",
    [SIGNOFF_FAIL] = "fail",
    [SIGNOFF_NOTED] = "noted",
};

const char *signoff_check_text(enum signoff_check c)
{
    return check_words[c];
}

const char *signoff_verdict_text(enum signoff_verdict v)
{
    return verdict_words[v];
}

bool signoff_check_parse(const char *s, enum signoff_check *out)
{
    for (int i = 0; i <= SIGNOFF_COMPARED; i++) {
        const char *a = s, *b = check_words[i];
        while (*b != '\0' && (*a == *b || (*a == '-' && *b == ' '))) {
            a++;
            b++;
        }
        if (*a == '\0' && *b == '\0') {
            *out = (enum signoff_check)i;
            return true;
        }
    }
    return false;
}

double signoff_pressure_kpa(double altitude_m)
{
    return 101.325 * pow(1.0 - 2.25577e-5 * altitude_m, 5.25588);
}

double signoff_boiling_c(double pressure_kpa)
{
    double mmhg = pressure_kpa * 760.0 / 101.325;
    return 1730.63 / (8.07131 - log10(mmhg)) - 233.426;
}

bool signoff_is_tank(struct channel_id id)
{
    return id.quantity >= QTY_FUEL_TANK && id.quantity <= QTY_PETROL_TANK;
}

/* The reference of the check; false with e where it needs one and has none. */
static bool reference_of(const struct muster_value *v, const struct signoff_request *r,
                         double *reference, struct err *e)
{
    switch (r->check) {
    case SIGNOFF_ICE:
        *reference = 0.0;
        return true;
    case SIGNOFF_BOILING:
        *reference = signoff_boiling_c(r->has_pressure ? r->pressure_kpa
                                                       : signoff_pressure_kpa(r->altitude_m));
        return true;
    default:
        break;
    }
    if (!r->has_reference)
        return err_set(e, "a check '%s' needs a reference", signoff_check_text(r->check));
    *reference = r->reference;
    if (!r->reference_is_litres)
        return true;
    if (v->capacity_l <= 0.0)
        return err_set(e, "a reference in litres needs a tank whose capacity is known");
    *reference = 100.0 * r->reference / v->capacity_l;
    return true;
}

/* The sensor that was warmed moved, and no other of its kind moved more. */
static void judge_warmed(const struct muster *m, const struct muster_value *v,
                         struct signoff_entry *out)
{
    out->moved = v->high - v->first;
    out->verdict = out->moved >= MOVED_C ? SIGNOFF_PASS : SIGNOFF_FAIL;
    for (size_t i = 0; i < m->value_count; i++) {
        const struct muster_value *o = &m->values[i];
        if (o->id.quantity != v->id.quantity || o == v || o->ok == 0 ||
            o->high - o->first <= out->moved || o->high - o->first < MOVED_C)
            continue;
        char key[CHANNEL_KEY_SIZE];
        muster_key(key, sizeof key, m, o);
        out->verdict = SIGNOFF_FAIL;
        text_format(out->note, sizeof out->note, "%s moved more: wrong instance?", key);
    }
}

bool signoff_judge(const struct muster *m, const struct signoff_request *r,
                   struct signoff_entry *out, struct err *e)
{
    char key[CHANNEL_KEY_SIZE];
    channel_id_format(key, sizeof key, r->id);
    const struct channel_setting *setting =
        m->settings != NULL ? settings_channel(m->settings, r->id) : NULL;
    const struct muster_value *v = muster_holder(m, r->id);
    if (v == NULL && setting != NULL && setting->from.quantity != QTY_NONE)
        v = muster_holder(m, setting->from);
    bool temperature = quantity_info((enum quantity)r->id.quantity)->unit == UNIT_C;
    if (v == NULL)
        return err_set(e, "'%s' was not heard: no reading to sign for", key);
    if (r->check == SIGNOFF_DIPPED && !signoff_is_tank(r->id))
        return err_set(e, "'%s' is not a tank: it can't be dipped", key);
    if (!temperature && r->check != SIGNOFF_DIPPED && r->check != SIGNOFF_COMPARED)
        return err_set(e, "'%s' is not a temperature: compare it with a reference", key);
    *out = (struct signoff_entry){.id = r->id,
                                  .check = r->check,
                                  .has_tolerance = r->has_tolerance,
                                  .tolerance = r->tolerance,
                                  .verdict = SIGNOFF_NOTED,
                                  .at_ns = r->at_ns};
    if (calibrate(setting, v->recent, &out->reading) != READING_OK)
        return err_set(e, "'%s' reads as open or short", key);
    const struct muster_sender *box = &m->senders[v->sender];
    out->name = box->name;
    if (box->has_product)
        text_copy(out->serial, sizeof out->serial, box->product.serial);
    if (setting != NULL && (setting->gain != 1.0 || setting->offset != 0.0)) {
        out->has_correction = true;
        out->gain = setting->gain;
        out->offset = setting->offset;
    }
    text_clean(out->by, sizeof out->by, r->by, strlen(r->by));
    if (r->note != NULL)
        text_clean(out->note, sizeof out->note, r->note, strlen(r->note));
    if (r->check == SIGNOFF_WARMED) {
        judge_warmed(m, v, out);
        return true;
    }
    if (!reference_of(v, r, &out->reference, e))
        return false;
    if ((r->check == SIGNOFF_ICE || r->check == SIGNOFF_BOILING) && v->recent_move > STEADY_K)
        return err_set(e, "'%s' still moves: leave the probe in the bath until it stands", key);
    out->has_reference = true;
    out->error = out->reading - out->reference;
    if (out->has_tolerance)
        out->verdict = fabs(out->error) <= out->tolerance ? SIGNOFF_PASS : SIGNOFF_FAIL;
    return true;
}

static const struct signoff_entry *latest(const struct signoff *s, struct channel_id id,
                                          enum signoff_check check)
{
    for (size_t i = s->count; i-- > 0;)
        if (channel_id_same(s->entries[i].id, id) && s->entries[i].check == check)
            return &s->entries[i];
    return NULL;
}

bool signoff_two_points(const struct signoff *s, struct channel_id id, double *gain, double *offset)
{
    const struct signoff_entry *cold = latest(s, id, SIGNOFF_ICE),
                               *hot = latest(s, id, SIGNOFF_BOILING);
    if (cold == NULL || hot == NULL || hot->reading - cold->reading < 20.0)
        return false;
    *gain = (hot->reference - cold->reference) / (hot->reading - cold->reading);
    *offset = cold->reference - cold->reading * *gain;
    return true;
}

int signoff_failures(const struct signoff *s)
{
    int n = 0;
    for (size_t i = 0; i < s->count; i++) {
        const struct signoff_entry *x = &s->entries[i];
        n += x->verdict == SIGNOFF_FAIL && latest(s, x->id, x->check) == x;
    }
    return n;
}

static const char *difference_unit(enum unit u)
{
    return u == UNIT_C ? "K" : unit_text(u);
}

static void print_entry(const struct signoff_entry *x, bool utc, FILE *out)
{
    const enum unit unit = quantity_info((enum quantity)x->id.quantity)->unit;
    char key[CHANNEL_KEY_SIZE], a[40], b[40], when[40];
    channel_id_format(key, sizeof key, x->id);
    fprintf(out, "  %-24s %-13s ", key, signoff_check_text(x->check));
    text_number(a, sizeof a, x->reading, 2);
    if (x->check == SIGNOFF_WARMED) {
        text_number(b, sizeof b, x->moved, 1);
        fprintf(out, "moved %s K to %s %s", b, a, unit_text(unit));
    } else {
        text_number(b, sizeof b, x->reference, 2);
        fprintf(out, "%s read as %s %s", b, a, unit_text(unit));
        text_number(a, sizeof a, x->error, 2);
        fprintf(out, ", error %s %s", a, difference_unit(unit));
        if (x->has_tolerance) {
            text_number(b, sizeof b, x->tolerance, 2);
            fprintf(out, " of %s", b);
        }
    }
    when_date(when, sizeof when, x->at_ns, utc);
    fprintf(out, ": %s  (%s, %s)\n", signoff_verdict_text(x->verdict), x->by, when);
    if (x->note[0] != '\0')
        fprintf(out, "  %-24s %s\n", "", x->note);
}

/* Another box sends it now than the one that was confirmed; not known where either never said. */
static bool is_exchanged(const struct signoff_entry *x, const struct muster_sender *box)
{
    if (x->name != 0 && box->name != 0 && x->name != box->name)
        return true;
    return x->serial[0] != '\0' && box->has_product && strcmp(x->serial, box->product.serial) != 0;
}

enum signoff_standing signoff_standing(const struct signoff *s, const struct muster *m,
                                       const struct muster_value *v)
{
    enum signoff_standing best = SIGNOFF_OPEN;
    for (size_t i = 0; i < s->count; i++) {
        const struct signoff_entry *x = &s->entries[i];
        if (!channel_id_same(x->id, v->id))
            continue;
        if (!is_exchanged(x, &m->senders[v->sender]))
            return SIGNOFF_CONFIRMED;
        best = SIGNOFF_EXCHANGED;
    }
    return best;
}

bool signoff_wants(const struct muster *m, const struct muster_value *v)
{
    const struct quantity_info *info = quantity_info((enum quantity)v->id.quantity);
    bool sort = info->unit == UNIT_C || info->unit == UNIT_KPA || info->unit == UNIT_V ||
                info->unit == UNIT_LPH || signoff_is_tank(v->id);
    return sort && muster_holder(m, v->id) == v;
}

/* Channels of the muster that nobody has confirmed, wrapped at 80 columns. */
static void print_open(const struct signoff *s, const struct muster *m, FILE *out)
{
    size_t column = 0;
    for (size_t i = 0; i < m->value_count; i++) {
        const struct muster_value *v = &m->values[i];
        if (!signoff_wants(m, v))
            continue;
        enum signoff_standing standing = signoff_standing(s, m, v);
        if (standing == SIGNOFF_CONFIRMED)
            continue;
        char key[CHANNEL_KEY_SIZE + 24];
        size_t n = channel_id_format(key, CHANNEL_KEY_SIZE, v->id);
        if (standing == SIGNOFF_EXCHANGED) {
            text_append(key, sizeof key, " (another box now)");
            n = strlen(key);
        }
        if (column == 0 || column + n + 2 > 80)
            column = (size_t)fprintf(out, "%s%s", column == 0 ? "  open: " : ",\n        ", key);
        else
            column += (size_t)fprintf(out, ", %s", key);
    }
    if (column > 0)
        fputs("\n", out);
}

void signoff_print(const struct signoff *s, const struct muster *m, bool utc, FILE *out)
{
    fputs("\nSIGN-OFF\n", out);
    if (s->count == 0)
        fputs("  nothing is confirmed yet\n", out);
    for (size_t i = 0; i < s->count; i++) {
        const struct signoff_entry *x = &s->entries[i];
        if (latest(s, x->id, x->check) != x)
            continue; /* tried again later */
        print_entry(x, utc, out);
        double gain, offset;
        if (x->check != SIGNOFF_BOILING || !signoff_two_points(s, x->id, &gain, &offset))
            continue;
        char a[40], b[40];
        text_number(a, sizeof a, gain, 4);
        text_number(b, sizeof b, offset, 2);
        fprintf(out, "  %-24s two points: gain = %s, offset = %s K corrects what it showed\n", "",
                a, b);
    }
    if (m != NULL)
        print_open(s, m, out);
}
