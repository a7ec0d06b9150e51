/* What the trend view saves, to the byte, reckoned by hand: readings of a few seconds in two
 * minutes, and of the first and the last second of half an hour. */
#include "scene.h"
#include "screen/trend_file.h"

static struct scene s;

/* Seconds on the scene's mono clock, where now is 5000. */
static void hear(struct history *h, int second, double value)
{
    history_add(h, second * NS_PER_S, value);
}

static struct model_channel *empty(const char *key)
{
    for (size_t i = 0; i < s.m->channel_count; i++) {
        struct model_channel *c = &s.m->channels[i];
        if (strcmp(c->key, key) != 0)
            continue;
        history_free((struct history *)(uintptr_t)c->history);
        c->history = history_new();
        assert_non_null(c->history);
        return c;
    }
    fail_msg("no %s", key);
    return NULL;
}

static struct history *history_of(struct model_channel *c)
{
    return (struct history *)(uintptr_t)c->history;
}

static char *saved(bool (*save)(FILE *, const struct model *, const struct ui *), bool any)
{
    char *text = NULL;
    size_t len = 0;
    FILE *out = open_memstream(&text, &len);
    assert_non_null(out);
    assert_int_equal(save(out, s.m, &s.ui), any);
    fclose(out);
    return text;
}

static void check(bool (*save)(FILE *, const struct model *, const struct ui *), bool any,
                  const char *wanted)
{
    char *text = saved(save, any);
    size_t same = 0;
    while (text[same] && text[same] == wanted[same])
        same++;
    assert_string_equal(text + same, wanted + same); /* from the first that differs */
    free(text);
}

static void choose(int span, int count, const char *first, const char *second)
{
    s.ui.trend.span = span;
    s.ui.trend.count = count;
    snprintf(s.ui.trend.keys[0], sizeof s.ui.trend.keys[0], "%s", first);
    snprintf(s.ui.trend.keys[1], sizeof s.ui.trend.keys[1], "%s", second);
}

/* Two minutes in seconds, from 120 s ago up to the second that is heard to its end. 14:12:07 is
 * 1777903927. */
static void csv__two_minutes__a_line_for_each_second_that_was_heard(void **state)
{
    (void)state;
    scene_calm(&s, 1);
    struct model_channel *c = empty("exhaust.0");
    struct history *h = history_of(c);
    hear(h, 4879, 90);
    hear(h, 4880, 22);
    hear(h, 4881, 24);
    history_add(h, 4999 * NS_PER_S, 30);
    history_add(h, 4999 * NS_PER_S + 250 * NS_PER_MS, 33);
    hear(h, 5000, 90);
    choose(0, 1, "exhaust.0", "sea.0"); /* what was shown before is not */
    check(trend_file_csv, true,
          "time,channel,low,mean,high,unit\n"
          "1777903807.000,exhaust.0,22.00,22.00,22.00,°C\n"
          "1777903808.000,exhaust.0,24.00,24.00,24.00,°C\n"
          "1777903926.000,exhaust.0,30.00,31.50,33.00,°C\n");
    s.m->now.wall_ns += 45 * NS_PER_MS; /* each a part of a second later on the clock */
    check(trend_file_csv, true,
          "time,channel,low,mean,high,unit\n"
          "1777903807.045,exhaust.0,22.00,22.00,22.00,°C\n"
          "1777903808.045,exhaust.0,24.00,24.00,24.00,°C\n"
          "1777903926.045,exhaust.0,30.00,31.50,33.00,°C\n");
    scene_free(&s);
}

/* Half an hour is 600 stretches of three seconds, that begin at whole threes of the clock: the
 * first at 3201, the last at 4998. What is older than ten minutes is kept in tens of seconds, and
 * those from 3200 on are three stretches. */
