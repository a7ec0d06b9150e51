/* One value of the configuration: from text into its field, and back.
 * Numbers are read and written with a point whatever the locale. */
#ifndef STOKEHOLD_CONFIG_VALUE_H
#define STOKEHOLD_CONFIG_VALUE_H

#include "base/err.h"
#include "config/schema.h"

enum { VALUE_SIZE = 240 };

/* Reads text into the field of target (the struct of the key's scope). unit is that of the
 * section's channel, UNIT_NONE where it has none. On failure false, with what is wrong in e (no
 * file, no key) and target unchanged. Not for TYPE_LIMIT. */
bool value_parse(const struct schema_key *key, void *target, enum unit unit, const char *text,
                 struct err *e);
/* The reverse, into dst of VALUE_SIZE bytes: what value_parse reads back to the same. */
void value_format(const struct schema_key *key, const void *target, enum unit unit, char *dst);

/* "exhaust.0"; where any_place is not NULL also "exhaust.*". False with the reason. */
bool value_parse_channel(const char *text, struct channel_id *id, bool *any_place, struct err *e);

/* A value with the unit that base asks for, "93 C"; false with the reason. */
bool value_parse_quantity(const char *text, enum unit base, double *out, struct err *e);
/* "5 K" or "9 F" for a temperature, else as a value; a bare 0 needs no unit. */
bool value_parse_difference(const char *text, enum unit base, double *out, struct err *e);
/* Writes v with the base unit: "93.3 C". */
void value_format_quantity(double v, enum unit base, char *dst, size_t cap);

/* v as "93.3": up to 9 decimals, no trailing zeros. */
void value_format_number(double v, char *dst, size_t cap);

#endif
