/* The season as text. One trip a paragraph, one line a step and channel, columns apart by blanks:
 *
 *   # stokehold season 1
 *   trip 2026-05-04T14:02:10Z 2026-05-04T17:31:00Z trip.log
 *   # channel  rpm  load  sea  air  mean  spread  minutes  when
 *   exhaust.1  2184  load:62  16.0  19.0  34.41  0.30  5.6  2026-05-04T14:59:48Z
 *   battery-volts.0  300  rest-volts:12.62  -  18.0  10.41  0.00  0.0  2026-05-04T14:02:08Z
 *   mark 2026-06-12T08:00:00Z exhaust.1 impeller changed
 *
 * A battery's mean is the lowest it read while its engine was started, its air its own temperature
 * where that is known. `-` stands for what is not known; a mark that concerns everything has `*`
 * for the channel. */
#include "season/season.h"

#include "base/text.h"
#include "base/when.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <time.h>
#include <unistd.h>

#include "base/banned.h"

#define FIRST_LINE    "# stokehold season 1"
#define BASELINE_LINE "# stokehold baseline" /* what earlier versions wrote: a trip a log */
#define LINE_MOST     400
#define SIZE_MOST     (INT64_C(16) << 20) /* a full season has 2 MB */

static const char *const load_words[SEASON_LOADS] = {
    [SEASON_LOAD_NONE] = "-",
    [SEASON_LOAD_PERCENT] = "load",
    [SEASON_LOAD_TORQUE] = "torque",
    [SEASON_LOAD_FUEL_RATE] = "fuel-rate",
    [SEASON_LOAD_BOOST] = "boost",
    [SEASON_LOAD_OIL_TEMP] = "oil-temp",
    [SEASON_LOAD_REST_VOLTS] = "rest-volts",
};

/* ---- reading ---- */

struct reader {
    struct season *out;
    struct season_trip trip;
    struct season_step *steps;
    int count;
    bool in_trip, baseline;
};

static bool is_blank(char c)
{
    return c == ' ' || c == '\t' || c == '\r';
}

/* The next word of *rest, cut off in place; NULL at the end. Ten to a line: words are shorter than
 * what it takes strcspn to begin. */
static char *word(char **rest)
{
    char *w = *rest, *end;

    while (is_blank(*w))
        w++;
    for (end = w; *end && !is_blank(*end);)
        end++;
    if (end == w)
        return NULL;
    *rest = end;
    if (*end)
        *(*rest)++ = '\0';
    return w;
}

/* No figure of an engine is larger, and none that is could be written back as it was read. */
#define LARGEST 1e9

static bool figure(const char *w, double *out)
{
    return text_to_double(w, out) && fabs(*out) <= LARGEST;
}

static bool number(char **rest, double *out)
{
    char *w = word(rest);

    return w && figure(w, out);
}

/* A number, or `-` for what is not known. */
static bool maybe(char **rest, double *out)
{
    char *w = word(rest);

    *out = NAN;
    return w && (strcmp(w, "-") == 0 || figure(w, out));
}

static bool moment(char **rest, int64_t *ns)
{
    char *w = word(rest);
    struct moment m;

    if (!w || !when_parse(w, &m) || m.relative)
        return false;
    *ns = m.ns;
    return true;
}

static void rest_of_line(char *dst, size_t cap, char *rest)
{
    rest += strspn(rest, " \t");
    text_clean(dst, cap, rest, strcspn(rest, "\r"));
}

static bool load(char **rest, struct season_step *step)
{
    char *w = word(rest), *colon;

    step->load = NAN;
    step->load_kind = SEASON_LOAD_NONE;
    if (!w)
        return false;
    if (strcmp(w, "-") == 0)
        return true;
    colon = strchr(w, ':');
    if (!colon || !figure(colon + 1, &step->load))
        return false;
    *colon = '\0';
    for (int k = SEASON_LOAD_PERCENT; k < SEASON_LOADS; k++)
        if (strcmp(w, load_words[k]) == 0)
            step->load_kind = (enum season_load)k;
    return step->load_kind != SEASON_LOAD_NONE;
}

