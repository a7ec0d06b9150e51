/* `watch --plain --attach` as a process of its own at the socket of a watch within this one: what
 * it says of alerts from one picture to the next, and what letters typed in ask for. */
#include "rules/boat.h"

#include "hooks/door.h"
#include "support/program.h"

#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#define PATIENCE 1500 /* looks of 10 ms: far longer than any of this takes */

static struct boat *boat;
static struct door *door;
static struct door_info info;
static char path[120], said[20000];
static pid_t child;
static int to_child, from_child;

static void on_event(void *ctx, const struct alert_event *ev)
{
    (void)ctx, (void)ev;
    door_alerts_changed(door);
}

static int begin(void **state)
{
    (void)state;
    struct err e = {""};
    int in[2], out[2];
    boat = boat_new(NO_COOLING_WATCH);
    snprintf(path, sizeof path, "%s/sock", program_folder());
    door = door_open(path, &e);
    if (!door || pipe2(in, O_CLOEXEC) < 0 || pipe2(out, O_CLOEXEC) < 0)
        return -1;
    alerts_listen(boat_alerts(boat), on_event, NULL);
    info = (struct door_info){.source = "can0", .record = "on", .clock_known = true};
    child = fork();
    if (child == 0) {
        dup2(in[0], 0);
        dup2(out[1], 1);
        setenv("TZ", "UTC", 1);
        setenv("LC_ALL", "C.UTF-8", 1);
        execl(STOKEHOLD_PROGRAM, "stokehold", "watch", "--plain", "--attach", path, (char *)NULL);
        _exit(127);
    }
    close(in[0]);
    close(out[1]);
    to_child = in[1];
    from_child = out[0];
    return fcntl(from_child, F_SETFL, O_NONBLOCK);
}

static int end(void **state)
{
    (void)state;
    if (child > 0) {
        kill(child, SIGKILL);
        waitpid(child, NULL, 0);
    }
    close(to_child);
    close(from_child);
    door_close(door);
    boat_free(boat);
    return 0;
}

/* The boat goes on, and the door with it, until the words were said; what was said until then is
 * forgotten. */
static void await(const char *words)
{
    size_t n = strlen(said);
    for (int i = 0; i < PATIENCE && !strstr(said, words); i++) {
        struct pollfd p = {.fd = from_child, .events = POLLIN};
        boat_run(boat, 0.5);
        info.now = info.clock = plant_now(keeper_plant(boat->keeper));
        door_turn(door, boat->keeper, &info);
        poll(&p, 1, 10);
        ssize_t more = read(from_child, said + n, sizeof said - 1 - n);
        n += more > 0 ? (size_t)more : 0;
        said[n] = '\0';
    }
    char *at = strstr(said, words);
    if (!at)
        fail_msg("no '%s' in:\n%s", words, said);
    memmove(said, at + strlen(words), strlen(at + strlen(words)) + 1);
}

static void type(const char *text)
{
    assert_int_equal(write(to_child, text, strlen(text)), strlen(text));
}

#define PORT      "PORT EXHAUST 99 °C"
#define STARBOARD "STARBOARD EXHAUST 99 °C"

static void plain__attached__says_each_change(void **state)
{
    (void)state;
    await("; Enter lists all readings, a acknowledges, s silences, q quits\n");
    boat->exhaust[0] = 99;
    await(" alarm, raised: " PORT);
    boat->exhaust[1] = 99;
    await(" alarm, raised: " STARBOARD);
    type("a\n"); /* the first of the list, which has the newest of the gravest first */
    await(" alarm, acknowledged: " STARBOARD);
    assert_int_equal(alerts_count(boat_alerts(boat)), 2);
    boat->exhaust[0] = 45;
    await(" alarm, over, not acknowledged: PORT EXHAUST back to 45 °C");
    boat->exhaust[1] = 45;
    await(" alarm, ended: STARBOARD EXHAUST back to 45 °C");
    type("\n");
    await("port speed 2 200 rpm\nstarboard speed 2 200 rpm\n");
    await("port exhaust 45 °C");
    await("engine space 32 °C\n");
    await(" alarm, rectified unacknowledged: PORT EXHAUST back to 45 °C");
    type("a\n");
    await(" alarm, ended: PORT EXHAUST back to 45 °C");
    boat->exhaust[0] = 99;
    await(" alarm, raised: " PORT);
    assert_int_equal(alerts_sound(boat_alerts(boat), info.now), SOUND_ALARM);
    type("s\n");
    for (int i = 0; i < PATIENCE && alerts_sound(boat_alerts(boat), info.now) != SOUND_NONE; i++) {
        boat_run(boat, 0.5);
        info.now = info.clock = plant_now(keeper_plant(boat->keeper));
        door_turn(door, boat->keeper, &info);
        poll(NULL, 0, 10);
    }
    assert_int_equal(alerts_sound(boat_alerts(boat), info.now), SOUND_NONE);
    type("q\n");
    int status;
    assert_int_equal(waitpid(child, &status, 0), child);
    child = 0;
    assert_true(WIFEXITED(status));
    assert_int_equal(WEXITSTATUS(status), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(plain__attached__says_each_change, begin, end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
