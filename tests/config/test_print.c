/* `config print` reads back to the same settings, whatever the locale; the locale is de_DE, which
 * writes 3,5 for three and a half, made by localedef into $STOKEHOLD_LOCALES. */
#include "conf.h"

#include "config/schema.h"
#include "support/golden.h"

#include <locale.h>

static const char rich[] =
    "[vessel]\nname = Tern Point\nengines = 2\n"
    "[engine 0]\nname = LEFT\n"
    "[units]\ntemperature = F\npressure = bar\nvolume = imp gal\nflow = gal/h\nspeed = mph\n"
    "[alerts]\nescalate after = 90 s\nsilence for = 12500 ms\nflash every = 0.7 s\n"
    "[screen]\ntheme = night\nsound = run\nsound command = horn --loud 3\nlatitude = -33.85\n"
    "longitude = 151.2\nframes per second = 3.5\n"
    "[channel exhaust.0]\nsource = can1:35\nsensor = wet\noffset = -1.5 K\ngain = 1.025\n"
    "span = -10 C to 302 F\nwarning above = 160 F\nalarm above = 185.5 F\n"
    "[channel exhaust.1]\nalarm above = none\nhidden = yes\n"
    "[channel battery-volts.0]\nnominal volts = 24 V\n"
    "[channel fuel-tank.1]\ncapacity = 105.7 gal\nlabel = aft\n"
    "[limit coolant-hot]\nabove = 99.5 C\nenabled = no\n"
    "[silent exhaust]\nhold = 500 ms\n"
    "[state bilge]\nchannel = switch.0.3\nmore than = 5\non longer than = 3 min\n"
    "[combined air]\npriority = emergency alarm\nhold = 1 h\nwhen = engine-space.* above 131 F "
    "and switch.0.4 off and engine running and sea.0 below 4.5 C\n";

static void same_rules(const struct settings *a, const struct settings *b)
{
    assert_int_equal(a->rule_count, b->rule_count);
    for (size_t i = 0; i < a->rule_count; i++) {
        const struct rule_setting *x = &a->rules[i], *y = &b->rules[i];
        assert_string_equal(x->name, y->name);
        assert_int_equal(x->kind, y->kind);
        assert_int_equal(x->enabled, y->enabled);
        assert_int_equal(x->priority, y->priority);
        assert_int_equal(x->has_above, y->has_above);
        assert_near(x->above, y->above, 1e-8);
        assert_near(x->below, y->below, 1e-8);
        assert_near(x->deadband, y->deadband, 1e-8);
        assert_int_equal(x->hold_ns, y->hold_ns);
        assert_int_equal(x->while_state, y->while_state);
        assert_int_equal(x->condition_count, y->condition_count);
        assert_true(channel_id_same(x->id, y->id) && x->any_place == y->any_place);
        for (int c = 0; c < x->condition_count; c++)
            assert_near(x->conditions[c].value, y->conditions[c].value, 1e-8);
    }
}

static void printed_settings__read_back_the_same(void **state)
{
    (void)state;
    struct settings *s = conf_good(rich);
    char *once = conf_printed(s);
    struct settings *back = conf_good(once);
    char *twice = conf_printed(back);
    assert_string_equal(once, twice);
    same_rules(s, back);
    /* what has no limit says nothing of it */
    const char *above = strstr(once, "[limit coolant-hot]\n");
    assert_non_null(above);
    assert_null(strstr(above, "below = none"));
    assert_int_equal(back->channel_count, 4);
    assert_near(back->alerts.flash_ns, s->alerts.flash_ns, 0);
    assert_near(settings_channel(back, conf_id("exhaust.0"))->span_high, 150, 1e-8);
    /* the general alarm stays away from the channel that has none, after the round trip too */
    assert_null(settings_rule_for(back, KIND_LIMIT, conf_id("exhaust.1")));
    settings_free(s);
    settings_free(back);
    free(once);
    free(twice);
}

