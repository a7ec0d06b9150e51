#include "config/baseline.h"

#include "base/text.h"
#include "base/when.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "base/banned.h"

#define FIRST_LINE "# stokehold baseline"
#define REACH      0.05    /* beyond the outermost figure, as a share of its speed */
#define SIZE_MAX_B 4194304 /* a baseline of all figures is a tenth of it */

bool baseline_add(struct baseline *b, const struct baseline_figure *f)
{
    if (b->count == BASELINE_FIGURES)
        return false;
    if ((b->count & (b->count - 1)) == 0) { /* doubles at each power of two */
        size_t cap = b->count ? 2 * b->count : 1;
        struct baseline_figure *more = realloc(b->figures, cap * sizeof *more);

        if (!more)
            return false;
        b->figures = more;
    }
    b->figures[b->count++] = *f;
    return true;
}

void baseline_free(struct baseline *b)
{
    free(b->figures);
    *b = (struct baseline){0};
}

/* The next word of *rest, cut off in place; NULL at the end. */
static char *word(char **rest)
{
    char *w = *rest + strspn(*rest, " \t\r");
    size_t n = strcspn(w, " \t\r");

    if (n == 0)
        return NULL;
    *rest = w + n;
    if (**rest)
        *(*rest)++ = '\0';
    return w;
}

static bool number(char **rest, double *out)
{
    char *w = word(rest);

    return w && text_to_double(w, out);
}

/* NULL where the line is a figure, otherwise what is wrong with it. */
static const char *read_line(char *line, struct baseline_figure *f)
{
    char *w = word(&line);
    struct moment when;

    *f = (struct baseline_figure){.sea_c = NAN};
    if (!w || !channel_id_parse(w, &f->id, NULL))
        return "begins with no channel key";
    if (!number(&line, &f->rpm) || f->rpm < 0 || !number(&line, &f->mean) ||
        !number(&line, &f->spread) || f->spread < 0 || !number(&line, &f->minutes))
        return "needs engine speed, mean, spread and minutes as numbers";
    w = word(&line);
    if (!w || (strcmp(w, "-") != 0 && !text_to_double(w, &f->sea_c)))
        return "needs the sea's temperature, or -";
    w = word(&line);
    if (!w || !when_parse(w, &when) || when.relative)
        return "needs a time such as 2026-05-04T14:00:00Z";
    f->wall_ns = when.ns;
    line += strspn(line, " \t");
    text_clean(f->log, sizeof f->log, line, strcspn(line, "\r"));
    return NULL;
}

static bool refuse(struct baseline *out, struct err *e, const char *name, size_t at,
                   const char *why)
{
    baseline_free(out);
    return err_set(e, "%s:%zu: the line %s", name, at, why);
}

bool baseline_parse(const char *text, size_t len, const char *name, struct baseline *out,
                    struct err *e)
{
    size_t at = 0;

    *out = (struct baseline){0};
    if (len < strlen(FIRST_LINE) || memcmp(text, FIRST_LINE, strlen(FIRST_LINE)) != 0)
        return err_set(e, "%s:1: no baseline: its first line would be '%s'", name, FIRST_LINE);
    while (len > 0) {
        const char *end = memchr(text, '\n', len);
        size_t n = end ? (size_t)(end - text) : len;
        char line[400];
        struct baseline_figure f;
        const char *wrong;

        at++;
        if (n >= sizeof line || memchr(text, '\0', n))
            return refuse(out, e, name, at, "is too long or no text");
        memcpy(line, text, n);
        line[n] = '\0';
        text += end ? n + 1 : n;
        len -= end ? n + 1 : n;
        if (line[strspn(line, " \t\r")] == '#' || line[strspn(line, " \t\r")] == '\0')
            continue;
        wrong = read_line(line, &f);
        if (wrong)
            return refuse(out, e, name, at, wrong);
        if (!baseline_add(out, &f))
            return refuse(out, e, name, at, "is one figure too many");
    }
    return true;
}

