/* Cross-check against two independent open-source libraries: tests/vectors/iec.txt and j1939.txt
 * (their first lines name library and version), made by tests/vectors/make.mjs. Each message is fed
 * frame by frame through the assembler and the interpreter. Run from the top of the project. */
#include "wire/frames.h"

#include "base/text.h"
#include "wire/bits.h"
#include "wire/catalogue.h"
#include "wire/decode.h"

#include "support/name.h"

#include <stdio.h>

#include "base/banned.h"

#define WORDS_MAX 16

struct reader {
    struct wire *wire;
    struct message message;
    bool complete;
    struct wire_value values[DECODE_VALUES_MAX];
    size_t count, checked; /* values decoded, values that a line spoke of */
    struct frame frame;
    int64_t now_ms;
    uint32_t pgn;
    int messages, pgns_seen, line;
    bool seen[0x40000];
    const char *path;
};

static void fail_at(const struct reader *r, const char *what)
{
    fail_msg("%s:%d: %s", r->path, r->line, what);
}

static double number_of(const struct reader *r, const char *word)
{
    double v = 0.0;
    if (word == NULL || !text_to_double(word, &v))
        fail_at(r, "no number");
    return v;
}

static void check_near_at(const struct reader *r, double got, double want, double tolerance)
{
    if (!(fabs(got - want) <= tolerance)) {
        print_error("%.12g is not within %.3g of %.12g\n", got, tolerance, want);
        fail_at(r, "differs");
    }
}

/* Everything that was decoded must have been spoken of. */
static void close_message(struct reader *r)
{
    if (r->pgn == 0)
        return;
    if (!r->complete)
        fail_at(r, "the message before this line was never complete");
    if (r->checked != r->count)
        fail_at(r, "the message before this line has values that were not encoded");
    r->messages++;
    r->pgns_seen += !r->seen[r->pgn];
    r->seen[r->pgn] = true;
}

static void take_frame(struct reader *r, const char *text)
{
    if (r->complete)
        fail_at(r, "a frame behind the end of its message");
    r->frame = frame_of(text, r->now_ms++);
    r->complete = wire_frame(r->wire, &r->frame, &r->message);
    if (r->complete)
        r->count = decode_values(&r->message, r->values);
}

static const struct wire_value *value_of(struct reader *r, const char *key)
{
    for (size_t i = 0; i < r->count; i++) {
        char text[CHANNEL_KEY_SIZE];
        channel_id_format(text, sizeof text, r->values[i].id);
        if (strcmp(text, key) == 0) {
            r->checked++;
            return &r->values[i];
        }
    }
    fail_at(r, "no such value");
    return NULL;
}

static void check_status(const struct reader *r, const struct wire_value *v,
                         enum reading_status want)
{
    if (v->status != want)
        fail_at(r, "another status");
}

static void check_value_line(struct reader *r, char **w, int n)
{
    if (strcmp(w[0], "value") == 0 && n == 4) {
        const struct wire_value *v = value_of(r, w[1]);
        check_status(r, v, READING_OK);
        double tolerance = number_of(r, w[3]);
        double want = number_of(r, w[2]);
        check_near_at(r, v->value, want, tolerance * (1 + 1e-6) + 1e-9 + fabs(want) * 1e-11);
    } else if (strcmp(w[0], "none") == 0 && n == 2) {
        check_status(r, value_of(r, w[1]), READING_NOT_AVAILABLE);
    } else if (strcmp(w[0], "error") == 0 && n == 2) {
        check_status(r, value_of(r, w[1]), READING_ERROR);
    } else if (strcmp(w[0], "capacity") == 0 && n == 3) {
        assert_true(r->count == 1);
        check_near_at(r, r->values[0].capacity_l, number_of(r, w[1]), number_of(r, w[2]) + 1e-9);
    } else {
        fail_at(r, "unknown line");
    }
}

