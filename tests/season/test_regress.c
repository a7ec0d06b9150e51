/* The regression against certified results (NIST StRD) and against outliers. */
#include "season/regress.h"

#include "support/check.h"

#include <stdlib.h>

/* NIST StRD, Norris: x, y; certified values from its data file. */
static const double norris[36][2] = {
    {0.2, 0.1},     {337.4, 338.8}, {118.2, 118.1}, {884.6, 888.0}, {10.1, 9.2},    {226.5, 228.1},
    {666.3, 668.5}, {996.3, 998.5}, {448.6, 449.1}, {777.0, 778.9}, {558.2, 559.2}, {0.4, 0.3},
    {0.6, 0.1},     {775.5, 778.1}, {666.9, 668.8}, {338.0, 339.3}, {447.5, 448.9}, {11.6, 10.8},
    {556.0, 557.7}, {228.1, 228.3}, {995.8, 998.0}, {887.6, 888.8}, {120.2, 119.6}, {0.3, 0.3},
    {0.3, 0.6},     {556.8, 557.6}, {339.1, 339.3}, {887.2, 888.0}, {999.0, 998.5}, {779.0, 778.9},
    {11.1, 10.2},   {118.3, 117.6}, {229.2, 228.9}, {669.1, 668.4}, {448.9, 449.2}, {0.5, 0.2}};

static int fill(struct regress_row *rows)
{
    for (int i = 0; i < 36; i++)
        rows[i] = (struct regress_row){{1, norris[i][0]}, norris[i][1], 1};
    return 36;
}

static void plain__norris__certified_values(void **state)
{
    struct regress_row rows[36];
    struct regress_fit f;

    (void)state;
    assert_true(regress(rows, fill(rows), 2, NULL, 0, false, &f));
    assert_near(f.beta[0], -0.262323073774029, 1e-9);
    assert_near(f.beta[1], 1.00211681802045, 1e-12);
    assert_near(sqrt(f.cov[0][0]), 0.232818234301152, 1e-9);
    assert_near(sqrt(f.cov[1][1]), 0.429796848199937e-3, 1e-12);
    assert_near(f.cov[0][1], -7.74327536339570e-05, 1e-12);
    assert_near(f.scale, 0.884796396144373, 1e-9);
}

static void error_of_the_curve__norris__from_the_covariance(void **state)
{
    struct regress_row rows[36];
    struct regress_fit f;
    const double at[2] = {1, 500};

    (void)state;
    assert_true(regress(rows, fill(rows), 2, NULL, 0, false, &f));
    assert_near(regress_value(&f, at), -0.262323073774029 + 500 * 1.00211681802045, 1e-9);
    assert_near(regress_error(&f, at),
                sqrt(f.cov[0][0] + 1000 * f.cov[0][1] + 250000 * f.cov[1][1]), 1e-12);
}

static void robust__norris_with_wild_points__stays(void **state)
{
    struct regress_row rows[36];
    struct regress_fit plain, robust;
    int n = fill(rows);

    (void)state;
    rows[7].y += 400;
    rows[20].y += 900;
    rows[3].y += 250;
    assert_true(regress(rows, n, 2, NULL, 0, false, &plain));
    assert_true(regress(rows, n, 2, NULL, 0, true, &robust));
    assert_true(fabs(plain.beta[1] - 1.00211681802045) > 0.05);
    assert_near(robust.beta[1], 1.00211681802045, 3 * 0.43e-3);
    assert_near(robust.beta[0], -0.262323073774029, 3 * 0.233);
}

/* The same numbers by an independent library: statsmodels 0.13.5 (Debian 12), RLM with Tukey's
 * biweight; tests/vectors/robust-regression.py prints them from the table above. */
