#include "config/schema.h"

#include "base/text.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

#define MEMBER(type, field) offsetof(type, field), sizeof(((type *)0)->field)
#define KIND(k)             (1u << (k))
#define KINDS_ALL           (KIND(KIND_COUNT) - 1u)
#define KINDS_GRADED        (KIND(KIND_RISE) | KIND(KIND_DEPARTURE) | KIND(KIND_SPLIT) | KIND(KIND_SEASON))
#define KINDS_OWN           (KIND(KIND_REPORTED) | KIND(KIND_BUS) | KIND(KIND_SELF))
#define KINDS_SENDER        (KIND(KIND_SILENT) | KIND(KIND_CONFLICT) | KIND(KIND_SPAN))
#define KINDS_HELD          (KIND(KIND_LIMIT) | KIND(KIND_SILENT) | KIND(KIND_SPAN) | KIND(KIND_COMBINED))
#define KINDS_CHANNEL       (KIND(KIND_LIMIT) | KIND(KIND_STATE) | KINDS_GRADED | KINDS_SENDER)
#define KINDS_WHILE         (KIND(KIND_LIMIT) | KIND(KIND_SILENT) | KIND(KIND_COMBINED))

const struct schema_section schema_sections[] = {
    {SCOPE_VESSEL, 0, "vessel", "", "The boat."},
    {SCOPE_ENGINE, 0, "engine", "N", "What engine N (its number on the bus) is."},
    {SCOPE_UNITS, 0, "units", "",
     "What the screen shows values in. Logs and exports never change."},
    {SCOPE_PRECISION, 0, "precision", "",
     "Steps in which the board counts, so that a figure at rest stands still; 0: its last place."},
    {SCOPE_ALERTS, 0, "alerts", "", "The life of an alert."},
    {SCOPE_SCREEN, 0, "screen", "", "The board."},
    {SCOPE_KEYS, 0, "keys", "",
     "Other keys for the board: letters, signs, space, enter, tab, arrows, page-up and so on."},
    {SCOPE_PANE, 0, "pane", "NAME",
     "Which channels the board shows, in which order; without panes, what the bus speaks of."},
    {SCOPE_TRIAL, 0, "trial", "", "What a sea trial is measured against."},
    {SCOPE_FUEL, 0, "fuel", "", "Reserve, range and economy."},
    {SCOPE_CHANNEL, 0, "channel", "KEY", "One channel, for instance [channel exhaust.0]."},
    {SCOPE_RULE, KIND_LIMIT, "limit", "NAME", "A value beyond a fixed limit for the hold time."},
    {SCOPE_RULE, KIND_RISE, "rise", "NAME",
     "A value that climbs faster than what the engine was just asked to do explains."},
    {SCOPE_RULE, KIND_DEPARTURE, "departure", "NAME",
     "A value that stands away from what is normal for this engine at this speed."},
    {SCOPE_RULE, KIND_SPLIT, "split", "NAME",
     "Twin engines at like speed that differ by more than they did."},
    {SCOPE_RULE, KIND_SILENT, "silent", "NAME",
     "A channel that was there and has stopped, or is configured and never came."},
    {SCOPE_RULE, KIND_CONFLICT, "conflict", "NAME", "Two senders of one channel."},
    {SCOPE_RULE, KIND_SPAN, "span", "NAME", "A reading outside what its sensor is rated for."},
    {SCOPE_RULE, KIND_REPORTED, "reported", "NAME",
     "Faults that the engine itself reports: status bits and trouble codes."},
    {SCOPE_RULE, KIND_BUS, "bus", "NAME", "Trouble of the bus."},
    {SCOPE_RULE, KIND_STATE, "state", "NAME",
     "A switch that is on or off for too long, or on too often."},
    {SCOPE_RULE, KIND_COMBINED, "combined", "NAME", "Several conditions that hold together."},
    {SCOPE_RULE, KIND_SEASON, "season", "NAME",
     "A value that over the trips of a season moves away from what it was."},
    {SCOPE_RULE, KIND_SELF, "self", "NAME",
     "Trouble of the watch itself: record, hooks, configuration, what it cannot watch."},
    {SCOPE_HOOK, 0, "hook", "NAME", "A program run when something befalls an alert."},
};
const size_t schema_section_count = sizeof schema_sections / sizeof *schema_sections;

