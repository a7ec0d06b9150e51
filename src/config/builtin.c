#include "config/config.h"

#include "base/banned.h"

/* configs/stokehold.conf itself: what a user copies is what is compiled in. */
static const char text[] = {
#include "configs/stokehold.conf.inc"
    '\0'};

const char *config_builtin_text(void)
{
    return text;
}
