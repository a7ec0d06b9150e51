#include "screen/rows.h"

#include "base/text.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "base/banned.h"

/* From the top, and how much each matters: two different orders. */
static const struct {
    uint16_t quantity;
    uint8_t worth;
} twin_order[] = {
    {QTY_RPM, 3},
    {QTY_EXHAUST, 1},
    {QTY_EXHAUST_GAS, 5},
    {QTY_EXHAUST_GAS_LEFT, 5},
    {QTY_EXHAUST_GAS_RIGHT, 5},
    {QTY_COOLANT, 2},
    {QTY_COOLANT_LEVEL, 11},
    {QTY_OIL_PRESSURE, 4},
    {QTY_OIL_TEMP, 10},
    {QTY_OIL_TEMP_2, 20},
    {QTY_OIL_LEVEL, 16},
    {QTY_GEAR_OIL_PRESSURE, 16},
    {QTY_GEAR_OIL_TEMP, 15},
    {QTY_COOLANT_PRESSURE, 13},
    {QTY_FUEL_PRESSURE, 17},
    {QTY_FUEL_TEMP, 22},
    {QTY_RAIL_PRESSURE, 21},
    {QTY_BOOST, 14},
    {QTY_MANIFOLD_PRESSURE, 22},
    {QTY_MANIFOLD_PRESSURE_2, 23},
    {QTY_TURBO_SPEED, 22},
    {QTY_INTAKE_AIR, 19},
    {QTY_CHARGE_AIR, 22},
    {QTY_EGR_TEMP, 22},
    {QTY_FAN, 22},
    {QTY_LOAD, 9},
    {QTY_TORQUE, 18},
    {QTY_FUEL_RATE, 8},
    {QTY_ALTERNATOR, 11},
    {QTY_GEAR, 12},
    {QTY_GEAR_NOW, 23},
    {QTY_BURN_ERROR, 23},
    {QTY_TRIP_BURN, 23},
    {QTY_TRIP_FUEL, 24},
    {QTY_TOTAL_FUEL, 26},
    {QTY_HOURS, 25},
    {QTY_RATED_SPEED, 27},
};

/* The table of tables: which quantity stands in which, in what column; those of one group and place
 * share a row. A new table is a name, and a row here for each of its quantities. */