#define LIMIT_ROW(word, direction, help)                                                           \
    {                                                                                              \
        .scope = SCOPE_CHANNEL, .key = word " " direction, .type = TYPE_LIMIT, .blank = "none",    \
        .initial = "as the [limit] sections say", help                                             \
    }

#define KEY_ROW(index, action, shipped)                                                            \
    {                                                                                              \
        .scope = SCOPE_KEYS, .key = (action), .type = TYPE_TEXT, .offset = (index)*KEY_NAME_SIZE,  \
        .size = KEY_NAME_SIZE, .initial = (shipped), .help = ""                                    \
    }

static const char *const hook_event_words[] = {"raised", "escalated", "acknowledged", "rectified",
                                               NULL};
static const char *const priority_words[] = {"caution", "warning", "alarm", "emergency alarm",
                                             NULL};

const struct schema_key schema_keys[] = {
    {SCOPE_VESSEL, 0, "name", TYPE_TEXT, MEMBER(struct settings, vessel), .initial = "",
     .help = "what stands at the top of the board"},
    {SCOPE_VESSEL, 0, "engines", TYPE_COUNT, MEMBER(struct settings, engines), .blank = "auto",
     .low = 1, .high = 8, .initial = "auto",
     .help = "how many; auto takes those the bus speaks of"},

    {SCOPE_ENGINE, 0, "name", TYPE_TEXT, MEMBER(struct engine_setting, name), .initial = "",
     .help = "in place of PORT, STARBOARD, ENGINE or GENERATOR"},
    {SCOPE_ENGINE, 0, "kind", TYPE_CHOICE, MEMBER(struct engine_setting, kind),
     .words = (const char *const[]){"auto", "propulsion", "generator", NULL}, .initial = "auto",
     .help =
         "a generator stands apart; auto knows one by its constant speed or alternating current"},

    {SCOPE_ENGINE, 0, "fuel", TYPE_CHOICE, MEMBER(struct engine_setting, fuel),
     .words = (const char *const[]){"diesel", "petrol", NULL}, .initial = "diesel",
     .help = "petrol asks for 4 min of blower before a start, where a [channel blower.0] is named"},

    {SCOPE_UNITS, 0, "temperature", TYPE_UNIT, MEMBER(struct unit_choice, temperature),
     .unit = UNIT_C, .initial = "C", .help = "C or F"},
    {SCOPE_UNITS, 0, "pressure", TYPE_UNIT, MEMBER(struct unit_choice, pressure), .unit = UNIT_KPA,
     .initial = "kPa", .help = "kPa, bar or psi"},
    {SCOPE_UNITS, 0, "volume", TYPE_UNIT, MEMBER(struct unit_choice, volume), .unit = UNIT_L,
     .initial = "L", .help = "L, gal (US) or imp gal"},
    {SCOPE_UNITS, 0, "flow", TYPE_UNIT, MEMBER(struct unit_choice, flow), .unit = UNIT_LPH,
     .initial = "L/h", .help = "L/h, gal/h (US) or imp gal/h"},
    {SCOPE_UNITS, 0, "speed", TYPE_UNIT, MEMBER(struct unit_choice, speed), .unit = UNIT_KN,
     .initial = "kn", .help = "kn, km/h or mph"},

    {SCOPE_PRECISION, 0, "rpm", TYPE_NUMBER, MEMBER(struct precision_setting, rpm), .low = 0,
     .high = 100, .initial = "10", .help = "revolutions a minute"},
    {SCOPE_PRECISION, 0, "temperature", TYPE_NUMBER, MEMBER(struct precision_setting, temperature),
     .low = 0, .high = 10, .initial = "0", .help = "degrees C"},
    {SCOPE_PRECISION, 0, "pressure", TYPE_NUMBER, MEMBER(struct precision_setting, pressure),
     .low = 0, .high = 100, .initial = "0", .help = "kPa"},
    {SCOPE_PRECISION, 0, "flow", TYPE_NUMBER, MEMBER(struct precision_setting, flow), .low = 0,
     .high = 10, .initial = "0", .help = "L/h"},

    {SCOPE_ALERTS, 0, "escalate after", TYPE_LENGTH, MEMBER(struct alert_setting, escalate_ns),
     .low = 10, .high = 300, .initial = "3 min",
     .help = "a warning that nobody acknowledges becomes an alarm"},
    {SCOPE_ALERTS, 0, "silence for", TYPE_LENGTH, MEMBER(struct alert_setting, silence_ns),
     .low = 5, .high = 30, .initial = "30 s", .help = "how long the sound stays off once silenced"},
    {SCOPE_ALERTS, 0, "flash every", TYPE_LENGTH, MEMBER(struct alert_setting, flash_ns),
     .low = 2.0 / 3, .high = 2, .initial = "1 s",
     .help = "one flash: lit half of it, dark half of it"},

    {SCOPE_SCREEN, 0, "theme", TYPE_TEXT, MEMBER(struct screen_setting, theme), .initial = "day",
     .help = "a theme by name"},
    {SCOPE_SCREEN, 0, "theme at dusk", TYPE_TEXT, MEMBER(struct screen_setting, theme_at_dusk),
     .initial = "",
     .help = "theme while the sun is up to 6 degrees below the horizon; nothing: as"},
    {SCOPE_SCREEN, 0, "theme at night", TYPE_TEXT, MEMBER(struct screen_setting, theme_at_night),
     .initial = "", .help = "theme after that; both need latitude and longitude"},
    {SCOPE_SCREEN, 0, "glyphs", TYPE_WORD, MEMBER(struct screen_setting, glyphs),
     .words = (const char *const[]){"auto", "blocks", "braille", "ascii", NULL}, .initial = "auto",
     .help = "what trends are drawn with"},
    {SCOPE_SCREEN, 0, "sound", TYPE_WORD, MEMBER(struct screen_setting, sound),
     .words = (const char *const[]){"bell", "off", "run", NULL}, .initial = "bell",
     .help = "the terminal's bell, none, or a command"},
    {SCOPE_SCREEN, 0, "sound command", TYPE_TEXT, MEMBER(struct screen_setting, sound_command),
     .initial = "",
     .help =
         "program and arguments for `sound = run`; no shell; killed after 10 s; where it fails the "
         "bell rings. {priority} and {step} in it become warning, alarm or emergency, and 1, 2 or "
         "3: "
         "the longer nobody acknowledges, the higher. Without either, the priority is the last "
         "word"},
    {SCOPE_SCREEN, 0, "trend span", TYPE_LENGTH, MEMBER(struct screen_setting, trend_span_ns),
     .low = 60, .high = 86400, .initial = "10 min", .help = "how much time the trends show"},
    {SCOPE_SCREEN, 0, "frames per second", TYPE_NUMBER, MEMBER(struct screen_setting, fps),
     .low = 0.1, .high = 10, .initial = "2", .help = "how often the board is drawn at most"},
    {SCOPE_SCREEN, 0, "mouse", TYPE_YES, MEMBER(struct screen_setting, mouse), .initial = "no",
     .help = "takes the mouse; the terminal's own text selection then needs Shift"},
    {SCOPE_SCREEN, 0, "latitude", TYPE_NUMBER, MEMBER(struct screen_setting, latitude),
     .blank = "unset", .low = -90, .high = 90, .initial = "unset",
     .help = "degrees, north positive; with longitude, for the time of sunset"},
    {SCOPE_SCREEN, 0, "longitude", TYPE_NUMBER, MEMBER(struct screen_setting, longitude),
     .blank = "unset", .low = -180, .high = 180, .initial = "unset",
     .help = "degrees, east positive"},

    {SCOPE_TRIAL, 0, "rated speed", TYPE_VALUE, MEMBER(struct trial_setting, rated_rpm),
     .unit = UNIT_RPM, .blank = "none", .low = 100, .high = 12000, .initial = "none",
     .help = "of the engines, from the maker's plate"},
    {SCOPE_TRIAL, 0, "reach", TYPE_NUMBER, MEMBER(struct trial_setting, reach), .low = 0.5,
     .high = 1.2, .initial = "0.97", .help = "share of rated speed that full throttle must reach"},
    {SCOPE_TRIAL, 0, "oil pressure hot at idle", TYPE_VALUE,
     MEMBER(struct trial_setting, oil_hot_idle_kpa), .unit = UNIT_KPA, .low = 1, .high = 2000,
     .initial = "100 kPa", .help = "at least"},
    {SCOPE_TRIAL, 0, "cranking volts", TYPE_VALUE, MEMBER(struct trial_setting, crank_volts),
     .unit = UNIT_V, .low = 1, .high = 14, .initial = "9.6 V",
     .help = "lowest while the starter turns; of a 12 V system, grows with 24, 36, 48 V"},
    {SCOPE_TRIAL, 0, "charging volts low", TYPE_VALUE,
     MEMBER(struct trial_setting, charge_low_volts), .unit = UNIT_V, .low = 1, .high = 20,
     .initial = "13.2 V", .help = "at cruise, of a 12 V system"},
    {SCOPE_TRIAL, 0, "charging volts high", TYPE_VALUE,
     MEMBER(struct trial_setting, charge_high_volts), .unit = UNIT_V, .low = 1, .high = 20,
     .initial = "15 V", .help = "the same"},
    {SCOPE_TRIAL, 0, "exhaust alike", TYPE_DIFFERENCE, MEMBER(struct trial_setting, twin_exhaust_k),
     .unit = UNIT_C, .low = 0.1, .high = 100, .initial = "10 K",
     .help = "twin engines at like speed differ by no more"},
    {SCOPE_TRIAL, 0, "burn alike", TYPE_NUMBER, MEMBER(struct trial_setting, twin_burn),
     .low = 0.001, .high = 1, .initial = "0.06", .help = "the same for fuel, as a share"},
    {SCOPE_TRIAL, 0, "engine space rise", TYPE_DIFFERENCE,
     MEMBER(struct trial_setting, space_rise_k), .unit = UNIT_C, .low = 1, .high = 60,
     .initial = "12.5 K", .help = "over outside air while running, at most"},
    {SCOPE_FUEL, 0, "reserve", TYPE_VALUE, MEMBER(struct fuel_setting, reserve_percent),
     .unit = UNIT_PERCENT, .low = 0, .high = 90, .initial = "20 %",
     .help = "of what the fuel tanks hold; range and hours left end there"},
    {SCOPE_FUEL, 0, "reserve volume", TYPE_VALUE, MEMBER(struct fuel_setting, reserve_l),
     .unit = UNIT_L, .blank = "none", .low = 0, .high = 1e6, .initial = "none",
     .help = "in place of the percentage"},
    {SCOPE_FUEL, 0, "average over", TYPE_LENGTH, MEMBER(struct fuel_setting, average_ns), .low = 1,
     .high = 600, .initial = "30 s",
     .help = "burn and speed are averaged over this for economy, range and hours left"},
    {SCOPE_FUEL, 0, "expansion", TYPE_NUMBER, MEMBER(struct fuel_setting, expansion_per_k),
     .low = 0, .high = 0.002, .initial = "0.00083",
     .help = "of fuel volume per kelvin, where the return runs warmer than the feed"},

    /* One for each row of the table of keys, in its order (screen/keys.c). */
    KEY_ROW(0, "acknowledge", "a"),
    KEY_ROW(1, "silence", "s"),
    KEY_ROW(2, "pause", "space"),
    KEY_ROW(3, "board", "o"),
    KEY_ROW(4, "trend", "t"),
    KEY_ROW(5, "helm", "h"),
    KEY_ROW(6, "alerts", "l"),
    KEY_ROW(7, "movers", "m"),
    KEY_ROW(8, "bus", "b"),
    KEY_ROW(9, "up", "up"),
    KEY_ROW(10, "down", "down"),
    KEY_ROW(11, "left", "left"),
    KEY_ROW(12, "right", "right"),
    KEY_ROW(13, "page-up", "page-up"),
    KEY_ROW(14, "page-down", "page-down"),
    KEY_ROW(15, "first", "home"),
    KEY_ROW(16, "last", "end"),
    KEY_ROW(17, "choose", "enter"),
    KEY_ROW(18, "other", "tab"),
    KEY_ROW(19, "add", "+"),
    KEY_ROW(20, "longer", "]"),
    KEY_ROW(21, "shorter", "["),
    KEY_ROW(22, "zoom", "z"),
    KEY_ROW(23, "save", "w"),
    KEY_ROW(24, "charts", "v"),
    KEY_ROW(25, "step", "."),
    KEY_ROW(26, "faster", "f"),
    KEY_ROW(27, "slower", "d"),
    KEY_ROW(28, "fastest", "F"),
    KEY_ROW(29, "forward", ">"),
    KEY_ROW(30, "backward", "<"),
    KEY_ROW(31, "go-to", "g"),
    KEY_ROW(32, "next-alert", "n"),
    KEY_ROW(33, "previous-alert", "p"),
    KEY_ROW(34, "mark", "k"),
    KEY_ROW(35, "next-mark", "j"),
    KEY_ROW(36, "find", "/"),
    KEY_ROW(37, "units", "u"),
    KEY_ROW(38, "colours", "c"),
    KEY_ROW(39, "glyphs", "i"),
    KEY_ROW(40, "sound", "e"),
    KEY_ROW(41, "sound-test", "E"),
    KEY_ROW(42, "mouse", "y"),
    KEY_ROW(43, "redraw", "ctrl-l"),
    KEY_ROW(44, "back", "esc"),
    KEY_ROW(45, "quit", "q"),
    KEY_ROW(46, "help", "?"),

    {SCOPE_PANE, 0, "channels", TYPE_TEXT, MEMBER(struct pane_setting, channels), .initial = "",
     .help = "channel keys apart by commas, from the top: exhaust.*, engine-space.0"},

    {SCOPE_CHANNEL, 0, "label", TYPE_TEXT, MEMBER(struct channel_setting, label), .initial = "",
     .help = "what the board calls it"},
    {SCOPE_CHANNEL, 0, "source", TYPE_SENDER, MEMBER(struct channel_setting, sender),
     .blank = "any", .initial = "any",
     .help = "the sender it must come from: 35, or can1:35 on one interface"},
    {SCOPE_CHANNEL, 0, "sensor", TYPE_SENSOR, 0, 0,
     .words = (const char *const[]){"auto", "wet", "dry", NULL}, .initial = "auto",
     .help = "exhaust only: wet sits after the water injection, dry in hot gas"},
    {SCOPE_CHANNEL, 0, "offset", TYPE_DIFFERENCE, MEMBER(struct channel_setting, offset),
     .initial = "0", .help = "added to what the sensor says, after gain"},
    {SCOPE_CHANNEL, 0, "gain", TYPE_NUMBER, MEMBER(struct channel_setting, gain), .low = -100,
     .high = 100, .initial = "1", .help = "what the sensor says is multiplied by this"},
    {SCOPE_CHANNEL, 0, "span", TYPE_SPAN, 0, 0, .blank = "auto", .initial = "auto",
     .help = "what the sensor is rated for, as LOW to HIGH; readings outside are a fault of it"},
    {SCOPE_CHANNEL, 0, "nominal volts", TYPE_VALUE, MEMBER(struct channel_setting, nominal_volts),
     .unit = UNIT_V, .blank = "auto", .initial = "auto",
     .help = "12, 24, 36 or 48 V; limits `per 12 V` follow it"},
    {SCOPE_CHANNEL, 0, "chemistry", TYPE_CHOICE, MEMBER(struct channel_setting, chemistry),
     .words = (const char *const[]){"auto", "flooded", "AGM", "gel", "lithium", "other", NULL},
     .initial = "auto",
     .help = "of a battery: its limits follow it; auto takes what the bus says, else flooded lead"},
    {SCOPE_CHANNEL, 0, "capacity", TYPE_VALUE, MEMBER(struct channel_setting, capacity_l),
     .unit = UNIT_L, .blank = "auto", .low = 0.1, .high = 1e6, .initial = "auto",
     .help = "of a tank; auto takes what the bus says"},
    {SCOPE_CHANNEL, 0, "from", TYPE_KEY, MEMBER(struct channel_setting, from), .blank = "none",
     .initial = "none",
     .help = "what arrives as that channel is this one too: blower.0 from a switch"},
    {SCOPE_CHANNEL, 0, "ohms", TYPE_OHMS, 0, 0, .blank = "none", .initial = "none",
     .help = "a level sender in ohm, as EMPTY to FULL: 240 to 33, or 10 to 180"},
    {SCOPE_CHANNEL, 0, "thermistor", TYPE_THERMISTOR, MEMBER(struct channel_setting, thermistor),
     .blank = "none", .initial = "none",
     .help = "a temperature sender in ohm: beta 3950; or three points; or three coefficients"},
    {SCOPE_CHANNEL, 0, "head density", TYPE_NUMBER, MEMBER(struct channel_setting, head_density),
     .blank = "none", .low = 500, .high = 1500, .initial = "none",
     .help = "kg/m3: a level that arrives as kPa of head; needs `height`"},
    {SCOPE_CHANNEL, 0, "calibration", TYPE_CURVE, MEMBER(struct channel_setting, table),
     .blank = "none", .initial = "none",
     .help = "IN:OUT, IN:OUT ... with straight lines between; before gain"},
    {SCOPE_CHANNEL, 0, "shape", TYPE_CHOICE, MEMBER(struct channel_setting, shape),
     .words = (const char *const[]){"none", "box", "cylinder", "wedge", NULL}, .initial = "none",
     .help = "of a tank whose sender tells height: lying cylinder, wedge with its edge down"},
    {SCOPE_CHANNEL, 0, "length", TYPE_NUMBER, MEMBER(struct channel_setting, length_m),
     .blank = "unset", .low = 0.01, .high = 100, .initial = "unset",
     .help = "of the tank inside, in metres; with width and height it gives the capacity"},
    {SCOPE_CHANNEL, 0, "width", TYPE_NUMBER, MEMBER(struct channel_setting, width_m),
     .blank = "unset", .low = 0.01, .high = 100, .initial = "unset", .help = "in metres"},
    {SCOPE_CHANNEL, 0, "height", TYPE_NUMBER, MEMBER(struct channel_setting, height_m),
     .blank = "unset", .low = 0.01, .high = 100, .initial = "unset",
     .help = "in metres; of a cylinder its diameter"},
    {SCOPE_CHANNEL, 0, "strapping", TYPE_CURVE, MEMBER(struct channel_setting, strapping),
     .blank = "none", .initial = "none",
     .help = "PERCENT OF HEIGHT:LITRES, ...: the tank as it was dipped or filled"},
    {SCOPE_CHANNEL, 0, "unusable", TYPE_VALUE, MEMBER(struct channel_setting, unusable_l),
     .unit = UNIT_L, .blank = "none", .low = 0, .high = 1e6, .initial = "none",
     .help = "of a tank, below its pick-up"},
    {SCOPE_CHANNEL, 0, "slosh", TYPE_LENGTH, MEMBER(struct channel_setting, slosh_ns), .low = 1,
     .high = 600, .initial = "1 min", .help = "of a tank: its volume is the median over this time"},
    {SCOPE_CHANNEL, 0, "feed", TYPE_KEY, MEMBER(struct channel_setting, feed), .blank = "none",
     .initial = "none", .help = "fuel-rate only: burn is what this meter counts, less `return`"},
    {SCOPE_CHANNEL, 0, "return", TYPE_KEY, MEMBER(struct channel_setting, returned),
     .blank = "none", .initial = "none", .help = "fuel-rate only: the meter in the return line"},
    {SCOPE_CHANNEL, 0, "accuracy", TYPE_VALUE, MEMBER(struct channel_setting, accuracy_percent),
     .unit = UNIT_PERCENT, .low = 0, .high = 50, .initial = "1 %",
     .help = "stated: of a meter's reading, of a tank's capacity"},
    {SCOPE_CHANNEL, 0, "hidden", TYPE_YES, MEMBER(struct channel_setting, hidden), .initial = "no",
     .help = "not on the board; its rules watch on"},
    LIMIT_ROW("emergency", "above", .help = "a limit for this channel alone; none takes it away"),
    LIMIT_ROW("emergency", "below", .help = "the same, downwards"),
    LIMIT_ROW("alarm", "above", .help = "hold, deadband and the rest as the quantity's own limit"),
    LIMIT_ROW("alarm", "below", .help = ""),
    LIMIT_ROW("warning", "above", .help = ""),
    LIMIT_ROW("warning", "below", .help = ""),
    LIMIT_ROW("caution", "above", .help = ""),
    LIMIT_ROW("caution", "below", .help = ""),

    {SCOPE_RULE, KINDS_ALL, "enabled", TYPE_YES, MEMBER(struct rule_setting, enabled),
     .initial = "yes", .help = "no switches the rule off"},
    {SCOPE_RULE, KINDS_CHANNEL, "channel", TYPE_CHANNEL, 0, 0, .initial = "",
     .help = "exhaust.0, exhaust.* for each, or * for every channel; the more exact rule counts"},
    {SCOPE_RULE, KINDS_ALL & ~(KINDS_GRADED | KINDS_OWN), "priority", TYPE_CHOICE,
     MEMBER(struct rule_setting, priority), .words = priority_words, .initial = "warning",
     .help = "how urgent it is, as in IMO MSC.302(87)"},
    {SCOPE_RULE, KINDS_GRADED | KINDS_OWN, "at most", TYPE_CHOICE,
     MEMBER(struct rule_setting, priority), .words = priority_words, .initial = "alarm",
     .help = "it grades itself; this is the most it may be raised as"},
    {SCOPE_RULE, KIND(KIND_LIMIT), "above", TYPE_VALUE, MEMBER(struct rule_setting, above),
     offsetof(struct rule_setting, has_above), .blank = "none", .initial = "none",
     .help = "raised above this; a rule has this or `below`"},
    {SCOPE_RULE, KIND(KIND_LIMIT), "below", TYPE_VALUE, MEMBER(struct rule_setting, below),
     offsetof(struct rule_setting, has_below), .blank = "none", .initial = "none",
     .help = "raised below this"},
    {SCOPE_RULE, KIND(KIND_LIMIT), "per 12 V", TYPE_YES, MEMBER(struct rule_setting, per_12v),
     .initial = "no",
     .help = "the limit and deadband are a 12 V system's and grow with 24, 36, 48 V"},
    {SCOPE_RULE, KIND(KIND_LIMIT), "battery", TYPE_CHOICE, MEMBER(struct rule_setting, battery),
     .words = (const char *const[]){"any", "lead", "flooded", "AGM", "gel", "lithium", NULL},
     .initial = "any", .help = "only for batteries of this kind; lead is flooded, AGM and gel"},
    {SCOPE_RULE, KIND(KIND_LIMIT), "system", TYPE_VALUE, MEMBER(struct rule_setting, system),
     .blank = "any", .initial = "any",
     .help = "only on alternating current of this nominal value: 120 or 230 V, 50 or 60 Hz"},
    {SCOPE_RULE, KIND(KIND_LIMIT), "off below", TYPE_VALUE, MEMBER(struct rule_setting, off_below),
     .blank = "never", .initial = "never", .help = "below this it is switched off, and not low"},
    {SCOPE_RULE, KIND(KIND_LIMIT), "deadband", TYPE_DIFFERENCE,
     MEMBER(struct rule_setting, deadband), .initial = "0",
     .help = "how far back inside the limit the value must come before it is over"},
    {SCOPE_RULE, KINDS_HELD, "hold", TYPE_LENGTH, MEMBER(struct rule_setting, hold_ns), .low = 0,
     .high = 86400, .initial = "0 s",
     .help = "must last this long, and for two readings, three where they come faster than "
             "one a second, four after a leap, before it is raised"},
    {SCOPE_RULE, KINDS_HELD, "clear hold", TYPE_LENGTH, MEMBER(struct rule_setting, clear_hold_ns),
     .low = 0, .high = 86400, .initial = "0 s", .help = "must be gone this long before it is over"},
    {SCOPE_RULE, KINDS_WHILE, "while", TYPE_CHOICE, MEMBER(struct rule_setting, while_state),
     .words = (const char *const[]){"always", "running", "stopped", NULL}, .initial = "always",
     .help = "only while the channel's engine (or any engine) runs, or stands"},
    {SCOPE_RULE, KINDS_WHILE, "settle", TYPE_LENGTH, MEMBER(struct rule_setting, settle_ns),
     .low = 0, .high = 86400, .initial = "0 s",
     .help = "and not before it has run, or stood, this long"},
    {SCOPE_RULE, KIND(KIND_SILENT), "never heard after", TYPE_LENGTH,
     MEMBER(struct rule_setting, never_ns), .blank = "never", .low = 1, .high = 86400,
     .initial = "2 min",
     .help = "raised when a configured channel did not come at all in this much traffic"},
    {SCOPE_RULE, KIND(KIND_STATE), "on longer than", TYPE_LENGTH,
     MEMBER(struct rule_setting, on_longest_ns), .blank = "never", .low = 1, .high = 7 * 86400,
     .initial = "never", .help = "raised when the switch stays on"},
    {SCOPE_RULE, KIND(KIND_STATE), "off longer than", TYPE_LENGTH,
     MEMBER(struct rule_setting, off_longest_ns), .blank = "never", .low = 1, .high = 7 * 86400,
     .initial = "never", .help = "raised when the switch stays off"},
    {SCOPE_RULE, KIND(KIND_STATE), "more than", TYPE_COUNT, MEMBER(struct rule_setting, times),
     .blank = "never", .low = 1, .high = 63, .initial = "never",
     .help = "raised when the switch goes on more often than this ..."},
    {SCOPE_RULE, KIND(KIND_STATE), "within", TYPE_LENGTH, MEMBER(struct rule_setting, window_ns),
     .low = 1, .high = 7 * 86400, .initial = "1 h", .help = "... within this time"},
    {SCOPE_RULE, KIND(KIND_COMBINED), "when", TYPE_CONDITIONS, 0, 0, .initial = "",
     .help = "conditions joined by `and`: engine-space.* above 55 C and switch.0.3 off and engine "
             "running"},
    {SCOPE_RULE, KINDS_ALL & ~(KINDS_GRADED | KINDS_OWN), "advice", TYPE_TEXT,
     MEMBER(struct rule_setting, advice), .initial = "",
     .help = "the first thing to look at, in a few words; the alert ends with it"},

    {SCOPE_HOOK, 0, "enabled", TYPE_YES, MEMBER(struct hook_setting, enabled), .initial = "yes",
     .help = "no switches the hook off"},
    {SCOPE_HOOK, 0, "run", TYPE_TEXT, MEMBER(struct hook_setting, run), .initial = "",
     .help = "program (whole path) and arguments, apart by blanks; \"...\" keeps blanks; no shell"},
    {SCOPE_HOOK, 0, "when", TYPE_EVENTS, MEMBER(struct hook_setting, events),
     .words = hook_event_words, .initial = "raised, escalated",
     .help = "what befalls an alert, apart by commas"},
    {SCOPE_HOOK, 0, "priority", TYPE_CHOICE, MEMBER(struct hook_setting, priority),
     .words = priority_words, .initial = "alarm", .help = "for alerts of this priority and above"},
    {SCOPE_HOOK, 0, "rule", TYPE_TEXT, MEMBER(struct hook_setting, rule), .initial = "",
     .help = "for alerts of the rule of this name alone"},
    {SCOPE_HOOK, 0, "time limit", TYPE_LENGTH, MEMBER(struct hook_setting, time_limit_ns), .low = 1,
     .high = 3600, .initial = "30 s", .help = "then it is killed"},
    {SCOPE_HOOK, 0, "at most", TYPE_COUNT, MEMBER(struct hook_setting, at_most), .low = 1,
     .high = 8, .initial = "1", .help = "runs at once; more wait their turn"},
    {SCOPE_HOOK, 0, "not again within", TYPE_LENGTH, MEMBER(struct hook_setting, not_again_ns),
     .low = 0, .high = 3600, .initial = "1 min",
     .help = "what comes and goes runs it once in this time, unless its priority rises; 0 s: each "
             "time"},
    {SCOPE_HOOK, 0, "try again for", TYPE_LENGTH, MEMBER(struct hook_setting, again_ns), .low = 0,
     .high = 86400, .initial = "1 h",
     .help = "a run that failed, at growing intervals; 0 s: never"},
};
const size_t schema_key_count = sizeof schema_keys / sizeof *schema_keys;

const struct schema_section *schema_find_section(const char *word)
{
    for (size_t i = 0; i < schema_section_count; i++)
        if (strcmp(schema_sections[i].word, word) == 0)
            return &schema_sections[i];
    return NULL;
}

bool schema_has(const struct schema_section *section, const struct schema_key *key)
{
    if (section->scope != key->scope)
        return false;
    return key->scope != SCOPE_RULE || (key->kinds & KIND(section->kind));
}

const struct schema_key *schema_find_key(const struct schema_section *section, const char *key)
{
    for (size_t i = 0; i < schema_key_count; i++)
        if (schema_has(section, &schema_keys[i]) && strcmp(schema_keys[i].key, key) == 0)
            return &schema_keys[i];
    return NULL;
}

struct schema_limit schema_limit_of(const struct schema_key *key)
{
    static const char first[] = "cwae"; /* of enum priority's words */
    const char *at = strchr(first, key->key[0]);
    return (struct schema_limit){.priority = (enum priority)(at ? at - first : 0),
                                 .above = strstr(key->key, "above") != NULL};
}
