/* Mistakes made by machine: every error names file, line and key; nothing crashes or hangs. */
#include "conf.h"

#include <base/text.h>

/* A section title and what it needs so that a bad value is the only thing wrong. */
static void title_of(const struct schema_section *section, char *dst, size_t cap)
{
    const char *name = section->scope == SCOPE_ENGINE    ? " 0"
                       : section->scope == SCOPE_CHANNEL ? " exhaust.0"
                       : section->scope == SCOPE_RULE    ? " zz"
                       : section->scope == SCOPE_HOOK    ? " zz"
                       : section->scope == SCOPE_PANE    ? " zz"
                                                         : "";
    text_format(dst, cap, "%s%s", section->word, name);
}

/* Some message must begin with `t.conf:line: [title] what`. */
static void must_say(const char *text, int line, const char *title, const char *what)
{
    struct config_messages *m;
    assert_null(config_load_text("t.conf", text, &m));
    char start[200];
    text_format(start, sizeof start, "t.conf:%d: [%s] %s", line, title, what);
    bool found = false;
    for (size_t i = 0; i < config_message_count(m); i++)
        found = found || strncmp(config_message(m, i), start, strlen(start)) == 0;
    if (!found)
        fail_msg("none of %zu messages on this begins with '%s':\n%s\n%s", config_message_count(m),
                 start, text, config_message(m, 0));
    config_messages_free(m);
}

static void bad_value_of_every_key__names_file_line_and_key(void **state)
{
    (void)state;
    static const char *const bad[] = {"\x01", "", "-", "99999999999999999999", "1e999 C", "4 zz"};
    int tried = 0;
    for (size_t s = 0; s < schema_section_count; s++) {
        char title[64], text[400], what[64];
        title_of(&schema_sections[s], title, sizeof title);
        for (size_t k = 0; k < schema_key_count; k++) {
            const struct schema_key *key = &schema_keys[k];
            if (!schema_has(&schema_sections[s], key))
                continue;
            bool limit_value = key->type == TYPE_VALUE || key->type == TYPE_DIFFERENCE;
            const char *channel =
                key->scope == SCOPE_RULE && limit_value ? "channel = sea.0\n" : "";
            for (size_t b = 0; b < sizeof bad / sizeof *bad; b++) {
                if (key->type == TYPE_TEXT && b > 0)
                    continue; /* any text is a text */
                text_format(text, sizeof text, "# one\n\n[%s]\n%s%s = %s\n", title, channel,
                            key->key, bad[b]);
                text_format(what, sizeof what, "%s: ", key->key);
                must_say(text, *channel ? 5 : 4, title, what);
                tried++;
            }
        }
    }
    assert_true(tried > 300);
}

static void every_misspelt_key__is_named_and_set_right(void **state)
{
    (void)state;
    for (size_t s = 0; s < schema_section_count; s++) {
        char title[64], text[200], what[200];
        title_of(&schema_sections[s], title, sizeof title);
        for (size_t k = 0; k < schema_key_count; k++) {
            const struct schema_key *key = &schema_keys[k];
            if (!schema_has(&schema_sections[s], key))
                continue;
            char wrong[64];
            text_copy(wrong, sizeof wrong, key->key);
            wrong[strlen(wrong) - 1] = 'q';
            text_format(text, sizeof text, "[%s]\n%s = 1\n", title, wrong);
            text_format(what, sizeof what, "unknown key '%s' (did you mean '", wrong);
            must_say(text, 2, title, what);
        }
        char typo[64];
        text_copy(typo, sizeof typo, schema_sections[s].word);
        typo[0] = 'q';
        text_format(text, sizeof text, "\n[%s x]\n", typo);
        struct config_messages *m;
        assert_null(config_load_text("t.conf", text, &m));
        text_format(what, sizeof what, "t.conf:2: unknown section [%s x] (did you mean '%s'?)",
                    typo, schema_sections[s].word);
        /* three letters are too few to be sure of */
        if (strlen(typo) > 3)
            assert_string_equal(config_message(m, 0), what);
        config_messages_free(m);
    }
}

