#include "report/papers/lines.h"

#include "base/text.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/banned.h"

#define LINE_MOST 400

char *lines_trim(char *s)
{
    size_t n;

    while (*s == ' ' || *s == '\t')
        s++;
    n = strlen(s);
    while (n > 0 && strchr(" \t\r\n", s[n - 1]) != NULL)
        s[--n] = '\0';
    return s;
}

/* NULL, or what is wrong. */
static const char *check_first(const struct lines_kind *kind, const char *line)
{
    static const char lead[] = "# stokehold ";
    size_t n = strlen(kind->name);
    const char *name = line + strlen(lead);
    long version;

    /* any other remark: from before there were such lines */
    if (strncmp(line, lead, strlen(lead)) != 0)
        return NULL;
    if (strncmp(name, kind->name, n) != 0 || name[n] != ' ')
        return "a file of another kind";
    if (!text_to_long(name + n + 1, 1, 1000000, &version))
        return "no version in its first line";
    return version > kind->version ? "of a later version of stokehold" : NULL;
}

void lines_first(char *dst, size_t cap, const struct lines_kind *kind)
{
    text_format(dst, cap, "# stokehold %s %d\n", kind->name, kind->version);
}

void lines_begin(FILE *out, const struct lines_kind *kind)
{
    char first[80];

    lines_first(first, sizeof first, kind);
    fprintf(out, "%s%s", first, kind->about ? kind->about : "");
}

bool lines_read(const char *path, const struct lines_kind *kind, void *ctx, struct err *e)
{
    FILE *f = fopen(path, "re");
    const char *wrong = NULL;
    char line[LINE_MOST];
    int number = 0, why;
    bool failed;

    if (f == NULL)
        return ((errno == ENOENT || errno == ENOTDIR) && kind->may_lack) ||
               err_set(e, "cannot read '%s': %s", path, strerror(errno));
    while (wrong == NULL && fgets(line, sizeof line, f) != NULL) {
        bool cut = strlen(line) == sizeof line - 1 && line[sizeof line - 2] != '\n';
        char *text = lines_trim(line);

        number++;
        if (cut)
            wrong = "line too long";
        else if (number == 1 && text[0] == '#')
            wrong = check_first(kind, text);
        else if (text[0] != '\0' && text[0] != '#')
            wrong = kind->take(ctx, text);
    }
    failed = ferror(f);
    why = errno;
    fclose(f);
    if (wrong != NULL)
        return err_set(e, "%s:%d: %s", path, number, wrong);
    return !failed || err_set(e, "cannot read '%s': %s", path, strerror(why));
}

bool lines_append(const char *path, const struct lines_kind *kind,
                  void (*write)(FILE *out, const void *ctx), const void *ctx, struct err *e)
{
    FILE *f = fopen(path, "a+e");
    long before;
    bool good;
    int why;

    if (f == NULL)
        return err_set(e, "cannot write '%s': %s", path, strerror(errno));
    fseek(f, 0, SEEK_END);
    before = ftell(f);
    if (before == 0) {
        lines_begin(f, kind);
    } else if (before > 0) {
        fseek(f, -1, SEEK_END);
        bool torn = fgetc(f) != '\n';
        fseek(f, 0, SEEK_END);
        if (torn)
            fputc('\n', f);
    }
    write(f, ctx);
    good = fflush(f) == 0 && !ferror(f) && (fsync(fileno(f)) == 0 || errno == EINVAL);
    why = errno;
    good = fclose(f) == 0 && good;
    /* Half an entry would make a file that cannot be read. */
    if (!good && before >= 0 && truncate(path, before) != 0)
        return err_set(e, "cannot write '%s', and its last entry is cut: %s", path, strerror(why));
    return good || err_set(e, "cannot write '%s': %s", path, strerror(why));
}
