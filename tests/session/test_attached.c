/* What a board makes of the lines of a `tend` that it is attached to: those of the door's own
 * golden text, and lines made up by hand: at the bounds of each field, beyond them, and without the
 * last ones, as an older program says them. Kept as text. */
#include "session/attached.h"

#include "hooks/lines.h"

#include "support/check.h"
#include "support/golden.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static struct attached *a;

static int begin(void **state)
{
    (void)state;
    a = calloc(1, sizeof *a);
    return a ? 0 : -1;
}

static int end(void **state)
{
    (void)state;
    for (size_t i = 0; i < PLANT_CHANNELS; i++)
        if (a->channels[i]) {
            history_free(a->channels[i]->history);
            history_free(a->channels[i]->low);
            history_free(a->channels[i]->high);
            free(a->channels[i]);
        }
    free(a);
    return 0;
}

static void say(const char *line)
{
    size_t n = strlen(line);

    assert_true(a->in_len + n + 1 <= sizeof a->in);
    memcpy(a->in + a->in_len, line, n);
    a->in_len += n;
    a->in[a->in_len++] = '\n';
    attached_take_lines(a);
    assert_int_equal(a->in_len, 0);
}

static void put_history(FILE *out, const char *what, const struct history *h)
{
    double low, high;

    if (h && history_extremes(h, &low, &high))
        fprintf(out, " %s %g..%g", what, low, high);
}

static void put_channel(FILE *out, size_t i)
{
    const struct remote *r = a->channels[i];
    const struct model_channel *c = &r->c;

    fprintf(out, "channel %zu: known %d hidden %d", i, r->known, r->hidden);
    if (!r->known) {
        fputc('\n', out);
        return;
    }
    fprintf(out,
            " id %u.%u.%u engine %d second %d iface %u source %u pgn %u volts %d '%s' '%s' '%s' "
            "unit %d decimals %u steady %g period %lld",
            c->id.quantity, c->id.place, c->id.sub, c->engine, c->second, c->iface, c->source,
            c->pgn, c->nominal_volts, c->key, c->label, c->place, (int)c->unit, c->decimals,
            c->steady_per_min, (long long)c->period_ns);
    if (c->has_limit)
        fprintf(out, " limit %g above %d priority %d", c->limit, c->limit_above,
                (int)c->limit_priority);
    fprintf(out, " status %d off %d value %g at %lld", (int)c->status, c->off, c->value,
            (long long)r->good_ns);
    if (c->has_expected)
        fprintf(out, " expected %g +- %g", c->expected, c->allowance);
    if (c->has_season)
        fprintf(out, " season %g share %d since %s", c->season, c->season_is_share,
                c->season_since);
    put_history(out, "past", r->history);
    put_history(out, "low", r->low);
    put_history(out, "high", r->high);
    fputc('\n', out);
}

static void put_alert(FILE *out, const struct alert *x)
{
    fprintf(out, "  %u kind %d priority %d state %d active %d rule '%s' channel '%s' %g '%s'\n",
            x->id, (int)x->kind, (int)x->priority, (int)x->state, x->active, x->rule, x->channel,
            x->value, x->text);
}

