#include "alerts/action.h"

#include "base/text.h"
#include "base/when.h"

#include "base/banned.h"

struct action {
    const char *name;
    /* By stage; NULL: as in the stage before. */
    const char *words[STAGE_COUNT];
    const char *engine; /* what comes before a configured advice from `certain` on; NULL: nothing */
    bool all_engines;
    const char *steps[ACTION_STEPS];
    const char *reason;
};

#define STOP "stop engine when safe, "

/* The words are common practice, no source, except where one is named. Nothing here tells anybody
 * to open something that is hot: a cap lets out boiling coolant, a hatch lets in air. `when safe`
 * stands wherever an engine is to be stopped: a boat in a channel or off a lee shore may need it
 * for another minute, and only who is aboard can weigh that. */
/* Joined strings are meant. NOLINTBEGIN(bugprone-suspicious-missing-comma) */
static const struct action table[TROUBLE_COUNT] = {
    [TROUBLE_OTHER] =
        {
            .name = "other",
            .reason = "The rule's own `advice` is shown at every stage.",
        },
    [TROUBLE_RAW_WATER] =
        {
            .name = "loss of raw water",
            .words = {"check raw water", STOP "check raw water", NULL,
                      "keep cap shut, check raw water", "check raw water"},
            .engine = STOP,
            .steps = {"seacock open?", "strainer", "impeller, cover hot?", "hose cool first"},
            .reason =
                "From the sea inwards, the commonest and quickest to see first. A wet exhaust "
                "hose without water lives about two minutes (SAE J2006, from memory), and the "
                "impeller half a minute. By the time the engine stands its coolant is hot too: "
                "nobody "
                "should begin at the cap.",
        },
    [TROUBLE_SEACOCK] =
        {
            .name = "no raw water since the start",
            .words = {"check raw water, seacock", STOP "check raw water", NULL,
                      "keep cap shut, check seacock", "check raw water"},
            .engine = STOP,
            .steps = {"seacock open?", "strainer", "impeller, cover hot?", "hose cool first"},
            .reason = "Hot from the moment of the start: the seacock is what people forget.",
        },
    [TROUBLE_BOTH_HOT] =
        {
            .name = "both exhausts hot",
            .words = {"both up, check raw water, load", "stop engines when safe, check raw water",
                      NULL, "keep caps shut, check raw water", "check raw water"},
            .engine = "stop engines when safe, ",
            .all_engines = true,
            .steps = {"weed at the intakes?", "strainers", "load, speed", "hoses cool first"},
            .reason = "Two pumps seldom fail in the same half minute: what they share comes first.",
        },
    [TROUBLE_CIRCULATION] =
        {
            .name = "coolant does not circulate",
            .words = {"check coolant pump, belt", STOP "do not open the cap", NULL,
                      "let it cool, do not open the cap", "open the cap only when cold"},
            .engine = STOP,
            .steps = {"cap shut until cold", "belt whole?", "leaks?", "level when cold"},
            .reason = "Coolant under pressure is above 100 °C and boils as the cap opens: it burns "
                      "faces. The belt is seen from outside.",
        },
    [TROUBLE_COOLANT_LOST] =
        {
            .name = "coolant lost",
            .words = {"coolant lost? do not open the cap", STOP "do not open the cap", NULL,
                      "let it cool, do not open the cap", "check coolant level when cold"},
            .engine = STOP,
            .steps = {"cap shut until cold", "leaks?", "pump, hoses", "level when cold"},
            .reason = "A sender that hangs in air reads cool while the oil gets hot.",
        },
    [TROUBLE_COOLANT] =
        {
            .name = "coolant hot",
            .words = {"reduce power, check belt", STOP "do not open the cap", NULL,
                      "let it cool, do not open the cap", "open the cap only when cold"},
            .engine = STOP,
            .steps = {"cap shut until cold", "belt whole?", "raw water?", "level when cold"},
            .reason = "At the warning limit less power may be enough. At the alarm limit minutes "
                      "count for the head gasket.",
        },
    [TROUBLE_COOLANT_UNCOOLED] =
        {
            .name = "coolant hot, raw water lost",
            .words = {"check raw water", STOP "check raw water", NULL,
                      "keep cap shut, check raw water", "check raw water"},
            .engine = STOP,
            .steps = {"cap shut until cold", "seacock open?", "strainer", "impeller, cover hot?"},
            .reason = "What took the heat away is gone, so raw water is the cause; the cap is as "
                      "dangerous as ever.",
        },
    [TROUBLE_OIL_HOT] =
        {
            .name = "engine oil hot",
            .words = {"check oil level, cooler", STOP "check oil cooler", NULL,
                      "let it cool, check oil", "check oil level, cooler"},
            .engine = STOP,
            .steps = {"oil level", "cooler, its water", "load, speed", "oil milky?"},
            .reason = "Thin oil carries no bearing; the level is the first thing that can be seen.",
        },
    [TROUBLE_OIL_PRESSURE] =
        {
            .name = "oil pressure low",
            .words = {"check oil level", STOP "check oil level", NULL, "check oil level",
                      "check oil level"},
            .engine = STOP,
            .steps = {"oil level", "oil in the bilge?", "filter seal", "restart only with oil"},
            .reason = "Bearings last seconds to minutes without pressure.",
        },
    [TROUBLE_GEAR_HOT] =
        {
            .name = "gear oil hot",
            .words = {"check gear oil, its cooler", STOP "check gear oil", NULL, "check gear oil",
                      "check gear oil, its cooler"},
            .engine = STOP,
            .steps = {"gear oil level", "cooler, its water", "clutch slips?", "lever right home?"},
            .reason = "A lever that is not right home lets the clutch slip.",
        },
    [TROUBLE_GEAR_PRESSURE] =
        {
            .name = "gear oil pressure low",
            .words = {"check gear oil", STOP "check gear oil", NULL, "check gear oil",
                      "check gear oil"},
            .engine = STOP,
            .steps = {"gear oil level", "oil in the bilge?", "cooler hoses", "lever right home?"},
            .reason = "Without pressure the clutch slips and burns.",
        },
    [TROUBLE_COOLING] =
        {
            .name = "cooling, cause not known",
            .words = {"check cooling", STOP "check cooling", NULL, "let it cool, check cooling",
                      "check cooling"},
            .engine = STOP,
            .steps = {"raw water flows?", "belt whole?", "hoses", "cap shut until cold"},
            .reason = "Raw water first: it fails more often and is seen from the deck.",
        },
    [TROUBLE_FIRE] =
        {
            .name = "fire",
            .words = {"watch for fire, keep hatch shut", "FIRE? stop engines, keep hatch shut",
                      NULL, "FIRE? keep hatch shut, fuel off", "keep hatch shut until it is cold"},
            .all_engines = true,
            .steps = {"nobody opens the space", "blower off", "extinguisher", "call for help"},
            .reason =
                "Air feeds it: whoever opens the hatch to look may not close it again. Running "
                "engines breathe in the extinguishing gas.",
        },
    [TROUBLE_SPACE] =
        {
            .name = "engine space hot",
            .words = {"check blower, exhaust joints", "FIRE? stop engines, keep hatch shut", NULL,
                      "FIRE? keep hatch shut, fuel off", "check blower, exhaust joints"},
            .all_engines = true,
            .steps = {"smoke? stay out", "blower on?", "exhaust joints", "air intakes free?"},
            .reason = "Too hot for a working engine room is a fire until somebody knows better.",
        },
    [TROUBLE_PETROL] =
        {
            .name = "petrol engine started without the blower",
            .words = {"blower on, sniff for petrol"},
            .steps = {"petrol? stop, all out", "4 min before a start"},
            .reason = "A spark finds the vapour that lies in the bilge. A blower moves vapour, it "
                      "does not find it: only a nose or a detector does.",
        },
    [TROUBLE_SHAFT_SEAL] =
        {
            .name = "shaft seal hot",
            .words = {"check seal water", STOP "check seal water", NULL,
                      "let it cool, check seal water", "check seal water"},
            .engine = STOP,
            .steps = {"water to the seal?", "water in the bilge?", "speed down first"},
            .reason = "A dry seal melts, and then the sea comes in.",
        },
    [TROUBLE_SENSOR] =
        {
            .name = "sensor lost",
            .steps = {"plug at the sensor", "wire to its box", "box has power?"},
            .reason = "Nothing is watched there until it answers: look and feel instead.",
        },
    [TROUBLE_CONFLICT] =
        {
            .name = "two boxes claim one place",
            .steps = {"which box is where?", "give each its own instance", "wait for both"},
            .reason = "One of them hides the other, or another engine.",
        },
    [TROUBLE_BUS] =
        {
            .name = "bus",
            .steps = {"power of the bus", "cable and plugs", "both terminators"},
            .reason = "Nothing that hangs on it is watched.",
        },
    [TROUBLE_SELF] =
        {
            .name = "the watch itself",
            .steps = {"read what it says", "disk and clock of the computer"},
            .reason = "A watch that cannot do its work must say so.",
        },
    [TROUBLE_COOLANT_ALONE] =
        {
            .name = "coolant hot, no exhaust watched",
            .words = {"check raw water, belt", STOP "do not open the cap", NULL,
                      "let it cool, do not open the cap", "open the cap only when cold"},
            .engine = STOP,
            .steps = {"cap shut until cold", "raw water?", "belt whole?", "level when cold"},
            .reason =
                "Without an exhaust nothing tells a lost impeller from a lost belt; raw water "
                "is seen from the deck.",
        },
};
/* NOLINTEND(bugprone-suspicious-missing-comma) */