/* Whatever the bytes, a reading ends in settings or in printable messages about t.conf. */
static void read_any(const char *data, size_t len)
{
    struct config_messages *m;
    struct settings *s = load_bytes("t.conf", data, len, &m);
    assert_true((s != NULL) == (config_message_count(m) == 0));
    for (size_t i = 0; i < config_message_count(m); i++) {
        const char *text = config_message(m, i);
        assert_int_equal(strncmp(text, "t.conf:", 7), 0);
        for (const char *p = text; *p; p++)
            assert_true((unsigned char)*p >= 0x20 && *p != 0x7f);
    }
    settings_free(s);
    config_messages_free(m);
}

static void read_prefix(void *ctx, const void *data, size_t len)
{
    (void)ctx;
    struct config_messages *m = messages_new();
    struct document d;
    assert_non_null(m);
    assert_true(document_read(&d, 1, "t.conf", data, len, m));
    document_fini(&d);
    config_messages_free(m);
    /* the rest of the way for one in 61, so that the test stays quick */
    if (len % 61 == 0)
        read_any(data, len);
}

static void every_prefix_of_the_shipped_file__ends_well(void **state)
{
    (void)state;
    const char *text = config_builtin_text();
    for_every_prefix(text, strlen(text), read_prefix, NULL);
}

static uint32_t next_random(uint32_t *seed)
{
    *seed = *seed * 1664525u + 1013904223u;
    return *seed >> 8;
}

static void changed_bytes_and_lines__end_well(void **state)
{
    (void)state;
    const char *text = config_builtin_text();
    size_t len = strlen(text);
    char *copy = malloc(len);
    assert_non_null(copy);
    uint32_t seed = 1;
    for (int round = 0; round < 1500; round++) {
        memcpy(copy, text, len);
        size_t n = len;
        for (uint32_t i = next_random(&seed) % 4 + 1; i > 0; i--) {
            size_t at = next_random(&seed) % n;
            size_t some = next_random(&seed) % 40;
            if (at + some > n)
                some = n - at;
            switch (next_random(&seed) % 3) {
            case 0: /* another byte */
                copy[at] = (char)next_random(&seed);
                break;
            case 1: /* a piece taken out */
                memmove(copy + at, copy + at + some, n - at - some);
                n -= some;
                break;
            default: /* a piece doubled over what follows */
                memmove(copy + at, copy + at / 2, some);
                break;
            }
        }
        read_any(copy, n);
    }
    free(copy);
}

static void commented_examples_of_the_shipped_file__are_good(void **state)
{
    (void)state;
    /* Every `# [section]` with its `# key = value` lines, as a user would uncomment it. */
    const char *text = config_builtin_text();
    char *out = calloc(1, strlen(text) + 1);
    assert_non_null(out);
    size_t n = 0;
    bool inside = false;
    int sections = 0;
    while (*text) {
        size_t len = strcspn(text, "\n");
        bool title = strncmp(text, "# [", 3) == 0;
        inside = title || (inside && strncmp(text, "# ", 2) == 0 && memchr(text, '=', len));
        sections += title;
        if (inside) {
            memcpy(out + n, text + 2, len - 1);
            n += len - 1;
        }
        text += len + (text[len] == '\n');
    }
    settings_free(conf_good(out));
    assert_true(sections >= 8);
    free(out);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(bad_value_of_every_key__names_file_line_and_key),
        cmocka_unit_test(every_misspelt_key__is_named_and_set_right),
        cmocka_unit_test(every_prefix_of_the_shipped_file__ends_well),
        cmocka_unit_test(changed_bytes_and_lines__end_well),
        cmocka_unit_test(commented_examples_of_the_shipped_file__are_good),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