/* A field by its name in the catalogue. */
static const struct field_info *field_named(const struct reader *r, const char *name)
{
    const struct pgn_info *row = catalogue_find(r->pgn);
    for (unsigned i = 0; i < row->field_count; i++)
        if (strcmp(row->fields[i].name, name) == 0)
            return &row->fields[i];
    fail_at(r, "no such field");
    return NULL;
}

/* A field that is not a channel, its name with _ for a blank. */
static void check_field(const struct reader *r, char **w)
{
    double v = 0.0, want = number_of(r, w[3]);
    for (char *s = w[1]; *s != '\0'; s++)
        *s = *s == '_' ? ' ' : *s;
    unsigned index = (unsigned)number_of(r, w[2]);
    if (decode_field(&r->message, field_named(r, w[1]), index, &v) != READING_OK)
        fail_at(r, "no value");
    check_near_at(r, v, want, number_of(r, w[4]) * (1 + 1e-6) + 1e-9 + fabs(want) * 1e-11);
}

/* A code, of which all bits count. */
static void check_code(const struct reader *r, const char *name, const char *want)
{
    const struct field_info *f = field_named(r, name);
    assert_int_equal(f->family, FAMILY_CODE);
    check_near_at(r, (double)bits_at(r->message.data, r->message.len, f->bit, f->bits),
                  number_of(r, want), 0);
}

static void check_product(const struct reader *r, char **w)
{
    struct product_info p;
    assert_true(decode_product_info(&r->message, &p));
    check_near_at(r, p.version, number_of(r, w[1]), 1e-9);
    check_near_at(r, p.code, number_of(r, w[2]), 0);
    assert_string_equal(p.model, w[3]);
    assert_string_equal(p.software, w[4]);
    assert_string_equal(p.model_version, w[5]);
    assert_string_equal(p.serial, w[6]);
    check_near_at(r, p.certification, number_of(r, w[7]), 0);
    check_near_at(r, p.load_equivalency, number_of(r, w[8]), 0);
}

static void check_name(const struct reader *r, char **w)
{
    uint64_t name;
    assert_true(name_from_claim(&r->message, &name));
    struct name_fields f = name_decode(name);
    const unsigned got[] = {f.identity,          f.manufacturer,   f.ecu_instance,
                            f.function_instance, f.function,       f.vehicle_class,
                            f.class_instance,    f.industry_group, f.arbitrary_address};
    for (int i = 0; i < 9; i++)
        check_near_at(r, got[i], number_of(r, w[1 + i]), 0);
    assert_true(name_encode(f) == (name & ~(UINT64_C(1) << 48)));
}

static void check_alert(const struct reader *r, char **w)
{
    struct bus_alert a;
    assert_true(decode_bus_alert(&r->message, &a));
    const int got[] = {a.type, a.system, a.id, a.occurrence, a.instance, a.index};
    for (int i = 0; i < 6; i++)
        check_near_at(r, got[i], number_of(r, w[1 + i]), 0);
    if (r->pgn == 126985) {
        assert_string_equal(a.description, w[7]);
        assert_string_equal(a.location, w[8]);
    } else {
        check_near_at(r, a.priority, number_of(r, w[7]), 0);
        check_near_at(r, a.state, number_of(r, w[8]), 0);
    }
}

