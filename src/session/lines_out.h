/* Lines to standard output that never hold up the program: a thread of its own writes them, from a
 * bounded buffer; when that is full whole lines are dropped and counted. Standard output may be a
 * file on a disk that stands still, a pipe that nobody reads, a terminal that is stopped. */
#ifndef STOKEHOLD_SESSION_LINES_OUT_H
#define STOKEHOLD_SESSION_LINES_OUT_H

#define LINES_OUT_SIZE (512 * 1024)

struct lines_out;

/* NULL when memory or threads are out. */
struct lines_out *lines_out_new(int fd);
/* Ends when all is written, or when nothing was for patience_ms; what is held up longer is left
 * behind, and memory with it. NULL is allowed. */
void lines_out_free(struct lines_out *o, int patience_ms);
/* line with its '\n'. Never waits. */
void lines_out_put(struct lines_out *o, const char *line);

#endif
