#include "screen/tables.h"

#include "base/text.h"
#include "screen/bars.h"
#include "screen/glyphs.h"

#include <string.h>

#include "base/banned.h"

enum {
    BLOCK_LEAST = 25, /* the narrowest block that says something */
    BLOCK_GOOD = 40,  /* has all columns */
    BLOCK_MOST = 44,
    CELL_W = 7,     /* a value with its blank */
    NAME_LEAST = 9, /* "battery 0" */
    END_W = 4,      /* a state letter, or "old" */
    UNIT_W = 6,
    END_FROM = 31, /* in a narrower block the unit gives up its place to an age */
    BAR_W = 8,
    BAR_FROM = 34, /* a block this wide has bars */
};

/* ---- where the tables stand ---- */

/* Blocks of at least this width side by side, no more than there are tables. */
static int blocks_across(const struct board_rows *rows, int width, int least)
{
    int tables = 0, n = width / least;
    for (int i = 0; i < rows->plain_count; i++)
        tables += i == 0 || rows->plains[i].table != rows->plains[i - 1].table;
    n = n > TABLES_BLOCKS ? TABLES_BLOCKS : n < 1 ? 1 : n;
    return n > tables && tables > 0 ? tables : n;
}

/* Each table under the column that is lowest yet; returns the height of the highest. */
static int pack(struct tables_plan *plan, const struct board_rows *rows, struct rect r, int across,
                int height[TABLES_BLOCKS])
{
    int w = r.w / across, highest = 0;
    if (w > BLOCK_MOST && across > 1)
        w = BLOCK_MOST;
    memset(height, 0, TABLES_BLOCKS * sizeof height[0]);
    plan->count = 0;
    plan->headings = true;
    for (int i = 0; i < rows->plain_count;) {
        int end = i, lowest = 0;
        while (end < rows->plain_count && rows->plains[end].table == rows->plains[i].table)
            end++;
        for (int k = 1; k < across; k++)
            if (height[k] < height[lowest])
                lowest = k;
        plan->block[plan->count].first = i;
        plan->block[plan->count].count = end - i;
        plan->block[plan->count++].r =
            (struct rect){r.x + lowest * w, r.y + height[lowest], w, 1 + end - i};
        height[lowest] += 1 + end - i;
        if (height[lowest] > highest)
            highest = height[lowest];
        i = end;
    }
    return highest;
}

int tables_lines(const struct board_rows *rows, int width, int most)
{
    struct tables_plan plan;
    struct rect r = {0, 0, width, 0};
    int height[TABLES_BLOCKS];
    int good = pack(&plan, rows, r, blocks_across(rows, width, BLOCK_GOOD), height);
    return good <= most ? good
                        : pack(&plan, rows, r, blocks_across(rows, width, BLOCK_LEAST), height);
}

/* Without headings: down the columns, so that the order reads on when their number changes. */
static int fit_plain(struct tables_plan *plan, struct board_rows *rows, struct rect r,
                     const char *chosen)
{
    int across = r.w / (BLOCK_LEAST + 10);
    across = across < 1 ? 1 : across > TABLES_BLOCKS ? TABLES_BLOCKS : across;
    int out = rows_keep(rows->plains, &rows->plain_count, r.h * across, chosen);
    *plan = (struct tables_plan){0};
    for (int i = 0; i < rows->plain_count && r.h > 0; i += r.h) {
        int left = rows->plain_count - i;
        plan->block[plan->count].first = i;
        plan->block[plan->count].count = left < r.h ? left : r.h;
        plan->block[plan->count].r = (struct rect){r.x + plan->count * (r.w / across), r.y,
                                                   r.w / across, left < r.h ? left : r.h};
        plan->count++;
    }
    return out;
}

/* The rows of all that are taken, packed; the height of the highest column. */
static int pack_taken(struct tables_plan *plan, struct board_rows *rows, struct rect r,
                      const struct board_row *all, const bool *taken, int n)
{
    int height[TABLES_BLOCKS];
    rows->plain_count = 0;
    for (int i = 0; i < n; i++)
        if (taken[i])
            rows->plains[rows->plain_count++] = all[i];
    return pack(plan, rows, r, blocks_across(rows, r.w, BLOCK_LEAST), height);
}

