#include "config/reader.h"

#include "base/text.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

struct reader {
    struct document *d;
    struct config_messages *m;
    const char *data, *end;
    struct config_place at; /* of the line handed out last */
    bool in_section;        /* a good section is open: its keys count */
    bool skipping;          /* a bad one is: nothing is said about its keys */
    bool failed;            /* out of memory */
};

static void say(struct reader *r, const char *what)
{
    messages_add(r->m, r->at, r->d->file, "%s", what);
}

static bool is_blank(char c)
{
    return c == ' ' || c == '\t' || c == '\v' || c == '\f';
}

/* Makes every run of blanks one space. */
static void squeeze(char *s)
{
    char *to = s;
    for (const char *p = s; *p; p++) {
        if (!is_blank(*p))
            *to++ = *p;
        else if (to > s && to[-1] != ' ')
            *to++ = ' ';
    }
    if (to > s && to[-1] == ' ')
        to--;
    *to = '\0';
}

/* The first byte of a comment, or end. */
static const char *comment_start(const char *p, const char *end)
{
    for (const char *q = p; q < end; q++)
        if ((*q == '#' || *q == ';') && (q == p || is_blank(q[-1])))
            return q;
    return end;
}

/* Takes the next line without its comment and the blanks around; false at the end of the data. */
static bool next_line(struct reader *r, const char **start, const char **stop)
{
    if (r->data >= r->end)
        return false;
    const char *p = r->data;
    const char *eol = memchr(p, '\n', (size_t)(r->end - p));
    const char *end = eol ? eol : r->end;
    r->data = eol ? eol + 1 : r->end;
    r->at.line++;
    if (end > p && end[-1] == '\r')
        end--;
    while (p < end && is_blank(*p))
        p++;
    end = comment_start(p, end);
    while (end > p && is_blank(end[-1]))
        end--;
    *start = p;
    *stop = end;
    return true;
}

static const char *section_word(void *ctx, size_t i)
{
    (void)ctx;
    return schema_sections[i].word;
}

static bool add_section(struct reader *r, const struct reader_section *s)
{
    struct document *d = r->d;
    if (d->section_count % 32 == 0) {
        void *grown = realloc(d->sections, (d->section_count + 32) * sizeof *d->sections);
        if (!grown) {
            r->failed = true;
            return false;
        }
        d->sections = grown;
    }
    d->sections[d->section_count++] = *s;
    return true;
}

/* "channel exhaust.0" into word and name; what is wrong is said and false returned. */
static bool read_title(struct reader *r, struct reader_section *s)
{
    char word[READER_NAME_MAX + 1];
    text_copy(word, sizeof word, s->title);
    word[strcspn(word, " ")] = '\0';
    const char *name = s->title + strlen(word);
    text_copy(s->name, sizeof s->name, *name ? name + 1 : "");
    s->schema = schema_find_section(word);
    struct quote q = messages_quote(s->title);
    if (!s->schema) {
        messages_add(r->m, r->at, r->d->file, "unknown section [%s]%s", q.text,
                     messages_hint(word, schema_section_count, section_word, NULL, true).text);
        return false;
    }
    if (*s->schema->name == '\0' && *s->name != '\0') {
        messages_add(r->m, r->at, r->d->file, "[%s] takes no name: write [%s]", q.text, word);
        return false;
    }
    if (*s->schema->name != '\0' && *s->name == '\0') {
        messages_add(r->m, r->at, r->d->file, "[%s] needs a name: write [%s %s]", q.text, word,
                     s->schema->name);
        return false;
    }
    for (size_t i = 0; i < r->d->section_count; i++) {
        if (strcmp(r->d->sections[i].title, s->title) == 0) {
            messages_add(r->m, r->at, r->d->file, "[%s] is already there on line %u", q.text,
                         (unsigned)r->d->sections[i].at.line);
            return false;
        }
    }
    return true;
}

static void open_section(struct reader *r, const char *start, const char *stop)
{
    r->in_section = false;
    r->skipping = true;
    const char *close = memchr(start, ']', (size_t)(stop - start));
    if (!close) {
        say(r, "a section needs a closing ']'");
        return;
    }
    if (close + 1 != stop) {
        say(r, "nothing may follow the ']' of a section");
        return;
    }
    struct reader_section s = {.at = r->at};
    size_t len = (size_t)(close - start - 1);
    if (len > READER_NAME_MAX) {
        messages_add(r->m, r->at, r->d->file, "a section name is longer than %d characters",
                     READER_NAME_MAX);
        return;
    }
    memcpy(s.title, start + 1, len);
    s.title[len] = '\0';
    squeeze(s.title);
    char clean[sizeof s.title]; /* the title is quoted in messages from here on */
    text_clean(clean, sizeof clean, s.title, strlen(s.title));
    if (strcmp(clean, s.title) != 0) {
        say(r, "a section name has characters that cannot be shown");
        return;
    }
    if (read_title(r, &s) && add_section(r, &s)) {
        r->in_section = true;
        r->skipping = false;
    }
}

