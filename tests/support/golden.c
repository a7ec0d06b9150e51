#include "support/golden.h"

#include "support/check.h"

#include <stdio.h>
#include <stdlib.h>

static void write_file(const char *path, const char *text)
{
    FILE *f = fopen(path, "w");
    if (!f || fputs(text, f) == EOF || fclose(f) != 0)
        fail_msg("cannot write %s", path);
}

/* The whole file, NUL-terminated; the caller frees it. NULL where there is none. */
static char *read_file(const char *path)
{
    FILE *f = fopen(path, "r");
    if (!f)
        return NULL;
    size_t cap = 1 << 20, n;
    char *text = malloc(cap);
    assert_non_null(text);
    n = fread(text, 1, cap - 1, f);
    text[n] = '\0';
    fclose(f);
    return text;
}

static void compare(const char *path, const char *wanted, const char *got)
{
    for (int line = 1; *wanted || *got; line++) {
        size_t w = strcspn(wanted, "\n"), g = strcspn(got, "\n");
        if (w != g || memcmp(wanted, got, w) != 0 || wanted[w] != got[g]) {
            print_error("%s:%d differs\n  wanted: %.*s\n  got:    %.*s\n", path, line, (int)w,
                        wanted, (int)g, got);
            fail();
        }
        wanted += w + (wanted[w] == '\n');
        got += g + (got[g] == '\n');
    }
}

void golden_check(const char *directory, const char *name, const char *text)
{
    char path[300];
    const char *mode = getenv("GOLDEN");
    snprintf(path, sizeof path, "tests/%s/golden/%s%s", directory, name,
             strchr(name, '.') ? "" : ".txt");
    if (mode && strcmp(mode, "write") == 0) {
        write_file(path, text);
        return;
    }
    char *wanted = read_file(path);
    if (!wanted)
        fail_msg("%s is missing: make golden writes it", path);
    compare(path, wanted, text);
    free(wanted);
}