static const char *close_trip(struct reader *r)
{
    int overlaps;

    if (!r->in_trip)
        return NULL;
    if (season_add(r->out, &r->trip, r->steps, r->count, &overlaps))
        return NULL;
    return r->out->starved ? "finds no memory"
           : overlaps >= 0 ? "ends a trip that overlaps one above"
                           : "is one too many";
}

static const char *read_trip(struct reader *r, char *line)
{
    const char *wrong = close_trip(r);

    r->count = 0;
    if (wrong)
        return wrong;
    if (!moment(&line, &r->trip.from_ns) || !moment(&line, &r->trip.to_ns) ||
        r->trip.to_ns < r->trip.from_ns)
        return "needs two times, such as trip 2026-05-04T14:02:10Z 2026-05-04T17:31:00Z";
    rest_of_line(r->trip.log, sizeof r->trip.log, line);
    r->in_trip = true;
    return NULL;
}

static const char *read_mark(struct reader *r, char *line)
{
    struct season_mark m = {0};
    char *w;

    if (!moment(&line, &m.wall_ns))
        return "needs a time, such as mark 2026-06-12T08:00:00Z";
    w = word(&line);
    m.all = w && strcmp(w, "*") == 0;
    if (!w || (!m.all && !channel_id_parse(w, &m.concerns, NULL)))
        return "needs the channel it concerns after its time, or * for all";
    rest_of_line(m.words, sizeof m.words, line);
    return season_mark(r->out, &m) ? NULL : "is one mark too many";
}

/* Figures of a baseline come without trips: those less than four hours apart are one. */
static const char *join_baseline(struct reader *r, const struct season_step *step, const char *log)
{
    if (r->in_trip && step->wall_ns < r->trip.to_ns + SEASON_APART_NS &&
        step->wall_ns > r->trip.from_ns - SEASON_APART_NS) {
        if (step->wall_ns < r->trip.from_ns)
            r->trip.from_ns = step->wall_ns;
    } else {
        const char *wrong = close_trip(r);
        if (wrong)
            return wrong;
        r->count = 0;
        r->in_trip = true;
        r->trip = (struct season_trip){.from_ns = step->wall_ns, .to_ns = step->wall_ns};
        text_copy(r->trip.log, sizeof r->trip.log, log);
    }
    int64_t end = step->wall_ns + (int64_t)(step->minutes * 60e9);
    if (end > r->trip.to_ns)
        r->trip.to_ns = end;
    return NULL;
}

static const char *read_step(struct reader *r, char *line)
{
    struct season_step step = {.sea_c = NAN, .air_c = NAN, .load = NAN};
    char log[80] = "";
    char *w = word(&line);

    if (!w || !channel_id_parse(w, &step.id, NULL))
        return "begins with neither 'trip', 'mark' nor a channel key";
    if (!number(&line, &step.rpm) || step.rpm < 0)
        return "needs the engine speed after its channel";
    if (r->baseline) {
        if (!number(&line, &step.mean) || !number(&line, &step.spread) || step.spread < 0 ||
            !number(&line, &step.minutes) || !maybe(&line, &step.sea_c))
            return "needs mean, spread, minutes and the sea's temperature (or -)";
    } else if (!load(&line, &step) || !maybe(&line, &step.sea_c) || !maybe(&line, &step.air_c) ||
               !number(&line, &step.mean) || !number(&line, &step.spread) || step.spread < 0 ||
               !number(&line, &step.minutes)) {
        return "needs load (load:62 or -), sea, air, mean, spread and minutes";
    }
    if (step.minutes < 0 || step.minutes > 100000 || !moment(&line, &step.wall_ns))
        return "needs a time such as 2026-05-04T14:00:00Z";
    if (r->baseline) {
        rest_of_line(log, sizeof log, line);
        const char *wrong = join_baseline(r, &step, log);
        if (wrong)
            return wrong;
    }
    if (!r->in_trip)
        return "stands before the first 'trip'";
    if (r->count == SEASON_STEPS)
        return "is one step too many";
    r->steps[r->count++] = step;
    return NULL;
}

