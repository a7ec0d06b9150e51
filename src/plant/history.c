#include "plant/history.h"

#include "base/when.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>

#include "base/banned.h"

enum { FINE_BUCKETS = 600, MIDDLE_BUCKETS = 1080, COARSE_BUCKETS = 1080 };
enum { COARSER_BUCKETS = MIDDLE_BUCKETS + COARSE_BUCKETS };

const struct history_level_info history_levels[HISTORY_LEVELS] = {
    {1 * NS_PER_S, FINE_BUCKETS},
    {10 * NS_PER_S, MIDDLE_BUCKETS},
    {120 * NS_PER_S, COARSE_BUCKETS},
};

/* Each width is a multiple of the one before, so that a closed bucket falls into exactly one
 * coarser bucket: history_add touches one gathering only, and the rest happens once a second. */
struct gathering {
    double low, high, sum;
    uint32_t count;
};

/* The coarser levels, ten bytes a bucket, as there are hundreds of channels. */
struct coarser {
    float mean[COARSER_BUCKETS];
    uint16_t below[COARSER_BUCKETS], above[COARSER_BUCKETS]; /* of the mean; see pack */
    uint16_t count[COARSER_BUCKETS];                         /* at most 65535 */
};

struct history_buckets {
    struct history_bucket fine[FINE_BUCKETS];
    struct coarser coarser; /* MIDDLE_BUCKETS, then COARSE_BUCKETS */
};

/* Apart from its buckets, so that those of a whole plant are close together; what nearly every
 * reading needs comes first, in 64 bytes, which a processor fetches at once. */
struct history {
    int64_t end_ns; /* of the finest bucket being gathered */
    double lowest, highest;
    bool started;
    uint16_t slot;                         /* where the finest one will stand */
    struct gathering open[HISTORY_LEVELS]; /* what was closed one level below, not yet here */
    int64_t coarser_end_ns;                /* as end_ns, of the level above the finest */
    int64_t index[HISTORY_LEVELS];         /* of the bucket being gathered */
    int64_t first_index[HISTORY_LEVELS];
    struct history_buckets *buckets;
};

struct histories {
    size_t n;
    struct history *each;
    struct history_buckets *buckets;
};

static int64_t floor_of(int64_t t_ns, int64_t width_ns)
{
    int64_t i = t_ns / width_ns;
    return t_ns % width_ns < 0 ? i - 1 : i;
}

/* By widths that the compiler knows: a division by any other number costs many times as much, and
 * this one is done for every column of every curve. */
static inline int64_t index_at(int l, int64_t t_ns)
{
    switch (l) {
    case 0:
        return floor_of(t_ns, 1 * NS_PER_S);
    case 1:
        return floor_of(t_ns, 10 * NS_PER_S);
    default:
        return floor_of(t_ns, 120 * NS_PER_S);
    }
}

static inline size_t slot_at(int l, int64_t index)
{
    int64_t s = l == 0   ? index % FINE_BUCKETS
                : l == 1 ? index % MIDDLE_BUCKETS
                         : index % COARSE_BUCKETS;
    return (size_t)(s >= 0 ? s : s + history_levels[l].buckets);
}

struct history *history_new(void)
{
    struct history *h = calloc(1, sizeof *h + sizeof *h->buckets);
    if (h != NULL)
        h->buckets = (void *)(h + 1);
    return h;
}

void history_free(struct history *h)
{
    free(h);
}

static size_t bytes_of(size_t n)
{
    return n * (sizeof(struct history) + sizeof(struct history_buckets));
}

/* By the page and not from the heap: most of them are never used, and a page that is not touched
 * takes no memory, even where a plant before this one had the same room. */
struct histories *histories_new(size_t n)
{
    struct histories *all = calloc(1, sizeof *all);
    void *room =
        mmap(NULL, bytes_of(n), PROT_READ | PROT_WRITE, MAP_PRIVATE | MAP_ANONYMOUS, -1, 0);
    if (all == NULL || room == MAP_FAILED) {
        if (room != MAP_FAILED)
            munmap(room, bytes_of(n));
        free(all);
        return NULL;
    }
    *all = (struct histories){.n = n, .each = room};
    all->buckets = (void *)(all->each + n);
    return all;
}

