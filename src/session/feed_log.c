/* The feed of a log: played at a speed, moved in, with alerts read ahead and the marks that people
 * set and keep beside it. */
#include "session/feed.h"

#include "base/text.h"
#include "report/papers/marks.h"
#include "session/replay.h"
#include "session/season_keep.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define FRAMES_A_TURN 20000

struct log_feed {
    const char *path; /* as given; outlives the feed */
    struct replay replay;
    struct scan scan;
    struct model_mark marks[MODEL_MARKS + MARKS_MAX]; /* the scan's and people's, in order */
    size_t mark_count;
    struct marks people;        /* kept beside the log */
    struct season_keep *season; /* NULL: none is kept */
    char nothing[400];          /* what a log is that holds nothing of what was asked for */
};

/* ---- marks ---- */

static int by_time(const void *a, const void *b)
{
    const struct model_mark *p = a, *q = b;
    return p->wall_ns < q->wall_ns ? -1 : p->wall_ns > q->wall_ns;
}

static void gather_marks(struct log_feed *l)
{
    l->mark_count = 0;
    for (size_t i = 0; l->scan.done && i < l->scan.count; i++)
        l->marks[l->mark_count++] = l->scan.marks[i];
    for (int i = 0; i < l->people.count; i++)
        l->marks[l->mark_count++] =
            (struct model_mark){l->people.mark[i].wall_ns, -1, l->people.mark[i].words};
    qsort(l->marks, l->mark_count, sizeof l->marks[0], by_time);
}

static void set_mark(struct log_feed *l, const struct request *q, char *notice, size_t cap)
{
    struct mark k = {.wall_ns = q->amount};
    char path[4096];
    struct err e;
    text_clean(k.words, sizeof k.words, q->words, strlen(q->words));
    if (!marks_add(&l->people, k.wall_ns, k.words)) {
        text_copy(notice, cap, "no room for more marks");
        return;
    }
    gather_marks(l);
    if (strcmp(l->path, "-") == 0)
        text_copy(notice, cap, "marked for now: standard input has no place to keep it");
    else if (!marks_of_log(path, sizeof path, l->path))
        text_copy(notice, cap, "marked for now: the log's name is too long to keep it");
    else if (!marks_append(path, &k, &e))
        text_format(notice, cap, "marked for now: %s", e.text);
    else
        text_copy(notice, cap, "marked, and kept beside the log");
}

/* ---- moving ---- */

static void seek(struct log_feed *l, int64_t wall_ns, char *notice, size_t cap)
{
    if (l->scan.any && wall_ns < l->scan.first_ns)
        wall_ns = l->scan.first_ns;
    if (!replay_seek(&l->replay, wall_ns))
        text_copy(notice, cap, "this log cannot be moved back in");
    else if (l->replay.speed <= 0) /* what was asked for would be gone before it is seen */
        l->replay.paused = true;
}

/* False, with a word about it, where the log has no such time. */
static bool has_time(const struct log_feed *l, int64_t wall_ns, char *notice, size_t cap)
{
    const struct log_reader *r = &l->replay.reader;
    char from[40], to[40];
    bool ends_known = l->scan.going || l->scan.done;
    if (!r->begun || (wall_ns >= r->first_ns && (!ends_known || wall_ns <= l->scan.last_ns)))
        return true;
    if (source_stats(r->source)->clock_known) {
        when_clock(from, sizeof from, r->first_ns, false);
        when_clock(to, sizeof to, l->scan.last_ns, false);
    } else {
        when_elapsed(from, sizeof from, 0);
        when_elapsed(to, sizeof to, l->scan.last_ns - r->first_ns);
    }
    if (!ends_known)
        text_format(notice, cap, "the log begins at %s", from);
    else
        text_format(notice, cap, "the log has %s to %s%s", from, to,
                    l->scan.done ? "" : ", as far as it was read");
    return false;
}

static void go_to(struct log_feed *l, struct moment m, char *notice, size_t cap)
{
    int64_t wall_ns = when_resolve(m, l->replay.reader.first_ns, false);
    if (has_time(l, wall_ns, notice, cap))
        seek(l, wall_ns, notice, cap);
}

/* The first alert after now, or the last one before: with some grace, so that one can go back past
 * the one just reached. */