static void csv__half_an_hour__stretches_of_three_seconds(void **state)
{
    (void)state;
    scene_calm(&s, 1);
    struct history *h = history_of(empty("exhaust.0"));
    hear(h, 3199, 90);
    hear(h, 3203, 60);
    hear(h, 4502, 5);
    hear(h, 4503, 10);
    hear(h, 4504, 20);
    hear(h, 4505, 60);
    hear(h, 4998, 41);
    choose(3, 2, "no-such", "exhaust.0"); /* one that is not there is passed over */
    check(trend_file_csv, true,
          "time,channel,low,mean,high,unit\n"
          "1777902128.000,exhaust.0,60.00,60.00,60.00,°C\n"
          "1777902131.000,exhaust.0,60.00,60.00,60.00,°C\n"
          "1777902134.000,exhaust.0,60.00,60.00,60.00,°C\n"
          "1777903427.000,exhaust.0,5.00,5.00,5.00,°C\n"
          "1777903430.000,exhaust.0,10.00,30.00,60.00,°C\n"
          "1777903925.000,exhaust.0,41.00,41.00,41.00,°C\n");
    choose(3, 1, "no-such", "");
    check(trend_file_csv, false, "time,channel,low,mean,high,unit\n");
    scene_free(&s);
}

/* Zoomed into 50 s from 4000 on: what lies there, and no less than a second each. */
static void csv__zoomed__what_lies_between_the_cursors(void **state)
{
    (void)state;
    scene_calm(&s, 1);
    struct history *h = history_of(empty("exhaust.0"));
    hear(h, 3999, 1);
    hear(h, 4000, 2);
    hear(h, 4049, 3);
    hear(h, 4050, 4);
    choose(0, 1, "exhaust.0", "");
    s.ui.trend.zoom_from_ns = 4000 * NS_PER_S;
    s.ui.trend.zoom_ns = 50 * NS_PER_S;
    check(trend_file_csv, true,
          "time,channel,low,mean,high,unit\n"
          "1777902927.000,exhaust.0,2.00,2.00,2.00,°C\n"
          "1777902976.000,exhaust.0,3.00,3.00,3.00,°C\n");
    scene_free(&s);
}

/* Two pictures of 760 by 190: 20 to 40 °C with ticks of 10 (11 lines, a limit of 38), and 100 to
 * 400 kPa with ticks of 100, where the limit is the lowest. A second is 6.33 wide. */
