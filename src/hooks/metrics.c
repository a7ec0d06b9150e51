#include "hooks/metrics.h"

#include "base/memory_file.h"
#include "base/text.h"
#include "bus/condition.h"
#include "season/watch.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

/* One family a unit of ours. scale turns it into the form's base unit. */
struct family {
    const char *name, *base; /* its base unit, for a label */
    enum unit unit;
    int decimals;
    double scale;
    const char *help;
};

#define PER_MINUTE (1.0 / 60)
#define LITRE      1e-3            /* m3 */
#define KNOT       (1852.0 / 3600) /* m/s */

static const struct family families[] = {
    {"stokehold_temperature_celsius", "celsius", UNIT_C, 2, 1, "Temperatures."},
    {"stokehold_pressure_pascals", "pascals", UNIT_KPA, 0, 1000, "Pressures."},
    {"stokehold_rotation_hertz", "hertz", UNIT_RPM, 4, PER_MINUTE,
     "Revolutions a second: 60 are 3600 rpm."},
    {"stokehold_flow_cubic_meters_per_second", "cubic meters per second", UNIT_LPH, 9, LITRE / 3600,
     "Fuel rates: 1 L/h is 2.78e-7."},
    {"stokehold_volume_cubic_meters", "cubic meters", UNIT_L, 4, LITRE, "Volumes: 1 L is 0.001."},
    {"stokehold_run_seconds", "seconds", UNIT_H, 0, 3600, "Time run, as the engine tells."},
    {"stokehold_voltage_volts", "volts", UNIT_V, 3, 1, "Voltages."},
    {"stokehold_current_amperes", "amperes", UNIT_A, 2, 1, "Currents."},
    {"stokehold_level_ratio", "ratio", UNIT_PERCENT, 5, 0.01, "Levels, charge, load, humidity."},
    {"stokehold_speed_meters_per_second", "meters per second", UNIT_KN, 3, KNOT,
     "Speeds of the boat: 1 kn is 0.514."},
    {"stokehold_position", "", UNIT_NONE, 0, 1, "Switches (1 on) and gears (1 ahead, -1 astern)."},
};

/* ---- the form ---- */

/* Label values: backslash, quote and newline are escaped. */
static void put_label(FILE *f, const char *name, const char *value, bool first)
{
    fprintf(f, "%s%s=\"", first ? "{" : ",", name);
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

static void put_head(FILE *f, const char *name, const char *type, const char *help)
{
    fprintf(f, "# HELP %s %s\n# TYPE %s %s\n", name, help, name, type);
}

static void put_counter(FILE *f, const char *name, const char *help, uint64_t value)
{
    put_head(f, name, "counter", help);
    fprintf(f, "%s %" PRIu64 "\n", name, value);
}

static void put_gauge(FILE *f, const char *name, const char *help, double value, int decimals)
{
    put_head(f, name, "gauge", help);
    fputs(name, f);
    put_number(f, value, decimals);
}

/* ---- the boat ---- */

static void put_channel_labels(FILE *f, const struct plant *p, const struct channel *c)
{
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
            put_head(f, family->name, "gauge", family->help);
        head = true;
        fputs(family->name, f);
        put_channel_labels(f, p, c);
        put_number(f, c->value * family->scale, family->decimals);
    }
}

static void put_ages(FILE *f, const struct plant *p, struct stamp now)
{
    put_head(f, "stokehold_reading_age_seconds", "gauge", "Time since the last good reading.");
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
    put_head(f, "stokehold_engine_running", "gauge", "1 while the engine runs.");
    for (int i = 0; i < PLANT_ENGINES; i++) {
        const struct engine *e = plant_engine(p, i);
        if (!e->exists || e->state == ENGINE_UNKNOWN)
            continue;
        fputs("stokehold_engine_running", f);
        put_label(f, "engine", e->name, true);
        fprintf(f, "} %d\n", e->state == ENGINE_RUNNING);
    }
}

/* How far each channel stands from the season's first trips; shares and volts have families of
 * their own. */