static const char *read_line(struct reader *r, char *line)
{
    char *rest = line, *w = word(&rest);

    if (!w)
        return NULL;
    if (strcmp(w, "trip") == 0)
        return read_trip(r, rest);
    if (strcmp(w, "mark") == 0)
        return read_mark(r, rest);
    if (*rest)
        rest[-1] = ' '; /* the channel is read again with its line */
    return read_step(r, w);
}

static bool starts(const char *text, size_t len, const char *with)
{
    return len >= strlen(with) && memcmp(text, with, strlen(with)) == 0;
}

static const char *read_lines(struct reader *r, const char *text, size_t len, size_t *at)
{
    while (len > 0) {
        const char *end = memchr(text, '\n', len), *wrong;
        size_t n = end ? (size_t)(end - text) : len, blank;
        char line[LINE_MOST];

        ++*at;
        if (n >= sizeof line || memchr(text, '\0', n))
            return "is too long, or no text";
        memcpy(line, text, n);
        line[n] = '\0';
        text += end ? n + 1 : n;
        len -= end ? n + 1 : n;
        blank = strspn(line, " \t\r");
        wrong = line[blank] == '#' ? NULL : read_line(r, line);
        if (wrong)
            return wrong;
    }
    return close_trip(r);
}

bool season_parse(const char *text, size_t len, const char *name, struct season *out, struct err *e)
{
    struct reader r = {.out = out, .baseline = starts(text, len, BASELINE_LINE)};
    size_t at = 0;
    const char *wrong;

    *out = (struct season){0};
    if (!r.baseline && !starts(text, len, FIRST_LINE))
        return err_set(e, "%s:1: not a season of this version: its first line would be '%s'", name,
                       FIRST_LINE);
    r.steps = malloc(SEASON_STEPS * sizeof *r.steps);
    if (!r.steps)
        return err_set(e, "%s: out of memory", name);
    wrong = read_lines(&r, text, len, &at);
    free(r.steps);
    if (!wrong)
        return true;
    season_free(out);
    return err_set(e, "%s:%zu: the line %s", name, at, wrong);
}

bool season_read(const char *path, bool may_miss, struct season *out, struct err *e)
{
    int fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    FILE *in = fd >= 0 ? fdopen(fd, "r") : NULL;
    char *text = NULL;
    size_t n = 0;
    bool good;

    *out = (struct season){0};
    if (fd < 0)
        return (may_miss && errno == ENOENT) ||
               err_set(e,
                       errno == ENOENT ? "cannot read '%s': %s; --learn begins one"
                                       : "cannot read '%s': %s",
                       path, strerror(errno));
    text = malloc(SIZE_MOST);
    if (in && text)
        n = fread(text, 1, SIZE_MOST, in);
    if (!in || !text || ferror(in))
        good = err_set(e, "cannot read '%s': %s", path, strerror(errno));
    else if (n == SIZE_MOST)
        good = err_set(e, "cannot read '%s': too large for a season", path);
    else if (n == 0 && may_miss)
        good = true;
    else
        good = season_parse(text, n, path, out, e);
    if (in)
        fclose(in);
    else
        close(fd);
    free(text);
    return good;
}

/* ---- writing ---- */

static void put(FILE *out, double v, int decimals)
{
    char digits[40];

    if (!isfinite(v) || text_number(digits, sizeof digits, v, decimals) == 0)
        text_copy(digits, sizeof digits, "-");
    fprintf(out, "  %s", digits);
}

static void put_when(FILE *out, int64_t ns)
{
    time_t s = (time_t)(ns / NS_PER_S);
    char when[40];
    struct tm tm;

    if (!gmtime_r(&s, &tm) || strftime(when, sizeof when, "%Y-%m-%dT%H:%M:%SZ", &tm) == 0)
        text_copy(when, sizeof when, "1970-01-01T00:00:00Z");
    fprintf(out, "  %s", when);
}

static void put_mark(FILE *out, const struct season_mark *m)
{
    char key[CHANNEL_KEY_SIZE] = "*";

    if (!m->all)
        channel_id_format(key, sizeof key, m->concerns);
    fputs("mark", out);
    put_when(out, m->wall_ns);
    fprintf(out, "  %s  %s\n", key, m->words);
}

