#include "verbs/signoff_talk.h"

#include "base/text.h"
#include "plant/calibrate.h"
#include "verbs/muster_signoff.h"

#include <errno.h>
#include <poll.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "base/banned.h"

enum { ANSWER = 100, BATCH = 256 };

/* What one answer led to. */
enum turn { TURN_GIVEN, TURN_SKIP, TURN_END };

struct talking {
    const struct talk *t;
    struct muster *fresh; /* since the sender was asked about; NULL of a log */
    char line[400];       /* typed so far */
    size_t len;
    char by[40], file_error[sizeof((struct err *)0)->text];
};

/* ---- listening while waiting ---- */

static bool take_frames(struct talking *d)
{
    static struct frame batch[BATCH];
    struct err e;
    size_t n;
    enum source_state state;
    while ((state = source_read(d->t->source, batch, BATCH, &n, &e)) == SOURCE_READY)
        muster_frames(d->fresh, batch, n);
    if (state != SOURCE_FAILED)
        return true;
    text_copy(d->file_error, sizeof d->file_error, e.text);
    return false;
}

/* Takes a whole line out of what was typed. */
static bool take_line(struct talking *d, char answer[ANSWER])
{
    char *end = memchr(d->line, '\n', d->len);
    if (!end)
        return false;
    size_t len = (size_t)(end - d->line);
    text_clean(answer, ANSWER, d->line, len);
    d->len -= len + 1;
    memmove(d->line, end + 1, d->len);
    return true;
}

/* The next answer; false where there will be none. */
static bool hear(struct talking *d, char answer[ANSWER])
{
    fflush(d->t->out);
    while (!take_line(d, answer)) {
        struct pollfd p[2] = {
            {.fd = d->t->in, .events = POLLIN},
            {.fd = d->t->source ? source_fd(d->t->source) : -1, .events = POLLIN}};
        if (poll(p, 2, -1) < 0 && errno != EINTR)
            return false;
        if (p[1].revents && !take_frames(d))
            return false;
        if (!p[0].revents)
            continue;
        if (d->len == sizeof d->line)
            d->len = 0; /* nobody types that much */
        ssize_t n = read(d->t->in, d->line + d->len, sizeof d->line - d->len);
        if (n <= 0)
            return false;
        d->len += (size_t)n;
    }
    return true;
}

static enum turn ask(struct talking *d, const char *question, char answer[ANSWER])
{
    fprintf(d->t->out, "  %s ", question);
    if (!hear(d, answer) || strcmp(answer, "q") == 0)
        return TURN_END;
    return strcmp(answer, "s") == 0 ? TURN_SKIP : TURN_GIVEN;
}

/* ---- what the sender reads now ---- */

static const struct muster *readings(const struct talking *d)
{
    return d->fresh ? d->fresh : d->t->heard;
}

/* From now on readings count from here; who sends them is known from before. */
static bool begin_again(struct talking *d)
{
    const struct muster *heard = d->t->heard;
    if (!d->t->source)
        return true;
    muster_free(d->fresh);
    d->fresh = muster_new(heard->settings);
    for (int i = 0; d->fresh && i < heard->iface_count; i++)
        muster_name_iface(d->fresh, (uint8_t)i, muster_iface(heard, (uint8_t)i));
    return d->fresh != NULL;
}

static void put_reading(struct talking *d, struct channel_id id)
{
    const struct muster *m = readings(d);
    const struct muster_value *v = muster_holder(m, id);
    const struct quantity_info *info = quantity_info((enum quantity)id.quantity);
    const struct channel_setting *s = m->settings ? settings_channel(m->settings, id) : NULL;
    char number[40];
    double shown;
    if (v == NULL || calibrate(s, v->recent, &shown) != READING_OK)
        fputs("  no reading yet\n", d->t->out);
    else if (text_number(number, sizeof number, shown, 2))
        fprintf(d->t->out, "  reads %s %s\n", number, unit_text(info->unit));
}