static void put_season(FILE *f, const struct plant *p, struct season_watch *w)
{
    static const struct {
        const char *name, *help;
    } kinds[] = {
        {"stokehold_season_excess_kelvins", "Above the season's first trips at like speed."},
        {"stokehold_season_excess_ratio",
         "The same as a share: burn, boost, oil pressure, cranking volts."},
        {"stokehold_season_excess_volts", "The same of voltages."},
    };
    for (int kind = 0; w && kind < 3; kind++) {
        bool head = false;
        for (int i = 0; i < PLANT_ENGINES * SEASON_KEPT; i++) {
            int row = i % SEASON_KEPT, slot = i / SEASON_KEPT;
            int own = season_kept[row].share                        ? 1
                      : season_kept[row].quantity == QTY_ALTERNATOR ? 2
                                                                    : 0;
            const struct engine *e = plant_engine(p, slot);
            struct season_standing s;
            if (own != kind || !e->exists || !season_watch_standing(w, slot, e->instance, row, &s))
                continue;
            const struct channel *c = plant_find(p, s.id);
            if (!c)
                continue;
            if (!head)
                put_head(f, kinds[kind].name, "gauge", kinds[kind].help);
            head = true;
            fputs(kinds[kind].name, f);
            put_channel_labels(f, p, c);
            put_number(f, s.excess, 3);
        }
    }
}

/* ---- alerts ---- */

/* What is wrong, in a word, where it is the watch's or the bus's own trouble. */
static const char *cause_of(const struct alert *a)
{
    static const char *const words[] = {
        [CONDITION_MISSING] = "interface not read",
        [CONDITION_DOWN] = "interface down",
        [CONDITION_BUS_OFF] = "bus-off",
        [CONDITION_PASSIVE] = "error-passive",
        [CONDITION_LOST] = "frames lost",
        [CONDITION_RECORD] = "record halted",
        [CONDITION_RECORD_LOST] = "record lost",
        [CONDITION_HOOK] = "hook failed",
        [CONDITION_METRICS] = "metrics file",
        [CONDITION_STATE] = "state file",
        [CONDITION_CUT] = "frames cut",
        [CONDITION_QUIET] = "bus quiet",
        [CONDITION_UNBOUND] = "rules unbound",
        [CONDITION_RECORD_GIVEN] = "incident given up",
        [CONDITION_STUCK] = "disk stuck",
        [CONDITION_CONFIG] = "configuration",
        [CONDITION_CLOCK] = "clock",
        [CONDITION_BLIND] = "sensor missing",
        [CONDITION_SEASON] = "season file",
    };
    size_t sort = a->situation.code & 0xFF;
    bool known = a->situation.group == SITUATION_BUS && sort < sizeof words / sizeof *words;
    return known && words[sort] ? words[sort] : "";
}

static const char *said_of(const struct watch_status *status, const struct alert *a)
{
    for (int i = 0; i < status->said_count; i++)
        if (status->said[i].id == a->id)
            return status->said[i].text;
    return "";
}

enum course { COURSE_WORST, COURSE_WORST_AT, COURSE_PASSED, COURSE_BEYOND, COURSES };

static double course_of(const struct alert *a, enum course c, const struct family **family)
{
    switch (c) {
    case COURSE_WORST:
        for (size_t i = 0; i < sizeof families / sizeof *families; i++)
            if (families[i].unit == a->unit)
                *family = &families[i];
        return *family ? a->worst * (*family)->scale : NAN;
    case COURSE_WORST_AT:
        return isfinite(a->worst) ? when_seconds(a->worst_at.wall_ns) : NAN;
    case COURSE_PASSED:
        return a->limit_passed.wall_ns ? when_seconds(a->limit_passed.wall_ns) : NAN;
    case COURSE_BEYOND:
        return a->limit_passed.wall_ns ? when_seconds(a->beyond_ns) : NAN;
    case COURSES:
        break;
    }
    return NAN;
}

/* How bad each alert got; what it has not, it does not tell. */
static void put_courses(FILE *f, const struct alert_list *alerts)
{
    static const struct {
        const char *name, *help;
    } rows[COURSES] = {
        [COURSE_WORST] = {"stokehold_alert_worst", "Worst value of each alert, unit as labelled."},
        [COURSE_WORST_AT] = {"stokehold_alert_worst_timestamp_seconds", "When that was read."},
        [COURSE_PASSED] = {"stokehold_alert_limit_passed_timestamp_seconds",
                           "When it was first read beyond its fixed limit."},
        [COURSE_BEYOND] = {"stokehold_alert_beyond_limit_seconds",
                           "How long it was beyond its fixed limit, in all."},
    };
    for (enum course c = 0; c < COURSES; c++) {
        put_head(f, rows[c].name, "gauge", rows[c].help);
        for (size_t i = 0; i < alerts_count(alerts); i++) {
            const struct alert *a = alerts_at(alerts, i);
            const struct family *family = NULL;
            double v = course_of(a, c, &family);
            if (!isfinite(v))
                continue;
            char id[16];
            text_format(id, sizeof id, "%u", (unsigned)a->id);
            fputs(rows[c].name, f);
            put_label(f, "id", id, true);
            put_label(f, "channel", a->channel, false);
            if (family)
                put_label(f, "unit", family->base, false);
            fputc('}', f);
            put_number(f, v, family ? family->decimals : 3);
        }
    }
}

