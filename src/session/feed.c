#include "session/feed.h"

#include "bus/socketcan.h"

#include "base/banned.h"

bool feed_open_any(struct feed *f, const struct feed_options *o, struct err *e)
{
    int ifaces = 0;
    for (int i = 0; i < o->count; i++)
        ifaces += socketcan_is_name(o->names[i]);
    *f = (struct feed){0};
    if (o->attach)
        return feed_open_attach(f, o, e);
    if (o->count > 1 && ifaces < o->count)
        return err_set(e, "name one log or several interfaces, not both");
    if (ifaces)
        return feed_open_live(f, o, e);
    return feed_open_log(f, o, e) || socketcan_say_unknown(o->names[0], e);
}

void feed_close(struct feed *f)
{
    if (f->ctx)
        f->kind->close(f->ctx);
    f->ctx = NULL;
}
