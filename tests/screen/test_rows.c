/* The rows of a board by themselves: in which table and order each quantity stands, how much each
 * matters, in which order they fall out of a board that is too small, and what they are called. */
#include "screen/rows.h"

#include "base/text.h"
#include "support/check.h"
#include "support/golden.h"

#include <stdio.h>
#include <stdlib.h>

static struct model *m;
static char keys[400][CHANNEL_KEY_SIZE];

static int begin(void **state)
{
    (void)state;
    m = model_new();
    assert_non_null(m);
    m->engines = 2;
    text_copy(m->engine_names[0], sizeof m->engine_names[0], "PORT");
    text_copy(m->engine_names[1], sizeof m->engine_names[1], "STARBOARD");
    text_copy(m->engine_names[2], sizeof m->engine_names[2], "GENERATOR 1");
    return 0;
}

static int end(void **state)
{
    (void)state;
    model_free(m);
    return 0;
}

static struct model_channel *add(enum quantity q, int place)
{
    const struct quantity_info *info = quantity_info(q);
    struct model_channel *c = &m->channels[m->channel_count];
    char *key = keys[m->channel_count++];

    *c = (struct model_channel){.id = {(uint16_t)q, (uint8_t)place, 0},
                                .key = key,
                                .label = info->label,
                                .place = "",
                                .unit = info->unit,
                                .engine = -1,
                                .status = READING_OK,
                                .value = 50,
                                .alert = -1};
    channel_id_format(key, CHANNEL_KEY_SIZE, c->id);
    if (info->place == PLACE_ENGINE) {
        c->engine = place;
        c->place = m->engine_names[place];
    }
    return c;
}

static void add_every_quantity(void)
{
    for (int q = QTY_NONE + 1; q < QTY_COUNT; q++) {
        add((enum quantity)q, 0);
        if (quantity_info((enum quantity)q)->place == PLACE_ENGINE)
            for (int e = 1; e < 3; e++)
                add((enum quantity)q, e);
    }
}

static void put_row(FILE *out, const struct board_row *row, const char *table)
{
    fprintf(out, "%-20s %3d %3d ", table, row->order, row->worth);
    for (int s = 0; s < ROW_CELLS; s++)
        fprintf(out, " %s", row->side[s] ? row->side[s]->key : "-");
    fputc('\n', out);
}

/* Every quantity of two engines, a generator and the boat: table, order, worth, columns. Then what
 * falls out first, to the last. */
static void rows__every_quantity__has_its_place_and_worth(void **state)
{
    static struct board_rows rows;
    char *text = NULL;
    size_t len = 0;
    FILE *out = open_memstream(&text, &len);

    (void)state;
    assert_non_null(out);
    add_every_quantity();
    rows_fill(&rows, m, "");
    assert_int_equal(rows.left_out, 0);
    for (int i = 0; i < rows.twin_count; i++)
        put_row(out, &rows.twins[i], "engines");
    for (int i = 0; i < rows.plain_count; i++)
        put_row(out, &rows.plains[i], rows_table_name(rows.plains[i].table));
    fputs("\nout of the engines' first:", out);
    while (rows.twin_count > 0) {
        int least = rows_least(rows.twins, rows.twin_count, NULL);

        fprintf(out, " %s", rows.twins[least].first->key);
        assert_int_equal(rows_keep(rows.twins, &rows.twin_count, rows.twin_count - 1, NULL), 1);
    }
    fputs("\nout of the tables first:", out);
    while (rows.plain_count > 0) {
        int least = rows_least(rows.plains, rows.plain_count, NULL);

        fprintf(out, " %s", rows.plains[least].first->key);
        assert_int_equal(rows_keep(rows.plains, &rows.plain_count, rows.plain_count - 1, NULL), 1);
    }
    /* and each where it is all that the boat has: a row of its own group, in its column */
    fputs("\n\nalone:\n", out);
    for (int q = QTY_NONE + 1; q < QTY_COUNT; q++) {
        m->channel_count = 0;
        add((enum quantity)q, 0)->value = 1;
        if (quantity_info((enum quantity)q)->place == PLACE_ENGINE)
            continue;
        rows_fill(&rows, m, "");
        put_row(out, &rows.plains[0], rows_table_name(rows.plains[0].table));
    }
    fclose(out);
    golden_check("screen", "rows-every-quantity", text);
    free(text);
}

