/* Hours of whatever can befall a boat, drawn at random: values beyond their limits and back, boxes
 * that go dark, second senders, faults that engines report, switches, conditions of the bus, holes
 * in the record, other configurations, somebody who acknowledges and silences. Every event that the
 * watch told is kept as a golden text, with its figures. It says that nothing has changed, not that
 * it is right: the other tests of rules do. `GOLDEN=write` writes it again. */
#include "rules/boat.h"

#include "bus/condition.h"
#include "support/golden.h"

#include "base/banned.h"

#define STEPS 600

static const char *const configurations[] = {
    NULL,
    "[vessel]\nengines = 2\n[channel exhaust.1]\nsensor = dry\n[engine 0]\nfuel = petrol\n"
    "[channel blower.0]\nfrom = switch.0.2\n"
    "[state pump]\nchannel = switch.0.1\non longer than = 20 s\noff longer than = 4 min\n"
    "more than = 3\nwithin = 5 min\n"
    "[combined hot-and-dry]\nwhen = engine-space.* above 50 C and switch.0.3 off and engine "
    "running\nhold = 4 s\nclear hold = 3 s\npriority = alarm\nadvice = look at the bilge\n"
    "[combined idle]\nwhen = engine stopped and battery-volts.0 below 12 V\n"
    "[limit harbour]\nchannel = battery-volts.*\nbelow = 11 V\nwhile = stopped\nsettle = 9 s\n"
    "[limit cold]\nchannel = engine-space.*\nbelow = 10 C\nwhile = stopped\nhold = 3 s\n",
    "[span every]\nchannel = *\nhold = 11 s\nclear hold = 6 s\npriority = caution\n"
    "[silent soon]\nchannel = *\nhold = 3 s\nnever heard after = 20 s\n"
    "[channel fuel-temp.0]\n[channel boost.1]\nsource = 77\n[channel load.1]\nsource = 77\n"
    "[channel humidity.0]\n[channel cabin.0]\nsource = 35\n[channel sea.0]\n[channel coolant.1]\n"
    "alarm above = 91 C\ncaution above = 84 C\n[alerts]\nescalate after = 40 s\nsilence for = 11 "
    "s\n"
    "[state off]\nchannel = switch.*\noff longer than = 30 s\n"
    "[combined idle]\nwhen = engine stopped and switch.0.2 on\nhold = 2 s\n",
    "[vessel]\nengines = 2\n[reported engine]\nat most = warning\n[limit exhaust-alarm]\nenabled = "
    "no\n[channel battery-volts.0]\nchemistry = lithium\nnominal volts = 24 V\n",
};
#define CONFIGURATIONS (sizeof configurations / sizeof *configurations)

static struct storm {
    struct boat *boat;
    struct settings *settings[CONFIGURATIONS];
    uint64_t random;
    FILE *out;
    int sounds[3];
} storm;

static unsigned draw(unsigned below)
{
    storm.random = storm.random * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return (unsigned)(storm.random >> 33) % below;
}

static double between(double low, double high)
{
    return low + (high - low) * draw(1001) / 1000;
}

static void figure(double v)
{
    if (isnan(v))
        fputs(" -", storm.out);
    else
        fprintf(storm.out, " %.4g", v);
}

static void since(const struct stamp *at)
{
    if (at->wall_ns == 0)
        fputs(" -", storm.out);
    else
        fprintf(storm.out, " %.2f", when_seconds(at->wall_ns - BOAT_WALL_NS));
}

static void tell(void *ctx, const struct alert_event *ev)
{
    static const char *const names[] = {"raised", "escalated",    "changed",  "rectified",
                                        "ended",  "acknowledged", "silenced", ""};
    const struct alert *a = ev->alert;
    (void)ctx;
    if (ev->event == EVENT_UPDATED)
        return;
    fprintf(storm.out, "%9.3f %c %-9s %s: %s\n", when_seconds(ev->at.mono_ns - TIMELINE_START),
            alert_priority_letter(a->priority), names[ev->event], a->rule, a->text);
    fprintf(storm.out, "         id %u stage %d state %d repeats %u beyond %.2f", (unsigned)a->id,
            (int)a->stage, (int)a->state, (unsigned)a->repeats, when_seconds(a->beyond_ns));
    figure(a->value);
    figure(a->worst);
    figure(a->figures.expected);
    figure(a->figures.allowance);
    figure(a->figures.statistic);
    figure(a->figures.noise);
    figure(a->figures.threshold);
    fprintf(storm.out, " worse %d trouble %d/%d engine %d unit %d/%d\n", a->worse, (int)a->trouble,
            (int)a->steps, a->engine, (int)a->unit, a->decimals);
    fprintf(storm.out, "         %s %d.%d %u of %d;", a->channel, a->situation.group,
            a->situation.source, (unsigned)a->situation.code, (int)a->kind);
    since(&a->first);
    since(&a->raised);
    since(&a->worst_at);
    since(&a->limit_passed);
    since(&a->stopped);
    since(&a->acknowledged);
    fputc('\n', storm.out);
}

