/* Frames that a reading thread's wire has heard against the same frames heard by the keeper itself:
 * the same channels, alerts and losses, however the batches are cut. */
#include "rules/boat.h"

#include "base/rng.h"
#include "wire/heard.h"

#include "base/banned.h"

#define FRAMES 60000

/* What is worth hearing: engines, batteries, tanks, switches, trouble codes, by every kind of
 * transport, now and then torn. */
static const uint32_t pgns[] = {127488, 127489, 127493, 127505, 127508, 127501, 130312,
                                130316, 126992, 60928,  59904,  60416,  60160,  61444,
                                65262,  65226,  65110,  129026, 130310, 126983, 12345};

/* A fast packet under way, of each sender. */
struct going {
    uint32_t pgn; /* 0: none */
    uint8_t order, next, frames;
};

static bool is_fast(uint32_t pgn)
{
    return pgn == 127489 || pgn == 127501 || pgn == 126983;
}

/* Whole, most of the time: one in twenty loses its end. */
static void put_fast(struct rng *r, struct going *g, uint32_t pgn, uint8_t *data)
{
    if (g->pgn == 0)
        *g = (struct going){.pgn = pgn,
                            .order = (uint8_t)(g->order + 0x20),
                            .frames = (uint8_t)(2 + rng_below(r, 3))};
    data[0] = (uint8_t)(g->order | g->next);
    if (g->next == 0) {
        data[1] = (uint8_t)(6 + 7 * (g->frames - 1));
        data[2] = (uint8_t)rng_below(r, 3); /* the place */
    }
    if (++g->next == g->frames || rng_below(r, 20) == 0)
        g->pgn = 0;
}

static void put_transport(struct rng *r, uint32_t pgn, uint8_t *data)
{
    const uint8_t bam[8] = {32, 12, 0, 2, 0xFF, 0xCA, 0xFE, 0}; /* of DM1 */
    if (pgn == 60416)
        memcpy(data, bam, sizeof bam);
    else
        data[0] = (uint8_t)(1 + rng_below(r, 2));
}

static struct frame one_of(struct rng *r, struct going *all, int i)
{
    uint8_t source = (uint8_t)rng_below(r, 4);
    struct going *g = &all[source];
    uint32_t pgn = g->pgn ? g->pgn : pgns[rng_below(r, sizeof pgns / sizeof *pgns)];
    struct wire_id id = {pgn, 3, source, ADDRESS_GLOBAL};
    int64_t ns = i * 5 * NS_PER_MS + (i > FRAMES / 2 ? 700 * NS_PER_S : 0);
    struct frame f = {.wall_ns = BOAT_WALL_NS + ns,
                      .mono_ns = TIMELINE_START + ns,
                      .id = wire_id_encode(id),
                      .iface = source & 1,
                      .len = 8,
                      .flags = FRAME_EXTENDED};
    if (i == FRAMES / 2 + 1)
        f.flags |= FRAME_GAP;
    if (rng_below(r, 50) == 0)
        f.flags |= FRAME_REMOTE;
    if (rng_below(r, 30) == 0)
        f.len = (uint8_t)rng_below(r, 9);
    for (int k = 0; k < 8; k++)
        f.data[k] = (uint8_t)(rng_below(r, 3) ? rng_next(r) : 0xFF);
    f.data[0] = rng_below(r, 3) ? (uint8_t)rng_below(r, 3) : f.data[0]; /* a place, often */
    if (is_fast(pgn))
        put_fast(r, g, pgn, f.data);
    else if (pgn == 60416 || pgn == 60160)
        put_transport(r, pgn, f.data);
    return f;
}