static int worth_of(const char *key)
{
    static struct board_rows rows;

    rows_fill(&rows, m, "");
    for (int i = 0; i < rows.plain_count + rows.twin_count; i++) {
        const struct board_row *row =
            i < rows.plain_count ? &rows.plains[i] : &rows.twins[i - rows.plain_count];
        for (int s = 0; s < ROW_CELLS; s++)
            if (row->side[s] && strcmp(row->side[s]->key, key) == 0)
                return row->worth;
    }
    fail_msg("no row of %s", key);
    return 0;
}

/* A shore lead that nothing comes through matters less, from below 20 V; so does a generator whose
 * key is off, and a second sender. */
static void worth__what_is_not_live__matters_less(void **state)
{
    struct model_channel *ac = add(QTY_AC_IN_VOLTS, 0), *other;
    int live;

    (void)state;
    ac->value = 20;
    live = worth_of(ac->key);
    ac->value = 19.9;
    assert_int_equal(worth_of(ac->key), live + 20);
    ac->status = READING_STALE;
    assert_int_equal(worth_of(ac->key), live);
    ac->off = true;
    assert_int_equal(worth_of(ac->key), live + 20);
    other = add(QTY_BATTERY_VOLTS, 0);
    other->value = 0; /* a battery is no alternating current */
    live = worth_of(other->key);
    other->second = true;
    assert_int_equal(worth_of(other->key), live + 20);
    other = add(QTY_COOLANT, 2);
    live = worth_of(other->key);
    other->off = true;
    assert_int_equal(worth_of(other->key), live + 25);
}

/* An alert's row comes before all others, the graver the more; a pane has the user's order. */
static void worth__alerts_and_panes__come_first(void **state)
{
    static struct alert caution = {.priority = PRIORITY_CAUTION},
                        alarm = {.priority = PRIORITY_ALARM};
    static struct pane_setting pane = {.count = 2};
    static struct board_rows rows;
    struct model_channel *rpm = add(QTY_RPM, 0), *exhaust = add(QTY_EXHAUST, 0),
                         *coolant = add(QTY_COOLANT, 0);

    (void)state;
    add(QTY_COOLANT, 1);
    m->alerts[0] = &alarm;
    m->alerts[1] = &caution;
    m->alert_count = 2;
    rpm->alert = 1;
    coolant->alert = 0;
    assert_int_equal(worth_of(rpm->key), -1 - 100 * PRIORITY_CAUTION);
    assert_int_equal(worth_of(coolant->key), -1 - 100 * PRIORITY_ALARM);
    assert_int_equal(worth_of("coolant.1"), -1 - 100 * PRIORITY_ALARM); /* it is the same row */
    exhaust->alert = 1;
    rows_fill(&rows, m, "");
    assert_ptr_equal(rows_alert(m, &rows.twins[0]), &caution);
    m->channels[3].alert = 1;
    rows_fill(&rows, m, "");
    assert_ptr_equal(rows_alert(m, &rows.twins[2]), &alarm); /* the worse of two */
    exhaust->alert = rpm->alert = coolant->alert = m->channels[3].alert = -1;
    rows_fill(&rows, m, "");
    assert_null(rows_alert(m, &rows.twins[0]));
    pane.ids[0].id = coolant->id;
    pane.ids[0].any_place = true;
    pane.ids[1].id = rpm->id;
    m->panes = &pane;
    m->pane_count = 1;
    rows_fill(&rows, m, "");
    assert_int_equal(rows.twin_count, 2);
    assert_ptr_equal(rows.twins[0].first, coolant);
    assert_non_null(rows.twins[0].side[1]);
    assert_int_equal(rows.twins[0].worth, 0);
    assert_int_equal(rows.twins[1].worth, 1);
    exhaust->alert = 1; /* shows whether asked for or not */
    rows_fill(&rows, m, "");
    assert_int_equal(rows.twin_count, 3);
    exhaust->alert = 0; /* the worst of all too */
    rows_fill(&rows, m, "");
    assert_int_equal(rows.twin_count, 3);
    exhaust->alert = -1;
    rows_fill(&rows, m, "exh"); /* so does what is looked for */
    assert_int_equal(rows.twin_count, 1);
}

