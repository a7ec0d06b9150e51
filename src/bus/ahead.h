/* Reads a log ahead: a thread unpacks and parses while another decides what the frames mean. The
 * frames, the batches and the counters with each of them are those that the log itself would have
 * given, so nothing that decides can tell the difference. What has arrived is handed on at once,
 * from a pipe that pauses too. A helper may make something of each batch on the same thread
 * (source_help). The thread takes no signals.
 * Within bus/ alone; logs.c says where it is used. */
#ifndef STOKEHOLD_BUS_AHEAD_H
#define STOKEHOLD_BUS_AHEAD_H

#include "bus/source.h"

/* Takes over a log that nobody has read from yet. Where there is no memory or no thread to be had,
 * it is returned as it is. NULL is handed on. */
struct source *source_ahead(struct source *log);
/* Whether a second processor is there to do it on. */
bool ahead_is_worthwhile(void);

#endif
