/* Random numbers that are the same everywhere for the same seed: made-up trips, tests, benches.
 * Not for secrets. The generator is xoshiro256** (Blackman and Vigna, "Scrambled linear
 * pseudorandom number generators", ACM TOMS 47, 2021), seeded through splitmix64, both written
 * from their description. State is in the struct; nothing is shared. */
#ifndef STOKEHOLD_BASE_RNG_H
#define STOKEHOLD_BASE_RNG_H

#include <stdbool.h>
#include <stdint.h>

struct rng {
    uint64_t s[4];
};

/* Any seed is fine, 0 included. */
void rng_seed(struct rng *r, uint64_t seed);
/* A second, unrelated stream of the same seed: `stream` tells them apart. */
void rng_seed_stream(struct rng *r, uint64_t seed, uint64_t stream);
uint64_t rng_next(struct rng *r);
/* [0, 1) with 53 bits. */
double rng_unit(struct rng *r);
/* [low, high). */
double rng_between(struct rng *r, double low, double high);
/* low..high with equal chance for each octave: for lags and sizes. Both must be > 0. */
double rng_between_log(struct rng *r, double low, double high);
/* 0..n-1; n must be > 0. */
uint32_t rng_below(struct rng *r, uint32_t n);
bool rng_chance(struct rng *r, double probability);
/* Mean 0, standard deviation 1. */
double rng_normal(struct rng *r);

#endif
