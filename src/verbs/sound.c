#include "verbs/sound.h"

#include "base/text.h"

#include <signal.h>
#include <spawn.h>
#include <string.h>
#include <sys/wait.h>

#include "base/banned.h"

extern char **environ;

#define STROKE_NS (NS_PER_S / 4)

int64_t sound_strokes(enum alert_sound sound, bool emergency, int64_t ns)
{
    if (sound == SOUND_NONE || ns < 0)
        return 0;
    if (sound == SOUND_WARNING)
        return 1;
    if (emergency)
        return 1 + ns / (2 * STROKE_NS);
    int64_t cycle = ns / (8 * STROKE_NS), within = ns % (8 * STROKE_NS);
    return 2 * cycle + (within >= STROKE_NS ? 2 : 1);
}

/* Runs the user's command once for each sound that begins; blanks part its words, no shell. */
static void run_command(struct sounder *s, const char *word)
{
    char line[sizeof s->setting->sound_command], *argv[18], *save = NULL;
    int n = 0;
    text_copy(line, sizeof line, s->setting->sound_command);
    for (char *w = strtok_r(line, " \t", &save); w && n < 16; w = strtok_r(NULL, " \t", &save))
        argv[n++] = w;
    if (n == 0)
        return;
    char priority[16];
    text_copy(priority, sizeof priority, word);
    argv[n++] = priority; /* the last word says what sounds */
    argv[n] = NULL;
    posix_spawnattr_t attr;
    posix_spawn_file_actions_t files;
    sigset_t none;
    sigemptyset(&none);
    posix_spawnattr_init(&attr);
    posix_spawnattr_setsigmask(&attr, &none);
    posix_spawnattr_setpgroup(&attr, 0); /* the keyboard's signals are not for it */
    posix_spawnattr_setflags(&attr, POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETPGROUP);
    posix_spawn_file_actions_init(&files);
    posix_spawn_file_actions_addopen(&files, 0, "/dev/null", 0, 0);
    posix_spawn_file_actions_addopen(&files, 1, "/dev/null", 1, 0);
    posix_spawn_file_actions_addopen(&files, 2, "/dev/null", 1, 0);
    if (posix_spawnp(&s->child, argv[0], &files, &attr, argv, environ) != 0)
        s->child = 0;
    posix_spawn_file_actions_destroy(&files);
    posix_spawnattr_destroy(&attr);
}

void sound_turn(struct sounder *s, struct term *t, enum alert_sound sound, bool emergency,
                int64_t now_ns)
{
    if (s->child > 0 && waitpid(s->child, NULL, WNOHANG) != 0)
        s->child = 0;
    if (sound != s->last) {
        s->last = sound;
        s->since_ns = now_ns;
        s->rung = 0;
    }
    int64_t due = sound_strokes(sound, emergency, now_ns - s->since_ns);
    if (due <= s->rung)
        return;
    bool first = s->rung == 0;
    s->rung = due; /* what was missed is not made up for */
    if (s->muted)
        return;
    if (strcmp(s->setting->sound, "bell") == 0)
        term_bell(t);
    else if (strcmp(s->setting->sound, "run") == 0 && s->child == 0 &&
             (first || sound == SOUND_ALARM))
        run_command(s, emergency ? "emergency" : sound == SOUND_ALARM ? "alarm" : "warning");
}

int64_t sound_wait_ns(const struct sounder *s, bool emergency, int64_t now_ns)
{
    if (s->last != SOUND_ALARM || s->muted)
        return -1;
    for (int64_t wait = STROKE_NS / 2; wait < 8 * STROKE_NS; wait += STROKE_NS / 2)
        if (sound_strokes(s->last, emergency, now_ns - s->since_ns + wait) > s->rung)
            return wait;
    return 8 * STROKE_NS;
}
