/* What every fuzzer that reads texts asks of them. */
#ifndef STOKEHOLD_FUZZ_CHECK_TEXT_H
#define STOKEHOLD_FUZZ_CHECK_TEXT_H

#include <stdlib.h>
#include <string.h>

/* A text that ends within its room and holds no control byte, which would be an escape on a
 * terminal. */
static void check_text(const char *s, size_t cap)
{
    size_t n = strnlen(s, cap);
    if (n == cap)
        abort();
    for (size_t i = 0; i < n; i++)
        if ((unsigned char)s[i] < 32 || s[i] == 127)
            abort();
}

#endif
