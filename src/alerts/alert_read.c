/* What may be asked of the alert list, and its texts in other units. */
#include "alerts/alert.h"

#include "alerts/alert_inside.h"

#include "base/banned.h"

size_t alerts_count(const struct alert_list *l)
{
    return l->count;
}

const struct alert *alerts_at(const struct alert_list *l, size_t i)
{
    return i < l->count ? &l->order[i]->alert : NULL;
}

const struct alert *alerts_by_id(const struct alert_list *l, uint32_t id)
{
    for (size_t i = 0; i < l->count; i++)
        if (l->order[i]->alert.id == id)
            return &l->order[i]->alert;
    return NULL;
}

size_t alerts_count_priority(const struct alert_list *l, enum priority p)
{
    size_t n = 0;
    for (size_t i = 0; i < l->count; i++)
        n += l->order[i]->alert.priority == p;
    return n;
}

uint64_t alerts_lost(const struct alert_list *l)
{
    return l->lost;
}

enum alert_sound alerts_sound(const struct alert_list *l, struct stamp now)
{
    enum alert_sound sound = SOUND_NONE;
    for (size_t i = 0; i < l->count; i++) {
        const struct entry *e = l->order[i];
        if (e->alert.state != ALERT_UNACKNOWLEDGED)
            continue;
        if (e->alert.priority >= PRIORITY_ALARM)
            return SOUND_ALARM;
        if (e->alert.priority == PRIORITY_WARNING &&
            now.mono_ns - e->sounded_ns < ALERT_WARNING_SOUND_NS)
            sound = SOUND_WARNING;
    }
    return sound;
}

size_t alerts_history_count(const struct alert_list *l)
{
    return l->history_count;
}

const struct alert *alerts_history_at(const struct alert_list *l, size_t i)
{
    if (i >= l->history_count)
        return NULL;
    return &l->history[(l->history_next + ALERTS_HISTORY - 1 - i) % ALERTS_HISTORY].alert;
}

char alert_priority_letter(enum priority p)
{
    static const char letters[] = {
        [PRIORITY_CAUTION] = 'C',
        [PRIORITY_WARNING] = 'W',
        [PRIORITY_ALARM] = 'A',
        [PRIORITY_EMERGENCY] = 'E',
    };
    return (unsigned)p < sizeof letters ? letters[p] : '?';
}

const char *alert_state_text(enum alert_state s)
{
    switch (s) {
    case ALERT_NORMAL:
        return "normal";
    case ALERT_UNACKNOWLEDGED:
        return "unacknowledged";
    case ALERT_SILENCED:
        return "silenced";
    case ALERT_ACKNOWLEDGED:
        return "acknowledged";
    case ALERT_RECTIFIED:
        return "rectified unacknowledged";
    }
    return "unknown";
}

/* ---- words ---- */

static void reword(char text[ALERT_TEXT_SIZE], bool has_words, const struct words_kept *words,
                   const struct settings *s)
{
    if (has_words)
        words_build_kept(text, ALERT_TEXT_SIZE, words, s, WORDS_COLUMNS);
}

void alerts_reword(struct alert_list *l, const struct settings *s)
{
    for (size_t i = 0; i < l->count; i++) {
        struct entry *e = l->order[i];
        reword(e->alert.text, e->has_words, &e->words, s);
        for (int k = 0; k < e->claim_count; k++)
            reword(e->claims[k].text, e->claims[k].has_words, &e->claims[k].words, s);
    }
    for (size_t i = 0; i < l->history_count; i++)
        reword(l->history[i].alert.text, l->history[i].has_words, &l->history[i].words, s);
}
