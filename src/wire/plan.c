#include "wire/plan.h"

#include <assert.h>
#include <math.h>

#include "base/banned.h"

#define NO_RAW UINT64_MAX /* no field is so wide */

/* All ones are no number; most families have more codes below them. */
static void find_codes(const struct field_info *f, struct plan_step *s)
{
    uint64_t top = (UINT64_C(1) << f->bits) - 1;
    s->code_span = 0;
    switch (f->family) {
    case FAMILY_IEC:
        s->code_span = f->bits == 1 ? 0 : f->bits < 8 ? 1 : 2;
        s->codes = (f->is_signed ? top >> 1 : top) - s->code_span;
        return;
    case FAMILY_J1939:
        s->code_span = f->bits < 8 ? 1 : (UINT64_C(5) << (f->bits - 8)) - 1;
        s->codes = top - s->code_span;
        return;
    case FAMILY_CODE:
        s->codes = top;
        return;
    default:
        s->codes = NO_RAW;
    }
}

/* A tenth of a step: what is nought or full on the wire ends there by itself. */
static bool is_natural_end(const struct field_info *f, int64_t number)
{
    double value = (double)number * f->gain + f->zero, tenth = fabs(f->gain) / 10;
    return fabs(value) < tenth ||
           (sent_unit_base((enum sent_unit)f->sent) == UNIT_PERCENT && fabs(value - 100) < tenth);
}

/* Below the codes are numbers: the last of them, and the first of all. */
static void find_ends(const struct field_info *f, struct plan_step *s)
{
    s->low = s->high = NO_RAW;
    if ((f->family != FAMILY_IEC && f->family != FAMILY_J1939) || f->bits < 8)
        return;
    int64_t half = f->is_signed ? INT64_C(1) << (f->bits - 1) : 0;
    if (!is_natural_end(f, (int64_t)s->codes - 1))
        s->high = s->codes - 1;
    if (!is_natural_end(f, -half))
        s->low = (uint64_t)half;
}

static void find_place(const struct field_info *f, struct plan_step *s)
{
    s->blank.id.place = f->place.how == AT_FIXED ? f->place.n : 0;
    if (s->times > 1)
        s->where = PLAN_RULES;
    else if (f->is_capacity && f->quantity == QTY_NONE && f->choice.count == 0)
        s->where = PLAN_CAPACITY;
    else if (f->choice.count != 0 || f->sub.how != AT_NOTHING)
        s->where = PLAN_RULES;
    else if (f->place.how == AT_NOTHING || f->place.how == AT_FIXED)
        s->where = PLAN_FIXED;
    else
        s->where = f->place.how == AT_BITS ? PLAN_INSTANCE : PLAN_RULES;
}

void plan_field(const struct field_info *f, struct plan_step *out)
{
    assert(f->bits > 0 && f->bits <= 56);
    *out = (struct plan_step){
        .gain = f->gain,
        .zero = f->zero,
        .bit = f->bit,
        .end = (uint16_t)(f->bit + f->bits),
        .mask = (UINT64_C(1) << f->bits) - 1,
        .stride = f->stride != 0 ? f->stride : f->bits,
        .bits = (uint8_t)f->bits,
        .times = f->repeat > 1 ? f->repeat : 1,
        .unsigned_above = (uint8_t)(f->is_signed ? 64 - f->bits : 0),
        .field = f,
        .blank =
            {
                .id = {f->quantity, 0, 0},
                .decimals = f->decimals,
                .field_rank = f->rank,
            },
    };
    find_codes(f, out);
    find_ends(f, out);
    find_place(f, out);
}

void plan_row(const struct pgn_info *row, struct plan_step *room, struct plan *out)
{
    *out = (struct plan){.row = row, .steps = room};
    for (const struct field_info *f = row->fields; f < row->fields + row->field_count; f++) {
        if (f->quantity == QTY_NONE && f->choice.count == 0 && !f->is_capacity)
            continue;
        assert(out->count < PLAN_STEPS_MAX);
        plan_field(f, &room[out->count]);
        room[out->count++].blank.repeats = row->period_ms != 0;
    }
}

void plans_build(struct plans *p)
{
    struct plan_step *room = p->steps;
    assert(catalogue_count() < PLANS_MAX);
    p->of[0] = (struct plan){0};
    for (size_t i = 1; i <= catalogue_count(); i++) {
        plan_row(catalogue_row(i - 1), room, &p->of[i]);
        room += p->of[i].count;
        assert(room <= p->steps + PLAN_STEPS_ALL);
    }
}