static void seek_alert(struct log_feed *l, bool ahead, char *notice, size_t cap)
{
    int64_t now = l->replay.now.wall_ns, best = 0;
    bool found = false;
    for (size_t i = 0; l->scan.done && i < l->scan.count; i++) {
        int64_t at = l->scan.marks[i].wall_ns;
        if (ahead ? at > now + NS_PER_S : at < now - 3 * NS_PER_S) {
            if (ahead && found)
                break;
            best = at;
            found = true;
        }
    }
    if (found)
        seek(l, best + NS_PER_S / 4, notice, cap);
    else
        text_copy(notice, cap,
                  !l->scan.done ? "the log is still being read"
                  : ahead       ? "no alert after this"
                                : "no alert before this");
}

/* The user's mark after this moment, or the first one. */
static void seek_mark(struct log_feed *l, char *notice, size_t cap)
{
    const struct model_mark *first = NULL, *next = NULL;
    for (size_t i = 0; i < l->mark_count; i++) {
        const struct model_mark *k = &l->marks[i];
        if (k->priority >= 0)
            continue;
        first = first ? first : k;
        next = !next && k->wall_ns > l->replay.now.wall_ns + NS_PER_S ? k : next;
    }
    if (next || first)
        seek(l, (next ? next : first)->wall_ns, notice, cap);
}

static void change_speed(struct replay *r, int64_t amount)
{
    if (amount == 0)
        r->speed = 0;
    else if (amount > 0)
        r->speed = r->speed <= 0 || r->speed >= 64 ? 0 : r->speed * 2;
    else
        r->speed = r->speed <= 0 ? 64 : fmax(r->speed / 2, 1);
    r->owed_ns = 0;
}

static void step(struct replay *r)
{
    if (r->ended || !r->started)
        return;
    r->paused = true;
    r->seeking = true;
    r->seek_wall_ns = r->now.wall_ns + NS_PER_S;
}

static void log_request(void *ctx, const struct request *q, char *notice, size_t cap)
{
    struct log_feed *l = ctx;
    struct replay *r = &l->replay;
    switch (q->kind) {
    case REQUEST_ACKNOWLEDGE:
        replay_acknowledge(r, q->id);
        break;
    case REQUEST_SILENCE:
        replay_silence(r);
        break;
    case REQUEST_PAUSE:
        r->paused = !r->paused && !r->ended;
        r->owed_ns = 0;
        break;
    case REQUEST_STEP:
        step(r);
        break;
    case REQUEST_SPEED:
        change_speed(r, q->amount);
        break;
    case REQUEST_MOVE:
        seek(l, r->now.wall_ns + q->amount, notice, cap);
        break;
    case REQUEST_GO_TO:
        go_to(l, q->moment, notice, cap);
        break;
    case REQUEST_NEXT_ALERT:
    case REQUEST_PREVIOUS_ALERT:
        seek_alert(l, q->kind == REQUEST_NEXT_ALERT, notice, cap);
        break;
    case REQUEST_MARK:
        set_mark(l, q, notice, cap);
        break;
    case REQUEST_NEXT_MARK:
        seek_mark(l, notice, cap);
        break;
    case REQUEST_UNITS: /* the settings have them already */
        alerts_reword(keeper_alerts(r->keeper), r->settings);
        break;
    default:
        break;
    }
}

/* ---- the rest of the table ---- */

static bool log_turn(void *ctx, struct stamp clock, int64_t elapsed_ns)
{
    struct log_feed *l = ctx;
    (void)clock;
    bool changed = replay_advance(&l->replay, elapsed_ns, FRAMES_A_TURN);
    struct err e;
    if (l->season && changed &&
        !season_keep_turn(l->season, l->replay.keeper, NULL, l->path, l->replay.now.mono_ns, &e))
        fprintf(stderr, "stokehold watch: %s\n", e.text);
    if (l->scan.going && !scan_step(&l->scan, FRAMES_A_TURN)) {
        gather_marks(l);
        changed = true;
    }
    return changed;
}

static int64_t log_wait_ns(void *ctx)
{
    struct log_feed *l = ctx;
    if (l->scan.going)
        return 0;
    /* A pipe that has nothing to read is waited for, not asked again and again. */
    if (replay_busy(&l->replay))
        return l->replay.starved ? -1 : 0;
    return replay_wait_ns(&l->replay);
}

static int log_fd(void *ctx)
{
    struct log_feed *l = ctx;
    struct replay *r = &l->replay;
    bool wants = r->starved && !r->ended && (!r->paused || r->seeking);
    return wants ? source_fd(r->reader.source) : -1;
}

static bool log_settling(void *ctx)
{
    struct log_feed *l = ctx;
    return l->replay.seeking;
}

