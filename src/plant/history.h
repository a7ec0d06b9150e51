/* Fixed-size history of one channel at several resolutions: 1 s for 10 minutes, 10 s for 3 hours,
 * 2 min for 36 hours. Each bucket has minimum, maximum, mean and count, so a month of running
 * costs no more memory than a day and a peak is never averaged away. A gap is a gap: buckets
 * without a reading have count 0. Times are mono. Nothing allocates after history_new.
 * In the two coarser levels the distance of low and high from the mean is kept to 0.1 % of itself,
 * rounded outwards: a peak may read a trifle higher than it was, never lower. */
#ifndef STOKEHOLD_PLANT_HISTORY_H
#define STOKEHOLD_PLANT_HISTORY_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { HISTORY_LEVELS = 3 };

struct history_level_info {
    int64_t width_ns;
    int buckets;
};
extern const struct history_level_info history_levels[HISTORY_LEVELS];

struct history_bucket {
    float low, high, mean;
    uint32_t count; /* 0: a gap */
};

struct history;
struct histories;

struct history *history_new(void); /* NULL when out of memory */
void history_free(struct history *h);
/* n of them at once; NULL when out of memory. */
struct histories *histories_new(size_t n);
/* The i-th, with its room: before anything is added to it. */
struct history *history_at(struct histories *all, size_t i);
void histories_free(struct histories *all); /* NULL is allowed */
/* Adds a good reading. t_ns before the newest bucket is counted into the newest bucket. */
void history_add(struct history *h, int64_t t_ns, double value);
/* Puts a whole bucket that began at t_ns, oldest first: for a history that was kept elsewhere. */
void history_put(struct history *h, int64_t t_ns, const struct history_bucket *b);
/* What happened in [from_ns, to_ns): false where nothing was heard. Reads the finest level that
 * still reaches back to from_ns. */
bool history_span(const struct history *h, int64_t from_ns, int64_t to_ns,
                  struct history_bucket *out);
/* The same for a column of a picture: from coarser buckets where the stretch holds several, so that
 * it costs a tenth. What happened just outside of it may be counted in; nothing is left out. */
bool history_glance(const struct history *h, int64_t from_ns, int64_t to_ns,
                    struct history_bucket *out);
/* Lowest and highest since the start. False before the first reading. */
bool history_extremes(const struct history *h, double *low, double *high);
/* Change a minute over about the last `over_ns`, from a least-squares line through buckets; false
 * with fewer than three points. For the screen; rules have their own. */
bool history_rate_per_min(const struct history *h, int64_t now_ns, int64_t over_ns, double *rate);

#endif
