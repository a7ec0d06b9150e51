/* Boxes fill inputs that nothing hangs on: with all ones in a signed field (-1, where the
 * standard's "not available" is the highest positive), with zeros (0 K, a battery of 0 V and 0 A, a
 * tank of capacity 0). Such a value is not a reading. The list stands in docs/messages.md, printed
 * from here. */
#ifndef STOKEHOLD_WIRE_PLACEHOLDER_H
#define STOKEHOLD_WIRE_PLACEHOLDER_H

#include "wire/decode.h"

#include <stdio.h>

/* Marks what is a placeholder among the values of one message as not available. */
void placeholder_mark(const struct message *m, struct wire_value *v, size_t n);
/* Whether there can be one: each is below nought, or of a tank or a battery. */
static inline bool placeholder_may_be(const struct message *m, const struct wire_value *v, size_t n)
{
    bool below = m->pgn == 127505 || m->pgn == 127508;
    for (size_t i = 0; i < n; i++)
        below |= v[i].value < 0;
    return below;
}
/* The list as Markdown. */
void placeholder_print(FILE *out);

#endif