static void introduce(struct talking *d, const struct muster_value *v, bool exchanged)
{
    const struct muster_sender *box = &d->t->heard->senders[v->sender];
    char key[CHANNEL_KEY_SIZE];
    channel_id_format(key, sizeof key, v->id);
    fprintf(d->t->out, "\n%s  address %u", key, box->address);
    if (box->name != 0)
        fprintf(d->t->out, ", NAME %016llX", (unsigned long long)box->name);
    if (box->has_product)
        fprintf(d->t->out, ", serial %s", box->product.serial);
    fprintf(d->t->out, "%s\n", exchanged ? ": another box than the one that was confirmed" : "");
}

/* ---- the questions ---- */

static enum turn ask_check(struct talking *d, struct channel_id id, struct signoff_words *w)
{
    static const struct {
        const char *answer, *check;
    } checks[] = {{"w", "warmed"},
                  {"i", "ice-water"},
                  {"b", "boiling-water"},
                  {"d", "dipped"},
                  {"c", "compared"}};
    const bool warm = quantity_info((enum quantity)id.quantity)->unit == UNIT_C;
    const char *question =
        warm                  ? "w warmed, i ice water, b boiling water, c compared, s skip, q end:"
        : signoff_is_tank(id) ? "d dipped, c compared, s skip, q end:"
                              : "c compared, s skip, q end:";
    for (;;) {
        char answer[ANSWER];
        enum turn turn = ask(d, question, answer);
        if (turn != TURN_GIVEN)
            return turn;
        for (size_t i = 0; i < sizeof checks / sizeof checks[0]; i++) {
            bool suits = i == 4 || (i == 3 ? signoff_is_tank(id) : warm);
            if (suits && strcmp(answer, checks[i].answer) == 0) {
                w->check = checks[i].check;
                return TURN_GIVEN;
            }
        }
    }
}

/* One figure of the request: asked for until it can be read. Empty: not given, where it may be. */
static enum turn ask_figure(struct talking *d, struct signoff_words *w, const char **place,
                            const char *question, bool may_lack, char answer[ANSWER])
{
    struct signoff_request r;
    for (;;) {
        enum turn turn = ask(d, question, answer);
        if (turn != TURN_GIVEN)
            return turn;
        *place = answer[0] != '\0' ? answer : NULL;
        if (*place == NULL && may_lack)
            return TURN_GIVEN;
        if (*place != NULL && signoff_words_parse(w, &r))
            return TURN_GIVEN;
        *place = NULL;
    }
}

/* What the check is held against, before the probe is where it is to be read. */
static enum turn ask_reference(struct talking *d, struct channel_id id, struct signoff_words *w,
                               char answer[ANSWER])
{
    const char *unit = unit_ascii(quantity_info((enum quantity)id.quantity)->unit);
    char question[80];
    if (strcmp(w->check, "boiling-water") == 0)
        return ask_figure(
            d, w, &w->altitude,
            "height, such as 300 m, or pressure, such as 98.5 kPa (enter: at the sea):", true,
            answer);
    if (strcmp(w->check, "dipped") == 0)
        return ask_figure(d, w, &w->reference, "the stick says, such as 240 L or 60 %:", false,
                          answer);
    if (strcmp(w->check, "compared") != 0)
        return TURN_GIVEN;
    text_format(question, sizeof question, "the reference reads, in %s:", unit);
    return ask_figure(d, w, &w->reference, question, false, answer);
}

/* What the boxes are is not said again while one waits. */
static void know_box(const struct muster *heard, const struct muster_value *v,
                     struct signoff_entry *x)
{
    const struct muster_sender *box = &heard->senders[v->sender];
    if (x->name == 0)
        x->name = box->name;
    if (x->serial[0] == '\0' && box->has_product)
        text_copy(x->serial, sizeof x->serial, box->product.serial);
}