static void put_step(FILE *out, const struct season_step *f)
{
    char key[CHANNEL_KEY_SIZE], digits[40];

    channel_id_format(key, sizeof key, f->id);
    fputs(key, out);
    put(out, f->rpm, 0);
    if (f->load_kind != SEASON_LOAD_NONE &&
        text_number(digits, sizeof digits, f->load,
                    f->load_kind == SEASON_LOAD_REST_VOLTS ? 2 : 1) > 0)
        fprintf(out, "  %s:%s", load_words[f->load_kind], digits);
    else
        fputs("  -", out);
    put(out, f->sea_c, 1);
    put(out, f->air_c, 1);
    put(out, f->mean, 2);
    put(out, f->spread, 2);
    put(out, f->minutes, 1);
    put_when(out, f->wall_ns);
    fputc('\n', out);
}

void season_write(FILE *out, const struct season *s)
{
    int step = 0;

    fputs(FIRST_LINE
          "\n"
          "# What was normal on this boat's trips. Lines may be corrected or taken out.\n"
          "# Values in C, kPa, L/h, V and %; spread: how far readings went from the "
          "mean;\n"
          "# minutes: how long the engine held the speed; - for what is not known.\n"
          "# channel  rpm  load  sea  air  mean  spread  minutes  when\n",
          out);
    for (int i = 0; i < s->mark_count; i++)
        put_mark(out, &s->marks[i]);
    for (int t = 0; t < s->trip_count; t++) {
        fputs("trip", out);
        put_when(out, s->trips[t].from_ns);
        put_when(out, s->trips[t].to_ns);
        fprintf(out, "  %s\n", s->trips[t].log);
        for (; step < s->step_count && s->steps[step].trip == t; step++)
            put_step(out, &s->steps[step]);
    }
}

/* ---- changing the file ---- */

static bool write_beside(const char *path, const struct season *s, struct err *e)
{
    char beside[4096];
    FILE *out;
    int wrong = 0;

    if (!text_format(beside, sizeof beside, "%s.new", path))
        return err_set(e, "cannot write '%s': its name is too long", path);
    out = fopen(beside, "w");
    if (!out)
        return err_set(e, "cannot write '%s': %s", beside, strerror(errno));
    season_write(out, s);
    if (fflush(out) != 0 || ferror(out) || fsync(fileno(out)) != 0)
        wrong = errno;
    if (fclose(out) != 0 && !wrong)
        wrong = errno;
    if (!wrong && rename(beside, path) != 0)
        wrong = errno;
    if (!wrong)
        return true;
    err_set(e, "cannot write '%s': %s", path, strerror(wrong));
    unlink(beside);
    return false;
}

/* A file that is reached by a link stays where it is. */
static bool real_path(const char *path, char *dst, size_t cap, struct err *e)
{
    char *real = realpath(path, NULL);
    bool fits = text_copy(dst, cap, real ? real : path);

    free(real);
    return fits || err_set(e, "cannot write '%s': its name is too long", path);
}

bool season_update(const char *path, bool (*change)(struct season *s, void *ctx), void *ctx,
                   struct season *after, struct err *e)
{
    char real[4096], lock[4096];
    struct season s = {0};
    bool good;
    int fd;

    if (after)
        *after = (struct season){0};
    if (!real_path(path, real, sizeof real, e))
        return false;
    if (!text_format(lock, sizeof lock, "%s.lock", real))
        return err_set(e, "cannot write '%s': its name is too long", path);
    fd = open(lock, O_RDWR | O_CREAT | O_CLOEXEC, 0644);
    if (fd < 0)
        return err_set(e, "cannot write '%s' (nor its lock): %s", path, strerror(errno));
    if (flock(fd, LOCK_EX) != 0) {
        err_set(e, "cannot lock '%s': %s", lock, strerror(errno));
        close(fd);
        return false;
    }
    good = season_read(path, true, &s, e);
    bool changed = good && change(&s, ctx);
    if (s.starved) { /* half of a change is none */
        good = err_set(e, "cannot write '%s': out of memory", path);
    } else if (changed) {
        season_thin(&s);
        good = write_beside(real, &s, e);
    }
    if (after && good)
        *after = s;
    else
        season_free(&s);
    close(fd);
    return good;
}