/* Lamps and one trouble code of an engine (SAE J1939-73, DM1). */
static void trouble_code(struct boat *b)
{
    unsigned spn = (unsigned[]){100, 110, 190, 520192}[draw(4)];
    uint8_t d[8] = {(uint8_t)draw(256),
                    0xFF,
                    (uint8_t)spn,
                    (uint8_t)(spn >> 8),
                    (uint8_t)((spn >> 16 & 7) << 5 | draw(32)),
                    (uint8_t)draw(4),
                    0xFF,
                    0xFF};
    for (unsigned n = 1 + draw(5); n-- > 0; boat_run(b, 1))
        boat_frame(b, 65226, (uint8_t)draw(3), d, 0);
}

static double one_of(const double *values, unsigned count, double low, double high)
{
    unsigned which = draw(count + 6);
    return which < count ? values[which] : between(low, high);
}

static void temperatures(struct boat *b, unsigned e)
{
    static const double marks[] = {BOAT_NONE, 45, 45, 60, 80, 95};
    switch (draw(4)) {
    case 0:
        b->exhaust[e] = one_of(marks, 6, 40, 150);
        break;
    case 1:
        boat_ramp(b, &b->exhaust[e], between(40, 120), between(20, 60));
        break;
    case 2:
        b->coolant[e] = one_of(marks, 6, 70, 115);
        break;
    default:
        boat_ramp(b, &b->coolant[e], between(75, 110), between(20, 60));
    }
}

static void engines(struct boat *b, unsigned e)
{
    static const double rpm[] = {0, 0, 700, 2200, 2200, BOAT_ABSENT, BOAT_NONE};
    static const double oil[] = {0, 60, 400, 400, BOAT_NONE};
    switch (draw(4)) {
    case 0:
        b->rpm[e] = one_of(rpm, 7, 600, 3000);
        break;
    case 1:
        b->rpm[0] = b->rpm[1] = one_of(rpm, 5, 600, 3000);
        break;
    case 2:
        b->oil_kpa[e] = one_of(oil, 5, 40, 600);
        break;
    default:
        b->status1[e] = (uint16_t)(draw(2) ? 0 : 1u << draw(16));
        b->status2[e] = (uint16_t)(draw(2) ? 0 : 1u << draw(16));
    }
}

static void boxes(struct boat *b)
{
    static const double volts[] = {BOAT_NONE, BOAT_ABSENT, 10.4, 11.7, 12.6, 13.8, 15.6};
    static const double fuel[] = {BOAT_NONE, BOAT_ABSENT, 4, 9, 70};
    switch (draw(7)) {
    case 0:
        b->engine_boxes = draw(4) > 0;
        break;
    case 1:
        b->temp_box = draw(4) > 0;
        break;
    case 2:
        b->second_exhaust = draw(3) ? BOAT_ABSENT : between(30, 120);
        break;
    case 3:
        b->switches[draw(BOAT_SWITCHES)] = (int)draw(4);
        for (int i = 0; i < BOAT_SWITCHES && draw(2) == 0; i++)
            b->switches[i] = -1; /* all of them: the bank falls silent */
        break;
    case 4:
        b->volts = one_of(volts, 7, 10, 16);
        break;
    case 5:
        b->fuel = one_of(fuel, 5, 0, 100);
        break;
    default:
        b->space = draw(2) ? 32 : between(0, 90);
    }
}

