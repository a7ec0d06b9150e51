/* What the user chose at the screen, kept from one run to the next in their state directory
 * ($XDG_STATE_HOME/stokehold/screen or ~/.local/state/stokehold/screen), never in the
 * configuration. The first line names the file and its version; then lines of `key = value`, of
 * which what is unknown or wrong is passed over. A file of a later version is not read, one without
 * a first line is from before there was one. */
#ifndef STOKEHOLD_SCREEN_CHOICES_H
#define STOKEHOLD_SCREEN_CHOICES_H

#include "config/settings.h"
#include "screen/view.h"

struct choices {
    char theme[128], theme_configured[128]; /* the second: what the configuration said then */
    struct unit_choice units, units_configured;
    bool has_units;
    char view[16], glyphs[8];
    int trend_span;
    bool together;
    char trend[4][CHANNEL_KEY_SIZE];
    int trend_count;
    char chart[2][32]; /* quantities of the charts beside the keel */
    int chart_count;
};

/* Reads the lines of text into *s, which starts empty. */
void choices_parse(struct choices *s, const char *text);
/* Writes them; returns the length, cut if it must be. */
size_t choices_format(const struct choices *s, char *dst, size_t cap);

/* Path of the file into dst; false where the user has no home. */
bool choices_path(char *dst, size_t cap);
/* False where there is none. */
bool choices_load(struct choices *s, const char *path);
/* Makes the directory where it is missing; replaces the file at once or not at all. */
bool choices_save(const struct choices *s, const char *path);

/* The choices of a running screen, and back. A choice gives way where the configuration was changed
 * since. braille is the loop's. Sound that was off is not kept: each start has it on. */
void choices_from_ui(struct choices *s, const struct ui *ui);
void choices_to_ui(const struct choices *s, struct ui *ui);

#endif
