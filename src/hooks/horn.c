#include "hooks/horn.h"

#include "base/text.h"
#include "hooks/hooks.h"

#include <signal.h>
#include <sys/wait.h>

#include "base/banned.h"

void horn_init(struct horn *h)
{
    *h = (struct horn){.starter = starter_new()};
}

void horn_fini(struct horn *h)
{
    starter_free(h->starter);
    h->starter = NULL;
}

bool horn_blow(struct horn *h, const char *line, const char *word, int64_t now_ns)
{
    char buf[512], last[32], *argv[HOOKS_WORDS_MAX + 2];
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
    int n = hooks_split(line, buf, sizeof buf, argv, HOOKS_WORDS_MAX);
    if (n == 0)
        return false;
    text_copy(last, sizeof last, word);
    argv[n] = last;
    argv[n + 1] = NULL;
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
