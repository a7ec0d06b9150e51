#include "hooks/hooks.h"

#include "base/text.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <signal.h>
#include <spawn.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "base/banned.h"

#define ENV_OURS   16
#define ENV_MAX    512
#define ENV_SIZE   320
#define SHORT_TURN 50 /* ms: while something runs that may have ended */
#define CONDITION_IS(a, sort)                                                                      \
    ((a)->kind == KIND_BUS && ((a)->situation.code & 0xFF) == (uint32_t)(sort))

extern char **environ;

struct waiting {
    int hook; /* index in settings.hooks */
    enum alert_event_kind event;
    struct stamp at;
    struct alert alert;
};

struct running {
    pid_t pid; /* 0: free */
    int hook;
    int64_t deadline_ns; /* mono: SIGTERM, then SIGKILL */
    bool told;           /* SIGTERM was sent */
};

struct hooks {
    const struct settings *settings;
    struct waiting waiting[HOOKS_WAITING_MAX]; /* in order of time */
    int waiting_count;
    struct running running[HOOKS_RUNNING_MAX];
    int running_count;
    bool failed[HOOKS_MAX]; /* its condition stands */
    struct condition_queue *conditions;
    struct stamp now;
};

struct hooks *hooks_new(const struct settings *settings)
{
    struct hooks *h = calloc(1, sizeof *h);
    if (!h)
        return NULL;
    h->settings = settings;
    h->conditions = condition_queue_new();
    if (!h->conditions) {
        free(h);
        return NULL;
    }
    return h;
}

void hooks_free(struct hooks *h)
{
    if (!h)
        return;
    for (int i = 0; i < HOOKS_RUNNING_MAX; i++)
        if (h->running[i].pid)
            kill(-h->running[i].pid, SIGKILL);
    condition_queue_free(h->conditions);
    free(h);
}

/* ---- conditions ---- */

static void say(struct hooks *h, int hook, bool stands, const char *what)
{
    if (hook < 0 || (!stands && !h->failed[hook]))
        return;
    h->failed[hook] = stands;
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
    for (size_t i = 0; i < HOOKS_MAX; i++) {
        map[i] = i < h->settings->hook_count ? find_hook(settings, h->settings->hooks[i].name) : -1;
        if (h->failed[i])
            say(h, (int)i, false, "is configured anew");
    }
    for (int i = 0; i < h->waiting_count; i++) {
        h->waiting[kept] = h->waiting[i];
        h->waiting[kept].hook = map[h->waiting[i].hook];
        kept += h->waiting[kept].hook >= 0;
    }
    h->waiting_count = kept;
    for (int i = 0; i < HOOKS_RUNNING_MAX; i++)
        if (h->running[i].pid && h->running[i].hook >= 0)
            h->running[i].hook = map[h->running[i].hook];
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
    case EVENT_SILENCED:
    case EVENT_UPDATED:
        break;
    }
    return 0;
}

static void queue_run(struct hooks *h, int hook, const struct alert_event *ev)
{
    if (h->waiting_count == HOOKS_WAITING_MAX) {
        say(h, h->waiting[0].hook, true, "has too many runs waiting: the oldest was dropped");
        memmove(h->waiting, h->waiting + 1, sizeof *h->waiting * (HOOKS_WAITING_MAX - 1));
        h->waiting_count--;
    }
    h->waiting[h->waiting_count++] =
        (struct waiting){.hook = hook, .event = ev->event, .at = ev->at, .alert = *ev->alert};
}

void hooks_event(struct hooks *h, const struct alert_event *ev)
{
    int bit = event_bit(ev->event);
    const struct alert *a = ev->alert;
    if (!bit || CONDITION_IS(a, CONDITION_HOOK))
        return;
    for (size_t i = 0; i < h->settings->hook_count; i++) {
        const struct hook_setting *s = &h->settings->hooks[i];
        if (s->enabled && (s->events & bit) && a->priority >= s->priority &&
            (s->rule[0] == '\0' || strcmp(s->rule, a->rule) == 0))
            queue_run(h, (int)i, ev);
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
    char ours[ENV_OURS][ENV_SIZE];
    char *list[ENV_MAX];
    int ours_count, count;
};

static void env_add(struct environment *e, const char *name, const char *value)
{
    if (e->ours_count == ENV_OURS)
        return;
    char *row = e->ours[e->ours_count++];
    text_format(row, ENV_SIZE, "STOKEHOLD_%s=%s", name, value);
    e->list[e->count++] = row;
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
    case EVENT_SILENCED:
    case EVENT_UPDATED:
        break;
    }
    return "";
}

/* Our own variables first, then the environment we were given without any of that name. */
static void fill_environment(struct environment *e, const struct settings *s,
                             const struct waiting *w)
{
    const struct alert *a = &w->alert;
    char number[48], time[40];
    e->count = e->ours_count = 0;
    env_add(e, "EVENT", event_word(w->event));
    env_add(e, "PRIORITY", priority_text(a->priority));
    env_add(e, "STATE", alert_state_text(a->state));
    text_format(number, sizeof number, "%u", (unsigned)a->id);
    env_add(e, "ID", number);
    env_add(e, "KIND", kind_text(a->kind));
    env_add(e, "RULE", a->rule);
    env_add(e, "CHANNEL", a->channel);
    number[0] = '\0';
    if (isfinite(a->value))
        text_number(number, sizeof number, a->value, a->decimals);
    env_add(e, "VALUE", number);
    env_add(e, "UNIT", number[0] ? unit_text(a->unit) : "");
    env_add(e, "TEXT", a->text);
    when_epoch(time, sizeof time, w->at.wall_ns);
    env_add(e, "TIME", time);
    env_add(e, "VESSEL", s->vessel);
    for (char **v = environ; v && *v && e->count + 1 < ENV_MAX; v++)
        if (strncmp(*v, "STOKEHOLD_", 10) != 0)
            e->list[e->count++] = *v;
    e->list[e->count] = NULL;
}

