/* The J1939 layouts of the catalogue against tests/vectors/j1939-layouts.txt, which was typed by
 * somebody who had not seen the catalogue (its head names the source). Every code at the edge of
 * its width goes into every signal, among ones and among zeros; worked payloads are read as they
 * stand. What the program does not read is listed, and fails. Run from the top of the project. */
#include "wire/frames.h"

#include "base/text.h"
#include "wire/catalogue.h"
#include "wire/decode.h"
#include "wire/dm1.h"

#include <stdio.h>

#include "base/banned.h"

#define WORDS_MAX  10
#define EDGES_MAX  80
#define LENGTH_MAX 48

struct edge {
    unsigned bits;
    uint64_t code;
    enum reading_status status;
};

struct layouts {
    struct edge edges[EDGES_MAX];
    size_t edge_count;
    int line, signals, readings, not_read, trouble_codes;
    uint32_t listed;    /* the last PGN that was listed as not read */
    bool spoken[70000]; /* SPNs that a signal speaks of */
};

static const char path[] = "tests/vectors/j1939-layouts.txt";

static void fail_at(const struct layouts *l, const char *what)
{
    fail_msg("%s:%d: %s", path, l->line, what);
}

/* "4", "-125" or "1/128". */
static double number_of(const struct layouts *l, const char *word)
{
    char top[32];
    double a = 0.0, b = 1.0;
    const char *slash = strchr(word, '/');
    text_copy(top, sizeof top, word);
    if (slash != NULL) {
        top[slash - word] = '\0';
        if (!text_to_double(slash + 1, &b))
            fail_at(l, "no number");
    }
    if (!text_to_double(top, &a))
        fail_at(l, "no number");
    return a / b;
}

static enum reading_status status_of(const struct layouts *l, const char *word)
{
    if (strcmp(word, "number") == 0)
        return READING_OK;
    if (strcmp(word, "none") == 0)
        return READING_NOT_AVAILABLE;
    if (strcmp(word, "error") != 0)
        fail_at(l, "no such meaning");
    return READING_ERROR;
}

/* How many of the unit that the program keeps make one of the unit in the file. */
static double in_kept_unit(const struct layouts *l, const struct field_info *f, const char *unit)
{
    static const struct {
        const char *unit, *kept;
        double factor;
    } pairs[] = {{"MPa", "kPa", 1000},   {"W", "kW", 0.001}, {"VA", "kVA", 0.001},
                 {"var", "kvar", 0.001}, {"gear", "", 1},    {"ratio", "", 1},
                 {"code", "", 1},        {"count", "", 1}};
    enum unit base = sent_unit_base(f->sent);
    const char *kept = base != UNIT_NONE ? unit_text(base) : sent_unit_text(f->sent);
    if (strcmp(unit, kept) == 0)
        return 1.0;
    for (size_t i = 0; i < sizeof pairs / sizeof *pairs; i++)
        if (strcmp(pairs[i].unit, unit) == 0 && strcmp(pairs[i].kept, kept) == 0)
            return pairs[i].factor;
    fail_msg("%s:%d: kept in '%s', which is not known to be '%s'", path, l->line, kept, unit);
    return 0.0;
}

static const struct field_info *field_of(const struct pgn_info *row, unsigned bit, unsigned spn)
{
    const struct field_info *by_spn = NULL, *by_bit = NULL;
    for (unsigned i = 0; i < row->field_count; i++) {
        if (spn != 0 && row->fields[i].spn == spn)
            by_spn = &row->fields[i];
        if (row->fields[i].bit == bit)
            by_bit = &row->fields[i];
    }
    return by_spn != NULL ? by_spn : spn == 0 ? by_bit : NULL;
}

