#include "base/rng.h"

#include <math.h>

#include "base/banned.h"

static uint64_t splitmix(uint64_t *x)
{
    uint64_t z = (*x += UINT64_C(0x9e3779b97f4a7c15));

    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    return z ^ (z >> 31);
}

static uint64_t rotate_left(uint64_t x, int k)
{
    return (x << k) | (x >> (64 - k));
}

void rng_seed(struct rng *r, uint64_t seed)
{
    for (int i = 0; i < 4; i++)
        r->s[i] = splitmix(&seed);
}

void rng_seed_stream(struct rng *r, uint64_t seed, uint64_t stream)
{
    uint64_t mixed = seed;

    mixed = splitmix(&mixed) ^ (stream * UINT64_C(0xd1342543de82ef95));
    rng_seed(r, mixed);
}

uint64_t rng_next(struct rng *r)
{
    uint64_t *s = r->s;
    uint64_t result = rotate_left(s[1] * 5, 7) * 9;
    uint64_t t = s[1] << 17;

    s[2] ^= s[0];
    s[3] ^= s[1];
    s[1] ^= s[2];
    s[0] ^= s[3];
    s[2] ^= t;
    s[3] = rotate_left(s[3], 45);
    return result;
}

double rng_unit(struct rng *r)
{
    return (double)(rng_next(r) >> 11) * 0x1.0p-53;
}

double rng_between(struct rng *r, double low, double high)
{
    return low + (high - low) * rng_unit(r);
}

double rng_between_log(struct rng *r, double low, double high)
{
    return exp(rng_between(r, log(low), log(high)));
}

uint32_t rng_below(struct rng *r, uint32_t n)
{
    return (uint32_t)(((rng_next(r) >> 32) * n) >> 32);
}

bool rng_chance(struct rng *r, double probability)
{
    return rng_unit(r) < probability;
}

double rng_normal(struct rng *r)
{
    double u, v, s;

    /* Marsaglia's polar method; the second number is dropped so that one call is one draw. */
    do {
        u = rng_between(r, -1, 1);
        v = rng_between(r, -1, 1);
        s = u * u + v * v;
    } while (s >= 1 || s == 0);
    return u * sqrt(-2 * log(s) / s);
}
