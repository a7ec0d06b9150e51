#include "report/season/report.h"

#include "base/text.h"
#include "base/when.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define STANDS_OUT 0.5 /* of a caution, and this many errors: a trip stands out */
#define STANDS_ERR 2.0

double season_user(const struct season_report *r, int row, double excess)
{
    const struct season_kept *k = &season_kept[row];
    enum unit base = quantity_info(k->quantity)->unit;

    return k->share ? season_kept_size(row, excess) * 100
                    : unit_from_base_difference(settings_unit(r->settings, base), excess);
}

const char *season_user_unit(const struct season_report *r, int row)
{
    const struct season_kept *k = &season_kept[row];
    enum unit u = settings_unit(r->settings, quantity_info(k->quantity)->unit);

    return k->share ? "%" : u == UNIT_C ? "K" : unit_text(u);
}

void season_size(char *dst, size_t cap, const struct season_report *r, int row, double excess,
                 bool sign)
{
    double v = season_user(r, row, excess);
    char digits[32];

    dst[0] = '\0';
    if (!isfinite(v))
        return;
    text_number(digits, sizeof digits, sign ? v : fabs(v), fabs(v) < 10 ? 1 : 0);
    text_format(dst, cap, "%s%s %s", sign && v >= 0 ? "+" : "", digits, season_user_unit(r, row));
}

void season_day(char *dst, size_t cap, int64_t wall_ns, bool utc)
{
    when_date(dst, cap, wall_ns, utc);
    if (cap > 10)
        dst[10] = '\0';
}

int64_t season_trip_ns(const struct season_report *r, const struct season_excess *e)
{
    return r->season->trips[e->trip].from_ns;
}

static double worse(const struct season_kept *k, double excess)
{
    return k->up && k->down ? fabs(excess) : k->up ? excess : -excess;
}

/* Over a twin, being low only says that the twin is high. */
static bool twin_stands_out(const struct season_story *story, int trip)
{
    const struct season_excess *e = &story->trip[trip];

    return e->known && story->normal.mode == SEASON_MODE_OVER_TWIN &&
           -e->excess > fmax(STANDS_OUT * season_kept[story->row].caution, STANDS_ERR * e->error);
}

const char *season_meaning(const struct season_story *story, int trip)
{
    const struct season_excess *e = &story->trip[trip];
    const struct season_kept *k = &season_kept[story->row];

    if (e->trip >= story->normal.first && e->trip <= story->normal.last)
        return "one of the first trips: the reference";
    if (e->exchanged)
        return "jumped alike at all speeds: a probe exchanged or moved?";
    if (!e->known)
        return "no steady speed to compare";
    if (worse(k, e->excess) > k->warning && worse(k, e->excess) > STANDS_ERR * e->error)
        return "stands far out";
    if (worse(k, e->excess) > STANDS_OUT * k->caution &&
        worse(k, e->excess) > STANDS_ERR * e->error)
        return "stands out";
    if (twin_stands_out(story, trip))
        return "its twin stands out";
    return "as on the first trips";
}

const char *season_quiet(const struct season_report *r)
{
    for (int i = 0; i < r->count; i++) {
        const struct season_story *story = &r->lines[i].story;

        for (int t = 0; r->lines[i].told && t < story->trips; t++)
            if (story->trip[t].known && story->trip[t].trip > story->normal.last)
                return "Nothing stands out: every channel that can be compared is as on the first "
                       "trips.";
    }
    return "Nothing to compare yet: these are the first trips, the reference for those to come.";
}

/* ---- names ---- */

/* Engines that the season knows, by their numbers on the bus. */
static int engines_of(const struct season *s, uint8_t *out)
{
    int count = 0;

    for (int i = 0; i < s->step_count && count < 8; i++) {
        int at = 0;
        if (quantity_info((enum quantity)s->steps[i].id.quantity)->place != PLACE_ENGINE)
            continue;
        while (at < count && out[at] < s->steps[i].id.place)
            at++;
        if (at < count && out[at] == s->steps[i].id.place)
            continue;
        memmove(&out[at + 1], &out[at], (size_t)(count - at));
        out[at] = s->steps[i].id.place;
        count++;
    }
    return count;
}

