/* A list that is scrolled: which rows show when one is chosen. Pure. */
#ifndef STOKEHOLD_SCREEN_LIST_H
#define STOKEHOLD_SCREEN_LIST_H

/* The first row to show of `count` in a window of `room`, so that `chosen` (-1: none) is in sight,
 * in the middle where there is a choice. */
static inline int list_top(int count, int room, int chosen)
{
    if (room < 1 || count <= room || chosen < 0)
        return 0;
    int top = chosen - room / 2;
    if (top > count - room)
        top = count - room;
    return top < 0 ? 0 : top;
}

#endif