static void robust__norris_with_wild_points__as_statsmodels_has_it(void **state)
{
    static const struct {
        int terms;
        bool weighted;
        double beta[3];
    } cases[] = {
        {2, false, {-0.230290221, 1.00188264}},
        {3, false, {-0.526263243, 1.00551572, -1.1229814}},
        {3, true, {-0.542512327, 1.00528088, -1.0645519}},
    };
    struct regress_row rows[36];
    struct regress_fit f;

    (void)state;
    for (int c = 0; c < 3; c++) {
        int n = fill(rows);
        rows[7].y += 400;
        rows[20].y += 900;
        rows[3].y += 250;
        for (int i = 0; i < n; i++) {
            rows[i].x[2] = rows[i].x[1] / 500 * (rows[i].x[1] / 500);
            rows[i].weight = cases[c].weighted ? 0.3 + (i % 5) / 4.0 : 1;
        }
        assert_true(regress(rows, n, cases[c].terms, NULL, 0, true, &f));
        for (int j = 0; j < cases[c].terms; j++)
            assert_near(f.beta[j], cases[c].beta[j], 1e-6 * (1 + fabs(cases[c].beta[j])));
    }
}

/* A normal prior of mean m and error e is one more observation of weight s²/e²: by hand. */
static void prior__one_observation__is_weighed_against_it(void **state)
{
    struct regress_row rows[4] = {{{1}, 10, 1}, {{1}, 12, 1}, {{1}, 11, 1}, {{1}, 11, 1}};
    struct regress_prior prior = {.mean = 0, .error = 1};
    struct regress_fit f;

    (void)state;
    assert_true(regress(rows, 4, 1, &prior, 1, false, &f));
    assert_near(f.beta[0], 44.0 / 5, 1e-9);
}

/* Priors and weights together, by the normal equations in numpy 1.24 (Debian 12): a prior adds
 * (floor / error)^2 to the diagonal, and that times its mean; errors from what is left, or the
 * floor where that is more. */
static void prior__norris_weighted__by_the_normal_equations(void **state)
{
    static const struct {
        struct regress_prior prior[3];
        double floor, freedom, scale, beta[3], error[3], cov02, cov12, at;
    } cases[] = {
        {{{0, INFINITY}, {1.1, 0.01}, {0, 0.5}},
         2,
         35,
         2,
         {-1.068807147064, 1.006013764065, -0.783237865209},
         {0.629363167545, 0.001934155529, 0.445241157831},
         0.0661716441249,
         -0.000712560292481,
         0.456042729280},
        {{{-1, 0.2}, {0.9, 0.05}, {0.5, 1}},
         0.25,
         36,
         0.8085909490488594,
         {-0.544157033768, 1.004025487315, -0.51933468516},
         {0.263814651286, 0.001525649017, 0.410128782888},
         0.0517352433536,
         -0.000601103819875,
         0.223806835987},
    };
    const double at[3] = {1, 640, 1.28 * 1.28};
    struct regress_row rows[36];
    struct regress_fit f;

    (void)state;
    for (size_t c = 0; c < sizeof cases / sizeof cases[0]; c++) {
        int n = fill(rows);
        for (int i = 0; i < n; i++) {
            rows[i].x[2] = rows[i].x[1] / 500 * (rows[i].x[1] / 500);
            rows[i].weight = 0.3 + (i % 5) / 4.0;
        }
        assert_true(regress(rows, n, 3, cases[c].prior, cases[c].floor, false, &f));
        assert_near(f.freedom, cases[c].freedom, 1e-12);
        assert_near(f.scale, cases[c].scale, 1e-9);
        for (int j = 0; j < 3; j++) {
            assert_near(f.beta[j], cases[c].beta[j], 1e-9);
            assert_near(sqrt(f.cov[j][j]), cases[c].error[j], 1e-9);
        }
        assert_near(f.cov[0][2], cases[c].cov02, 1e-9);
        assert_near(f.cov[1][2], cases[c].cov12, 1e-9);
        assert_near(regress_error(&f, at), cases[c].at, 1e-9);
    }
}

static int by_size(const void *a, const void *b)
{
    return *(const double *)a < *(const double *)b ? -1 : 1;
}

/* What Tukey's biweight leaves of each row, summed, is what its freedom and its scale count with.
 */
