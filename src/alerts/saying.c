#include "alerts/saying.h"

#include "base/text.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

#define OVER    ": over"
#define RETURNS " times since "

/* ", 5 times since 14:02" of what comes and goes. */
static void add_returns(struct words_kept *words, const struct alert *a)
{
    words->more[strcspn(words->more, WORDS_MORE_END)] = '\0'; /* what may go goes */
    text_append(words->more, sizeof words->more, ", %u" RETURNS, (unsigned)a->repeats + 1);
    words_add_clock(&words->words, words->more, sizeof words->more, a->first.wall_ns);
    words->words.rate_per_min = words->words.limit = NAN;
}

/* "can1: no such interface: over": can1 is the place, and no advice. */
static char *advice_of(char *text)
{
    char *colon = strstr(text, ": ");
    return colon && !memchr(text, ' ', (size_t)(colon - text)) ? strstr(colon + 2, ": ") : colon;
}

/* A finished line, for which no words are kept: what it was, how often, and that it is over. */
static void build_line(const struct saying *said, struct alert *a, bool utc)
{
    if (!said->line[0])
        return;
    text_copy(a->text, sizeof a->text, said->line);
    if (a->repeats >= FLAPS_MAX) {
        char clock[40];
        when_clock(clock, sizeof clock, a->first.wall_ns, utc);
        text_append(a->text, sizeof a->text, ", %u" RETURNS "%.5s", (unsigned)a->repeats + 1,
                    clock);
    }
    if (said->over) {
        char *advice = advice_of(a->text);
        if (advice)
            *advice = '\0';
        text_append(a->text, sizeof a->text, OVER);
    }
}

/* Whatever else is wrong, nobody is sent to the engines while there may be a fire. */
static void find_action(struct alert *a, const char *advice, bool fire)
{
    a->steps = a->trouble;
    if (!fire || !action_goes_in(a->trouble, a->stage)) {
        action_words(a->action, sizeof a->action, a->trouble, a->stage, advice);
        return;
    }
    bool runs = a->engine != 0 && (a->stage == STAGE_CERTAIN || a->stage == STAGE_BEYOND);
    text_copy(a->action, sizeof a->action,
              runs ? "stop engine when safe, keep hatch shut" : "keep hatch shut, FIRE? first");
    a->steps = TROUBLE_FIRE;
}

void saying_build(const struct saying *said, struct alert *a, const struct settings *settings,
                  bool utc)
{
    struct words_kept words = said->words;
    words.words.utc = utc;
    if (!said->has_words) {
        a->what[0] = a->action[0] = '\0';
        build_line(said, a, utc);
        return;
    }
    find_action(a, words.advice, said->fire);
    if (said->over && !said->phrase[0]) {
        words_build_what(a->what, sizeof a->what, &words, settings);
        text_format(a->text, sizeof a->text, "%s" OVER, a->what);
        return;
    }
    if (said->over) {
        words_build_over(a->text, sizeof a->text, &words, settings, said->phrase, said->value,
                         a->action);
        words_build_over(a->what, sizeof a->what, &words, settings, said->phrase, said->value, "");
        return;
    }
    if (a->repeats >= FLAPS_MAX)
        add_returns(&words, a);
    words_build_what(a->what, sizeof a->what, &words, settings);
    text_copy(words.advice, sizeof words.advice, a->action);
    words_build_kept(a->text, sizeof a->text, &words, settings, WORDS_COLUMNS);
}
