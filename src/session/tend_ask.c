#include "session/tend_ask.h"

#include "base/text.h"
#include "hooks/door.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/time.h>
#include <unistd.h>

#include "base/banned.h"

#define PATIENCE_S 5 /* it answers within a turn of its loop */

static int complain(const char *why)
{
    char shown[200];
    text_clean(shown, sizeof shown, why, strlen(why));
    fprintf(stderr, "stokehold tend: %s\n", shown);
    return EXIT_SOURCE;
}

/* The last whole line of what has come, where that is the verdict: "ok" or "no". */
static char *verdict(char *text, size_t len)
{
    if (len == 0 || text[len - 1] != '\n')
        return NULL;
    char *line = text + len - 1;
    while (line > text && line[-1] != '\n')
        line--;
    bool is = strncmp(line, "ok", 2) == 0 || strncmp(line, "no", 2) == 0;
    return is ? line : NULL;
}

int tend_hear(const char *path, const char *command, char *text)
{
    struct err e;
    char said[80], *last = NULL;
    int fd = door_connect(path, &e);
    if (fd < 0)
        return complain(e.text);
    struct timeval limit = {.tv_sec = PATIENCE_S};
    setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &limit, sizeof limit);
    text_format(said, sizeof said, "%s\n", command);
    size_t len = strlen(said), got = 0;
    bool sent = send(fd, said, len, MSG_NOSIGNAL) == (ssize_t)len;
    while (!last && got + 1 < TEND_ANSWER_MOST) {
        ssize_t n = recv(fd, text + got, TEND_ANSWER_MOST - 1 - got, 0);
        if (n <= 0)
            break;
        got += (size_t)n;
        text[got] = '\0';
        last = verdict(text, got);
    }
    close(fd);
    if (!last)
        return complain(sent ? "no answer" : "it does not listen");
    last[strcspn(last, "\n")] = '\0';
    bool good = strncmp(last, "ok", 2) == 0;
    const char *why = strchr(last, '\t');
    int status = good ? EXIT_DONE : complain(why ? why + 1 : "it refuses");
    *last = '\0';
    return status;
}

int tend_ask(const char *path, const char *command)
{
    char *text = malloc(TEND_ANSWER_MOST);
    int status = text ? tend_hear(path, command, text) : complain("out of memory");
    free(text);
    return status;
}
