#include "session/tend_status.h"

#include "base/json.h"
#include "base/text.h"
#include "cooling/cooling.h"
#include "hooks/lines.h"
#include "session/tend_ask.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* What is said of one thing: its fields, for people and for scripts. */
enum form { FORM_TEXT, FORM_YES, FORM_COUNT, FORM_NUMBER, FORM_SIGNED, FORM_TIME };
struct field {
    const char *name;
    enum form form;
};
static const struct field watch_fields[] = {{"started", FORM_TIME},     {"now", FORM_TIME},
                                            {"source", FORM_TEXT},      {"vessel", FORM_TEXT},
                                            {"version", FORM_TEXT},     {"sounding", FORM_YES},
                                            {"clock_trusted", FORM_YES}};
static const struct field config_fields[] = {{"loaded", FORM_TIME}, {"reload_failed", FORM_YES}};
static const struct field count_fields[] = {
    {"frames", FORM_COUNT},    {"lost_frames", FORM_COUNT}, {"error_frames", FORM_COUNT},
    {"bad_lines", FORM_COUNT}, {"incomplete", FORM_COUNT},  {"gaps", FORM_COUNT},
    {"dropped", FORM_COUNT},   {"unbound", FORM_COUNT},     {"alerts_lost", FORM_COUNT}};
static const struct field bus_fields[] = {
    {"name", FORM_TEXT},           {"up", FORM_YES},         {"controller", FORM_TEXT},
    {"load_percent", FORM_NUMBER}, {"frames", FORM_COUNT},   {"error_frames", FORM_COUNT},
    {"lost_frames", FORM_COUNT},   {"last_frame", FORM_TIME}};
static const struct field record_fields[] = {{"writing", FORM_YES},
                                             {"bytes", FORM_COUNT},
                                             {"lost_frames", FORM_COUNT},
                                             {"free_bytes", FORM_COUNT}};
static const struct field hook_fields[] = {{"name", FORM_TEXT},      {"failed", FORM_YES},
                                           {"runs", FORM_COUNT},     {"failures", FORM_COUNT},
                                           {"last_good", FORM_TIME}, {"waiting", FORM_COUNT}};
static const struct field cooling_fields[] = {
    {"engine", FORM_COUNT},   {"place", FORM_TEXT}, {"running", FORM_YES},
    {"exhaust", FORM_YES},    {"speed", FORM_YES},  {"load_from", FORM_TEXT},
    {"twin", FORM_YES},       {"sea", FORM_YES},    {"period_s", FORM_NUMBER},
    {"delay_s", FORM_NUMBER}, {"blind", FORM_YES}};

static const struct field season_fields[] = {
    {"channel", FORM_TEXT}, {"excess", FORM_SIGNED}, {"error", FORM_SIGNED}, {"unit", FORM_TEXT},
    {"level", FORM_TEXT},   {"now", FORM_YES},       {"since", FORM_TIME}};

#define COUNT(a) (sizeof(a) / sizeof *(a))
static const struct thing {
    const char *word;
    const struct field *fields;
    size_t count;
    bool many; /* a list of them */
} things[] = {{"watch", watch_fields, COUNT(watch_fields), false},
              {"config", config_fields, COUNT(config_fields), false},
              {"counts", count_fields, COUNT(count_fields), false},
              {"bus", bus_fields, COUNT(bus_fields), true},
              {"record", record_fields, COUNT(record_fields), false},
              {"hook", hook_fields, COUNT(hook_fields), true},
              {"cooling", cooling_fields, COUNT(cooling_fields), true},
              {"season", season_fields, COUNT(season_fields), true}};

static void json_field(struct json *j, const struct field *t, const char *value)
{
    double number;
    switch (t->form) {
    case FORM_TEXT:
        json_string(j, t->name, value[0] ? value : NULL);
        break;
    case FORM_YES:
        json_bool(j, t->name, strcmp(value, "1") == 0);
        break;
    case FORM_COUNT:
        json_raw(j, t->name, value[0] == '-' ? "null" : value);
        break;
    case FORM_NUMBER:
        json_number(j, t->name,
                    text_to_double(value, &number) && number >= 0 ? number : (double)NAN, 1);
        break;
    case FORM_SIGNED:
        json_number(j, t->name, text_to_double(value, &number) ? number : (double)NAN, 3);
        break;
    case FORM_TIME:
        if (strcmp(value, "0") == 0)
            json_null(j, t->name);
        else
            json_time(j, t->name, strtoll(value, NULL, 10));
        break;
    }
}

static void json_alert(struct json *j, const struct alert *a)
{
    json_integer(j, "id", a->id);
    json_string(j, "priority", priority_text(a->priority));
    json_string(j, "state", alert_state_text(a->state));
    json_string(j, "kind", kind_text(a->kind));
    json_string(j, "rule", a->rule);
    json_string(j, "channel", a->channel[0] ? a->channel : NULL);
    json_time(j, "raised", a->raised.wall_ns);
    json_string(j, "text", a->text);
    if (alert_is_trial(a))
        json_bool(j, "test", true);
}

