/* The alert list as its own files see it: alert.c is the life of an alert, alert_read.c what others
 * may ask. Within alerts/ alone; alerts/alert.h is what others use. */
#ifndef STOKEHOLD_ALERTS_ALERT_INSIDE_H
#define STOKEHOLD_ALERTS_ALERT_INSIDE_H

#include "alerts/alert.h"
#include "alerts/words.h"

#define ALERT_LISTENERS_MAX 8
/* A warning sounds once, briefly (MSC.302(87) 7.4). */
#define ALERT_WARNING_SOUND_NS (2 * NS_PER_S)

struct claim {
    uint32_t claimant;
    enum rule_kind kind;
    enum priority priority;
    enum unit unit;
    int decimals;
    double value;
    struct alert_figures figures;
    char rule[40];
    char channel[CHANNEL_KEY_SIZE];
    char text[ALERT_TEXT_SIZE];
    bool has_words;
    struct words_kept words;
};

struct entry {
    struct alert alert;
    bool used;
    bool grown;         /* became an alarm by time: stays one until it is rectified */
    int64_t unack_ns;   /* mono: since when it waits for acknowledgement at this priority */
    int64_t sounded_ns; /* mono: when its sound began */
    bool has_words;
    struct words_kept words; /* of alert.text */
    int claim_count;
    struct claim claims[ALERT_CLAIMS_MAX]; /* in order of arrival */
};

struct ended {
    struct alert alert;
    bool has_words;
    struct words_kept words;
};

struct alert_list {
    struct alert_setting setting;
    bool escalate;
    uint32_t last_id;
    size_t count;
    uint64_t lost;
    struct entry entries[ALERTS_MAX];
    struct entry *order[ALERTS_MAX]; /* the listed ones, worst first */
    struct ended history[ALERTS_HISTORY];
    size_t history_count, history_next;
    struct {
        alert_listener *f;
        void *ctx;
    } listeners[ALERT_LISTENERS_MAX];
    int listener_count;
};

#endif
