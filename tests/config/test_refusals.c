/* What is said of configurations that are wrong, kept as one golden text: file, line and cause of
 * each. Boundaries stand on both sides: what is just right is said to be taken. */
#include "config/conf.h"

#include "support/golden.h"

static void put(FILE *out, const char *shown, const char *text)
{
    struct config_messages *m = NULL;
    struct settings *s = config_load_text("boat.conf", text, &m);

    fprintf(out, "---- %s\n", shown);
    for (size_t i = 0; i < config_message_count(m); i++)
        fprintf(out, "%s\n", config_message(m, i));
    if (s)
        fputs("taken\n", out);
    settings_free(s);
    config_messages_free(m);
}

static const char *const texts[] = {
    /* senders */
    "[channel sea.0]\nfrom = sea.0\n",
    "[channel sea.0]\nohms = 240 to 33\n",
    "[channel fuel-tank.0]\nohms = 240 to 33\n",
    "[channel fuel-tank.0]\nfrom = pressure.0.1\nohms = 240 to 33\n",
    "[channel fuel-tank.0]\nthermistor = 32650 at 0, 10000 at 25, 680 at 100\n",
    "[channel coolant.0]\nhead density = 840\n",
    "[channel fuel-tank.0]\nfrom = pressure.0.1\nhead density = 840\n",
    "[channel fuel-tank.0]\nfrom = pressure.0.1\nhead density = 840\nheight = 0.6\n",
    "[channel fuel-tank.0]\nfrom = pressure.0.1\nohms = 240 to 33\nhead density = 840\nheight = "
    "60 cm\n",
    "[channel coolant.0]\nshape = box\n",
    "[channel coolant.0]\nstrapping = 0:0, 100:200\n",
    "[channel fuel-tank.0]\nstrapping = 0:0, 50:210, 100:200\n",
    "[channel fuel-tank.0]\nstrapping = 0:0, 50:90, 100:200\n",
    "[channel fresh-water-tank.0]\nunusable = 20 L\n",
    "[channel fresh-water-tank.0]\nunusable = 1 L\n",
    "[channel fuel-tank.0]\ncapacity = 1 L\nunusable = 2 L\n",
    "[channel coolant.0]\nhead density = 1000\n",
    "[channel fuel-tank.0]\ncapacity = 200 L\nunusable = 200 L\n",
    "[channel fuel-tank.0]\ncapacity = 200 L\nunusable = 199 L\n",
    "[channel fuel-tank.0]\ncapacity = 1 L\nunusable = 1 L\n",
    "[channel petrol-tank.0]\ncapacity = 200 L\nunusable = 20 L\n",
    "[channel sea.0]\ncapacity = 200 L\n",
    "[channel live-well-tank.0]\ncapacity = 200 L\n",
    /* meters */
    "[channel fuel-rate.0]\nfeed = fuel-rate.10\n",
    "[channel fuel-rate.0]\nreturn = fuel-rate.10\n",
    "[channel fuel-rate.0]\nfeed = fuel-rate.10\nreturn = fuel-rate.10\n",
    "[channel fuel-rate.0]\nfeed = fuel-rate.0\nreturn = fuel-rate.10\n",
    "[channel fuel-rate.0]\nfeed = fuel-rate.10\nreturn = fuel-rate.0\n",
    "[channel fuel-rate.0]\nfeed = sea.0\nreturn = fuel-rate.11\n",
    "[channel sea.0]\nfeed = fuel-rate.10\nreturn = fuel-rate.11\n",
    "[channel fuel-rate.0]\nfeed = fuel-rate.10\nreturn = fuel-rate.11\n",
    /* channels */
    "[channel coolant.0]\nsensor = wet\n",
    "[channel exhaust.0]\nsensor = wet\n",
    "[channel sea.0]\ngain = 0\n",
    "[channel sea.0]\nchemistry = AGM\n",
    "[channel battery-volts.0]\nnominal volts = 12 V\n",
    "[channel battery-volts.0]\nnominal volts = 48 V\n",
    "[channel battery-volts.0]\nnominal volts = 60 V\n",
    "[channel battery-volts.0]\nnominal volts = 13 V\n",
    "[channel battery-volts.0]\nnominal volts = 6 V\n",
    "[channel sea.0]\nnominal volts = 12 V\n",
    "[channel nose.0]\nlabel = x\n",
    "[channel exhaust]\nlabel = x\n",
    "[channel exhaust.*]\nlabel = x\n",
    "[channel exhaust.252]\nlabel = x\n",
    "[channel exhaust.253]\nlabel = x\n",
    "[channel exhaust.255]\nlabel = x\n",
    "[channel fuel-tank.13]\nlabel = x\n",
    "[channel fuel-tank.14]\nlabel = x\n",
    "[channel petrol-tank.15]\nlabel = x\n",
    "[channel switch.252.28]\nlabel = x\n",
    "[channel switch.253.1]\nlabel = x\n",
    "[channel switch.0.0]\nlabel = x\n",
    "[channel switch.0.29]\nlabel = x\n",
    "[channel pressure.252.0]\nlabel = x\n",
    "[channel pressure.0.253]\nlabel = x\n",
    "[channel ac-volts.0.3]\nlabel = x\n",
    "[channel ac-volts.0.0]\nlabel = x\n",
    "[channel ac-in-volts.0.4]\nlabel = x\n",
    "[channel blower.0]\nfrom = switch.0.29\n",
    "[limit a]\nchannel = exhaust.254\nabove = 90 C\n",
    "[pane top]\nchannels = exhaust.0, exhaust.253\n",
    "[channel sea.0]\nsource = 253\n",
    "[channel sea.0]\nsource = 254\n",
    /* rules */
    "[limit a]\nchannel = sea.0\n",
    "[limit a]\nchannel = sea.0\nabove = 30 C\nbelow = 2 C\n",
    "[limit a]\nchannel = sea.0\nabove = 3 V\n",
    "[limit a]\nchannel = sea.0\nabove = 3000 C\n",
    "[limit a]\nchannel = sea.0\nabove = 30 C\nper 12 V = yes\n",
    "[limit a]\nchannel = sea.0\nabove = 30 C\nbattery = lithium\n",
    "[limit a]\nchannel = sea.0\nabove = 30 C\nsystem = 230 V\n",
    "[limit a]\nchannel = ac-volts.*\nabove = 250 V\nsystem = 230 V\n",
    "[limit a]\nchannel = battery-volts.*\nabove = 15 V\nsystem = 230 V\n",
    "[limit a]\nchannel = sea.0\nabove = 30 C\ndeadband = -1 K\n",
    "[limit a]\nchannel = switch.0.1\nabove = 0.5\n",
    "[limit a]\nabove = 30 C\n",
    "[limit a]\nchannel = sea.0\nabove = 30 C\nhold = -1 s\n",
    "[limit a]\nchannel = sea.0\nabove = 30 C\nhold = 2\n",
    "[limit a]\nchannel = sea.0\nabove = 30 C\nspeed = 3\n",
    "[limit a]\nchannel = sea.0\nabove = 30 C\nabove = 31 C\n",
    "[limit name that has far too many letters for the name of a rule]\nchannel = sea.0\nabove = "
    "30 C\n",
    "[state s]\nchannel = sea.0\nis = on\n",
    "[state s]\nchannel = switch.0.1\n",
    "[combined c]\nall of = bogus\n",
    "[nonsense]\na = 1\n",
    "[limit]\na = 1\n",
    "a = 1\n",
    "[limit a\nb = 1\n",
    "[limit a]\nno sign of equality\n",
    /* engines, hooks, panes, units */
    "[engine 253]\nname = x\n",
    "[engine -1]\nname = x\n",
    "[engine 252]\nname = x\n",
    "[vessel]\nengines = 9\n",
    "[vessel]\nengines = 8\n",
    "[hook two words]\nrun = /bin/true\n",
    "[hook h]\nrun =\n",
    "[units]\ntemperature = K\n",
    "[units]\nspeed = furlongs\n",
    "[keys]\nfly = x\n",
    "[pane p]\nchannels = sea.0, nose.0\n",
    "[fuel]\nreserve = 101 %\n",
    "[fuel]\nreserve = 100 %\n",
    "[alerts]\nescalate after = 6 min\n",
    "[alerts]\nescalate after = 5 min\n",
};

/* So many sections of one kind, numbered from 0. */
static void put_many(FILE *out, const char *kind, int n, const char *body)
{
    char *text = NULL, shown[80];
    size_t size = 0;
    FILE *f = open_memstream(&text, &size);

    assert_non_null(f);
    for (int i = 0; i < n; i++)
        fprintf(f, "[%s %d]\n%s\n", kind, i, body);
    fclose(f);
    snprintf(shown, sizeof shown, "%d sections [%s N], %s", n, kind, body);
    put(out, shown, text);
    free(text);
}

static void wrong_configurations__are_refused_as_kept(void **state)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);

    (void)state;
    assert_non_null(out);
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++)
        put(out, texts[i], texts[i]);
    put_many(out, "engine", 8, "fuel = petrol");
    put_many(out, "engine", 9, "fuel = petrol");
    put_many(out, "hook", HOOKS_MAX, "run = /bin/true");
    put_many(out, "hook", HOOKS_MAX + 1, "run = /bin/true");
    put_many(out, "pane", PANES_MAX, "channels = sea.0");
    put_many(out, "pane", PANES_MAX + 1, "channels = sea.0");
    fclose(out);
    golden_check("config", "refusals", text);
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(wrong_configurations__are_refused_as_kept),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