/* Where there is no room for all: each row in turn, those that matter most first, is taken if it
 * fits with those that are; a table's first needs a line for the heading too. Returns how many are
 * left out. */
static int fit_best(struct tables_plan *plan, struct board_rows *rows, struct rect r,
                    const char *chosen)
{
    struct board_row all[PLAINS_MAX], left[PLAINS_MAX];
    bool taken[PLAINS_MAX] = {false};
    int n = rows->plain_count, at[PLAINS_MAX], order[PLAINS_MAX];
    memcpy(all, rows->plains, (size_t)n * sizeof all[0]);
    memcpy(left, all, (size_t)n * sizeof all[0]);
    for (int i = 0; i < n; i++)
        at[i] = i;
    for (int i = n - 1; i >= 0; i--) {
        int least = rows_least(left, i + 1, chosen);
        order[i] = at[least];
        memmove(&left[least], &left[least + 1], (size_t)(i - least) * sizeof left[0]);
        memmove(&at[least], &at[least + 1], (size_t)(i - least) * sizeof at[0]);
    }
    for (int i = 0; i < n; i++) {
        taken[order[i]] = true;
        taken[order[i]] = pack_taken(plan, rows, r, all, taken, n) <= r.h;
    }
    pack_taken(plan, rows, r, all, taken, n);
    return n - rows->plain_count;
}

int tables_fit(struct tables_plan *plan, struct board_rows *rows, struct rect r, const char *chosen)
{
    int height[TABLES_BLOCKS];
    if (r.h < 3)
        return fit_plain(plan, rows, r, chosen);
    /* Wide blocks while all rows fit into them. */
    int most = blocks_across(rows, r.w, BLOCK_LEAST);
    for (int n = blocks_across(rows, r.w, BLOCK_GOOD); n < most; n++)
        if (pack(plan, rows, r, n, height) <= r.h)
            return 0;
    if (pack(plan, rows, r, most, height) <= r.h)
        return 0;
    return fit_best(plan, rows, r, chosen);
}

int tables_at(const struct tables_plan *plan, const struct board_rows *rows, int x, int y,
              int *side)
{
    for (int i = 0; i < plan->count; i++) {
        struct rect r = plan->block[i].r;
        int row = y - r.y - plan->headings;
        if (x < r.x || x >= r.x + r.w || row < 0 || row >= plan->block[i].count)
            continue;
        row += plan->block[i].first;
        *side = 0;
        while (*side < ROW_CELLS - 1 && !rows->plains[row].side[*side])
            ++*side;
        return row;
    }
    return -1;
}

/* ---- drawing ---- */

struct pen {
    struct grid *g;
    const struct model *m;
    const struct ui *ui;
    bool headed; /* the table's name stands over its rows */
};

static const char *unit_words(const struct pen *p, const struct model_channel *c)
{
    enum unit u = model_unit(&p->m->units, c->unit);
    return p->g->ascii ? unit_ascii(u) : unit_text(u);
}

static enum role cell_role(const struct pen *p, const struct model_channel *c)
{
    if ((c->status != READING_OK && c->status != READING_ERROR) || c->off)
        return ROLE_DIM;
    return c->alert >= 0 ? priority_role(p->m->alerts[c->alert]->priority) : ROLE_VALUE;
}

static const char *cell_text(const struct pen *p, const struct model_channel *c, char *dst,
                             size_t cap)
{
    model_reading_text(p->m, c, dst, cap);
    if (c->id.quantity == QTY_BATTERY_AMPS && c->status == READING_OK && c->value > 0) {
        char bare[32];
        text_copy(bare, sizeof bare, dst);
        text_format(dst, cap, "+%s", bare); /* into the battery */
    }
    return dst;
}

static void draw_cell(const struct pen *p, int x, int y, int w, const struct model_channel *c)
{
    char text[32];
    int chosen = strcmp(c->key, p->ui->chosen) == 0 ? ATTR_UNDERLINE : 0;
    grid_text_right(p->g, x, y, w, cell_text(p, c, text, sizeof text), cell_role(p, c), chosen);
}

/* Of the columns of a table: volts, amperes, per cent, degrees, ampere hours; per cent, litres;
 * state, volts, amperes; volts, hertz, watts, amperes. The others have none: a reading a row. */
