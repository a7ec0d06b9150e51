/* Any bytes as what a client says to the socket of `tend`, in two pieces: answered or dropped, and
 * what is answered is lines of clean text. For libFuzzer; `make fuzz` runs it. */
#include "hooks/door.h"

#include "config/config.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "base/banned.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void check(bool holds)
{
    if (!holds)
        abort();
}

/* A boat with an engine too hot (130316, 127488): channels, histories and an alarm to speak of. */
static struct keeper *make_keeper(const struct settings *settings)
{
    struct keeper *k = keeper_new(settings, &(struct keeper_options){.expect = true});
    check(k != NULL);
    keeper_name_iface(k, 0, "can0");
    for (int i = 0; i < 100; i++) {
        int64_t ns = (1000 + i) * NS_PER_S;
        struct frame f[2] = {
            {.id = 0x15FD0C22, .len = 8, .data = {0, 0, 0x0E, 0xDE, 0x4D, 0x06, 0xFF, 0xFF}},
            {.id = 0x09F20020, .len = 8, .data = {0, 0x40, 0x1F, 0xDC, 0x05, 0, 0xFF, 0xFF}},
        };
        for (int n = 0; n < 2; n++) {
            f[n].flags = FRAME_EXTENDED;
            f[n].wall_ns = f[n].mono_ns = ns;
        }
        keeper_frames(k, f, 2);
    }
    return k;
}

/* All that has come: whole lines without a control character. */
static void hear(int fd)
{
    static char text[1 << 20];
    ssize_t n;
    while ((n = recv(fd, text, sizeof text, MSG_DONTWAIT)) > 0)
        for (ssize_t i = 0; i < n; i++) {
            unsigned char c = (unsigned char)text[i];
            check((c >= 32 && c != 127) || c == '\t' || c == '\n');
        }
}

static void say(int fd, const uint8_t *data, size_t size)
{
    if (size > 0)
        (void)!send(fd, data, size, MSG_NOSIGNAL | MSG_DONTWAIT);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct settings *settings;
    static struct keeper *keeper; /* these three are kept over runs */
    static struct door *door;
    static char path[64];
    struct err e;
    if (!door) {
        struct config_messages *messages = NULL;
        settings = config_load_text("fuzz", "", &messages);
        config_messages_free(messages);
        check(settings != NULL);
        keeper = make_keeper(settings);
        snprintf(path, sizeof path, "/tmp/fuzz-door-%d", (int)getpid());
        door = door_open(path, &e);
        check(door != NULL);
    }
    struct watch_status status = {.source = "can0", .records = true, .iface_count = 1};
    struct door_info info = {.now = plant_now(keeper_plant(keeper)),
                             .source = "can0",
                             .record = "on",
                             .status = &status,
                             .load_percent = -1,
                             .frames_per_s = -1};
    info.clock = info.now;
    int64_t mark_ns;
    const char *words;
    size_t first = size ? data[0] % size : 0;
    int fd = door_connect(path, &e);
    check(fd >= 0);
    say(fd, data, first);
    door_turn(door, keeper, &info);
    say(fd, data + first, size - first);
    info.clock.mono_ns += DOOR_UPDATE_NS;
    door_turn(door, keeper, &info);
    hear(fd);
    if (door_marked(door, &mark_ns, &words))
        check(mark_ns >= 0 && memchr(words, '\0', 200) != NULL);
    (void)door_tried(door);
    close(fd);
    door_turn(door, keeper, &info);
    check(door_attached(door) == 0);
    return 0;
}
