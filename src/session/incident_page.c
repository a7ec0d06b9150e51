#include "session/incident_page.h"

#include "session/digest.h"
#include "session/log_reader.h"
#include "session/options.h"
#include "session/whole_file.h"

#include <stdlib.h>

#include "base/banned.h"

struct job {
    const struct incident_page *page;
    const struct incident *incident;
    struct page_source source;
    struct page_log log[INCIDENT_LOGS];
    char name[INCIDENT_LOGS][200], digest[INCIDENT_LOGS][SHA256_TEXT];
    char config_digest[SHA256_TEXT];
    struct marks marks;
    struct incident_log read;
};

static void put(FILE *out, const void *ctx)
{
    const struct job *j = ctx;
    incident_write_html(out, j->incident, &j->read, &j->source, j->page->utc);
}

int incident_page_write(const struct incident_page *p, const struct incident *incident)
{
    struct job *j = calloc(1, sizeof *j);
    struct err e;
    int logs = p->count < INCIDENT_LOGS ? p->count : INCIDENT_LOGS, status = EXIT_SOURCE;

    if (!j) {
        fprintf(stderr, "stokehold %s: out of memory\n", p->verb);
        return EXIT_SOURCE;
    }
    j->page = p;
    j->incident = incident;
    for (int i = 0; i < p->count; i++)
        if (!marks_read_all(p->paths[i], &j->marks, &e)) {
            fprintf(stderr, "stokehold %s: %s\n", p->verb, e.text);
            free(j);
            return EXIT_SOURCE;
        }
    j->read = p->log;
    j->read.marks = &j->marks;
    for (int i = 0; i < logs; i++) {
        digest_file(p->paths[i], j->digest[i]);
        j->log[i] =
            (struct page_log){log_name(j->name[i], sizeof j->name[i], p->paths[i]), j->digest[i]};
    }
    if (p->config)
        digest_file(p->config, j->config_digest);
    j->source = (struct page_source){.version = STOKEHOLD_VERSION,
                                     .config = p->config,
                                     .config_sha256 = j->config_digest,
                                     .log = j->log,
                                     .logs = logs};
    if (whole_file(p->verb, p->html, put, j))
        status = EXIT_DONE;
    free(j);
    return status;
}