struct history *history_at(struct histories *all, size_t i)
{
    all->each[i].buckets = &all->buckets[i];
    return &all->each[i];
}

void histories_free(struct histories *all)
{
    if (all == NULL)
        return;
    munmap(all->each, bytes_of(all->n));
    free(all);
}

/* A distance in 16 bits: six of exponent and ten of a mantissa from 1024 to 2047, rounded up;
 * 0 is none. */
static uint16_t pack(double distance)
{
    int exponent;
    double part = frexp(distance, &exponent); /* 0.5 to 1 */
    if (!(distance > 0) || exponent <= -32)
        return 0;
    int mantissa = (int)ceil(part * 2048);
    if (mantissa == 2048) {
        mantissa = 1024;
        exponent++;
    }
    if (exponent > 31)
        return UINT16_MAX;
    return (uint16_t)((exponent + 32) << 10 | (mantissa - 1024));
}

static double unpack(uint16_t packed)
{
    /* 2 to the power of exponent - 43: its bits, as ldexp is slow and this is asked for often. */
    uint64_t bits = (uint64_t)((packed >> 10) - 32 - 11 + 1023) << 52;
    double power;
    memcpy(&power, &bits, sizeof power);
    return packed == 0 ? 0 : (1024 + (packed & 1023)) * power;
}

static void gather(struct gathering *into, const struct gathering *from)
{
    if (from->count == 0)
        return;
    if (into->count == 0) {
        *into = *from;
        return;
    }
    if (from->low < into->low)
        into->low = from->low;
    if (from->high > into->high)
        into->high = from->high;
    into->sum += from->sum;
    into->count += from->count;
}

static struct history_bucket bucket_of(const struct gathering *g)
{
    struct history_bucket b = {0};
    if (g->count > 0) {
        b.low = (float)g->low;
        b.high = (float)g->high;
        b.mean = (float)(g->sum / g->count);
        b.count = g->count;
    }
    return b;
}

static size_t coarser_slot(int l, int64_t index)
{
    return slot_at(l, index) + (l == 1 ? 0 : MIDDLE_BUCKETS);
}

static void store(struct history *h, int l, int64_t index, const struct gathering *g)
{
    struct history_bucket b = bucket_of(g);
    if (l == 0) {
        h->buckets->fine[slot_at(0, index)] = b;
        return;
    }
    size_t i = coarser_slot(l, index);
    h->buckets->coarser.mean[i] = b.mean;
    h->buckets->coarser.below[i] = pack((double)b.mean - (double)b.low);
    h->buckets->coarser.above[i] = pack((double)b.high - (double)b.mean);
    h->buckets->coarser.count[i] = b.count > UINT16_MAX ? UINT16_MAX : (uint16_t)b.count;
}

static struct gathering gathering_at(const struct history *h, int l, int64_t index)
{
    struct gathering g = {0};
    if (l == 0) {
        const struct history_bucket *b = &h->buckets->fine[slot_at(0, index)];
        if (b->count > 0)
            g = (struct gathering){(double)b->low, (double)b->high, (double)b->mean * b->count,
                                   b->count};
        return g;
    }
    size_t i = coarser_slot(l, index);
    double mean = (double)h->buckets->coarser.mean[i];
    g.count = h->buckets->coarser.count[i];
    g.low = mean - unpack(h->buckets->coarser.below[i]);
    g.high = mean + unpack(h->buckets->coarser.above[i]);
    g.sum = mean * g.count;
    return g;
}

/* Stores what level l has gathered, and empties the buckets between it and the new one. */
static void close_level(struct history *h, int l, int64_t next)
{
    static const struct gathering nothing = {.count = 0};
    int n = history_levels[l].buckets;
    store(h, l, h->index[l], &h->open[l]);
    int64_t gap = next - h->index[l] - 1;
    if (gap > n)
        gap = n;
    for (int64_t i = 0; i < gap; i++)
        store(h, l, next - 1 - i, &nothing);
    if (l + 1 < HISTORY_LEVELS)
        gather(&h->open[l + 1], &h->open[l]);
    h->open[l].count = 0; /* the rest is then not looked at */
    h->index[l] = next;
}

