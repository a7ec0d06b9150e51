#include "base/curve.h"

#include "base/text.h"

#include <string.h>

#include "base/banned.h"

static bool read_pair(const char *text, size_t len, double *x, double *y)
{
    char pair[64];
    if (len >= sizeof pair)
        return false;
    memcpy(pair, text, len);
    pair[len] = '\0';
    char *colon = strchr(pair, ':');
    if (colon == NULL)
        return false;
    *colon = '\0';
    return text_to_double(pair, x) && text_to_double(colon + 1, y);
}

bool curve_parse(const char *text, struct curve *out, struct err *e)
{
    struct curve c = {.count = 0};
    for (const char *p = text;;) {
        size_t len = strcspn(p, ",");
        if (c.count == CURVE_POINTS)
            return err_set(e, "more than %d pairs", CURVE_POINTS);
        if (!read_pair(p, len, &c.x[c.count], &c.y[c.count]))
            return err_set(e, "pair %d is not IN:OUT, such as 0:0, 50:48.5, 100:96", c.count + 1);
        if (c.count > 0 && c.x[c.count] <= c.x[c.count - 1])
            return err_set(e, "the inputs must rise, and pair %d does not", c.count + 1);
        c.count++;
        if (p[len] == '\0')
            break;
        p += len + 1;
    }
    if (c.count < 2)
        return err_set(e, "needs at least two pairs");
    *out = c;
    return true;
}

static void format_number(char *dst, size_t cap, double v)
{
    if (text_number(dst, cap, v, 6) == 0) {
        text_copy(dst, cap, "0");
        return;
    }
    size_t n = strlen(dst);
    while (n > 0 && dst[n - 1] == '0')
        n--;
    if (n > 0 && dst[n - 1] == '.')
        n--;
    dst[n] = '\0';
}

bool curve_format(char *dst, size_t cap, const struct curve *c)
{
    bool fits = text_copy(dst, cap, "");
    for (int i = 0; i < c->count; i++) {
        char x[40], y[40];
        format_number(x, sizeof x, c->x[i]);
        format_number(y, sizeof y, c->y[i]);
        fits &= text_append(dst, cap, "%s%s:%s", i > 0 ? ", " : "", x, y);
    }
    return fits;
}

double curve_at(const struct curve *c, double x)
{
    if (c->count < 2)
        return x;
    int i = 1;
    while (i < c->count - 1 && x > c->x[i])
        i++;
    double part = (x - c->x[i - 1]) / (c->x[i] - c->x[i - 1]);
    return c->y[i - 1] + part * (c->y[i] - c->y[i - 1]);
}

bool curve_rises(const struct curve *c)
{
    for (int i = 1; i < c->count; i++) {
        if (c->y[i] < c->y[i - 1])
            return false;
    }
    return true;
}
