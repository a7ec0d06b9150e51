#include "session/whole_file.h"

#include "base/memory_file.h"
#include "base/text.h"
#include "hooks/replace.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/banned.h"

static bool write_in_place(const char *path, const char *text, size_t len, struct err *e)
{
    FILE *out = fopen(path, "we");
    bool good = out && fwrite(text, 1, len, out) == len;
    if (out && fclose(out) != 0)
        good = false;
    return good || err_set(e, "cannot write '%s': %s", path, strerror(errno));
}

/* One may own a file in a directory that is not one's own. */
static bool may_add_beside(const char *path)
{
    char dir[4096];
    const char *slash = strrchr(path, '/');
    size_t len = slash == path ? 1 : slash ? (size_t)(slash - path) : 0;
    if (len >= sizeof dir)
        return false;
    memcpy(dir, path, len);
    dir[len] = '\0';
    return access(len > 0 ? dir : ".", W_OK) == 0;
}

bool whole_file(const char *verb, const char *path, void (*write)(FILE *out, const void *ctx),
                const void *ctx)
{
    struct err e;
    struct stat st;
    struct memory_file memory;
    char *text = NULL, shown[sizeof e.text];
    size_t len = 0;
    if (memory_file_open(&memory)) {
        write(memory.out, ctx);
        text = memory_file_close(&memory, &len);
    }
    bool good = text != NULL;
    if (!good)
        err_set(&e, "out of memory");
    else if (lstat(path, &st) == 0 && (!S_ISREG(st.st_mode) || !may_add_beside(path)))
        good = write_in_place(path, text, len, &e);
    else
        good = replace_file(path, text, len, 0, false, &e);
    free(text);
    if (good)
        return true;
    text_clean(shown, sizeof shown, e.text, strlen(e.text));
    fprintf(stderr, "stokehold %s: %s\n", verb, shown);
    return false;
}
