#include "screen/rows.h"

#include "base/text.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "base/banned.h"

/* From the top, and what matters most: two different orders. */
static const struct {
    uint16_t quantity;
    uint8_t worth;
} order[] = {
    {QTY_RPM, 3},
    {QTY_EXHAUST, 1},
    {QTY_EXHAUST_GAS, 5},
    {QTY_COOLANT, 2},
    {QTY_OIL_PRESSURE, 4},
    {QTY_OIL_TEMP, 10},
    {QTY_GEAR_OIL_PRESSURE, 16},
    {QTY_GEAR_OIL_TEMP, 15},
    {QTY_COOLANT_PRESSURE, 13},
    {QTY_FUEL_PRESSURE, 17},
    {QTY_FUEL_TEMP, 22},
    {QTY_BOOST, 14},
    {QTY_LOAD, 9},
    {QTY_TORQUE, 18},
    {QTY_FUEL_RATE, 8},
    {QTY_ALTERNATOR, 11},
    {QTY_GEAR, 12},
    {QTY_BURN_ERROR, 23},
    {QTY_TRIP_BURN, 23},
    {QTY_TRIP_FUEL, 24},
    {QTY_HOURS, 25},
    {QTY_ENGINE_SPACE, 1},
    {QTY_FUEL_TANK, 4},
    {QTY_PETROL_TANK, 4},
    {QTY_FUEL_ABOARD, 8},
    {QTY_FUEL_VOLUME, 14},
    {QTY_FUEL_TO_RESERVE, 13},
    {QTY_RANGE, 4},
    {QTY_HOURS_LEFT, 8},
    {QTY_BURN, 12},
    {QTY_BURN_PER_MILE, 8},
    {QTY_ECONOMY, 20},
    {QTY_BATTERY_VOLTS, 2},
    {QTY_SPEED_GROUND, 3},
    {QTY_SEA, 5},
    {QTY_SPACE_RISE, 13},
    {QTY_BLOWER, 13},
    {QTY_BATTERY_AMPS, 6},
    {QTY_BATTERY_CHARGE, 7},
    {QTY_BATTERY_TEMP, 12},
    {QTY_SHAFT_SEAL, 3},
    {QTY_SPEED_WATER, 9},
    {QTY_OUTSIDE_AIR, 10},
    {QTY_FRESH_WATER_TANK, 8},
    {QTY_BLACK_WATER_TANK, 11},
    {QTY_GREY_WATER_TANK, 11},
    {QTY_FUEL_ABOARD, 5},
    {QTY_RANGE, 6},
    {QTY_HOURS_LEFT, 13},
    {QTY_BURN, 12},
    {QTY_FUEL_TO_RESERVE, 13},
    {QTY_BURN_PER_MILE, 14},
    {QTY_ECONOMY, 15},
    {QTY_BLOWER, 8},
    {QTY_SPACE_RISE, 16},
    {QTY_FUEL_VOLUME, 22},
    {QTY_TRIP_BURN, 26},
};

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
    return c->id.quantity == QTY_HOURS || c->id.quantity == QTY_GEAR ||
           c->id.quantity == QTY_TRIP_FUEL || c->id.quantity == QTY_TRIP_BURN ||
           c->id.quantity == QTY_BLOWER || c->id.quantity == QTY_SWITCH;
}

static void rank(struct board_row *row)
{
    const struct model_channel *c = row->first;
    row->order = 100 + c->id.quantity;
    row->worth = 30 + c->id.quantity;
    for (size_t i = 0; i < sizeof order / sizeof order[0]; i++)
        if (order[i].quantity == c->id.quantity) {
            row->order = (int)i;
            row->worth = order[i].worth;
        }
    row->flat = rows_is_flat(c);
    row->order = row->order * 256 + (c->second ? 255 : c->id.place);
    if (c->second)
        row->worth += 20;
}

