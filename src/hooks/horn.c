#include "hooks/horn.h"

#include "base/text.h"
#include "hooks/hooks.h"

#include <signal.h>
#include <string.h>
#include <sys/wait.h>

#include "base/banned.h"

#define HORN_WORD 320 /* a word of the command, filled in */

void horn_init(struct horn *h)
{
    *h = (struct horn){.starter = starter_new()};
}

void horn_fini(struct horn *h)
{
    starter_free(h->starter);
    h->starter = NULL;
}

/* Puts what `name` stands for in place of it; true where it stood in the word. */
static bool replace(char *word, size_t cap, const char *name, const char *value)
{
    char whole[HORN_WORD];
    const char *at = strstr(word, name);
    if (!at)
        return false;
    text_format(whole, sizeof whole, "%.*s%s%s", (int)(at - word), word, value, at + strlen(name));
    text_copy(word, cap, whole);
    return true;
}

/* The words of the command with what is told of the sound in them; 0: it cannot be run. */
static int fill_words(const struct horn_call *call, char *buf, size_t cap,
                      char words[HOOKS_WORDS_MAX + 1][HORN_WORD], char **argv)
{
    char step[16];
    bool told = false;
    int n = hooks_split(call->line, buf, cap, argv, HOOKS_WORDS_MAX);
    if (n == 0)
        return 0;
    text_format(step, sizeof step, "%d", call->step);
    for (int i = 0; i < n; i++) {
        if (!text_copy(words[i], HORN_WORD, argv[i]))
            return 0;
        told |= replace(words[i], HORN_WORD, "{priority}", call->priority);
        told |= replace(words[i], HORN_WORD, "{step}", step);
        argv[i] = words[i];
    }
    if (!told) {
        text_copy(words[n], HORN_WORD, call->priority);
        argv[n] = words[n];
        n++;
    }
    argv[n] = NULL;
    return n;
}

bool horn_blow(struct horn *h, const struct horn_call *call, int64_t now_ns)
{
    char buf[512], words[HOOKS_WORDS_MAX + 1][HORN_WORD], *argv[HOOKS_WORDS_MAX + 2];
    if (!h->starter)
        return false;
    horn_turn(h);
    if (h->running && now_ns - h->begun_ns >= HORN_LONGEST_NS) {
        starter_signal(h->starter, h->id, SIGKILL);
        h->failed = true;
        h->running = false; /* what is said of it later has an id of before */
    }
    if (h->running)
        return !h->failed;
    if (fill_words(call, buf, sizeof buf, words, argv) == 0)
        return false;
    h->id++;
    h->running = starter_run(h->starter, h->id, argv, NULL, NULL);
    h->begun_ns = now_ns;
    return h->running && !h->failed;
}

bool horn_turn(struct horn *h)
{
    struct starter_news news;
    bool just = false;
    while (h->starter && starter_next(h->starter, &news)) {
        bool lost = news.sort == STARTER_LOST;
        if (!h->running || (!lost && (news.sort != STARTER_ENDED || news.id != h->id)))
            continue;
        h->running = false;
        h->failed = lost || !(WIFEXITED(news.value) && WEXITSTATUS(news.value) == 0);
        just = h->failed;
    }
    return just;
}
