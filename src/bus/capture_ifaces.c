#include "bus/capture_ifaces.h"

#include "base/text.h"

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define BLOCK_SECTION   0x0A0D0D0A
#define BLOCK_INTERFACE 1
#define BLOCK_OBSOLETE  2
#define BLOCK_SIMPLE    3
#define BLOCK_ENHANCED  6
#define BLOCK_MOST      (64u << 20)
#define MAGIC           0x1A2B3C4D
#define OPTION_NAME     2
#define NAMES_MAX       64 /* interfaces of a section whose names are kept */
#define BODY_MAX        512

struct capture_ifaces {
    FILE *in;
    bool swapped, lost;
    unsigned count; /* interfaces of this section */
    char names[NAMES_MAX][32];
    char number[16];
};

static uint32_t get32(const struct capture_ifaces *c, const uint8_t *b)
{
    if (c->swapped)
        return (uint32_t)b[0] << 24 | (uint32_t)b[1] << 16 | (uint32_t)b[2] << 8 | b[3];
    return (uint32_t)b[3] << 24 | (uint32_t)b[2] << 16 | (uint32_t)b[1] << 8 | b[0];
}

static unsigned get16(const struct capture_ifaces *c, const uint8_t *b)
{
    return c->swapped ? (unsigned)b[0] << 8 | b[1] : (unsigned)b[1] << 8 | b[0];
}

struct capture_ifaces *capture_ifaces_open(const char *path)
{
    static const uint8_t first[] = {0x0A, 0x0D, 0x0D, 0x0A};
    uint8_t got[4];
    FILE *in = fopen(path, "rbe");
    if (!in)
        return NULL;
    struct capture_ifaces *c = NULL;
    if (fread(got, 1, sizeof got, in) == sizeof got && memcmp(got, first, sizeof got) == 0 &&
        fseek(in, 0, SEEK_SET) == 0)
        c = calloc(1, sizeof *c);
    if (!c) {
        fclose(in);
        return NULL;
    }
    c->in = in;
    return c;
}

/* Options behind the 8 fixed bytes; len of body are there. */
static void take_interface(struct capture_ifaces *c, const uint8_t *body, size_t len)
{
    unsigned id = c->count++;
    if (id >= NAMES_MAX)
        return;
    c->names[id][0] = '\0';
    for (size_t at = 8; at + 4 <= len;) {
        unsigned code = get16(c, body + at), size = get16(c, body + at + 2);
        at += 4;
        if (code == 0 || size > len - at)
            return;
        if (code == OPTION_NAME)
            text_clean(c->names[id], sizeof c->names[id], (const char *)body + at, size);
        at += (size + 3u) & ~3u;
    }
}

/* Reads one block's head and as much of its body as is of use. *type 0: the end, or lost. */
static size_t next_block(struct capture_ifaces *c, uint32_t *type, uint8_t body[BODY_MAX])
{
    uint8_t head[12];
    *type = 0;
    if (fread(head, 1, sizeof head, c->in) != sizeof head)
        return 0;
    *type = get32(c, head);
    if (*type == BLOCK_SECTION) { /* the same in both byte orders; its magic tells which */
        c->swapped = head[8] == 0x1A;
        c->count = 0;
        if (get32(c, head + 8) != MAGIC)
            *type = 0;
    }
    uint32_t len = get32(c, head + 4);
    if (*type == 0 || len < 12 || len % 4 != 0 || len > BLOCK_MOST) {
        *type = 0;
        return 0;
    }
    /* head's last four bytes are the body's first, or the length again of an empty block */
    size_t left = len - 12, keep = left < BODY_MAX - 4 ? left : BODY_MAX - 4;
    memcpy(body, head + 8, 4);
    if (fread(body + 4, 1, keep, c->in) != keep ||
        (left > keep && fseek(c->in, (long)(left - keep), SEEK_CUR) != 0)) {
        *type = 0;
        return 0;
    }
    return len == 12 ? 0 : left > keep ? keep + 4 : keep;
}

static const char *name_of(struct capture_ifaces *c, unsigned id)
{
    if (id >= c->count)
        return NULL;
    if (id < NAMES_MAX && c->names[id][0])
        return c->names[id];
    text_format(c->number, sizeof c->number, "can%u", id);
    return c->number;
}

const char *capture_ifaces_next(struct capture_ifaces *c)
{
    uint8_t body[BODY_MAX];
    while (!c->lost) {
        uint32_t type;
        size_t len = next_block(c, &type, body);
        switch (type) {
        case 0:
            c->lost = true;
            break;
        case BLOCK_INTERFACE:
            take_interface(c, body, len);
            break;
        case BLOCK_SIMPLE:
            return name_of(c, 0);
        case BLOCK_ENHANCED:
            return len >= 4 ? name_of(c, get32(c, body)) : NULL;
        case BLOCK_OBSOLETE:
            return len >= 4 ? name_of(c, get16(c, body)) : NULL;
        default:
            break;
        }
    }
    return NULL;
}

void capture_ifaces_close(struct capture_ifaces *c)
{
    if (!c)
        return;
    fclose(c->in);
    free(c);
}
