/* Seasons drawn at random: with and without sea, air, load and twin, with wear on a channel, with a
 * probe that was exchanged, with work that was marked. What a season says of each channel is kept
 * as a golden text: it says that something has changed, not that it was right. */
#include "season/model.h"

#include "season/drawn_boat.h"
#include "support/golden.h"

/* --- what it says --------------------------------------------------------------------------------
 */

static void put_normal(FILE *out, const struct season_normal *n)
{
    fprintf(out, " mode %d first %d last %d of %d beside %d rpm %.4g %.4g %.4g sea %.4g air %.4g\n",
            (int)n->mode, n->first, n->last, n->trips, n->beside, n->rpm_unit, n->rpm_low,
            n->rpm_high, n->sea_c, n->air_c);
    fprintf(out, "  load %d %.3g %.3g %.3g between %.4g idle %.4g scale %.4g freedom %.4g beta",
            (int)n->load_kind, n->load_fit[0], n->load_fit[1], n->load_fit[2], n->between,
            n->between_idle, n->fit.scale, n->fit.freedom);
    for (int i = 0; i < n->fit.terms; i++)
        fprintf(out, " %.3g", n->fit.beta[i]);
    fputc('\n', out);
}

static void put_expected(FILE *out, const struct season_story *st)
{
    static const struct {
        double rpm, load, sea_c, air_c;
    } at[] = {{800, 20, 12, 10},
              {1600, 60, 22, 30},
              {2350, 95, NAN, 20},
              {2350, 400, 15, NAN},
              {2950, 95, 15, 20}};

    for (size_t i = 0; i < sizeof at / sizeof at[0]; i++) {
        double value, error;
        bool load = st->normal.load_kind != SEASON_LOAD_NONE;

        fprintf(out, "  %.0f x%.4g", at[i].rpm, season_at_speed(st, at[i].rpm));
        if (season_expected(st, at[i].rpm, load ? st->normal.load_kind : SEASON_LOAD_NONE,
                            load ? at[i].load : NAN, at[i].sea_c, at[i].air_c, 60, &value, &error))
            fprintf(out, " %.4g+-%.3g", value, error);
    }
    fputc('\n', out);
}

static void put_reserve(FILE *out, const struct season_story *st)
{
    static const double limit[] = {50, 86, 110};

    for (size_t i = 0; i < sizeof limit / sizeof limit[0]; i++) {
        struct season_reserve r;

        if (season_reserve(st, 18, st->excess, limit[i], &r))
            fprintf(out, "  below %.0f: %.4g used %d weeks %.4g\n", limit[i], r.reading, r.used_up,
                    r.weeks);
    }
}

static void put_story(FILE *out, const char *what, bool told, const struct season_story *st)
{
    char key[CHANNEL_KEY_SIZE];

    if (!told) {
        fprintf(out, " %s: nothing\n", what);
        return;
    }
    channel_id_format(key, sizeof key, st->id);
    fprintf(out,
            " %s %s: %s in row %d excess %.4g+-%.3g offset %.4g+-%.3g rest %.4g growth %.3g+-%.3g "
            "grows %d up %d both %d since %.0f mark '%s'\n",
            what, key, season_level_word(st->level), st->in_row, st->excess, st->error, st->offset,
            st->offset_error, st->rest, st->growth_per_week, st->growth_error, season_grows(st),
            st->up, st->both, (double)(st->since_ns / DAY_NS), st->mark);
}

static void put_trips(FILE *out, const struct season_story *st)
{
    for (int i = 0; i < st->trips; i++) {
        const struct season_excess *e = &st->trip[i];

        if (i >= 2 && i + 3 < st->trips && !e->exchanged)
            continue;
        fprintf(out,
                "  trip %d %d: %.4g+-%.3g at %.4g idle %.4g+-%.3g rest %.4g own %.4g %d load "
                "%.3g\n",
                e->trip, e->known, e->excess, e->error, e->rpm, e->idle, e->idle_error, e->rest,
                e->own_rest, e->exchanged, e->load_part);
    }
}

static void tell(FILE *out, const struct season *s, const struct season_step *now, int count,
                 int64_t now_ns)
{
    static struct season_story st;
    const struct season_step *first[64];
    struct channel_id id[SEASON_KEPT * 2];
    int channels = season_channels(s, id, SEASON_KEPT * 2);

    for (int c = 0; c < channels; c++) {
        bool told = season_tell(s, id[c], -1, NULL, 0, 0, &st);

        put_story(out, "all", told, &st);
        if (told) {
            put_normal(out, &st.normal);
            put_trips(out, &st);
            put_expected(out, &st);
            put_reserve(out, &st);
        }
        told = season_tell(s, id[c], -1, now, count, now_ns, &st);
        put_story(out, "now", told, &st);
        told = season_tell(s, id[c], s->trip_count - 2, NULL, 0, 0, &st);
        put_story(out, "without", told, &st);
        if (s->mark_count > 0)
            put_story(out, "before", season_tell_before(s, id[c], s->mark_count - 1, &st), &st);
        fprintf(out, "  first steps %d\n", season_first_steps(s, id[c], first, 64));
    }
}

static void season_of(FILE *out, uint64_t seed)
{
    struct boat b = draw(seed);
    struct season season;
    struct season_step *steps = calloc(MOST, sizeof *steps);

    assert_non_null(steps);
    fprintf(out, "---- %d: engines %d trips %d sea %d air %d load %d row %d from %d by %.3g %.3g\n",
            (int)seed, b.engines, b.trips, b.sea, b.air, (int)b.load, b.row, b.from, b.by, b.moved);
    int64_t at_ns = sail_season(&b, &season);
    int count = sail(&b, b.trips, at_ns, steps);
    for (int i = 0; i < count; i++)
        steps[i].trip = 0;
    tell(out, &season, steps, count, at_ns);
    season_free(&season);
    free(steps);
}

/* Seeds of which each has something of its own: a warning, both engines, an exchanged probe, work.
 */
static void season__drawn_at_random__is_told_as_kept(void **state)
{
    static const uint64_t seeds[] = {5, 10, 17, 21, 25, 29, 33, 38, 40};
    char *got = NULL;
    size_t len = 0;
    FILE *out = open_memstream(&got, &len);

    (void)state;
    assert_non_null(out);
    for (size_t i = 0; i < sizeof seeds / sizeof seeds[0]; i++)
        season_of(out, seeds[i]);
    fclose(out);
    golden_check("season", "drawn", got);
    free(got);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(season__drawn_at_random__is_told_as_kept),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