/* Waits until the reading stands, as often as it takes; then keeps it. */
static enum turn judge(struct talking *d, const struct muster_value *v,
                       const struct signoff_words *w)
{
    struct signoff_request r;
    struct signoff_entry x;
    struct err e;
    char answer[ANSWER];
    bool bath = strstr(w->check, "water") != NULL, warmed = strcmp(w->check, "warmed") == 0;
    if (!signoff_words_parse(w, &r))
        return TURN_SKIP;
    for (;;) {
        enum turn turn = TURN_GIVEN;
        if (d->t->source && (bath || warmed))
            turn = ask(d,
                       bath ? "probe into the water, enter when its reading stands:"
                            : "warm the probe, enter when it was felt:",
                       answer);
        if (turn != TURN_GIVEN)
            return turn;
        put_reading(d, v->id);
        r.at_ns = (int64_t)time(NULL) * NS_PER_S;
        if (signoff_judge(readings(d), &r, &x, &e))
            break;
        fprintf(d->t->out, "  %s\n", e.text);
        if (!d->t->source)
            return TURN_SKIP; /* a log says nothing more */
        if (!bath && !warmed && (turn = ask(d, "enter tries again:", answer)) != TURN_GIVEN)
            return turn;
    }
    know_box(d->t->heard, v, &x);
    if (!signoff_append(d->t->file, &x, &e)) {
        text_copy(d->file_error, sizeof d->file_error, e.text);
        return TURN_END;
    }
    fprintf(d->t->out, "  %s\n", signoff_verdict_text(x.verdict));
    return TURN_GIVEN;
}

static enum turn confirm(struct talking *d, const struct muster_value *v)
{
    char key[CHANNEL_KEY_SIZE], reference[ANSWER], tolerance[ANSWER] = "", note[ANSWER];
    struct signoff_words w = {.file = d->t->file, .confirm = key, .by = d->by};
    channel_id_format(key, sizeof key, v->id);
    put_reading(d, v->id);
    enum turn turn = ask_check(d, v->id, &w);
    if (turn == TURN_GIVEN)
        turn = ask_reference(d, v->id, &w, reference);
    if (turn == TURN_GIVEN && strcmp(w.check, "warmed") != 0)
        turn = ask_figure(d, &w, &w.tolerance,
                          "tolerance that its maker states (enter: none):", true, tolerance);
    if (turn == TURN_GIVEN && (turn = ask(d, "note (enter: none):", note)) == TURN_GIVEN)
        w.note = note[0] != '\0' ? note : NULL;
    return turn == TURN_GIVEN ? judge(d, v, &w) : turn;
}

static void go_through(struct talking *d, const struct signoff *s)
{
    const struct muster *m = d->t->heard;
    for (size_t i = 0; i < m->value_count && d->file_error[0] == '\0'; i++) {
        const struct muster_value *v = &m->values[i];
        enum signoff_standing standing = signoff_standing(s, m, v);
        if (!signoff_wants(m, v) || standing == SIGNOFF_CONFIRMED)
            continue;
        introduce(d, v, standing == SIGNOFF_EXCHANGED);
        if (!begin_again(d)) {
            text_copy(d->file_error, sizeof d->file_error, "out of memory");
            return;
        }
        if (confirm(d, v) == TURN_END)
            return;
    }
}

static int count_open(const struct signoff *s, const struct muster *m)
{
    int n = 0;
    for (size_t i = 0; i < m->value_count; i++)
        n += signoff_wants(m, &m->values[i]) &&
             signoff_standing(s, m, &m->values[i]) != SIGNOFF_CONFIRMED;
    return n;
}

int signoff_talk(const struct talk *t)
{
    struct talking d = {.t = t};
    char answer[ANSWER];
    struct err e;
    struct signoff *s = signoff_read(t->file, &e);
    if (s == NULL) {
        fprintf(stderr, "stokehold muster: %s\n", e.text);
        return EXIT_SOURCE;
    }
    int open = count_open(s, t->heard);
    if (open > 0 && begin_again(&d)) {
        fprintf(t->out,
                "\nSIGN-OFF, %d open. Each answer ends with enter; what is confirmed is kept "
                "at once.\n",
                open);
        if (ask(&d, "your name (enter: nothing is confirmed now):", answer) == TURN_GIVEN &&
            answer[0] != '\0') {
            text_copy(d.by, sizeof d.by, answer);
            go_through(&d, s);
        }
    }
    fflush(t->out);
    muster_free(d.fresh);
    signoff_free(s);
    if (d.file_error[0] == '\0')
        return EXIT_DONE;
    fprintf(stderr, "stokehold muster: %s\n", d.file_error);
    return EXIT_SOURCE;
}