static void name_place(char *dst, size_t cap, const struct season_report *r, uint8_t place)
{
    const struct engine_setting *set = settings_engine(r->settings, place);
    uint8_t engines[9];
    int count = engines_of(r->season, engines);

    if (set && set->name[0])
        text_copy(dst, cap, set->name);
    else if (count == 1)
        text_copy(dst, cap, "ENGINE");
    else if (count == 2)
        text_copy(dst, cap, place == engines[0] ? "PORT" : "STARBOARD");
    else
        text_format(dst, cap, "ENGINE %d", place);
}

static void name_line(struct season_line *l, const struct season_report *r, struct channel_id id)
{
    const struct quantity_info *info = quantity_info((enum quantity)id.quantity);
    char what[40];

    channel_id_format(l->key, sizeof l->key, id);
    text_copy(what, sizeof what, info->label);
    for (char *c = what; *c; c++)
        if (*c >= 'a' && *c <= 'z')
            *c = (char)(*c - 'a' + 'A');
    if (info->place == PLACE_ENGINE) {
        name_place(l->name, sizeof l->name, r, id.place);
        text_append(l->name, sizeof l->name, " %s", what);
    } else if (season_kept[season_kept_row((enum quantity)id.quantity)].start) {
        text_format(l->name, sizeof l->name, "%s %d CRANKING VOLTS", what, id.place);
    } else {
        text_copy(l->name, sizeof l->name, what);
    }
}

/* ---- what it means ---- */

/* The highest upper limit of alarm priority for the channel; NaN where it has none. */
static double limit_of(const struct season_report *r, struct channel_id id)
{
    double lowest = NAN;

    for (size_t i = 0; i < r->settings->rule_count; i++) {
        const struct rule_setting *rule = &r->settings->rules[i];
        if (rule->kind == KIND_LIMIT && rule->has_above && rule->priority >= PRIORITY_ALARM &&
            settings_rule_applies(r->settings, rule, id) && !(rule->above >= lowest))
            lowest = rule->above;
    }
    return lowest;
}

/* The warmest sea heard in the season; NaN: none was. */
static double warmest_sea(const struct season *s)
{
    double sea = NAN;

    for (int i = 0; i < s->step_count; i++)
        if (isfinite(s->steps[i].sea_c))
            sea = fmax(s->steps[i].sea_c, isfinite(sea) ? sea : -99);
    return sea;
}

static void add_limit(struct season_line *l, const struct season_report *r)
{
    double limit = limit_of(r, l->story.id);
    struct season_reserve v;
    enum unit u = settings_unit(r->settings, UNIT_C);
    char digits[32], count[32], rpm[24];

    if (!l->story.up ||
        !season_reserve(&l->story, warmest_sea(r->season), l->story.excess, limit, &v))
        return;
    text_number(digits, sizeof digits, unit_from_base(u, limit), 0);
    text_number(rpm, sizeof rpm, v.rpm, 0);
    text_number(count, sizeof count, v.weeks, 0);
    if (v.used_up)
        text_append(l->verdict, sizeof l->verdict, "; at %s rpm it would pass %s %s now", rpm,
                    digits, unit_text(u));
    else if (isfinite(v.weeks))
        text_append(l->verdict, sizeof l->verdict,
                    "; at this rate it passes %s %s at %s rpm in about %s weeks", digits,
                    unit_text(u), rpm, count);
}

static void add_since(struct season_line *l)
{
    char day[40];

    season_day(day, sizeof day, l->story.since_ns, true);
    if (l->story.mark[0])
        text_append(l->verdict, sizeof l->verdict, " the first trips since %s (from %s)",
                    l->story.mark, day);
    else
        text_append(l->verdict, sizeof l->verdict, " the first trips (from %s)", day);
}

/* ", 7 trips in a row since 2026-07-19" */
static void add_row(struct season_line *l, const struct season_report *r)
{
    const struct season_story *s = &l->story;
    char day[40];
    int left = s->in_row, i = s->trips;

    while (left > 0 && i > 0)
        left -= s->trip[--i].known;
    season_day(day, sizeof day, season_trip_ns(r, &s->trip[i]), true);
    text_append(l->verdict, sizeof l->verdict, ", %d trips in a row since %s", s->in_row, day);
}