static void weigh(struct board_row *row, const struct model *m)
{
    int pane = pane_order(m, row->first);
    if (pane >= 0) /* as the user ordered them, and what comes first matters most */
        row->order = pane * 256 + row->order % 256, row->worth = pane;
    for (int s = 0; s < ROW_SIDES; s++) {
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
    if (p->order != q->order)
        return p->order < q->order ? -1 : 1;
    return strcmp(p->first->key, q->first->key);
}

void rows_fill(struct board_rows *rows, const struct model *m, const char *filter)
{
    *rows = (struct board_rows){0};
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
        } else if (rows->plain_count < PLAINS_MAX) {
            row = &rows->plains[rows->plain_count++];
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
        rank(&rows->twins[i]);
        weigh(&rows->twins[i], m);
    }
    for (int i = 0; i < rows->plain_count; i++) {
        rank(&rows->plains[i]);
        weigh(&rows->plains[i], m);
    }
    qsort(rows->twins, (size_t)rows->twin_count, sizeof rows->twins[0], by_order);
    qsort(rows->plains, (size_t)rows->plain_count, sizeof rows->plains[0], by_order);
}

static bool is_about(const struct board_row *row, const char *key)
{
    for (int s = 0; key && s < ROW_SIDES; s++)
        if (row->side[s] && strcmp(row->side[s]->key, key) == 0)
            return true;
    return false;
}

int rows_keep(struct board_row *rows, int *count, int keep, const char *chosen)
{
    int out = 0;
    if (keep < 0)
        keep = 0;
    while (*count > keep) {
        int least = 0;
        for (int i = 1; i < *count; i++) {
            bool spare = is_about(&rows[i], chosen), spare_least = is_about(&rows[least], chosen);
            if (spare_least || (!spare && rows[i].worth >= rows[least].worth))
                least = i;
        }
        memmove(&rows[least], &rows[least + 1], (size_t)(*count - least - 1) * sizeof rows[0]);
        (*count)--;
        out++;
    }
    return out;
}

const char *rows_plain_label(const struct model *m, const struct model_channel *c, char *dst,
                             size_t cap)
{
    char place[24] = "";
    const struct quantity_info *info = quantity_info((enum quantity)c->id.quantity);
    if (c->engine >= 0 && c->place[0] && m->engines > 1) {
        text_format(place, sizeof place, "%s ", c->place);
        for (char *p = place; *p; p++)
            *p = (char)tolower((unsigned char)*p);
    }
    text_format(dst, cap, "%s%s", place, c->label);
    bool several = false;
    for (size_t i = 0; i < m->channel_count; i++) {
        const struct model_channel *o = &m->channels[i];
        several |= o != c && o->id.quantity == c->id.quantity && !o->second && !c->second &&
                   strcmp(o->label, c->label) == 0;
    }
    if (info->place == PLACE_PAIR)
        text_append(dst, cap, " %d.%d", c->id.place, c->id.sub);
    else if (several && info->place == PLACE_INSTANCE)
        text_append(dst, cap, " %d", c->id.place);
    const char *at = strchr(c->key, '@');
    if (c->second && at)
        text_append(dst, cap, " %s", at);
    return dst;
}

const char *rows_short_label(const struct grid *g, const struct model *m,
                             const struct model_channel *c, int w, char *dst, size_t cap)
{
    static const char side[] = "starboard ";
    char text[96], tail[24] = "";
    rows_plain_label(m, c, text, sizeof text);
    if (grid_width(g, text) > w && strncmp(text, side, sizeof side - 1) == 0) {
        text_format(dst, cap, "stbd %s", text + sizeof side - 1);
        text_copy(text, sizeof text, dst);
    }
    char *at = c->second ? strrchr(text, ' ') : NULL;
    if (!at || grid_width(g, text) <= w) {
        text_copy(dst, cap, text);
        return dst;
    }
    text_copy(tail, sizeof tail, at);
    text_copy(text, sizeof text, c->label); /* the place is in the alert's words, and in the key */
    if (grid_width(g, text) + grid_width(g, tail) <= w) {
        text_format(dst, cap, "%s%s", text, tail);
        return dst;
    }
    int room = w - grid_width(g, tail) - 1;
    const char *end = text;
    for (const char *s = text; *s && room >= 0;) {
        room -= char_width(utf8_next(&s));
        if (room >= 0)
            end = s;
    }
    text[end - text] = '\0';
    text_format(dst, cap, "%s\u2026%s", text, tail);
    return dst;
}
