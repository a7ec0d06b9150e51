#include "hooks/hooks.h"

#include "base/text.h"
#include "hooks/calm.h"
#include "hooks/starter.h"

#include <math.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>

#include "base/banned.h"

#define ENV_OURS 24
#define ENV_SIZE 320
#define CONDITION_IS(a, sort)                                                                      \
    ((a)->situation.group == SITUATION_BUS && ((a)->situation.code & 0xFF) == (uint32_t)(sort))

struct running {
    bool taken;
    int64_t deadline_ns; /* mono: SIGTERM, then SIGKILL */
    bool told;           /* SIGTERM was sent */
    int error;           /* it could not even be run */
    struct hook_run run; /* hook below 0: no longer configured */
};

struct hooks {
    const struct settings *settings;
    struct starter *starter;
    struct hook_run waiting[HOOKS_WAITING_MAX]; /* in order of time */
    int waiting_count;
    struct running running[HOOKS_RUNNING_MAX]; /* its id at the starter is its index + 1 */
    int running_count;
    struct hook_stats stats[HOOKS_MAX];
    struct calm calm;
    uint64_t version;
    struct condition_queue *conditions;
    hooks_line *line;
    void *line_ctx;
    struct stamp now;
};

struct hooks *hooks_new(const struct settings *settings)
{
    struct hooks *h = calloc(1, sizeof *h);
    if (!h)
        return NULL;
    h->settings = settings;
    h->conditions = condition_queue_new();
    h->starter = h->conditions ? starter_new() : NULL;
    if (h->starter)
        return h;
    hooks_free(h);
    return NULL;
}

void hooks_free(struct hooks *h)
{
    if (!h)
        return;
    starter_free(h->starter);
    condition_queue_free(h->conditions);
    free(h);
}

void hooks_listen(struct hooks *h, hooks_line *f, void *ctx)
{
    h->line = f;
    h->line_ctx = ctx;
}

/* ---- conditions ---- */

static void say(struct hooks *h, int hook, bool stands, const char *what)
{
    if (hook < 0 || (!stands && !h->stats[hook].failed))
        return;
    h->stats[hook].failed = stands;
    struct bus_condition c = {.code = CONDITION_CODE(CONDITION_HOOK, hook),
                              .priority = PRIORITY_CAUTION,
                              .stands = stands,
                              .at = h->now};
    text_format(c.text, sizeof c.text, "hook %.40s %s", h->settings->hooks[hook].name, what);
    condition_put(h->conditions, &c);
}

bool hooks_condition(struct hooks *h, struct bus_condition *out)
{
    return condition_take(h->conditions, out);
}

static int find_hook(const struct settings *s, const char *name)
{
    for (size_t i = 0; i < s->hook_count; i++)
        if (strcmp(s->hooks[i].name, name) == 0)
            return (int)i;
    return -1;
}

void hooks_reconfigure(struct hooks *h, const struct settings *settings)
{
    int kept = 0;
    int map[HOOKS_MAX];
    struct hook_stats stats[HOOKS_MAX] = {0};
    for (size_t i = 0; i < HOOKS_MAX; i++) {
        map[i] = i < h->settings->hook_count ? find_hook(settings, h->settings->hooks[i].name) : -1;
        if (h->stats[i].failed)
            say(h, (int)i, false, "was configured again");
        if (map[i] >= 0)
            stats[map[i]] = h->stats[i];
    }
    memcpy(h->stats, stats, sizeof stats);
    for (int i = 0; i < h->waiting_count; i++) {
        h->waiting[kept] = h->waiting[i];
        h->waiting[kept].hook = map[h->waiting[i].hook];
        kept += h->waiting[kept].hook >= 0;
    }
    h->waiting_count = kept;
    h->version++;
    h->calm = (struct calm){0};
    for (int i = 0; i < HOOKS_RUNNING_MAX; i++)
        if (h->running[i].taken && h->running[i].run.hook >= 0)
            h->running[i].run.hook = map[h->running[i].run.hook];
    h->settings = settings;
}

/* ---- what concerns whom ---- */

static int event_bit(enum alert_event_kind e)
{
    switch (e) {
    case EVENT_RAISED:
        return HOOK_RAISED;
    case EVENT_ESCALATED:
        return HOOK_ESCALATED;
    case EVENT_ACKNOWLEDGED:
        return HOOK_ACKNOWLEDGED;
    case EVENT_RECTIFIED:
        return HOOK_RECTIFIED;
    case EVENT_CHANGED:
    case EVENT_ENDED:
    case EVENT_SILENCED:
    case EVENT_UPDATED:
        break;
    }
    return 0;
}