static void put_all(FILE *out, const char *what)
{
    fprintf(out, "== %s\nboat '%s' '%s' '%s' clock %d span %lld silence %lld\n", what, a->vessel,
            a->source, a->record, a->clock_known, (long long)a->trend_span_ns,
            (long long)a->silence_ns);
    fprintf(out,
            "time %lld %lld answered %d frames %llu lost %llu bad %llu errors %llu load %g rate %g "
            "sound %d bus clock %d ahead %lld listened %lld losses %llu %llu %llu %llu %llu "
            "unknown %d\n",
            (long long)a->now.wall_ns, (long long)a->now.mono_ns, a->answered,
            (unsigned long long)a->bus.frames, (unsigned long long)a->bus.lost,
            (unsigned long long)a->bus.bad_lines, (unsigned long long)a->bus.errors,
            a->bus.load_percent, a->bus.frames_per_s, (int)a->sound, a->has_bus_clock,
            (long long)a->bus_ahead_ns, (long long)a->listened_ns,
            (unsigned long long)a->bus.losses.incomplete, (unsigned long long)a->bus.losses.gaps,
            (unsigned long long)a->bus.losses.dropped, (unsigned long long)a->bus.losses.unbound,
            (unsigned long long)a->bus.losses.alerts_lost, a->bus.losses_unknown);
    for (int i = 0; i < PLANT_ENGINES; i++)
        if (a->engines[i].known)
            fprintf(out, "engine %d '%s' state %d order %d generator %d careful %d '%s'\n", i,
                    a->engines[i].name, (int)a->engines[i].state, a->engines[i].order,
                    a->engines[i].generator, a->engines[i].careful, a->engines[i].sense);
    for (int i = 0; i < a->iface_count; i++)
        fprintf(out, "iface %d '%s'\n", i, a->iface_names[i]);
    for (int i = 0; i < a->source_count; i++) {
        const struct model_source *s = &a->sources[i];

        fprintf(out,
                "station %u %u name %llx frames %llu at %lld changes %u gaps %u earlier %u %u "
                "%u\n",
                s->iface, s->address, (unsigned long long)s->name, (unsigned long long)s->frames,
                (long long)a->source_last_ns[i], s->name_changes, s->gaps, s->earlier,
                s->earlier_spn, s->earlier_fmi);
    }
    for (size_t i = 0; i < a->channel_count; i++)
        if (a->channels[i])
            put_channel(out, i);
    fprintf(out, "alerts %zu listed, %zu ended\n", a->listed, a->ended);
    for (size_t i = 0; i < a->listed + a->ended; i++)
        put_alert(out, &a->alerts[i]);
}

static void lines__of_a_tend__are_taken_as_they_were_sent(void **state)
{
    char line[4096], *text = NULL;
    size_t len = 0;
    FILE *in = fopen("tests/hooks/golden/door-feed.txt", "r"), *out = open_memstream(&text, &len);

    (void)state;
    assert_non_null(in);
    assert_non_null(out);
    while (fgets(line, sizeof line, in)) {
        line[strcspn(line, "\n")] = '\0';
        if (strncmp(line, "==", 2) == 0 && a->answered)
            put_all(out, line + 3);
        else if (strncmp(line, "==", 2) != 0)
            say(line);
    }
    put_all(out, "at the end");
    fclose(in);
    fclose(out);
    golden_check("session", "attached-tend", text);
    free(text);
}

