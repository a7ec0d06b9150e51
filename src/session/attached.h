/* What a `tend` that runs has said through its local socket (hooks/door.h), and how its lines are
 * read: nothing of them is trusted, each figure is held within bounds. */
#ifndef STOKEHOLD_SESSION_ATTACHED_H
#define STOKEHOLD_SESSION_ATTACHED_H

#include "screen/model.h"
#include "session/marks_set.h"

#define ATTACHED_READ  (256 * 1024)
#define ATTACHED_ENDED 64

struct remote {
    bool known, hidden;
    struct model_channel c; /* all but age, rate and alert */
    int64_t good_ns;
    char key[CHANNEL_KEY_SIZE], label[32], place[20];
    struct history *history, *low, *high; /* the edges: NULL until something was expected */
};

struct attached {
    int fd;
    struct err error;
    bool failed, answered;
    struct marks_set marks;
    char in[ATTACHED_READ];
    size_t in_len;

    struct stamp now;
    char vessel[40], source[48], record[16];
    bool clock_known, has_bus_clock;
    int64_t bus_ahead_ns;
    int64_t trend_span_ns, silence_ns;
    struct {
        char name[20];
        enum engine_state state;
        bool known, generator, careful;
        char sense[COOLING_SENSE_SIZE];
        int order;
    } engines[PLANT_ENGINES]; /* by slot of the other side */
    int64_t listened_ns;      /* -1: not said */
    char iface_names[SOURCE_IFACES][16];
    int iface_count;
    struct model_source sources[MODEL_SOURCES];
    int64_t source_last_ns[MODEL_SOURCES];
    int source_count;
    struct model_bus bus;
    enum alert_sound sound;

    struct remote *channels[PLANT_CHANNELS]; /* by the index of the other side */
    size_t channel_count;
    struct alert alerts[ALERTS_MAX + ATTACHED_ENDED]; /* listed, then ended */
    size_t listed, ended;
    struct alert coming[ALERTS_MAX + ATTACHED_ENDED]; /* until the line that ends them */
    size_t coming_count;
};

/* Takes the whole lines out of `in`. */
void attached_take_lines(struct attached *a);

#endif
