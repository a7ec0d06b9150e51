#include "screen/keys.h"

#include "base/text.h"
#include "screen/cells.h"

#include <string.h>

#include "base/banned.h"

const struct key_row key_table[] = {
    /* action, topic, key, also, when, foot, name, brief, help */
    {ACTION_ACKNOWLEDGE, TOPIC_ALERTS, 'a', 0, WHEN_UNACKED, 1, "acknowledge", "acknowledge",
     "acknowledge the alert that is shown or chosen, one at a time"},
    {ACTION_SILENCE, TOPIC_ALERTS, 's', 0, WHEN_SOUND, 2, "silence", "silence",
     "silence all sound for 30 s"},
    {ACTION_PAUSE, TOPIC_LOG, ' ', 0, WHEN_GOES_ON, 3, "pause", "pause",
     "hold the picture; a log stops, a live bus goes on being watched"},
    {ACTION_BOARD, TOPIC_VIEWS, 'o', 0, WHEN_NOT_BOARD, 9, "board", "board",
     "the board: everything at a glance"},
    {ACTION_TREND, TOPIC_VIEWS, 't', 0, WHEN_ALWAYS, 10, "trend", "trend",
     "curves of the chosen channel"},
    {ACTION_HELM, TOPIC_VIEWS, 'h', 0, WHEN_ALWAYS, 11, "helm", "helm",
     "large figures, to be read from afar"},
    {ACTION_ALERTS, TOPIC_VIEWS, 'l', 0, WHEN_ALWAYS, 12, "alerts", "alerts", "the list of alerts"},
    {ACTION_MOVERS, TOPIC_VIEWS, 'm', 0, WHEN_ALWAYS, 13, "movers", "movers",
     "channels by how much they have just moved"},
    {ACTION_BUS, TOPIC_VIEWS, 'b', 0, WHEN_ALWAYS, 14, "bus", "bus",
     "senders, load and errors of the bus"},
    {ACTION_UP, TOPIC_ROWS, KEY_CODE_UP, 0, WHEN_ROWS, 0, "up", "up", "the row above"},
    {ACTION_DOWN, TOPIC_ROWS, KEY_CODE_DOWN, 0, WHEN_ROWS, 0, "down", "down", "the row below"},
    {ACTION_LEFT, TOPIC_ROWS, KEY_CODE_LEFT, 0, WHEN_ROWS, 0, "left", "left",
     "the port side; in a trend, the cursor back in time"},
    {ACTION_RIGHT, TOPIC_ROWS, KEY_CODE_RIGHT, 0, WHEN_ROWS, 0, "right", "right",
     "the starboard side; in a trend, the cursor on in time"},
    {ACTION_PAGE_UP, TOPIC_ROWS, KEY_CODE_PAGE_UP, 0, WHEN_ROWS, 0, "page-up", "page up",
     "a page up"},
    {ACTION_PAGE_DOWN, TOPIC_ROWS, KEY_CODE_PAGE_DOWN, 0, WHEN_ROWS, 0, "page-down", "page down",
     "a page down"},
    {ACTION_HOME, TOPIC_ROWS, KEY_CODE_HOME, 0, WHEN_ROWS, 0, "first", "first", "the first row"},
    {ACTION_END, TOPIC_ROWS, KEY_CODE_END, 0, WHEN_ROWS, 0, "last", "last", "the last row"},
    {ACTION_CHOOSE, TOPIC_ROWS, KEY_ENTER_CODE, '\n', WHEN_ROWS, 0, "choose", "choose",
     "look closer at the chosen row; in a trend, set the second cursor"},
    {ACTION_NEXT_FIELD, TOPIC_ROWS, KEY_TAB_CODE, 0, WHEN_ROWS, 0, "other", "other side",
     "the other side; in alerts, the figures that decided"},
    {ACTION_ADD, TOPIC_CURVES, '+', '=', WHEN_TREND, 6, "add", "add curve",
     "in a trend: add the next channel, up to four, or go back to one"},
    {ACTION_LONGER, TOPIC_CURVES, ']', 0, WHEN_TREND, 5, "longer", "longer",
     "in a trend: a longer span"},
    {ACTION_SHORTER, TOPIC_CURVES, '[', 0, WHEN_TREND, 4, "shorter", "shorter",
     "in a trend: a shorter span"},
    {ACTION_ZOOM, TOPIC_CURVES, 'z', 0, WHEN_TREND, 0, "zoom", "zoom",
     "in a trend: to what lies between the two cursors, and back"},
    {ACTION_SAVE, TOPIC_CURVES, 'w', 0, WHEN_TREND, 7, "save", "save",
     "in a trend: write what is shown to a CSV and an SVG file"},
    {ACTION_CHARTS, TOPIC_CURVES, 'v', 0, WHEN_CHARTS, 8, "charts", "charts",
     "on a wide board: another curve beside the keel, that of the chosen row first"},
    {ACTION_STEP, TOPIC_LOG, '.', 0, WHEN_REPLAY | WHEN_GOES_ON, 0, "step", "step",
     "in a log: one second on, then hold"},
    {ACTION_FASTER, TOPIC_LOG, 'f', 0, WHEN_REPLAY | WHEN_GOES_ON, 15, "faster", "faster",
     "in a log: twice as fast"},
    {ACTION_SLOWER, TOPIC_LOG, 'd', 0, WHEN_REPLAY | WHEN_GOES_ON, 16, "slower", "slower",
     "in a log: half as fast"},
    {ACTION_FASTEST, TOPIC_LOG, 'F', 0, WHEN_REPLAY | WHEN_GOES_ON, 0, "fastest", "fastest",
     "in a log: as fast as it can be read"},
    {ACTION_FORWARD, TOPIC_LOG, '>', 0, WHEN_REPLAY | WHEN_GOES_ON, 0, "forward", "forward",
     "in a log: a minute on"},
    {ACTION_BACKWARD, TOPIC_LOG, '<', 0, WHEN_REPLAY, 0, "backward", "back",
     "in a log: a minute back"},
    {ACTION_GO_TO, TOPIC_LOG, 'g', 0, WHEN_REPLAY, 17, "go-to", "go to", "in a log: go to a time"},
    {ACTION_NEXT_ALERT, TOPIC_LOG, 'n', 0, WHEN_REPLAY, 17, "next-alert", "next alert",
     "in a log: go to the next alert"},
    {ACTION_PREVIOUS_ALERT, TOPIC_LOG, 'p', 0, WHEN_REPLAY, 0, "previous-alert", "previous alert",
     "in a log: go to the alert before"},
    {ACTION_MARK, TOPIC_LOG, 'k', 0, WHEN_MARKABLE, 0, "mark", "mark",
     "in a log: note words here; recording: set the time aside"},
    {ACTION_NEXT_MARK, TOPIC_LOG, 'j', 0, WHEN_REPLAY | WHEN_MARKS, 0, "next-mark", "next mark",
     "in a log: go to the next mark"},
    {ACTION_FIND, TOPIC_ROWS, '/', 0, WHEN_FIND, 18, "find", "find",
     "show only rows with these letters; Esc shows all again"},
    {ACTION_UNITS, TOPIC_LOOKS, 'u', 0, WHEN_ALWAYS, 0, "units", "units",
     "metric, US or imperial units; limits follow"},
    {ACTION_THEME, TOPIC_LOOKS, 'c', 0, WHEN_ALWAYS, 0, "colours", "colours",
     "the next theme: day, dusk, night and so on"},
    {ACTION_GLYPHS, TOPIC_LOOKS, 'i', 0, WHEN_ALWAYS, 0, "glyphs", "glyphs",
     "draw curves in braille, blocks or ASCII"},
    {ACTION_SOUND, TOPIC_ALERTS, 'e', 0, WHEN_ALWAYS, 0, "sound", "sound", "sound on or off"},
    {ACTION_SOUND_TEST, TOPIC_ALERTS, 'E', 0, WHEN_ALWAYS, 0, "sound-test", "sound test",
     "hear how a warning, an alarm and an emergency alarm sound"},
    {ACTION_MOUSE, TOPIC_LOOKS, 'y', 0, WHEN_ALWAYS, 0, "mouse", "mouse",
     "the mouse chooses rows, or selects text as ever"},
    {ACTION_REDRAW, TOPIC_LOOKS, KEY_CTRL_L, 0, WHEN_ALWAYS, 0, "redraw", "redraw",
     "paint the whole screen again and read its size again"},
    {ACTION_BACK, TOPIC_VIEWS, KEY_ESCAPE_CODE, 0, WHEN_OVERLAY, 19, "back", "back",
     "back to where you were; never ends anything"},
    {ACTION_QUIT, TOPIC_VIEWS, 'q', 0, WHEN_ALWAYS, 20, "quit", "quit",
     "end; while an alarm stands it asks first"},
    {ACTION_HELP, TOPIC_VIEWS, '?', 0, WHEN_ALWAYS, 21, "help", "help", "this list"},
};
const size_t key_table_count = sizeof key_table / sizeof key_table[0];

