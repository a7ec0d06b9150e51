/* The sea-trial report written out: for people, as CSV, as JSON, and as one HTML page.
 * Each writes to an open file and returns nothing: the caller looks at ferror. Text and HTML follow
 * the user's units; CSV and JSON keep base units. What was not heard is a dash, an empty field or
 * null, never zero. */
#ifndef STOKEHOLD_REPORT_TRIAL_WRITE_H
#define STOKEHOLD_REPORT_TRIAL_WRITE_H

#include "report/page.h"
#include "report/papers/particulars.h"
#include "report/signoff/signoff.h"
#include "report/trial/trial.h"
#include "report/trial/drift.h"

#include <stdio.h>

struct trial_write_options {
    bool utc;
    const struct trial_drifts *drifts;     /* against an earlier baseline; NULL: none given */
    const struct signoff *signoff;         /* what was confirmed by hand; NULL: none given */
    const struct particulars *particulars; /* what only people know; NULL: none given */
    const struct page_source *source;      /* NULL: not said */
};

void trial_write_text(FILE *out, const struct trial_report *r, const struct trial_write_options *o);
/* One row a step and engine. */
void trial_write_csv(FILE *out, const struct trial_report *r);
/* One object. */
void trial_write_json(FILE *out, const struct trial_report *r, const struct trial_write_options *o);
/* One file with its plots as inline SVG; no script, nothing fetched; prints on A4; marks and line
 * styles tell the series apart where there is no colour. */
void trial_write_html(FILE *out, const struct trial_report *r, const struct trial_write_options *o);

/* Particulars, hours and boxes: part of trial_write_text. */
void trial_print_papers(FILE *out, const struct trial_report *r,
                        const struct trial_write_options *o);
/* Particulars, boxes and room for signatures: part of trial_write_html. */
void trial_write_papers(FILE *out, const struct trial_report *r,
                        const struct trial_write_options *o);
void trial_write_signatures(FILE *out, const struct trial_write_options *o);
/* The page's curves: part of trial_write_html. */
void trial_write_plots(FILE *out, const struct trial_report *r);

const char *trial_how_text(enum trial_how how);       /* "reciprocal runs" */
const char *trial_verdict_text(enum trial_verdict v); /* "pass", "FAIL", "not shown" */

/* A number, or `missing` where it is not finite. Right-aligned to width (0: as it comes). */
void trial_put(FILE *out, double v, int decimals, int width, const char *missing);
/* v, in base unit u, converted for the user. */
double trial_user(const struct trial_report *r, enum unit base, double v);
double trial_user_difference(const struct trial_report *r, enum unit base, double v);
/* Miles as the user's speed counts them, and burn over them in his volume: "nmi" and "L/nmi", or
 * "mi" and "gal/mi". */
double trial_user_nmi(const struct trial_report *r, double nmi);
double trial_user_cost(const struct trial_report *r, double l_per_nmi);
const char *trial_mile(const struct trial_report *r);
const char *trial_cost_unit(const struct trial_report *r, char *dst, size_t cap);
/* "K", or "°F" where temperatures are read in it. */
const char *trial_kelvin(const struct trial_report *r);
/* Why a step is in no point; "" where it is in one. */
const char *trial_left_text(enum trial_left left);
/* Why no speed is named as the most economical. */
const char *trial_no_best(const struct trial_report *r);

#endif
