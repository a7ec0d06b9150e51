#include "hooks/state.h"

#include "base/memory_file.h"
#include "base/text.h"
#include "hooks/lines.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/banned.h"

/* Version 1 had no runs of hooks. */
#define STATE_HEADER   "stokehold state 2"
#define STATE_HEADER_1 "stokehold state 1"
#define STATE_PACE     (10 * NS_PER_S)
#define ATTEMPTS_MOST  10000

struct held_run {
    char hook[40];
    struct hook_run run;
};

struct state_held {
    int alert_count, run_count;
    struct alert alerts[ALERTS_MAX];
    struct held_run runs[HOOKS_WAITING_MAX];
};

/* "run HOOK EVENT WALL ATTEMPTS", and then an alert as it was. */
static bool read_run(struct fields *f, struct state_held *s)
{
    if (s->run_count == HOOKS_WAITING_MAX)
        return false;
    struct held_run *r = &s->runs[s->run_count++];
    *r = (struct held_run){.run.hook = -1};
    bool good = text_copy(r->hook, sizeof r->hook, fields_text(f));
    r->run.event = (enum alert_event_kind)fields_integer(f, 0, EVENT_UPDATED);
    r->run.at.wall_ns = fields_integer(f, 0, LINE_TIME_MOST);
    r->run.attempts = (int)fields_integer(f, 1, ATTEMPTS_MOST);
    return good && fields_alert(f, &r->run.alert);
}

static bool read_line(struct state_held *s, char *text, bool *ended)
{
    struct fields f;
    fields_begin(&f, text);
    const char *word = fields_text(&f);
    if (strcmp(word, "end") == 0)
        return *ended = true;
    if (strcmp(word, "run") == 0)
        return read_run(&f, s);
    return strcmp(word, "alert") == 0 && s->alert_count < ALERTS_MAX &&
           fields_alert(&f, &s->alerts[s->alert_count++]);
}

/* The whole file is read before any of it is believed. */
static bool read_all(FILE *f, struct state_held *s)
{
    char text[2 * LINE_SIZE]; /* of a run and its alert */
    bool header = false, ended = false;
    while (!ended && fgets(text, sizeof text, f)) {
        size_t len = strlen(text);
        if (len == 0 || text[len - 1] != '\n')
            return false;
        text[len - 1] = '\0';
        if (header && !read_line(s, text, &ended))
            return false;
        if (!header && strcmp(text, STATE_HEADER) != 0 && strcmp(text, STATE_HEADER_1) != 0)
            return false;
        header = true;
    }
    return ended;
}

/* NULL where there is none, or it cannot be read: then e. A pipe would hold us up for ever. */
static FILE *open_state(const char *path, struct err *e)
{
    struct stat st;
    int fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    if (fd < 0 && errno == ENOENT)
        return NULL;
    bool regular = fd >= 0 && fstat(fd, &st) == 0 && S_ISREG(st.st_mode);
    FILE *f = regular ? fdopen(fd, "r") : NULL;
    if (!f) {
        err_set(e, "cannot read the state file '%s': %s", path,
                fd >= 0 && !regular ? "it is not a file" : strerror(errno));
        if (fd >= 0)
            close(fd);
    }
    return f;
}

struct state_held *state_read(const char *path, struct err *e)
{
    struct err why = {""};
    struct state_held *s = calloc(1, sizeof *s);
    FILE *f = s ? open_state(path, &why) : NULL;
    if (!s)
        err_set(&why, "out of memory");
    else if (f && !read_all(f, s))
        err_set(&why, "the state file '%s' is damaged: a new one is begun", path);
    if (f)
        fclose(f);
    if (!why.text[0])
        return s;
    err_set(e, "%s", why.text);
    free(s);
    return NULL;
}

void state_free(struct state_held *s)
{
    free(s);
}

int state_restore(const struct state_held *s, struct alert_list *alerts, struct hooks *hooks,
                  struct stamp now)
{
    int count = 0;
    for (int i = 0; i < s->alert_count; i++)
        count += alerts_restore(alerts, &s->alerts[i], now);
    for (int i = 0; hooks && i < s->run_count; i++) {
        struct hook_run run = s->runs[i].run;
        /* on this boot's clock */
        run.at.mono_ns = now.mono_ns - (now.wall_ns - run.at.wall_ns);
        run.due_ns = now.mono_ns + HOOKS_AGAIN_NS;
        (void)hooks_restore(hooks, s->runs[i].hook, &run);
    }
    return count;
}

static void put_run(FILE *f, const struct hook_run *r, const struct settings *settings)
{
    struct line head, alert;
    line_begin(&head, "run");
    line_text(&head, settings->hooks[r->hook].name);
    line_integer(&head, r->event);
    line_integer(&head, r->at.wall_ns);
    line_integer(&head, r->attempts);
    line_alert(&alert, "", &r->alert);
    if (!head.overflow && !alert.overflow)
        fprintf(f, "%s%s", head.text, alert.text);
}

char *state_text(const struct alert_list *alerts, const struct hooks *hooks,
                 const struct settings *settings, size_t *len)
{
    struct memory_file m;
    if (!memory_file_open(&m))
        return NULL;
    FILE *f = m.out;
    fputs(STATE_HEADER "\n", f);
    for (size_t i = 0; i < alerts_count(alerts); i++) {
        const struct alert *a = alerts_at(alerts, i);
        if (a->priority == PRIORITY_CAUTION || a->state == ALERT_ACKNOWLEDGED)
            continue;
        struct line line;
        line_alert(&line, "alert", a);
        fputs(line.text, f);
    }
    const struct hook_run *r;
    for (int i = 0; hooks && (r = hooks_failed(hooks, i)) != NULL; i++)
        put_run(f, r, settings);
    fputs("end\n", f);
    return memory_file_close(&m, len);
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