const char *keys_topic(enum key_topic t)
{
    static const char *const names[TOPIC_COUNT] = {
        [TOPIC_ALERTS] = "alerts",       [TOPIC_VIEWS] = "views",
        [TOPIC_ROWS] = "rows",           [TOPIC_CURVES] = "curves: trend and wide board",
        [TOPIC_LOG] = "moving in a log", [TOPIC_LOOKS] = "looks",
    };
    return names[t];
}

static const struct key_row *row_of(enum action a)
{
    for (size_t i = 0; i < key_table_count; i++)
        if (key_table[i].action == a)
            return &key_table[i];
    return NULL;
}

void keys_init(struct key_map *m)
{
    *m = (struct key_map){0};
    for (size_t i = 0; i < key_table_count; i++) {
        m->key[key_table[i].action] = key_table[i].key;
        m->also[key_table[i].action] = key_table[i].also;
    }
}

static const struct {
    const char *name;
    int key;
} key_names[] = {
    {"space", ' '},
    {"enter", KEY_ENTER_CODE},
    {"tab", KEY_TAB_CODE},
    {"esc", KEY_ESCAPE_CODE},
    {"up", KEY_CODE_UP},
    {"down", KEY_CODE_DOWN},
    {"left", KEY_CODE_LEFT},
    {"right", KEY_CODE_RIGHT},
    {"page-up", KEY_CODE_PAGE_UP},
    {"page-down", KEY_CODE_PAGE_DOWN},
    {"home", KEY_CODE_HOME},
    {"end", KEY_CODE_END},
    {"backspace", KEY_CODE_BACKSPACE},
    {"ctrl-l", KEY_CTRL_L},
};

