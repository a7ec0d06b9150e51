#include "bus/source.h"

#include "base/text.h"
#include "bus/source_kind.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

struct source *source_new(const struct source_kind *kind, void *state)
{
    struct source *s = calloc(1, sizeof *s);
    if (!s)
        return NULL;
    s->kind = kind;
    s->state = state;
    s->stats.clock_known = true;
    return s;
}

void source_complain(struct source *s, uint64_t line, const char *reason)
{
    s->stats.bad_lines++;
    if (s->stats.complaint_count == SOURCE_COMPLAINTS)
        return;
    struct source_complaint *c = &s->stats.complaints[s->stats.complaint_count++];
    c->line = line;
    text_copy(c->reason, sizeof c->reason, reason);
}

int source_iface_index(struct source *s, const char *name, size_t len)
{
    /* Not text_clean: what pads text on the bus ('@') is a character like any other here. */
    char clean[CANDUMP_NAME_MAX + 1];
    size_t n = 0;
    for (size_t i = 0; i < len && n < CANDUMP_NAME_MAX; i++)
        if (name[i] >= ' ' && name[i] <= '~')
            clean[n++] = name[i];
    text_copy(clean + n, 2, n == 0 ? "?" : "");
    for (int i = 0; i < s->iface_count; i++) {
        if (strcmp(s->ifaces[i], clean) == 0)
            return i;
    }
    if (s->iface_count == SOURCE_IFACES)
        return -1;
    text_copy(s->ifaces[s->iface_count], sizeof s->ifaces[0], clean);
    return s->iface_count++;
}

/* Marine traffic is nearly all plain 29-bit frames, so the sorts are counted where there are any.
 */
static void count_sorts(struct source_stats *stats, const struct frame *frames, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        uint8_t flags = frames[i].flags;
        if ((flags & (FRAME_EXTENDED | FRAME_REMOTE | FRAME_ERROR | FRAME_FD)) == FRAME_EXTENDED)
            continue;
        if (flags & FRAME_ERROR)
            stats->error_frames++;
        else if (!(flags & FRAME_EXTENDED))
            stats->standard++;
        if (flags & FRAME_REMOTE)
            stats->remote++;
        if (flags & FRAME_FD)
            stats->fd++;
        if (flags & FRAME_CUT)
            stats->cut++;
    }
}

enum source_state source_read(struct source *s, struct frame *out, size_t max, size_t *n,
                              struct err *e)
{
    *n = 0;
    enum source_state state = s->kind->read(s, out, max, n, e);
    s->stats.frames += *n;
    count_sorts(&s->stats, out, *n);
    s->stats.steps_back = s->timeline.steps_back;
    s->stats.gaps = s->timeline.gaps;
    return state;
}

bool source_rewind(struct source *s)
{
    if (!s->kind->rewind || !s->kind->rewind(s))
        return false;
    struct source_stats fresh = {.size = s->stats.size, .clock_known = true};
    fresh.is_capture = s->stats.is_capture;
    s->stats = fresh;
    s->timeline = (struct timeline){0};
    return true;
}

int source_fd(const struct source *s)
{
    return s->kind->fd ? s->kind->fd(s) : -1;
}

bool source_help(struct source *s, const struct source_helper *h)
{
    return s->kind->help && s->kind->help(s, h);
}

const void *source_made(const struct source *s)
{
    return s->kind->made ? s->kind->made(s) : NULL;
}

const struct source_stats *source_stats(const struct source *s)
{
    return &s->stats;
}

bool source_part(const struct source *s, int i, struct source_part *out)
{
    if (s->kind->part)
        return s->kind->part(s, i, out);
    *out = (struct source_part){.stats = s->stats};
    return i == 0;
}

const char *source_iface_name(const struct source *s, uint8_t iface)
{
    return iface < s->iface_count ? s->ifaces[iface] : "";
}

int source_iface_count(const struct source *s)
{
    return s->iface_count;
}

void source_close(struct source *s)
{
    if (!s)
        return;
    s->kind->close(s);
    free(s);
}
