#include "report/season/report.h"

#include "base/json.h"
#include "base/text.h"
#include "base/when.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

/* A file's name, clean for a terminal and quoted for a shell; FILE where it cannot be both. */
static const char *shell_name(char *dst, size_t cap, const char *file)
{
    char clean[400];

    text_clean(clean, sizeof clean, file, strlen(file));
    if (strcmp(clean, file) != 0 || strchr(file, '\'') || !text_format(dst, cap, "'%s'", file))
        text_copy(dst, cap, "FILE");
    return dst;
}

/* The channels of which nothing is to be said, as many to a line as it holds. */
static void write_quiet(FILE *out, const struct season_report *r)
{
    int column = 0;

    for (int i = 0; i < r->count; i++) {
        const struct season_line *l = &r->lines[i];
        int length = (int)strlen(l->name) + 2;
        if (!l->told || l->story.level != SEASON_QUIET)
            continue;
        if (column == 0)
            fputs("\nNothing to say of\n  ", out);
        else
            fputs(column + length > 78 ? ",\n  " : ", ", out);
        column = column == 0 || column + length > 78 ? length : column + length;
        fputs(l->name, out);
    }
    if (column > 0)
        fputc('\n', out);
}

/* What stands out first, then how each channel went. */
static void write_findings(FILE *out, const struct season_report *r)
{
    const struct season_line *first = NULL;
    char name[410];
    int said = 0;

    for (int level = SEASON_WARNING; level > SEASON_QUIET; level--)
        for (int i = 0; i < r->count; i++) {
            const struct season_line *l = &r->lines[i];
            if (!l->told || (int)l->story.level != level)
                continue;
            fprintf(out, "%s  %s %s:\n          %s\n",
                    level == SEASON_WARNING   ? "WARNING "
                    : level == SEASON_CAUTION ? "caution "
                                              : "question",
                    l->name, l->verdict, l->advice);
            first = first ? first : l;
            said++;
        }
    if (said == 0) {
        fprintf(out, "%s\n", season_quiet(r));
        return;
    }
    fprintf(out,
            "\nOnce work was done, note it; what it concerns begins a new reference:\n"
            "  stokehold season --mark 'what was done' --concerns %s %s\n",
            first->key, shell_name(name, sizeof name, r->file));
    write_quiet(out, r);
}

static void write_line(FILE *out, const struct season_report *r, const struct season_story *story,
                       int i, bool utc)
{
    const struct season_excess *e = &story->trip[i];
    char day[40], size[40] = "", error[40] = "", rpm[24] = "";

    season_day(day, sizeof day, season_trip_ns(r, e), utc);
    if (e->known) {
        season_size(size, sizeof size, r, story->row, e->excess, true);
        season_size(error, sizeof error, r, story->row, e->error, false);
        if (season_kept[story->row].start)
            text_copy(rpm, sizeof rpm, "start");
        else
            text_number(rpm, sizeof rpm, e->rpm, 0);
    }
    fprintf(out, "  %s  %5s  %9s %s%-8s  %s\n", day, rpm, size, e->known ? "± " : "  ", error,
            season_meaning(story, i));
}

/* How it stood before work was done, each time against the first trips of that time. */
static int write_eras(FILE *out, const struct season_report *r, int line, bool utc)
{
    int written = 0;

    for (int k = 0; k < r->era_count; k++) {
        const struct season_era *era = &r->eras[k];
        char day[40];
        if (era->line != line)
            continue;
        season_day(day, sizeof day, r->season->marks[era->mark].wall_ns, utc);
        fprintf(out, "  before %s, %s: against the first trips of that time\n", day,
                r->season->marks[era->mark].words);
        for (int i = 0; i < era->story.trips; i++)
            write_line(out, r, &era->story, i, utc);
        written++;
    }
    return written;
}

static void write_channel(FILE *out, const struct season_report *r, int line, bool utc)
{
    const struct season_line *l = &r->lines[line];
    fprintf(out, "\n%s (%s)%s: %s\n", l->name, l->key, season_over(l), l->verdict);
    if (l->told || r->era_count > 0)
        fputs("  trip          rpm     excess             meaning\n", out);
    if (write_eras(out, r, line, utc) > 0 && l->told)
        fputs("  since then\n", out);
    for (int i = 0; l->told && i < l->story.trips; i++)
        write_line(out, r, &l->story, i, utc);
}

static void write_marks(FILE *out, const struct season_report *r, bool utc)
{
    for (int i = 0; i < r->season->mark_count; i++) {
        const struct season_mark *m = &r->season->marks[i];
        char day[40], key[CHANNEL_KEY_SIZE] = "everything";
        season_day(day, sizeof day, m->wall_ns, utc);
        if (!m->all)
            channel_id_format(key, sizeof key, m->concerns);
        fprintf(out, "%s%s  %s (%s)\n", i == 0 ? "\nWork done\n  " : "  ", day, m->words, key);
    }
}

