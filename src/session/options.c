#include "session/options.h"

#include "base/text.h"
#include "config/config.h"
#include "screen/keys.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* The set in the form that getopt_long wants. */
struct option_walk {
    const struct option_set *set;
    struct option *longs;
    char *letters;
};

static void option_end(struct option_walk *w)
{
    free(w->longs);
    free(w->letters);
}

static bool option_begin(struct option_walk *w, const struct option_set *set)
{
    const struct option_row *rows = set->rows;
    int count = set->count;
    *w = (struct option_walk){.set = set};
    w->longs = calloc((size_t)count + 1, sizeof *w->longs);
    w->letters = calloc((size_t)count * 2 + 3, 1);
    if (!w->longs || !w->letters) {
        option_end(w);
        fprintf(stderr, "stokehold %s: out of memory\n", set->verb);
        return false;
    }
    char *p = w->letters;
    *p++ = ':'; /* messages are ours */
    for (int i = 0; i < count; i++) {
        w->longs[i] = (struct option){
            rows[i].name, rows[i].argument ? required_argument : no_argument, NULL, 256 + i};
        if (rows[i].letter) {
            *p++ = rows[i].letter;
            if (rows[i].argument)
                *p++ = ':';
        }
    }
    optind = 0; /* GNU: start again */
    opterr = 0;
    return true;
}

#define NEAR 3 /* so many letters may be wrong, less one */

static void nearer(const char *word, const char *other, const char **near, int *best)
{
    int d = text_distance(word, other);
    if (d < *best) {
        *best = d;
        *near = other;
    }
}

const char *options_near(const char *word, const char *const *words, size_t count)
{
    const char *near = NULL;
    int best = NEAR;
    for (size_t i = 0; i < count; i++)
        nearer(word, words[i], &near, &best);
    return near;
}

bool options_fit(const struct option_set *o, uint64_t given, enum option_source source)
{
    static const char *const what[] = {
        [ON_LOG] = "a log", [ON_IFACE] = "an interface", [ON_TEND] = "a tend that runs"};
    for (int i = 0; i < o->count; i++) {
        int only = o->only ? o->only[i] : 0;
        if (!(given & UINT64_C(1) << i) || only == 0 || only & (int)source)
            continue;
        fprintf(stderr, "stokehold %s: --%s is for %s, not for %s\n", o->verb, o->rows[i].name,
                what[only & ON_LOG ? ON_LOG : ON_IFACE], what[source]);
        return false;
    }
    return true;
}

static int option_wrong(const struct option_walk *w, char **argv, int found)
{
    char shown[48];
    const char *word = argv[optind - 1];
    text_clean(shown, sizeof shown, word, strlen(word));
    if (found == ':') {
        fprintf(stderr, "stokehold %s: '%s' needs a value\n", w->set->verb, shown);
        return -2;
    }
    if (optopt >= 256) { /* a flag was given a value */
        fprintf(stderr, "stokehold %s: '--%s' takes no value\n", w->set->verb,
                w->set->rows[optopt - 256].name);
        return -2;
    }
    fprintf(stderr, "stokehold %s: no option '%s'", w->set->verb, shown);
    if (strncmp(word, "--", 2) == 0) {
        const char *near = NULL;
        int best = NEAR;
        for (int i = 0; i < w->set->count; i++)
            nearer(word + 2, w->set->rows[i].name, &near, &best);
        if (near)
            fprintf(stderr, ", did you mean '--%s'?", near);
    }
    fprintf(stderr, "; stokehold %s --help lists them\n", w->set->verb);
    return -2;
}

/* The next option's index with its argument in *value; -1 at the end, -2 after saying what is
 * wrong. */
