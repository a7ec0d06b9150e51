#include "base/text.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

/* Length of the valid UTF-8 sequence at s (at most len bytes), its code point in *cp; 0 if bad. */
static size_t utf8_decode(const unsigned char *s, size_t len, uint32_t *cp)
{
    static const uint32_t least[5] = {0, 0, 0x80, 0x800, 0x10000};
    size_t n = s[0] < 0x80 ? 1 : s[0] >= 0xF0 ? 4 : s[0] >= 0xE0 ? 3 : s[0] >= 0xC2 ? 2 : 0;
    if (n == 0 || n > len || s[0] > 0xF4)
        return 0;
    uint32_t c = n == 1 ? s[0] : s[0] & (0xFFu >> (n + 1));
    for (size_t i = 1; i < n; i++) {
        if ((s[i] & 0xC0) != 0x80)
            return 0;
        c = c << 6 | (s[i] & 0x3Fu);
    }
    if (c < least[n] || (c >= 0xD800 && c <= 0xDFFF) || c > 0x10FFFF)
        return 0;
    *cp = c;
    return n;
}

size_t text_utf8_next(const char *s, size_t len, uint32_t *cp)
{
    if (len == 0)
        return 0;
    size_t n = utf8_decode((const unsigned char *)s, len, cp);
    if (n == 0) {
        *cp = 0xFFFD;
        return 1;
    }
    return n;
}

size_t text_utf8_put(char dst[4], uint32_t cp)
{
    if (cp < 0x80) {
        dst[0] = (char)cp;
        return 1;
    }
    if (cp < 0x800) {
        dst[0] = (char)(0xC0 | cp >> 6);
        dst[1] = (char)(0x80 | (cp & 0x3F));
        return 2;
    }
    if (cp < 0x10000) {
        dst[0] = (char)(0xE0 | cp >> 12);
        dst[1] = (char)(0x80 | (cp >> 6 & 0x3F));
        dst[2] = (char)(0x80 | (cp & 0x3F));
        return 3;
    }
    dst[0] = (char)(0xF0 | (cp >> 18 & 7));
    dst[1] = (char)(0x80 | (cp >> 12 & 0x3F));
    dst[2] = (char)(0x80 | (cp >> 6 & 0x3F));
    dst[3] = (char)(0x80 | (cp & 0x3F));
    return 4;
}

bool text_copy(char *dst, size_t cap, const char *src)
{
    size_t len = strlen(src);
    if (len < cap) {
        memcpy(dst, src, len + 1);
        return true;
    }
    len = cap - 1;
    /* step back over a sequence that would be cut: its continuation bytes are 10xxxxxx */
    while (len > 0 && ((unsigned char)src[len] & 0xC0) == 0x80)
        len--;
    memcpy(dst, src, len);
    dst[len] = '\0';
    return false;
}

static bool format_at(char *dst, size_t cap, size_t used, const char *format, va_list args)
{
    int n = vsnprintf(dst + used, cap - used, format, args);
    if (n >= 0 && (size_t)n < cap - used)
        return true;
    size_t len = strlen(dst);
    size_t start = len; /* drop a sequence that was cut at the end */
    while (start > used && ((unsigned char)dst[start - 1] & 0xC0) == 0x80)
        start--;
    uint32_t cp;
    if (start > used && (unsigned char)dst[start - 1] >= 0xC0 &&
        utf8_decode((const unsigned char *)dst + start - 1, len - start + 1, &cp) == 0)
        dst[start - 1] = '\0';
    return false;
}

bool text_format(char *dst, size_t cap, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    bool fitted = format_at(dst, cap, 0, format, args);
    va_end(args);
    return fitted;
}

bool text_append(char *dst, size_t cap, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    bool fitted = format_at(dst, cap, strlen(dst), format, args);
    va_end(args);
    return fitted;
}

/* Code points that may reach a terminal: no C0 or C1 controls, no DEL, no bidi or joining
 * controls, no line separators, no byte order mark, no tags. */
static bool printable(uint32_t cp)
{
    if (cp < 0x20 || (cp >= 0x7F && cp < 0xA0) || cp == 0xAD)
        return false;
    if ((cp >= 0x200B && cp <= 0x200F) || (cp >= 0x2028 && cp <= 0x202E))
        return false;
    if ((cp >= 0x2060 && cp <= 0x206F) || cp == 0xFEFF || cp == 0x061C)
        return false;
    return !(cp >= 0xFFF0 && cp <= 0xFFFF) && !(cp >= 0xE0000 && cp <= 0xE0FFF);
}

void text_clean(char *dst, size_t cap, const void *src, size_t len)
{
    const unsigned char *s = src;
    size_t end = 0;
    while (end < len && s[end] != '\0')
        end++;
    while (end > 0 && (s[end - 1] == 0xFF || s[end - 1] == ' ' || s[end - 1] == '@'))
        end--;
    size_t used = 0;
    for (size_t i = 0; i < end;) {
        uint32_t cp = 0;
        size_t n = utf8_decode(s + i, end - i, &cp);
        bool good = n > 0 && printable(cp);
        size_t put = good ? n : 1;
        if (used + put >= cap)
            break;
        if (good)
            memcpy(dst + used, s + i, n);
        else
            dst[used] = '?';
        used += put;
        i += n > 0 ? n : 1;
    }
    while (used > 0 && (dst[used - 1] == ' ' || dst[used - 1] == '@'))
        used--;
    dst[used] = '\0';
}