static void defaults__print_and_read_back(void **state)
{
    (void)state;
    struct settings *s = conf_good("");
    char *once = conf_printed(s);
    struct settings *back = conf_good(once);
    char *twice = conf_printed(back);
    assert_string_equal(once, twice);
    same_rules(s, back);
    settings_free(s);
    settings_free(back);
    free(once);
    free(twice);
}

static void comma_locale__changes_nothing(void **state)
{
    (void)state;
    struct settings *s = conf_good(rich);
    char *plain = conf_printed(s), *keys = conf_printed(NULL);
    const char *dir = getenv("STOKEHOLD_LOCALES");
    setenv("LOCPATH", dir ? dir : "build/locale", 1);
    assert_non_null(setlocale(LC_ALL, "de_DE.UTF-8"));
    char sample[16];
    snprintf(sample, sizeof sample, "%.1f", 3.5);
    assert_string_equal(sample, "3,5"); /* the locale is really in force */
    struct settings *in_comma = conf_good(rich);
    char *comma = conf_printed(in_comma), *comma_keys = conf_printed(NULL);
    setlocale(LC_ALL, "C");
    assert_string_equal(plain, comma);
    assert_string_equal(keys, comma_keys);
    assert_non_null(strstr(comma, "frames per second = 3.5\n"));
    settings_free(s);
    settings_free(in_comma);
    free(plain);
    free(keys);
    free(comma);
    free(comma_keys);
}

static void keys__name_every_key_with_its_default(void **state)
{
    (void)state;
    char *keys = conf_printed(NULL);
    for (size_t i = 0; i < schema_key_count; i++) {
        char row[64];
        snprintf(row, sizeof row, "\n  %-18s ", schema_keys[i].key);
        assert_non_null(strstr(keys, row));
    }
    assert_non_null(strstr(keys, "[vessel]\n"));
    assert_non_null(strstr(keys, "\n[channel KEY]\n"));
    assert_non_null(strstr(keys, "  escalate after     time, 10 to 300 s; default 3 min\n"));
    assert_non_null(strstr(keys, "  glyphs             auto | blocks | braille | ascii; default"));
    free(keys);
}

/* Every row of the table of keys, bounds included. */
static void schema__table__is_as_kept(void **state)
{
    (void)state;
    static char text[65536];
    size_t at = 0;
    for (size_t k = 0; k < schema_section_count; k++) {
        const struct schema_section *s = &schema_sections[k];
        at += (size_t)snprintf(text + at, sizeof text - at, "[%s %s] scope %d kind %d: %s\n",
                               s->word, s->name, (int)s->scope, (int)s->kind, s->help);
    }
    for (size_t k = 0; k < schema_key_count; k++) {
        const struct schema_key *r = &schema_keys[k];
        at += (size_t)snprintf(text + at, sizeof text - at,
                               "%s: scope %d kinds %#x type %d unit '%s' %g to %g, blank %s, at "
                               "first %s%s: %s\n",
                               r->key, (int)r->scope, r->kinds, (int)r->type, unit_text(r->unit),
                               r->low, r->high, r->blank != NULL ? r->blank : "-",
                               r->initial != NULL ? r->initial : "-",
                               r->has_offset != 0 ? ", says whether it is given" : "",
                               r->help != NULL ? r->help : "-");
        for (const char *const *w = r->words; w != NULL && *w != NULL; w++)
            at += (size_t)snprintf(text + at, sizeof text - at, "    %s\n", *w);
        assert_true(at + 2000 < sizeof text);
    }
    golden_check("config", "schema", text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(printed_settings__read_back_the_same),
        cmocka_unit_test(defaults__print_and_read_back),
        cmocka_unit_test(comma_locale__changes_nothing),
        cmocka_unit_test(keys__name_every_key_with_its_default),
        cmocka_unit_test(schema__table__is_as_kept),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