static void least__equal_worth__the_lower_one_but_never_the_chosen(void **state)
{
    static struct board_rows rows;

    (void)state;
    add(QTY_GREY_WATER_TANK, 0);
    add(QTY_BLACK_WATER_TANK, 0);
    rows_fill(&rows, m, "");
    assert_int_equal(rows.plains[0].worth, rows.plains[1].worth);
    assert_int_equal(rows_least(rows.plains, 2, NULL), 1);
    assert_int_equal(rows_least(rows.plains, 2, rows.plains[1].first->key), 0);
    assert_int_equal(rows_least(rows.plains, 1, rows.plains[0].first->key), 0);
    assert_int_equal(rows_least(rows.plains, 0, NULL), -1);
    assert_int_equal(rows_keep(rows.plains, &rows.plain_count, -1, NULL), 2);
    assert_int_equal(rows.plain_count, 0);
}

static void fill__more_than_fits__is_counted(void **state)
{
    static struct board_rows rows;

    (void)state;
    for (int i = 0; i < PLAINS_MAX + 3; i++)
        add(QTY_CABIN, i);
    rows_fill(&rows, m, "");
    assert_int_equal(rows.plain_count, PLAINS_MAX);
    assert_int_equal(rows.left_out, 3);
}

static void fill__switches__only_those_that_are_on(void **state)
{
    static struct board_rows rows;
    struct model_channel *c = add(QTY_SWITCH, 0);

    (void)state;
    c->value = 0.5;
    rows_fill(&rows, m, "");
    assert_int_equal(rows.plain_count, 0);
    c->value = 0.6;
    rows_fill(&rows, m, "");
    assert_int_equal(rows.plain_count, 1);
    c->value = 0;
    c->status = READING_STALE;
    rows_fill(&rows, m, "");
    assert_int_equal(rows.plain_count, 1);
    c->status = READING_OK;
    rows_fill(&rows, m, "SWITCH");
    assert_int_equal(rows.plain_count, 1); /* asked for by its key */
    rows_fill(&rows, m, "fridge");
    assert_int_equal(rows.plain_count, 0);
}

static const char *label_of(const struct model_channel *c)
{
    static char text[96];

    return rows_plain_label(m, c, text, sizeof text);
}

/* A number only where it tells something apart. */
static void label__numbers__only_where_they_tell_apart(void **state)
{
    struct model_channel *cabin = add(QTY_CABIN, 3), *ac = add(QTY_AC_IN_VOLTS, 1), *more;

    (void)state;
    assert_string_equal(label_of(cabin), "cabin");
    assert_string_equal(label_of(ac), "AC in");
    more = add(QTY_CABIN, 4);
    assert_string_equal(label_of(cabin), "cabin 3");
    more->label = "aft cabin";
    assert_string_equal(label_of(cabin), "cabin");
    assert_string_equal(label_of(more), "aft cabin");
    more = add(QTY_AC_IN_VOLTS, 1);
    more->id.sub = 2;
    assert_string_equal(label_of(ac), "AC in L0");
    assert_string_equal(label_of(more), "AC in L2");
    more->id = (struct channel_id){QTY_AC_IN_VOLTS, 2, 0};
    assert_string_equal(label_of(ac), "AC in 1");
    assert_string_equal(label_of(more), "AC in 2");
    more = add(QTY_PRESSURE, 0);
    assert_string_equal(label_of(more), "barometer");
    more->id.place = 1;
    assert_string_equal(label_of(more), "pressure 1.0");
    more = add(QTY_COOLANT, 1);
    assert_string_equal(label_of(more), "starboard coolant");
    more->second = true;
    more->key = "coolant.1@33";
    assert_string_equal(label_of(more), "starboard coolant @33");
    m->engines = 1;
    assert_string_equal(label_of(more), "coolant @33");
    assert_string_equal(label_of(add(QTY_FUEL_TO_RESERVE, 0)), "above reserve");
}

/* What a generator's box measures is the generator's. */
static void label__current_of_a_generator__has_its_name(void **state)
{
    struct model_channel *engine = add(QTY_RPM, 2), *ac = add(QTY_AC_VOLTS, 0), *in;

    (void)state;
    engine->source = ac->source = 40;
    assert_string_equal(label_of(ac), "generator 1");
    ac->source = 41;
    assert_string_equal(label_of(ac), "AC");
    ac->source = 40;
    ac->iface = 1;
    assert_string_equal(label_of(ac), "AC");
    ac->iface = 0;
    ac->label = "galley";
    assert_string_equal(label_of(ac), "galley");
    in = add(QTY_AC_IN_VOLTS, 0);
    in->source = 40;
    assert_string_equal(label_of(in), "AC in");
    engine->engine = 1; /* drives the boat: no generator */
    ac->label = quantity_info(QTY_AC_VOLTS)->label;
    assert_string_equal(label_of(ac), "AC");
}

