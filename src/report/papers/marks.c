#include "report/papers/marks.h"

#include "base/text.h"
#include "report/papers/lines.h"

#include <dirent.h>
#include <string.h>
#include <time.h>

#include "base/banned.h"

#define PATH_MOST 4096
#define ENDING    ".marks"

bool marks_of_log(char *dst, size_t cap, const char *log)
{
    return text_format(dst, cap, "%s" ENDING, log);
}

bool marks_of_record(char *dst, size_t cap, const char *dir)
{
    return text_format(dst, cap, "%s/marks", dir);
}

bool marks_add(struct marks *m, int64_t wall_ns, const char *words)
{
    int at = m->count;

    if (m->count == MARKS_MAX) {
        m->lost++;
        return false;
    }
    for (; at > 0 && m->mark[at - 1].wall_ns > wall_ns; at--)
        m->mark[at] = m->mark[at - 1];
    m->mark[at].wall_ns = wall_ns;
    text_clean(m->mark[at].words, sizeof m->mark[at].words, words, strlen(words));
    m->count++;
    return true;
}

static const char *take_line(void *ctx, char *text)
{
    size_t n = strcspn(text, " \t");
    const char *words = text[n] != '\0' ? lines_trim(text + n + 1) : "";
    struct moment at;

    text[n] = '\0';
    if (!when_parse(text, &at) || at.relative)
        return "no time such as 2026-05-04T14:12:07Z at its beginning";
    marks_add(ctx, at.ns, words);
    return NULL;
}

static const struct lines_kind file = {
    .name = "marks", .version = 1, .may_lack = true, .take = take_line};

bool marks_read(const char *path, struct marks *m, struct err *e)
{
    return lines_read(path, &file, m, e);
}

/* The directory that holds path; "." where it names none. False where it is too long. */
static bool directory_of(char *dst, const char *path)
{
    const char *slash = strrchr(path, '/');

    if (!slash)
        return text_copy(dst, PATH_MOST, ".");
    return text_format(dst, PATH_MOST, "%.*s", slash == path ? 1 : (int)(slash - path), path);
}

/* Those of the logs in a directory; none where it is not one. */
static bool read_directory(const char *log, struct marks *m, struct err *e)
{
    char path[PATH_MOST];
    struct dirent *entry;
    DIR *d = opendir(log);
    bool good = true;

    while (d && good && (entry = readdir(d))) {
        size_t n = strlen(entry->d_name);

        if (n > strlen(ENDING) && strcmp(entry->d_name + n - strlen(ENDING), ENDING) == 0)
            good = text_format(path, sizeof path, "%s/%s", log, entry->d_name) &&
                   marks_read(path, m, e);
    }
    if (d)
        closedir(d);
    return good;
}

bool marks_read_all(const char *log, struct marks *m, struct err *e)
{
    char path[PATH_MOST], dir[PATH_MOST];

    if (strcmp(log, "-") == 0)
        return true;
    if (!marks_of_log(path, sizeof path, log) || !directory_of(dir, log))
        return err_set(e, "the name '%s' is too long", log);
    return marks_read(path, m, e) && read_directory(log, m, e) &&
           (!marks_of_record(path, sizeof path, log) || marks_read(path, m, e)) &&
           (!marks_of_record(path, sizeof path, dir) || marks_read(path, m, e));
}

void marks_format(char *dst, size_t cap, const struct mark *k)
{
    time_t seconds = (time_t)(k->wall_ns / NS_PER_S);
    int64_t rest = k->wall_ns % NS_PER_S;
    char when[40];
    struct tm tm;

    if (rest < 0) {
        rest += NS_PER_S;
        seconds--;
    }
    gmtime_r(&seconds, &tm);
    strftime(when, sizeof when, "%Y-%m-%dT%H:%M:%S", &tm);
    text_format(dst, cap, "%s.%03dZ%s%s\n", when, (int)(rest / NS_PER_MS), k->words[0] ? " " : "",
                k->words);
}

static void write_mark(FILE *out, const void *ctx)
{
    char line[MARK_WORDS + 60];

    marks_format(line, sizeof line, ctx);
    fputs(line, out);
}

void marks_head(char *dst, size_t cap)
{
    lines_first(dst, cap, &file);
}

bool marks_append(const char *path, const struct mark *mark, struct err *e)
{
    return lines_append(path, &file, write_mark, mark, e);
}