const char *season_over(const struct season_line *l)
{
    static const char *const over[] = {
        [SEASON_MODE_PLAIN] = "",
        [SEASON_MODE_OVER_SEA] = ", over the sea",
        [SEASON_MODE_OVER_AIR] = ", over the outside air",
        [SEASON_MODE_OVER_TWIN] = ", over its twin for want of a sea temperature",
        [SEASON_MODE_OVER_IDLE] = ", over its own idle for want of a sea temperature",
    };

    return l->told && over[l->story.normal.mode] ? over[l->story.normal.mode] : "";
}

static void find_verdict(struct season_line *l, const struct season_report *r)
{
    const struct season_story *s = &l->story;
    const struct season_kept *k = &season_kept[s->row];
    char size[40], rate[40];

    if (s->level == SEASON_QUIET) {
        bool twin = s->trips > 0 && twin_stands_out(s, s->trips - 1);
        text_copy(l->verdict, sizeof l->verdict,
                  twin ? "below its twin, which stands out" : "as on the first trips");
        return;
    }
    season_size(size, sizeof size, r, s->row, s->excess, false);
    if (s->level == SEASON_QUESTION) {
        text_copy(l->verdict, sizeof l->verdict, "jumped between two trips, alike at all speeds");
        text_copy(l->advice, sizeof l->advice,
                  "was a probe exchanged or moved? note it with --mark");
        return;
    }
    text_format(l->verdict, sizeof l->verdict, "%s %s", size, s->up ? "above" : "below");
    add_since(l);
    if (s->in_row > 1)
        add_row(l, r);
    if (season_grows(s)) {
        season_size(rate, sizeof rate, r, s->row, s->growth_per_week, false);
        text_append(l->verdict, sizeof l->verdict, ", %s %s a week",
                    worse(k, s->growth_per_week) > 0 ? "growing" : "shrinking", rate);
    }
    add_limit(l, r);
    text_format(l->advice, sizeof l->advice, "%s%s",
                s->both ? "both engines: hull, load, both intakes; then " : "",
                s->up ? k->look_up : k->look_down);
}

/* How each channel stood before each mark that concerns it. */
static bool find_eras(struct season_report *r, const struct channel_id *ids)
{
    const struct season *s = r->season;
    size_t most = (size_t)r->count * (size_t)s->mark_count;

    r->eras = calloc(most > 0 ? most : 1, sizeof *r->eras);
    for (int i = 0; r->eras && i < r->count; i++)
        for (int m = 0; m < s->mark_count; m++) {
            struct season_era *e = &r->eras[r->era_count];
            if (!season_tell_before(s, ids[i], m, &e->story))
                continue;
            e->line = i;
            e->mark = m;
            r->era_count++;
        }
    return r->eras != NULL;
}

struct season_report *season_report_new(const struct season *s, const struct settings *settings,
                                        const char *file)
{
    struct channel_id ids[SEASON_REPORT_CHANNELS];
    struct season_report *r = calloc(1, sizeof *r);

    if (!r)
        return NULL;
    *r = (struct season_report){.season = s, .settings = settings, .file = file};
    r->count = season_channels(s, ids, SEASON_REPORT_CHANNELS);
    r->lines = calloc((size_t)(r->count > 0 ? r->count : 1), sizeof *r->lines);
    if (!r->lines || !find_eras(r, ids)) {
        season_report_free(r);
        return NULL;
    }
    for (int i = 0; i < r->count; i++) {
        struct season_line *l = &r->lines[i];
        name_line(l, r, ids[i]);
        l->told = season_tell(s, ids[i], -1, NULL, 0, 0, &l->story);
        if (l->told)
            find_verdict(l, r);
        else
            text_copy(l->verdict, sizeof l->verdict,
                      season_kept[season_kept_row((enum quantity)ids[i].quantity)].start
                          ? "too few starts yet"
                          : "too few steady speeds yet");
    }
    return r;
}

void season_report_free(struct season_report *r)
{
    if (!r)
        return;
    free(r->lines);
    free(r->eras);
    free(r);
}
