#include "config/config.h"

#include "config/schema.h"
#include "config/value.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

/* Prints one section's keys as they stand; what is as it was before any file stays out where
 * `changed` is set. */
static void print_keys(const struct schema_section *section, const void *target, enum unit unit,
                       bool changed, FILE *out)
{
    char value[VALUE_SIZE];
    for (size_t i = 0; i < schema_key_count; i++) {
        const struct schema_key *key = &schema_keys[i];
        if (!schema_has(section, key) || key->type == TYPE_LIMIT)
            continue;
        value_format(key, target, unit, value);
        bool limit = key->type == TYPE_VALUE && key->has_offset;
        if ((changed && strcmp(value, key->initial) == 0) ||
            (limit && strcmp(value, key->blank) == 0) ||
            (key->type == TYPE_CHANNEL && *value == '\0'))
            continue;
        fprintf(out, "%s =%s%s\n", key->key, *value ? " " : "", value);
    }
}

static void print_rule(const struct rule_setting *r, FILE *out)
{
    const struct schema_section *section = schema_find_section(kind_text(r->kind));
    fprintf(out, "\n[%s %s]\n", section->word, r->name);
    print_keys(section, r, rule_unit(r), false, out);
}

static void print_channel(const struct channel_setting *c, FILE *out)
{
    char key[CHANNEL_KEY_SIZE];
    channel_id_format(key, sizeof key, c->id);
    fprintf(out, "\n[channel %s]\n", key);
    print_keys(schema_find_section("channel"), c,
               quantity_info((enum quantity)c->id.quantity)->unit, true, out);
}

void config_print(const struct settings *s, FILE *out)
{
    const struct {
        const char *word;
        const void *target;
    } plain[] = {{"vessel", s},          {"units", &s->units},   {"precision", &s->precision},
                 {"alerts", &s->alerts}, {"screen", &s->screen}, {"keys", &s->keys},
                 {"fuel", &s->fuel}};
    for (size_t i = 0; i < sizeof plain / sizeof *plain; i++) {
        fprintf(out, "%s[%s]\n", i ? "\n" : "", plain[i].word);
        print_keys(schema_find_section(plain[i].word), plain[i].target, UNIT_NONE, false, out);
    }
    for (size_t i = 0; i < s->engine_count; i++) {
        fprintf(out, "\n[engine %d]\n", s->engine[i].instance);
        print_keys(schema_find_section("engine"), &s->engine[i], UNIT_NONE, true, out);
    }
    for (size_t i = 0; i < s->channel_count; i++)
        print_channel(&s->channels[i], out);
    for (size_t i = 0; i < s->rule_count; i++)
        print_rule(&s->rules[i], out);
    for (size_t i = 0; i < s->pane_count; i++) {
        fprintf(out, "\n[pane %s]\n", s->panes[i].name);
        print_keys(schema_find_section("pane"), &s->panes[i], UNIT_NONE, false, out);
    }
    for (size_t i = 0; i < s->hook_count; i++) {
        fprintf(out, "\n[hook %s]\n", s->hooks[i].name);
        print_keys(schema_find_section("hook"), &s->hooks[i], UNIT_NONE, false, out);
    }
}

/* What may stand after a key, in a few words. */
static void print_form(const struct schema_key *key, FILE *out)
{
    static const char *const forms[] = {
        [TYPE_TEXT] = "text",
        [TYPE_WORD] = "",
        [TYPE_CHOICE] = "",
        [TYPE_YES] = "yes or no",
        [TYPE_COUNT] = "number",
        [TYPE_NUMBER] = "number",
        [TYPE_LENGTH] = "time",
        [TYPE_VALUE] = "value with unit",
        [TYPE_DIFFERENCE] = "difference with unit",
        [TYPE_UNIT] = "unit",
        [TYPE_CHANNEL] = "channel key",
        [TYPE_SENDER] = "address",
        [TYPE_SPAN] = "LOW to HIGH",
        [TYPE_SENSOR] = "",
        [TYPE_CONDITIONS] = "conditions",
        [TYPE_EVENTS] = "",
        [TYPE_KEY] = "channel key",
        [TYPE_CURVE] = "IN:OUT, ...",
        [TYPE_OHMS] = "EMPTY to FULL",
        [TYPE_THERMISTOR] = "beta B[, OHM at C] | three points | A B C",
        [TYPE_LIMIT] = "value with unit",
    };
    fputs(forms[key->type], out);
    for (size_t i = 0; key->words && key->words[i]; i++)
        fprintf(out, "%s%s", i ? " | " : "", key->words[i]);
    if (key->type == TYPE_TEXT)
        fprintf(out, ", at most %zu bytes", key->size - 1);
    if (key->low < 0 || key->high > 0) {
        char low[VALUE_SIZE], high[VALUE_SIZE];
        value_format_quantity(round(key->low * 100) / 100, UNIT_NONE, low, sizeof low);
        value_format_quantity(key->high, UNIT_NONE, high, sizeof high);
        fprintf(out, ", %s to %s%s", low, high, key->type == TYPE_LENGTH ? " s" : "");
    }
    if (key->blank)
        fprintf(out, ", or %s", key->blank);
}

void config_keys(FILE *out)
{
    for (size_t i = 0; i < schema_section_count; i++) {
        const struct schema_section *section = &schema_sections[i];
        fprintf(out, "%s[%s%s%s]\n  %s\n", i ? "\n" : "", section->word, *section->name ? " " : "",
                section->name, section->help);
        for (size_t k = 0; k < schema_key_count; k++) {
            const struct schema_key *key = &schema_keys[k];
            if (!schema_has(section, key))
                continue;
            fprintf(out, "  %-18s ", key->key);
            print_form(key, out);
            if (*key->initial != '\0')
                fprintf(out, "; default %s", key->initial);
            if (*key->help != '\0')
                fprintf(out, "\n      %s", key->help);
            fputc('\n', out);
        }
    }
}
