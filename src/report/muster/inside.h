/* What the files of the muster share and nobody else sees, from the bottom up:
 *   collect.c   frames to facts
 *   facts.c     who holds a key, what a check needs
 *   boxes.c     checks of senders and messages, and against a configuration
 *   readings.c  checks of values
 *   close.c     the lists put in order, all checks */
#ifndef STOKEHOLD_REPORT_MUSTER_INSIDE_H
#define STOKEHOLD_REPORT_MUSTER_INSIDE_H

#include "report/muster/muster.h"
#include "wire/name.h"

/* The message that a value came in; NULL where the list was full. */
const struct muster_message *muster_message_of(const struct muster *m,
                                               const struct muster_value *v);

void muster_add_finding(struct muster *m, enum muster_weight weight, const char *kind, int sender,
                        const char *channel, const char *format, ...)
    __attribute__((format(printf, 6, 7)));
/* "address 35", "address 35 on can1" where there are several interfaces; returns dst. */
const char *muster_who(const struct muster *m, size_t sender, char *dst, size_t cap);
/* "61.25 °C"; returns dst. */
const char *muster_figure(char *dst, size_t cap, double v, int decimals, enum unit unit);
enum unit muster_unit(const struct muster_value *v);
/* NULL where there is no configuration, or none for this channel. */
const struct channel_setting *muster_setting(const struct muster *m, struct channel_id id);
/* Both are the same box: one address, or one NAME that moved. */
bool muster_same_box(const struct muster *m, size_t a, size_t b);
/* v comes from the sender that the configuration names. */
bool muster_is_chosen(const struct muster *m, const struct channel_setting *s,
                      const struct muster_value *v);
/* One of two meters that some channel's flow is the difference of: no engine's own. */
bool muster_is_meter(const struct muster *m, struct channel_id id);
/* All that is heard of this engine are meters of another one's burn. */
bool muster_is_meters_alone(const struct muster *m, int engine);
/* A key that several boxes send by right, none of them in the wrong. */
bool muster_is_shared(const struct muster_value *v);

/* "engine gateway", or "function 251"; "propulsion", or "class 42". */
void muster_name_words(const struct name_fields *f, char *function, char *class, size_t cap);
unsigned muster_name_instance(const struct name_fields *f);
/* What a sender tells in words; "" where it does not: the lamps of its trouble codes that are lit,
 * what its engine's maker says of it, the trouble codes of before. */
void muster_lamps(const struct muster_sender *s, char *dst, size_t cap);
void muster_maker(const struct muster_sender *s, char *dst, size_t cap);
void muster_earlier(const struct muster_sender *s, char *dst, size_t cap);
/* Engines, tanks, sensors told apart in a message: "0, 1". */
void muster_places(const struct muster *m, const struct muster_message *x, char *dst, size_t cap);

void muster_check_boxes(struct muster *m);
void muster_check_readings(struct muster *m);

#endif
