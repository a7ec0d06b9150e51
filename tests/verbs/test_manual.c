/* The manual page is filled in from the program's own tables and help texts, so it cannot lie:
 * with --print this writes it (`make manual`); as a test it compares. */
#include "support/check.h"
#include "support/program.h"

#include "base/quantity.h"
#include "base/text.h"
#include "config/schema.h"
#include "config/config.h"
#include "screen/keys.h"

#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>

static const char template_path[] = "docs/stokehold.1.in";
static const char page_path[] = "docs/stokehold.1";

/* Text as roff wants it: no control lines by accident, hyphens that can be copied. */
static void put_text(FILE *out, const char *s, size_t len)
{
    if (len > 0 && (*s == '.' || *s == '\''))
        fputs("\\&", out);
    for (size_t i = 0; i < len; i++) {
        if (s[i] == '\\')
            fputs("\\e", out);
        else if (s[i] == '-')
            fputs("\\-", out);
        else
            fputc(s[i], out);
    }
}

/* "  -c, --config FILE    help" as a tagged paragraph. */
static void put_option(FILE *out, const char *line, size_t len)
{
    while (len > 0 && *line == ' ') {
        line++;
        len--;
    }
    const char *gap = line;
    while (gap + 1 < line + len && !(gap[0] == ' ' && gap[1] == ' '))
        gap++;
    if (gap + 1 >= line + len) /* one space only where the left side is long */
        gap = memchr(line, ' ', len);
    assert_non_null(gap);
    fputs(".TP\n.B ", out);
    put_text(out, line, (size_t)(gap - line));
    const char *help = gap;
    while (help < line + len && *help == ' ')
        help++;
    fputc('\n', out);
    put_text(out, help, (size_t)(line + len - help));
    fputc('\n', out);
}

/* What `stokehold VERB --help` says: the usage, the words, the options. */
static void put_verb(FILE *out, const char *verb)
{
    char arguments[64];
    text_format(arguments, sizeof arguments, "%s --help", verb);
    struct outcome o = program_run(arguments, NULL);
    assert_int_equal(o.status, 0);
    bool first = true;
    for (const char *p = o.out; *p;) {
        size_t len = strcspn(p, "\n");
        const char *words = p;
        size_t n = len;
        if (strncmp(words, "usage: ", 7) == 0) {
            words += 7;
            n -= 7;
        }
        const char *synopsis = memmem(words, n, "stokehold ", 10);
        size_t margin = strspn(words, " ");
        if (synopsis == words + margin) {
            size_t left = n - margin;
            const char *gap = memmem(synopsis, left, "  ", 2);
            if (gap)
                left = (size_t)(gap - synopsis);
            fputs(first || gap ? ".TP\n.B " : ".TQ\n.B ", out);
            put_text(out, synopsis, left);
            fputc('\n', out);
            if (gap) {
                gap += strspn(gap, " ");
                put_text(out, gap, (size_t)(p + len - gap));
                fputc('\n', out);
            }
            first = false;
        } else if (len > 2 && p[0] == ' ' && memmem(p, len < 16 ? len : 16, "--", 2)) {
            fputs(".RS\n", out);
            put_option(out, p, len);
            fputs(".RE\n", out);
        } else if (len > 0) {
            put_text(out, p, len);
            fputc('\n', out);
        }
        p += len + (p[len] == '\n');
    }
    outcome_free(&o);
}

/* The verbs in the order of `stokehold --help`. */
static void put_verbs(FILE *out)
{
    struct outcome o = program_run("--help", NULL);
    assert_int_equal(o.status, 0);
    int verbs = 0;
    for (const char *p = o.out; *p; p += strcspn(p, "\n"), p += *p == '\n') {
        char verb[16];
        if (sscanf(p, "  %15[a-z] ", verb) != 1 || strncmp(p, "  ", 2) != 0)
            continue;
        put_verb(out, verb);
        verbs++;
    }
    assert_true(verbs >= 5);
    outcome_free(&o);
}

static void put_channels(FILE *out)
{
    static const char *const tails[] = {
        [PLACE_NONE] = "", [PLACE_ENGINE] = ".N", [PLACE_INSTANCE] = ".N", [PLACE_PAIR] = ".M.N"};
    for (unsigned q = 1; q < QTY_COUNT; q++) {
        const struct quantity_info *info = quantity_info((enum quantity)q);
        char key[48], line[80];
        text_format(key, sizeof key, "%s%s", info->key, tails[info->place]);
        text_format(line, sizeof line, "%-24s %s", key, unit_ascii(info->unit));
        size_t len = strlen(line);
        while (len > 0 && line[len - 1] == ' ')
            len--;
        put_text(out, line, len);
        fputc('\n', out);
    }
}

