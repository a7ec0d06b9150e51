#include "season/kept.h"

#include <math.h>
#include <stddef.h>

#include "base/banned.h"

/* Sizes: exhaust as the project's own aim (4 K a caution, 8 to 12 K a warning: a third of the raw
 * water lost is 10 to 15 K on most elbows, docs/season.md); all others common practice, no source.
 * `between` is measured on drilled healthy seasons (make bench-season). */
const struct season_kept season_kept[SEASON_KEPT] = {
    {.quantity = QTY_EXHAUST,
     .over = OVER_SEA,
     .up = true,
     .caution = 4,
     .warning = 8,
     .between = 0.45,
     .drift = 0.8,
     .settle_s = 90,
     .piece_s = 60,
     .warm = true,
     .live = true,
     .idle_share = 0.25,
     .rests = true,
     .look_up = "look at strainer, impeller, cooler"},
    {.quantity = QTY_COOLANT,
     .up = true,
     .down = true,
     .caution = 4,
     .warning = 8,
     .between = 0.9,
     .drift = 0.4,
     .settle_s = 420,
     .piece_s = 120,
     .live = true,
     .idle_share = 0.3,
     .rests = true,
     .look_up = "look at coolant level, cooler, thermostat",
     .look_down = "look at thermostat"},
    {.quantity = QTY_OIL_TEMP,
     .up = true,
     .caution = 5,
     .warning = 10,
     .between = 1.5,
     .drift = 0.3,
     .settle_s = 600,
     .piece_s = 180,
     .live = true,
     .idle_share = 0.3,
     .rests = true,
     .look_up = "look at oil level, oil cooler"},
    {.quantity = QTY_OIL_PRESSURE,
     .share = true,
     .down = true,
     .caution = 0.15,
     .warning = 0.3,
     .between = 0.03,
     .drift = 0.015,
     .settle_s = 300,
     .piece_s = 120,
     .hot_oil_c = 70, /* thicker oil opens the relief valve, and tells nothing of the engine */
     .idle_share = 1,
     .look_down = "look at oil level, oil, pump"},
    {.quantity = QTY_GEAR_OIL_TEMP,
     .up = true,
     .caution = 5,
     .warning = 10,
     .between = 1.6,
     .drift = 0.3,
     .settle_s = 600,
     .piece_s = 180,
     .live = true,
     .idle_share = 0.3,
     .rests = true,
     .look_up = "look at gear oil, its cooler"},
    {.quantity = QTY_ENGINE_SPACE,
     .over = OVER_AIR,
     .up = true,
     .caution = 5,
     .warning = 10,
     .between = 1.2,
     .drift = 0.4,
     .settle_s = 600,
     .piece_s = 180,
     .boat = true,
     .idle_share = 0.5,
     .look_up = "look at blower, vents, exhaust leaks"},
    {.quantity = QTY_FUEL_RATE,
     .share = true,
     .up = true,
     .caution = 0.12,
     .warning = 0.25,
     .between = 0.025,
     .drift = 0.05,
     .settle_s = 60,
     .piece_s = 60,
     .idle_share = 0.3,
     .look_up = "look at hull, propeller, air filter"},
    {.quantity = QTY_ALTERNATOR,
     .down = true,
     .caution = 0.4,
     .warning = 0.8,
     .between = 0.06,
     .drift = 0.15,
     .settle_s = 120,
     .piece_s = 60,
     .idle_share = 1,
     .look_down = "look at belt, alternator, wiring"},
    {.quantity = QTY_BOOST,
     .share = true,
     .down = true,
     .caution = 0.12,
     .warning = 0.2,
     .between = 0.03,
     .drift = 0.04,
     .settle_s = 60,
     .piece_s = 60,
     .idle_share = 1,
     .look_down = "look at air filter, turbocharger, hoses"},
};

double season_kept_size(int row, double excess)
{
    return season_kept[row].share ? expm1(excess) : excess;
}

int season_kept_row(enum quantity q)
{
    for (int i = 0; i < SEASON_KEPT; i++)
        if (season_kept[i].quantity == q)
            return i;
    return -1;
}