static void lines__at_and_beyond_their_bounds__are_held_within(void **state)
{
    static const char *const lines[] = {
        "boat\tTern \x1b[31mPoint\tcan0\t59999999999\t0\ton\t1",
        "boat\tTern Point\tcan0\t86400000000001\t3600000000001\toff\t1",
        "boat\tTern Point\tcan0\t86400000000000\t3600000000000\toff\t0",
        "engine\t7\tLAST\t2",
        "engine\t8\tTOO FAR\t2",
        "engine\t0\tPORT\t2\t1\t1\t1\tby its exhaust",
        "engine\t1\tSTARBOARD\t3\t0\t0\t0\tno such state",
        "iface\t15\tlast",
        "iface\t16\ttoo far",
        "station\t255\t255\t-1\t7\t1000\t3",
        "station\t0\t36\t12\t8\t2000\t4\t5\t37\t524287\t31",
        "station\t0\t36\t12\t9\t2001\t4\t5\t37\t524288\t31",
        "station\t0\t256\t12\t9\t2001\t4",
        "channel\t3\t1\t255\t255\t7\t1\t1\t255\t255\t4294967295\t48\t1\t1\t3000\trpm.255\tspeed\t"
        "PORT\t86400000000000\t3",
        "channel\t4\t1\t0\t0\t-1\t0\t0\t0\t0\t0\t0\t1\t0\t2e9\trpm.0\t\t",
        "channel\t5\t1\t0\t0\t8\t0\t0\t0\t0\t0\t0\t1\t0\t5\trpm.0\tspeed\t",
        "channel\t6\t1\t0\t0\t0\t0\t0\t0\t0\t0\t49\t1\t0\t5\trpm.0\tspeed\t",
        "channel\t1023\t13\t1\t0\t1\t0\t0\t0\t9\t130312\t0\t1\t1\t93.3\texhaust.1\texhaust\t"
        "STARBOARD\t2000000000\t2",
        "channel\t1024\t13\t1\t0\t1\t0\t0\t0\t9\t130312\t0\t1\t1\t93.3\texhaust.2\texhaust\t",
        "value\t3\t1\t0\t1e9\t5000",
        "value\t4\t1\t0\t1.1e9\t5000",
        "value\t1023\t4\t1\t61.5\t5001",
        "value\t1023\t5\t1\t62.5\t5002",
        "past\t3\t1000000000000\t1000000000\t10\t20\t15\t5",
        "past\t3\t1001000000000\t1000000000\t30\t20\t25\t5",
        "past\t4\t1000000000000\t1000000000\t7\t8\t99\t5",
        "band\t1023\t1000000000000\t1000000000\t30\t31\t30.5\t4\t40\t41\t40.5",
        "band\t3\t1000000000000\t1000000000\t30\t29\t30.5\t4\t40\t41\t40.5",
        "expect\t1023\t1\t33.5\t0",
        "expect\t3\t1\t33.5\t-0.5",
        "expect\t4\t0\t33.5\t1",
        "season\t1023\t1\t2.5\t1\t1777852800000000000",
        "season\t3\t0\t2.5\t0\t1777852800000000000",
        "alerts\t1\t0",
        "time\t1777903200000000000\t1002000000000\t10\t11\t12\t13\t101\t55\t2\t1\t-7",
        "what is of a newer program\t1\t2",
    };
    char *text = NULL;
    size_t len = 0;
    FILE *out = open_memstream(&text, &len);

    (void)state;
    assert_non_null(out);
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++) {
        say(lines[i]);
        if (i < 3)
            put_all(out, "a boat");
    }
    put_all(out, "all of them");
    say("time\t1777903201000000000\t1003000000000\t20\t21\t22\t23\tnan\tnan\t3\t0\t0");
    say("time\t1777903202000000000\t1004000000000\t30\t31\t32\t33\tnan\tnan\t0\t0\t0\t9000\t1\t2\t3"
        "\t4\t5");
    put_all(out, "and a later time");
    fclose(out);
    golden_check("session", "attached-bounds", text);
    free(text);
}

/* A line comes in two pieces; one that never ends is given up. */
static void lines__in_pieces__are_taken_when_whole(void **state)
{
    (void)state;
    memcpy(a->in, "boat\tTern Po", 12);
    a->in_len = 12;
    attached_take_lines(a);
    assert_int_equal(a->in_len, 12);
    assert_string_equal(a->vessel, "");
    memcpy(a->in + 12, "int\tcan0\t0\t0\ton\t1\nif", 20);
    a->in_len = 32;
    attached_take_lines(a);
    assert_string_equal(a->vessel, "Tern Point");
    assert_int_equal(a->in_len, 2);
    assert_memory_equal(a->in, "if", 2);
    memset(a->in, 'x', sizeof a->in);
    a->in_len = sizeof a->in - 1;
    attached_take_lines(a);
    assert_int_equal(a->in_len, sizeof a->in - 1);
    a->in_len = sizeof a->in;
    attached_take_lines(a);
    assert_int_equal(a->in_len, 0);
}

