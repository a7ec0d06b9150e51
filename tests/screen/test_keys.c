/* What each key does and where, by hand from the list of keys that `?` shows; and names of keys at
 * their bounds. */
#include "screen/keys.h"

#include "config/config.h"
#include "support/check.h"

#include <stdio.h>
#include <stdlib.h>

static const struct {
    int key;
    const char *name;
} keys[] = {
    {'a', "acknowledge"},
    {'s', "silence"},
    {' ', "pause"},
    {'o', "board"},
    {'t', "trend"},
    {'h', "helm"},
    {'l', "alerts"},
    {'m', "movers"},
    {'b', "bus"},
    {KEY_CODE_UP, "up"},
    {KEY_CODE_DOWN, "down"},
    {KEY_CODE_LEFT, "left"},
    {KEY_CODE_RIGHT, "right"},
    {KEY_CODE_PAGE_UP, "page-up"},
    {KEY_CODE_PAGE_DOWN, "page-down"},
    {KEY_CODE_HOME, "first"},
    {KEY_CODE_END, "last"},
    {'\r', "choose"},
    {'\n', "choose"}, /* what some terminals send for Enter */
    {'\t', "other"},
    {'+', "add"},
    {'=', "add"}, /* the same key without Shift */
    {']', "longer"},
    {'[', "shorter"},
    {'z', "zoom"},
    {'w', "save"},
    {'v', "charts"},
    {'.', "step"},
    {'f', "faster"},
    {'d', "slower"},
    {'F', "fastest"},
    {'>', "forward"},
    {'<', "backward"},
    {'g', "go-to"},
    {'n', "next-alert"},
    {'p', "previous-alert"},
    {'k', "mark"},
    {'j', "next-mark"},
    {'/', "find"},
    {'u', "units"},
    {'c', "colours"},
    {'i', "glyphs"},
    {'e', "sound"},
    {'E', "sound-test"},
    {'y', "mouse"},
    {12, "redraw"}, /* Ctrl-L */
    {27, "back"},
    {'q', "quit"},
    {'?', "help"},
};
#define KEYS (sizeof keys / sizeof keys[0])

static const char *name_of(enum action a)
{
    for (size_t i = 0; i < key_table_count; i++)
        if (key_table[i].action == a)
            return key_table[i].name;
    return "nothing";
}

/* Where everything works each key does its own thing, and every other key nothing. */
static void every_key__does_what_the_list_says(void **state)
{
    struct key_map m;

    (void)state;
    keys_init(&m);
    for (int key = 0; key <= KEY_CODE_RESIZE; key = key == 0x500 ? KEY_CODE_NONE : key + 1) {
        const char *wanted = "nothing";
        for (size_t i = 0; i < KEYS; i++)
            if (keys[i].key == key)
                wanted = keys[i].name;
        assert_string_equal(name_of(keys_action(&m, key, ~0u)), wanted);
    }
}

/* What no longer works where one thing is missing: the actions by name, in the order above. */
static void key__where_its_occasion_is_missing__does_nothing(void **state)
{
    static const struct {
        unsigned missing;
        const char *gone;
    } rows[] = {
        {WHEN_UNACKED, "acknowledge "},
        {WHEN_SOUND, "silence "},
        {WHEN_GOES_ON, "pause step faster slower fastest forward "},
        {WHEN_NOT_BOARD, "board "},
        {WHEN_ROWS, "up down left right page-up page-down first last choose choose other "},
        {WHEN_TREND, "add add longer shorter zoom save "},
        {WHEN_CHARTS, "charts "},
        {WHEN_REPLAY, "step faster slower fastest forward backward go-to next-alert "
                      "previous-alert next-mark "},
        {WHEN_MARKABLE, "mark "},
        {WHEN_MARKS, "next-mark "},
        {WHEN_FIND, "find "},
        {WHEN_OVERLAY, "back "},
        {WHEN_ALERT, ""},
    };
    struct key_map m;

    (void)state;
    keys_init(&m);
    for (size_t r = 0; r < sizeof rows / sizeof rows[0]; r++) {
        char gone[300] = "";
        for (size_t i = 0; i < KEYS; i++)
            if (keys_action(&m, keys[i].key, ~rows[r].missing) == ACTION_NONE) {
                strcat(gone, keys[i].name);
                strcat(gone, " ");
            }
        assert_string_equal(gone, rows[r].gone);
    }
}

/* The footer from left to right, as far as there is room; the rest stands in the help alone. */
static void footer__what_one_needs_first_stands_first(void **state)
{
    static const char wanted[] = "acknowledge silence pause shorter longer add save charts board "
                                 "trend helm alerts movers bus faster slower go-to next-alert find "
                                 "back quit help ";
    char order[300] = "";

    (void)state;
    for (int foot = 1; foot < 40; foot++)
        for (size_t i = 0; i < key_table_count; i++)
            if (key_table[i].foot == foot) {
                strcat(order, key_table[i].name);
                strcat(order, " ");
            }
    assert_string_equal(order, wanted);
}

