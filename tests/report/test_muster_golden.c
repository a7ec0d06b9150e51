/* A muster of a boat with faults written out in every form and kept as golden files; its JSON
 * lines read by jq. The exhaust boxes fall silent, the position receiver stops, a second box sends
 * exhaust.0 and calls itself nothing. */
#include "report/muster/muster.h"
#include "report/signoff/signoff.h"

#include "config/config.h"
#include "report/voyage.h"

#include "support/check.h"
#include "support/golden.h"
#include "support/program.h"

#include <stdio.h>
#include <stdlib.h>

static struct settings *settings;
static struct muster *muster;

static void take(void *ctx, const struct frame *f)
{
    struct frame second = *f;

    (void)ctx;
    muster_frames(muster, f, 1);
    /* the box at address 0x20 has an echo at 0x32, two degrees warmer, for a while */
    if ((f->id & 0xFF) != 0x20 || f->wall_ns % (40 * NS_PER_S) > 20 * NS_PER_S)
        return;
    second.id = (f->id & ~0xFFu) | 0x32;
    second.data[3] = (uint8_t)(f->data[3] ^ 0x0F);
    muster_frames(muster, &second, 1);
}

static const struct page_log made_up = {"made-up.log", "e3b0c44298fc1c149afbf4c8996fb924"};
static const struct page_source source = {.version = "0", .log = &made_up, .logs = 1};
static struct particulars particulars;
static const struct papers papers = {&particulars, &source};

static int setup(void **state)
{
    struct config_messages *messages = NULL;
    struct voyage v;

    (void)state;
    settings = config_load(NULL, &messages);
    config_messages_free(messages);
    muster = muster_new(settings);
    if (!settings || !muster)
        return -1;
    muster_name_iface(muster, 0, "can0");
    voyage_plain(&v);
    v.log_gain = 1;
    v.exhaust_stops_s = 1900;
    v.position_stops_s = 2300;
    v.hole_every_s = 700;
    v.hole_s = 60;
    voyage_usual(&v);
    v.legs = 9;
    voyage_frames(&v, take, NULL, NULL);
    muster_close(muster);
    return particulars_read(program_file("particulars", "place = Example Sound\n"
                                                        "people = R. <Example>\n"
                                                        "signature = Surveyor, T. Example\n"),
                            &particulars, NULL)
               ? 0
               : -1;
}

static int teardown(void **state)
{
    (void)state;
    muster_free(muster);
    settings_free(settings);
    return 0;
}

static void write_text(FILE *out)
{
    muster_print(muster, "made-up.log", &papers, true, out);
}

static void write_json(FILE *out)
{
    muster_print_json(muster, &papers, out);
}

static void write_start(FILE *out)
{
    muster_write_config(muster, "made-up.log", out);
}

static void write_page(FILE *out)
{
    muster_write_html(muster, &papers, true, out);
}

static char *written(void (*f)(FILE *out))
{
    char *text = NULL;
    size_t len = 0;
    FILE *out = open_memstream(&text, &len);

    assert_non_null(out);
    f(out);
    fclose(out);
    return text;
}

static void check_form(const char *name, void (*f)(FILE *out))
{
    char *text = written(f);

    golden_check("report", name, text);
    free(text);
}

static void muster__as_text__is_as_kept(void **state)
{
    (void)state;
    check_form("muster.txt", write_text);
}

static void muster__as_json__is_as_kept(void **state)
{
    (void)state;
    check_form("muster.jsonl", write_json);
}

static void muster__as_configuration__is_as_kept(void **state)
{
    (void)state;
    check_form("muster.conf", write_start);
}

static void muster__as_page__is_as_kept_and_has_no_complaint(void **state)
{
    char *text = written(write_page), line[500], said[2000] = "";
    FILE *p;

    (void)state;
    snprintf(line, sizeof line, "tidy -q -e '%s' 2>&1", program_file("muster.html", text));
    p = popen(line, "r");
    assert_non_null(p);
    said[fread(said, 1, sizeof said - 1, p)] = '\0';
    pclose(p);
    assert_string_equal(said, "");
    golden_check("report", "muster.html", text);
    free(text);
}

static long jq_count(const char *json, const char *filter)
{
    char line[600], said[100] = "";
    FILE *p;

    snprintf(line, sizeof line, "jq -s '%s | length' '%s' 2>&1", filter,
             program_file("muster.jsonl", json));
    p = popen(line, "r");
    assert_non_null(p);
    said[fread(said, 1, sizeof said - 1, p)] = '\0';
    if (pclose(p) != 0)
        fail_msg("%s: %s", line, said);
    return strtol(said, NULL, 10);
}

static void json__read_by_jq__has_every_record(void **state)
{
    char *json = written(write_json);

    (void)state;
    assert_int_equal(jq_count(json, "map(select(.record == \"sender\"))"), muster->sender_count);
    assert_int_equal(jq_count(json, "map(select(.record == \"message\"))"), muster->message_count);
    assert_int_equal(jq_count(json, "map(select(.record == \"reading\"))"), muster->value_count);
    assert_int_equal(jq_count(json, "map(select(.record == \"finding\"))"),
                     muster_finding_total(muster));
    assert_int_equal(jq_count(json, "map(select(.record == \"summary\"))"), 1);
    assert_int_equal(jq_count(json, "map(select(.record == \"particular\" and "
                                    ".title == \"People\" and .text == \"R. <Example>\"))"),
                     1);
    assert_int_equal(jq_count(json, "map(select(.record == \"source\" and .version == \"0\" and "
                                    ".configuration == null))"),
                     1);
    assert_int_equal(jq_count(json, "map(select(.record == \"log\" and "
                                    ".sha256 == \"e3b0c44298fc1c149afbf4c8996fb924\"))"),
                     1);
    assert_int_equal(jq_count(json, "map(select(.rate == null and .record == \"message\" and "
                                    ".count > 1))"),
                     0);
    free(json);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(muster__as_text__is_as_kept),
        cmocka_unit_test(muster__as_json__is_as_kept),
        cmocka_unit_test(muster__as_configuration__is_as_kept),
        cmocka_unit_test(muster__as_page__is_as_kept_and_has_no_complaint),
        cmocka_unit_test(json__read_by_jq__has_every_record),
    };

    return cmocka_run_group_tests(tests, setup, teardown);
}