static void check_reading(const struct layouts *l, const struct message *m,
                          const struct field_info *f, enum reading_status want, double value)
{
    double got = 0.0;
    enum reading_status status = decode_field(m, f, 0, &got);
    if (status != want)
        fail_msg("%s:%d: %s has status %d and not %d", path, l->line, f->name, status, want);
    if (want == READING_OK && !(fabs(got - value) <= 1e-9 * (1.0 + fabs(value))))
        fail_msg("%s:%d: %s is %.12g and not %.12g", path, l->line, f->name, got, value);
}

/* Puts code into a payload of `fill` and reads it. */
static void check_code(struct layouts *l, const struct pgn_info *row, const struct field_info *f,
                       const struct edge *e, unsigned bit, uint8_t fill, double value)
{
    uint8_t data[LENGTH_MAX];
    memset(data, fill, sizeof data);
    for (unsigned i = 0; i < e->bits; i++) {
        uint8_t mask = (uint8_t)(1U << ((bit + i) % 8));
        uint8_t *byte = &data[(bit + i) / 8];
        *byte = (uint8_t)((e->code >> i & 1) != 0 ? *byte | mask : *byte & ~mask);
    }
    struct message m = {.pgn = row->pgn, .len = row->length > 8 ? row->length : 8, .data = data};
    check_reading(l, &m, f, e->status, value);
    l->readings++;
}

/* NULL, and the signal counted and listed, where the program does not read it. */
static const struct field_info *find(struct layouts *l, char **w, const struct pgn_info **row,
                                     unsigned bit)
{
    unsigned spn = strcmp(w[2], "-") == 0 ? 0 : (unsigned)number_of(l, w[2]);
    *row = catalogue_find((uint32_t)number_of(l, w[1]));
    const struct field_info *f = *row != NULL ? field_of(*row, bit, spn) : NULL;
    if (f == NULL && strcmp(w[0], "signal") == 0) {
        uint32_t pgn = (uint32_t)number_of(l, w[1]);
        if (pgn != l->listed)
            print_message("\nnot read yet: PGN %s, SPN", w[1]);
        print_message(" %s", w[2]);
        l->listed = pgn;
        l->not_read++;
    }
    return f;
}

static void take_signal(struct layouts *l, char **w)
{
    const char *dot = strchr(w[3], '.');
    unsigned byte = (unsigned)strtoul(w[3], NULL, 10);
    unsigned bit = 8 * (byte - 1) + (dot != NULL ? (unsigned)strtoul(dot + 1, NULL, 10) - 1 : 0);
    unsigned bits = (unsigned)number_of(l, w[4]);
    const struct pgn_info *row;
    const struct field_info *f = find(l, w, &row, bit);
    if (strcmp(w[2], "-") != 0)
        l->spoken[(unsigned)number_of(l, w[2])] = true;
    if (f == NULL)
        return;
    if (f->bit != bit || f->bits != bits)
        fail_msg("%s:%d: %s has %u bits at bit %u", path, l->line, f->name, f->bits, f->bit);
    double scale = number_of(l, w[5]), offset = number_of(l, w[6]);
    double kept = in_kept_unit(l, f, w[7]);
    int before = l->readings;
    for (size_t i = 0; i < l->edge_count; i++) {
        const struct edge *e = &l->edges[i];
        if (e->bits != bits)
            continue;
        double value = ((double)e->code * scale + offset) * kept;
        check_code(l, row, f, e, bit, 0xFF, value);
        check_code(l, row, f, e, bit, 0x00, value);
    }
    if (l->readings == before)
        fail_at(l, "no edge codes of this width");
    l->signals++;
}

static void take_worked(struct layouts *l, char **w, int n)
{
    const struct pgn_info *row;
    const struct field_info *f = find(l, w, &row, UINT32_MAX);
    if (f == NULL)
        return;
    uint8_t data[LENGTH_MAX];
    struct message m = {.pgn = row->pgn, .data = data};
    m.len = (uint16_t)hex_bytes(w[3], data, sizeof data);
    if (n == 5)
        check_reading(l, &m, f, status_of(l, w[4]), 0.0);
    else
        check_reading(l, &m, f, READING_OK, number_of(l, w[4]) * in_kept_unit(l, f, w[5]));
    l->readings++;
}