/* What has failed before gives way first, then the oldest. */
static void make_room(struct hooks *h)
{
    int out = 0;
    while (out < h->waiting_count - 1 && h->waiting[out].attempts == 0)
        out++;
    if (h->waiting[out].attempts == 0)
        out = 0;
    say(h, h->waiting[out].hook, true, "has too many runs waiting: the oldest was dropped");
    h->waiting_count--;
    memmove(h->waiting + out, h->waiting + out + 1,
            sizeof *h->waiting * (size_t)(h->waiting_count - out));
    h->version++;
}

static void queue_run(struct hooks *h, const struct hook_run *run)
{
    if (h->waiting_count == HOOKS_WAITING_MAX)
        make_room(h);
    h->waiting[h->waiting_count++] = *run;
}

/* Takes back the end of this alert that was held: it is here again, or has newer news. */
static void drop_held(struct hooks *h, int hook, const struct alert *a)
{
    int kept = 0;
    for (int i = 0; i < h->waiting_count; i++) {
        const struct hook_run *w = &h->waiting[i];
        bool held = w->hook == hook && w->event == EVENT_RECTIFIED && w->attempts == 0 &&
                    w->due_ns > h->now.mono_ns &&
                    situation_same(&w->alert.situation, &a->situation);
        if (!held)
            h->waiting[kept++] = *w;
    }
    h->waiting_count = kept;
}

static void queue_event(struct hooks *h, int hook, const struct alert_event *ev, struct stamp at)
{
    struct hook_run run = {.hook = hook, .event = ev->event, .at = at, .alert = *ev->alert};
    enum calm_answer answer = calm_ask(&h->calm, hook, ev, h->settings->hooks[hook].not_again_ns,
                                       at.mono_ns, &run.due_ns);
    drop_held(h, hook, ev->alert);
    if (answer != CALM_DROP)
        queue_run(h, &run);
}

void hooks_event(struct hooks *h, const struct alert_event *ev)
{
    /* how long ago, for another attempt, is asked of this machine's clock, not of a log's */
    struct stamp at = {ev->at.wall_ns, h->now.mono_ns ? h->now.mono_ns : ev->at.mono_ns};
    int bit = event_bit(ev->event);
    const struct alert *a = ev->alert;
    if (!bit || CONDITION_IS(a, CONDITION_HOOK))
        return;
    for (size_t i = 0; i < h->settings->hook_count; i++) {
        const struct hook_setting *s = &h->settings->hooks[i];
        if (s->enabled && (s->events & bit) && a->priority >= s->priority &&
            (s->rule[0] == '\0' || strcmp(s->rule, a->rule) == 0))
            queue_event(h, (int)i, ev, at);
    }
}

/* ---- starting ---- */

int hooks_split(const char *line, char *buf, size_t cap, char **argv, int max)
{
    int n = 0;
    size_t used = 0;
    const char *at = line;
    for (;;) {
        at += strspn(at, " \t");
        if (*at == '\0')
            break;
        if (n + 1 >= max)
            return 0;
        argv[n++] = buf + used;
        bool quoted = false;
        for (; *at && (quoted || (*at != ' ' && *at != '\t')); at++) {
            if (*at == '"') {
                quoted = !quoted;
                continue;
            }
            if (used + 2 > cap)
                return 0;
            buf[used++] = *at;
        }
        if (quoted || used + 1 > cap)
            return 0;
        buf[used++] = '\0';
    }
    argv[n] = NULL;
    return n;
}

struct environment {
    char rows[ENV_OURS][ENV_SIZE];
    char *list[ENV_OURS + 1];
    int count;
};

static void env_add(struct environment *e, const char *name, const char *value)
{
    if (e->count == ENV_OURS)
        return;
    char *row = e->rows[e->count];
    text_format(row, ENV_SIZE, "STOKEHOLD_%s=%s", name, value);
    e->list[e->count++] = row;
    e->list[e->count] = NULL;
}

static const char *event_word(enum alert_event_kind e)
{
    switch (e) {
    case EVENT_RAISED:
        return "raised";
    case EVENT_ESCALATED:
        return "escalated";
    case EVENT_ACKNOWLEDGED:
        return "acknowledged";
    case EVENT_RECTIFIED:
        return "rectified";
    case EVENT_CHANGED:
    case EVENT_ENDED:
    case EVENT_SILENCED:
    case EVENT_UPDATED:
        break;
    }
    return "";
}

static void env_number(struct environment *e, const char *name, double v, int decimals)
{
    char number[48] = "";
    if (isfinite(v))
        text_number(number, sizeof number, v, decimals);
    env_add(e, name, number);
}

static void env_time(struct environment *e, const char *name, int64_t wall_ns)
{
    char time[40] = "";
    if (wall_ns)
        when_epoch(time, sizeof time, wall_ns);
    env_add(e, name, time);
}

