/* Any bytes as a file: packed text, captures and plain text through the path that verbs use, with
 * a buffer that is filled in pieces. For libFuzzer; `make fuzz` runs it. */
#include "bus/source.h"

#include <stdio.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <unistd.h>

#include "base/banned.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static uint64_t read_all(struct source *s)
{
    struct frame batch[16];
    size_t n;
    int64_t mono = 0;
    while (source_read(s, batch, 16, &n, NULL) == SOURCE_READY) {
        for (size_t i = 0; i < n; i++) {
            if (batch[i].len > 8 || batch[i].mono_ns < mono)
                abort();
            mono = batch[i].mono_ns;
        }
    }
    return source_stats(s)->frames;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    char path[64];
    int fd = memfd_create("fuzz", MFD_CLOEXEC);
    if (fd < 0 || write(fd, data, size) != (ssize_t)size)
        abort();
    snprintf(path, sizeof path, "/proc/self/fd/%d", fd);
    struct source *s = source_open_log(path, NULL, NULL);
    if (s) {
        uint64_t first = read_all(s);
        /* what can be read once can be read again */
        if (source_rewind(s) && read_all(s) != first)
            abort();
        source_close(s);
    }
    close(fd);
    return 0;
}