static void put_alerts(FILE *f, const struct alert_list *alerts, const struct watch_status *status)
{
    put_head(f, "stokehold_alerts", "gauge", "Alerts listed, by priority.");
    for (int p = PRIORITY_CAUTION; p <= PRIORITY_EMERGENCY; p++) {
        fputs("stokehold_alerts", f);
        put_label(f, "priority", priority_text((enum priority)p), true);
        fprintf(f, "} %zu\n", alerts_count_priority(alerts, (enum priority)p));
    }
    put_head(f, "stokehold_alert", "gauge",
             "One for each alert listed: 1 while its condition stands; text as it was raised.");
    for (size_t i = 0; i < alerts_count(alerts); i++) {
        const struct alert *a = alerts_at(alerts, i);
        char id[16];
        text_format(id, sizeof id, "%u", (unsigned)a->id);
        fputs("stokehold_alert", f);
        put_label(f, "id", id, true);
        put_label(f, "priority", priority_text(a->priority), false);
        put_label(f, "state", alert_state_text(a->state), false);
        put_label(f, "stage", stage_text(a->stage), false);
        put_label(f, "kind", kind_text(a->kind), false);
        put_label(f, "rule", a->rule, false);
        put_label(f, "channel", a->channel, false);
        put_label(f, "cause", cause_of(a), false);
        put_label(f, "text", said_of(status, a), false);
        fprintf(f, "} %d\n", a->active);
    }
    put_courses(f, alerts);
    put_head(f, "stokehold_alerts_raised_total", "counter", "Alerts raised, by priority.");
    for (int p = PRIORITY_CAUTION; p <= PRIORITY_EMERGENCY; p++) {
        fputs("stokehold_alerts_raised_total", f);
        put_label(f, "priority", priority_text((enum priority)p), true);
        fprintf(f, "} %" PRIu64 "\n", status->raised[p]);
    }
}

/* ---- the watch itself ---- */

static void put_iface_counter(FILE *f, const struct watch_status *status, const char *name,
                              const char *help, size_t member)
{
    put_head(f, name, "counter", help);
    for (int i = 0; i < status->iface_count; i++) {
        uint64_t value;
        memcpy(&value, (const char *)&status->ifaces[i] + member, sizeof value);
        fputs(name, f);
        put_label(f, "interface", status->ifaces[i].name, true);
        fprintf(f, "} %" PRIu64 "\n", value);
    }
}

static void put_ifaces(FILE *f, const struct watch_status *status)
{
    if (status->iface_count == 0)
        return;
    put_head(f, "stokehold_interface_up", "gauge", "1 while the interface is there and up.");
    for (int i = 0; i < status->iface_count; i++) {
        fputs("stokehold_interface_up", f);
        put_label(f, "interface", status->ifaces[i].name, true);
        fprintf(f, "} %d\n", status->ifaces[i].up);
    }
    put_iface_counter(f, status, "stokehold_interface_frames_total", "Frames read, by interface.",
                      offsetof(struct status_iface, frames));
    put_iface_counter(f, status, "stokehold_interface_error_frames_total",
                      "Error frames, by interface.", offsetof(struct status_iface, error_frames));
    put_iface_counter(f, status, "stokehold_interface_lost_frames_total",
                      "Frames that the kernel had to drop, by interface.",
                      offsetof(struct status_iface, lost_frames));
    put_head(f, "stokehold_interface_load_ratio", "gauge", "Share of the bus's time in use.");
    for (int i = 0; i < status->iface_count; i++) {
        if (status->ifaces[i].load_percent < 0)
            continue;
        fputs("stokehold_interface_load_ratio", f);
        put_label(f, "interface", status->ifaces[i].name, true);
        fputc('}', f);
        put_number(f, status->ifaces[i].load_percent / 100, 4);
    }
}

static void put_record(FILE *f, const struct watch_status *status)
{
    if (!status->records)
        return;
    put_gauge(f, "stokehold_record_up", "1 while the record is written.", status->record_writing,
              0);
    put_counter(f, "stokehold_record_written_bytes_total", "Bytes of frames written.",
                status->record_bytes);
    put_counter(f, "stokehold_record_lost_frames_total", "Frames that are not in the record.",
                status->record_lost_frames);
    if (status->record_free_bytes >= 0)
        put_gauge(f, "stokehold_record_free_bytes", "Free on the disk of the record.",
                  (double)status->record_free_bytes, 0);
}

enum hook_figure { HOOK_RUNS, HOOK_FAILURES, HOOK_GOOD, HOOK_WAITING };

