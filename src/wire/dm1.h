/* DM1, active diagnostic trouble codes (SAE J1939-73 5.7.1, PGN 65226), and DM2, those that were
 * active before (PGN 65227, of the same form). */
#ifndef STOKEHOLD_WIRE_DM1_H
#define STOKEHOLD_WIRE_DM1_H

#include "wire/wire.h"

#define DM1_CODES_MAX 32

struct trouble_code {
    uint32_t spn;  /* 19 bits */
    uint8_t fmi;   /* 0..31 */
    uint8_t count; /* 0..126; 127 not available */
    /* Conversion method 1: one of three older ways to order the bits of the SPN, and nothing on
     * the bus says which one. spn is then only what the usual way gives. */
    bool old_form;
};

/* Worst first. */
enum dm1_lamp { DM1_RED_STOP, DM1_AMBER_WARNING, DM1_PROTECT, DM1_MALFUNCTION, DM1_LAMPS };
enum lamp { LAMP_OFF, LAMP_ON, LAMP_ERROR, LAMP_NOT_AVAILABLE };
/* Slow is once a second, fast twice or more (SAE J1939-73 5.7.1, from memory). */
enum flash { FLASH_SLOW, FLASH_FAST, FLASH_RESERVED, FLASH_NONE };

struct dm1 {
    enum lamp lamps[DM1_LAMPS];
    enum flash flashes[DM1_LAMPS]; /* of a lamp that is on */
    struct trouble_code codes[DM1_CODES_MAX];
    int code_count; /* those kept */
    int more;       /* those past DM1_CODES_MAX */
};

/* False where m is neither or too short. "No fault" (SPN 0, FMI 0) gives no code. */
bool dm1_decode(const struct message *m, struct dm1 *out);
/* "amber warning lamp"; never NULL. */
const char *dm1_lamp_text(enum dm1_lamp lamp);
/* "slowly" or "fast"; NULL where that lamp is not lit or does not flash. */
const char *dm1_flash_text(const struct dm1 *d, enum dm1_lamp lamp);
/* "coolant temperature" for SPN 110; NULL where the table has no words for it. */
const char *dm1_spn_text(uint32_t spn);
/* "above normal, most severe" for FMI 0; never NULL. */
const char *dm1_fmi_text(uint8_t fmi);

#endif