static void watchkeeper(struct boat *b, struct stamp now)
{
    struct alert_list *l = boat_alerts(b);
    unsigned sort = draw(CONDITION_SEASON + 1);
    char text[60];
    switch (draw(6)) {
    case 0:
        alerts_silence(l, now);
        break;
    case 1:
        snprintf(text, sizeof text, "condition %u", sort);
        keeper_bus(b->keeper, CONDITION_CODE(sort, draw(2)), (enum priority)draw(3), text,
                   draw(2) == 0, now);
        break;
    case 2:
        keeper_reconfigure(b->keeper, storm.settings[draw(CONFIGURATIONS)]);
        break;
    default:
        for (size_t i = 0; i < alerts_count(l); i++)
            if (draw(3) == 0)
                alerts_acknowledge(l, alerts_at(l, i)->id, now);
    }
}

static void step(struct boat *b)
{
    struct stamp now = {BOAT_WALL_NS + b->ms * NS_PER_MS, TIMELINE_START + b->ms * NS_PER_MS};
    uint8_t none[8] = {0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
    switch (draw(9)) {
    case 0:
    case 1:
        temperatures(b, draw(2));
        break;
    case 2:
    case 3:
        engines(b, draw(2));
        break;
    case 4:
    case 5:
        boxes(b);
        break;
    case 6:
        watchkeeper(b, now);
        break;
    case 7:
        if (draw(3) == 0)
            trouble_code(b);
        break;
    default:
        if (draw(3) == 0)
            boat_frame(b, 126993, 35, none, draw(3) ? FRAME_GAP : FRAME_HOLE);
        else if (draw(3) == 0)
            boat_wait(b, between(1, 40));
    }
    boat_run(b, between(0.5, 9));
    now = (struct stamp){BOAT_WALL_NS + b->ms * NS_PER_MS, TIMELINE_START + b->ms * NS_PER_MS};
    storm.sounds[alerts_sound(boat_alerts(b), now)]++;
}

/* What is left of it all. */
static void leave(const struct boat *b)
{
    const struct alert_list *l = boat_alerts(b);
    struct losses lost = keeper_losses(b->keeper);
    fprintf(storm.out, "sounds %d %d %d, listed %zu, ended %zu\n", storm.sounds[0], storm.sounds[1],
            storm.sounds[2], alerts_count(l), alerts_history_count(l));
    fprintf(storm.out, "lost %u %u %u %u %u\n", (unsigned)lost.incomplete, (unsigned)lost.gaps,
            (unsigned)lost.dropped, (unsigned)lost.unbound, (unsigned)lost.alerts_lost);
    for (size_t i = 0; i < alerts_history_count(l); i++) {
        const struct alert *a = alerts_history_at(l, i);
        fprintf(storm.out, "%u %s %s | %s, also %d", (unsigned)a->id, a->channel, a->what,
                a->action, a->also_count);
        for (int k = 0; k < a->also_count; k++) {
            fprintf(storm.out, ", %s", a->also[k].channel);
            figure(a->also[k].worst);
            fprintf(storm.out, " %.2f", when_seconds(a->also[k].beyond_ns));
        }
        fputc('\n', storm.out);
    }
}

static void sail(unsigned seed)
{
    struct keeper_options o = {.escalate = true, .expect = true, .utc = true};
    struct stamp end;
    char *text, name[30];
    size_t size;

    memset(&storm, 0, sizeof storm);
    storm.random = seed;
    storm.out = open_memstream(&text, &size);
    assert_non_null(storm.out);
    for (size_t i = 0; i < CONFIGURATIONS; i++) {
        struct boat *b = boat_new(configurations[i]);
        storm.settings[i] = b->settings;
        b->settings = NULL;
        boat_free(b);
    }
    struct boat *b = storm.boat = boat_new(NULL);
    keeper_free(b->keeper);
    b->keeper = keeper_new(storm.settings[0], &o);
    assert_non_null(b->keeper);
    alerts_listen(boat_alerts(b), tell, NULL);
    boat_run(b, 120);
    for (int i = 0; i < STEPS; i++)
        step(b);
    end = (struct stamp){BOAT_WALL_NS + b->ms * NS_PER_MS, TIMELINE_START + b->ms * NS_PER_MS};
    alerts_finish(boat_alerts(b), end);
    leave(b);
    fclose(storm.out);
    boat_free(b);
    for (size_t i = 0; i < CONFIGURATIONS; i++)
        settings_free(storm.settings[i]);
    snprintf(name, sizeof name, "storm-%u", seed);
    golden_check("rules", name, text);
    free(text);
}

static void storm__drawn_at_random__is_told_as_kept(void **state)
{
    (void)state;
    sail(1);
    sail(2);
    sail(3);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(storm__drawn_at_random__is_told_as_kept),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
