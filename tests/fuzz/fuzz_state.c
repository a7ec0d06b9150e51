/* Any bytes as a state file: read or refused, and what is listed again from it is within its
 * bounds, clean, and can be written and read again. For libFuzzer; `make fuzz` runs it. */
#include "hooks/state.h"

#include "config/config.h"

#include "check_text.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

#include "base/banned.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void check(bool holds)
{
    if (!holds)
        abort();
}

static struct state_held *read_bytes(const void *data, size_t size)
{
    char path[64];
    struct err e = {""};
    int fd = memfd_create("fuzz", MFD_CLOEXEC);
    check(fd >= 0 && write(fd, data, size) == (ssize_t)size);
    snprintf(path, sizeof path, "/proc/self/fd/%d", fd);
    struct state_held *s = state_read(path, &e);
    check((s == NULL) == (e.text[0] != '\0'));
    close(fd);
    return s;
}

static struct alert_list *restore(const struct settings *settings, const struct state_held *s)
{
    struct stamp now = {.wall_ns = INT64_C(1777903200) * NS_PER_S, .mono_ns = 1000 * NS_PER_S};
    struct alert_list *alerts = alerts_new(&settings->alerts, true);
    check(alerts != NULL);
    state_restore(s, alerts, NULL, now);
    check(alerts_count(alerts) <= ALERTS_MAX);
    for (size_t i = 0; i < alerts_count(alerts); i++) {
        const struct alert *a = alerts_at(alerts, i);
        check_text(a->text, sizeof a->text);
        check_text(a->rule, sizeof a->rule);
        check_text(a->channel, sizeof a->channel);
        check(a->priority <= PRIORITY_EMERGENCY && a->id != 0);
    }
    return alerts;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct settings *settings; /* the shipped ones, kept over runs */
    struct config_messages *messages = NULL;
    if (settings == NULL) {
        settings = config_load_text("fuzz", "", &messages);
        config_messages_free(messages);
    }
    check(settings != NULL);
    struct state_held *s = read_bytes(data, size);
    if (!s)
        return 0;
    struct alert_list *first = restore(settings, s);
    size_t len;
    char *text = state_text(first, NULL, settings, &len);
    check(text != NULL);
    struct state_held *again = read_bytes(text, len);
    check(again != NULL);
    struct alert_list *second = restore(settings, again);
    check(alerts_count(second) <= alerts_count(first));
    alerts_free(second);
    state_free(again);
    free(text);
    alerts_free(first);
    state_free(s);
    return 0;
}
