/* Lines to standard output that never hold up the program: what cannot be written at once waits in
 * a bounded buffer, and when that is full whole lines are dropped and counted. Works on a file, a
 * pipe, a terminal and the socket that a service manager gives. */
#ifndef STOKEHOLD_SESSION_LINES_OUT_H
#define STOKEHOLD_SESSION_LINES_OUT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define LINES_OUT_SIZE (64 * 1024)

struct lines_out {
    int fd;
    bool own_fd, is_socket, broken;
    size_t used;
    uint64_t dropped;
    char buf[LINES_OUT_SIZE];
};

void lines_out_init(struct lines_out *o, int fd);
/* Writes what still fits at once and closes what was opened. */
void lines_out_fini(struct lines_out *o);
/* line with its '\n'. */
void lines_out_put(struct lines_out *o, const char *line);
/* Writes what can be written now. */
void lines_out_flush(struct lines_out *o);
/* For poll with POLLOUT; -1 when nothing waits. */
int lines_out_fd(const struct lines_out *o);

#endif