static const char *const table_names[TABLE_COUNT] = {
    [TABLE_BATTERIES] = "batteries", [TABLE_TANKS] = "tanks",
    [TABLE_WAY] = "way and fuel",    [TABLE_CHARGE] = "charge and inverter",
    [TABLE_AC] = "AC power",         [TABLE_GENERATOR] = "generator",
    [TABLE_AIR] = "air and sea",     [TABLE_OTHER] = "other",
};
static const struct {
    uint16_t quantity;
    uint8_t table, column;
    uint16_t group;
    uint8_t worth;
} table_order[] = {
    {QTY_BATTERY_VOLTS, TABLE_BATTERIES, 0, QTY_BATTERY_VOLTS, 2},
    {QTY_BATTERY_AMPS, TABLE_BATTERIES, 1, QTY_BATTERY_VOLTS, 6},
    {QTY_BATTERY_CHARGE, TABLE_BATTERIES, 2, QTY_BATTERY_VOLTS, 7},
    {QTY_BATTERY_TEMP, TABLE_BATTERIES, 3, QTY_BATTERY_VOLTS, 12},
    {QTY_BATTERY_CAPACITY, TABLE_BATTERIES, 4, QTY_BATTERY_VOLTS, 24},
    {QTY_FUEL_TANK, TABLE_TANKS, 0, QTY_FUEL_TANK, 4},
    {QTY_FUEL_VOLUME, TABLE_TANKS, 1, QTY_FUEL_TANK, 14},
    {QTY_PETROL_TANK, TABLE_TANKS, 0, QTY_PETROL_TANK, 4},
    {QTY_FRESH_WATER_TANK, TABLE_TANKS, 0, QTY_FRESH_WATER_TANK, 8},
    {QTY_BLACK_WATER_TANK, TABLE_TANKS, 0, QTY_BLACK_WATER_TANK, 11},
    {QTY_GREY_WATER_TANK, TABLE_TANKS, 0, QTY_GREY_WATER_TANK, 11},
    {QTY_OIL_TANK, TABLE_TANKS, 0, QTY_OIL_TANK, 12},
    {QTY_LIVE_WELL_TANK, TABLE_TANKS, 0, QTY_LIVE_WELL_TANK, 20},
    {QTY_SPEED_GROUND, TABLE_WAY, 0, QTY_SPEED_GROUND, 3},
    {QTY_SPEED_WATER, TABLE_WAY, 0, QTY_SPEED_WATER, 9},
    {QTY_RANGE, TABLE_WAY, 0, QTY_RANGE, 4},
    {QTY_HOURS_LEFT, TABLE_WAY, 0, QTY_HOURS_LEFT, 8},
    {QTY_BURN, TABLE_WAY, 0, QTY_BURN, 12},
    {QTY_BURN_PER_MILE, TABLE_WAY, 0, QTY_BURN_PER_MILE, 8},
    {QTY_ECONOMY, TABLE_WAY, 0, QTY_ECONOMY, 20},
    {QTY_FUEL_ABOARD, TABLE_WAY, 0, QTY_FUEL_ABOARD, 8},
    {QTY_FUEL_TO_RESERVE, TABLE_WAY, 0, QTY_FUEL_TO_RESERVE, 13},
    /* What is measured beside a converter has its number. */
    {QTY_CHARGER, TABLE_CHARGE, 0, QTY_CHARGER, 7},
    {QTY_INVERTER, TABLE_CHARGE, 0, QTY_INVERTER, 9},
    {QTY_CONVERTER, TABLE_CHARGE, 0, QTY_CONVERTER, 9},
    {QTY_DC_VOLTS, TABLE_CHARGE, 1, QTY_CONVERTER, 12},
    {QTY_DC_AMPS, TABLE_CHARGE, 2, QTY_CONVERTER, 12},
    {QTY_AC_IN_VOLTS, TABLE_AC, 0, QTY_AC_IN_VOLTS, 5},
    {QTY_AC_IN_AMPS, TABLE_AC, 3, QTY_AC_IN_VOLTS, 12},
    {QTY_AC_IN_HERTZ, TABLE_AC, 1, QTY_AC_IN_VOLTS, 10},
    {QTY_AC_IN_WATTS, TABLE_AC, 2, QTY_AC_IN_VOLTS, 12},
    {QTY_AC_OUT_VOLTS, TABLE_AC, 0, QTY_AC_OUT_VOLTS, 9},
    {QTY_AC_OUT_AMPS, TABLE_AC, 3, QTY_AC_OUT_VOLTS, 12},
    {QTY_AC_OUT_HERTZ, TABLE_AC, 1, QTY_AC_OUT_VOLTS, 10},
    {QTY_AC_OUT_WATTS, TABLE_AC, 2, QTY_AC_OUT_VOLTS, 12},
    {QTY_AC_VOLTS, TABLE_AC, 0, QTY_AC_VOLTS, 6},
    {QTY_AC_AMPS, TABLE_AC, 3, QTY_AC_VOLTS, 12},
    {QTY_AC_HERTZ, TABLE_AC, 1, QTY_AC_VOLTS, 10},
    {QTY_AC_WATTS, TABLE_AC, 2, QTY_AC_VOLTS, 12},
    {QTY_ENGINE_SPACE, TABLE_AIR, 0, QTY_ENGINE_SPACE, 1},
    {QTY_SPACE_RISE, TABLE_AIR, 0, QTY_SPACE_RISE, 13},
    {QTY_BLOWER, TABLE_AIR, 0, QTY_BLOWER, 13},
    {QTY_SEA, TABLE_AIR, 0, QTY_SEA, 5},
    {QTY_OUTSIDE_AIR, TABLE_AIR, 0, QTY_OUTSIDE_AIR, 10},
    {QTY_INSIDE_AIR, TABLE_AIR, 0, QTY_INSIDE_AIR, 15},
    {QTY_CABIN, TABLE_AIR, 0, QTY_CABIN, 15},
    {QTY_HUMIDITY, TABLE_AIR, 0, QTY_HUMIDITY, 21},
    {QTY_PRESSURE, TABLE_AIR, 0, QTY_PRESSURE, 21},
    {QTY_DEW_POINT, TABLE_AIR, 0, QTY_DEW_POINT, 22},
    {QTY_WIND_CHILL_APPARENT, TABLE_AIR, 0, QTY_WIND_CHILL_APPARENT, 25},
    {QTY_WIND_CHILL, TABLE_AIR, 0, QTY_WIND_CHILL, 25},
    {QTY_HEAT_INDEX, TABLE_AIR, 0, QTY_HEAT_INDEX, 25},
    {QTY_SHAFT_SEAL, TABLE_OTHER, 0, QTY_SHAFT_SEAL, 3},
};
enum { TABLE_ORDER = sizeof table_order / sizeof table_order[0] };

