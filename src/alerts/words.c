#include "alerts/words.h"

#include "base/text.h"
#include "base/when.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

/* Quantities whose key does not read well in a sentence. */
static const char *quantity_words(enum quantity q)
{
    switch (q) {
    case QTY_RPM:
        return "SPEED";
    case QTY_OIL_TEMP:
        return "OIL TEMPERATURE";
    case QTY_GEAR_OIL_TEMP:
        return "GEAR OIL TEMPERATURE";
    case QTY_FUEL_TEMP:
        return "FUEL TEMPERATURE";
    case QTY_BATTERY_VOLTS:
    case QTY_BATTERY_AMPS:
        return "BATTERY";
    case QTY_SPACE_RISE:
        return "ENGINE SPACE OVER OUTSIDE";
    case QTY_BATTERY_TEMP:
        return "BATTERY TEMPERATURE";
    default:
        return NULL;
    }
}

/* Capitals for ASCII and for the two-byte letters of Latin-1; the rest stays as it is. */
static void raise_letters(char *s)
{
    for (; *s; s++) {
        unsigned char c = (unsigned char)*s, next = (unsigned char)s[1];
        if (c >= 'a' && c <= 'z') {
            *s = (char)(c - 'a' + 'A');
        } else if (c == 0xC3 && next >= 0xA0 && next <= 0xBE && next != 0xB7) {
            s[1] = (char)(next - 0x20);
            s++;
        } else if (*s == '-') {
            *s = ' ';
        }
    }
}

static void name_quantity(char *dst, size_t cap, const struct plant *p, const struct channel *c)
{
    enum quantity q = (enum quantity)c->id.quantity;
    const struct quantity_info *info = quantity_info(q);
    if (c->setting && c->setting->label[0]) {
        text_copy(dst, cap, c->setting->label);
        raise_letters(dst);
        return;
    }
    const char *special = quantity_words(q);
    text_copy(dst, cap, special ? special : info->key);
    raise_letters(dst);
    /* Of several tanks or batteries, which. */
    const char *number = c->engine < 0 ? plant_place(p, c) : "";
    if (info->place == PLACE_PAIR)
        text_append(dst, cap, " %d.%d", c->id.place, c->id.sub);
    else if (*number)
        text_append(dst, cap, " %s", number);
    else if (info->place == PLACE_INSTANCE && c->id.place > 0)
        text_append(dst, cap, " %d", c->id.place);
}

size_t words_subject(char *dst, size_t cap, const struct plant *p, const struct channel *c)
{
    const char *place = c->engine >= 0 ? plant_place(p, c) : "";
    text_copy(dst, cap, place);
    size_t n = strlen(dst);
    if (n > 0 && n + 1 < cap)
        dst[n++] = ' ';
    name_quantity(dst + n, cap - n, p, c);
    const char *at = c->second ? strchr(c->key, '@') : NULL;
    if (at)
        text_append(dst, cap, " %s", at);
    return strlen(dst);
}

size_t words_length(char *dst, size_t cap, double seconds)
{
    if (!isfinite(seconds) || seconds < 0)
        seconds = 0;
    if (seconds < 99.5)
        text_format(dst, cap, "%ld s", lround(seconds));
    else if (seconds < 99.5 * 60)
        text_format(dst, cap, "%ld min", lround(seconds / 60));
    else
        text_format(dst, cap, "%ld h", lround(fmin(seconds, 3.6e9) / 3600));
    return strlen(dst);
}

static enum unit chosen(const struct settings *s, enum unit base)
{
    return s ? settings_unit(s, base) : base;
}

size_t words_value(char *dst, size_t cap, const struct settings *s, enum quantity q, double value,
                   int more_decimals)
{
    const struct quantity_info *info = quantity_info(q);
    enum unit u = chosen(s, info->unit);
    int decimals = info->decimals + more_decimals + (u == UNIT_BAR ? 2 : 0);
    size_t n = text_number(dst, cap, unit_from_base(u, value), decimals);
    if (n == 0) {
        text_copy(dst, cap, "--");
        n = strlen(dst);
    }
    const char *unit = unit_text(u);
    if (*unit && n + 1 < cap) {
        dst[n++] = ' ';
        text_copy(dst + n, cap - n, unit);
        n += strlen(dst + n);
    }
    return n;
}

