/* What happened in a log, for one page to print or mail: the events in order, and for each alert
 * the curve of its channel and of the twin's around it, with the limit and what was expected, and
 * the figures that decided. Collected from a keeper that reads the log; memory is bounded by the
 * number of alerts told of in full, what comes after is counted. No I/O but where a FILE is handed
 * in, no clock. */
#ifndef STOKEHOLD_REPORT_INCIDENT_INCIDENT_H
#define STOKEHOLD_REPORT_INCIDENT_INCIDENT_H

#include "keeper/keeper.h"
#include "report/page.h"
#include "report/papers/marks.h"

#include <stdio.h>

#define INCIDENT_ALERTS   40
#define INCIDENT_EVENTS   400
#define INCIDENT_BEFORE_S 180
#define INCIDENT_AFTER_S  420
#define INCIDENT_POINTS   (INCIDENT_BEFORE_S + INCIDENT_AFTER_S)

/* One channel around an alert: means of a second, counted from INCIDENT_BEFORE_S before it was
 * raised; NaN where nothing was heard. */
struct incident_curve {
    char key[CHANNEL_KEY_SIZE];
    struct channel_id id;
    uint8_t source;
    double mean[INCIDENT_POINTS];
    double count[INCIDENT_POINTS];
};

struct incident_alert {
    struct alert alert; /* as it stood last */
    struct stamp raised;
    enum priority highest;
    char text[ALERT_TEXT_SIZE]; /* its words when it was raised, or grew */
    bool low;                   /* a limit from above: worse is less */
    struct alert_figures first; /* what decided, when it was raised */
    double worst;               /* furthest from where it was raised; NaN */
    int64_t worst_ns;
    int64_t limit_ns; /* wall, when the fixed limit was first reached; 0: not */
    int64_t over_ns;  /* wall, rectified; 0: stood at the end */
    int curves;       /* 0 where the alert is about no channel; the twin's is the second */
    struct incident_curve curve[2];
};

struct incident_event {
    int64_t wall_ns;
    bool is_engine; /* started or stopped: priority says nothing */
    enum priority priority;
    char word[16];
    char text[ALERT_TEXT_SIZE];
};

struct incident {
    struct keeper *keeper;
    struct incident_alert *alert;
    int alerts, alerts_lost;
    struct incident_event *event;
    int events, events_lost;
    struct stamp first, last;
    bool any;
    int holes; /* times of more than 10 s without any message */
    double hole_s;
};

/* What the log itself was like, of its source. */
struct incident_log {
    uint64_t frames, bad_lines, lost_frames, gaps;
    bool clock_known;
    const struct marks *marks; /* what people set beside it; NULL: nobody did */
};

/* Listens to a fresh keeper that is about to read a log. NULL when out of memory. */
struct incident *incident_new(struct keeper *k);
void incident_free(struct incident *i); /* NULL is allowed; before the keeper goes */

void incident_write_html(FILE *out, const struct incident *i, const struct incident_log *log,
                         const struct page_source *source, bool utc);

#endif
