/* The 64 bits of a NAME, for tests that send address claims or hold name_decode to its inverse. */
#ifndef STOKEHOLD_TESTS_NAME_H
#define STOKEHOLD_TESTS_NAME_H

#include "wire/name.h"

static inline uint64_t name_encode(struct name_fields f)
{
    return (uint64_t)(f.identity & 0x1FFFFF) | (uint64_t)(f.manufacturer & 0x7FF) << 21 |
           (uint64_t)(f.ecu_instance & 0x7) << 32 | (uint64_t)(f.function_instance & 0x1F) << 35 |
           (uint64_t)f.function << 40 | (uint64_t)(f.vehicle_class & 0x7F) << 49 |
           (uint64_t)(f.class_instance & 0xF) << 56 | (uint64_t)(f.industry_group & 0x7) << 60 |
           (uint64_t)f.arbitrary_address << 63;
}

#endif