/* How far it has come and how bad it got. */
static void fill_course(struct environment *e, const struct alert *a)
{
    env_add(e, "STAGE", stage_text(a->stage));
    env_number(e, "WORST", a->worst, a->decimals);
    env_time(e, "WORST_TIME", isfinite(a->worst) ? a->worst_at.wall_ns : 0);
    env_time(e, "LIMIT_PASSED", a->limit_passed.wall_ns);
    env_number(e, "BEYOND_SECONDS", a->limit_passed.wall_ns ? when_seconds(a->beyond_ns) : NAN, 1);
    env_number(e, "TIMES", (double)a->repeats + 1, 0);
}

static void fill_environment(struct environment *e, const struct settings *s,
                             const struct hook_run *w)
{
    const struct alert *a = &w->alert;
    char number[48];
    e->count = 0;
    env_add(e, "EVENT", event_word(w->event));
    env_add(e, "PRIORITY", priority_text(a->priority));
    env_add(e, "STATE", alert_state_text(a->state));
    text_format(number, sizeof number, "%u", (unsigned)a->id);
    env_add(e, "ID", number);
    env_add(e, "KIND", kind_text(a->kind));
    env_add(e, "RULE", a->rule);
    env_add(e, "CHANNEL", a->channel);
    env_number(e, "VALUE", a->value, a->decimals);
    env_add(e, "UNIT", isfinite(a->value) || isfinite(a->worst) ? unit_text(a->unit) : "");
    fill_course(e, a);
    env_add(e, "TEXT", a->text);
    env_time(e, "TIME", w->at.wall_ns);
    env_add(e, "VESSEL", s->vessel);
    text_format(number, sizeof number, "%d", w->attempts + 1);
    env_add(e, "ATTEMPT", number);
    env_add(e, "TEST", alert_is_trial(a) ? "1" : "");
}

/* False when it cannot be asked for now. */
static bool start(struct hooks *h, int slot, const struct hook_run *w)
{
    const struct hook_setting *s = &h->settings->hooks[w->hook];
    struct environment env;
    char words[sizeof s->run + HOOKS_WORDS_MAX];
    char *argv[HOOKS_WORDS_MAX];
    if (!hooks_split(s->run, words, sizeof words, argv, HOOKS_WORDS_MAX)) {
        h->stats[w->hook].failures++;
        say(h, w->hook, true, "cannot be run: an open quote, or too many words");
        return true;
    }
    fill_environment(&env, h->settings, w);
    if (!starter_run(h->starter, slot + 1, argv, env.list, "STOKEHOLD_"))
        return false;
    h->running[slot] = (struct running){
        .taken = true, .deadline_ns = h->now.mono_ns + s->time_limit_ns, .run = *w};
    h->running_count++;
    h->stats[w->hook].runs++;
    return true;
}

static int count_running(const struct hooks *h, int hook)
{
    int n = 0;
    for (int i = 0; i < HOOKS_RUNNING_MAX; i++)
        n += h->running[i].taken && h->running[i].run.hook == hook;
    return n;
}

static int free_slot(const struct hooks *h)
{
    for (int i = 0; i < HOOKS_RUNNING_MAX; i++)
        if (!h->running[i].taken)
            return i;
    return -1;
}

static bool may_start(const struct hooks *h, const struct hook_run *w)
{
    return h->now.mono_ns >= w->due_ns &&
           count_running(h, w->hook) < h->settings->hooks[w->hook].at_most;
}

/* First those that were never tried: an alarm does not wait for a message that has failed. */
static void start_waiting(struct hooks *h, bool again)
{
    int kept = 0;
    for (int i = 0; i < h->waiting_count; i++) {
        const struct hook_run *w = &h->waiting[i];
        int slot = free_slot(h);
        if (slot >= 0 && (w->attempts > 0) == again && may_start(h, w) && start(h, slot, w)) {
            h->version += again;
            continue;
        }
        if (kept != i)
            h->waiting[kept] = *w;
        kept++;
    }
    h->waiting_count = kept;
}

/* ---- ending ---- */

static int64_t wait_before(int attempts)
{
    int64_t wait = HOOKS_AGAIN_NS;
    for (int i = 1; i < attempts && wait < HOOKS_AGAIN_MOST; i++)
        wait *= 2;
    return wait < HOOKS_AGAIN_MOST ? wait : HOOKS_AGAIN_MOST;
}

/* Queues the run again, unless it is too old. */
static void try_again(struct hooks *h, const struct hook_run *run)
{
    struct hook_run again = *run;
    again.attempts++;
    again.due_ns = h->now.mono_ns + wait_before(again.attempts);
    int64_t most = h->settings->hooks[run->hook].again_ns;
    if (most == 0 || again.due_ns - again.at.mono_ns > most)
        return;
    queue_run(h, &again);
    h->version++;
}