/* A line that ends too early, or has a figure that is none, changes nothing of what stood. */
static void lines__bad_ones__change_nothing(void **state)
{
    (void)state;
    static const char *const good[] = {"boat\tTern Point\tcan0\t600000000000\t0\ton\t1",
                                       "channel\t0\t3\t0\t0\t0\t0\t0\t0\t16\t127488\t12\t0\t1"
                                       "\t0\tsome.0\tLabel\tPORT"};
    static const char *const bad[] = {"boat\tOther\tcan1\tnever\t0\toff\t0", "boat\tOther\tcan1",
                                      "boat\tOther\tcan1\t900000000000\t0\toff\tmaybe",
                                      "channel\t0\t3\t0\t0\t0\t0\t0\t0\t17\t127488\t24\t0\t1"
                                      "\t0\tother.0\tOther\tSTARBOARD\tsoon",
                                      "channel\t0\t3\t0\t0\t0\t0\t0\t0\t17\t127488\t24\t0\t1"
                                      "\t0\tother.0\tOther"};
    for (size_t i = 0; i < sizeof good / sizeof *good; i++)
        say(good[i]);
    assert_non_null(a->channels[0]);
    assert_true(a->channels[0]->known);
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        say(bad[i]);
        assert_string_equal(a->vessel, "Tern Point");
        assert_string_equal(a->source, "can0");
        assert_string_equal(a->record, "on");
        assert_true(a->clock_known);
        assert_true(a->trend_span_ns == 600 * NS_PER_S);
        assert_string_equal(a->channels[0]->key, "some.0");
        assert_string_equal(a->channels[0]->label, "Label");
        assert_string_equal(a->channels[0]->place, "PORT");
        assert_int_equal(a->channels[0]->c.source, 16);
    }
}

/* ---- the bounds of each figure ---- */

#define MONO_MOST (LINE_TIME_MOST / 2)
#define COUNT     0, INT64_MAX
#define FLAG      0, 1
#define AMONG     0, PLANT_CHANNELS - 1

/* A line with @ for a figure, and the least and the most it may be: the whole line is taken at both
 * and not beyond either. Zeroes stand where others would. */
