#include "verbs/muster_signoff.h"

#include "base/text.h"
#include "base/units.h"

#include <string.h>
#include <time.h>

#include "base/banned.h"

static bool wrong(const char *what, const char *value)
{
    char shown[60];
    text_clean(shown, sizeof shown, value, strlen(value));
    fprintf(stderr, "stokehold muster: %s '%s'\n", what, shown);
    return false;
}

static bool parse_reference(const char *s, struct signoff_request *out)
{
    enum unit base = quantity_info((enum quantity)out->id.quantity)->unit;
    out->has_reference = true;
    if (unit_parse_value(s, base, &out->reference))
        return true;
    out->reference_is_litres = base == UNIT_PERCENT && unit_parse_value(s, UNIT_L, &out->reference);
    return out->reference_is_litres || wrong("the reference does not suit the channel:", s);
}

/* "1.5 K", "3 F", "2 %": a difference in the channel's unit. */
static bool parse_tolerance(const char *s, struct signoff_request *out)
{
    enum unit base = quantity_info((enum quantity)out->id.quantity)->unit, u = base;
    char number[40];
    text_copy(number, sizeof number, s);
    size_t n = strspn(number, "0123456789.");
    char *unit = number + n + strspn(number + n, " ");
    bool kelvin = base == UNIT_C && strcmp(unit, "K") == 0;
    if (*unit != '\0' && !kelvin && (!unit_parse(unit, &u) || unit_base(u) != base))
        return wrong("the tolerance does not suit the channel:", s);
    number[n] = '\0';
    if (!text_to_double(number, &out->tolerance) || out->tolerance <= 0.0)
        return wrong("the tolerance is not a span on a scale:", s);
    out->tolerance /= unit_from_base_difference(u, 1.0);
    out->has_tolerance = true;
    return true;
}

/* A height in m or ft, or a pressure. */
static bool parse_altitude(const char *s, struct signoff_request *out)
{
    char number[40];
    text_copy(number, sizeof number, s);
    size_t n = strspn(number, "-0123456789.");
    char *unit = number + n + strspn(number + n, " ");
    bool feet = strcmp(unit, "ft") == 0;
    if (strcmp(unit, "m") == 0 || feet) {
        number[n] = '\0';
        if (!text_to_double(number, &out->altitude_m))
            return wrong("that is not a height:", s);
        out->altitude_m *= feet ? 0.3048 : 1.0;
        if (out->altitude_m < -500.0 || out->altitude_m > 5000.0)
            return wrong("a height where no boat is:", s);
        return true;
    }
    out->has_pressure = *unit != '\0' && unit_parse_value(s, UNIT_KPA, &out->pressure_kpa) &&
                        out->pressure_kpa > 50.0 && out->pressure_kpa < 110.0;
    return out->has_pressure || wrong("a height is in m or ft, or else a pressure, not", s);
}

static bool missing(const char *option)
{
    fprintf(stderr, "stokehold muster: --confirm needs %s\n", option);
    return false;
}

bool signoff_words_parse(const struct signoff_words *w, struct signoff_request *out)
{
    *out = (struct signoff_request){.by = w->by, .note = w->note};
    if (w->confirm == NULL) {
        if (w->check || w->reference || w->tolerance || w->altitude || w->by || w->note) {
            fputs("stokehold muster: --check and the options after it go with --confirm\n", stderr);
            return false;
        }
        return true;
    }
    if (w->file == NULL)
        return missing("--sign-off FILE");
    if (w->check == NULL)
        return missing("--check HOW");
    if (w->by == NULL || w->by[0] == '\0')
        return missing("--by NAME");
    if (!channel_id_parse(w->confirm, &out->id, NULL))
        return wrong("no channel is called", w->confirm);
    if (!signoff_check_parse(w->check, &out->check))
        return wrong("--check is warmed, dipped, ice-water, boiling-water or compared, not",
                     w->check);
    return (!w->reference || parse_reference(w->reference, out)) &&
           (!w->tolerance || parse_tolerance(w->tolerance, out)) &&
           (!w->altitude || parse_altitude(w->altitude, out));
}

int signoff_run(const struct signoff_words *w, struct signoff_request *request,
                const struct muster *m, bool utc, FILE *out)
{
    struct err e;
    struct signoff *s = signoff_read(w->file, &e); /* before anything is added to it */
    if (s != NULL && w->confirm != NULL) {
        struct signoff_entry entry;
        request->at_ns = (int64_t)time(NULL) * NS_PER_S;
        bool good = signoff_judge(m, request, &entry, &e) && signoff_append(w->file, &entry, &e);
        signoff_free(s);
        s = good ? signoff_read(w->file, &e) : NULL;
    }
    if (s == NULL) {
        fprintf(stderr, "stokehold muster: %s\n", e.text);
        return EXIT_SOURCE;
    }
    signoff_print(s, m, utc, out);
    int status = signoff_failures(s) > 0 ? EXIT_FINDINGS : EXIT_DONE;
    signoff_free(s);
    return status;
}