/* Where a quantity's own label is too short to be understood by a stranger. */
static const struct {
    uint16_t quantity;
    const char *name;
} names[] = {
    {QTY_HOURS_LEFT, "fuel lasts"},         {QTY_BURN, "burn, all"},
    {QTY_FUEL_TO_RESERVE, "above reserve"}, {QTY_TRIP_BURN, "burnt, trip"},
    {QTY_TRIP_FUEL, "trip counter"},        {QTY_SPACE_RISE, "above outside"},
};

const char *rows_table_name(enum row_table t)
{
    return table_names[t < TABLE_COUNT ? t : TABLE_OTHER];
}

const char *rows_name(const struct model_channel *c)
{
    const struct quantity_info *info = quantity_info((enum quantity)c->id.quantity);
    if (strcmp(c->label, info->label) != 0)
        return c->label;
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        if (names[i].quantity == c->id.quantity)
            return names[i].name;
    return c->label;
}

/* The channel's place in the user's panes; -1 where it is in none. */
static int pane_order(const struct model *m, const struct model_channel *c)
{
    for (size_t p = 0; p < m->pane_count; p++)
        for (int i = 0; i < m->panes[p].count; i++) {
            struct channel_id id = m->panes[p].ids[i].id;
            if (id.quantity == c->id.quantity &&
                (m->panes[p].ids[i].any_place || channel_id_same(id, c->id)))
                return (int)p * PANE_CHANNELS_MAX + i;
        }
    return -1;
}

bool rows_is_derived(const struct model_channel *c)
{
    return c->id.quantity >= QTY_BURN && c->id.quantity < QTY_COUNT;
}

bool rows_is_flat(const struct model_channel *c)
{
    static const uint16_t flat[] = {
        QTY_HOURS,      QTY_GEAR,        QTY_GEAR_NOW,        QTY_TRIP_FUEL, QTY_TRIP_BURN,
        QTY_TOTAL_FUEL, QTY_BLOWER,      QTY_SWITCH,          QTY_CHARGER,   QTY_INVERTER,
        QTY_CONVERTER,  QTY_RATED_SPEED, QTY_BATTERY_CAPACITY};
    for (size_t i = 0; i < sizeof flat / sizeof flat[0]; i++)
        if (flat[i] == c->id.quantity)
            return true;
    return false;
}

static void rank_twin(struct board_row *row)
{
    row->order = 100 + row->first->id.quantity;
    row->worth = 30 + row->first->id.quantity;
    for (size_t i = 0; i < sizeof twin_order / sizeof twin_order[0]; i++)
        if (twin_order[i].quantity == row->first->id.quantity) {
            row->order = (int)i;
            row->worth = twin_order[i].worth;
        }
}

/* The place of a channel in the table of tables; TABLE_ORDER where it has none. */
static int table_at(const struct model_channel *c)
{
    int i = 0;
    while (i < TABLE_ORDER && table_order[i].quantity != c->id.quantity)
        i++;
    return c->engine >= 0 ? TABLE_ORDER : i;
}

/* Alternating current that is not there: a berth was left, a generator stands. */
static bool is_dead(const struct board_row *row)
{
    enum { LIVE_V = 20 };
    const struct model_channel *c = row->side[0];
    return row->table == TABLE_AC && c &&
           (c->off || (c->status == READING_OK && c->value < LIVE_V));
}

static void weigh(struct board_row *row, const struct model *m)
{
    int pane = -1;
    if (is_dead(row))
        row->worth += 20;
    for (int s = 0; s < ROW_CELLS; s++) {
        int at = row->side[s] ? pane_order(m, row->side[s]) : -1;
        if (at >= 0 && (pane < 0 || at < pane))
            pane = at;
    }
    if (pane >= 0) /* as the user ordered them, and what comes first matters most */
        row->order = pane, row->worth = pane;
    for (int s = 0; s < ROW_CELLS; s++) {
        const struct model_channel *c = row->side[s];
        if (c && c->alert >= 0) {
            int weight = -1 - (int)m->alerts[c->alert]->priority * 100;
            if (weight < row->worth)
                row->worth = weight;
        }
    }
}

