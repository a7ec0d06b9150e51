#include "report/trial/fit.h"

#include <math.h>

#include "base/banned.h"

#define POINTS_MAX 256

bool fit_line(const double *x, const double *y, size_t n, struct fit_line *out)
{
    double mx = 0, my = 0, sxx = 0, sxy = 0, syy = 0, rest;

    if (n < 2)
        return false;
    for (size_t i = 0; i < n; i++) {
        mx += x[i] / (double)n;
        my += y[i] / (double)n;
    }
    for (size_t i = 0; i < n; i++) {
        sxx += (x[i] - mx) * (x[i] - mx);
        sxy += (x[i] - mx) * (y[i] - my);
        syy += (y[i] - my) * (y[i] - my);
    }
    if (!(sxx > 0))
        return false;
    out->slope = sxy / sxx;
    out->offset = my - out->slope * mx;
    rest = syy - out->slope * sxy;
    rest = rest > 0 ? rest : 0;
    out->slope_error = n > 2 ? sqrt(rest / (double)(n - 2) / sxx) : NAN;
    out->r2 = syy > 0 ? 1 - rest / syy : 1;
    return true;
}

bool fit_power(const double *x, const double *y, size_t n, struct fit_power *out)
{
    double lx[POINTS_MAX], ly[POINTS_MAX];
    struct fit_line line;
    size_t k = 0;

    for (size_t i = 0; i < n && k < POINTS_MAX; i++) {
        if (!(x[i] > 0 && y[i] > 0))
            continue;
        lx[k] = log(x[i]);
        ly[k++] = log(y[i]);
    }
    if (!fit_line(lx, ly, k, &line))
        return false;
    out->factor = exp(line.offset);
    out->exponent = line.slope;
    out->exponent_error = line.slope_error;
    out->r2 = line.r2;
    return true;
}

/* Vertex of the least-squares parabola through n >= 3 points; false where it opens downwards. */
static bool vertex(const struct fit_point *p, size_t n, double *vx, double *vy)
{
    double mx = 0, s[5] = {0}, t[3] = {0};
    double d, a, b, c;

    for (size_t i = 0; i < n; i++)
        mx += p[i].x / (double)n;
    for (size_t i = 0; i < n; i++) {
        double x = p[i].x - mx, power = 1;

        for (int k = 0; k < 5; k++) {
            s[k] += power;
            if (k < 3)
                t[k] += power * p[i].y;
            power *= x;
        }
    }
    /* Cramer's rule on the normal equations of a + b x + c x^2 */
    d = s[0] * (s[2] * s[4] - s[3] * s[3]) - s[1] * (s[1] * s[4] - s[3] * s[2]) +
        s[2] * (s[1] * s[3] - s[2] * s[2]);
    if (!(fabs(d) > 0))
        return false;
    a = (t[0] * (s[2] * s[4] - s[3] * s[3]) - s[1] * (t[1] * s[4] - s[3] * t[2]) +
         s[2] * (t[1] * s[3] - s[2] * t[2])) /
        d;
    b = (s[0] * (t[1] * s[4] - t[2] * s[3]) - t[0] * (s[1] * s[4] - s[3] * s[2]) +
         s[2] * (s[1] * t[2] - t[1] * s[2])) /
        d;
    c = (s[0] * (s[2] * t[2] - s[3] * t[1]) - s[1] * (s[1] * t[2] - s[3] * t[0]) +
         t[0] * (s[1] * s[3] - s[2] * s[2])) /
        d;
    if (!(c > 0))
        return false;
    *vx = mx - b / (2 * c);
    *vy = a - b * b / (4 * c);
    return true;
}

/* How far the vertex moves, in x, when one point moves by its error. */
static double moved(const struct fit_point *three, double at)
{
    double sum = 0;

    for (int i = 0; i < 6; i++) {
        struct fit_point p[3] = {three[0], three[1], three[2]};
        double x, y;

        if (i % 2)
            p[i / 2].x += p[i / 2].x_error;
        else
            p[i / 2].y += p[i / 2].y_error;
        if (vertex(p, 3, &x, &y))
            sum += (x - at) * (x - at);
        else
            sum += (three[2].x - three[0].x) * (three[2].x - three[0].x) / 4;
    }
    return sqrt(sum);
}

bool fit_bottom(const struct fit_point *p, size_t n, size_t from, struct fit_bottom *out,
                size_t *at)
{
    for (size_t i = from < 1 ? 1 : from; i + 1 < n; i++) {
        double x, y, wide_x, wide_y, shape;
        size_t low, high;

        if (!(p[i].y < p[i - 1].y && p[i].y <= p[i + 1].y) || !vertex(&p[i - 1], 3, &x, &y))
            continue;
        x = fmin(fmax(x, p[i - 1].x), p[i + 1].x);
        low = i >= 2 ? i - 2 : 0;
        high = i + 2 < n ? i + 2 : n - 1;
        shape = (p[i + 1].x - p[i - 1].x) / 8;
        if (high - low >= 3 && vertex(&p[low], high - low + 1, &wide_x, &wide_y) &&
            wide_x > p[low].x && wide_x < p[high].x)
            shape = fmax(fabs(wide_x - x) / 2, shape / 2);
        *out = (struct fit_bottom){x, y, hypot(moved(&p[i - 1], x), shape)};
        *at = i;
        return true;
    }
    return false;
}