static void assert_same_boat(const struct boat *a, const struct boat *b)
{
    const struct plant *p = keeper_plant(a->keeper), *q = keeper_plant(b->keeper);
    assert_true(plant_count(p) > 20);
    assert_int_equal(plant_count(p), plant_count(q));
    for (size_t i = 0; i < plant_count(p); i++) {
        const struct channel *c = plant_channel(p, i), *d = plant_channel(q, i);
        assert_string_equal(c->key, d->key);
        assert_int_equal(c->status, d->status);
        assert_int_equal(c->readings, d->readings);
        assert_memory_equal(&c->value, &d->value, sizeof c->value);
        assert_int_equal(c->at.mono_ns, d->at.mono_ns);
    }
    assert_true(a->count > 5);
    assert_int_equal(a->count, b->count);
    for (int i = 0; i < a->count; i++) {
        assert_true(a->events[i].at >= b->events[i].at && a->events[i].at <= b->events[i].at);
        assert_int_equal(a->events[i].event, b->events[i].event);
        assert_string_equal(a->events[i].alert.text, b->events[i].alert.text);
    }
    assert_memory_equal(keeper_wire_stats(a->keeper), keeper_wire_stats(b->keeper),
                        sizeof(struct wire_stats));
    assert_int_equal(keeper_losses(a->keeper).incomplete, keeper_losses(b->keeper).incomplete);
    assert_true(keeper_wire_stats(a->keeper)->fast_done > 100);
    assert_true(keeper_wire_stats(a->keeper)->tp_done > 10);
    assert_true(keeper_wire_stats(a->keeper)->fast_lost > 100);
}

static void frames__heard_ahead__mean_the_same(void **state)
{
    (void)state;
    struct boat *a = boat_new(NULL), *b = boat_new(NULL);
    struct wire *w = wire_new();
    struct heard *h = calloc(1, sizeof *h);
    static struct frame batch[HEARD_FRAMES];
    struct rng frames, cuts;
    struct going going[4] = {{0}};
    rng_seed(&frames, 7);
    rng_seed(&cuts, 8);
    assert_true(w && h);
    for (int i = 0; i < FRAMES;) {
        size_t n = 1 + rng_below(&cuts, HEARD_FRAMES), from = 0;
        for (size_t k = 0; k < n; k++)
            batch[k] = one_of(&frames, going, i++);
        keeper_frames(a->keeper, batch, n);
        wire_hear(w, batch, n, h);
        while (from < n) { /* as a reader gives it: whole, or in pieces */
            size_t piece =
                rng_below(&cuts, 3) ? n - from : 1 + rng_below(&cuts, (uint32_t)(n - from));
            keeper_heard(b->keeper, batch + from, piece, h, from);
            from += piece;
        }
    }
    assert_same_boat(a, b);
    free(h);
    wire_free(w);
    boat_free(a);
    boat_free(b);
}

/* Rules that hear every frame are told of several at once. */
static void frames__one_by_one__mean_the_same(void **state)
{
    (void)state;
    struct boat *a = boat_new(NULL), *b = boat_new(NULL);
    static struct frame batch[HEARD_FRAMES];
    struct rng frames, cuts;
    struct going going[4] = {{0}};
    rng_seed(&frames, 9);
    rng_seed(&cuts, 10);
    for (int i = 0; i < FRAMES;) {
        size_t n = 1 + rng_below(&cuts, HEARD_FRAMES);
        for (size_t k = 0; k < n; k++)
            batch[k] = one_of(&frames, going, i++);
        if (rng_below(&cuts, 4) == 0)
            batch[rng_below(&cuts, (uint32_t)n)].flags |= FRAME_GAP;
        keeper_frames(a->keeper, batch, n);
        for (size_t k = 0; k < n; k++)
            keeper_frames(b->keeper, &batch[k], 1);
    }
    assert_same_boat(a, b);
    assert_true(keeper_losses(a->keeper).gaps > 10);
    assert_int_equal(keeper_losses(a->keeper).gaps, keeper_losses(b->keeper).gaps);
    boat_free(a);
    boat_free(b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(frames__one_by_one__mean_the_same),
        cmocka_unit_test(frames__heard_ahead__mean_the_same),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
