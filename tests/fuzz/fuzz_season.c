/* Any bytes as a season's file: read or refused with a line; what is read keeps its invariants, can
 * be judged, and comes back the same once it was written. For libFuzzer; `make fuzz` runs it. */
#include "season/model.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void check(bool holds)
{
    if (!holds)
        abort();
}

static void check_order(const struct season *s)
{
    int step = 0;
    for (int t = 0; t < s->trip_count; t++) {
        check(s->trips[t].from_ns <= s->trips[t].to_ns);
        check(t == 0 || s->trips[t].from_ns > s->trips[t - 1].to_ns);
        while (step < s->step_count && s->steps[step].trip == t)
            step++;
    }
    check(step == s->step_count);
}

/* Trips that are read may lie within the seconds of each other once written; those are refused. */
static void check_again(const struct season *s)
{
    char *text = NULL;
    size_t len = 0;
    struct season again;
    struct err e;
    FILE *out = open_memstream(&text, &len);
    check(out != NULL);
    season_write(out, s);
    check(fclose(out) == 0);
    if (season_parse(text, len, "again", &again, &e)) {
        check(again.trip_count == s->trip_count && again.step_count == s->step_count &&
              again.mark_count == s->mark_count);
        season_free(&again);
    } else {
        check(strstr(e.text, "overlaps") != NULL);
    }
    free(text);
}

static void check_stories(const struct season *s)
{
    struct channel_id ids[8];
    int n = season_channels(s, ids, 8);
    struct season_story *story = malloc(sizeof *story);
    check(story != NULL);
    for (int i = 0; i < n; i++) {
        struct season_reserve reserve;
        if (!season_tell(s, ids[i], -1, NULL, 0, 0, story))
            continue;
        check(story->trips >= 0 && story->trips <= SEASON_TRIPS + 1);
        (void)season_reserve(story, 15, story->excess, 93.3, &reserve);
    }
    free(story);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct season s;
    struct err e = {""};
    bool good = season_parse((const char *)data, size, "file", &s, &e);
    check(good == (e.text[0] == '\0'));
    if (!good) {
        check(strncmp(e.text, "file:", 5) == 0 && s.trip_count == 0);
        return 0;
    }
    check_order(&s);
    check_again(&s);
    check_stories(&s);
    season_thin(&s);
    check_order(&s);
    season_free(&s);
    return 0;
}
