/* One incident at a time: a directory into which the frames around an alarm are copied from the
 * hourly files, at first those from before it, then what is added to them, until its time is over.
 * A piece at a time, so that nothing waits for it. Used by the record's thread. */
#ifndef STOKEHOLD_RECORD_INCIDENT_H
#define STOKEHOLD_RECORD_INCIDENT_H

#include "record/store.h"

#define INCIDENT_ALARMS 16 /* of one incident that are told apart */

struct incident {
    bool running;
    char dir[160]; /* below the store's directory: "incidents/20260504T141207Z-NAME" */
    char name[64];
    struct stamp at;
    int64_t from_wall_ns, end_mono_ns, end_wall_ns;
    int out;         /* frames.log; -1 while it cannot be opened */
    uint64_t number; /* of the hourly file being copied from */
    int64_t offset;  /* in it */
    bool unsynced;
    bool missed; /* some file beside the frames could not be written; who reads this clears it */
    int alarms;  /* raised within it; those not yet acknowledged are in waiting */
    uint32_t waiting[INCIDENT_ALARMS];
    int waiting_count;
};

/* Makes the directory with config (NULL: none) in it and begins. False and e on failure. */
bool incident_begin(struct incident *i, const struct store *s, const char *name, struct stamp at,
                    int64_t before_ns, int64_t after_ns, const char *config, struct err *e);
/* After a restart: ends torn files of incidents cleanly, and goes on with one whose time is not
 * over. */
void incident_resume(struct incident *i, const struct store *s, struct stamp now);
/* One more alarm within it, by the number of its alert. */
void incident_alarm(struct incident *i, const struct store *s, uint32_t alert);
/* One was acknowledged; false when it does not wait for that one. */
bool incident_acknowledged(struct incident *i, const struct store *s, uint32_t alert);
void incident_prolong(struct incident *i, const struct store *s, struct stamp at, int64_t after_ns);
/* Copies up to a piece; true while there is more to copy now. Ends it when its time is over and
 * all is copied. The store's buffer should be flushed. */
bool incident_step(struct incident *i, const struct store *s, struct stamp now);
bool incident_sync(struct incident *i);
void incident_alert(struct incident *i, const struct store *s, const char *line);
/* Stops without ending it: it is resumed at the next start. */
void incident_leave(struct incident *i);

/* Of one that is over, by its name below "incidents/". Every alarm of it was acknowledged; false
 * for one that was set aside by hand. */
bool incident_is_acknowledged(const struct store *s, const char *name);
/* Notes in it that one was; false when it does not wait for that one. */
bool incident_note_acknowledged(const struct store *s, const char *name, uint32_t alert);

#endif
