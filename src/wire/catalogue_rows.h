/* How the rows of the catalogue are written: for catalogue_j1939.c and catalogue_iec.c, and for
 * catalogue.c, which puts their tables one after the other. */
#ifndef STOKEHOLD_WIRE_CATALOGUE_ROWS_H
#define STOKEHOLD_WIRE_CATALOGUE_ROWS_H

#include "wire/catalogue.h"

/* Each by rising PGN; every one of the first is below every one of the second. */
extern const struct pgn_info catalogue_j1939[], catalogue_iec[];
extern const size_t catalogue_j1939_count, catalogue_iec_count;

/* Conversion from the unit as sent into the base unit: base = sent * FACTOR + ZERO. */
#define NONE_FACTOR     1.0
#define NONE_ZERO       0.0
#define RPM_FACTOR      1.0
#define RPM_ZERO        0.0
#define K_FACTOR        1.0
#define K_ZERO          (-273.15)
#define C_FACTOR        1.0
#define C_ZERO          0.0
#define PA_FACTOR       0.001
#define PA_ZERO         0.0
#define KPA_FACTOR      1.0
#define KPA_ZERO        0.0
#define V_FACTOR        1.0
#define V_ZERO          0.0
#define A_FACTOR        1.0
#define A_ZERO          0.0
#define PERCENT_FACTOR  1.0
#define PERCENT_ZERO    0.0
#define S_FACTOR        1.0
#define S_ZERO          0.0
#define RUN_S_FACTOR    (1.0 / 3600.0)
#define RUN_S_ZERO      0.0
#define H_FACTOR        1.0
#define H_ZERO          0.0
#define L_FACTOR        1.0
#define L_ZERO          0.0
#define LPH_FACTOR      1.0
#define LPH_ZERO        0.0
#define MPS_FACTOR      (3600.0 / 1852.0)
#define MPS_ZERO        0.0
#define RAD_FACTOR      1.0
#define RAD_ZERO        0.0
#define DAY_FACTOR      1.0
#define DAY_ZERO        0.0
#define AH_FACTOR       1.0
#define AH_ZERO         0.0
#define MIN_FACTOR      1.0
#define MIN_ZERO        0.0
#define KM_PER_L_FACTOR 1.0
#define KM_PER_L_ZERO   0.0
#define REV_FACTOR      1.0
#define REV_ZERO        0.0
#define HZ_FACTOR       1.0
#define HZ_ZERO         0.0
#define W_FACTOR        1.0
#define W_ZERO          0.0
#define VA_FACTOR       1.0
#define VA_ZERO         0.0
#define VAR_FACTOR      1.0
#define VAR_ZERO        0.0
#define KWH_FACTOR      1.0
#define KWH_ZERO        0.0
#define NM_FACTOR       1.0
#define NM_ZERO         0.0
#define KGPH_FACTOR     1.0
#define KGPH_ZERO       0.0
#define KGM2_FACTOR     1.0
#define KGM2_ZERO       0.0

#define PERCENT_PER_RPM_FACTOR 1.0
#define PERCENT_PER_RPM_ZERO   0.0

#define DECIMALS(step)                                                                             \
    ((step) >= 5.0     ? 0                                                                         \
     : (step) >= 0.5   ? 1                                                                         \
     : (step) >= 0.05  ? 2                                                                         \
     : (step) >= 0.005 ? 3                                                                         \
     : (step) >= 5e-4  ? 4                                                                         \
     : (step) >= 5e-5  ? 5                                                                         \
     : (step) >= 5e-6  ? 6                                                                         \
                       : 7)

/* raw * scale_ + offset_ in the unit as sent, and the same in the base unit. */
#define SENT(scale_, offset_, unit_)                                                               \
    .scale = (scale_), .offset = (offset_), .sent = SENT_##unit_, .gain = (scale_)*unit_##_FACTOR, \
    .zero = (offset_)*unit_##_FACTOR + unit_##_ZERO, .decimals = DECIMALS((scale_)*unit_##_FACTOR)

/* A state rather than a measure: exact without decimals. */
#define STATE(scale_, offset_)                                                                     \
    .scale = (scale_), .offset = (offset_), .sent = SENT_NONE, .gain = (scale_), .zero = (offset_)

#define FIELDS(...)                                                                                \
    .fields = (const struct field_info[]){__VA_ARGS__},                                            \
    .field_count = sizeof((const struct field_info[]){__VA_ARGS__}) / sizeof(struct field_info)

#define FIXED(n_)                                                                                  \
    {                                                                                              \
        .how = AT_FIXED, .n = (n_)                                                                 \
    }
#define FROM_BITS(b_, w_)                                                                          \
    {                                                                                              \
        .how = AT_BITS, .bit = (b_), .bits = (w_)                                                  \
    }
#define BY_ENGINE                                                                                  \
    {                                                                                              \
        .how = AT_ENGINE                                                                           \
    }
#define BY_GEARBOX                                                                                 \
    {                                                                                              \
        .how = AT_GEARBOX                                                                          \
    }
#define BY_GENERATOR                                                                               \
    {                                                                                              \
        .how = AT_GENERATOR                                                                        \
    }
#define COUNTED_FROM(n_)                                                                           \
    {                                                                                              \
        .how = AT_COUNTED, .n = (n_)                                                               \
    }

#endif