static const int widths[TABLE_COUNT][ROW_CELLS] = {
    [TABLE_BATTERIES] = {6, 5, 5, 4, 6},
    [TABLE_TANKS] = {6, 7},
    [TABLE_CHARGE] = {13, 6, 6},
    [TABLE_AC] = {5, 6, 8, 6},
};

static bool has_columns(enum row_table t)
{
    return widths[t][0] > 0;
}

/* What says that something in the row is not of now; NULL where all of it is. */
static const char *old_word(const struct board_row *row)
{
    for (int s = 0; s < ROW_CELLS; s++) {
        const struct model_channel *c = row->side[s];
        if (c && (c->off || c->status == READING_STALE))
            return c->off ? "off" : "old";
    }
    return NULL;
}

/* At the end of a row: the letter of its alert, or, with room for a word, that what stands there is
 * old. */
static void draw_end(const struct pen *p, int x, int y, const struct board_row *row, bool word)
{
    const struct alert *a = rows_alert(p->m, row);
    const char *old = old_word(row);
    if (a) {
        bool pending = a->state != ALERT_ACKNOWLEDGED && a->priority != PRIORITY_CAUTION;
        grid_put(p->g, x, y, (uint32_t)alert_priority_letter(a->priority),
                 priority_role(a->priority), pending && p->ui->flash ? ATTR_REVERSE : 0);
    } else if (old && word) {
        grid_text(p->g, x, y, 3, old, ROLE_DIM, 0);
    }
}

static bool is_level(const struct model_channel *c)
{
    return c->id.quantity >= QTY_FUEL_TANK && c->id.quantity <= QTY_PETROL_TANK;
}

static void draw_bar(const struct pen *p, int x, int y, const struct model_channel *c)
{
    int full = (int)(c->value / 100 * BAR_W + 0.5);
    if (c->status != READING_OK || c->off)
        return;
    for (int i = 0; i < BAR_W; i++)
        grid_put(p->g, x + i, y, i < full ? GLYPH_HEAVY_LINE : GLYPH_LINE,
                 i < full ? ROLE_TREND : ROLE_KEEL, 0);
}

static void draw_name(const struct pen *p, int x, int y, int w, const struct board_row *row)
{
    char label[96], text[96];
    const struct alert *a = rows_alert(p->m, row);
    if (row->group < 0 && row->table != TABLE_GENERATOR)
        rows_short_label(p->g, p->m, row->first, w, text, sizeof text);
    else
        rows_shorten(p->g, rows_place(p->m, row, p->headed, label, sizeof label), w, text,
                     sizeof text);
    grid_text(p->g, x, y, w, text, a ? priority_role(a->priority) : ROLE_LABEL, 0);
}

/* One reading: name, value, unit, arrow and rate, and for a limit that is passed the limit. */
static void draw_single(const struct pen *p, struct rect r, const struct board_row *row)
{
    const struct model_channel *c = row->first;
    char text[32];
    bool tight = r.w < END_FROM;
    int name_w = r.w - 1 - CELL_W - UNIT_W - (tight ? 0 : END_W - 1);
    if (name_w > 18)
        name_w = 18;
    int x = r.x + 1 + name_w;
    draw_name(p, r.x + 1, r.y, name_w, row);
    draw_cell(p, x, r.y, CELL_W, c);
    x += CELL_W + 1;
    /* Where it is tight, that a value is old stands in the place of its unit. */
    const char *unit = unit_words(p, c), *age = old_word(row);
    int unit_w = tight && rows_alert(p->m, row) ? UNIT_W - 3 : UNIT_W - 1;
    grid_text(p->g, x, r.y, unit_w, tight && age ? age : unit, ROLE_DIM, 0);
    x += UNIT_W - 1;
    if (x + 2 < r.x + r.w - END_W && c->status == READING_OK && !c->off && model_rate_step(c)) {
        enum role role = c->alert >= 0 ? cell_role(p, c) : ROLE_DIM;
        grid_put(p->g, x, r.y, glyph_arrow(model_rate_step(c)), role, 0);
        model_rate_text(p->m, c, text, sizeof text);
        if (x + 8 < r.x + r.w - END_W)
            grid_text(p->g, x + 2, r.y, 6, text, role, 0);
    }
    draw_end(p, r.x + r.w - (tight ? 2 : END_W - 1), r.y, row, !tight);
}