/* What a second sender says of the same, tells no place and no line of the first apart. */
static void label__second_senders__number_nothing(void **state)
{
    struct model_channel *ac = add(QTY_AC_IN_VOLTS, 1), *cabin = add(QTY_CABIN, 3), *more;

    (void)state;
    more = add(QTY_AC_IN_VOLTS, 2);
    more->second = true;
    assert_string_equal(label_of(ac), "AC in");
    more = add(QTY_AC_IN_VOLTS, 1);
    more->id.sub = 2;
    more->second = true;
    assert_string_equal(label_of(ac), "AC in");
    more = add(QTY_AC_OUT_VOLTS, 2); /* nor does another quantity */
    assert_string_equal(label_of(ac), "AC in");
    assert_string_equal(label_of(more), "AC out");
    more = add(QTY_CABIN, 4);
    more->second = true;
    assert_string_equal(label_of(cabin), "cabin");
    more->second = false;
    assert_string_equal(label_of(cabin), "cabin 3");
    cabin->second = true;
    cabin->key = "cabin.3";
    assert_string_equal(label_of(cabin), "cabin");
}

/* Each phase of a generator's current has the generator's name and its own number; the first and
 * the last of the quantities of alternating current have their places too. */
static void label__phases_of_a_generator(void **state)
{
    struct model_channel *engine = add(QTY_RPM, 2), *one = add(QTY_AC_VOLTS, 0),
                         *two = add(QTY_AC_VOLTS, 0), *watts = add(QTY_AC_WATTS, 0), *apart;

    (void)state;
    engine->source = one->source = two->source = watts->source = 40;
    one->id.sub = 1;
    two->id.sub = 2;
    assert_string_equal(label_of(one), "generator 1 L1");
    assert_string_equal(label_of(two), "generator 1 L2");
    assert_string_equal(label_of(watts), "generator 1");
    apart = add(QTY_AC_WATTS, 3);
    assert_string_equal(label_of(watts), "generator 1"); /* its name tells it apart */
    assert_string_equal(label_of(apart), "AC 3");
    apart = add(QTY_DC_VOLTS, 0);
    apart->source = 40;
    assert_string_equal(label_of(apart), rows_name(apart)); /* no alternating current */
}

static const char *place_of(const char *key, bool headed)
{
    static struct board_rows rows;
    static char text[96];

    rows_fill(&rows, m, "");
    for (int i = 0; i < rows.plain_count; i++)
        for (int s = 0; s < ROW_CELLS; s++)
            if (rows.plains[i].side[s] && strcmp(rows.plains[i].side[s]->key, key) == 0)
                return rows_place(m, &rows.plains[i], headed, text, sizeof text);
    fail_msg("no row of %s", key);
    return NULL;
}

/* A row of several columns is called after what it is of, or by the user's own name for any of
 * them; under a heading a generator's needs no name. */
static void place__what_a_row_of_a_table_is_called(void **state)
{
    (void)state;
    struct model_channel *volts = add(QTY_BATTERY_VOLTS, 0), *amps = add(QTY_BATTERY_AMPS, 0);
    assert_string_equal(place_of(volts->key, false), "battery");
    amps->label = "house";
    assert_string_equal(place_of(volts->key, false), "house");
    amps->label = quantity_info(QTY_BATTERY_AMPS)->label;
    add(QTY_BATTERY_VOLTS, 2);
    assert_string_equal(place_of(volts->key, false), "battery 0");
    assert_string_equal(place_of("battery-volts.2", false), "battery 2");
    assert_string_equal(place_of(add(QTY_FUEL_TANK, 1)->key, false), "fuel tank");
    assert_string_equal(place_of(add(QTY_CONVERTER, 0)->key, false), "converter");
    assert_string_equal(place_of(add(QTY_SEA, 0)->key, false), "sea");
    struct model_channel *rpm = add(QTY_RPM, 2);
    assert_string_equal(place_of(rpm->key, true), "speed 1"); /* there are several */
    assert_string_equal(place_of(rpm->key, false), "generator 1 speed");
    text_copy(m->engine_names[2], sizeof m->engine_names[2], "GENERATOR");
    assert_string_equal(place_of(rpm->key, true), "speed");
    m->engine_names[2][0] = '\0';
    assert_string_equal(place_of(rpm->key, true), "speed");
}

