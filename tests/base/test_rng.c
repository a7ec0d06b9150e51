/* Random numbers against the generators' own published sequences. */
#include "base/rng.h"

#include "support/check.h"

/* The first outputs of xoshiro256** from state 1, 2, 3, 4, as in the test of the Rust crate
 * rand_xoshiro, which made them with the authors' reference code (from memory). */
static void next__state_1234__gives_reference_sequence(void **state)
{
    static const uint64_t expected[] = {
        11520,
        0,
        1509978240,
        UINT64_C(1215971899390074240),
        UINT64_C(1216172134540287360),
        UINT64_C(607988272756665600),
        UINT64_C(16172922978634559625),
        UINT64_C(8476171486693032832),
        UINT64_C(10595114339597558777),
        UINT64_C(2904607092377533576),
    };
    struct rng r = {.s = {1, 2, 3, 4}};

    (void)state;
    for (size_t i = 0; i < sizeof expected / sizeof expected[0]; i++)
        assert_true(rng_next(&r) == expected[i]);
}

/* splitmix64 of 0 begins with e220a8397b1dcdaf (from memory; printed in many libraries' tests). */
static void seed__zero__begins_as_splitmix(void **state)
{
    struct rng r;

    (void)state;
    rng_seed(&r, 0);
    assert_true(r.s[0] == UINT64_C(0xe220a8397b1dcdaf));
    assert_true(r.s[1] == UINT64_C(0x6e789e6aa1b965f4));
}

static void streams__of_one_seed__differ(void **state)
{
    struct rng a, b, c;

    (void)state;
    rng_seed_stream(&a, 7, 1);
    rng_seed_stream(&b, 7, 2);
    rng_seed_stream(&c, 7, 1);
    assert_true(rng_next(&a) != rng_next(&b));
    rng_seed_stream(&a, 7, 1);
    assert_true(rng_next(&a) == rng_next(&c));
}

/* Mean and spread over 100,000 draws, five standard errors wide: the seed is fixed, so this
 * passes always or never. */
static void draws__many__have_expected_mean_and_spread(void **state)
{
    enum { N = 100000 };
    struct rng r;
    double sum = 0, squares = 0, normal = 0, normal_squares = 0;
    int below[7] = {0};

    (void)state;
    rng_seed(&r, 42);
    for (int i = 0; i < N; i++) {
        double u = rng_unit(&r), n = rng_normal(&r), b = rng_between_log(&r, 2, 8);

        assert_true(u >= 0 && u < 1);
        assert_true(b >= 2 && b < 8);
        sum += u;
        squares += u * u;
        normal += n;
        normal_squares += n * n;
        below[rng_below(&r, 7)]++;
    }
    assert_near(sum / N, 0.5, 5 * sqrt(1.0 / 12 / N));
    assert_near(squares / N, 1.0 / 3, 0.005);
    assert_near(normal / N, 0, 5 / sqrt(N));
    assert_near(normal_squares / N, 1, 5 * sqrt(2.0 / N));
    for (int i = 0; i < 7; i++)
        assert_near(below[i], N / 7.0, 600);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(next__state_1234__gives_reference_sequence),
        cmocka_unit_test(seed__zero__begins_as_splitmix),
        cmocka_unit_test(streams__of_one_seed__differ),
        cmocka_unit_test(draws__many__have_expected_mean_and_spread),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
