/* The sign-off list as a file: read with the line that is wrong named, added to at its end. */
#include "report/signoff/signoff.h"

#include "base/text.h"
#include "base/units.h"
#include "report/papers/lines.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "base/banned.h"

#define FIGURE_MOST 1e9 /* no sensor reads as much, and what is read can be written again */

/* A difference such as tolerance and error: "1.5 K", "2 %", a bare number. */
static bool parse_difference(const char *s, enum unit base, double *out)
{
    char number[40], *end;
    text_copy(number, sizeof number, s);
    end = strchr(number, ' ');
    if (end != NULL)
        *end = '\0';
    if (!text_to_double(number, out))
        return false;
    const char *unit = end != NULL ? lines_trim(end + 1) : "";
    enum unit u;
    return unit[0] == '\0' || (base == UNIT_C && strcmp(unit, "K") == 0) ||
           (unit_parse(unit, &u) && u == base);
}

static bool take_words(struct signoff_entry *x, const char *key, const char *value)
{
    if (strcmp(key, "check") == 0)
        return signoff_check_parse(value, &x->check);
    if (strcmp(key, "verdict") == 0) {
        for (int i = 0; i <= SIGNOFF_NOTED; i++)
            if (strcmp(value, signoff_verdict_text((enum signoff_verdict)i)) == 0) {
                x->verdict = (enum signoff_verdict)i;
                return true;
            }
        return false;
    }
    if (strcmp(key, "by") == 0)
        text_clean(x->by, sizeof x->by, value, strlen(value));
    else
        text_clean(x->note, sizeof x->note, value, strlen(value));
    return true;
}

/* One `key = value` of the section; NULL, or what is wrong. */
static const char *take_pair(struct signoff_entry *x, const char *key, const char *value)
{
    enum unit base = quantity_info((enum quantity)x->id.quantity)->unit;
    bool good;
    if (strcmp(key, "reference") == 0)
        good = x->has_reference = unit_parse_value(value, base, &x->reference);
    else if (strcmp(key, "reading") == 0)
        good = unit_parse_value(value, base, &x->reading);
    else if (strcmp(key, "tolerance") == 0)
        good = x->has_tolerance = parse_difference(value, base, &x->tolerance);
    else if (strcmp(key, "error") == 0)
        good = parse_difference(value, base, &x->error);
    else if (strcmp(key, "moved") == 0)
        good = parse_difference(value, base, &x->moved);
    else if (strcmp(key, "name") == 0) {
        char *end;
        x->name = strtoull(value, &end, 16);
        good = *end == '\0' && x->name != 0;
    } else if (strcmp(key, "serial") == 0) {
        text_clean(x->serial, sizeof x->serial, value, strlen(value));
        good = true;
    } else if (strcmp(key, "correction") == 0) {
        char gain[40];
        const char *blank = strchr(value, ' ');
        text_format(gain, sizeof gain, "%.*s", blank ? (int)(blank - value) : 0, value);
        good = x->has_correction = blank != NULL && text_to_double(gain, &x->gain) &&
                                   text_to_double(blank + 1, &x->offset);
    } else if (strcmp(key, "at") == 0) {
        struct moment m = {0};
        good = when_parse(value, &m) && !m.relative;
        x->at_ns = m.ns;
    } else if (strcmp(key, "check") == 0 || strcmp(key, "verdict") == 0 || strcmp(key, "by") == 0 ||
               strcmp(key, "note") == 0)
        good = take_words(x, key, value);
    else
        return "unknown key";
    const double figures[] = {x->reference, x->reading, x->tolerance, x->error,
                              x->moved,     x->gain,    x->offset};
    for (size_t i = 0; i < sizeof figures / sizeof figures[0]; i++)
        good = good && fabs(figures[i]) < FIGURE_MOST;
    return good ? NULL : "bad value";
}

