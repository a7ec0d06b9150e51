/* Any bytes as a configuration: settings or messages, never a crash. */
#include "config/load.h"

#include <stdint.h>
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct config_messages *m = NULL;
    struct settings *s = load_bytes("f.conf", (const char *)data, size, &m);
    if ((s != NULL) != (config_message_count(m) == 0))
        abort();
    settings_free(s);
    config_messages_free(m);
    return 0;
}