bool rows_holds(const char *text, const char *letters)
{
    size_t n = strlen(letters);
    for (; *text; text++)
        if (strncasecmp(text, letters, n) == 0)
            return true;
    return n == 0;
}

bool rows_wanted(const struct model_channel *c, const char *filter)
{
    if (filter && *filter)
        return rows_holds(c->label, filter) || rows_holds(c->key, filter) ||
               rows_holds(c->place, filter);
    /* A switch that is off, and says so, is nothing to look at. */
    return c->id.quantity != QTY_SWITCH || c->status != READING_OK || c->value > 0.5 ||
           c->alert >= 0;
}

static struct board_row *twin_of(struct board_rows *rows, uint16_t quantity)
{
    for (int i = 0; i < rows->twin_count; i++)
        if (rows->twins[i].first->id.quantity == quantity)
            return &rows->twins[i];
    if (rows->twin_count == ROWS_MAX)
        return NULL;
    return &rows->twins[rows->twin_count++];
}

static int by_order(const void *a, const void *b)
{
    const struct board_row *p = a, *q = b;
    if (p->table != q->table)
        return p->table < q->table ? -1 : 1;
    if (p->order != q->order)
        return p->order < q->order ? -1 : 1;
    if (p->first->second != q->first->second)
        return p->first->second ? 1 : -1;
    if (p->first->id.place != q->first->id.place)
        return p->first->id.place < q->first->id.place ? -1 : 1;
    return strcmp(p->first->key, q->first->key);
}

/* What belongs to no side of the keel: a generator's own, or what has no table. */
static struct board_row row_apart(const struct board_rows *rows, const struct model_channel *c)
{
    struct board_row row = {.table = TABLE_OTHER,
                            .group = -1,
                            .order = TABLE_ORDER + c->id.quantity,
                            .worth = 30 + c->id.quantity};
    if (c->engine >= rows->engines && !c->second) {
        row.first = c;
        rank_twin(&row);
        row.table = TABLE_GENERATOR;
        row.worth += c->off ? 28 : 3; /* the engines that drive the boat come first */
    }
    return row;
}

/* The row of a table that the channel belongs to, made where it is missing; its column in *column.
 * NULL where there is no room. What a second sender says has a row of its own. */
static struct board_row *table_row(struct board_rows *rows, const struct model_channel *c,
                                   int *column)
{
    int at = table_at(c);
    bool known = at < TABLE_ORDER;
    int group = known && !c->second ? table_order[at].group : -1;
    *column = group >= 0 ? table_order[at].column : 0;
    for (int i = 0; i < rows->plain_count && group >= 0; i++) {
        struct board_row *row = &rows->plains[i];
        if (row->group == group && row->first->id.place == c->id.place && !row->side[*column] &&
            row->first->id.sub == c->id.sub)
            return row;
    }
    if (rows->plain_count == PLAINS_MAX)
        return NULL;
    struct board_row *row = &rows->plains[rows->plain_count++];
    *row = row_apart(rows, c);
    if (known)
        *row = (struct board_row){.table = (enum row_table)table_order[at].table,
                                  .group = group,
                                  .order = at,
                                  .worth = table_order[at].worth};
    /* A battery stands where its volts would, whichever of it is heard first. */
    for (int i = 0; group >= 0 && i < at; i++)
        if (table_order[i].quantity == group)
            row->order = i;
    if (c->second)
        row->worth += 20;
    return row;
}

static void take_plain(struct board_rows *rows, const struct model_channel *c)
{
    int column, at = table_at(c);
    struct board_row *row = table_row(rows, c, &column);
    if (!row) {
        rows->left_out++;
        return;
    }
    row->side[column] = c;
    if (!row->first || column == 0)
        row->first = c;
    if (at < TABLE_ORDER && row->group >= 0 && table_order[at].worth < row->worth)
        row->worth = table_order[at].worth;
}

