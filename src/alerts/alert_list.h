/* The list that alerts stand in: bounded, worst first, with a bounded history of those that ended,
 * and the claims that feed each. alert_list.c keeps it and knows nothing of how an alert lives;
 * that is alert.c. Within alerts/ alone; alerts/alert.h is what others use. */
#ifndef STOKEHOLD_ALERTS_ALERT_LIST_H
#define STOKEHOLD_ALERTS_ALERT_LIST_H

#include "alerts/alert.h"
#include "alerts/saying.h"

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
    enum trouble trouble;
    enum alert_stage stage;
    int engine, worse;
    bool cause, beyond, already, dark;
    struct stamp passed;
    char text[ALERT_TEXT_SIZE]; /* where it has no words */
    bool has_words;
    struct words_kept words;
};

/* The worst of one channel: kept for each, as another may lead the alert's words for a while. */
struct worst {
    char channel[CHANNEL_KEY_SIZE];
    double value; /* NaN: none yet */
    int8_t worse;
    enum unit unit;
    int decimals;
    struct stamp at, passed; /* passed: its limit; wall 0: never */
    bool already;            /* that is when it was first looked at, and was so already */
    int64_t beyond_ns;       /* so long in all */
    int64_t since_ns;        /* mono: beyond its limit since; 0: it is not now */
};
#define WORST_MAX ALERT_CLAIMS_MAX

struct entry {
    struct alert alert;
    bool used;
    bool grown;               /* became an alarm by time: stays one until it is rectified */
    int64_t unack_ns;         /* mono: since when it waits for acknowledgement at this priority */
    int64_t sounded_ns;       /* mono: when its sound began */
    enum alert_stage reached; /* but for `stopped` */
    int64_t calm_ns;          /* flapping, and no claim stands: rectified then; 0: not so */
    struct saying saying;
    bool unsaid; /* alert.text is older than what it says: list_say builds it */
    struct worst worst[WORST_MAX];
    int worst_count;
    int claim_count;
    struct claim claims[ALERT_CLAIMS_MAX]; /* in order of arrival */
};

struct ended {
    struct alert alert;
    struct saying saying;
};

/* What came and went lately, to know it when it comes again. */
struct recent {
    struct situation situation;
    struct stamp first; /* raised first */
    uint32_t returns;   /* raised again since */
    int64_t last_ns;    /* mono: raised last; 0: free */
};
#define RECENT_MAX 64

struct alert_list {
    struct alert_setting setting;
    bool escalate, utc;
    const struct settings *settings; /* units; NULL: base units */
    uint8_t stopped, known;          /* bit n: engine n stands; its state is known */
    bool fire;                       /* one that says so is listed */
    struct recent recent[RECENT_MAX];
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

/* Puts the listed ones in order again; nearly sorted each time. */
void list_sort(struct alert_list *l);
/* A new empty one, its id given. Where the list is full the weakest gives way to p; NULL where none
 * is weaker. */
struct entry *list_entry(struct alert_list *l, enum priority p);
/* Builds the text, where it is older than what the alert says. */
void list_say(const struct alert_list *l, struct entry *e);
/* Off the list, into the history; what is returned is good until the ring comes round. */
const struct alert *list_retire(struct alert_list *l, struct entry *e);
/* The claim of this claimant with its alert in *out; NULL where it has none. */
struct claim *list_claim(const struct alert_list *l, uint32_t claimant, struct entry **out);
/* The alert that a claim of priority p about this situation belongs to, or NULL. A rectified one
 * that nobody has acknowledged is taken up again, unless the new claim is weaker: then the old
 * alarm stays listed as what it was and the new alert stands beside it. */
struct entry *list_situation(const struct alert_list *l, const struct situation *s,
                             enum priority p);
struct entry *list_id(const struct alert_list *l, uint32_t id); /* NULL where it is not listed */

#endif
