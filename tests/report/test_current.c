/* The water's own movement from runs both ways, held against least squares worked out a second
 * time: in whole fractions, by the normal equations of textbooks, and only then rounded. */
#include "report/trial/inside.h"

#include "support/check.h"

#define HOUR_NS 3600e9

/* Hours, each part of the current (kn), and how well a pair knows it. */
static const struct {
    double h, north, east, error;
} drawn[] = {
    {0.0, 1.00, -0.30, 0.01}, {0.3, 1.12, -0.28, 0.02}, {0.5, 1.09, -0.33, 0.01},
    {0.8, 1.21, -0.20, 0.01}, {1.2, 1.33, -0.12, 0.03}, {1.4, 1.28, -0.05, 0.01},
    {1.9, 1.40, 0.10, 0.01},  {2.0, 1.46, 0.14, 0.02},
};

static struct trial_current fit_of(int n, double later_h, double slower)
{
    struct trial_pair pair[8];
    struct trial_current c;

    for (int i = 0; i < n; i++)
        pair[i] = (struct trial_pair){.at_ns = (int64_t)((later_h + slower * drawn[i].h) * HOUR_NS),
                                      .north = drawn[i].north,
                                      .east = drawn[i].east,
                                      .error = drawn[i].error};
    trial_current_fit(&c, pair, n);
    return c;
}

/* One or two pairs tell of a steady current, three of one that changes evenly, six of a curve; what
 * too few cannot tell is taken as common practice has it: 0.1 kn, and 0.02 kn2/h of wandering. */
static void current__of_so_many_pairs__by_least_squares(void **state)
{
    static const struct {
        int n, terms;
        double scatter, walk;
        struct {
            double h, north, east, error;
        } at[3];
    } rows[] = {
        {1,
         1,
         0.1,
         0.02,
         {{0, 1, -0.3, 0.141421356237},
          {1, 1, -0.3, 0.141421356237},
          {2.5, 1, -0.3, 0.141421356237}}},
        {2,
         1,
         0.060827625303,
         0.02,
         {{0, 1.06, -0.29, 0.0744983221288},
          {1, 1.06, -0.29, 0.0744983221288},
          {2.5, 1.06, -0.29, 0.0744983221288}}},
        {3,
         2,
         0.0436794544018,
         0.02,
         {{0, 1.01736842105, -0.29, 0.06012452452},
          {1, 1.21473684211, -0.34, 0.10316997781},
          {2.5, 1.51078947368, -0.415, 0.278695889622}}},
        {4,
         2,
         0.0471036092035,
         0.0305808823529,
         {{0, 1.00970588235, -0.318676470588, 0.061786367},
          {1, 1.24794117647, -0.215735294118, 0.0715730550269},
          {2.5, 1.60529411765, -0.0613235294118, 0.177628629863}}},
        {5,
         2,
         0.042926038222,
         0.0154485279351,
         {{0, 1.00211267606, -0.335258215962, 0.0537531896196},
          {1, 1.2661971831, -0.175868544601, 0.0512823357859},
          {2.5, 1.66232394366, 0.0632159624413, 0.101738974954}}},
        {6,
         3,
         0.041876294857,
         0.019918803871,
         {{0, 1.00010474049, -0.301987633502, 0.0569597937791},
          {1, 1.24797807757, -0.182173130972, 0.0485854055417},
          {2.5, 1.3761118606, 0.595567172569, 0.271673840822}}},
        {8,
         3,
         0.0363253285081,
         0.0122382091976,
         {{0, 1.00999792524, -0.315550643863, 0.047408276467},
          {1, 1.24270216241, -0.1762522057, 0.0416691308041},
          {2.5, 1.51956598312, 0.375967754035, 0.0733871345694}}},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        for (int k = 0; k < 3; k++) { /* whenever she was out, and however slowly it went */
            double later = k == 1 ? 500 : 0, slower = k == 2 ? 4 : 1;
            struct trial_current c = fit_of(rows[i].n, later, slower);

            assert_int_equal(c.pairs, rows[i].n);
            assert_int_equal(c.terms, rows[i].terms);
            assert_near(c.scatter_kn, rows[i].scatter, 1e-9);
            assert_near(c.walk_kn2_h, rows[i].walk / (rows[i].n < 4 ? 1 : slower), 1e-9);
            for (int m = 0; m < 3; m++) {
                double north, east, error;
                int64_t at_ns = (int64_t)((later + slower * rows[i].at[m].h) * HOUR_NS);

                assert_true(trial_current_at(&c, at_ns, &north, &east, &error));
                assert_near(north, rows[i].at[m].north, 1e-9);
                assert_near(east, rows[i].at[m].east, 1e-9);
                assert_near(error, rows[i].at[m].error, 1e-9);
            }
        }
}

/* Pairs all at one time hold no slope: a steady current is what they tell, and the mean of them. */
static void current__all_at_one_time__is_steady(void **state)
{
    struct trial_pair pair[6];
    struct trial_current c;
    double north, east, error;

    (void)state;
    for (int i = 0; i < 6; i++)
        pair[i] = (struct trial_pair){(int64_t)HOUR_NS, i < 3 ? 0.5 : 0.7, -0.2, 0.01};
    trial_current_fit(&c, pair, 6);
    assert_int_equal(c.terms, 1);
    assert_true(trial_current_at(&c, 0, &north, &east, &error));
    assert_near(north, 0.6, 1e-12);
    assert_near(east, -0.2, 1e-12);
    /* six squares of 0.1 over twice five, and the error of the mean of six with it */
    assert_near(c.scatter_kn, sqrt(0.006), 1e-12);
    assert_near(error, sqrt(0.006 + 0.001), 1e-12);
    assert_near(c.walk_kn2_h, 0.02, 0); /* over no time nothing wanders */
}

/* Pairs that differ by no more than they are known to do not wander. */
static void current__within_the_errors_of_its_pairs__does_not_wander(void **state)
{
    struct trial_pair pair[4];
    struct trial_current c;

    (void)state;
    for (int i = 0; i < 4; i++)
        pair[i] = (struct trial_pair){(int64_t)(i * HOUR_NS), i % 2 ? 0.51 : 0.49, 0, 0.1};
    trial_current_fit(&c, pair, 4);
    assert_near(c.walk_kn2_h, 0, 0);
}

static void current__no_pair__is_not_known(void **state)
{
    struct trial_current c;
    double north = 1, east = 1, error = 1;

    (void)state;
    trial_current_fit(&c, NULL, 0);
    assert_int_equal(c.pairs, 0);
    assert_int_equal(c.terms, 0);
    assert_false(trial_current_at(&c, 0, &north, &east, &error));
    assert_near(north, 0, 0);
    assert_near(east, 0, 0);
    assert_near(error, 0, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(current__of_so_many_pairs__by_least_squares),
        cmocka_unit_test(current__all_at_one_time__is_steady),
        cmocka_unit_test(current__within_the_errors_of_its_pairs__does_not_wander),
        cmocka_unit_test(current__no_pair__is_not_known),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
