/* The page of `sift --html`: what an incident collected, with the digests of what was read. */
#ifndef STOKEHOLD_SESSION_INCIDENT_PAGE_H
#define STOKEHOLD_SESSION_INCIDENT_PAGE_H

#include "report/incident/incident.h"

#include <stdbool.h>

#define INCIDENT_LOGS 64 /* named on the page; more are counted */

struct incident_page {
    const char *verb, *html; /* for messages; where it goes */
    const char *config;      /* NULL: the defaults */
    const char *const *paths;
    int count;
    struct incident_log log;
    bool utc;
};

/* Writes it; says on stderr what went wrong and returns an exit status. */
int incident_page_write(const struct incident_page *p, const struct incident *incident);

#endif