static int option_next(struct option_walk *w, int argc, char **argv, const char **value)
{
    int at = optind > 0 ? optind : 1;
    int found = getopt_long(argc, argv, w->letters, w->longs, NULL);
    *value = optarg;
    if (found == -1)
        return -1;
    if (found == '?' || found == ':')
        return option_wrong(w, argv, found);
    if (found < 256) {
        for (int i = 0; i < w->set->count; i++)
            if (w->set->rows[i].letter == found)
                return i;
    }
    /* getopt takes any beginning of a long name; a script must not come to lean on that */
    const char *word = argv[at];
    const char *name = w->set->rows[found - 256].name;
    size_t len = strlen(name);
    if (strncmp(word, "--", 2) == 0 &&
        (strncmp(word + 2, name, len) != 0 || (word[2 + len] != '\0' && word[2 + len] != '='))) {
        fprintf(stderr, "stokehold %s: write '--%s' in full\n", w->set->verb, name);
        return -2;
    }
    return found - 256;
}

static void option_help(FILE *out, const struct option_set *o)
{
    const struct option_row *rows = o->rows;
    for (int i = 0; i < o->count; i++) {
        char left[48];
        if (rows[i].letter)
            text_format(left, sizeof left, "-%c, --%s", rows[i].letter, rows[i].name);
        else
            text_format(left, sizeof left, "    --%s", rows[i].name);
        if (rows[i].argument)
            text_append(left, sizeof left, " %s", rows[i].argument);
        fprintf(out, "  %-26s %s", left, rows[i].help);
        if (o->values && o->values[i])
            fprintf(out, " {%s}", o->values[i]);
        putc('\n', out);
    }
}

bool options_take(const struct option_set *o, void *ctx, int argc, char **argv, int *status)
{
    struct option_walk w;
    const char *value;
    int option;
    *status = EXIT_SOURCE;
    if (!option_begin(&w, o))
        return false;
    *status = EXIT_USAGE;
    while ((option = option_next(&w, argc, argv, &value)) >= 0) {
        if (option == o->help) {
            fputs(o->usage, stdout);
            putchar('\n');
            option_help(stdout, o);
            *status = EXIT_DONE;
            break;
        }
        if (!o->set(ctx, option, value))
            break;
    }
    option_end(&w);
    return option == -1;
}

static bool moment_set(const char *verb, const char *option, const char *value, bool *has,
                       struct moment *m)
{
    if (when_parse_in_log(value, m)) {
        *has = true;
        return true;
    }
    char shown[60];
    text_clean(shown, sizeof shown, value, strlen(value));
    fprintf(stderr,
            "stokehold %s: --%s '%s' is not a time: 14:20 or 14:20:05 by the clock, +MM:SS into "
            "the log, 2026-05-04T14:12:07Z, or epoch seconds, from 1678 to 2262\n",
            verb, option, shown);
    return false;
}

bool range_set_from(struct log_range *r, const char *verb, const char *value)
{
    return moment_set(verb, "from", value, &r->has_from, &r->from);
}

bool range_set_to(struct log_range *r, const char *verb, const char *value)
{
    return moment_set(verb, "to", value, &r->has_to, &r->to);
}

/* A key that is bound to two actions is a fault of the file, for verbs without a screen too: else
 * the mistake would be found on the day that somebody looks. */
static bool keys_said(const struct settings *s)
{
    struct err e;
    size_t first = keys_wrong(&s->keys, 0, &e);
    for (size_t row = first; row < key_table_count; row = keys_wrong(&s->keys, row + 1, &e)) {
        struct config_place at = s->keys.at[row];
        fprintf(stderr, "%s:%d: %s\n", s->files[at.file], at.line, e.text);
    }
    return first == key_table_count;
}

struct settings *options_settings(const char *verb, const char *path)
{
    struct config_messages *messages = NULL;
    struct settings *s = config_load(path, &messages);
    for (size_t i = 0; i < config_message_count(messages); i++)
        fprintf(stderr, "%s\n", config_message(messages, i));
    if (!s && config_message_count(messages) == 0)
        fprintf(stderr, "stokehold %s: out of memory\n", verb);
    config_messages_free(messages);
    if (s && !keys_said(s)) {
        settings_free(s);
        return NULL;
    }
    return s;
}