/* One line of the answer as an object; "" where it is none of ours. */
static const char *json_thing(char *buf, size_t cap, const char *word, char *line)
{
    struct json j;
    struct fields f;
    struct alert a;
    char copy[LINE_SIZE];
    text_copy(copy, sizeof copy, line);
    fields_begin(&f, copy);
    if (strcmp(fields_text(&f), word) != 0)
        return "";
    json_open(&j, buf, cap);
    if (strcmp(word, "alert") == 0) {
        if (!fields_alert(&f, &a))
            return "";
        json_alert(&j, &a);
    }
    for (size_t i = 0; i < COUNT(things); i++)
        if (strcmp(things[i].word, word) == 0)
            for (size_t k = 0; k < things[i].count; k++)
                json_field(&j, &things[i].fields[k], fields_text(&f));
    const char *text = json_close(&j);
    if (!text || f.bad)
        return "";
    buf[strcspn(buf, "\n")] = '\0';
    return text;
}

/* `word` of all lines: an object, or a list of them. */
static void print_json(FILE *out, const char *key, const char *word, bool many, const char *answer)
{
    char object[2000], line[LINE_SIZE];
    int n = 0;
    fprintf(out, ",\"%s\":%s", key, many ? "[" : "");
    for (const char *at = answer; *at; at += strcspn(at, "\n") + 1) {
        size_t len = strcspn(at, "\n");
        text_copy(line, len < sizeof line ? len + 1 : sizeof line, at);
        const char *text = json_thing(object, sizeof object, word, line);
        if (text[0] && (many || n == 0))
            fprintf(out, "%s%s", n++ ? "," : "", text);
        if (!at[len])
            break;
    }
    fputs(many ? "]" : n ? "" : "null", out);
}

static void print_all_json(FILE *out, const char *answer)
{
    fputs("{\"format\":\"stokehold status\",\"version\":1", out);
    for (size_t i = 0; i < COUNT(things); i++)
        print_json(out, things[i].word, things[i].word, things[i].many, answer);
    print_json(out, "alerts", "alert", true, answer);
    fputs("}\n", out);
}

/* ---- for people ---- */

static const char *clock_text(char *dst, size_t cap, const char *ns, bool utc)
{
    if (strcmp(ns, "0") == 0)
        text_copy(dst, cap, "never");
    else
        when_date(dst, cap, strtoll(ns, NULL, 10), utc);
    return dst;
}

static void say_watch(FILE *out, struct fields *f, bool utc)
{
    char began[40], now[40];
    clock_text(began, sizeof began, fields_text(f), utc);
    clock_text(now, sizeof now, fields_text(f), utc);
    const char *source = fields_text(f), *vessel = fields_text(f), *version = fields_text(f);
    bool sounding = fields_integer(f, 0, 1), trusted = fields_integer(f, 0, 1);
    fprintf(out, "watching %s%s%s since %s (stokehold %s)\n", source, vessel[0] ? " of " : "",
            vessel, began, version);
    fprintf(out, "now      %s, clock %s; sound %s\n", now,
            trusted ? "right by a time server or the bus" : "not known to be right",
            sounding ? "due" : "not due");
}

static void say_config(FILE *out, struct fields *f, bool utc)
{
    char loaded[40];
    clock_text(loaded, sizeof loaded, fields_text(f), utc);
    fprintf(out, "config   in force since %s%s\n", loaded,
            fields_integer(f, 0, 1) ? "; WRONG when it was read last" : "");
}

static void say_counts(FILE *out, struct fields *f, bool utc)
{
    (void)utc;
    fprintf(out, "frames   %s", fields_text(f));
    static const char *const words[] = {
        "lost", "error frames",   "bad lines",       "incomplete messages",
        "gaps", "values dropped", "rules not bound", "alerts lost"};
    for (size_t i = 0; i < COUNT(words); i++) {
        const char *n = fields_text(f);
        if (strcmp(n, "0") != 0)
            fprintf(out, ", %s %s", n, words[i]);
    }
    fputc('\n', out);
}

static void say_bus(FILE *out, struct fields *f, bool utc)
{
    char last[40];
    const char *name = fields_text(f);
    bool up = fields_integer(f, 0, 1);
    const char *controller = fields_text(f), *load = fields_text(f), *frames = fields_text(f);
    const char *errors = fields_text(f), *lost = fields_text(f);
    clock_text(last, sizeof last, fields_text(f), utc);
    fprintf(out, "bus      %s %s%s%s, last frame %s; %s frames, %s errors, %s lost", name,
            up ? "up" : "DOWN", controller[0] ? ", " : "", controller, last, frames, errors, lost);
    if (load[0] != '-')
        fprintf(out, ", load %.*s %%", (int)strcspn(load, "."), load);
    fputc('\n', out);
}