bool baseline_read(const char *path, struct baseline *out, struct err *e)
{
    FILE *in = fopen(path, "r");
    char *text = malloc(SIZE_MAX_B);
    size_t n = 0;
    bool good;

    *out = (struct baseline){0};
    if (in && text)
        n = fread(text, 1, SIZE_MAX_B, in);
    if (!in || !text || ferror(in))
        good = err_set(e, "cannot read '%s': %s", path, strerror(errno));
    else if (n == SIZE_MAX_B)
        good = err_set(e, "cannot read '%s': too large for a baseline", path);
    else
        good = baseline_parse(text, n, path, out, e);
    if (in)
        fclose(in);
    free(text);
    return good;
}

static void put(FILE *out, double v, int decimals)
{
    char digits[40];

    if (!isfinite(v) || text_number(digits, sizeof digits, v, decimals) == 0)
        text_copy(digits, sizeof digits, "-");
    fprintf(out, "  %s", digits);
}

void baseline_write(FILE *out, const struct baseline *b)
{
    fputs(FIRST_LINE "\n"
                     "# What was normal for this boat. A line may be taken out or corrected.\n"
                     "# Values in C, kPa, L/h, V and %; spread: how far readings went from the "
                     "mean;\n"
                     "# minutes: how long the step behind the figure lasted; sea: the water then, "
                     "- unknown.\n"
                     "# channel  rpm  mean  spread  minutes  sea  when  log\n",
          out);
    for (size_t i = 0; i < b->count; i++) {
        const struct baseline_figure *f = &b->figures[i];
        char key[CHANNEL_KEY_SIZE], when[40];
        time_t s = (time_t)(f->wall_ns / NS_PER_S);
        struct tm tm;

        channel_id_format(key, sizeof key, f->id);
        fputs(key, out);
        put(out, f->rpm, 0);
        put(out, f->mean, 2);
        put(out, f->spread, 2);
        put(out, f->minutes, 1);
        put(out, f->sea_c, 1);
        if (!gmtime_r(&s, &tm) || strftime(when, sizeof when, "%Y-%m-%dT%H:%M:%SZ", &tm) == 0)
            text_copy(when, sizeof when, "1970-01-01T00:00:00Z");
        fprintf(out, "  %s  %s\n", when, f->log);
    }
}

/* The figures of a channel just below and just above a speed; NULL where there is none. */
static void around(const struct baseline *b, struct channel_id id, double rpm,
                   const struct baseline_figure **below, const struct baseline_figure **above)
{
    *below = *above = NULL;
    for (size_t i = 0; i < b->count; i++) {
        const struct baseline_figure *f = &b->figures[i];

        if (!channel_id_same(f->id, id))
            continue;
        if (f->rpm <= rpm && (!*below || f->rpm > (*below)->rpm))
            *below = f;
        if (f->rpm >= rpm && (!*above || f->rpm < (*above)->rpm))
            *above = f;
    }
}

bool baseline_normal(const struct baseline *b, struct channel_id id, double rpm, double *mean,
                     double *spread, double *sea_c, int64_t *wall_ns)
{
    const struct baseline_figure *low, *high, *near;
    double part = 0;

    around(b, id, rpm, &low, &high);
    if (!low && !high)
        return false;
    if (!low || !high) {
        near = low ? low : high;
        if (fabs(near->rpm - rpm) > REACH * near->rpm)
            return false;
        low = high = near;
    }
    if (high->rpm > low->rpm)
        part = (rpm - low->rpm) / (high->rpm - low->rpm);
    near = part < 0.5 ? low : high;
    if (mean)
        *mean = low->mean + part * (high->mean - low->mean);
    if (spread)
        *spread = low->spread + part * (high->spread - low->spread);
    if (sea_c)
        *sea_c = near->sea_c;
    if (wall_ns)
        *wall_ns = near->wall_ns;
    return true;
}
