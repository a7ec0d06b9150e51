#include "session/losses.h"

#include "base/text.h"

#include "base/banned.h"

void losses_add(struct losses *to, struct losses l)
{
    to->incomplete += l.incomplete;
    to->gaps += l.gaps;
    to->dropped += l.dropped;
    to->unbound += l.unbound;
    to->alerts_lost += l.alerts_lost;
}

void losses_text(char *dst, size_t cap, struct losses l)
{
    const struct {
        uint64_t n;
        const char *one, *many;
    } rows[] = {
        {l.incomplete, "message incomplete", "messages incomplete"},
        {l.gaps, "gap", "gaps"},
        {l.dropped, "value without room", "values without room"},
        {l.unbound, "rule without room on its channel: that limit is not watched",
         "rules without room on their channels: those limits are not watched"},
        {l.alerts_lost, "alert lost in a full list", "alerts lost in a full list"},
    };
    dst[0] = '\0';
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        if (rows[i].n > 0)
            text_append(dst, cap, "%s%llu %s", dst[0] ? ", " : "", (unsigned long long)rows[i].n,
                        rows[i].n == 1 ? rows[i].one : rows[i].many);
}
