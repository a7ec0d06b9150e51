/* The directory of the record: its lock, its hourly files, the one being written, and the cap.
 * Only whole lines are given to it; a line that a full disk has cut is finished before anything
 * else is written, and one that a dead program has cut is cut off. Used by one thread. */
#ifndef STOKEHOLD_RECORD_STORE_H
#define STOKEHOLD_RECORD_STORE_H

#include "base/err.h"
#include "base/when.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <sys/types.h>

#define STORE_BUFFER_BYTES (256 * 1024)
#define STORE_NAME_SIZE    64

/* One frames file. */
struct store_file {
    uint64_t number; /* goes up for ever */
    int64_t hour;    /* since the epoch, as the clock then said */
    uint64_t bytes;
    bool packed;
    char name[STORE_NAME_SIZE];
};

struct store {
    char dir[1024];
    bool known; /* opened once: device is where it lies */
    dev_t device;
    int dir_fd, lock_fd, fd; /* -1: not open */
    struct store_file file;  /* being written; bytes is its size on the disk */
    int64_t opened_mono_ns;
    bool unsynced;
    bool full;              /* the last flush failed for want of room */
    char *buffer;           /* STORE_BUFFER_BYTES */
    size_t held, written;   /* buffer[written..held) is to be written */
    uint64_t total_written; /* to frames files, ever */
};

bool store_init(struct store *s, const char *dir); /* false when memory is out */
void store_fini(struct store *s);                  /* does not write what is held */

enum store_status { STORE_OK, STORE_TAKEN, STORE_FAILED };
/* Makes and locks the directory (one that was there and is gone is made again only on the same
 * device: where a disk was unmounted, its mount point is not to be filled), repairs the last file
 * and opens the one of this hour. TAKEN: another program holds the lock. With e unless OK. */
enum store_status store_open(struct store *s, struct stamp now, struct err *e);
void store_close(struct store *s);
bool store_is_open(const struct store *s);

/* Room for a line; NULL when the buffer is full and must be flushed first. */
char *store_room(struct store *s, size_t want);
void store_added(struct store *s, size_t len);
/* Writes what is held. False and e when the disk refused: what is left is kept. */
bool store_flush(struct store *s, struct err *e);
bool store_sync(struct store *s, struct err *e);
/* False and e when the directory is no longer the one that was opened. */
bool store_check(const struct store *s, struct err *e);
/* Ends the file and begins the next one, where the hour or the size says so. *rotated is set. */
bool store_rotate(struct store *s, struct stamp now, uint64_t largest, bool *rotated,
                  struct err *e);

/* All frames files, oldest first; *count of them, to be freed with free. NULL when there are none
 * or memory is out. */
struct store_file *store_list(const struct store *s, size_t *count);
/* Removes the oldest files until all hold at most cap bytes; never one numbered `keep_from` or
 * higher. Returns what they hold then. */
uint64_t store_trim(struct store *s, uint64_t cap, uint64_t keep_from);
/* Removes the oldest one, under the same terms; false when there is none. */
bool store_give_up_one(struct store *s, uint64_t keep_from);

struct store_space {
    uint64_t size, free, reserve; /* of the disk, in bytes; reserve: to be left free for others */
};
/* False where it cannot be told. */
bool store_space(const struct store *s, struct store_space *out);

/* Cuts off what follows the last line end of fd. False where that failed. */
bool store_repair(int fd);
/* Appends a line to a file in the directory, repaired if need be, and syncs it. */
bool store_append(const struct store *s, const char *name, const char *line, struct err *e);
/* The same with a line after the head of its file; of a file that is there already the head is left
 * out. text: both. */
bool store_append_after(const struct store *s, const char *name, const char *text, struct err *e);

#endif