/* The bucket of level l that t_ns, which is not before the one being gathered, belongs to: nearly
 * always that one or the next, which takes no division to know. */
static int64_t index_from(const struct history *h, int l, int64_t t_ns)
{
    int64_t width_ns = history_levels[l].width_ns, past_ns = t_ns - (h->index[l] + 1) * width_ns;
    return past_ns < 0 ? h->index[l] : past_ns < width_ns ? h->index[l] + 1 : index_at(l, t_ns);
}

static inline uint16_t next_slot(uint16_t slot)
{
    return slot + 1 == FINE_BUCKETS ? 0 : (uint16_t)(slot + 1);
}

/* What nearly every step is: to another bucket of the finest level, within the one that is being
 * gathered above it. */
static inline bool step_on(struct history *h, int64_t t_ns)
{
    if (!h->started || t_ns >= h->coarser_end_ns)
        return false;
    struct gathering *g = &h->open[0];
    struct history_bucket b = bucket_of(g);
    gather(&h->open[1], g);
    g->count = 0;
    do {
        h->buckets->fine[h->slot] = b;
        b = (struct history_bucket){0};
        h->index[0]++;
        h->slot = next_slot(h->slot);
        h->end_ns += history_levels[0].width_ns;
    } while (t_ns >= h->end_ns);
    return true;
}

static void step_to(struct history *h, int64_t t_ns)
{
    if (!h->started) {
        h->started = true;
        for (int l = 0; l < HISTORY_LEVELS; l++) {
            h->index[l] = index_at(l, t_ns);
            h->first_index[l] = h->index[l];
        }
        h->lowest = INFINITY;
        h->highest = -INFINITY;
    } else {
        /* Finest first: each hands what it gathered to the next one up before that one closes. */
        for (int l = 0; l < HISTORY_LEVELS; l++) {
            int64_t next = index_from(h, l, t_ns);
            if (next <= h->index[l])
                break;
            close_level(h, l, next);
        }
    }
    h->end_ns = (h->index[0] + 1) * history_levels[0].width_ns;
    h->coarser_end_ns = (h->index[1] + 1) * history_levels[1].width_ns;
    h->slot = (uint16_t)slot_at(0, h->index[0]);
}

void history_add(struct history *h, int64_t t_ns, double value)
{
    if ((!h->started || t_ns >= h->end_ns) && !step_on(h, t_ns))
        step_to(h, t_ns);
    struct gathering *g = &h->open[0];
    if (g->count == 0) {
        *g = (struct gathering){value, value, value, 1};
    } else {
        if (value < g->low)
            g->low = value;
        if (value > g->high)
            g->high = value;
        g->sum += value;
        g->count++;
    }
    if (value < h->lowest)
        h->lowest = value;
    if (value > h->highest)
        h->highest = value;
}

void history_put(struct history *h, int64_t t_ns, const struct history_bucket *b)
{
    if (b->count == 0)
        return;
    if ((!h->started || t_ns >= h->end_ns) && !step_on(h, t_ns))
        step_to(h, t_ns);
    struct gathering g = {(double)b->low, (double)b->high, (double)b->mean * b->count, b->count};
    gather(&h->open[0], &g);
    if (g.low < h->lowest)
        h->lowest = g.low;
    if (g.high > h->highest)
        h->highest = g.high;
}

static int64_t oldest_index(const struct history *h, int l)
{
    int64_t oldest = h->index[l] - history_levels[l].buckets + 1;
    return oldest > h->first_index[l] ? oldest : h->first_index[l];
}

/* The finest level that reaches back to from_ns, or to the first reading of all. */
static int level_for(const struct history *h, int64_t from_ns)
{
    for (int l = 0; l < HISTORY_LEVELS - 1; l++) {
        int64_t oldest = oldest_index(h, l);
        if (oldest == h->first_index[l] || oldest * history_levels[l].width_ns <= from_ns)
            return l;
    }
    return HISTORY_LEVELS - 1;
}

