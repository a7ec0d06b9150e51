/* One engine: whether it runs, how fast, and what it is called. Made and owned by the plant; the
 * struct may be read by every layer above, and is written only by plant/. */
#ifndef STOKEHOLD_PLANT_ENGINE_H
#define STOKEHOLD_PLANT_ENGINE_H

#include <stdbool.h>
#include <stdint.h>

enum engine_state { ENGINE_UNKNOWN, ENGINE_STOPPED, ENGINE_RUNNING };

/* Engines are taken as they come, each into a slot below PLANT_ENGINES, whatever its instance on
 * the bus; wherever an `int engine` stands it is a slot. */
struct engine {
    bool exists;
    uint8_t instance;        /* on the bus: the place of its channels */
    bool generator;          /* of constant speed: stands apart, and has no twin */
    enum engine_state state; /* running at 300 rpm and above, stopped below 150: hysteresis */
    bool has_rpm;            /* speed is on the bus at all */
    double rpm;              /* the middle one of the last three good: no single wild sample */
    int64_t since_ns;        /* mono: since when state holds */
    /* mono: when speed last moved by more than 5 % within a few seconds */
    int64_t speed_changed_ns;
    char name[20]; /* "PORT", "STARBOARD", "ENGINE", "ENGINE 3", "GENERATOR" or configured; utf-8 */
};

#endif
