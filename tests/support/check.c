#include "support/check.h"

#include <stdlib.h>

void for_every_prefix(const void *data, size_t len,
                      void (*f)(void *ctx, const void *data, size_t len), void *ctx)
{
    for (size_t n = 0; n <= len; n++) {
        char *copy = malloc(n ? n : 1);
        assert_non_null(copy);
        if (n)
            memcpy(copy, data, n);
        f(ctx, copy, n);
        free(copy);
    }
}
