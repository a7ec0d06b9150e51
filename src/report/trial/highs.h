/* The highest and lowest of every channel over the whole trial, steady or not, and when. */
#ifndef STOKEHOLD_REPORT_TRIAL_HIGHS_H
#define STOKEHOLD_REPORT_TRIAL_HIGHS_H

#include "report/trial/write.h"

/* A good reading. Codes, switches, counters and derived channels are left out. */
void trial_high_add(struct trial_report *r, const struct channel *c, struct stamp at);
/* Into the order of the channels. */
void trial_highs_sort(struct trial_report *r);

void trial_highs_text(FILE *out, const struct trial_report *r, bool utc);
void trial_highs_html(FILE *out, const struct trial_report *r, bool utc);
/* `"highs":[...],` */
void trial_highs_json(FILE *out, const struct trial_report *r);

#endif