const char *stage_text(enum alert_stage s)
{
    static const char *const texts[STAGE_COUNT] = {"suspected", "certain", "beyond", "stopped",
                                                   "over"};
    return (unsigned)s < STAGE_COUNT ? texts[s] : "certain";
}

static const char *words_at(const struct action *a, enum alert_stage s)
{
    for (int i = (int)s; i >= 0; i--)
        if (a->words[i])
            return a->words[i];
    return "";
}

void action_words(char *dst, size_t cap, enum trouble t, enum alert_stage s, const char *advice)
{
    const struct action *a = &table[(unsigned)t < TROUBLE_COUNT ? t : TROUBLE_OTHER];
    bool given = advice && advice[0];
    if (!given || s == STAGE_OVER || (a->words[0] && s == STAGE_STOPPED)) {
        text_copy(dst, cap, words_at(a, s));
        return;
    }
    bool engine = a->engine && (s == STAGE_CERTAIN || s == STAGE_BEYOND);
    text_format(dst, cap, "%s%s", engine ? a->engine : "", advice);
}

const char *action_step(enum trouble t, int i)
{
    return (unsigned)t < TROUBLE_COUNT && i >= 0 && i < ACTION_STEPS ? table[t].steps[i] : NULL;
}

bool action_all_engines(enum trouble t)
{
    return (unsigned)t < TROUBLE_COUNT && table[t].all_engines;
}