void season_report_text(FILE *out, const struct season_report *r, bool utc)
{
    const struct season *s = r->season;
    char from[40], to[40], name[400];

    if (s->trip_count == 0) {
        text_clean(name, sizeof name, r->file, strlen(r->file));
        fprintf(out, "%s holds no trip yet.\n", name);
        return;
    }
    season_day(from, sizeof from, s->trips[0].from_ns, utc);
    season_day(to, sizeof to, s->trips[s->trip_count - 1].from_ns, utc);
    fprintf(out, "%s%s%d trip%s, %s to %s\n\n", r->settings->vessel,
            r->settings->vessel[0] ? ": " : "", s->trip_count, s->trip_count == 1 ? "" : "s", from,
            to);
    write_findings(out, r);
    fputs("\nTrip by trip. Excess: how far the channel stood from the first trips at like speed,\n"
          "load and sea, brought to two thirds of the highest speed; ± one standard error.\n",
          out);
    for (int quiet = 0; quiet < 2; quiet++)
        for (int i = 0; i < r->count; i++)
            if ((!r->lines[i].told || r->lines[i].story.level == SEASON_QUIET) == quiet)
                write_channel(out, r, i, utc);
    write_marks(out, r, utc);
    fputs("\nThis compares; it does not inspect. It never replaces a look at the engine or the\n"
          "engine maker's own intervals.\n",
          out);
}

static void number_or_null(struct json *j, const char *key, double v, int decimals)
{
    if (isfinite(v))
        json_number(j, key, v, decimals);
    else
        json_null(j, key);
}

static void json_trips(FILE *out, const struct season_report *r, const char *key,
                       const struct season_story *story)
{
    for (int t = 0; t < story->trips; t++) {
        const struct season_excess *e = &story->trip[t];
        char line[1024];
        struct json j;
        json_open(&j, line, sizeof line);
        json_string(&j, "event", "trip");
        json_string(&j, "channel", key);
        json_time(&j, "time", season_trip_ns(r, e));
        json_time(&j, "reference", story->since_ns);
        json_string(&j, "log", r->season->trips[e->trip].log);
        number_or_null(&j, "rpm", e->known ? e->rpm : NAN, 0);
        number_or_null(&j, "excess", e->known ? season_kept_size(story->row, e->excess) : NAN, 3);
        number_or_null(&j, "error", e->known ? e->error : NAN, 3);
        number_or_null(&j, "idle_excess", e->idle_known ? e->idle : NAN, 3);
        json_string(&j, "unit",
                    season_kept[story->row].share
                        ? "share"
                        : unit_text(quantity_info(season_kept[story->row].quantity)->unit));
        json_string(&j, "meaning", season_meaning(story, t));
        fputs(json_close(&j), out);
    }
}

/* JSON lines: one for each channel and trip, then one for each channel. Base units; shares as they
 * are; errors are one standard error. */
void season_report_json(FILE *out, const struct season_report *r)
{
    for (int i = 0; i < r->count; i++) {
        const struct season_line *l = &r->lines[i];
        char line[1024];
        struct json j;
        for (int k = 0; k < r->era_count; k++)
            if (r->eras[k].line == i)
                json_trips(out, r, l->key, &r->eras[k].story);
        if (l->told)
            json_trips(out, r, l->key, &l->story);
        json_open(&j, line, sizeof line);
        json_string(&j, "event", "channel");
        json_string(&j, "channel", l->key);
        json_string(&j, "place", l->name);
        json_string(&j, "level", l->told ? season_level_word(l->story.level) : "unknown");
        number_or_null(&j, "excess",
                       l->told ? season_kept_size(l->story.row, l->story.excess) : NAN, 3);
        number_or_null(&j, "error", l->told ? l->story.error : NAN, 3);
        number_or_null(&j, "growth_per_week", l->told ? l->story.growth_per_week : NAN, 4);
        number_or_null(&j, "growth_error", l->told ? l->story.growth_error : NAN, 4);
        json_integer(&j, "trips_in_a_row", l->told ? l->story.in_row : 0);
        json_string(&j, "text", l->verdict);
        json_string(&j, "advice", l->advice);
        fputs(json_close(&j), out);
    }
}

static void csv_number(FILE *out, double v, int decimals)
{
    char digits[40] = "";

    if (isfinite(v))
        text_number(digits, sizeof digits, v, decimals);
    fprintf(out, ",%s", digits);
}

static void csv_trips(FILE *out, const struct season_report *r, const char *key,
                      const struct season_story *story)
{
    for (int t = 0; t < story->trips; t++) {
        const struct season_excess *e = &story->trip[t];
        char when[40];
        when_epoch(when, sizeof when, season_trip_ns(r, e));
        fprintf(out, "%s,%s", when, key);
        csv_number(out, e->known ? e->rpm : NAN, 0);
        csv_number(out, e->known ? season_kept_size(story->row, e->excess) : NAN, 3);
        csv_number(out, e->known ? e->error : NAN, 3);
        csv_number(out, e->idle_known ? e->idle : NAN, 3);
        when_epoch(when, sizeof when, story->since_ns);
        fprintf(out, ",\"%s\",%s\n", season_meaning(story, t), when);
    }
}

void season_report_csv(FILE *out, const struct season_report *r)
{
    fputs("time,channel,rpm,excess,error,idle_excess,meaning,reference\n", out);
    for (int i = 0; i < r->count; i++) {
        const struct season_line *l = &r->lines[i];
        for (int k = 0; k < r->era_count; k++)
            if (r->eras[k].line == i)
                csv_trips(out, r, l->key, &r->eras[k].story);
        if (l->told)
            csv_trips(out, r, l->key, &l->story);
    }
}
