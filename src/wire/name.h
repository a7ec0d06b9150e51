/* The 64-bit NAME of a control function (SAE J1939-81, ISO 11783-5), from PGN 60928. */
#ifndef STOKEHOLD_WIRE_NAME_H
#define STOKEHOLD_WIRE_NAME_H

#include "wire/wire.h"

struct name_fields {
    uint32_t identity;         /* 21 bits */
    uint16_t manufacturer;     /* 11 bits, the code number */
    uint8_t ecu_instance;      /* 3 */
    uint8_t function_instance; /* 5 */
    uint8_t function;          /* 8 */
    uint8_t vehicle_class;     /* 7: "vehicle system", marine "device class" */
    uint8_t class_instance;    /* 4: "vehicle system instance" */
    uint8_t industry_group;    /* 3: 4 is marine */
    bool arbitrary_address;    /* 1 */
};

struct name_fields name_decode(uint64_t name);
/* From an address claim; false where m is none or too short. */
bool name_from_claim(const struct message *m, uint64_t *name);
/* Words for the class and the function (the public part of the standard, from memory, in our own
 * words); NULL where the table has none, and callers print the numbers. Functions below 128 mean
 * the same in every class. */
const char *name_class_text(uint8_t industry_group, uint8_t vehicle_class);
const char *name_function_text(uint8_t industry_group, uint8_t vehicle_class, uint8_t function);

#endif
