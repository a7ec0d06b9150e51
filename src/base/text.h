/* Text that stays within its buffer and does not depend on the locale.
 * Nothing here allocates. Numbers are always written and read with a point. */
#ifndef STOKEHOLD_BASE_TEXT_H
#define STOKEHOLD_BASE_TEXT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Copies src into dst of cap bytes, always terminated. True when all of it fitted; a cut never
 * splits a UTF-8 sequence. cap must be > 0; src may not be NULL. */
bool text_copy(char *dst, size_t cap, const char *src);

/* printf into dst, always terminated; true when all of it fitted. Do not format floating point
 * with it where the locale could change the point: use text_number. */
bool text_format(char *dst, size_t cap, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* As text_format, appended to what dst already holds. */
bool text_append(char *dst, size_t cap, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* Copies len bytes that came from the bus, a file or a network: every byte that is not printable
 * ASCII or part of a valid printable UTF-8 sequence becomes '?' (C0, C1 controls, DEL and bidi
 * overrides included); trailing blanks, 0xFF padding, '@' padding and NULs are dropped. */
void text_clean(char *dst, size_t cap, const void *src, size_t len);

/* Writes v with `decimals` (0..9) places, rounded half away from zero, '.' as the point,
 * no grouping, "-0" never. Returns the length (without the NUL), 0 if it did not fit or v is not
 * finite. 32 bytes hold every |v| < 1e15. */
size_t text_number(char *dst, size_t cap, double v, int decimals);

/* Reads a whole string as a number: optional sign, digits, optional fraction and exponent,
 * surrounding blanks allowed. False if anything else is there or it is not finite. */
bool text_to_double(const char *s, double *out);
bool text_to_long(const char *s, long low, long high, long *out);

/* Reads one character of len bytes: its length, the code point in *cp. A bad byte is one
 * character, U+FFFD. 0 only when len is 0. */
size_t text_utf8_next(const char *s, size_t len, uint32_t *cp);
/* Writes a code point; returns its 1 to 4 bytes, no NUL. */
size_t text_utf8_put(char dst[4], uint32_t cp);

/* Columns a code point takes on a terminal: 0 combining, 2 wide (East Asian Wide, emoji), else 1.
 * Does not depend on the locale. */
int text_cp_width(uint32_t cp);
/* Columns a UTF-8 string takes; a bad or unprintable character counts as one. */
int text_width(const char *utf8);

/* Levenshtein distance, capped: for "did you mean". */
int text_distance(const char *a, const char *b);

#endif