void rows_fill(struct board_rows *rows, const struct model *m, const char *filter)
{
    *rows = (struct board_rows){0};
    rows->engines = m->engines;
    rows->sides = m->engines > ROW_SIDES ? ROW_SIDES : m->engines;
    for (size_t i = 0; i < m->channel_count; i++) {
        const struct model_channel *c = &m->channels[i];
        if (!rows_wanted(c, filter))
            continue;
        /* What is in trouble shows whether the user asked for it or not. */
        if (m->pane_count && !*filter && c->alert < 0 && pane_order(m, c) < 0)
            continue;
        struct board_row *row = NULL;
        int side = 0;
        if (!c->second && c->engine >= 0 && c->engine < rows->sides) {
            row = twin_of(rows, c->id.quantity);
            side = c->engine;
        } else {
            take_plain(rows, c);
            continue;
        }
        if (!row) {
            rows->left_out++;
            continue;
        }
        if (!row->first || side == 0)
            row->first = c;
        row->side[side] = c;
    }
    for (int i = 0; i < rows->twin_count; i++) {
        rank_twin(&rows->twins[i]);
        weigh(&rows->twins[i], m);
    }
    for (int i = 0; i < rows->plain_count; i++)
        weigh(&rows->plains[i], m);
    qsort(rows->twins, (size_t)rows->twin_count, sizeof rows->twins[0], by_order);
    qsort(rows->plains, (size_t)rows->plain_count, sizeof rows->plains[0], by_order);
}

static bool is_about(const struct board_row *row, const char *key)
{
    for (int s = 0; key && s < ROW_CELLS; s++)
        if (row->side[s] && strcmp(row->side[s]->key, key) == 0)
            return true;
    return false;
}

int rows_least(const struct board_row *rows, int count, const char *chosen)
{
    int least = -1;
    for (int i = 0; i < count; i++)
        if (!is_about(&rows[i], chosen) && (least < 0 || rows[i].worth >= rows[least].worth))
            least = i;
    return least < 0 ? count - 1 : least;
}

int rows_keep(struct board_row *rows, int *count, int keep, const char *chosen)
{
    int out = 0;
    if (keep < 0)
        keep = 0;
    while (*count > keep) {
        int least = rows_least(rows, *count, chosen);
        memmove(&rows[least], &rows[least + 1], (size_t)(*count - least - 1) * sizeof rows[0]);
        (*count)--;
        out++;
    }
    return out;
}

const struct alert *rows_alert(const struct model *m, const struct board_row *row)
{
    int worst = -1;
    for (int s = 0; s < ROW_CELLS; s++) {
        const struct model_channel *c = row->side[s];
        if (c && c->alert >= 0 && (worst < 0 || c->alert < worst))
            worst = c->alert;
    }
    return worst < 0 ? NULL : m->alerts[worst];
}

/* Whether another place has the same quantity by the same name, so that only a number tells them
 * apart. */
static bool is_one_of_several(const struct model *m, const struct model_channel *c)
{
    for (size_t i = 0; i < m->channel_count; i++) {
        const struct model_channel *o = &m->channels[i];
        if (o != c && o->id.quantity == c->id.quantity && !o->second && !c->second &&
            strcmp(o->label, c->label) == 0)
            return true;
    }
    return false;
}

static bool is_own_name(const struct model_channel *c)
{
    return strcmp(c->label, quantity_info((enum quantity)c->id.quantity)->label) != 0;
}

static bool is_ac(const struct model_channel *c)
{
    return c->id.quantity >= QTY_AC_IN_VOLTS && c->id.quantity <= QTY_AC_WATTS;
}

/* The generator whose box sends the channel, as the model counts engines; -1: none does. */
static int generator_of(const struct model *m, const struct model_channel *c)
{
    for (size_t i = 0; i < m->channel_count; i++) {
        const struct model_channel *o = &m->channels[i];
        if (o->engine >= m->engines && o->source == c->source && o->iface == c->iface)
            return o->engine;
    }
    return -1;
}

static void in_small(char *text)
{
    for (; *text; text++)
        *text = (char)tolower((unsigned char)*text);
}

/* "AC in", "generator 1", "AC out 2 L3": numbers only where they tell something apart. */
static void ac_label(const struct model *m, const struct model_channel *c, char *dst, size_t cap)
{
    bool measured = c->id.quantity >= QTY_AC_VOLTS;
    int generator = measured && !is_own_name(c) ? generator_of(m, c) : -1;
    bool places = false, lines = false;
    for (size_t i = 0; i < m->channel_count; i++) {
        const struct model_channel *o = &m->channels[i];
        bool same = o->id.quantity == c->id.quantity && !o->second;
        places |= same && o->id.place != c->id.place;
        lines |= same && o->id.place == c->id.place && o->id.sub != c->id.sub;
    }
    text_copy(dst, cap, generator >= 0 ? m->engine_names[generator] : rows_name(c));
    if (generator >= 0)
        in_small(dst);
    else if (places)
        text_append(dst, cap, " %d", c->id.place);
    if (lines)
        text_append(dst, cap, " L%d", c->id.sub);
}

