#include "hooks/state.h"

#include "base/text.h"
#include "hooks/lines.h"
#include "hooks/replace.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define STATE_HEADER "stokehold state 1"
#define STATE_PACE   (10 * NS_PER_S)

/* The whole file is read before any of it is believed. */
static int read_alerts(FILE *f, struct alert *out, int max)
{
    char text[LINE_SIZE];
    int n = 0;
    bool header = false, ended = false;
    while (!ended && fgets(text, sizeof text, f)) {
        size_t len = strlen(text);
        if (len == 0 || text[len - 1] != '\n')
            return -1;
        text[len - 1] = '\0';
        if (!header) {
            if (strcmp(text, STATE_HEADER) != 0)
                return -1;
            header = true;
            continue;
        }
        struct fields fields;
        fields_begin(&fields, text);
        const char *word = fields_text(&fields);
        if (strcmp(word, "end") == 0)
            ended = true;
        else if (strcmp(word, "alert") != 0 || n == max || !fields_alert(&fields, &out[n]))
            return -1;
        else
            n++;
    }
    return ended ? n : -1;
}

bool state_load(const char *path, struct alert_list *alerts, struct stamp now, int *count,
                struct err *e)
{
    *count = 0;
    FILE *f = fopen(path, "re");
    if (!f)
        return errno == ENOENT ||
               err_set(e, "cannot read the state file '%s': %s", path, strerror(errno));
    struct alert *held = calloc(ALERTS_MAX, sizeof *held);
    int n = held ? read_alerts(f, held, ALERTS_MAX) : -1;
    fclose(f);
    for (int i = 0; i < n; i++)
        *count += alerts_restore(alerts, &held[i], now);
    free(held);
    return n >= 0 || err_set(e, "the state file '%s' is damaged: begun anew", path);
}

bool state_save(const char *path, const struct alert_list *alerts, struct err *e)
{
    char *text = NULL;
    size_t len = 0;
    FILE *f = open_memstream(&text, &len);
    if (!f)
        return err_set(e, "out of memory");
    fputs(STATE_HEADER "\n", f);
    for (size_t i = 0; i < alerts_count(alerts); i++) {
        const struct alert *a = alerts_at(alerts, i);
        if (a->priority == PRIORITY_CAUTION || a->state == ALERT_ACKNOWLEDGED)
            continue;
        struct line line;
        line_alert(&line, "alert", a);
        fputs(line.text, f);
    }
    fputs("end\n", f);
    bool good =
        fclose(f) == 0 ? replace_file(path, text, len, true, e) : err_set(e, "out of memory");
    free(text);
    return good;
}

void state_event(struct state_pace *p, const struct alert_event *ev)
{
    if (ev->event == EVENT_UPDATED || ev->event == EVENT_SILENCED ||
        ev->alert->priority == PRIORITY_CAUTION)
        return;
    p->changed = true;
    if (ev->alert->priority >= PRIORITY_ALARM)
        p->urgent = true;
}

bool state_due(const struct state_pace *p, int64_t now_ns)
{
    return p->changed && (p->urgent || now_ns - p->saved_ns >= STATE_PACE);
}
