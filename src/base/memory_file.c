#include "base/memory_file.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Room for len bytes and a NUL. */
static bool make_room(struct memory_file *m, size_t len)
{
    if (len >= MEMORY_FILE_MOST)
        return false;
    if (len < m->cap)
        return true;
    size_t cap = 2 * len + 4096;
    char *more = realloc(m->text, cap);
    if (!more)
        return false;
    m->text = more;
    m->cap = cap;
    return true;
}

static ssize_t take(void *cookie, const char *data, size_t len)
{
    struct memory_file *m = cookie;
    if (m->failed || !make_room(m, m->len + len)) {
        m->failed = true;
        return 0;
    }
    memcpy(m->text + m->len, data, len);
    m->len += len;
    return (ssize_t)len;
}

bool memory_file_open(struct memory_file *m)
{
    *m = (struct memory_file){.out = NULL};
    if (make_room(m, 0))
        m->out = fopencookie(m, "w", (cookie_io_functions_t){.write = take});
    if (!m->out)
        free(m->text);
    return m->out != NULL;
}

char *memory_file_close(struct memory_file *m, size_t *len)
{
    bool good = !ferror(m->out);
    good = fclose(m->out) == 0 && good && !m->failed;
    if (!good) {
        free(m->text);
        return NULL;
    }
    m->text[m->len] = '\0';
    *len = m->len;
    return m->text;
}
