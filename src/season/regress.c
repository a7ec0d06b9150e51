#include "season/regress.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

#define TUKEY      4.685
#define MAD_SIGMA  1.4826
#define ITERATIONS 30
#define AT_REST    1e-9

typedef double matrix[REGRESS_TERMS][REGRESS_TERMS];

/* Inverse of a symmetric positive matrix by Cholesky, from its lower half; false where it is
 * singular. */
static bool invert(matrix a, int n, matrix out)
{
    matrix l = {{0}}, inv = {{0}};

    for (int i = 0; i < n; i++) {
        for (int j = 0; j <= i; j++) {
            double sum = a[i][j];
            for (int k = 0; k < j; k++)
                sum -= l[i][k] * l[j][k];
            if (i == j) {
                if (!(sum > 1e-12 * fabs(a[i][i])))
                    return false;
                l[i][i] = sqrt(sum);
            } else {
                l[i][j] = sum / l[j][j];
            }
        }
    }
    for (int c = 0; c < n; c++) /* inv = l^-1 */
        for (int i = c; i < n; i++) {
            double sum = i == c ? 1 : 0;
            for (int k = c; k < i; k++)
                sum -= l[i][k] * inv[k][c];
            inv[i][c] = sum / l[i][i];
        }
    for (int i = 0; i < n; i++)
        for (int j = 0; j < n; j++) {
            out[i][j] = 0;
            for (int k = i > j ? i : j; k < n; k++)
                out[i][j] += inv[k][i] * inv[k][j];
        }
    return true;
}

static double residual(const struct regress_row *row, const double *beta, int terms)
{
    double y = row->y;

    for (int j = 0; j < terms; j++)
        y -= beta[j] * row->x[j];
    return y;
}

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;

    return x < y ? -1 : x > y;
}

/* The residuals' scale by their median size. */
static double median_scale(const struct regress_row *rows, int count, int terms, const double *beta,
                           double *room)
{
    for (int i = 0; i < count; i++)
        room[i] = fabs(residual(&rows[i], beta, terms)) * sqrt(rows[i].weight);
    qsort(room, (size_t)count, sizeof *room, by_size);
    double middle = count % 2 ? room[count / 2] : 0.5 * (room[count / 2 - 1] + room[count / 2]);
    return middle * MAD_SIGMA;
}

/* One weighted step; `prior_var` is the residual's variance, which the prior is measured in. */
static bool solve(const struct regress_row *rows, const double *robust, int count, int terms,
                  const struct regress_prior *prior, double prior_var, double *beta, matrix inverse)
{
    matrix a = {{0}};
    double b[REGRESS_TERMS] = {0};

    for (int i = 0; i < count; i++) {
        double w = rows[i].weight * robust[i];
        for (int j = 0; j < terms; j++) {
            for (int k = 0; k <= j; k++)
                a[j][k] += w * rows[i].x[j] * rows[i].x[k];
            b[j] += w * rows[i].x[j] * rows[i].y;
        }
    }
    for (int j = 0; j < terms && prior; j++)
        if (isfinite(prior[j].error)) {
            double w = prior_var / (prior[j].error * prior[j].error);
            a[j][j] += w;
            b[j] += w * prior[j].mean;
        }
    if (!invert(a, terms, inverse))
        return false;
    for (int j = 0; j < terms; j++) {
        beta[j] = 0;
        for (int k = 0; k < terms; k++)
            beta[j] += inverse[j][k] * b[k];
    }
    return true;
}

/* Weighs outliers down; the sum of what is left. */
static double biweight(const struct regress_row *rows, int count, int terms, const double *beta,
                       double scale, double *robust)
{
    double sum = 0;

    for (int i = 0; i < count; i++) {
        double u = residual(&rows[i], beta, terms) * sqrt(rows[i].weight) / (TUKEY * scale);
        robust[i] = fabs(u) < 1 ? (1 - u * u) * (1 - u * u) : 0;
        sum += robust[i];
    }
    return sum;
}

/* Coefficients that the prior does not hold. */
static int free_terms(int terms, const struct regress_prior *prior)
{
    int n = 0;

    for (int j = 0; j < terms; j++)
        n += !prior || !isfinite(prior[j].error);
    return n;
}

static double spread(const struct regress_row *rows, const double *robust, int count,
                     const struct regress_fit *f)
{
    double sum = 0;

    for (int i = 0; i < count; i++) {
        double r = residual(&rows[i], f->beta, f->terms);
        sum += rows[i].weight * robust[i] * r * r;
    }
    return f->freedom > 0 ? sqrt(sum / f->freedom) : 0;
}

bool regress(const struct regress_row *rows, int count, int terms,
             const struct regress_prior *prior, double scale_floor, bool robust,
             struct regress_fit *out)
{
    double *weights = malloc(2 * (size_t)(count > 0 ? count : 1) * sizeof *weights);
    double *room = weights + (count > 0 ? count : 1), left = count;
    double scale = scale_floor > 0 ? scale_floor : 1;
    matrix inverse;
    bool good = weights && count > 0 && count <= REGRESS_MOST && terms > 0 &&
                terms <= REGRESS_TERMS && count >= free_terms(terms, prior);

    *out = (struct regress_fit){.terms = terms};
    for (int i = 0; i < count && good; i++)
        weights[i] = 1;
    good = good && solve(rows, weights, count, terms, prior, scale * scale, out->beta, inverse);
    for (int n = 0; good && robust && n < ITERATIONS; n++) {
        double before = out->beta[0], moved = 0;

        scale = fmax(median_scale(rows, count, terms, out->beta, room), scale_floor);
        if (scale <= 0)
            break;
        left = biweight(rows, count, terms, out->beta, scale, weights);
        good = solve(rows, weights, count, terms, prior, scale * scale, out->beta, inverse);
        moved = fabs(out->beta[0] - before);
        if (moved < AT_REST * (1 + fabs(before)))
            break;
    }
    if (good) {
        out->freedom = left - free_terms(terms, prior);
        scale = fmax(spread(rows, weights, count, out), scale_floor);
        out->scale = scale;
        for (int j = 0; j < terms; j++)
            for (int k = 0; k < terms; k++)
                out->cov[j][k] = inverse[j][k] * scale * scale;
    }
    free(weights);
    return good;
}

double regress_value(const struct regress_fit *f, const double *x)
{
    double y = 0;

    for (int j = 0; j < f->terms; j++)
        y += f->beta[j] * x[j];
    return y;
}

double regress_error(const struct regress_fit *f, const double *x)
{
    double sum = 0;

    for (int j = 0; j < f->terms; j++)
        for (int k = 0; k < f->terms; k++)
            sum += x[j] * x[k] * f->cov[j][k];
    return sqrt(fmax(sum, 0));
}
