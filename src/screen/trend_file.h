/* The window of the trend view as a file for a report or a spreadsheet. */
#ifndef STOKEHOLD_SCREEN_TREND_FILE_H
#define STOKEHOLD_SCREEN_TREND_FILE_H

#include "screen/model.h"
#include "screen/ui.h"

#include <stdio.h>

/* A line for each stretch of time and channel, in base units: `time,channel,low,mean,high,unit`,
 * time in epoch seconds. Stretches without a reading have no line. False where nothing is shown or
 * a write failed. */
bool trend_file_csv(FILE *out, const struct model *m, const struct ui *ui);
/* A picture, one curve above the other, in the user's units. */
bool trend_file_svg(FILE *out, const struct model *m, const struct ui *ui);

#endif
