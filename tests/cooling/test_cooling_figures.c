/* The list of figures: whole, each with unit and reason, and each one can be varied alone. */
#include "cooling/figures.h"

#include "cooling/cooling.h"

#include <string.h>

#include "support/check.h"

#include "base/banned.h"

static double at(const struct figures *f, const struct figure *row)
{
    double v;
    memcpy(&v, (const char *)f + row->offset, sizeof v);
    return v;
}

static void list__names_every_figure_once__with_unit_and_reason(void **state)
{
    (void)state;
    size_t n;
    const struct figure *list = figures_list(&n);
    assert_int_equal(n * sizeof(double), sizeof(struct figures));
    for (size_t i = 0; i < n; i++) {
        assert_true(strlen(list[i].unit) > 0);
        assert_true(strlen(list[i].reason) > 0);
        assert_near(at(&cooling_figures, &list[i]), list[i].value, 0.0);
        for (size_t k = 0; k < i; k++) {
            assert_string_not_equal(list[i].name, list[k].name);
            assert_int_not_equal(list[i].offset, list[k].offset);
        }
    }
}

static void set__changes_that_figure_alone(void **state)
{
    (void)state;
    size_t n;
    const struct figure *list = figures_list(&n);
    for (size_t i = 0; i < n; i++) {
        struct figures f = cooling_figures;
        assert_true(figures_set(&f, list[i].name, 1234.5));
        for (size_t k = 0; k < n; k++)
            assert_near(at(&f, &list[k]), k == i ? 1234.5 : list[k].value, 0.0);
    }
    struct figures f = cooling_figures;
    assert_false(figures_set(&f, "no_such_figure", 1.0));
    assert_memory_equal(&f, &cooling_figures, sizeof f);
}

static void watch__takes_the_figures_it_is_given(void **state)
{
    (void)state;
    struct figures f = cooling_figures;
    assert_true(figures_set(&f, "exhaust_limit_c", 71.0));
    struct cooling *c = cooling_new_with(&f);
    assert_non_null(c);
    assert_near(cooling_verdict(c, 3, COOLING_EXHAUST)->limit_c, 71.0, 0.0);
    assert_near(cooling_verdict(c, 3, COOLING_COOLANT)->limit_c, 100.0, 0.0);
    cooling_free(c);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(list__names_every_figure_once__with_unit_and_reason),
        cmocka_unit_test(set__changes_that_figure_alone),
        cmocka_unit_test(watch__takes_the_figures_it_is_given),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