/* In a table: by the order of the quantities, the first sender before the second, by place. */
static void order__of_rows_in_a_table(void **state)
{
    static struct board_rows rows;
    static const char *const wanted[] = {"sea.0", "sea.1", "sea.0@33", "cabin.2", "cabin.10"};

    (void)state;
    add(QTY_CABIN, 10);
    add(QTY_CABIN, 2);
    struct model_channel *second = add(QTY_SEA, 0);
    second->second = true;
    second->key = "sea.0@33";
    add(QTY_SEA, 1);
    add(QTY_SEA, 0);
    rows_fill(&rows, m, "");
    int n = 0;
    for (int i = 0; i < rows.plain_count; i++)
        if (rows.plains[i].table == TABLE_AIR)
            assert_string_equal(rows.plains[i].first->key, wanted[n++]);
    assert_int_equal(n, 5);
}

/* Letters are looked for in the label, the key and the place, large or small. */
static void wanted__by_letters_anywhere(void **state)
{
    struct model_channel *c = add(QTY_COOLANT, 1);

    (void)state;
    assert_true(rows_wanted(c, "COOL"));
    assert_true(rows_wanted(c, "ant.1"));
    assert_true(rows_wanted(c, "starb"));
    assert_false(rows_wanted(c, "coolx"));
    assert_false(rows_wanted(c, "coolant.12"));
    assert_true(rows_wanted(c, ""));
    assert_true(rows_wanted(c, NULL));
    assert_true(rows_holds("", ""));
    assert_true(rows_holds("abc", ""));
    assert_true(rows_holds("abc", "C"));
    assert_false(rows_holds("abc", "cd"));
    assert_false(rows_holds("", "a"));
    c = add(QTY_SWITCH, 0);
    c->value = 0; /* off, and yet somebody speaks of it */
    assert_false(rows_wanted(c, ""));
    c->alert = 0;
    assert_true(rows_wanted(c, ""));
}

static void shorten__side_and_sender__stay_legible(void **state)
{
    static const struct {
        const char *label;
        int w;
        const char *shown;
    } rows[] = {
        {"starboard coolant", 17, "starboard coolant"},
        {"starboard coolant", 16, "stbd coolant"},
        {"starboard coolant @33", 21, "starboard coolant @33"},
        {"starboard coolant @33", 16, "stbd coolant @33"},
        {"starboard coolant @33", 15, "stbd coola… @33"},
        {"port coolant @33", 9, "port… @33"},
        {"port coolant", 5, "port coolant"}, /* cut where it is drawn */
        {"fridge @ home", 5, "fridge @ home"},
    };
    struct grid g;
    char text[96];

    (void)state;
    assert_true(grid_init(&g, 10, 2, false));
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_string_equal(rows_shorten(&g, rows[i].label, rows[i].w, text, sizeof text),
                            rows[i].shown);
    struct model_channel *c = add(QTY_COOLANT, 1);
    c->second = true;
    c->key = "coolant.1@33";
    assert_string_equal(rows_short_label(&g, m, c, 21, text, sizeof text), "starboard coolant @33");
    assert_string_equal(rows_short_label(&g, m, c, 20, text, sizeof text), "coolant @33");
    grid_fini(&g);
}

#define WITH_MODEL(f) cmocka_unit_test_setup_teardown(f, begin, end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH_MODEL(rows__every_quantity__has_its_place_and_worth),
        WITH_MODEL(worth__what_is_not_live__matters_less),
        WITH_MODEL(worth__alerts_and_panes__come_first),
        WITH_MODEL(least__equal_worth__the_lower_one_but_never_the_chosen),
        WITH_MODEL(fill__more_than_fits__is_counted),
        WITH_MODEL(fill__switches__only_those_that_are_on),
        WITH_MODEL(label__numbers__only_where_they_tell_apart),
        WITH_MODEL(label__current_of_a_generator__has_its_name),
        WITH_MODEL(label__second_senders__number_nothing),
        WITH_MODEL(label__phases_of_a_generator),
        WITH_MODEL(place__what_a_row_of_a_table_is_called),
        WITH_MODEL(order__of_rows_in_a_table),
        WITH_MODEL(wanted__by_letters_anywhere),
        WITH_MODEL(shorten__side_and_sender__stay_legible),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