static void say_record(FILE *out, struct fields *f, bool utc)
{
    (void)utc;
    bool writing = fields_integer(f, 0, 1);
    const char *bytes = fields_text(f), *lost = fields_text(f);
    int64_t left = fields_integer(f, -1, INT64_MAX);
    fprintf(out, "record   %s, %s bytes, %s frames lost", writing ? "on" : "HALTED", bytes, lost);
    if (left >= 0)
        fprintf(out, ", %lld MB free", (long long)(left >> 20));
    fputc('\n', out);
}

static void say_hook(FILE *out, struct fields *f, bool utc)
{
    char good[40];
    const char *name = fields_text(f);
    bool failed = fields_integer(f, 0, 1);
    const char *runs = fields_text(f), *failures = fields_text(f);
    clock_text(good, sizeof good, fields_text(f), utc);
    fprintf(out, "hook     %s%s: %s runs, %s failed, last good %s, %s waiting\n", name,
            failed ? " FAILED" : "", runs, failures, good, fields_text(f));
}

/* What the cooling watch of an engine stands on, and how soon it would tell lost water. */
static void say_cooling(FILE *out, struct fields *f, bool utc)
{
    (void)utc;
    (void)fields_integer(f, 0, 255);
    fprintf(out, "cooling  %s", fields_text(f));
    bool running = fields_integer(f, 0, 1);
    struct cooling_sense sense = {.load = COOLING_SENSORS};
    char words[COOLING_SENSE_SIZE];
    sense.exhaust = fields_integer(f, 0, 1);
    sense.speed = fields_integer(f, 0, 1);
    const char *load = fields_text(f);
    sense.twin = fields_integer(f, 0, 1);
    sense.sea = fields_integer(f, 0, 1);
    sense.period_s = fields_number(f);
    sense.delay_s = fields_number(f);
    sense.blind = fields_integer(f, 0, 1);
    fprintf(out, ": %s\n", cooling_sense_words(words, sizeof words, &sense, load, running));
}

/* How far a channel stands from the season's first trips. */
static void say_season(FILE *out, struct fields *f, bool utc)
{
    char since[40], size[32], error[32];
    const char *channel = fields_text(f);
    double excess = fields_number(f), doubt = fields_number(f);
    const char *unit = fields_text(f), *level = fields_text(f);
    bool now = fields_integer(f, 0, 1);
    clock_text(since, sizeof since, fields_text(f), utc);
    bool share = strcmp(unit, "share") == 0;
    text_number(size, sizeof size, share ? 100 * excess : excess, 1);
    text_number(error, sizeof error, share ? 100 * doubt : doubt, 1);
    fprintf(out, "season   %s %s%s %s (± %s) from the first trips, %.10s, %s%s%s\n", channel,
            excess >= 0 ? "+" : "", size, share ? "%" : unit, error, since,
            now ? "now" : "on the last trip", strcmp(level, "none") == 0 ? "" : ": ",
            strcmp(level, "none") == 0 ? "" : level);
}

static void say_alert(FILE *out, struct fields *f, bool utc)
{
    struct alert a;
    char raised[40];
    if (!fields_alert(f, &a))
        return;
    when_date(raised, sizeof raised, a.raised.wall_ns, utc);
    fprintf(out, "%c #%u %s, %s: %s\n", alert_priority_letter(a.priority), (unsigned)a.id, raised,
            alert_state_text(a.state), a.text);
}

static void print_lines(FILE *out, char *answer, bool utc)
{
    static const struct {
        const char *word;
        void (*say)(FILE *out, struct fields *f, bool utc);
    } rows[] = {{"watch", say_watch},     {"config", say_config}, {"counts", say_counts},
                {"bus", say_bus},         {"record", say_record}, {"hook", say_hook},
                {"cooling", say_cooling}, {"season", say_season}, {"alert", say_alert}};
    char *save;
    int alerts = 0;
    for (char *line = strtok_r(answer, "\n", &save); line; line = strtok_r(NULL, "\n", &save)) {
        struct fields f;
        fields_begin(&f, line);
        const char *word = fields_text(&f);
        alerts += strcmp(word, "alert") == 0;
        for (size_t i = 0; i < COUNT(rows); i++)
            if (strcmp(rows[i].word, word) == 0)
                rows[i].say(out, &f, utc);
    }
    if (alerts == 0)
        fputs("no alert is listed\n", out);
}

int tend_status(const char *path, bool json, bool utc)
{
    char *text = malloc(TEND_ANSWER_MOST);
    int status = text ? tend_hear(path, "status", text) : EXIT_SOURCE;
    if (status == EXIT_DONE && json)
        print_all_json(stdout, text);
    else if (status == EXIT_DONE)
        print_lines(stdout, text, utc);
    free(text);
    return status;
}
