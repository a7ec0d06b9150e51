#include "hooks/metrics.h"

#include "base/text.h"
#include "hooks/replace.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* One family a base unit. scale turns our base unit into the form's. */
struct family {
    const char *name, *suffix; /* suffix: the form's unit, the name ends with it; "" for none */
    enum unit unit;
    int decimals;
    double scale;
    const char *help;
};

static const struct family families[] = {
    {"stokehold_temperature_celsius", "celsius", UNIT_C, 2, 1, "Temperatures."},
    {"stokehold_pressure_pascals", "pascals", UNIT_KPA, 0, 1000, "Pressures."},
    {"stokehold_speed_rpm", "rpm", UNIT_RPM, 2, 1, "Engine speeds."},
    {"stokehold_flow_liters_per_hour", "liters_per_hour", UNIT_LPH, 2, 1, "Fuel rates."},
    {"stokehold_volume_liters", "liters", UNIT_L, 1, 1, "Volumes."},
    {"stokehold_run_hours", "hours", UNIT_H, 3, 1, "Hours run, as the engine tells."},
    {"stokehold_voltage_volts", "volts", UNIT_V, 3, 1, "Voltages."},
    {"stokehold_current_amperes", "amperes", UNIT_A, 2, 1, "Currents."},
    {"stokehold_level_ratio", "ratio", UNIT_PERCENT, 5, 0.01, "Levels, charge, load, humidity."},
    {"stokehold_speed_knots", "knots", UNIT_KN, 3, 1, "Speeds of the boat."},
    {"stokehold_position", "", UNIT_NONE, 0, 1, "Switches (1 on) and gears (1 ahead, -1 astern)."},
};

/* Label values: backslash, quote and newline are escaped. */
static void put_label(FILE *f, const char *name, const char *value, bool first)
{
    fprintf(f, "%s%s=\"", first ? "" : ",", name);
    for (const char *s = value; *s; s++) {
        if (*s == '\\' || *s == '"')
            fputc('\\', f);
        if (*s == '\n')
            fputs("\\n", f);
        else
            fputc(*s, f);
    }
    fputc('"', f);
}

static void put_number(FILE *f, double v, int decimals)
{
    char number[40];
    if (!text_number(number, sizeof number, v, decimals))
        text_copy(number, sizeof number, "NaN");
    fprintf(f, " %s\n", number);
}

static void put_head(FILE *f, const char *name, const char *type, const char *unit,
                     const char *help)
{
    fprintf(f, "# TYPE %s %s\n", name, type);
    if (unit[0])
        fprintf(f, "# UNIT %s %s\n", name, unit);
    fprintf(f, "# HELP %s %s\n", name, help);
}

static void put_channel_labels(FILE *f, const struct plant *p, const struct channel *c)
{
    fputc('{', f);
    put_label(f, "channel", c->key, true);
    put_label(f, "place", c->engine >= 0 ? plant_place(p, c) : "", false);
    put_label(f, "label", c->label, false);
    fputc('}', f);
}

static void put_family(FILE *f, const struct plant *p, const struct family *family)
{
    bool head = false;
    for (size_t i = 0; i < plant_count(p); i++) {
        const struct channel *c = plant_channel(p, i);
        if (c->unit != family->unit || c->status != READING_OK)
            continue;
        if (!head)
            put_head(f, family->name, "gauge", family->suffix, family->help);
        head = true;
        fputs(family->name, f);
        put_channel_labels(f, p, c);
        put_number(f, c->value * family->scale, family->decimals);
    }
}

static void put_ages(FILE *f, const struct plant *p, struct stamp now)
{
    put_head(f, "stokehold_reading_age_seconds", "gauge", "seconds",
             "Time since the last good reading.");
    for (size_t i = 0; i < plant_count(p); i++) {
        const struct channel *c = plant_channel(p, i);
        if (c->readings == 0)
            continue;
        fputs("stokehold_reading_age_seconds", f);
        put_channel_labels(f, p, c);
        put_number(f, when_seconds(now.mono_ns - c->good.mono_ns), 3);
    }
}

static void put_engines(FILE *f, const struct plant *p)
{
    put_head(f, "stokehold_engine_running", "gauge", "", "1 while the engine runs.");
    for (int i = 0; i < PLANT_ENGINES; i++) {
        const struct engine *e = plant_engine(p, i);
        if (!e->exists || e->state == ENGINE_UNKNOWN)
            continue;
        fputs("stokehold_engine_running{", f);
        put_label(f, "engine", e->name, true);
        fprintf(f, "} %d\n", e->state == ENGINE_RUNNING);
    }
}

