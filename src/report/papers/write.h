/* Particulars and sources written out, for every report: as text, as JSON and as rows of a page. */
#ifndef STOKEHOLD_REPORT_PAPERS_WRITE_H
#define STOKEHOLD_REPORT_PAPERS_WRITE_H

#include "report/page.h"
#include "report/papers/particulars.h"

#include <stdio.h>

/* NULL is allowed for both and writes nothing. */
struct papers {
    const struct particulars *particulars;
    const struct page_source *source;
};

/* "  Place         Example Sound", and who is to sign. */
void papers_print_particulars(FILE *out, const struct particulars *p);
/* Program, configuration and logs with their digests. */
void papers_print_source(FILE *out, const struct page_source *s);
/* A line each: `record` is particular, source or log. */
void papers_json_lines(FILE *out, const struct papers *p);
/* "particulars":[…],"source":{…}, with a comma and a line end after each. */
void papers_json_keys(FILE *out, const struct papers *p);
/* Rows of a table; signatures are left for their own. */
void papers_rows(FILE *out, const struct particulars *p);
bool papers_is_signature(const struct particular *line);

#endif