static void svg__two_channels__to_the_byte(void **state)
{
    (void)state;
    scene_calm(&s, 1);
    struct model_channel *c = empty("exhaust.0"), *oil = empty("oil-pressure.0");
    struct history *h = history_of(c);
    c->limit = 38;
    c->label = "exhaust <A&B>";
    hear(h, 4880, 22);
    hear(h, 4881, 24);
    history_add(h, 4999 * NS_PER_S, 30);
    history_add(h, 4999 * NS_PER_S + 250 * NS_PER_MS, 32);
    hear(history_of(oil), 4940, 400);
    choose(0, 2, "exhaust.0", "oil-pressure.0");
    check(trend_file_svg, true,
          "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 854 500\" "
          "font-family=\"sans-serif\" font-size=\"12\">\n"
          "<rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>\n"
          "<g transform=\"translate(70 28)\">\n"
          "<text x=\"0\" y=\"-8\" text-anchor=\"start\">exhaust &lt;A&amp;B>, °C</text>\n"
          "<path d=\"M0 190.0h760\" stroke=\"#ddd\"/>\n"
          "<text x=\"-6\" y=\"194\" text-anchor=\"end\">20</text>\n"
          "<path d=\"M0 95.0h760\" stroke=\"#ddd\"/>\n"
          "<text x=\"-6\" y=\"99\" text-anchor=\"end\">30</text>\n"
          "<path d=\"M0 0.0h760\" stroke=\"#ddd\"/>\n"
          "<text x=\"-6\" y=\"4\" text-anchor=\"end\">40</text>\n"
          "<text x=\"3\" y=\"206\" text-anchor=\"middle\">14:10:07</text>\n"
          "<text x=\"187\" y=\"206\" text-anchor=\"middle\">14:10:36</text>\n"
          "<text x=\"377\" y=\"206\" text-anchor=\"middle\">14:11:06</text>\n"
          "<text x=\"567\" y=\"206\" text-anchor=\"middle\">14:11:36</text>\n"
          "<text x=\"757\" y=\"206\" text-anchor=\"middle\">14:12:06</text>\n"
          "<path d=\"M0 19.0h760\" stroke=\"#b00\" stroke-dasharray=\"4 4\"/>\n"
          "<path fill=\"none\" stroke=\"#1f4e9c\" stroke-width=\"1.2\" "
          "d=\"M3.2 171.0L9.5 152.0M756.8 85.5M756.8 95.0V76.0M756.8 85.5\"/>\n"
          "</g>\n"
          "<g transform=\"translate(70 264)\">\n"
          "<text x=\"0\" y=\"-8\" text-anchor=\"start\">oil press., kPa</text>\n"
          "<path d=\"M0 190.0h760\" stroke=\"#ddd\"/>\n"
          "<text x=\"-6\" y=\"194\" text-anchor=\"end\">100</text>\n"
          "<path d=\"M0 126.7h760\" stroke=\"#ddd\"/>\n"
          "<text x=\"-6\" y=\"131\" text-anchor=\"end\">200</text>\n"
          "<path d=\"M0 63.3h760\" stroke=\"#ddd\"/>\n"
          "<text x=\"-6\" y=\"67\" text-anchor=\"end\">300</text>\n"
          "<path d=\"M0 0.0h760\" stroke=\"#ddd\"/>\n"
          "<text x=\"-6\" y=\"4\" text-anchor=\"end\">400</text>\n"
          "<text x=\"3\" y=\"206\" text-anchor=\"middle\">14:10:07</text>\n"
          "<text x=\"187\" y=\"206\" text-anchor=\"middle\">14:10:36</text>\n"
          "<text x=\"377\" y=\"206\" text-anchor=\"middle\">14:11:06</text>\n"
          "<text x=\"567\" y=\"206\" text-anchor=\"middle\">14:11:36</text>\n"
          "<text x=\"757\" y=\"206\" text-anchor=\"middle\">14:12:06</text>\n"
          "<path d=\"M0 190.0h760\" stroke=\"#b00\" stroke-dasharray=\"4 4\"/>\n"
          "<path fill=\"none\" stroke=\"#1f4e9c\" stroke-width=\"1.2\" d=\"M383.2 0.0\"/>\n"
          "</g>\n"
          "</svg>\n");
    scene_free(&s);
}

/* Nothing was heard: 0 to 1, and no curve. No channel: no picture, and it is said. */
static void svg__nothing_heard__an_axis_without_a_curve(void **state)
{
    (void)state;
    scene_calm(&s, 1);
    struct model_channel *c = empty("sea.0");
    c->has_limit = false;
    choose(0, 1, "sea.0", "exhaust.0");
    char *text = saved(trend_file_svg, true);
    assert_non_null(strstr(text, " d=\"\"/>\n"));
    assert_non_null(strstr(text, "y=\"194\" text-anchor=\"end\">0"));
    assert_non_null(strstr(text, "y=\"4\" text-anchor=\"end\">1"));
    assert_null(strstr(text, "#b00"));
    free(text);
    choose(0, 1, "no-such", "");
    free(saved(trend_file_svg, false));
    choose(0, 0, "", "");
    free(saved(trend_file_svg, false));
    scene_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(csv__two_minutes__a_line_for_each_second_that_was_heard),
        cmocka_unit_test(csv__half_an_hour__stretches_of_three_seconds),
        cmocka_unit_test(csv__zoomed__what_lies_between_the_cursors),
        cmocka_unit_test(svg__two_channels__to_the_byte),
        cmocka_unit_test(svg__nothing_heard__an_axis_without_a_curve),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