static size_t put_digits(char *dst, uint64_t v, int least)
{
    char tmp[24];
    int n = 0;
    do {
        tmp[n++] = (char)('0' + v % 10);
        v /= 10;
    } while (v > 0 || n < least);
    for (int i = 0; i < n; i++)
        dst[i] = tmp[n - 1 - i];
    return (size_t)n;
}

size_t text_number(char *dst, size_t cap, double v, int decimals)
{
    static const double scale[10] = {1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9};
    if (cap > 0)
        dst[0] = '\0';
    if (!isfinite(v) || decimals < 0 || decimals > 9)
        return 0;
    bool negative = v < 0;
    double a = fabs(v);
    if (a >= 1e15)
        return 0;
    double whole = floor(a);
    uint64_t w = (uint64_t)whole;
    /* the fraction of a double is exact; only its product is rounded */
    uint64_t f = (uint64_t)floor((a - whole) * scale[decimals] + 0.5);
    if (f >= (uint64_t)scale[decimals]) {
        f = 0;
        w++;
    }
    char tmp[40];
    size_t n = 0;
    if (negative && (w > 0 || f > 0))
        tmp[n++] = '-';
    n += put_digits(tmp + n, w, 1);
    if (decimals > 0) {
        tmp[n++] = '.';
        n += put_digits(tmp + n, f, decimals);
    }
    if (n >= cap)
        return 0;
    memcpy(dst, tmp, n);
    dst[n] = '\0';
    return n;
}

static const char *skip_blanks(const char *s)
{
    while (*s == ' ' || *s == '\t')
        s++;
    return s;
}

/* Digits with at most one point into a mantissa and a power of ten; returns where they end. */
static const char *read_mantissa(const char *s, double *mantissa, int *power, int *digits)
{
    bool point = false;
    *mantissa = 0;
    *power = 0;
    *digits = 0;
    for (;; s++) {
        if (*s >= '0' && *s <= '9') {
            *mantissa = *mantissa * 10 + (*s - '0');
            ++*digits;
            if (point)
                --*power;
        } else if (*s == '.' && !point) {
            point = true;
        } else {
            return s;
        }
    }
}

/* Those that a double holds exactly: pow() gives the same, and takes as long as all the rest. */
static double power_of_ten(int n)
{
    static const double exact[] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                   1e8,  1e9,  1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
                                   1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};

    return n < (int)(sizeof exact / sizeof exact[0]) ? exact[n] : pow(10, n);
}

bool text_to_double(const char *s, double *out)
{
    double v;
    int power, digits, exponent = 0;
    s = skip_blanks(s);
    bool negative = *s == '-';
    if (*s == '-' || *s == '+')
        s++;
    s = read_mantissa(s, &v, &power, &digits);
    if (digits == 0 || digits > 300)
        return false;
    if (*s == 'e' || *s == 'E') {
        s++;
        bool down = *s == '-';
        if (*s == '-' || *s == '+')
            s++;
        if (*s < '0' || *s > '9')
            return false;
        for (; *s >= '0' && *s <= '9'; s++)
            if (exponent < 10000)
                exponent = exponent * 10 + (*s - '0');
        if (down)
            exponent = -exponent;
    }
    if (*skip_blanks(s) != '\0')
        return false;
    power += exponent;
    if (v != 0)
        v = power < 0 ? v / power_of_ten(-power) : v * power_of_ten(power);
    if (!isfinite(v))
        return false;
    *out = negative ? -v : v;
    return true;
}

bool text_to_long(const char *s, long low, long high, long *out)
{
    double v;
    const char *p = skip_blanks(s);
    if (*p == '-' || *p == '+')
        p++;
    for (; *p >= '0' && *p <= '9'; p++)
        ;
    if (*skip_blanks(p) != '\0' || !text_to_double(s, &v) || fabs(v) > 9e15)
        return false;
    long n = (long)v;
    if (n < low || n > high)
        return false;
    *out = n;
    return true;
}

int text_distance(const char *a, const char *b)
{
    enum { CAP = 48 };
    int row[CAP + 1];
    size_t la = strlen(a), lb = strlen(b);
    if (la > CAP || lb > CAP)
        return CAP;
    for (size_t j = 0; j <= lb; j++)
        row[j] = (int)j;
    for (size_t i = 1; i <= la; i++) {
        int diagonal = row[0];
        row[0] = (int)i;
        for (size_t j = 1; j <= lb; j++) {
            int above = row[j];
            int best = diagonal + (a[i - 1] != b[j - 1]);
            if (above + 1 < best)
                best = above + 1;
            if (row[j - 1] + 1 < best)
                best = row[j - 1] + 1;
            row[j] = best;
            diagonal = above;
        }
    }
    return row[lb];
}
