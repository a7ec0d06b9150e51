/* The local socket of a watch from a client's side, word by word: what each command is answered,
 * who is dropped when, and where a socket can be opened. The boards themselves are in
 * tests/verbs/test_attach.c. */
#include "rules/boat.h"

#include "hooks/door.h"
#include "support/program.h"

#include <errno.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

static struct boat *boat;
static struct door *door;
static struct door_info info;
static char path[100];

static int begin(void **state)
{
    (void)state;
    struct err e = {""};
    boat = boat_new(NO_COOLING_WATCH);
    boat->exhaust[0] = 99;
    boat_run(boat, 20);
    snprintf(path, sizeof path, "%s/sock", program_folder());
    door = door_open(path, &e);
    info = (struct door_info){
        .source = "can0", .record = "on", .now = plant_now(keeper_plant(boat->keeper))};
    info.clock = info.now;
    return door ? 0 : -1;
}

static int end(void **state)
{
    (void)state;
    door_close(door);
    boat_free(boat);
    return 0;
}

static void turn(void)
{
    door_turn(door, boat->keeper, &info);
}

static int connected(void)
{
    struct err e = {""};
    int fd = door_connect(path, &e);
    if (fd < 0)
        fail_msg("%s", e.text);
    return fd;
}

/* What was sent so far; "closed" where the other side has gone and left nothing. */
static const char *heard(int fd)
{
    static char text[4096];
    ssize_t n = recv(fd, text, sizeof text - 1, MSG_DONTWAIT);
    if (n == 0)
        return "closed";
    if (n < 0)
        return errno == EAGAIN ? "" : "closed";
    text[n] = '\0';
    return text;
}

static const char *asked(int fd, const char *command)
{
    assert_int_equal(send(fd, command, strlen(command), MSG_NOSIGNAL), strlen(command));
    turn();
    return heard(fd);
}

static void command__each__is_answered(void **state)
{
    (void)state;
    char command[60];
    int fd = connected();
    const struct alert *a = alerts_at(boat_alerts(boat), 0);
    assert_int_equal(alerts_count(boat_alerts(boat)), 1);
    assert_int_equal(a->id, 1);
    assert_string_equal(asked(fd, "acknowledge\t2\n"), "no\tthere is no alert of that number\n");
    assert_string_equal(asked(fd, "acknowledge\t0\n"), "no\tthere is no alert of that number\n");
    assert_string_equal(asked(fd, "acknowledge\t1x\n"), "no\tthere is no alert of that number\n");
    assert_string_equal(asked(fd, "acknowledge\n"), "no\tthere is no alert of that number\n");
    assert_int_equal(a->state, ALERT_UNACKNOWLEDGED);
    assert_int_equal(alerts_sound(boat_alerts(boat), info.now), SOUND_ALARM);
    assert_string_equal(asked(fd, "silence\n"), "ok\n");
    assert_int_equal(alerts_sound(boat_alerts(boat), info.now), SOUND_NONE);
    assert_string_equal(asked(fd, "acknowledge\t1\n"), "ok\n");
    assert_int_equal(a->state, ALERT_ACKNOWLEDGED);
    assert_string_equal(asked(fd, "acknowledge\t1\n"), "no\tthat alert needs no acknowledgement\n");
    assert_false(door_tried(door));
    assert_string_equal(asked(fd, "try\n"), "ok\n");
    assert_true(door_tried(door));
    assert_false(door_tried(door)); /* said once */
    /* in pieces, and two at once */
    assert_string_equal(asked(fd, "sil"), "");
    assert_string_equal(asked(fd, "ence\ntry\n"), "ok\nok\n");
    snprintf(command, sizeof command, "nonsense\ntry\n");
    assert_true(door_tried(door));
    assert_string_equal(asked(fd, command), "no\tunknown command\n");
    assert_false(door_tried(door)); /* what follows is not heard */
    assert_string_equal(heard(fd), "closed");
    close(fd);
}

