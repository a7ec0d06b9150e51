/* Values of every key, both sides of every bound, and every form that a value of its type can have:
 * what is read, as it is written back, or what is said of it, kept as one golden text. The figures
 * of conversions have tests of their own (test_value.c). `GOLDEN=write` writes it again. */
#include "config/conf.h"
#include "config/value.h"
#include "support/golden.h"

#include "base/banned.h"

static const char *const forms[] = {
    /* numbers and units */
    "7",
    "-3.25",
    "1e2",
    "0x10",
    "+5",
    ".5",
    "5.",
    "1,5",
    "nan",
    "inf",
    "",
    "7 C",
    "7 degC",
    "7 F",
    "7 K",
    "7 kPa",
    "7 Pa",
    "7 hPa",
    "7 bar",
    "7 mbar",
    "7 psi",
    "7 V",
    "7 mV",
    "7 A",
    "7 L",
    "7 gal",
    "7 imp gal",
    "7 m3",
    "7 L/h",
    "7 gal/h",
    "7 imp gal/h",
    "7 kn",
    "7 km/h",
    "7 mph",
    "7 m/s",
    "7 rpm",
    "7 %",
    "7 Hz",
    "7 W",
    "7 kW",
    "7 h",
    "7 m",
    "7 cm",
    "7 mm",
    "7 in",
    "7 ft",
    "7 Ah",
    "7 s",
    "7 ms",
    "7 min",
    "7 d",
    "1 h 30 min",
    "90",
    "7  C",
    "7C",
    "7 c",
    /* words */
    "yes",
    "no",
    "true",
    "on",
    "auto",
    "any",
    "none",
    "never",
    "unset",
    "as",
    "emergency alarm",
    "alarm",
    "warning",
    "caution",
    "Warning",
    "running",
    "lithium",
    "imp gal",
    "bar",
    "kPa",
    "mph",
    /* of certain types */
    "35",
    "can1:35",
    "can1:256",
    "254",
    "255",
    ":35",
    "can1:",
    "exhaust.0",
    "exhaust.*",
    "exhaust",
    "switch.0.3",
    "switch.0",
    "sea.252",
    "sea.253",
    "sea.0",
    "-10 C to 302 F",
    "10 to 5",
    "5 V to 5 V",
    "5 V to 9",
    "240 to 33",
    "0 to 0.1",
    "10 to 10",
    "10 to 1000001",
    "wet",
    "dry",
    "raised",
    "raised, escalated",
    "raised, raised",
    "raised,",
    "rectified, acknowledged",
    "0:0, 100:200",
    "0:0",
    "0:0, 0:5",
    "5:0, 1:5",
    "1:1, 2:2, 3:3, 4:4, 5:5",
    "1:2:3",
    "0:0 50:90",
    "beta 3950",
    "beta 3950, 10000 at 25",
    "beta 99",
    "beta 3435, 5000 at 20",
    "32650 at 0, 10000 at 25, 680 at 100",
    "32650 at 0, 10000 at 25",
    "1 at 0, 1 at 5, 1 at 9",
    "0.0011, 0.00023, 0.00000009",
    "1.4e-3, 2.37e-4, 9.9e-8",
    /* conditions */
    "sea.0 above 20 C",
    "sea.0 above 20",
    "sea.* below 68 F and engine running",
    "switch.0.3 off and engine stopped",
    "switch.0.3 on",
    "switch.0.3 above 1",
    "sea.0 on",
    "engine",
    "engine idle",
    "sea.0 above 20 C and",
    "and",
    "rpm.0 above 900 rpm and rpm.0 on",
    "sea.0 above 1 C and sea.1 above 2 C and sea.2 above 3 C and sea.3 above 4 C and sea.4 above 5 "
    "C and sea.5 above 6 C and sea.6 above 7 C and sea.7 above 8 C and sea.8 above 9 C",
    /* texts */
    "a",
    "space",
    "tab",
    "page-up",
    "ctrl-l",
    "ctrl-c",
    "esc",
    "F",
    "aa",
    "/bin/true -x \"a b\"",
    "relative path",
    "a text of a length that few keys have room for, for it goes on and on and on",
};
#define FORMS (sizeof forms / sizeof *forms)

static union {
    max_align_t align;
    unsigned char bytes[sizeof(struct settings) + sizeof(struct rule_setting) + 4096];
} target;

/* What was said last, so that forms of which the same is said stand in one line; ~ is the form. */
static char said[2 * VALUE_SIZE];

static void end_line(FILE *out)
{
    if (said[0])
        fprintf(out, ": %s\n", said);
    said[0] = '\0';
}

static void try(FILE *out, const struct schema_key *key, enum unit unit, const char *text)
{
    char back[VALUE_SIZE], now[2 * VALUE_SIZE], quoted[VALUE_SIZE];
    struct err e = {""};
    memset(&target, 0, sizeof target);
    if (value_parse(key, &target, unit, text, &e)) {
        value_format(key, &target, unit, back);
        snprintf(now, sizeof now, "= %s", strcmp(back, text) == 0 ? "the same" : back);
    } else {
        snprintf(quoted, sizeof quoted, "'%s'", text);
        const char *at = strstr(e.text, quoted);
        size_t skip = at ? strlen(quoted) : strncmp(e.text, text, strlen(text)) ? 0 : strlen(text);
        at = at ? at : e.text;
        snprintf(now, sizeof now, "%.*s~%s", (int)(at - e.text), e.text, at + skip);
    }
    if (strcmp(now, said) != 0) {
        end_line(out);
        snprintf(said, sizeof said, "%s", now);
        fprintf(out, "  %s", text);
    } else {
        fprintf(out, " | %s", text);
    }
}

/* A hair and a step on both sides of a bound. */
static void try_bound(FILE *out, const struct schema_key *key, double bound)
{
    static const double steps[] = {-1, -0.001, 0, 0.001, 1};
    char text[60], number[40];
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++) {
        value_format_number(bound + steps[i], number, sizeof number);
        snprintf(text, sizeof text, "%s%s%s", number,
                 key->type == TYPE_LENGTH  ? " s"
                 : unit_text(key->unit)[0] ? " "
                                           : "",
                 key->type == TYPE_LENGTH ? "" : unit_text(key->unit));
        try(out, key, key->unit, text);
    }
}

static bool seen_before(size_t k, enum unit unit)
{
    const struct schema_key *key = &schema_keys[k];
    for (size_t i = 0; i < k; i++) {
        const struct schema_key *other = &schema_keys[i];
        if (other->type == key->type && other->unit == unit && other->words == key->words &&
            (key->blank == NULL) == (other->blank == NULL))
            return true;
    }
    return false;
}

static void every_key__every_form_of_a_value__is_read_or_refused_as_kept(void **state)
{
    (void)state;
    char *text;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    assert_non_null(out);
    for (size_t k = 0; k < schema_key_count; k++) {
        const struct schema_key *key = &schema_keys[k];
        if (key->type == TYPE_LIMIT)
            continue;
        fprintf(out, "%s (%d)\n", key->key, (int)key->scope);
        if (key->low != 0 || key->high != 0) {
            try_bound(out, key, key->low);
            try_bound(out, key, key->high);
        }
        for (size_t i = 0; i < FORMS && !seen_before(k, key->unit); i++)
            try(out, key, key->unit, forms[i]);
        end_line(out);
    }
    fclose(out);
    golden_check("config", "values", text);
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_key__every_form_of_a_value__is_read_or_refused_as_kept),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