static const char *take_line(void *ctx, char *text)
{
    struct signoff *s = ctx;
    if (text[0] == ';')
        return NULL;
    if (text[0] == '[') {
        char *end = strchr(text, ']');
        struct channel_id id;
        if (end == NULL || end[1] != '\0')
            return "no ']' at the end";
        *end = '\0';
        if (!channel_id_parse(text + 1, &id, NULL))
            return "no channel of that name";
        if (s->count == SIGNOFF_ENTRIES)
            return "too many entries";
        s->entries[s->count++] = (struct signoff_entry){.id = id, .verdict = SIGNOFF_NOTED};
        return NULL;
    }
    char *equals = strchr(text, '=');
    if (equals == NULL)
        return "neither [channel] nor key = value";
    if (s->count == 0)
        return "a value before the first [channel]";
    *equals = '\0';
    return take_pair(&s->entries[s->count - 1], lines_trim(text), lines_trim(equals + 1));
}

static const struct lines_kind file = {
    .name = "sign-off",
    .version = 1,
    .about = "# Sign-off list of an engine-room installation. Each section is one confirmation;\n"
             "# it is only added to, and may be edited. `stokehold muster --sign-off FILE SOURCE`\n"
             "# shows it with what is still open.\n",
    .may_lack = true,
    .take = take_line};

struct signoff *signoff_read(const char *path, struct err *e)
{
    struct signoff *s = calloc(1, sizeof *s);
    if (s != NULL)
        s->entries = calloc(SIGNOFF_ENTRIES, sizeof *s->entries);
    if (s == NULL || s->entries == NULL) {
        signoff_free(s);
        err_set(e, "out of memory");
        return NULL;
    }
    if (lines_read(path, &file, s, e))
        return s;
    signoff_free(s);
    return NULL;
}

void signoff_free(struct signoff *s)
{
    if (s == NULL)
        return;
    free(s->entries);
    free(s);
}

static void write_number(FILE *f, const char *key, double v, const char *unit)
{
    char text[40];
    text_number(text, sizeof text, v, 2);
    fprintf(f, "%s = %s%s%s\n", key, text, unit[0] != '\0' ? " " : "", unit);
}

static void write_entry(FILE *f, const void *ctx)
{
    const struct signoff_entry *x = ctx;
    enum unit base = quantity_info((enum quantity)x->id.quantity)->unit;
    const char *unit = unit_ascii(base), *difference = base == UNIT_C ? "K" : unit;
    char key[CHANNEL_KEY_SIZE], when[40];
    channel_id_format(key, sizeof key, x->id);
    fprintf(f, "\n[%s]\ncheck = %s\n", key, signoff_check_text(x->check));
    if (x->has_reference)
        write_number(f, "reference", x->reference, unit);
    write_number(f, "reading", x->reading, unit);
    if (x->has_tolerance)
        write_number(f, "tolerance", x->tolerance, difference);
    if (x->has_reference)
        write_number(f, "error", x->error, difference);
    if (x->check == SIGNOFF_WARMED)
        write_number(f, "moved", x->moved, difference);
    time_t seconds = (time_t)(x->at_ns / NS_PER_S);
    struct tm tm;
    gmtime_r(&seconds, &tm);
    strftime(when, sizeof when, "%Y-%m-%dT%H:%M:%SZ", &tm);
    fprintf(f, "verdict = %s\nby = %s\nat = %s\n", signoff_verdict_text(x->verdict), x->by, when);
    if (x->name != 0)
        fprintf(f, "name = %016llX\n", (unsigned long long)x->name);
    if (x->serial[0] != '\0')
        fprintf(f, "serial = %s\n", x->serial);
    if (x->has_correction) {
        char gain[40], offset[40];
        text_number(gain, sizeof gain, x->gain, 6);
        text_number(offset, sizeof offset, x->offset, 4);
        fprintf(f, "correction = %s %s\n", gain, offset);
    }
    if (x->note[0] != '\0')
        fprintf(f, "note = %s\n", x->note);
}

bool signoff_append(const char *path, const struct signoff_entry *entry, struct err *e)
{
    return lines_append(path, &file, write_entry, entry, e);
}
