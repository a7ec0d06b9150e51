/* `stokehold tend SOURCE...`: the watch without a screen, for a small computer left aboard; and
 * the two things a script asks of one that runs: acknowledge and silence. */
#include "session/tend_run.h"

#include "base/text.h"
#include "config/config.h"
#include "hooks/door.h"
#include "session/options.h"
#include "verbs/verbs.h"

#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/time.h>
#include <unistd.h>

#include "base/banned.h"

enum {
    OPT_CONFIG,
    OPT_BASELINE,
    OPT_RECORD,
    OPT_RECORD_CAP,
    OPT_STATE,
    OPT_METRICS,
    OPT_SOCKET,
    OPT_ACKNOWLEDGE,
    OPT_SILENCE,
    OPT_UTC,
    OPT_ZONE,
    OPT_HELP,
    OPT_COUNT
};

static const struct option_row rows[OPT_COUNT] = {
    [OPT_CONFIG] = {"config", 'c', "FILE", "configuration to lay over the defaults"},
    [OPT_BASELINE] = {"baseline", 0, "FILE", "know from there what is normal"},
    [OPT_RECORD] = {"record", 0, "DIR", "record every frame there, an hour a file; one writer"},
    [OPT_RECORD_CAP] = {"record-cap", 0, "SIZE", "of the record: 500M, 4G (the usual); oldest go"},
    [OPT_STATE] = {"state", 0, "FILE", "keep unacknowledged alerts there over a restart"},
    [OPT_METRICS] = {"metrics", 0, "FILE", "write OpenMetrics text there every 15 s"},
    [OPT_SOCKET] = {"socket", 0, "PATH", "local socket for `watch --attach` and scripts"},
    [OPT_ACKNOWLEDGE] = {"acknowledge", 0, "ID", "acknowledge an alert of the tend that runs"},
    [OPT_SILENCE] = {"silence", 0, NULL, "silence the tend that runs for 30 s"},
    [OPT_UTC] = {"utc", 0, NULL, "clock times in UTC"},
    [OPT_ZONE] = {"zone", 0, "ZONE", "zone of a log with local dates"},
    [OPT_HELP] = {"help", 'h', NULL, "this help"},
};

struct asked {
    struct tend_options o;
    bool silence, acknowledge;
    long id;
};

static bool set(void *ctx, int option, const char *value)
{
    struct asked *a = ctx;
    switch (option) {
    case OPT_BASELINE:
        a->o.baseline = value;
        return true;
    case OPT_CONFIG:
        a->o.config = value;
        return true;
    case OPT_RECORD:
        a->o.duties.record = value;
        return true;
    case OPT_RECORD_CAP:
        if (duties_size(value, &a->o.duties.record_cap))
            return true;
        fputs("stokehold tend: --record-cap takes a size such as 500M or 4G\n", stderr);
        return false;
    case OPT_STATE:
        a->o.duties.state = value;
        return true;
    case OPT_METRICS:
        a->o.duties.metrics = value;
        return true;
    case OPT_SOCKET:
        a->o.duties.socket = value;
        return true;
    case OPT_ACKNOWLEDGE:
        a->acknowledge = true;
        if (text_to_long(value[0] == '#' ? value + 1 : value, 1, INT32_MAX, &a->id))
            return true;
        fputs("stokehold tend: --acknowledge takes the number of an alert\n", stderr);
        return false;
    case OPT_SILENCE:
        return a->silence = true;
    case OPT_UTC:
        return a->o.utc = true;
    case OPT_ZONE:
        a->o.zone = value;
        return true;
    default:
        return false;
    }
}

/* One command to the tend that runs. It answers within a turn of its loop. */
static int command(const char *path, const char *text)
{
    struct err e;
    int fd = door_connect(path, &e);
    if (fd < 0) {
        fprintf(stderr, "stokehold tend: %s\n", e.text);
        return EXIT_SOURCE;
    }
    struct timeval limit = {.tv_sec = 5};
    setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &limit, sizeof limit);
    char answer[256] = "";
    size_t len = strlen(text), got = 0;
    bool sent = send(fd, text, len, MSG_NOSIGNAL) == (ssize_t)len;
    while (sent && got + 1 < sizeof answer && !memchr(answer, '\n', got)) {
        ssize_t n = recv(fd, answer + got, sizeof answer - 1 - got, 0);
        if (n <= 0)
            break;
        got += (size_t)n;
    }
    close(fd);
    answer[strcspn(answer, "\n")] = '\0';
    if (strncmp(answer, "ok", 2) == 0)
        return EXIT_DONE;
    const char *why = strchr(answer, '\t');
    fprintf(stderr, "stokehold tend: %s\n", why ? why + 1 : "no answer");
    return EXIT_SOURCE;
}

static int ask(const struct asked *a)
{
    char text[64];
    if (!a->o.duties.socket) {
        fputs("stokehold tend: name the socket of the tend that runs: --socket PATH\n", stderr);
        return EXIT_USAGE;
    }
    int status = EXIT_DONE;
    if (a->silence)
        status = command(a->o.duties.socket, "silence\n");
    text_format(text, sizeof text, "acknowledge\t%ld\n", a->id);
    if (a->acknowledge && status == EXIT_DONE)
        status = command(a->o.duties.socket, text);
    return status;
}

static int run(struct asked *a)
{
    if (a->acknowledge || a->silence) {
        if (a->o.source_count == 0)
            return ask(a);
        fputs("stokehold tend: --acknowledge and --silence take no source\n", stderr);
        return EXIT_USAGE;
    }
    if (a->o.source_count == 0) {
        fputs("stokehold tend: name one or several interfaces, or a log\n", stderr);
        return EXIT_USAGE;
    }
    struct settings *settings = options_settings("tend", a->o.config, a->o.baseline);
    return settings ? tend_run(&a->o, settings) : EXIT_USAGE;
}

static const struct option_set options = {
    .verb = "tend",
    .usage = "usage: stokehold tend [OPTIONS] IFACE... | LOG | -\n"
             "       stokehold tend --socket PATH --acknowledge ID | --silence\n\n"
             "Watches without a screen: a line for each change of an alert, hooks, metrics.\n"
             "SIGTERM ends it, SIGUSR1 reads the configuration anew.\n",
    .rows = rows,
    .count = OPT_COUNT,
    .help = OPT_HELP,
    .set = set,
};

int verb_tend(int argc, char **argv)
{
    struct asked a = {.acknowledge = false};
    int status;
    if (!options_take(&options, &a, argc, argv, &status))
        return status;
    a.o.sources = (const char *const *)argv + optind;
    a.o.source_count = argc - optind;
    return run(&a);
}