static void put_hook_figure(FILE *f, const struct settings *s, const struct hooks *hooks,
                            const char *name, enum hook_figure figure)
{
    for (size_t i = 0; i < s->hook_count; i++) {
        struct hook_stats st;
        hooks_stats(hooks, i, &st);
        double value = figure == HOOK_RUNS       ? (double)st.runs
                       : figure == HOOK_FAILURES ? (double)st.failures
                       : figure == HOOK_GOOD     ? when_seconds(st.good_wall_ns)
                                                 : st.waiting;
        if (figure == HOOK_GOOD && st.good_wall_ns == 0)
            continue;
        fputs(name, f);
        put_label(f, "hook", s->hooks[i].name, true);
        fputc('}', f);
        put_number(f, value, figure == HOOK_GOOD ? 3 : 0);
    }
}

static void put_hooks(FILE *f, const struct settings *s, const struct hooks *hooks)
{
    static const struct {
        const char *name, *type, *help;
    } rows[] = {
        [HOOK_RUNS] = {"stokehold_hook_runs_total", "counter", "Attempts to run a hook."},
        [HOOK_FAILURES] = {"stokehold_hook_failures_total", "counter", "Attempts that failed."},
        [HOOK_GOOD] = {"stokehold_hook_last_success_timestamp_seconds", "gauge",
                       "When the hook last ended well."},
        [HOOK_WAITING] = {"stokehold_hook_waiting", "gauge",
                          "Runs that wait for their first or a further attempt."},
    };
    if (!hooks || s->hook_count == 0)
        return;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        put_head(f, rows[i].name, rows[i].type, rows[i].help);
        put_hook_figure(f, s, hooks, rows[i].name, (enum hook_figure)i);
    }
}

static void put_losses(FILE *f, const struct losses *l)
{
    const struct {
        const char *what;
        uint64_t n;
    } rows[] = {{"incomplete messages", l->incomplete},
                {"gaps", l->gaps},
                {"channels and values", l->dropped},
                {"rules not bound", l->unbound},
                {"alerts", l->alerts_lost}};
    put_head(f, "stokehold_left_out_total", "counter", "What the watch could not take in.");
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        fputs("stokehold_left_out_total", f);
        put_label(f, "what", rows[i].what, true);
        fprintf(f, "} %" PRIu64 "\n", rows[i].n);
    }
}

static void put_watch(FILE *f, const struct watch_status *i)
{
    put_counter(f, "stokehold_frames_total", "Frames read.", i->frames);
    put_counter(f, "stokehold_lost_frames_total", "Frames that the kernel had to drop.",
                i->lost_frames);
    put_counter(f, "stokehold_error_frames_total", "Error frames of the bus.", i->error_frames);
    put_counter(f, "stokehold_bad_lines_total", "Lines of a log that were not frames.",
                i->bad_lines);
    put_gauge(f, "stokehold_start_timestamp_seconds", "When the watch began.",
              when_seconds(i->started_wall_ns), 3);
    put_gauge(f, "stokehold_written_timestamp_seconds", "When this was written.",
              when_seconds(i->now.wall_ns), 3);
    put_gauge(f, "stokehold_config_loaded_timestamp_seconds",
              "When the configuration in force was read.", when_seconds(i->loaded_wall_ns), 3);
    put_gauge(f, "stokehold_config_reload_success",
              "0 when the configuration was wrong the last time it was read.", !i->load_failed, 0);
    put_gauge(f, "stokehold_clock_trusted",
              "1 while the wall clock is known to be right, from the bus or a time server.",
              i->clock_trusted, 0);
}

char *metrics_text(const struct plant *p, const struct alert_list *alerts,
                   const struct watch_status *status, size_t *len)
{
    struct memory_file m;
    if (!memory_file_open(&m))
        return NULL;
    FILE *f = m.out;
    const struct settings *settings = plant_settings(p);
    put_head(f, "stokehold_boat_info", "gauge", "The boat and the program; always 1.");
    fputs("stokehold_boat_info", f);
    put_label(f, "vessel", settings->vessel, true);
    put_label(f, "version", STOKEHOLD_VERSION, false);
    fputs("} 1\n", f);
    for (size_t i = 0; i < sizeof families / sizeof *families; i++)
        put_family(f, p, &families[i]);
    put_ages(f, p, status->now);
    put_engines(f, p);
    put_season(f, p, status->season);
    put_alerts(f, alerts, status);
    put_watch(f, status);
    put_losses(f, &status->losses);
    put_ifaces(f, status);
    put_record(f, status);
    put_hooks(f, settings, status->hooks);
    return memory_file_close(&m, len);
}
