/* stokehold config: checks a configuration, prints the effective one, prints the reference. */
#include "verbs/verbs.h"

#include "base/text.h"
#include "config/config.h"
#include "screen/theme.h"
#include "session/options.h"
#include "verbs/screen_check.h"

#include <stdio.h>
#include <string.h>

#include "base/banned.h"

static void usage(FILE *out)
{
    fputs("usage: stokehold config check FILE    says everything that is wrong with FILE, or a "
          ".theme\n"
          "       stokehold config print [FILE]  the values in force, in the form of the file\n"
          "       stokehold config keys          every section and key, with bounds and defaults\n"
          "\n"
          "check exits with 0 when FILE is good, 1 when it is not.\n",
          out);
}

/* Prints all messages of a loading and frees them; true where there were none. */
static bool say(const struct settings *s, struct config_messages *messages, FILE *out)
{
    size_t n = config_message_count(messages);
    for (size_t i = 0; i < n; i++)
        fprintf(out, "%s\n", config_message(messages, i));
    if (!s && n == 0)
        fputs("stokehold config: out of memory\n", stderr);
    config_messages_free(messages);
    return s && n == 0;
}

/* The settings with `path` laid over the defaults; every message goes to out. */
static struct settings *load(const char *path, FILE *out)
{
    struct config_messages *messages = NULL;
    struct settings *s = config_load(path, &messages);
    say(s, messages, out);
    return s;
}

static int check(const char *path)
{
    FILE *f = fopen(path, "rb"); /* what cannot be opened is a usage error, not a finding */
    if (!f) {
        load(path, stderr);
        return EXIT_USAGE;
    }
    fclose(f);
    struct err e;
    const char *dot = strrchr(path, '.');
    if (dot && strcmp(dot, ".theme") == 0) {
        struct theme theme;
        if (theme_load(&theme, path, &e))
            return EXIT_DONE;
        printf("%s\n", e.text);
        return EXIT_FINDINGS;
    }
    /* What only the screen can judge is said in the same run, whatever else is wrong. */
    struct config_messages *messages = NULL;
    struct settings *s = config_load_faulty(path, &messages);
    bool good = say(s, messages, stdout);
    good = s && screen_check(s, path, stdout) && good;
    settings_free(s);
    return good ? EXIT_DONE : EXIT_FINDINGS;
}

static int print(const char *path)
{
    struct settings *s = load(path, stderr);
    if (!s)
        return EXIT_USAGE;
    config_print(s, stdout);
    settings_free(s);
    return EXIT_DONE;
}

int verb_config(int argc, char **argv)
{
    const char *what = argc > 1 ? argv[1] : "";
    if (strcmp(what, "--help") == 0 || strcmp(what, "-h") == 0) {
        usage(stdout);
        return EXIT_DONE;
    }
    if (strcmp(what, "check") == 0 && argc == 3)
        return check(argv[2]);
    if (strcmp(what, "print") == 0 && argc <= 3)
        return print(argc == 3 ? argv[2] : NULL);
    if (strcmp(what, "keys") == 0 && argc == 2) {
        config_keys(stdout);
        return EXIT_DONE;
    }
    static const char *const words[] = {"check", "print", "keys"};
    const char *near = argc > 1 ? options_near(what, words, 3) : NULL;
    if (near && strcmp(near, what) != 0) {
        char shown[40];
        text_clean(shown, sizeof shown, what, strlen(what));
        fprintf(stderr, "stokehold config: no '%s', did you mean '%s'?\n", shown, near);
    }
    usage(stderr);
    return EXIT_USAGE;
}
