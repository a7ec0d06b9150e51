#include "base/err.h"

#include "base/text.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

bool err_set(struct err *e, const char *format, ...)
{
    if (e) {
        char text[sizeof e->text];
        va_list args;
        va_start(args, format);
        vsnprintf(text, sizeof text, format, args);
        va_end(args);
        text_clean(e->text, sizeof e->text, text, strlen(text));
    }
    return false;
}
