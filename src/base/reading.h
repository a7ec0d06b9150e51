/* Status of a reading anywhere in the program. Its value is worth reading only while it is
 * READING_OK: missing is never zero. The wire gives only the middle three. */
#ifndef STOKEHOLD_BASE_READING_H
#define STOKEHOLD_BASE_READING_H

enum reading_status {
    READING_NEVER, /* nothing was heard yet */
    READING_OK,
    READING_NOT_AVAILABLE, /* the sender says that it has none */
    READING_ERROR,         /* the sender says that its sensor is at fault, or out of range */
    READING_STALE,         /* the sender stopped (set by plant/) */
};

#endif
