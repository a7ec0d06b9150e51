/* Any bytes as a log: nothing is read outside them, every frame handed out is well formed, and
 * written back it reads the same. For libFuzzer; `make fuzz` runs it. */
#include "bus/candump.h"
#include "bus/source.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void check(bool holds)
{
    if (!holds)
        abort();
}

static void check_frame(const struct frame *f, const char *iface)
{
    check(f->len <= 8);
    check(f->id <= (f->flags & (FRAME_EXTENDED | FRAME_ERROR) ? 0x1FFFFFFF : 0x7FF));
    check(iface[0] != '\0');
    char line[CANDUMP_LINE_MAX];
    size_t len = candump_format(line, sizeof line, f, iface);
    check(len > 0);
    struct candump_line again;
    check(!candump_parse(line, len - 1, &again));
    check(again.frame.id == f->id && again.frame.len == f->len);
    check(memcmp(again.frame.data, f->data, 8) == 0);
    if (f->wall_ns >= 0)
        check(again.frame.wall_ns == f->wall_ns - f->wall_ns % 1000);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct source_options options = {.zone = "+02:00"};
    struct source *s = source_open_memory((const char *)data, size, &options);
    if (!s)
        return 0;
    struct frame batch[16];
    size_t n;
    int64_t mono = 0;
    uint64_t frames = 0;
    while (source_read(s, batch, 16, &n, NULL) == SOURCE_READY) {
        check(n > 0 && n <= 16);
        for (size_t i = 0; i < n; i++) {
            check(batch[i].mono_ns >= mono);
            mono = batch[i].mono_ns;
            check_frame(&batch[i], source_iface_name(s, batch[i].iface));
        }
        frames += n;
    }
    const struct source_stats *st = source_stats(s);
    check(st->frames == frames && st->frames + st->bad_lines <= st->lines);
    check(st->bytes == size);
    source_close(s);
    return 0;
}
