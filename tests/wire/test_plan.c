/* The plans that messages are decoded by: those of the wire, made once, and those made for a
 * message that did not come through it. */
#include "wire/frames.h"

#include "base/rng.h"
#include "wire/catalogue.h"
#include "wire/decode.h"
#include "wire/plan.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

static int make_plans(void **state)
{
    *state = calloc(1, sizeof(struct plans));
    if (*state != NULL)
        plans_build(*state);
    return *state == NULL;
}

static int free_plans(void **state)
{
    free(*state);
    return 0;
}

/* The list of messages (catalogue_range) works the same out in another way. */
static void steps__ends_of_a_number__are_those_of_the_list(void **state)
{
    const struct plans *p = *state;
    unsigned held = 0;
    for (size_t i = 1; i <= catalogue_count(); i++) {
        const struct plan *plan = &p->of[i];
        assert_ptr_equal(plan->row, catalogue_row(i - 1));
        for (unsigned k = 0; k < plan->count; k++) {
            const struct plan_step *s = &plan->steps[k];
            const struct field_info *f = s->field;
            if ((f->family != FAMILY_IEC && f->family != FAMILY_J1939) || f->bits < 8)
                continue;
            double low, high, number = (double)(s->codes - 1) * s->gain + s->zero;
            catalogue_range(f, &low, &high);
            assert_near(s->gain > 0 ? high : low, number, 1e-9 * fabs(number));
            held++;
        }
    }
    assert_true(held > 50);
}

/* Any bytes, as long as a message can be and as short: both ways give the same values. */
static void values__with_and_without_a_plan_at_hand__are_the_same(void **state)
{
    const struct plans *p = *state;
    struct rng r;
    size_t values = 0;
    rng_seed(&r, 20281128);
    for (size_t i = 1; i <= catalogue_count(); i++) {
        for (int round = 0; round < 60; round++) {
            uint8_t data[64];
            struct wire_value a[DECODE_VALUES_MAX], b[DECODE_VALUES_MAX];
            for (size_t k = 0; k < sizeof data; k++)
                data[k] = (uint8_t)(rng_next(&r) % 4 == 0 ? 0xFF : rng_next(&r));
            data[0] = round % 2 == 0 ? 0 : data[0]; /* an instance, as often as not */
            struct message m = {.pgn = p->of[i].row->pgn,
                                .source = (uint8_t)(rng_next(&r) % 5),
                                .len = (uint16_t)(rng_next(&r) % (sizeof data + 1)),
                                .data = data};
            size_t n = decode_values(&m, a);
            m.row = p->of[i].row;
            m.plan = &p->of[i];
            assert_int_equal(decode_values(&m, b), n);
            for (size_t k = 0; k < n; k++) {
                assert_true(channel_id_same(a[k].id, b[k].id));
                assert_int_equal(a[k].status, b[k].status);
                assert_true(a[k].value >= b[k].value && a[k].value <= b[k].value);
                assert_int_equal(a[k].at_end, b[k].at_end);
                assert_int_equal(a[k].field_rank, b[k].field_rank);
                assert_int_equal(a[k].repeats, b[k].repeats);
            }
            values += n;
        }
    }
    assert_true(values > 1000);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(steps__ends_of_a_number__are_those_of_the_list),
        cmocka_unit_test(values__with_and_without_a_plan_at_hand__are_the_same),
    };
    return cmocka_run_group_tests(tests, make_plans, free_plans);
}
