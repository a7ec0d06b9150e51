#include "session/marks_set.h"

#include "base/banned.h"

void marks_set_add(struct marks_set *s, int64_t wall_ns, const char *words)
{
    marks_add(&s->marks, wall_ns, words);
    for (int i = 0; i < s->marks.count; i++)
        s->shown[i] = (struct model_mark){s->marks.mark[i].wall_ns, -1, s->marks.mark[i].words};
}

void marks_set_show(struct marks_set *s, struct model *m)
{
    m->replay.marks = s->shown;
    m->replay.mark_count = (size_t)s->marks.count;
}
