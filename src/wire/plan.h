/* What decode.c goes by: the fields of a row that become channels, with everything about their raw
 * numbers worked out beforehand, as a message is decoded some thousand times a second and a row
 * never changes. The codes and ends of a field are here and nowhere else. */
#ifndef STOKEHOLD_WIRE_PLAN_H
#define STOKEHOLD_WIRE_PLAN_H

#include "wire/catalogue.h"
#include "wire/decode.h"

#define PLAN_STEPS_MAX 16 /* fields of one row that become channels: at most 10 now */

enum plan_place {
    PLAN_FIXED,    /* once, always at the place of `blank` */
    PLAN_INSTANCE, /* once, bits of the message, and no sub-place */
    PLAN_RULES,    /* as the rules of the field say, or its choice; or it repeats */
    PLAN_CAPACITY, /* no channel: the capacity of the tank in the same message */
};

struct plan_step {
    double gain, zero;         /* as in field_info */
    uint64_t mask;             /* ones, as many as bits */
    uint64_t codes, code_span; /* raw - codes > code_span: a number, else a code */
    uint64_t low, high;        /* a reading that is one of these may be no reading */
    uint16_t bit, stride;      /* of the first, and to the next of a repeated field */
    uint16_t end;              /* the bit after the first */
    uint8_t bits, times;
    uint8_t unsigned_above; /* 64 - bits of a signed field: what its sign is shifted by */
    uint8_t where;          /* enum plan_place */
    const struct field_info *field;
    struct wire_value blank; /* what a value of it has before the message is looked at */
};

struct plan {
    const struct pgn_info *row;
    const struct plan_step *steps;
    uint8_t count;
};

/* One field by itself, whatever it is. */
void plan_field(const struct field_info *f, struct plan_step *out);
/* The plan of a row; its steps are written to room, which has PLAN_STEPS_MAX and must outlive it.
 */
void plan_row(const struct pgn_info *row, struct plan_step *room, struct plan *out);

/* The plans of all rows, by their number in the catalogue's index; 0 is no row's. */
#define PLANS_MAX      256
#define PLAN_STEPS_ALL 256 /* 110 now */
struct plans {
    struct plan of[PLANS_MAX];
    struct plan_step steps[PLAN_STEPS_ALL + PLAN_STEPS_MAX];
};
void plans_build(struct plans *p);

#endif
