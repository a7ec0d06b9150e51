#include "session/options.h"

#include "base/text.h"
#include "config/config.h"

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
    optind = 0; /* GNU: start anew */
    opterr = 0;
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
        int best = 3;
        for (int i = 0; i < w->set->count; i++) {
            int d = text_distance(word + 2, w->set->rows[i].name);
            if (d < best) {
                best = d;
                near = w->set->rows[i].name;
            }
        }
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

static void option_help(FILE *out, const struct option_row *rows, int count)
{
    for (int i = 0; i < count; i++) {
        char left[48];
        if (rows[i].letter)
            text_format(left, sizeof left, "-%c, --%s", rows[i].letter, rows[i].name);
        else
            text_format(left, sizeof left, "    --%s", rows[i].name);
        if (rows[i].argument)
            text_append(left, sizeof left, " %s", rows[i].argument);
        fprintf(out, "  %-26s %s\n", left, rows[i].help);
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
            option_help(stdout, o->rows, o->count);
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

struct settings *options_settings(const char *verb, const char *path, const char *baseline)
{
    struct config_messages *messages = NULL;
    struct settings *s = config_load(path, &messages);
    for (size_t i = 0; i < config_message_count(messages); i++)
        fprintf(stderr, "%s\n", config_message(messages, i));
    if (!s && config_message_count(messages) == 0)
        fprintf(stderr, "stokehold %s: out of memory\n", verb);
    config_messages_free(messages);
    struct err e;
    if (s && baseline && !baseline_read(baseline, &s->baseline, &e)) {
        fprintf(stderr, "stokehold %s: %s\n", verb, e.text);
        settings_free(s);
        return NULL;
    }
    return s;
}
