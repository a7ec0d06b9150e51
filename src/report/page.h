/* What the printed pages share: one style, head and foot, where they come from. Pages are one file
 * of HTML without script, font or picture from elsewhere, that prints on A4 with page numbers and
 * reads without colour and on a telephone. Text goes out through plot_text. */
#ifndef STOKEHOLD_REPORT_PAGE_H
#define STOKEHOLD_REPORT_PAGE_H

#include <stdio.h>

struct page_log {
    const char *name;
    const char *sha256; /* "" where the log could not be read again */
};

/* Where a page comes from. */
struct page_source {
    const char *version; /* of the program */
    const char *config;  /* path of the configuration in force; NULL: the defaults alone */
    const char *config_sha256;
    const struct page_log *log;
    int logs;
};

/* To <body>; what and vessel make title and heading: "Sea trial of Example". */
void page_begin(FILE *out, const char *what, const char *vessel);
/* Version, configuration and logs, with their digests. */
void page_source(FILE *out, const struct page_source *s);
void page_end(FILE *out);
/* <td class="words">TEXT</td>, and a head of a row. */
void page_words(FILE *out, const char *text);
void page_row_head(FILE *out, const char *text);

#endif
