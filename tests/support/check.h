/* The test library in its include order, and what cmocka lacks. */
#ifndef STOKEHOLD_TESTS_CHECK_H
#define STOKEHOLD_TESTS_CHECK_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
#include <math.h>
#include <cmocka.h>

/* Unlike cmocka 1.1.5's assert_float_equal, fails on NaN and infinities. */
#define assert_near(actual, expected, tolerance)                                                   \
    check_near((double)(actual), (double)(expected), (double)(tolerance), #actual, __FILE__,       \
               __LINE__)

static inline void check_near(double actual, double expected, double tolerance, const char *what,
                              const char *file, int line)
{
    if (!(fabs(actual - expected) <= tolerance)) {
        print_error("%s is %.9g, expected %.9g within %.3g\n", what, actual, expected, tolerance);
        _fail(file, line);
    }
}

/* Calls f with every beginning of data, the empty one and the whole included, each in a block of
 * exactly that size so that a sanitizer sees the first byte read past it. */
void for_every_prefix(const void *data, size_t len,
                      void (*f)(void *ctx, const void *data, size_t len), void *ctx);

#endif
