#include "config/messages.h"

#include "base/text.h"
#include "config/config.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

struct config_messages *messages_new(void)
{
    return calloc(1, sizeof(struct config_messages));
}

void messages_add(struct config_messages *m, struct config_place at, const char *file,
                  const char *format, ...)
{
    if (m->count >= MESSAGES_MAX) {
        m->more++;
        return;
    }
    struct config_message_row *row = &m->rows[m->count];
    row->at = at;
    row->order = m->count++;
    if (at.line > 0)
        text_format(row->text, sizeof row->text, "%s:%u: ", file, (unsigned)at.line);
    else
        text_format(row->text, sizeof row->text, "%s: ", file);
    char body[MESSAGE_SIZE];
    va_list args;
    va_start(args, format);
    vsnprintf(body, sizeof body, format, args);
    va_end(args);
    text_append(row->text, sizeof row->text, "%s", body);
}

size_t messages_total(const struct config_messages *m)
{
    return m->count + m->more;
}

static int compare(const void *pa, const void *pb)
{
    const struct config_message_row *a = pa, *b = pb;
    if (a->at.file != b->at.file)
        return a->at.file < b->at.file ? -1 : 1;
    if (a->at.line != b->at.line)
        return a->at.line < b->at.line ? -1 : 1;
    return a->order < b->order ? -1 : a->order > b->order;
}

void messages_finish(struct config_messages *m, const char *file)
{
    qsort(m->rows, m->count, sizeof *m->rows, compare);
    if (m->more > 0)
        text_format(m->rows[m->count++].text, MESSAGE_SIZE, "%s: %zu more of the kind", file,
                    m->more);
}

size_t config_message_count(const struct config_messages *m)
{
    return m ? m->count : 0;
}

const char *config_message(const struct config_messages *m, size_t i)
{
    return m && i < m->count ? m->rows[i].text : "";
}

void config_messages_free(struct config_messages *m)
{
    free(m);
}

struct quote messages_quote(const char *s)
{
    struct quote q;
    size_t len = strlen(s);
    if (len < 60) {
        text_clean(q.text, sizeof q.text, s, len);
        return q;
    }
    text_clean(q.text, 58, s, len);
    text_append(q.text, sizeof q.text, "...");
    return q;
}

static void list_words(struct hint *h, size_t count, const char *(*word_at)(void *ctx, size_t i),
                       void *ctx)
{
    text_format(h->text, sizeof h->text, " (known: ");
    for (size_t i = 0; i < count; i++) {
        const char *word = word_at(ctx, i);
        if (strlen(h->text) + strlen(word) + 8 > sizeof h->text) {
            text_append(h->text, sizeof h->text, ", ...");
            break;
        }
        text_append(h->text, sizeof h->text, "%s%s", i ? ", " : "", word);
    }
    text_append(h->text, sizeof h->text, ")");
}

struct hint messages_hint(const char *s, size_t count, const char *(*word_at)(void *ctx, size_t i),
                          void *ctx, bool list)
{
    struct hint h = {""};
    const char *near = NULL;
    /* a third of the letters may be wrong: "sclae" is two from "scale" */
    int best = (int)strlen(s) / 3 + 1;
    for (size_t i = 0; i < count; i++) {
        int d = text_distance(s, word_at(ctx, i));
        if (d <= best && d < (int)strlen(s) && *word_at(ctx, i) && !(near && d == best)) {
            best = d;
            near = word_at(ctx, i);
        }
    }
    if (near)
        text_format(h.text, sizeof h.text, " (did you mean '%s'?)", near);
    else if (list && count > 0)
        list_words(&h, count, word_at, ctx);
    return h;
}
