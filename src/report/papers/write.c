#include "report/papers/write.h"

#include "base/json.h"
#include "base/text.h"

#include <string.h>

#include "base/banned.h"

enum { NAMES_WIDE = 24 };

bool papers_is_signature(const struct particular *line)
{
    return strcmp(particulars_title(line->kind), "Signatures") == 0;
}

/* The title of a line, "" where the one above has it already. */
static const char *title_of(const struct particulars *p, int i)
{
    return i > 0 && p->line[i - 1].kind == p->line[i].kind ? ""
                                                           : particulars_title(p->line[i].kind);
}

void papers_print_particulars(FILE *out, const struct particulars *p)
{
    for (int i = 0; p != NULL && i < p->lines; i++)
        fprintf(out, "  %-*s %s\n", NAMES_WIDE, title_of(p, i), p->line[i].text);
}

static void print_file(FILE *out, const char *what, const char *name, const char *digest)
{
    fprintf(out, "  %-*s %s\n", NAMES_WIDE, what, name);
    if (digest[0] != '\0')
        fprintf(out, "  %-*s SHA-256 %s\n", NAMES_WIDE, "", digest);
}

void papers_print_source(FILE *out, const struct page_source *s)
{
    if (s == NULL)
        return;
    fprintf(out, "  %-*s stokehold %s\n", NAMES_WIDE, "Program", s->version);
    if (s->config != NULL)
        print_file(out, "Configuration", s->config, s->config_sha256);
    else
        print_file(out, "Configuration", "the defaults alone", "");
    for (int i = 0; i < s->logs; i++)
        print_file(out, "Log", s->log[i].name, s->log[i].sha256);
}

void papers_rows(FILE *out, const struct particulars *p)
{
    for (int i = 0; p != NULL && i < p->lines; i++) {
        if (papers_is_signature(&p->line[i]))
            continue;
        fputs("<tr>", out);
        page_row_head(out, title_of(p, i));
        page_words(out, p->line[i].text);
        fputs("</tr>\n", out);
    }
}

/* --- JSON ----------------------------------------------------------------------------------- */

static const char *or_null(const char *text)
{
    return text != NULL && text[0] != '\0' ? text : NULL;
}

static void particular_keys(struct json *j, const struct particular *line)
{
    json_string(j, "title", particulars_title(line->kind));
    json_string(j, "text", line->text);
}

static void source_keys(struct json *j, const struct page_source *s)
{
    json_string(j, "version", s->version);
    json_string(j, "configuration", s->config);
    json_string(j, "configuration_sha256", s->config != NULL ? or_null(s->config_sha256) : NULL);
}

static void log_keys(struct json *j, const struct page_log *log)
{
    json_string(j, "name", log->name);
    json_string(j, "sha256", or_null(log->sha256));
}

/* Closed, and without its line end where it is not to have one. */
static void put(FILE *out, struct json *j, const char *end)
{
    const char *text = json_close(j);

    if (text != NULL)
        fprintf(out, "%.*s%s", (int)strlen(text) - 1, text, end);
}

void papers_json_lines(FILE *out, const struct papers *p)
{
    char buf[1400];
    struct json j;

    for (int i = 0; p->particulars != NULL && i < p->particulars->lines; i++) {
        json_open(&j, buf, sizeof buf);
        json_string(&j, "record", "particular");
        particular_keys(&j, &p->particulars->line[i]);
        put(out, &j, "\n");
    }
    if (p->source == NULL)
        return;
    json_open(&j, buf, sizeof buf);
    json_string(&j, "record", "source");
    source_keys(&j, p->source);
    put(out, &j, "\n");
    for (int i = 0; i < p->source->logs; i++) {
        json_open(&j, buf, sizeof buf);
        json_string(&j, "record", "log");
        log_keys(&j, &p->source->log[i]);
        put(out, &j, "\n");
    }
}

void papers_json_keys(FILE *out, const struct papers *p)
{
    int lines = p->particulars != NULL ? p->particulars->lines : 0;
    int logs = p->source != NULL ? p->source->logs : 0;
    char buf[1400];
    struct json j;

    fputs("\"particulars\":[", out);
    for (int i = 0; i < lines; i++) {
        json_open(&j, buf, sizeof buf);
        particular_keys(&j, &p->particulars->line[i]);
        put(out, &j, i + 1 < lines ? ",\n" : "");
    }
    fputs("],\n\"source\":", out);
    if (p->source == NULL) {
        fputs("null,\n", out);
        return;
    }
    json_open(&j, buf, sizeof buf);
    source_keys(&j, p->source);
    put(out, &j, ",\n\"logs\":[");
    for (int i = 0; i < logs; i++) {
        json_open(&j, buf, sizeof buf);
        log_keys(&j, &p->source->log[i]);
        put(out, &j, i + 1 < logs ? ",\n" : "");
    }
    fputs("],\n", out);
}
