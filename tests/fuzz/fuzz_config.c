/* Any bytes as a configuration: settings or messages, never a crash. Settings can be printed; what
 * is printed is read again, and printed is the same. */
#include "config/load.h"

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static char *print(const struct settings *s, size_t *len)
{
    char *text = NULL;
    FILE *out = open_memstream(&text, len);
    if (out == NULL)
        abort();
    config_print(s, out);
    if (fclose(out) != 0)
        abort();
    return text;
}

static void print_and_read(const struct settings *s)
{
    size_t len, again_len;
    char *text = print(s, &len);
    struct config_messages *m = NULL;
    struct settings *again = load_bytes("f.conf", text, len, &m);
    if (again == NULL || config_message_count(m) != 0)
        abort();
    char *second = print(again, &again_len);
    if (again_len != len || memcmp(text, second, len) != 0)
        abort();
    free(second);
    free(text);
    settings_free(again);
    config_messages_free(m);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct config_messages *m = NULL;
    struct settings *s = load_bytes("f.conf", (const char *)data, size, &m);
    if ((s != NULL) != (config_message_count(m) == 0))
        abort();
    if (s != NULL && size % 8 == 0) /* it costs several readings */
        print_and_read(s);
    settings_free(s);
    config_messages_free(m);
    return 0;
}
