/* A view is a name, a drawing and a handler of actions; the table of them is all there is to a new
 * one, and stands above them all. Here the whole screen is put together and keys are taken. */
#ifndef STOKEHOLD_SCREEN_VIEW_H
#define STOKEHOLD_SCREEN_VIEW_H

#include "screen/cells.h"
#include "screen/ui.h"

struct view {
    const char *name;
    enum action action; /* that opens it */
    unsigned offers;    /* WHEN_ bits its own keys need */
    void (*draw)(struct grid *g, struct rect body, const struct model *m, const struct ui *ui);
    /* True when it took the action. */
    bool (*handle)(struct ui *ui, const struct model *m, enum action a);
    /* A click on a cell; false where nothing is chosen by it. NULL: never. */
    bool (*pick)(struct ui *ui, const struct model *m, struct rect body, int x, int y);
};
extern const struct view views[VIEW_COUNT];

/* The whole screen: frame, view, overlay. */
void ui_draw(struct grid *g, const struct model *m, const struct ui *ui);
/* A key was pressed. True when something may look different; ui->request says what is to be done.
 */
bool ui_key(struct ui *ui, const struct model *m, int key);
/* WHEN_ bits that are met now. */
unsigned ui_context(const struct ui *ui, const struct model *m);
/* A click. True when something may look different. */
bool ui_click(struct ui *ui, const struct model *m, int x, int y);

#endif