static const struct bounds {
    const char *line;
    int64_t least, most;
} bounds[] = {
    {"boat\tTern\tcan0\t@\t0\ton\t1", 0, MONO_MOST},
    {"boat\tTern\tcan0\t0\t@\ton\t1", 0, MONO_MOST},
    {"boat\tTern\tcan0\t0\t0\ton\t@", FLAG},
    {"engine\t@\tPORT\t0", 0, 7},
    {"engine\t0\tPORT\t@", ENGINE_UNKNOWN, ENGINE_RUNNING},
    {"engine\t0\tPORT\t0\t@", 0, 7},
    {"engine\t0\tPORT\t0\t0\t@", FLAG},
    {"engine\t0\tPORT\t0\t0\t0\t@", FLAG},
    {"iface\t@\tcan0", 0, 15},
    {"station\t@\t0\t0\t0\t0\t0", 0, 255},
    {"station\t0\t@\t0\t0\t0\t0", 0, 255},
    {"station\t0\t0\t0\t@\t0\t0", COUNT},
    {"station\t0\t0\t0\t0\t@\t0", 0, MONO_MOST},
    {"station\t0\t0\t0\t0\t0\t@", 0, UINT32_MAX},
    {"station\t0\t0\t0\t0\t0\t0\t@", 0, UINT32_MAX},
    {"station\t0\t0\t0\t0\t0\t0\t0\t@", 0, 255},
    {"station\t0\t0\t0\t0\t0\t0\t0\t0\t@", 0, 524287},
    {"station\t0\t0\t0\t0\t0\t0\t0\t0\t0\t@", 0, 31},
    {"channel\t@\t1\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\tkk\tl\tp", AMONG},
    {"channel\t0\t@\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\tkk\tl\tp", 0, QTY_COUNT - 1},
    {"channel\t0\t1\t@\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\tkk\tl\tp", 0, 255},
    {"channel\t0\t1\t0\t@\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\tkk\tl\tp", 0, 255},
    {"channel\t0\t1\t0\t0\t@\t0\t0\t0\t0\t0\t0\t0\t0\t0\tkk\tl\tp", -1, 7},
    {"channel\t0\t1\t0\t0\t0\t@\t0\t0\t0\t0\t0\t0\t0\t0\tkk\tl\tp", FLAG},
    {"channel\t0\t1\t0\t0\t0\t0\t@\t0\t0\t0\t0\t0\t0\t0\tkk\tl\tp", FLAG},
    {"channel\t0\t1\t0\t0\t0\t0\t0\t@\t0\t0\t0\t0\t0\t0\tkk\tl\tp", 0, 255},
    {"channel\t0\t1\t0\t0\t0\t0\t0\t0\t@\t0\t0\t0\t0\t0\tkk\tl\tp", 0, 255},
    {"channel\t0\t1\t0\t0\t0\t0\t0\t0\t0\t@\t0\t0\t0\t0\tkk\tl\tp", 0, UINT32_MAX},
    {"channel\t0\t1\t0\t0\t0\t0\t0\t0\t0\t0\t@\t0\t0\t0\tkk\tl\tp", 0, 48},
    {"channel\t0\t1\t0\t0\t0\t0\t0\t0\t0\t0\t0\t@\t0\t0\tkk\tl\tp", FLAG},
    {"channel\t0\t1\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t@\t0\tkk\tl\tp", FLAG},
    {"channel\t0\t1\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\tkk\tl\tp\t@", 0, 86400 * NS_PER_S},
    {"channel\t0\t1\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\tkk\tl\tp\t0\t@", PRIORITY_CAUTION,
     PRIORITY_EMERGENCY},
    {"past\t@\t0\t0\t1\t2\t1\t1", AMONG},
    {"past\t0\t@\t0\t1\t2\t1\t1", 0, MONO_MOST},
    {"past\t0\t0\t@\t1\t2\t1\t1", 0, MONO_MOST},
    {"past\t0\t0\t0\t1\t2\t1\t@", 1, UINT32_MAX},
    {"band\t@\t0\t0\t1\t2\t1\t1\t3\t4\t3", AMONG},
    {"band\t0\t@\t0\t1\t2\t1\t1\t3\t4\t3", 0, MONO_MOST},
    {"band\t0\t0\t@\t1\t2\t1\t1\t3\t4\t3", 0, MONO_MOST},
    {"expect\t@\t1\t7\t1", AMONG},
    {"expect\t0\t@\t7\t1", FLAG},
    {"season\t@\t1\t7\t0\t0", AMONG},
    {"season\t0\t@\t7\t0\t0", FLAG},
    {"season\t0\t1\t7\t@\t0", FLAG},
    {"season\t0\t1\t7\t0\t@", COUNT},
    {"value\t@\t1\t0\t7\t0", AMONG},
    {"value\t0\t@\t0\t7\t9", READING_NEVER, READING_STALE},
    {"value\t0\t1\t@\t7\t9", FLAG},
    {"value\t0\t1\t0\t7\t@", 0, MONO_MOST},
    {"time\t@\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0", -LINE_TIME_MOST, LINE_TIME_MOST},
    {"time\t0\t@\t0\t0\t0\t0\t0\t0\t0\t0\t0", 0, MONO_MOST},
    {"time\t0\t0\t@\t0\t0\t0\t0\t0\t0\t0\t0", COUNT},
    {"time\t0\t0\t0\t@\t0\t0\t0\t0\t0\t0\t0", COUNT},
    {"time\t0\t0\t0\t0\t@\t0\t0\t0\t0\t0\t0", COUNT},
    {"time\t0\t0\t0\t0\t0\t@\t0\t0\t0\t0\t0", COUNT},
    {"time\t0\t0\t0\t0\t0\t0\t0\t0\t@\t0\t0", SOUND_NONE, SOUND_ALARM},
    {"time\t0\t0\t0\t0\t0\t0\t0\t0\t0\t@\t0", FLAG},
    {"time\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t@", -MONO_MOST, MONO_MOST},
    {"time\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t@", 0, MONO_MOST},
    {"time\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t@\t0\t0\t0\t0", COUNT},
    {"time\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t@\t0\t0\t0", COUNT},
    {"time\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t@\t0\t0", COUNT},
    {"time\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t@\t0", COUNT},
    {"time\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t@", COUNT},
};