const char *keys_name(int key, char *dst, size_t cap)
{
    for (size_t i = 0; i < sizeof key_names / sizeof key_names[0]; i++)
        if (key_names[i].key == key) {
            text_copy(dst, cap, key_names[i].name);
            return dst;
        }
    char buf[5] = "?";
    if (key > ' ' && key < KEY_CODE_NONE && char_width((uint32_t)key) > 0)
        buf[utf8_put(buf, (uint32_t)key)] = '\0';
    text_copy(dst, cap, buf);
    return dst;
}

int keys_parse(const char *name)
{
    for (size_t i = 0; i < sizeof key_names / sizeof key_names[0]; i++)
        if (strcmp(key_names[i].name, name) == 0)
            return key_names[i].key;
    uint32_t ch = utf8_next(&name);
    return ch > ' ' && ch != 0xFFFD && *name == '\0' && char_width(ch) > 0 ? (int)ch : 0;
}

/* What the user's names make of the table; a name that is not a key is 0. */
static void bind(struct key_map *m, const struct key_setting *names)
{
    keys_init(m);
    for (size_t i = 0; i < key_table_count && i < KEYS_MAX; i++) {
        enum action a = key_table[i].action;
        int key = keys_parse(names->key[i]);
        if (key != m->key[a])
            m->also[a] = 0;
        m->key[a] = key;
    }
}

static bool clash(const struct key_map *m, enum action a, enum action b)
{
    int key = m->key[a], other = m->key[b];
    return key && other && (key == other || key == m->also[b] || other == m->also[a]);
}

size_t keys_wrong(const struct key_setting *names, size_t from, struct err *e)
{
    struct key_map m;
    bind(&m, names);
    for (size_t i = from; i < key_table_count; i++) {
        const struct key_row *row = &key_table[i];
        if (!m.key[row->action]) {
            err_set(e, "[keys] %s: there is no key '%s'", row->name, names->key[i]);
            return i;
        }
        if (m.key[row->action] == KEY_ESCAPE_CODE && row->action != ACTION_BACK) {
            err_set(e, "[keys] %s: esc only goes back", row->name);
            return i;
        }
        /* Of two that clash the one that the user bound is at fault, or the later one. */
        for (size_t k = 0; k < key_table_count; k++) {
            bool later = names->at[i].file > names->at[k].file ||
                         (names->at[i].file == names->at[k].file && i > k);
            if (k != i && later && clash(&m, row->action, key_table[k].action)) {
                err_set(e, "[keys] %s: '%s' is the key of %s already", row->name, names->key[i],
                        key_table[k].name);
                return i;
            }
        }
    }
    return key_table_count;
}

bool keys_load(struct key_map *m, const struct key_setting *names, struct err *e)
{
    bind(m, names);
    return keys_wrong(names, 0, e) == key_table_count;
}

bool keys_works(enum action a, unsigned context)
{
    const struct key_row *row = row_of(a);
    return row && (row->when & ~context) == 0;
}

enum action keys_action(const struct key_map *m, int key, unsigned context)
{
    for (size_t i = 0; i < key_table_count; i++) {
        enum action a = key_table[i].action;
        if (key && (m->key[a] == key || m->also[a] == key) && keys_works(a, context))
            return a;
    }
    return ACTION_NONE;
}

void keys_manual(FILE *out)
{
    char name[12];
    for (size_t i = 0; i < key_table_count; i++) {
        const char *shown = keys_name(key_table[i].key, name, sizeof name);
        fprintf(out, ".TP\n.B %s%s\n%s\n", shown[0] == '.' ? "\\&" : "", shown, key_table[i].help);
    }
}
