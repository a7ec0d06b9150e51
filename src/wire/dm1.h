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

enum lamp { LAMP_OFF, LAMP_ON, LAMP_ERROR, LAMP_NOT_AVAILABLE };

struct dm1 {
    enum lamp malfunction, red_stop, amber_warning, protect;
    struct trouble_code codes[DM1_CODES_MAX];
    int code_count; /* those kept */
    int more;       /* those past DM1_CODES_MAX */
};

/* False where m is neither or too short. "No fault" (SPN 0, FMI 0) gives no code. */
bool dm1_decode(const struct message *m, struct dm1 *out);
/* "coolant temperature" for SPN 110; NULL where the table has no words for it. */
const char *dm1_spn_text(uint32_t spn);
/* "above normal, most severe" for FMI 0; never NULL. */
const char *dm1_fmi_text(uint8_t fmi);

#endif