static void ended(struct hooks *h, struct running *r, int status)
{
    char what[96];
    struct hook_run run = r->run;
    if (r->error)
        text_format(what, sizeof what, "cannot be run: %s", strerror(r->error));
    else if (r->told)
        text_format(what, sizeof what, "took longer than its time limit and was killed");
    else if (WIFSIGNALED(status))
        text_format(what, sizeof what, "was ended by signal %d", WTERMSIG(status));
    else
        text_format(what, sizeof what, "failed: exit status %d", WEXITSTATUS(status));
    bool good = !r->error && !r->told && WIFEXITED(status) && WEXITSTATUS(status) == 0;
    r->taken = false;
    h->running_count--;
    if (run.hook < 0)
        return;
    say(h, run.hook, !good, good ? "works again" : what);
    struct hook_stats *s = &h->stats[run.hook];
    s->failures += !good;
    if (good)
        s->good_wall_ns = h->now.wall_ns;
    else
        try_again(h, &run);
}

static void all_lost(struct hooks *h)
{
    for (int i = 0; i < HOOKS_RUNNING_MAX; i++)
        if (h->running[i].taken)
            ended(h, &h->running[i], SIGKILL);
}

static void take_news(struct hooks *h)
{
    struct starter_news news;
    while (starter_next(h->starter, &news)) {
        if (news.sort == STARTER_LOST) {
            all_lost(h);
            continue;
        }
        struct running *r = h->running + (news.id - 1) % HOOKS_RUNNING_MAX;
        if (news.id < 1 || news.id > HOOKS_RUNNING_MAX || !r->taken)
            continue;
        if (news.sort == STARTER_ENDED)
            ended(h, r, news.value);
        else if (news.sort == STARTER_FAILED)
            r->error = news.value;
        else if (h->line && r->run.hook >= 0)
            h->line(h->line_ctx, h->settings->hooks[r->run.hook].name, news.text);
    }
}

static void end_late(struct hooks *h)
{
    for (int i = 0; i < HOOKS_RUNNING_MAX; i++) {
        struct running *r = &h->running[i];
        if (!r->taken || h->now.mono_ns < r->deadline_ns)
            continue;
        starter_signal(h->starter, i + 1, r->told ? SIGKILL : SIGTERM);
        r->told = true;
        r->deadline_ns = h->now.mono_ns + HOOKS_KILL_NS;
    }
}

void hooks_turn(struct hooks *h, struct stamp now)
{
    h->now = now;
    take_news(h);
    if (h->running_count > 0)
        end_late(h);
    if (h->waiting_count > 0) {
        start_waiting(h, false);
        start_waiting(h, true);
    }
}

void hooks_last_was_said(struct hooks *h)
{
    for (int i = 0; i < h->waiting_count; i++)
        if (h->waiting[i].attempts == 0)
            h->waiting[i].due_ns = 0;
}

/* ---- what may be asked ---- */

int hooks_wait_ms(const struct hooks *h)
{
    int64_t next = INT64_MAX;
    for (int i = 0; i < HOOKS_RUNNING_MAX; i++)
        if (h->running[i].taken && h->running[i].deadline_ns < next)
            next = h->running[i].deadline_ns;
    for (int i = 0; i < h->waiting_count; i++)
        if (h->waiting[i].due_ns < next && count_running(h, h->waiting[i].hook) == 0)
            next = h->waiting[i].due_ns;
    if (next == INT64_MAX)
        return -1;
    int64_t ms = (next - h->now.mono_ns + NS_PER_MS - 1) / NS_PER_MS;
    return ms < 1 ? 1 : ms > 1000 ? 1000 : (int)ms;
}

int hooks_fd(const struct hooks *h)
{
    return starter_fd(h->starter);
}

int hooks_running(const struct hooks *h)
{
    return h->running_count;
}

bool hooks_busy(const struct hooks *h)
{
    if (h->running_count > 0)
        return true;
    for (int i = 0; i < h->waiting_count; i++)
        if (h->waiting[i].attempts == 0)
            return true;
    return false;
}

void hooks_stats(const struct hooks *h, size_t hook, struct hook_stats *out)
{
    *out = h->stats[hook];
    for (int i = 0; i < h->waiting_count; i++)
        out->waiting += (size_t)h->waiting[i].hook == hook;
}

const struct hook_run *hooks_failed(const struct hooks *h, int i)
{
    for (int k = 0; k < h->waiting_count; k++)
        if (h->waiting[k].attempts > 0 && i-- == 0)
            return &h->waiting[k];
    return NULL;
}

bool hooks_restore(struct hooks *h, const char *name, const struct hook_run *run)
{
    struct hook_run again = *run;
    again.hook = find_hook(h->settings, name);
    if (again.hook < 0 || h->waiting_count == HOOKS_WAITING_MAX)
        return false;
    queue_run(h, &again);
    return true;
}

uint64_t hooks_version(const struct hooks *h)
{
    return h->version;
}