static void robust__freedom_and_scale__of_what_is_left(void **state)
{
    for (int count = 35; count <= 36; count++) { /* a middle one, and two */
        struct regress_row rows[36];
        struct regress_fit f;
        double size[36], left = 0, squares = 0;

        (void)state;
        fill(rows);
        rows[7].y += 400;
        rows[20].y += 3;
        for (int i = 0; i < count; i++)
            rows[i].weight = 0.3 + (i % 5) / 4.0;
        assert_true(regress(rows, count, 2, NULL, 0, true, &f));
        for (int i = 0; i < count; i++)
            size[i] = fabs(rows[i].y - regress_value(&f, rows[i].x)) * sqrt(rows[i].weight);
        double sorted[36];
        memcpy(sorted, size, sizeof sorted);
        qsort(sorted, (size_t)count, sizeof *sorted, by_size);
        double middle = count % 2 ? sorted[17] : (sorted[17] + sorted[18]) / 2;
        for (int i = 0; i < count; i++) {
            double u = size[i] / (4.685 * 1.4826 * middle);
            double w = u < 1 ? (1 - u * u) * (1 - u * u) : 0;

            left += w;
            squares += w * size[i] * size[i];
        }
        assert_near(f.freedom, left - 2, 1e-5);
        assert_near(f.scale, sqrt(squares / (left - 2)), 1e-6);
        assert_true(f.freedom < count - 3 && f.freedom > count - 10);
    }
}

static void too_many__are_refused(void **state)
{
    static struct regress_row rows[REGRESS_MOST + 1];
    struct regress_fit f;

    (void)state;
    for (int i = 0; i <= REGRESS_MOST; i++)
        rows[i] = (struct regress_row){{1}, 2, 1};
    assert_true(regress(rows, REGRESS_MOST, 1, NULL, 0, false, &f));
    assert_near(f.beta[0], 2, 1e-12);
    assert_false(regress(rows, REGRESS_MOST + 1, 1, NULL, 0, false, &f));
    assert_false(regress(rows, 20, 0, NULL, 0, false, &f));
    assert_false(regress(rows, 20, REGRESS_TERMS + 1, NULL, 0, false, &f));
    struct regress_row two[2] = {{{1, 0}, 3, 1}, {{1, 1}, 5, 1}};
    assert_true(
        regress(two, 2, 2, NULL, 0, false, &f)); /* as many rows as terms: no error is known */
    assert_near(f.beta[1], 2, 1e-12);
    assert_near(f.scale, 0, 0);
}

static void terms_that_cannot_be_told_apart__are_refused(void **state)
{
    struct regress_row rows[3] = {{{1, 2}, 1, 1}, {{1, 2}, 2, 1}, {{1, 2}, 3, 1}};
    struct regress_prior prior[2] = {{0, INFINITY}, {0.5, 0.1}};
    struct regress_fit f;

    (void)state;
    assert_false(regress(rows, 3, 2, NULL, 0, false, &f));
    assert_false(regress(rows, 1, 2, NULL, 0, false, &f));
    assert_false(regress(rows, 0, 1, NULL, 0, false, &f));
    assert_true(regress(rows, 3, 2, prior, 0.1, false, &f)); /* the prior tells them apart */
    assert_near(f.beta[0] + 2 * f.beta[1], 2, 0.01);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(plain__norris__certified_values),
        cmocka_unit_test(error_of_the_curve__norris__from_the_covariance),
        cmocka_unit_test(robust__norris_with_wild_points__stays),
        cmocka_unit_test(robust__norris_with_wild_points__as_statsmodels_has_it),
        cmocka_unit_test(prior__one_observation__is_weighed_against_it),
        cmocka_unit_test(prior__norris_weighted__by_the_normal_equations),
        cmocka_unit_test(robust__freedom_and_scale__of_what_is_left),
        cmocka_unit_test(too_many__are_refused),
        cmocka_unit_test(terms_that_cannot_be_told_apart__are_refused),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