static void put_alerts(FILE *f, const struct alert_list *alerts)
{
    put_head(f, "stokehold_alerts", "gauge", "", "Alerts listed, by priority.");
    for (int p = PRIORITY_CAUTION; p <= PRIORITY_EMERGENCY; p++) {
        fputs("stokehold_alerts{", f);
        put_label(f, "priority", priority_text((enum priority)p), true);
        fprintf(f, "} %zu\n", alerts_count_priority(alerts, (enum priority)p));
    }
    put_head(f, "stokehold_alert", "gauge", "",
             "One for each alert listed: 1 while its condition stands.");
    for (size_t i = 0; i < alerts_count(alerts); i++) {
        const struct alert *a = alerts_at(alerts, i);
        char id[16];
        text_format(id, sizeof id, "%u", (unsigned)a->id);
        fputs("stokehold_alert{", f);
        put_label(f, "id", id, true);
        put_label(f, "priority", priority_text(a->priority), false);
        put_label(f, "state", alert_state_text(a->state), false);
        put_label(f, "kind", kind_text(a->kind), false);
        put_label(f, "rule", a->rule, false);
        put_label(f, "channel", a->channel, false);
        fprintf(f, "} %d\n", a->active);
    }
}

static void put_counter(FILE *f, const char *name, const char *help, uint64_t value)
{
    put_head(f, name, "counter", "", help);
    fprintf(f, "%s_total %" PRIu64 "\n", name, value);
}

static void put_counts(FILE *f, const struct metrics_counts *c, struct stamp now)
{
    put_counter(f, "stokehold_frames", "Frames read.", c->frames);
    put_counter(f, "stokehold_lost_frames", "Frames that the kernel had to drop.", c->lost_frames);
    put_counter(f, "stokehold_error_frames", "Error frames of the bus.", c->error_frames);
    put_counter(f, "stokehold_bad_lines", "Lines of a log that were no frame.", c->bad_lines);
    put_head(f, "stokehold_alerts_raised", "counter", "", "Alerts raised, by priority.");
    for (int p = PRIORITY_CAUTION; p <= PRIORITY_EMERGENCY; p++) {
        fputs("stokehold_alerts_raised_total{", f);
        put_label(f, "priority", priority_text((enum priority)p), true);
        fprintf(f, "} %" PRIu64 "\n", c->raised[p]);
    }
    put_head(f, "stokehold_start_time_seconds", "gauge", "seconds", "When the watch began.");
    fputs("stokehold_start_time_seconds", f);
    put_number(f, when_seconds(c->started_wall_ns), 3);
    put_head(f, "stokehold_written_time_seconds", "gauge", "seconds", "When this was written.");
    fputs("stokehold_written_time_seconds", f);
    put_number(f, when_seconds(now.wall_ns), 3);
}

bool metrics_text(const struct plant *p, const struct alert_list *alerts,
                  const struct metrics_counts *counts, struct stamp now, char **text, size_t *len)
{
    *text = NULL;
    *len = 0;
    FILE *f = open_memstream(text, len);
    if (!f)
        return false;
    /* A gauge of 1 and no `info`: the usual textfile reader does not know that type. */
    put_head(f, "stokehold_boat", "gauge", "", "The boat and the program.");
    fputs("stokehold_boat{", f);
    put_label(f, "vessel", plant_settings(p)->vessel, true);
    put_label(f, "version", STOKEHOLD_VERSION, false);
    fputs("} 1\n", f);
    for (size_t i = 0; i < sizeof families / sizeof *families; i++)
        put_family(f, p, &families[i]);
    put_ages(f, p, now);
    put_engines(f, p);
    put_alerts(f, alerts);
    put_counts(f, counts, now);
    fputs("# EOF\n", f);
    if (fclose(f) == 0)
        return true;
    free(*text);
    *text = NULL;
    return false;
}

bool metrics_write(const char *path, const struct plant *p, const struct alert_list *alerts,
                   const struct metrics_counts *counts, struct stamp now, struct err *e)
{
    char *text;
    size_t len;
    if (!metrics_text(p, alerts, counts, now, &text, &len))
        return err_set(e, "out of memory");
    bool good = replace_file(path, text, len, false, e);
    free(text);
    return good;
}