bool action_is_fire(enum trouble t, enum alert_stage s)
{
    return t == TROUBLE_FIRE || (t == TROUBLE_SPACE && s != STAGE_SUSPECTED && s != STAGE_OVER);
}

bool action_goes_in(enum trouble t, enum alert_stage s)
{
    static const enum trouble elsewhere[] = {TROUBLE_CONFLICT, TROUBLE_BUS, TROUBLE_SELF};
    for (size_t i = 0; i < sizeof elsewhere / sizeof *elsewhere; i++)
        if (t == elsewhere[i])
            return false;
    return !action_is_fire(t, s);
}

/* ---- what a limit is about, and how long it needs to cool ---- */

/* Times in which what was beyond its limit is not a danger any more, common practice, no source: an
 * engine block of some hundred kilograms in a closed space loses its heat with a time constant of
 * one to two hours; an exhaust hose and elbow, thin and in moving air, within a quarter of an hour;
 * the air of a space follows what stands in it. */
#define BLOCK_NS (2 * 3600 * NS_PER_S)
#define HOSE_NS  (30 * 60 * NS_PER_S)
#define SPACE_NS (3600 * NS_PER_S)

static const struct of_quantity {
    enum quantity quantity;
    enum trouble above, below;
    int64_t cooling_ns;
    const char *why; /* so long */
} quantities[] = {
    {QTY_EXHAUST, TROUBLE_RAW_WATER, TROUBLE_OTHER, HOSE_NS, "a hose and elbow in moving air"},
    {QTY_EXHAUST_GAS, TROUBLE_COOLING, TROUBLE_OTHER, HOSE_NS, "thin metal in moving air"},
    {QTY_COOLANT, TROUBLE_COOLANT, TROUBLE_OTHER, BLOCK_NS, "the block, until the cap is safe"},
    {QTY_OIL_TEMP, TROUBLE_OIL_HOT, TROUBLE_OTHER, BLOCK_NS, "the block"},
    {QTY_GEAR_OIL_TEMP, TROUBLE_GEAR_HOT, TROUBLE_OTHER, BLOCK_NS, "a gearbox, as the block"},
    {QTY_ENGINE_SPACE, TROUBLE_SPACE, TROUBLE_OTHER, SPACE_NS, "the air follows the engines"},
    {QTY_SHAFT_SEAL, TROUBLE_SHAFT_SEAL, TROUBLE_OTHER, HOSE_NS, "small, with the sea outside"},
    {QTY_OIL_PRESSURE, TROUBLE_OTHER, TROUBLE_OIL_PRESSURE, 0, NULL},
    {QTY_GEAR_OIL_PRESSURE, TROUBLE_OTHER, TROUBLE_GEAR_PRESSURE, 0, NULL},
};
enum { QUANTITIES = sizeof quantities / sizeof *quantities };