static void log_fill(void *ctx, struct model *m)
{
    struct log_feed *l = ctx;
    struct replay *r = &l->replay;
    const struct source_stats *stats = source_stats(r->reader.source);
    keeper_freshen(r->keeper);
    model_fill(m, r->keeper, r->now);
    m->clock_known = stats->clock_known;
    m->waiting = r->started ? NULL : r->ended ? "frames: the log holds none" : m->source;
    m->replay = (struct model_replay){.is_log = true,
                                      .can_seek = r->can_rewind,
                                      .paused = r->paused,
                                      .ended = r->ended,
                                      .part = r->ended && r->reader.at < r->reader.count,
                                      .speed = r->speed,
                                      .first_ns = l->scan.first_ns,
                                      .last_ns = l->scan.done ? l->scan.last_ns : 0,
                                      .marks = l->marks,
                                      .mark_count = l->mark_count,
                                      .hottest = l->scan.hottest,
                                      .hottest_count = l->scan.hottest_count,
                                      .hottest_limit = l->scan.limit};
    if (r->ended && !r->reader.range.has_to) /* nobody else will come */
        m->gathering = false;
    if (!l->scan.any)
        m->replay.first_ns = r->reader.first_ns;
    m->bus = (struct model_bus){.load_percent = -1,
                                .frames_per_s = -1,
                                .frames = stats->frames,
                                .lost = stats->lost_frames,
                                .bad_lines = stats->bad_lines,
                                .errors = stats->error_frames,
                                .losses = keeper_losses(r->keeper)};
    meter_read(&r->meter, r->now.mono_ns, &m->bus.frames_per_s, &m->bus.load_percent);
    m->iface_count = source_iface_count(r->reader.source);
    for (int i = 0; i < m->iface_count && i < SOURCE_IFACES; i++)
        text_copy(m->iface_names[i], sizeof m->iface_names[i],
                  source_iface_name(r->reader.source, (uint8_t)i));
}

static enum alert_sound log_sound(void *ctx)
{
    struct log_feed *l = ctx;
    if (l->replay.seeking)
        return SOUND_NONE;
    return alerts_sound(keeper_alerts(l->replay.keeper), l->replay.now);
}

static void log_listen(void *ctx, alert_listener *f, void *listener_ctx)
{
    struct log_feed *l = ctx;
    replay_listen(&l->replay, f, listener_ctx);
}

static const char *log_failed(void *ctx)
{
    struct log_feed *l = ctx;
    const struct replay *r = &l->replay;
    if (r->failed)
        return r->error.text;
    return r->ended && log_reader_nothing(&r->reader, l->path, l->nothing, sizeof l->nothing)
               ? l->nothing
               : NULL;
}

static void log_close(void *ctx)
{
    struct log_feed *l = ctx;
    bool failed = log_failed(l) != NULL;
    struct err e;
    if (!failed) /* else it is said by whoever asked */
        (void)log_reader_report(&l->replay.reader, "watch", l->path);
    /* A trip that was left in the middle is not kept further than to its last stop. */
    if (l->season &&
        !season_keep_end(l->season, l->replay.ended && !failed ? l->replay.keeper : NULL, NULL,
                         l->path, &e))
        fprintf(stderr, "stokehold watch: %s\n", e.text);
    scan_close(&l->scan);
    replay_close(&l->replay);
    free(l);
}

static const struct feed_kind log_kind = {.turn = log_turn,
                                          .wait_ns = log_wait_ns,
                                          .fd = log_fd,
                                          .settling = log_settling,
                                          .fill = log_fill,
                                          .request = log_request,
                                          .sound = log_sound,
                                          .listen = log_listen,
                                          .failed = log_failed,
                                          .close = log_close};

bool feed_open_log(struct feed *f, const struct feed_options *o, struct err *e)
{
    struct log_feed *l = calloc(1, sizeof *l);
    *f = (struct feed){0};
    if (!l)
        return err_set(e, "out of memory");
    if (!replay_open(&l->replay, o->names[0], o->zone, o->settings, &o->range, e)) {
        free(l);
        return false;
    }
    l->path = o->names[0];
    l->season = o->season;
    if (!marks_read_all(l->path, &l->people, e)) {
        replay_close(&l->replay);
        free(l);
        return false;
    }
    gather_marks(l);
    l->replay.speed = o->speed;
    if (l->replay.can_rewind)
        scan_open(&l->scan, o->names[0], o->zone, o->settings);
    *f = (struct feed){&log_kind, l};
    return true;
}