static char *all_of(void)
{
    char *text = NULL;
    size_t len = 0;
    FILE *out = open_memstream(&text, &len);
    assert_non_null(out);
    put_all(out, "");
    fclose(out);
    return text;
}

/* Whether a line with that figure changed what is known. */
static bool is_taken(const char *with, int64_t figure)
{
    char line[300];
    const char *at = strchr(with, '@');
    assert_non_null(at);
    end(NULL);
    begin(NULL);
    say("channel\t0\t1\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\t0\tk\tl\tp");
    say("expect\t0\t1\t33.5\t2");
    say("season\t0\t1\t2.5\t0\t0");
    snprintf(line, sizeof line, "%.*s%lld%s", (int)(at - with), with, (long long)figure, at + 1);
    char *before = all_of();
    say(line);
    char *after = all_of();
    bool same = strcmp(before, after) == 0;
    free(before);
    free(after);
    return !same;
}

static void figures__each__taken_at_its_bounds_and_not_beyond(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof bounds / sizeof *bounds; i++) {
        const struct bounds *b = &bounds[i];
        if (!is_taken(b->line, b->least) || !is_taken(b->line, b->most))
            fail_msg("not taken: %s", b->line);
        if (is_taken(b->line, b->least - 1) ||
            (b->most < INT64_MAX && is_taken(b->line, b->most + 1)))
            fail_msg("taken beyond its bounds: %s", b->line);
    }
}

/* A list of alerts counts once all of its lines have come, and no more than there is room for. */
static void alerts__as_many_as_there_is_room_for(void **state)
{
    static const struct {
        size_t come, listed, ended;
        bool taken;
    } rows[] = {
        {0, 0, 0, true},
        {1, 0, 1, true},
        {1, 1, 1, false},
        {2, 1, 0, false},
        {ALERTS_MAX, ALERTS_MAX, 0, true},
        {ALERTS_MAX + 1, ALERTS_MAX + 1, 0, false},
        {ATTACHED_ENDED, 0, ATTACHED_ENDED, true},
        {ATTACHED_ENDED + 1, 0, ATTACHED_ENDED + 1, false},
        {ALERTS_MAX + ATTACHED_ENDED, ALERTS_MAX, ATTACHED_ENDED, true},
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char line[60];
        a->listed = a->ended = 5;
        a->coming_count = rows[i].come;
        snprintf(line, sizeof line, "alerts\t%zu\t%zu", rows[i].listed, rows[i].ended);
        say(line);
        assert_int_equal(a->listed, rows[i].taken ? rows[i].listed : 5);
        assert_int_equal(a->ended, rows[i].taken ? rows[i].ended : 5);
        assert_int_equal(a->coming_count, 0);
    }
}

#define WITH_BOARD(f) cmocka_unit_test_setup_teardown(f, begin, end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH_BOARD(lines__of_a_tend__are_taken_as_they_were_sent),
        WITH_BOARD(lines__at_and_beyond_their_bounds__are_held_within),
        WITH_BOARD(lines__bad_ones__change_nothing),
        WITH_BOARD(figures__each__taken_at_its_bounds_and_not_beyond),
        WITH_BOARD(alerts__as_many_as_there_is_room_for),
        WITH_BOARD(lines__in_pieces__are_taken_when_whole),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
