/* touched: which places of the library ran, a byte for each address, in the file TOUCHED. Compiled
 * into a build with -fsanitize-coverage=trace-pc, which calls this at every block. The file is
 * shared memory, so what a killed process did counts too. tests/tools/mutate reads it. */
#include <fcntl.h>
#include <stddef.h>
#include <stdint.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <unistd.h>

void __sanitizer_cov_trace_pc(void);

extern const char __ehdr_start[] __attribute__((visibility("hidden"))); /* this library's */

enum { MOST = 16 << 20 };

__attribute__((no_sanitize_coverage)) static unsigned char *map_file(void)
{
    int fd = open(TOUCHED, O_RDWR | O_CREAT | O_CLOEXEC, 0666);
    void *map = MAP_FAILED;

    if (fd >= 0)
        (void)fchmod(fd, 0666); /* for what runs as somebody else, too */
    if (fd >= 0 && ftruncate(fd, MOST) == 0)
        map = mmap(NULL, MOST, PROT_READ | PROT_WRITE, MAP_SHARED, fd, 0);
    if (fd >= 0)
        close(fd);
    return map == MAP_FAILED ? NULL : map;
}

__attribute__((no_sanitize_coverage)) void __sanitizer_cov_trace_pc(void)
{
    static unsigned char *map;
    static int tried; /* once: where it cannot be opened, nothing is noted */
    uintptr_t at = (uintptr_t)__builtin_return_address(0) - (uintptr_t)__ehdr_start;

    if (!tried) {
        tried = 1;
        map = map_file();
    }
    if (map && at < MOST)
        map[at] = 1;
}
