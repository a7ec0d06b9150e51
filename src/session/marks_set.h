/* The marks that a board of a live bus has set, for its curves: the files that keep them are
 * written by the record. */
#ifndef STOKEHOLD_SESSION_MARKS_SET_H
#define STOKEHOLD_SESSION_MARKS_SET_H

#include "report/papers/marks.h"
#include "screen/model.h"

struct marks_set {
    struct marks marks;
    struct model_mark shown[MARKS_MAX];
};

void marks_set_add(struct marks_set *s, int64_t wall_ns, const char *words);
/* Into the model; what m->replay pointed at before is left alone. */
void marks_set_show(struct marks_set *s, struct model *m);

#endif