/* Characters are their own names; a control character, a mark, a blank of another kind or two
 * characters are no key. */
static void name__and_back(void **state)
{
    static const struct {
        const char *name;
        int key;
    } rows[] = {
        {"space", ' '},
        {"enter", '\r'},
        {"tab", '\t'},
        {"esc", 27},
        {"up", KEY_CODE_UP},
        {"down", KEY_CODE_DOWN},
        {"left", KEY_CODE_LEFT},
        {"right", KEY_CODE_RIGHT},
        {"page-up", KEY_CODE_PAGE_UP},
        {"page-down", KEY_CODE_PAGE_DOWN},
        {"home", KEY_CODE_HOME},
        {"end", KEY_CODE_END},
        {"backspace", KEY_CODE_BACKSPACE},
        {"ctrl-l", 12},
        {"!", '!'},
        {"~", '~'},
        {"\u00E9", 0xE9},
        {"\u6C34", 0x6C34},
    };
    static const char *const none[] = {"",       " ",      "\x1F",   "\x7F", "qq",
                                       "\u0301", "\u200B", "\uFFFD", "\xFF", "Space"};
    char name[12];

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        assert_int_equal(keys_parse(rows[i].name), rows[i].key);
        assert_string_equal(keys_name(rows[i].key, name, sizeof name), rows[i].name);
    }
    for (size_t i = 0; i < sizeof none / sizeof none[0]; i++)
        assert_int_equal(keys_parse(none[i]), 0);
    static const int unnamed[] = {0, 0x7F, 0x301, KEY_CODE_NONE, KEY_CODE_MOUSE};
    for (size_t i = 0; i < sizeof unnamed / sizeof unnamed[0]; i++)
        assert_string_equal(keys_name(unnamed[i], name, sizeof name), "?");
}

/* A key that is bound anew leaves its second one behind; bound as it was it keeps it. */
static void bound_anew__the_second_key_goes(void **state)
{
    static const struct {
        const char *line;
        const char *plus, *equals, *x;
    } rows[] = {{"add = x", "nothing", "nothing", "add"}, {"add = +", "add", "add", "nothing"}};

    (void)state;
    for (size_t i = 0; i < 2; i++) {
        struct config_messages *messages = NULL;
        struct key_map m;
        struct err e = {""};
        char file[60];
        snprintf(file, sizeof file, "[keys]\n%s\n", rows[i].line);
        struct settings *s = config_load_text("t.conf", file, &messages);
        assert_non_null(s);
        assert_true(keys_load(&m, &s->keys, &e));
        assert_string_equal(name_of(keys_action(&m, '+', ~0u)), rows[i].plus);
        assert_string_equal(name_of(keys_action(&m, '=', ~0u)), rows[i].equals);
        assert_string_equal(name_of(keys_action(&m, 'x', ~0u)), rows[i].x);
        config_messages_free(messages);
        settings_free(s);
    }
}

/* A clash is the fault of the line that the user wrote, wherever the other stands in the table; of
 * two that they wrote, of the later row. */
static void clash__the_users_line_is_at_fault(void **state)
{
    static const struct {
        const char *lines, *said;
    } rows[] = {
        {"acknowledge = q", "[keys] acknowledge: 'q' is the key of quit already"},
        {"quit = a", "[keys] quit: 'a' is the key of acknowledge already"},
        {"quit = x\nacknowledge = x", "[keys] quit: 'x' is the key of acknowledge already"},
        {"quit = +", "[keys] quit: '+' is the key of add already"},
        {"back = x", ""},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct config_messages *messages = NULL;
        struct key_map m;
        struct err e = {""};
        char file[100];
        snprintf(file, sizeof file, "[keys]\n%s\n", rows[i].lines);
        struct settings *s = config_load_text("t.conf", file, &messages);
        assert_non_null(s);
        assert_int_equal(keys_load(&m, &s->keys, &e), rows[i].said[0] == '\0');
        assert_string_equal(e.text, rows[i].said);
        config_messages_free(messages);
        settings_free(s);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_key__does_what_the_list_says),
        cmocka_unit_test(key__where_its_occasion_is_missing__does_nothing),
        cmocka_unit_test(footer__what_one_needs_first_stands_first),
        cmocka_unit_test(name__and_back),
        cmocka_unit_test(bound_anew__the_second_key_goes),
        cmocka_unit_test(clash__the_users_line_is_at_fault),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