static void difference_text(char *dst, size_t cap, const struct settings *s, enum quantity q,
                            double value)
{
    enum unit u = chosen(s, quantity_info(q)->unit);
    char number[40];
    if (!text_number(number, sizeof number, unit_from_base_difference(u, value), 0))
        text_copy(number, sizeof number, "--");
    text_format(dst, cap, "%s %s", number, u == UNIT_C ? "K" : unit_text(u));
}

/* A figure stands in `more` as one byte: 1 for the first, and so on. Names were cleaned of such
 * bytes when they were read. */
#define MARKS "\x01\x02\x03\x04\x05\x06" WORDS_MORE_END
_Static_assert(sizeof MARKS == WORDS_FIGURES + 2, "a mark for each figure");

void words_add_figure(struct words *w, char *dst, size_t cap, enum quantity q, double value,
                      bool difference)
{
    if (w->figure_count == WORDS_FIGURES || strlen(dst) + 1 >= cap)
        return;
    w->figures[w->figure_count++] =
        (struct words_figure){.quantity = q, .difference = difference, .value = value};
    text_append(dst, cap, "%c", w->figure_count);
}

void words_add_clock(struct words *w, char *dst, size_t cap, int64_t wall_ns)
{
    if (w->figure_count == WORDS_FIGURES || strlen(dst) + 1 >= cap)
        return;
    w->figures[w->figure_count++] = (struct words_figure){.clock = true, .wall_ns = wall_ns};
    text_append(dst, cap, "%c", w->figure_count);
}

static void figure_text(char *dst, size_t cap, const struct words *w, const struct words_figure *f,
                        const struct settings *s)
{
    if (f->clock) {
        char clock[40];
        when_clock(clock, sizeof clock, f->wall_ns, w->utc);
        text_format(dst, cap, "%.5s", clock); /* to the minute */
    } else if (f->difference) {
        difference_text(dst, cap, s, f->quantity, f->value);
    } else {
        words_value(dst, cap, s, f->quantity, f->value, 0);
    }
}

static void add_more(char *dst, size_t cap, const struct words *w, const struct settings *s,
                     size_t length)
{
    for (size_t i = 0, plain; i < length; i += plain + 1) {
        plain = strcspn(w->more + i, MARKS);
        plain = plain < length - i ? plain : length - i;
        text_append(dst, cap, "%.*s", (int)plain, w->more + i);
        int mark = i + plain < length ? w->more[i + plain] : 0;
        if (mark < 1 || mark > w->figure_count)
            continue;
        char text[48];
        figure_text(text, sizeof text, w, &w->figures[mark - 1], s);
        text_append(dst, cap, "%s", text);
    }
}

static void add_rate(char *dst, size_t cap, const struct words *w, const struct settings *s)
{
    const struct quantity_info *info = quantity_info(w->quantity);
    if (!isfinite(w->rate_per_min) || fabs(w->rate_per_min) < info->steady_per_min)
        return;
    enum unit u = chosen(s, info->unit);
    double rate = fabs(unit_from_base_difference(u, w->rate_per_min));
    char number[40];
    int decimals = (rate < 9.95 ? 1 : 0) + (u == UNIT_BAR ? 1 : 0);
    if (!text_number(number, sizeof number, rate, decimals))
        return;
    text_append(dst, cap, " %s %s %s/min", w->rate_per_min > 0 ? "rising" : "falling", number,
                u == UNIT_C ? "K" : unit_text(u));
}

/* ", 93 °C in 20 s" or ", above 93 °C". A value that rounds to its limit gets a decimal more. */
/* On its way back, while the alert still stands, it is not above its limit any more. */
static bool is_beyond(const struct words *w)
{
    return w->side == WORDS_ABOVE ? w->value > w->limit
                                  : w->side == WORDS_BELOW && w->value < w->limit;
}

static void add_limit(char *dst, size_t cap, const struct words *w, const struct settings *s,
                      int more)
{
    if (!isfinite(w->limit))
        return;
    char limit[48];
    words_value(limit, sizeof limit, s, w->quantity, w->limit, more);
    if (w->side == WORDS_NO_LIMIT && isfinite(w->seconds)) {
        char length[32];
        words_length(length, sizeof length, w->seconds);
        text_append(dst, cap, ", %s in %s", limit, length);
    } else if (is_beyond(w)) {
        text_append(dst, cap, ", %s %s", w->side == WORDS_ABOVE ? "above" : "below", limit);
    }
}

