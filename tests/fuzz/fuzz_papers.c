/* Any bytes as a file that people edit: the first byte says which of sign-off list, particulars and
 * marks it is. What is refused names its line; what is taken can be shown, and of lists that are
 * added to, all that was there is there again once one more is added. For libFuzzer; `make fuzz`
 * runs it. */
#include "report/papers/marks.h"
#include "report/papers/write.h"
#include "report/signoff/signoff.h"

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

static void check_printable(const char *text)
{
    for (; *text; text++)
        check((unsigned char)*text >= ' ' && *text != 127);
}

static void try_signoff(const char *path, FILE *nowhere)
{
    struct err e = {""};
    struct signoff *s = signoff_read(path, &e);
    if (s == NULL) {
        check(strstr(e.text, path) != NULL);
        return;
    }
    for (size_t i = 0; i < s->count; i++) {
        check_printable(s->entries[i].by);
        check_printable(s->entries[i].note);
        check_printable(s->entries[i].serial);
    }
    signoff_print(s, NULL, true, nowhere);
    check(signoff_failures(s) >= 0);
    size_t count = s->count;
    if (count > 0 && count < SIGNOFF_ENTRIES) {
        struct signoff_entry last = s->entries[count - 1];
        check(signoff_append(path, &last, &e));
        struct signoff *again = signoff_read(path, &e);
        check(again != NULL && again->count == count + 1);
        check(channel_id_same(again->entries[count].id, last.id));
        check(again->entries[count].verdict == last.verdict);
        /* where it was cut, blanks at its end go at the next reading */
        size_t len = strlen(again->entries[count].by);
        check(strncmp(again->entries[count].by, last.by, len) == 0);
        check(strspn(last.by + len, " ") == strlen(last.by + len));
        signoff_free(again);
    }
    signoff_free(s);
}

static void try_particulars(const char *path, FILE *nowhere)
{
    struct particulars p;
    struct err e = {""};
    if (!particulars_read(path, &p, &e)) {
        check(strstr(e.text, path) != NULL);
        return;
    }
    for (int i = 0; i < p.lines; i++) {
        check(particulars_title(p.line[i].kind) != NULL);
        check_printable(p.line[i].text);
        check(i == 0 || p.line[i - 1].kind <= p.line[i].kind);
    }
    papers_print_particulars(nowhere, &p);
    papers_rows(nowhere, &p);
    papers_json_lines(nowhere, &(struct papers){.particulars = &p});
}

static void try_marks(const char *path)
{
    static struct marks m, again;
    struct err e = {""};
    m = again = (struct marks){0};
    if (!marks_read(path, &m, &e)) {
        check(strstr(e.text, path) != NULL);
        return;
    }
    for (int i = 0; i < m.count; i++) {
        check_printable(m.mark[i].words);
        check(i == 0 || m.mark[i - 1].wall_ns <= m.mark[i].wall_ns);
    }
    if (m.count + m.lost >= MARKS_MAX)
        return;
    check(marks_append(path, &(struct mark){INT64_C(1777903927250) * NS_PER_MS, "one more"}, &e));
    check(marks_read(path, &again, &e));
    check(again.count == m.count + 1);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    char path[64];
    int fd = memfd_create("fuzz", MFD_CLOEXEC);
    FILE *nowhere = fopen("/dev/null", "w");
    if (size == 0) {
        close(fd);
        fclose(nowhere);
        return 0;
    }
    check(fd >= 0 && nowhere && write(fd, data + 1, size - 1) == (ssize_t)size - 1);
    snprintf(path, sizeof path, "/proc/self/fd/%d", fd);
    if (data[0] % 3 == 0)
        try_signoff(path, nowhere);
    else if (data[0] % 3 == 1)
        try_particulars(path, nowhere);
    else
        try_marks(path);
    fclose(nowhere);
    close(fd);
    return 0;
}