/* Whether the line is a section or an entry; sections are noted, what is wrong is said. */
static bool line_is_good(struct reader *r, const char *start, const char *stop)
{
    size_t len = (size_t)(stop - start);
    if (len == 0)
        return false;
    if (memchr(start, '\0', len)) {
        say(r, "a NUL byte: is this a text file?");
        return false;
    }
    if (len > READER_LINE_MAX) {
        messages_add(r->m, r->at, r->d->file, "longer than %d characters", READER_LINE_MAX);
        return false;
    }
    if (*start == '[') {
        open_section(r, start, stop);
        return true;
    }
    const char *equals = memchr(start, '=', len);
    if (!equals || equals == start) {
        if (!r->skipping)
            say(r,
                equals ? "a key is missing before '='" : "expected 'key = value' or '[section]'");
        return false;
    }
    return true;
}

struct key_list {
    const struct schema_section *section;
};

/* The i-th key of a section: the table's rows are few. */
static const char *key_word(void *ctx, size_t i)
{
    const struct key_list *list = ctx;
    for (size_t k = 0; k < schema_key_count; k++)
        if (schema_has(list->section, &schema_keys[k]) && i-- == 0)
            return schema_keys[k].key;
    return "";
}

static size_t key_count(const struct schema_section *section)
{
    size_t n = 0;
    for (size_t k = 0; k < schema_key_count; k++)
        n += schema_has(section, &schema_keys[k]);
    return n;
}

static void add_entry(struct reader *r, const struct reader_entry *e)
{
    struct document *d = r->d;
    if (d->entry_count % 64 == 0) {
        void *grown = realloc(d->entries, (d->entry_count + 64) * sizeof *d->entries);
        if (!grown) {
            r->failed = true;
            return;
        }
        d->entries = grown;
    }
    d->entries[d->entry_count++] = *e;
}

/* One key of an open section, or before any; len bytes, without blanks around. */
static void take_entry(struct reader *r, const char *line, size_t len)
{
    char key[READER_LINE_MAX + 1];
    size_t name = (size_t)((const char *)memchr(line, '=', len) - line);
    memcpy(key, line, name);
    key[name] = '\0';
    squeeze(key);
    struct quote q = messages_quote(key);
    if (!r->in_section) {
        messages_add(r->m, r->at, r->d->file, "'%s' stands before the first [section]", q.text);
        return;
    }
    const struct reader_section *s = &r->d->sections[r->d->section_count - 1];
    struct reader_entry e = {.at = r->at, .section = r->d->section_count - 1};
    e.key = schema_find_key(s->schema, key);
    if (!e.key) {
        struct key_list list = {s->schema};
        messages_add(r->m, r->at, r->d->file, "[%s] unknown key '%s'%s", s->title, q.text,
                     messages_hint(key, key_count(s->schema), key_word, &list, true).text);
        return;
    }
    for (size_t i = r->d->entry_count; i-- > 0 && r->d->entries[i].section == e.section;) {
        if (r->d->entries[i].key == e.key) {
            messages_add(r->m, r->at, r->d->file, "[%s] %s: already given on line %u", s->title,
                         key, (unsigned)r->d->entries[i].at.line);
            return;
        }
    }
    const char *value = line + name + 1;
    while (value < line + len && is_blank(*value))
        value++;
    memcpy(e.value, value, (size_t)(line + len - value)); /* the rest of it is 0 */
    add_entry(r, &e);
}

static void read_lines(struct reader *r)
{
    const char *start, *stop;
    while (!r->failed && next_line(r, &start, &stop)) {
        if (r->at.line == READER_LINES_MAX) {
            messages_add(r->m, r->at, r->d->file, "more than %d lines", READER_LINES_MAX - 1);
            return;
        }
        if (line_is_good(r, start, stop) && *start != '[' && !r->skipping)
            take_entry(r, start, (size_t)(stop - start));
    }
}

bool document_read(struct document *d, uint16_t file_index, const char *file, const char *data,
                   size_t len, struct config_messages *m)
{
    *d = (struct document){.file = file, .file_index = file_index};
    if (len >= 3 && memcmp(data, "\xEF\xBB\xBF", 3) == 0) { /* UTF-8 with a byte order mark */
        data += 3;
        len -= 3;
    }
    struct reader r = {.d = d, .m = m, .data = data, .end = data + len, .at = {.file = file_index}};
    read_lines(&r);
    return !r.failed;
}

struct config_place document_place(const struct document *d, const char *title, const char *key,
                                   bool *found)
{
    struct config_place at = {.file = d->file_index};
    if (found)
        *found = false;
    for (size_t i = 0; i < d->section_count; i++)
        if (strcmp(d->sections[i].title, title) == 0)
            at = d->sections[i].at;
    for (size_t i = 0; key && i < d->entry_count; i++) {
        const struct reader_entry *e = &d->entries[i];
        if (strcmp(d->sections[e->section].title, title) == 0 && strcmp(e->key->key, key) == 0) {
            at = e->at;
            if (found)
                *found = true;
        }
    }
    return at;
}

void document_fini(struct document *d)
{
    free(d->sections);
    free(d->entries);
    *d = (struct document){0};
}