static void take_trouble_code(struct layouts *l, char **w)
{
    uint8_t data[LENGTH_MAX];
    struct message m = {.pgn = 65226, .data = data};
    m.len = (uint16_t)hex_bytes(w[1], data, sizeof data);
    struct dm1 d;
    assert_true(dm1_decode(&m, &d));
    double spn = number_of(l, w[2]);
    assert_int_equal(d.code_count, spn != 0 ? 1 : 0);
    if (spn != 0) {
        assert_int_equal(d.codes[0].spn, (unsigned)spn);
        assert_int_equal(d.codes[0].fmi, (unsigned)number_of(l, w[3]));
        assert_int_equal(d.codes[0].count, (unsigned)number_of(l, w[4]));
    }
    l->trouble_codes++;
}

static void take_line(struct layouts *l, char *line)
{
    char *w[WORDS_MAX] = {NULL}, *rest = NULL;
    int n = 0;
    for (char *s = strtok_r(line, " \n", &rest); s != NULL && n < WORDS_MAX;
         s = strtok_r(NULL, " \n", &rest))
        w[n++] = s;
    if (n == 0 || w[0][0] == '#')
        return;
    if (strcmp(w[0], "edge") == 0 && n == 4 && l->edge_count < EDGES_MAX)
        l->edges[l->edge_count++] = (struct edge){.bits = (unsigned)number_of(l, w[1]),
                                                  .code = strtoull(w[2], NULL, 16),
                                                  .status = status_of(l, w[3])};
    else if (strcmp(w[0], "signal") == 0 && n == 8)
        take_signal(l, w);
    else if (strcmp(w[0], "worked") == 0 && (n == 5 || n == 6))
        take_worked(l, w, n);
    else if (strcmp(w[0], "dtc") == 0 && n == 5)
        take_trouble_code(l, w);
    else
        fail_at(l, "unknown line");
}

static struct layouts layouts;

static int read_layouts(void **state)
{
    (void)state;
    FILE *f = fopen(path, "r");
    if (f == NULL)
        fail_msg("cannot open %s: run the tests from the top of the project", path);
    char line[200];
    while (fgets(line, sizeof line, f) != NULL) {
        layouts.line++;
        take_line(&layouts, line);
    }
    fclose(f);
    return 0;
}

static void layout__typed_from_the_source_alone__every_code_agrees(void **state)
{
    (void)state;
    print_message("\n%d signals, %d codes and payloads, %d trouble codes agree; %d signals are not "
                  "read yet\n",
                  layouts.signals, layouts.readings, layouts.trouble_codes, layouts.not_read);
    assert_int_equal(layouts.not_read, 0);
    assert_true(layouts.signals >= 203);
    assert_true(layouts.readings >= 1100);
    assert_int_equal(layouts.trouble_codes, 8);
}

/* A field of the catalogue with an SPN that the file does not speak of was never held against
 * anything but the catalogue. */
static void layout__every_spn_that_becomes_a_channel__is_in_the_file(void **state)
{
    (void)state;
    for (size_t i = 0; i < catalogue_count(); i++) {
        const struct pgn_info *row = catalogue_row(i);
        for (unsigned k = 0; k < row->field_count; k++) {
            const struct field_info *f = &row->fields[k];
            if (f->spn == 0 || f->family == FAMILY_CODE || f->quantity == QTY_NONE)
                continue;
            if (!layouts.spoken[f->spn])
                fail_msg("%s has no signal line for SPN %u (%s)", path, f->spn, f->name);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(layout__typed_from_the_source_alone__every_code_agrees),
        cmocka_unit_test(layout__every_spn_that_becomes_a_channel__is_in_the_file),
    };
    return cmocka_run_group_tests(tests, read_layouts, NULL);
}