/* The bucket of level l at index i, the one still being gathered included. */
static struct gathering read_bucket(const struct history *h, int l, int64_t i)
{
    struct gathering g = {0};
    if (i > h->index[l] || i < oldest_index(h, l))
        return g;
    if (i == h->index[l]) {
        for (int k = l; k >= 0; k--)
            gather(&g, &h->open[k]);
        return g;
    }
    return gathering_at(h, l, i);
}

/* The closed buckets of the finest level from one index to another, both kept. */
static void gather_fine(struct gathering *all, const struct history *h, int64_t from, int64_t to)
{
    uint16_t slot = from <= to ? (uint16_t)slot_at(0, from) : 0;
    float low = INFINITY, high = -INFINITY;
    for (int64_t i = from; i <= to; i++) {
        const struct history_bucket *b = &h->buckets->fine[slot];
        slot = next_slot(slot);
        if (b->count == 0)
            continue;
        low = b->low < low ? b->low : low;
        high = b->high > high ? b->high : high;
        all->sum += (double)b->mean * b->count;
        all->count += b->count;
    }
    all->low = (double)low;
    all->high = (double)high;
}

static bool span_at(const struct history *h, int l, int64_t from_ns, int64_t to_ns,
                    struct history_bucket *out)
{
    int64_t from = index_at(l, from_ns), to = index_at(l, to_ns - 1);
    int64_t oldest = oldest_index(h, l);
    if (from < oldest)
        from = oldest;
    if (to > h->index[l])
        to = h->index[l];
    struct gathering all = {0};
    if (l == 0) { /* what screens ask hundreds of times a picture */
        int64_t closed = to < h->index[0] ? to : h->index[0] - 1;
        gather_fine(&all, h, from, closed);
        from = from > closed ? from : closed + 1;
    }
    for (int64_t i = from; i <= to; i++) {
        struct gathering g = read_bucket(h, l, i);
        gather(&all, &g);
    }
    *out = bucket_of(&all);
    return all.count > 0;
}

bool history_span(const struct history *h, int64_t from_ns, int64_t to_ns,
                  struct history_bucket *out)
{
    *out = (struct history_bucket){0};
    if (!h->started || to_ns <= from_ns)
        return false;
    return span_at(h, level_for(h, from_ns), from_ns, to_ns, out);
}

bool history_glance(const struct history *h, int64_t from_ns, int64_t to_ns,
                    struct history_bucket *out)
{
    enum { LEAST = 3 }; /* buckets that the edges may be off by one of */
    *out = (struct history_bucket){0};
    if (!h->started || to_ns <= from_ns)
        return false;
    int l = level_for(h, from_ns);
    while (l + 1 < HISTORY_LEVELS && to_ns - from_ns >= LEAST * history_levels[l + 1].width_ns)
        l++;
    return span_at(h, l, from_ns, to_ns, out);
}

bool history_extremes(const struct history *h, double *low, double *high)
{
    if (!h->started)
        return false;
    *low = h->lowest;
    *high = h->highest;
    return true;
}

bool history_rate_per_min(const struct history *h, int64_t now_ns, int64_t over_ns, double *rate)
{
    if (!h->started || over_ns <= 0)
        return false;
    int l = level_for(h, now_ns - over_ns);
    int64_t width = history_levels[l].width_ns;
    int64_t from = index_at(l, now_ns - over_ns), to = index_at(l, now_ns);
    if (from < oldest_index(h, l))
        from = oldest_index(h, l);
    if (to > h->index[l])
        to = h->index[l];
    double n = 0, sx = 0, sy = 0, sxx = 0, sxy = 0;
    for (int64_t i = from; i <= to; i++) {
        struct gathering g = read_bucket(h, l, i);
        if (g.count == 0)
            continue;
        double x = (double)(i - to) * when_seconds(width) / 60, y = g.sum / g.count;
        n++;
        sx += x;
        sy += y;
        sxx += x * x;
        sxy += x * y;
    }
    double spread = n * sxx - sx * sx;
    if (n < 3 || spread <= 0)
        return false;
    *rate = (n * sxy - sx * sy) / spread;
    return true;
}