static void mark__with_its_time_and_words(void **state)
{
    static const struct {
        const char *command, *record, *answer;
        bool marked;
        int64_t wall_ns;
        const char *words;
    } rows[] = {
        {"mark\t1760000000000000000\tnoise\n", "on", "ok\n", true, INT64_C(1760000000000000000),
         "noise"},
        {"mark\t0\tnow\n", "on", "ok\n", true, 0, "now"},
        {"mark\n", "on", "ok\n", true, 0, ""},
        {"mark\t-1\tbefore\n", "on", "ok\n", true, 0, "before"},
        {"mark\t5\tx\n", "off", "no\tnothing is recorded\n", false, 0, NULL},
        {"mark\t5\tx\n", "halted", "no\tnothing is recorded\n", false, 0, NULL},
        {"mark\t5\tx\n", NULL, "no\tnothing is recorded\n", false, 0, NULL},
    };
    (void)state;
    int fd = connected();
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        int64_t wall_ns;
        const char *words;
        info.record = rows[i].record;
        assert_string_equal(asked(fd, rows[i].command), rows[i].answer);
        assert_int_equal(door_marked(door, &wall_ns, &words), rows[i].marked);
        if (rows[i].marked) {
            assert_true(wall_ns == rows[i].wall_ns);
            assert_string_equal(words, rows[i].words);
        }
        assert_false(door_marked(door, &wall_ns, &words));
    }
    close(fd);
}

/* Three seconds for the first line, a minute for the next; an attached board may be silent. */
static void silent__dropped_in_time(void **state)
{
    (void)state;
    int mute = connected(), spoke = connected(), board = connected();
    turn();
    assert_string_equal(asked(spoke, "silence\n"), "ok\n");
    assert_memory_equal(asked(board, "attach\n"), "ok\t1\n", 5);
    info.clock.mono_ns += 3 * NS_PER_S - 1;
    turn();
    assert_string_equal(heard(mute), "");
    info.clock.mono_ns += 1;
    turn();
    assert_string_equal(heard(mute), "closed");
    info.clock.mono_ns += 57 * NS_PER_S - 1;
    turn();
    assert_string_equal(heard(spoke), "");
    info.clock.mono_ns += 1;
    turn();
    assert_string_equal(heard(spoke), "closed");
    info.clock.mono_ns += 3600 * NS_PER_S;
    turn();
    assert_string_not_equal(heard(board), "closed");
    assert_int_equal(door_attached(door), 1);
    close(mute);
    close(spoke);
    close(board);
    turn();
    assert_int_equal(door_attached(door), 0);
}

/* A line of 160 bytes is none; one of 159 with its end is heard. */
static void command__too_long__is_dropped(void **state)
{
    (void)state;
    char text[200];
    int fd = connected();
    turn();
    memset(text, 'x', sizeof text);
    memcpy(text, "try\t", 4);
    strcpy(text + 158, "\n");
    assert_string_equal(asked(fd, text), "ok\n");
    strcpy(text + 158, "x\n");
    assert_string_equal(asked(fd, text), "ok\n");
    strcpy(text + 158, "xx\n");
    assert_string_equal(asked(fd, text), "closed");
    close(fd);
}

