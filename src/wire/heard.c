#include "wire/heard.h"

#include <assert.h>
#include <string.h>

#include "base/banned.h"

void wire_hear(struct wire *w, const struct frame *f, size_t n, struct heard *out)
{
    uint32_t values = 0, bytes = 0;
    uint16_t count = 0;
    assert(n <= HEARD_FRAMES);
    for (size_t i = 0; i < n; i++) {
        struct heard_message *h = &out->messages[count];
        out->ends[i] = 0;
        if (!wire_frame(w, &f[i], &h->message))
            continue;
        out->ends[i] = ++count;
        if (h->message.multi != 0) { /* the wire puts the next one together in the same place */
            memcpy(out->data + bytes, h->message.data, h->message.len);
            h->message.data = out->data + bytes;
            bytes += h->message.len;
        }
        h->first = values;
        h->count = (uint32_t)decode_values(&h->message, out->values + values);
        values += h->count;
    }
    out->stats = *wire_stats(w);
}
