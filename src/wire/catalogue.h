/* The table of messages: every PGN that stokehold understands, with every field of it.
 * Owns what is known about the wire's layout and nothing else: decode.c is the one interpreter.
 * Rows are in order of PGN; fields in order of their first bit.
 *
 * Codes that are not numbers, told apart on the raw bits before sign and scale:
 *   IEC 61162-3    all ones (the highest positive of a signed field) not available, one less error
 *                  or out of range, two less reserved and taken as an error too; 2 bits: 3 and 2
 *   SAE J1939-71   by the highest byte: FF not available, FE error, FC and FD reserved (taken as an
 *                  error), FB parameter specific (taken as not available); 4 bits: F and E;
 *                  2 bits: 3 and 2
 *   code           a list of choices: only all ones is not available
 * Layouts: SAE J1939DA (October 2020) and the open definitions of IEC 61162-3 messages; where two
 * sources disagree the row says what was chosen. */
#ifndef STOKEHOLD_WIRE_CATALOGUE_H
#define STOKEHOLD_WIRE_CATALOGUE_H

#include "base/quantity.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

enum pgn_kind {
    PGN_SINGLE,    /* one frame, or a transport-protocol transfer where it is longer */
    PGN_FAST,      /* fast packet */
    PGN_TRANSPORT, /* the transport protocol's own two PGNs */
};

enum field_family { FAMILY_IEC, FAMILY_J1939, FAMILY_CODE, FAMILY_BITS, FAMILY_TEXT };

/* Units as the wire sends them. */
enum sent_unit {
    SENT_NONE,
    SENT_RPM,
    SENT_K,
    SENT_C,
    SENT_PA,
    SENT_KPA,
    SENT_V,
    SENT_A,
    SENT_PERCENT,
    SENT_S,
    SENT_RUN_S, /* running time in seconds, kept in hours */
    SENT_H,
    SENT_L,
    SENT_LPH,
    SENT_MPS,
    SENT_RAD,
    SENT_DAY,
    SENT_AH,
    SENT_MIN,
    SENT_KM_PER_L,
    SENT_REV,
    SENT_HZ,
    SENT_W,
    SENT_VA,
    SENT_VAR,
    SENT_KWH,
    SENT_NM,
    SENT_KGPH,
    SENT_PERCENT_PER_RPM,
    SENT_KGM2,
    SENT_COUNT
};
const char *sent_unit_text(enum sent_unit u); /* "K", "Pa", ""; never NULL */
enum unit sent_unit_base(enum sent_unit u);   /* UNIT_NONE where no channel is kept in it */

/* How a channel's place is found. */
enum place_how {
    AT_NOTHING, /* the boat has it once: 0 */
    AT_FIXED,   /* always n */
    AT_BITS,    /* an instance in the message */
    AT_ENGINE,  /* J1939 engines by source address: 0 is engine 0, 1 is engine 1, others are none */
    AT_GEARBOX, /* as AT_ENGINE, and 3 and 4 (transmission 1 and 2) are engines 0 and 1 */
    AT_GENERATOR, /* as AT_ENGINE, and 0 for every other address: generator sets have their own */
    AT_COUNTED,   /* n for the first of a repeated field, n + 1 for the next */
    AT_EACH,      /* n and the bits that each of a repeated field has for itself */
};
struct place_rule {
    uint8_t how; /* enum place_how */
    uint8_t n;   /* AT_FIXED, AT_COUNTED, AT_EACH */
    uint8_t bit, bits;
};

/* A code in the message that picks the quantity: temperature sources, fluid types. */
struct quantity_choice {
    uint8_t bit, bits;
    uint8_t count;
    const uint16_t *quantities; /* enum quantity by code; QTY_NONE for codes without a channel */
};

struct field_info {
    const char *name;
    uint16_t bit,
        bits;        /* bit 0 is the lowest of the first byte; bits within a field little endian */
    uint8_t repeat;  /* 0 or 1: once; else at most that many times */
    uint16_t stride; /* bits from one to the next of them; 0: one right after the other */
    uint8_t counted; /* bit where the message says how many there are; 0: it does not */
    bool is_signed;
    uint8_t family;       /* enum field_family */
    uint8_t sent;         /* enum sent_unit */
    double scale, offset; /* sent unit = raw * scale + offset */
    double gain, zero;    /* base unit = raw * gain + zero: with the conversion worked in */
    uint8_t decimals;     /* smallest d with 0.5 * 10^-d <= gain / 10 */
    uint16_t quantity;    /* enum quantity; QTY_NONE: no channel of its own */
    uint8_t rank;         /* as wire_value.field_rank */
    bool is_capacity;     /* of the tank in the same message */
    uint16_t spn;         /* J1939, 0 for IEC */
    struct quantity_choice choice; /* instead of quantity where count is not 0 */
    struct place_rule place, sub;
};

struct pgn_info {
    uint32_t pgn;
    const char *name;   /* in words */
    uint8_t priority;   /* the standard's default */
    uint8_t kind;       /* enum pgn_kind */
    uint16_t period_ms; /* 0: on request, on change, irregular */
    uint16_t length;    /* bytes; 0: varies */
    uint8_t field_count;
    const struct field_info *fields;
};

/* All rows, by rising PGN. */
size_t catalogue_count(void);
const struct pgn_info *catalogue_row(size_t i); /* NULL past the end */
/* NULL where the PGN is not in the table. */
const struct pgn_info *catalogue_find(uint32_t pgn);

/* Field value range in the base unit that the wire can carry as a number. */
void catalogue_range(const struct field_info *f, double *low, double *high);

/* Look-up in constant time for the frame path: pages of 256 PGNs. */
#define CATALOGUE_PAGES 24
struct catalogue_index {
    uint8_t page[1024];                /* by PGN / 256; 0: nothing there */
    uint8_t row[CATALOGUE_PAGES][256]; /* row number + 1; 0: not in the table */
};
void catalogue_index_build(struct catalogue_index *x);
static inline unsigned catalogue_index_find(const struct catalogue_index *x, uint32_t pgn)
{
    return x->row[x->page[(pgn >> 8) & 0x3FF]][pgn & 0xFF];
}

/* The table as Markdown, which is docs/messages.md. */
void catalogue_print_markdown(FILE *out);

#endif