/* What the places of a table are called, where that is not a quantity's own name. */
static const struct {
    uint16_t group;
    const char *name;
} place_names[] = {
    {QTY_BATTERY_VOLTS, "battery"},
    {QTY_FUEL_TANK, "fuel tank"},
    {QTY_CONVERTER, "converter"},
};

static const char *place_name(int group)
{
    for (size_t i = 0; i < sizeof place_names / sizeof place_names[0]; i++)
        if (place_names[i].group == group)
            return place_names[i].name;
    return NULL;
}

/* Of a battery the user may have named any one of its quantities. */
const char *rows_place(const struct model *m, const struct board_row *row, bool headed, char *dst,
                       size_t cap)
{
    const struct model_channel *named = row->first;
    if (row->table == TABLE_GENERATOR && headed && m->engine_names[named->engine][0]) {
        /* The heading says what it is of: "speed", or "speed 2" where there are several. */
        const char *number = strchr(m->engine_names[named->engine], ' ');
        text_format(dst, cap, "%s%s", rows_name(named), number ? number : "");
        return dst;
    }
    for (int s = 0; s < ROW_CELLS && row->group >= 0; s++)
        if (row->side[s] && is_own_name(row->side[s]))
            named = row->side[s];
    if (is_own_name(named) || !place_name(row->group))
        return rows_plain_label(m, named, dst, cap);
    text_copy(dst, cap, place_name(row->group));
    if (is_one_of_several(m, named))
        text_append(dst, cap, " %d", named->id.place);
    return dst;
}

const char *rows_plain_label(const struct model *m, const struct model_channel *c, char *dst,
                             size_t cap)
{
    char place[24] = "";
    const struct quantity_info *info = quantity_info((enum quantity)c->id.quantity);
    if (c->engine >= 0 && c->place[0] && m->engines > 1) {
        text_format(place, sizeof place, "%s ", c->place);
        in_small(place);
    }
    text_format(dst, cap, "%s%s", place, rows_name(c));
    if (is_ac(c))
        ac_label(m, c, dst, cap);
    else if (c->id.quantity == QTY_PRESSURE && c->id.place == 0) /* source 0 of IEC 61162-3 */
        text_copy(dst, cap, "barometer");
    else if (info->place == PLACE_PAIR)
        text_append(dst, cap, " %d.%d", c->id.place, c->id.sub);
    else if (info->place == PLACE_INSTANCE && is_one_of_several(m, c))
        text_append(dst, cap, " %d", c->id.place);
    const char *at = strchr(c->key, '@');
    if (c->second && at)
        text_append(dst, cap, " %s", at);
    return dst;
}

/* The longest beginning of text in w columns, cut in place. */
static void cut(char *text, int w)
{
    const char *end = text;
    for (const char *s = text; *s && w >= 0;) {
        w -= char_width(utf8_next(&s));
        if (w >= 0)
            end = s;
    }
    text[end - text] = '\0';
}

const char *rows_shorten(const struct grid *g, const char *label, int w, char *dst, size_t cap)
{
    static const char side[] = "starboard ";
    char text[96];
    text_copy(text, sizeof text, label);
    if (grid_width(g, text) > w && strncmp(text, side, sizeof side - 1) == 0)
        text_format(text, sizeof text, "stbd %s", label + sizeof side - 1);
    char *at = strrchr(text, ' ');
    if (!at || at[1] != '@' || grid_width(g, text) <= w) {
        text_copy(dst, cap, text);
        return dst;
    }
    char tail[24];
    text_copy(tail, sizeof tail, at);
    *at = '\0';
    cut(text, w - grid_width(g, tail) - 1);
    text_format(dst, cap, "%s\u2026%s", text, tail);
    return dst;
}

const char *rows_short_label(const struct grid *g, const struct model *m,
                             const struct model_channel *c, int w, char *dst, size_t cap)
{
    char label[96], tail[80];
    rows_plain_label(m, c, label, sizeof label);
    const char *at = c->second ? strchr(c->key, '@') : NULL;
    if (at && grid_width(g, label) > w) { /* the place is in the alert's words, and in the key */
        text_format(tail, sizeof tail, "%s %s", rows_name(c), at);
        text_copy(label, sizeof label, tail);
    }
    return rows_shorten(g, label, w, dst, cap);
}