/* How wide each column is: those that some row has, as many as w has room for, the first ones
 * first; 0 for one that is not shown. Returns their width. */
static int columns_of(const struct pen *p, const struct board_row *rows, int n, int w,
                      int width[ROW_CELLS])
{
    char text[32];
    int used = 0;
    for (int s = 0; s < ROW_CELLS; s++) {
        width[s] = 0;
        for (int i = 0; i < n; i++) {
            if (!rows[i].side[s])
                continue;
            int least = widths[rows[0].table][s];
            int need = 1 + grid_width(p->g, cell_text(p, rows[i].side[s], text, sizeof text));
            width[s] = need > width[s] ? need : width[s];
            width[s] = least > width[s] ? least : width[s];
        }
        if (used + width[s] > w)
            width[s] = 0;
        used += width[s];
    }
    return used;
}

static const struct model_channel *in_column(const struct board_row *rows, int n, int s)
{
    for (int i = 0; i < n; i++)
        if (rows[i].side[s])
            return rows[i].side[s];
    return NULL;
}

/* A column's unit in the heading, up to `end`; not over the table's name. */
static void draw_unit(const struct pen *p, int end, int y, int named, const char *unit)
{
    int w = grid_width(p->g, unit);
    if (end - w > named)
        grid_text(p->g, end - w, y, w, unit, ROLE_DIM, 0);
}

/* A row a place, a quantity a column; the heading has the units. */
static void draw_columns(const struct pen *p, struct rect r, const struct board_row *rows, int n)
{
    /* States are long words: where it is tight, that one is old stands in its place. */
    bool states = rows[0].table == TABLE_CHARGE, tight = states && r.w < END_FROM;
    bool bars = r.w >= BAR_FROM && rows[0].table == TABLE_TANKS;
    int end_w = tight ? 2 : END_W, width[ROW_CELLS];
    int used = columns_of(p, rows, n, r.w - 1 - NAME_LEAST - end_w, width);
    int name_w = r.w - 1 - used - end_w - (bars ? BAR_W + 1 : 0);
    if (name_w > 18)
        name_w = 18;
    int named = r.x + 1 + grid_width(p->g, rows_table_name(rows[0].table));
    for (int i = -1; i < n; i++) {
        int y = r.y + 1 + i, x = r.x + 1 + name_w;
        if (i >= 0)
            draw_name(p, r.x + 1, y, name_w, &rows[i]);
        if (i >= 0 && bars && rows[i].side[0] && is_level(rows[i].side[0]))
            draw_bar(p, x + 1, y, rows[i].side[0]);
        x += bars ? BAR_W + 1 : 0;
        for (int s = 0; s < ROW_CELLS; s++) {
            int w = width[s];
            if (w == 0)
                continue;
            if (i < 0)
                draw_unit(p, x + w, y, named, unit_words(p, in_column(rows, n, s)));
            else if (rows[i].side[s] && s == 0 && tight && old_word(&rows[i]))
                grid_text_right(p->g, x, y, w, old_word(&rows[i]), ROLE_DIM, 0);
            else if (rows[i].side[s])
                draw_cell(p, x, y, w, rows[i].side[s]);
            x += w;
        }
        if (i >= 0)
            draw_end(p, x + 1, y, &rows[i], !tight);
    }
}

void tables_draw(struct grid *g, const struct tables_plan *plan, const struct board_rows *rows,
                 const struct model *m, const struct ui *ui)
{
    struct pen p = {g, m, ui, plan->headings};
    for (int i = 0; i < plan->count; i++) {
        struct rect r = plan->block[i].r;
        const struct board_row *row = &rows->plains[plan->block[i].first];
        int n = plan->block[i].count;
        if (plan->headings)
            grid_text(g, r.x + 1, r.y, r.w - 2, rows_table_name(row->table), ROLE_TITLE, ATTR_BOLD);
        if (plan->headings && has_columns(row->table)) {
            draw_columns(&p, r, row, n);
            continue;
        }
        for (int k = 0; k < n; k++)
            draw_single(&p, (struct rect){r.x, r.y + plan->headings + k, r.w, 1}, &row[k]);
    }
}
