/* What the tests of the configuration share. */
#ifndef STOKEHOLD_TESTS_CONF_H
#define STOKEHOLD_TESTS_CONF_H

#include "support/check.h"

#include "config/config.h"
#include "config/load.h"

#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>

/* Settings of a text that must be good. */
static inline struct settings *conf_good(const char *text)
{
    struct config_messages *m = NULL;
    struct settings *s = config_load_text("t.conf", text, &m);
    for (size_t i = 0; i < config_message_count(m); i++)
        print_error("%s\n", config_message(m, i));
    assert_int_equal(config_message_count(m), 0);
    assert_non_null(s);
    config_messages_free(m);
    return s;
}

/* The text must be bad, and say exactly the n lines of expected, in this order. */
static inline void conf_says(const char *text, size_t n, const char *const *expected)
{
    struct config_messages *m = NULL;
    struct settings *s = config_load_text("t.conf", text, &m);
    assert_null(s);
    assert_non_null(m);
    for (size_t i = 0; i < config_message_count(m) && i < n; i++)
        assert_string_equal(config_message(m, i), expected[i]);
    if (config_message_count(m) > n)
        print_error("unexpected: %s\n", config_message(m, n));
    assert_int_equal(config_message_count(m), n);
    config_messages_free(m);
}

#define assert_says(text, ...)                                                                     \
    conf_says(text, sizeof((const char *[]){__VA_ARGS__}) / sizeof(const char *),                  \
              (const char *[]){__VA_ARGS__})

static inline const struct rule_setting *conf_rule(const struct settings *s, enum rule_kind kind,
                                                   const char *name)
{
    for (size_t i = 0; i < s->rule_count; i++)
        if (s->rules[i].kind == kind && strcmp(s->rules[i].name, name) == 0)
            return &s->rules[i];
    fail_msg("no rule %s %s", kind_text(kind), name);
    return NULL;
}

static inline struct channel_id conf_id(const char *key)
{
    struct channel_id id = {0};
    assert_true(channel_id_parse(key, &id, NULL));
    return id;
}

/* What config_print or config_keys writes, to be freed. */
static inline char *conf_printed(const struct settings *s)
{
    char *text = NULL;
    size_t len = 0;
    FILE *f = open_memstream(&text, &len);
    assert_non_null(f);
    if (s)
        config_print(s, f);
    else
        config_keys(f);
    fclose(f);
    return text;
}

#endif