/* What is no channel. True when the line was one of these. */
static bool check_other(const struct reader *r, char **w, int n)
{
    if (strcmp(w[0], "status") == 0 && n == 4) {
        uint8_t engine;
        uint16_t one, two;
        assert_true(decode_engine_status(&r->message, &engine, &one, &two));
        check_near_at(r, engine, number_of(r, w[1]), 0);
        check_near_at(r, one, number_of(r, w[2]), 0);
        check_near_at(r, two, number_of(r, w[3]), 0);
    } else if (strcmp(w[0], "clock") == 0 && n == 2) {
        int64_t ns;
        assert_true(decode_system_time(&r->message, &ns));
        check_near_at(r, (double)ns / 1e9, number_of(r, w[1]), 2e-6);
    } else if (strcmp(w[0], "heartbeat") == 0 && n == 3) {
        struct heartbeat h;
        assert_true(decode_heartbeat(&r->message, &h));
        check_near_at(r, h.interval_s, number_of(r, w[1]), 0.005 + 1e-9);
        check_near_at(r, h.sequence, number_of(r, w[2]), 0);
    } else if (strcmp(w[0], "request") == 0 && n == 2) {
        check_code(r, "PGN asked for", w[1]);
    } else if (strcmp(w[0], "field") == 0 && n == 5) {
        check_field(r, w);
    } else if (strcmp(w[0], "acknowledgement") == 0 && n == 3) {
        check_code(r, "control", w[1]);
        check_code(r, "PGN acknowledged", w[2]);
    } else if (strcmp(w[0], "battery") == 0 && n == 5) {
        struct battery_setup b;
        assert_true(decode_battery_setup(&r->message, &b));
        check_near_at(r, b.battery, number_of(r, w[1]), 0);
        check_near_at(r, b.chemistry, number_of(r, w[2]), 0);
        check_near_at(r, b.type, number_of(r, w[3]), 0);
        check_near_at(r, b.nominal_volts, number_of(r, w[4]), 0);
    } else if (strcmp(w[0], "alert") == 0 && n == 9) {
        check_alert(r, w);
    } else if (strcmp(w[0], "product") == 0 && n == 9) {
        check_product(r, w);
    } else if (strcmp(w[0], "name") == 0 && n == 10) {
        check_name(r, w);
    } else {
        return false;
    }
    return true;
}

static void take_line(struct reader *r, char *line)
{
    char *w[WORDS_MAX] = {NULL}, *rest = NULL;
    int n = 0;
    for (char *s = strtok_r(line, " \n", &rest); s != NULL && n < WORDS_MAX;
         s = strtok_r(NULL, " \n", &rest))
        w[n++] = s;
    if (n == 0 || w[0][0] == '#')
        return;
    if (strcmp(w[0], "message") == 0 && n == 4) {
        close_message(r);
        r->pgn = (uint32_t)number_of(r, w[1]);
        r->complete = false;
        r->count = r->checked = 0;
        r->now_ms += 1000;
    } else if (strcmp(w[0], "frame") == 0 && n == 2) {
        take_frame(r, w[1]);
    } else {
        if (!r->complete)
            fail_at(r, "the message is not complete");
        assert_int_equal(r->message.pgn, r->pgn);
        if (!check_other(r, w, n))
            check_value_line(r, w, n);
    }
}

static void read_vectors(const char *path, int messages_at_least, int pgns_at_least)
{
    static struct reader r;
    memset(&r, 0, sizeof r);
    r.path = path;
    r.wire = wire_new();
    FILE *f = fopen(path, "r");
    if (f == NULL)
        fail_msg("cannot open %s: run the tests from the top of the project", path);
    char line[400];
    while (fgets(line, sizeof line, f) != NULL) {
        r.line++;
        take_line(&r, line);
    }
    close_message(&r);
    fclose(f);
    print_message("%s: %d messages of %d PGNs agree\n", path, r.messages, r.pgns_seen);
    assert_true(r.messages >= messages_at_least);
    assert_true(r.pgns_seen >= pgns_at_least);
    const struct wire_stats *s = wire_stats(r.wire);
    assert_int_equal(s->fast_lost + s->tp_lost + s->timeouts + s->unknown, 0);
    wire_free(r.wire);
}

static void iec__encoded_by_a_library__every_value_agrees(void **state)
{
    (void)state;
    read_vectors("tests/vectors/iec.txt", 800, 38);
}

static void j1939__decoded_by_a_library__every_value_agrees(void **state)
{
    (void)state;
    read_vectors("tests/vectors/j1939.txt", 300, 26);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(iec__encoded_by_a_library__every_value_agrees),
        cmocka_unit_test(j1939__decoded_by_a_library__every_value_agrees),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