static void places__for_boards_and_scripts(void **state)
{
    (void)state;
    int fds[DOOR_CLIENTS_MAX + 1];
    struct pollfd p[DOOR_CLIENTS_MAX + 4];
    for (int i = 0; i < 8; i++) {
        fds[i] = connected();
        turn();
        assert_memory_equal(asked(fds[i], "attach\n"), "ok\t1\n", 5);
        assert_int_equal(door_attached(door), i + 1);
    }
    assert_string_not_equal(asked(fds[7], "attach\n"), "closed"); /* attached already */
    assert_int_equal(door_attached(door), 8);
    for (int i = 8; i < 12; i++) {
        fds[i] = connected();
        turn();
    }
    assert_string_equal(asked(fds[8], "attach\n"), "no\t8 boards are attached already\n");
    assert_string_equal(heard(fds[8]), "closed");
    close(fds[8]);
    fds[8] = connected();
    turn();
    assert_string_equal(asked(fds[8], "silence\n"), "ok\n");
    fds[12] = connected();
    turn();
    assert_string_equal(heard(fds[12]), "no\t12 are connected already: try again later\n");
    assert_string_equal(heard(fds[12]), "closed");
    for (int max = 0; max < DOOR_CLIENTS_MAX + 4; max++) {
        int n = door_fds(door, p, max);
        assert_int_equal(n, max < 13 ? max : 13);
        for (int i = 0; i < n; i++)
            assert_true(p[i].fd >= 0 && (p[i].events & POLLIN));
    }
    for (int i = 0; i < 13; i++)
        close(fds[i]);
}

static void open__where_it_can_be(void **state)
{
    (void)state;
    struct err e = {""};
    char other[300], wanted[400];
    struct stat st;
    /* in use */
    assert_null(door_open(path, &e));
    snprintf(wanted, sizeof wanted, "another `tend` is at '%s'", path);
    assert_string_equal(e.text, wanted);
    int fd = connected(); /* and still open */
    close(fd);
    assert_int_equal(stat(path, &st), 0);
    assert_int_equal(st.st_mode & 0777, 0660);
    /* left behind by one that was killed */
    snprintf(other, sizeof other, "%s/left", program_folder());
    struct sockaddr_un a = {.sun_family = AF_UNIX};
    text_copy(a.sun_path, sizeof a.sun_path, other);
    fd = socket(AF_UNIX, SOCK_STREAM, 0);
    assert_int_equal(bind(fd, (struct sockaddr *)&a, sizeof a), 0);
    close(fd);
    assert_int_equal(door_connect(other, &e), -1);
    snprintf(wanted, sizeof wanted, "no stokehold tend is listening at '%s'", other);
    assert_string_equal(e.text, wanted);
    struct door *second = door_open(other, &e);
    assert_non_null(second);
    door_close(second);
    assert_int_not_equal(stat(other, &st), 0);
    assert_int_equal(door_connect(other, &e), -1); /* nothing is there */
    assert_string_equal(e.text, wanted);
    /* a file is nobody's to remove */
    const char *file = program_file("file", "x");
    assert_null(door_open(file, &e));
    snprintf(wanted, sizeof wanted, "'%s' is there and is not a socket", file);
    assert_string_equal(e.text, wanted);
    assert_int_equal(stat(file, &st), 0);
    assert_null(door_open("/no/such/place", &e));
    assert_string_equal(e.text,
                        "cannot open the socket '/no/such/place': No such file or directory");
    snprintf(other, sizeof other, "%s/file/sock", program_scratch());
    assert_int_equal(door_connect(other, &e), -1);
    snprintf(wanted, sizeof wanted, "cannot reach '%s': Not a directory", other);
    assert_string_equal(e.text, wanted);
    /* a name may have 107 bytes (unix(7)) */
    snprintf(other, sizeof other, "%s/", program_folder());
    size_t n = strlen(other);
    memset(other + n, 'n', 120);
    other[108] = '\0';
    assert_null(door_open(other, &e));
    assert_memory_equal(e.text, "the name of the socket '", 24);
    assert_non_null(strstr(e.text, "' is too long"));
    other[107] = '\0';
    second = door_open(other, &e);
    assert_non_null(second);
    door_close(second);
}

#define WITH_DOOR(f) cmocka_unit_test_setup_teardown(f, begin, end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH_DOOR(command__each__is_answered),     WITH_DOOR(mark__with_its_time_and_words),
        WITH_DOOR(silent__dropped_in_time),        WITH_DOOR(command__too_long__is_dropped),
        WITH_DOOR(places__for_boards_and_scripts), WITH_DOOR(open__where_it_can_be),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
