#include "base/thermistor.h"

#include "base/text.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

#define ZERO_C_K 273.15 /* SI, exact */

static const double nowhere = (double)NAN;

struct thermistor thermistor_from_beta(double beta_k, double ohm, double at_c)
{
    return (struct thermistor){
        .set = true, .a = 1 / (at_c + ZERO_C_K) - log(ohm) / beta_k, .b = 1 / beta_k, .c = 0};
}

bool thermistor_from_points(const double ohm[3], const double at_c[3], struct thermistor *out)
{
    double l[3], y[3];
    for (int i = 0; i < 3; i++) {
        if (!(ohm[i] > 0) || !(at_c[i] > -ZERO_C_K))
            return false;
        l[i] = log(ohm[i]);
        y[i] = 1 / (at_c[i] + ZERO_C_K);
    }
    double slope2 = (y[1] - y[0]) / (l[1] - l[0]);
    double slope3 = (y[2] - y[0]) / (l[2] - l[0]);
    struct thermistor t = {.set = true};
    t.c = (slope3 - slope2) / (l[2] - l[1]) / (l[0] + l[1] + l[2]);
    t.b = slope2 - t.c * (l[0] * l[0] + l[0] * l[1] + l[1] * l[1]);
    t.a = y[0] - (t.b + l[0] * l[0] * t.c) * l[0];
    if (!isfinite(t.a) || !isfinite(t.b) || !isfinite(t.c) || slope2 <= 0 || slope3 <= 0)
        return false;
    *out = t;
    return true;
}

double thermistor_celsius(const struct thermistor *t, double ohm)
{
    if (!t->set || !(ohm > 0))
        return nowhere;
    double l = log(ohm);
    double inverse_k = t->a + t->b * l + t->c * l * l * l;
    return inverse_k > 0 ? 1 / inverse_k - ZERO_C_K : nowhere;
}

/* "27219 at 0" */
static bool read_point(const char *text, size_t len, double *ohm, double *at_c)
{
    char part[64];
    if (len >= sizeof part)
        return false;
    memcpy(part, text, len);
    part[len] = '\0';
    char *at = strstr(part, " at ");
    if (at == NULL)
        return false;
    *at = '\0';
    return text_to_double(part, ohm) && text_to_double(at + 4, at_c) && *ohm > 0 &&
           *at_c > -ZERO_C_K;
}

static bool parse_beta(const char *text, struct thermistor *out, struct err *e)
{
    char number[32];
    size_t len = strcspn(text, ",");
    double beta, ohm = 10000, at_c = 25;
    text_copy(number, sizeof number, text);
    if (len < sizeof number)
        number[len] = '\0';
    if (!text_to_double(number, &beta) || beta < 500 || beta > 10000)
        return err_set(e, "beta is a number of kelvin, such as beta 3950");
    if (text[len] == ',' && !read_point(text + len + 1, strlen(text + len + 1), &ohm, &at_c))
        return err_set(e, "after the beta stands OHM at CELSIUS, such as beta 3950, 10000 at 25");
    *out = thermistor_from_beta(beta, ohm, at_c);
    return true;
}

static bool parse_points(const char *text, struct thermistor *out, struct err *e)
{
    double ohm[3], at_c[3];
    const char *p = text;
    for (int i = 0; i < 3; i++) {
        size_t len = strcspn(p, ",");
        if (!read_point(p, len, &ohm[i], &at_c[i]) || (p[len] == ',') != (i < 2))
            return err_set(e, "needs three points, such as 32650 at 0, 10000 at 25, 680 at 100");
        p += len + 1;
    }
    if (!thermistor_from_points(ohm, at_c, out))
        return err_set(e, "no thermistor goes through these points: ohm must fall as it warms");
    return true;
}

static bool parse_coefficients(const char *text, struct thermistor *out, struct err *e)
{
    double v[3];
    const char *p = text;
    for (int i = 0; i < 3; i++) {
        char number[40];
        p += strspn(p, " ");
        size_t len = strcspn(p, " ");
        if (len == 0 || len >= sizeof number)
            return err_set(e, "write beta B, three points, or the three coefficients");
        memcpy(number, p, len);
        number[len] = '\0';
        if (!text_to_double(number, &v[i]))
            return err_set(e, "write beta B, three points, or the three coefficients");
        p += len;
    }
    if (*p != '\0' || v[1] <= 0)
        return err_set(e, "there are three coefficients, and the second is above zero");
    *out = (struct thermistor){.set = true, .a = v[0], .b = v[1], .c = v[2]};
    return true;
}

bool thermistor_parse(const char *text, struct thermistor *out, struct err *e)
{
    if (strncmp(text, "beta ", 5) == 0)
        return parse_beta(text + 5, out, e);
    if (strstr(text, " at ") != NULL)
        return parse_points(text, out, e);
    return parse_coefficients(text, out, e);
}

/* v as "1.129148000e-3". */
static bool append_scientific(char *dst, size_t cap, double v)
{
    char digits[32];
    int exponent = fpclassify(v) == FP_ZERO ? 0 : (int)floor(log10(fabs(v)));
    double mantissa = v / pow(10, exponent);
    if (text_number(digits, sizeof digits, mantissa, 9) == 0)
        return false;
    return text_append(dst, cap, "%se%d", digits, exponent);
}

bool thermistor_format(char *dst, size_t cap, const struct thermistor *t)
{
    text_copy(dst, cap, "");
    return append_scientific(dst, cap, t->a) && text_append(dst, cap, " ") &&
           append_scientific(dst, cap, t->b) && text_append(dst, cap, " ") &&
           append_scientific(dst, cap, t->c);
}
