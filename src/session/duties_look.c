/* What the watch finds out about itself each turn: a disk that does not answer, a clock that is not
 * to be trusted, and the figures that metrics, --status and attached boards show. */
#include "session/duties_own.h"

#include "base/text.h"
#include "bus/socketcan.h"

#include "base/banned.h"

void duties_say(struct duties *d, uint32_t code, bool stands, const char *text)
{
    struct bus_condition c = {
        .code = code, .priority = PRIORITY_CAUTION, .stands = stands, .at = d->live->now};
    text_copy(c.text, sizeof c.text, text);
    live_condition(d->live, &c);
}

void duties_say_change(struct duties *d, enum condition_sort sort, int which, bool *stood,
                       bool stands, const char *text)
{
    if (*stood == stands)
        return;
    *stood = stands;
    duties_say(d, CONDITION_CODE(sort, which), stands, text);
}

void duties_look_at_disks(struct duties *d)
{
    static const char *const texts[] = {
        [STUCK_RECORD] = "the disk of the record has not answered for 10 s",
        [STUCK_DESK] = "the disk of state and metrics has not answered for 10 s",
    };
    int64_t now_ns = d->clock.mono_ns, since = desk_since(d->desk);
    struct record_stats r = {.stuck_ns = 0};
    if (d->record)
        record_stats(d->record, now_ns, &r);
    duties_say_change(d, CONDITION_STUCK, STUCK_RECORD, &d->stuck[STUCK_RECORD],
                      r.stuck_ns > RECORD_STUCK_NS, texts[STUCK_RECORD]);
    duties_say_change(d, CONDITION_STUCK, STUCK_DESK, &d->stuck[STUCK_DESK],
                      since && now_ns - since > RECORD_STUCK_NS, texts[STUCK_DESK]);
}

void duties_look_at_clock(struct duties *d)
{
    int64_t ahead_ns;
    char text[100], shown[32];
    bool has_bus = keeper_bus_clock(d->live->keeper, &ahead_ns);
    if (!d->live->is_live)
        return;
    clock_trust_turn(&d->clock_trust, d->clock, has_bus, ahead_ns);
    duties_say_change(d, CONDITION_CLOCK, 0, &d->clock_said, d->clock_trust.complain,
                      "the clock of this computer may be wrong: no time server, none on the bus");
    if (d->clock_trust.jumped_ns == 0 || !d->line)
        return;
    text_number(shown, sizeof shown, when_seconds(d->clock_trust.jumped_ns), 1);
    text_format(text, sizeof text, "the clock of this computer was set by %s s", shown);
    d->line(d->line_ctx, 5, text);
}

/* ---- figures ---- */

const char *duties_record_text(const struct duties *d)
{
    struct record_stats r;
    if (!d->record)
        return "off";
    record_stats(d->record, d->clock.mono_ns, &r);
    return r.writing ? "on" : "halted";
}

static const char *controller_text(enum controller_state c)
{
    static const char *const words[] = {[CONTROLLER_UNKNOWN] = "",
                                        [CONTROLLER_ACTIVE] = "error-active",
                                        [CONTROLLER_WARNING] = "error-warning",
                                        [CONTROLLER_PASSIVE] = "error-passive",
                                        [CONTROLLER_BUS_OFF] = "bus-off"};
    return words[c];
}

void duties_fill_status(struct duties *d)
{
    struct watch_status *st = &d->status;
    const struct source_stats *s = source_stats(d->live->source);
    struct record_stats r = {.free_bytes = -1};
    struct socketcan_iface iface;
    if (d->record)
        record_stats(d->record, d->clock.mono_ns, &r);
    st->now = d->live->now;
    st->frames = s->frames;
    st->lost_frames = s->lost_frames;
    st->error_frames = s->error_frames;
    st->bad_lines = s->bad_lines;
    st->losses = keeper_losses(d->live->keeper);
    st->records = d->record != NULL;
    st->record_writing = r.writing;
    st->record_bytes = r.bytes;
    st->record_lost_frames = r.lost_frames;
    st->record_free_bytes = r.free_bytes;
    st->clock_trusted = d->clock_trust.trusted;
    st->sounding = alerts_sound(keeper_alerts(d->live->keeper), d->live->now) != SOUND_NONE;
    st->season = keeper_season(d->live->keeper);
    st->hooks = d->hooks;
    st->said = d->said;
    st->said_count = ALERTS_MAX;
    for (int i = 0; !d->live->is_live && i < st->iface_count; i++) {
        st->ifaces[i].up = true;
        st->ifaces[i].load_percent = -1;
    }
    for (int i = 0; d->live->is_live && socketcan_iface_get(d->live->source, i, &iface); i++) {
        struct status_iface *to = &st->ifaces[i];
        text_copy(to->name, sizeof to->name, iface.name);
        to->up = iface.present && iface.up;
        to->frames = iface.frames;
        to->error_frames = iface.error_frames;
        to->lost_frames = iface.lost_frames;
        to->load_percent = iface.load_percent;
        to->controller = controller_text(iface.controller);
        if (i >= st->iface_count)
            st->iface_count = i + 1;
    }
}

void duties_measure(struct duties *d)
{
    const struct source_stats *s = source_stats(d->live->source);
    struct door_info *info = &d->info;
    int64_t now_ns = d->live->now.mono_ns, passed = now_ns - d->second_ns;
    info->now = d->live->now;
    info->clock = d->clock;
    info->ifaces = d->live->source;
    info->frames = s->frames;
    info->lost_frames = s->lost_frames;
    info->bad_lines = s->bad_lines;
    info->error_frames = s->error_frames;
    info->clock_known = s->clock_known || d->live->is_live;
    info->record = duties_record_text(d);
    if (passed < NS_PER_S)
        return;
    info->frames_per_s = (double)(s->frames - d->second_frames) / when_seconds(passed);
    d->second_frames = s->frames;
    d->second_ns = now_ns;
    struct socketcan_iface iface;
    info->load_percent = -1;
    for (int i = 0; d->live->is_live && socketcan_iface_get(d->live->source, i, &iface); i++)
        if (iface.load_percent > info->load_percent)
            info->load_percent = iface.load_percent;
}