/* with `length` bytes of w->more. */
static void build(char *dst, size_t cap, const struct words *w, const struct settings *s,
                  bool with_rate, bool with_limit, size_t length)
{
    text_copy(dst, cap, w->subject);
    int more = 0;
    if (isfinite(w->value)) {
        char value[48], limit[48];
        words_value(value, sizeof value, s, w->quantity, w->value, 0);
        if (with_limit && is_beyond(w)) {
            words_value(limit, sizeof limit, s, w->quantity, w->limit, 0);
            more = strcmp(value, limit) == 0;
        }
        if (more)
            words_value(value, sizeof value, s, w->quantity, w->value, more);
        text_append(dst, cap, " %s", value);
    }
    add_more(dst, cap, w, s, length);
    if (with_rate)
        add_rate(dst, cap, w, s);
    if (with_limit)
        add_limit(dst, cap, w, s, more);
    if (w->advice && w->advice[0])
        text_append(dst, cap, ": %s", w->advice);
}

void words_build(char *dst, size_t cap, const struct words *w, const struct settings *s,
                 int columns)
{
    size_t length = w->more ? strlen(w->more) : 0;
    build(dst, cap, w, s, true, true, length);
    if (text_width(dst) <= columns)
        return;
    build(dst, cap, w, s, true, false, length);
    if (text_width(dst) <= columns)
        return;
    build(dst, cap, w, s, false, false, length);
    while (text_width(dst) > columns) {
        while (length > 0 && w->more[length - 1] != WORDS_MORE_END[0])
            length--;
        if (length == 0)
            return;
        build(dst, cap, w, s, false, false, --length);
    }
}

void words_keep(struct words_kept *kept, const struct words *w)
{
    kept->words = *w;
    kept->words.more = kept->words.advice = NULL;
    text_copy(kept->more, sizeof kept->more, w->more ? w->more : "");
    text_copy(kept->advice, sizeof kept->advice, w->advice ? w->advice : "");
}

/* NaN, nothing to tell, is the same as itself. */
static bool same_figure(double a, double b)
{
    return a == b || (isnan(a) && isnan(b));
}

static bool same_figures(const struct words *a, const struct words *b)
{
    if (a->figure_count != b->figure_count)
        return false;
    for (int i = 0; i < a->figure_count; i++) {
        const struct words_figure *x = &a->figures[i], *y = &b->figures[i];
        if (x->quantity != y->quantity || x->difference != y->difference || x->clock != y->clock ||
            !same_figure(x->value, y->value) || x->wall_ns != y->wall_ns)
            return false;
    }
    return true;
}

bool words_same(const struct words_kept *a, const struct words_kept *b)
{
    const struct words *x = &a->words, *y = &b->words;
    return same_figure(x->value, y->value) && same_figure(x->rate_per_min, y->rate_per_min) &&
           same_figure(x->seconds, y->seconds) && same_figure(x->limit, y->limit) &&
           x->side == y->side && x->quantity == y->quantity && same_figures(x, y) &&
           strcmp(x->subject, y->subject) == 0 && strcmp(a->more, b->more) == 0 &&
           strcmp(a->advice, b->advice) == 0;
}

void words_build_kept(char *dst, size_t cap, const struct words_kept *kept,
                      const struct settings *s, int columns)
{
    struct words w = kept->words;
    w.more = kept->more;
    w.advice = kept->advice;
    words_build(dst, cap, &w, s, columns);
}

void words_build_what(char *dst, size_t cap, const struct words_kept *kept,
                      const struct settings *s)
{
    struct words w = kept->words;
    w.more = kept->more;
    build(dst, cap, &w, s, true, true, strlen(kept->more));
}

void words_build_over(char *dst, size_t cap, const struct words_kept *kept,
                      const struct settings *s, const char *phrase, double value,
                      const char *advice)
{
    char text[48] = "";
    size_t plain = strcspn(phrase, WORDS_VALUE);
    if (!isfinite(value))
        value = kept->words.value;
    if (phrase[plain])
        words_value(text, sizeof text, s, kept->words.quantity, value, 0);
    text_format(dst, cap, "%s%s%.*s%s%s", kept->words.subject, phrase[0] ? " " : "", (int)plain,
                phrase, text, phrase[plain] ? phrase + plain + 1 : "");
    if (advice[0])
        text_append(dst, cap, ": %s", advice);
}
