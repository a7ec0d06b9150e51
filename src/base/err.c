#include "base/err.h"

#include <stdarg.h>
#include <stdio.h>

#include "base/banned.h"

bool err_set(struct err *e, const char *format, ...)
{
    if (e) {
        va_list args;
        va_start(args, format);
        vsnprintf(e->text, sizeof e->text, format, args);
        va_end(args);
    }
    return false;
}