/* 0, or what errno would be. */
static int spawn(pid_t *pid, char *const *argv, char *const *env)
{
    posix_spawn_file_actions_t files;
    posix_spawnattr_t attr;
    sigset_t none, defaults;
    if (posix_spawn_file_actions_init(&files))
        return ENOMEM;
    if (posix_spawnattr_init(&attr)) {
        posix_spawn_file_actions_destroy(&files);
        return ENOMEM;
    }
    sigemptyset(&none);
    sigfillset(&defaults);
    sigdelset(&defaults, SIGKILL);
    sigdelset(&defaults, SIGSTOP);
    posix_spawn_file_actions_addopen(&files, STDIN_FILENO, "/dev/null", O_RDONLY, 0);
    posix_spawn_file_actions_adddup2(&files, STDERR_FILENO, STDOUT_FILENO);
    posix_spawnattr_setpgroup(&attr, 0);
    posix_spawnattr_setsigmask(&attr, &none);
    posix_spawnattr_setsigdefault(&attr, &defaults);
    posix_spawnattr_setflags(&attr, POSIX_SPAWN_SETPGROUP | POSIX_SPAWN_SETSIGMASK |
                                        POSIX_SPAWN_SETSIGDEF);
    int error = posix_spawn(pid, argv[0], &files, &attr, argv, env);
    posix_spawnattr_destroy(&attr);
    posix_spawn_file_actions_destroy(&files);
    return error;
}

static void start(struct hooks *h, struct running *slot, const struct waiting *w)
{
    const struct hook_setting *s = &h->settings->hooks[w->hook];
    struct environment env;
    char words[sizeof s->run + HOOKS_WORDS_MAX];
    char *argv[HOOKS_WORDS_MAX];
    if (!hooks_split(s->run, words, sizeof words, argv, HOOKS_WORDS_MAX)) {
        say(h, w->hook, true, "cannot be run: an open quote, or too many words");
        return;
    }
    fill_environment(&env, h->settings, w);
    pid_t pid;
    int error = spawn(&pid, argv, env.list);
    if (error) {
        char what[96];
        text_format(what, sizeof what, "cannot be run: %s", strerror(error));
        say(h, w->hook, true, what);
        return;
    }
    *slot = (struct running){
        .pid = pid, .hook = w->hook, .deadline_ns = h->now.mono_ns + s->time_limit_ns};
    h->running_count++;
}

static int count_running(const struct hooks *h, int hook)
{
    int n = 0;
    for (int i = 0; i < HOOKS_RUNNING_MAX; i++)
        n += h->running[i].pid && h->running[i].hook == hook;
    return n;
}

static struct running *free_slot(struct hooks *h)
{
    for (int i = 0; i < HOOKS_RUNNING_MAX; i++)
        if (!h->running[i].pid)
            return &h->running[i];
    return NULL;
}

static void start_waiting(struct hooks *h)
{
    int kept = 0;
    for (int i = 0; i < h->waiting_count; i++) {
        struct waiting *w = &h->waiting[i];
        struct running *slot = free_slot(h);
        if (slot && count_running(h, w->hook) < h->settings->hooks[w->hook].at_most) {
            start(h, slot, w);
            continue;
        }
        if (kept != i)
            h->waiting[kept] = *w;
        kept++;
    }
    h->waiting_count = kept;
}

/* ---- ending ---- */

static void ended(struct hooks *h, struct running *r, int status)
{
    char what[96];
    if (r->told)
        text_format(what, sizeof what, "took longer than its time limit and was killed");
    else if (WIFSIGNALED(status))
        text_format(what, sizeof what, "was ended by signal %d", WTERMSIG(status));
    else
        text_format(what, sizeof what, "failed: exit status %d", WEXITSTATUS(status));
    bool good = !r->told && WIFEXITED(status) && WEXITSTATUS(status) == 0;
    say(h, r->hook, !good, good ? "works again" : what);
    kill(-r->pid, SIGKILL); /* what it left behind in its group */
    r->pid = 0;
    h->running_count--;
}

static void collect(struct hooks *h)
{
    for (int i = 0; i < HOOKS_RUNNING_MAX; i++) {
        struct running *r = &h->running[i];
        int status;
        if (!r->pid)
            continue;
        pid_t got = waitpid(r->pid, &status, WNOHANG);
        if (got == r->pid) {
            ended(h, r, status);
        } else if (got < 0 && errno == ECHILD) {
            r->pid = 0;
            h->running_count--;
        } else if (h->now.mono_ns >= r->deadline_ns) {
            kill(-r->pid, r->told ? SIGKILL : SIGTERM);
            r->told = true;
            r->deadline_ns = h->now.mono_ns + HOOKS_KILL_NS;
        }
    }
}

void hooks_turn(struct hooks *h, struct stamp now)
{
    h->now = now;
    if (h->running_count > 0)
        collect(h);
    if (h->waiting_count > 0)
        start_waiting(h);
}

int hooks_wait_ms(const struct hooks *h)
{
    return h->running_count > 0 || h->waiting_count > 0 ? SHORT_TURN : -1;
}

int hooks_running(const struct hooks *h)
{
    return h->running_count;
}