enum trouble action_of_limit(enum quantity q, bool above)
{
    for (int i = 0; i < QUANTITIES; i++)
        if (quantities[i].quantity == q)
            return above ? quantities[i].above : quantities[i].below;
    return TROUBLE_OTHER;
}

int64_t action_cooling_ns(enum quantity q)
{
    for (int i = 0; i < QUANTITIES; i++)
        if (quantities[i].quantity == q)
            return quantities[i].cooling_ns;
    return quantity_info(q)->unit == UNIT_C ? SPACE_NS : 0;
}

/* ---- the table as Markdown ---- */

void action_print(FILE *out)
{
    fputs("| trouble | suspected | certain, beyond its limit | engine stopped | over |\n"
          "|---|---|---|---|---|\n",
          out);
    for (int t = 0; t < TROUBLE_COUNT; t++) {
        const struct action *a = &table[t];
        if (a->words[0])
            fprintf(out, "| %s | %s | %s | %s | %s |\n", a->name, words_at(a, STAGE_SUSPECTED),
                    words_at(a, STAGE_BEYOND), words_at(a, STAGE_STOPPED), words_at(a, STAGE_OVER));
    }
    fputs("\n| trouble | first, second, third ... | why so |\n|---|---|---|\n", out);
    for (int t = 0; t < TROUBLE_COUNT; t++) {
        const struct action *a = &table[t];
        fprintf(out, "| %s | ", a->name);
        for (int i = 0; i < ACTION_STEPS && a->steps[i]; i++)
            fprintf(out, "%s%d %s", i > 0 ? "; " : "", i + 1, a->steps[i]);
        fprintf(out, " | %s |\n", a->reason);
    }
    fputs("\n| temperature | taken to have cooled after | why so long |\n|---|---|---|\n", out);
    for (int i = 0; i < QUANTITIES; i++)
        if (quantities[i].cooling_ns > 0)
            fprintf(out, "| %s | %d min | %s |\n", quantity_info(quantities[i].quantity)->label,
                    (int)(quantities[i].cooling_ns / (60 * NS_PER_S)), quantities[i].why);
}