/* `config keys`, its sections as headings and its keys as tagged paragraphs. */
static void put_config(FILE *out)
{
    char *text = NULL;
    size_t size = 0;
    FILE *f = open_memstream(&text, &size);
    assert_non_null(f);
    config_keys(f);
    fclose(f);
    for (const char *p = text; *p; p += strcspn(p, "\n"), p += *p == '\n') {
        size_t len = strcspn(p, "\n"), margin = strspn(p, " ");
        if (len == 0)
            continue;
        if (*p == '[')
            fputs(".SS ", out);
        else if (margin == 2 && len > 21 && p[20] == ' ' && p[21] != ' ' && islower(p[2])) {
            size_t key = 20 - margin;
            while (p[margin + key - 1] == ' ')
                key--;
            fputs(".TP\n.BR \"", out);
            put_text(out, p + margin, key);
            fputs(" = \"\n", out);
            margin = 21;
        } else if (margin == 6) {
            fputs(".br\n", out);
        }
        put_text(out, p + margin, len - margin);
        fputc('\n', out);
    }
    free(text);
}

static char *read_whole(const char *path)
{
    FILE *f = fopen(path, "rb");
    if (!f)
        return NULL;
    char *text = NULL;
    size_t size = 0;
    FILE *copy = open_memstream(&text, &size);
    assert_non_null(copy);
    for (int c; (c = getc(f)) != EOF;)
        putc(c, copy);
    fclose(f);
    fclose(copy);
    return text;
}

static void put_version(FILE *out)
{
    struct outcome o = program_run("--version", NULL);
    assert_int_equal(strncmp(o.out, "stokehold ", 10), 0);
    put_text(out, o.out + 10, strcspn(o.out + 10, "\n"));
    outcome_free(&o);
}

static const struct {
    const char *mark;
    void (*put)(FILE *out);
} marks[] = {
    {"@VERBS@\n", put_verbs},   {"@CHANNELS@\n", put_channels}, {"@KEYS@\n", keys_manual},
    {"@CONFIG@\n", put_config}, {"@VERSION@", put_version},
};

/* The page, to be freed. */
static char *fill_in(void)
{
    char *form = read_whole(template_path), *page = NULL;
    assert_non_null(form);
    size_t size = 0;
    FILE *out = open_memstream(&page, &size);
    assert_non_null(out);
    for (const char *p = form; *p;) {
        size_t i = 0, count = sizeof marks / sizeof *marks;
        while (i < count && strncmp(p, marks[i].mark, strlen(marks[i].mark)) != 0)
            i++;
        if (i < count) {
            marks[i].put(out);
            p += strlen(marks[i].mark);
        } else {
            fputc(*p++, out);
        }
    }
    fclose(out);
    free(form);
    return page;
}

static void page__is_what_the_program_says(void **state)
{
    (void)state;
    char *is = read_whole(page_path), *should = fill_in();
    assert_non_null(is);
    if (strcmp(is, should) != 0) {
        size_t at = 0, line = 1;
        while (is[at] && is[at] == should[at])
            line += is[at++] == '\n';
        fail_msg("%s:%zu differs from the program's tables: run `make manual`", page_path, line);
    }
    free(is);
    free(should);
}

static void page__has_every_key_and_option(void **state)
{
    (void)state;
    char *page = read_whole(page_path);
    assert_non_null(page);
    for (size_t i = 0; i < schema_section_count; i++) {
        char heading[64];
        text_format(heading, sizeof heading, ".SS [%s", schema_sections[i].word);
        assert_non_null(strstr(page, heading));
    }
    for (size_t i = 0; i < key_table_count; i++)
        assert_non_null(strstr(page, key_table[i].help));
    assert_non_null(strstr(page, "\\-\\-fail\\-on PRIORITY"));
    assert_non_null(strstr(page, "exhaust.N                C"));
    for (size_t i = 0; i < sizeof marks / sizeof *marks; i++)
        assert_null(strstr(page, marks[i].mark));
    free(page);
}

int main(int argc, char **argv)
{
    if (argc == 2 && strcmp(argv[1], "--print") == 0) {
        char *page = fill_in();
        fputs(page, stdout);
        free(page);
        return 0;
    }
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(page__is_what_the_program_says),
        cmocka_unit_test(page__has_every_key_and_option),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
